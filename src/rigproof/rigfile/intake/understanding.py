"""Rows to sources, with an account of every cell: used, kept as a note, or left out and why.

Nothing is dropped without a word: at the end each cell that holds anything has exactly one fate.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import TypeAlias

import msgspec

from rigproof.rig.band import Family
from rigproof.rigfile.intake.cells import Grid, Place, Value, at, shown
from rigproof.rigfile.intake.columns import (
    Column,
    Head,
    by_row,
    corrected,
    head_of,
    is_head,
    is_other_head,
)
from rigproof.rigfile.intake.microphones import type_of
from rigproof.rigfile.intake.naming import Said, is_side, said_by
from rigproof.rigfile.intake.numbers import numbers_of
from rigproof.rigfile.intake.pairing import joined
from rigproof.rigfile.intake.sources import (
    LABEL_MOST,
    NOTE_MOST,
    WHY_MOST,
    Became,
    Fate,
    Free,
    Input,
    Phantom,
    Understood,
)
from rigproof.rigfile.intake.vocabulary import (
    Field,
    family_of,
    owner_of,
    plain_words,
    words_of,
)
from rigproof.wording.phrases import LANGUAGES, phrase

Told: TypeAlias = Mapping[Field, int | None]


def understood(grid: Grid, *, head_row: int | None = None, told: Told | None = None) -> Understood:
    """What a sheet says, by the guess of its columns and what a person says of it.

    `head_row` 0: the sheet has no headings.
    """
    head = head_of(grid, row=head_row)
    if told:
        first, *others = head.lists
        head = msgspec.structs.replace(head, lists=(corrected(first, told), *others))
    return _Reader(grid, head).read()


class _Reader:
    """Goes through a sheet from the top and writes down what becomes of each cell."""

    def __init__(self, grid: Grid, head: Head) -> None:
        self.grid, self.head = grid, head
        self.rows = by_row(grid)
        self.fates: dict[Place, Fate] = {}
        self.notes: list[str] = []
        self.remarks: list[str] = list(grid.remarks)
        self.spread = dict(_spread(grid))
        self.across = {
            row for row, left, last, right in grid.merged if row == last and right > left + 1
        }

    # --- the account

    def _fate(self, place: Place, became: Became, what: str) -> None:
        if place in self.grid.cells and place not in self.fates:
            self.fates[place] = Fate(place, shown(self.grid.cells[place]), became, what)

    def _keep_row(self, cells: Mapping[Place, Value], what: str) -> None:
        """Keep cells of no source as one note of the list, as long as there is room."""
        places = [place for place in cells if place not in self.fates]
        text = " | ".join(_tidy(shown(cells[place])) for place in places)
        if not text:
            return
        if len(text) + sum(len(note) + 1 for note in self.notes) < NOTE_MOST:
            self.notes.append(text)
            for place in places:
                self._fate(place, "kept as note", what)
        else:
            for place in places:
                self._fate(place, "left out", "the note of the rig is full")

    # --- the way through the sheet

    def read(self) -> Understood:
        inputs: list[Input] = []
        free: list[Free] = []
        for number, columns in enumerate(self.head.lists):
            found, kept = self._list(columns, first=number == 0)
            inputs += found
            free += kept
        for place in sorted(self.grid.cells):
            if place not in self.fates:
                self._fate(place, "left out", self._why_left(place))
        self._odd(inputs)
        return Understood(
            grid=self.grid,
            head=self.head,
            inputs=tuple(inputs),
            free=tuple(free),
            notes=tuple(self.notes),
            fates=tuple(self.fates[place] for place in sorted(self.fates)),
            remarks=tuple(dict.fromkeys(self.remarks)),
        )

    def _why_left(self, place: Place) -> str:
        if not _tidy(shown(self.grid.cells[place])):
            return "nothing in it that can be seen"
        if place[1] in self.head.beside:
            return "another table beside the list"
        return "another table"

    def _list(self, columns: Sequence[Column], *, first: bool) -> tuple[list[Input], list[Free]]:
        """One list of the sheet, from its headings down."""
        fields = {column.field: column for column in columns if column.field is not None}
        mine = {column.column for column in columns}
        one_a_row = self._says_its_pairs(fields.get("pair"))
        rows: list[tuple[Input, Said]] = []
        free: list[Free] = []
        family: Family | None = None
        other = False
        numbered = 0
        before = 0
        for row, cells in self.rows.items():
            here = {(row, column): value for column, value in cells.items() if column in mine}
            if row < self.head.row:
                if first:
                    everything = {(row, column): value for column, value in cells.items()}
                    self._keep_row(everything, "a title, kept as a note of the rig")
                continue
            plain = {column: value for (_, column), value in here.items()}
            number = plain.get(fields["number"].column, "") if "number" in fields else ""
            headed = not one_a_row and len(plain) > 1 and numbers_of(number) is None
            if row == self.head.row or (headed and is_head(plain)):
                for place in here:
                    self._fate(place, "used", "a heading")
                other = False
                before = row
                continue
            if headed and row > before + 1 and numbered > 1 and is_other_head(plain):
                other = True
                self.remarks.append(f"from row {row} on stands another table; it was left out")
            before = row
            if other or not here:
                continue
            found = self._row(row, here, columns, fields, family, one_a_row=one_a_row)
            if isinstance(found, Free):
                free.append(found)
            elif isinstance(found, tuple):
                rows += [found]
                numbered += found[0].channels is not None
            elif found is not None:
                family = None if found == "other" else found
        return list(joined(rows, free, self.remarks, one_a_row=one_a_row)), free

    def _says_its_pairs(self, column: Column | None) -> bool:
        """Whether a column tells the side of each row of a pair, so that names need not."""
        if column is None:
            return False
        cells = [shown(v) for (row, c), v in self.grid.cells.items() if c == column.column]
        sides = [cell for cell in cells if cell != column.heading]
        own = {plain_words(phrase(language, "exchange.pair")) for language in LANGUAGES}
        named = plain_words(column.heading) in own
        return all(map(is_side, sides)) and (named or bool(sides))

    def _row(
        self,
        row: int,
        here: Mapping[Place, Value],
        columns: Sequence[Column],
        fields: Mapping[Field, Column],
        family: Family | None,
        *,
        one_a_row: bool,
    ) -> "tuple[Input, Said] | Free | Family | None":
        """What one row is: a source, a channel kept free, a heading between the rows, or a note."""
        texts = {
            field: _tidy(shown(value))
            for field, column in fields.items()
            if (value := self._value(row, column.column)) is not None
        }
        for place in here:
            if place in self.grid.unstored:
                self._fate(place, "left out", "a formula without a stored value")
                column = next((f for f, c in fields.items() if c.column == place[1]), None)
                if column is not None:
                    texts.pop(column, None)
        number = (
            numbers_of(self._value(row, fields["number"].column) or "")
            if ("number" in fields and "number" in texts)
            else None
        )
        name = texts.get("source", "")
        if not name:
            return self._nameless(row, here, fields, number)
        if number is None and self._between(row, here, fields, name):
            self._keep_row(here, "a heading between the rows, kept as a note of the rig")
            return family_of(name) or "other"
        if number is not None and not one_a_row and plain_words(name) in words_of("free"):
            self._fate((row, fields["number"].column), "used", "a channel kept free")
            return self._kept_free(
                row, [place for place in here if place not in self.fates], number
            )
        return self._source(
            row, here, columns, fields, texts, number, name, family, one_a_row=one_a_row
        )

    def _value(self, row: int, column: int) -> Value | None:
        found = self.grid.cells.get((row, column))
        return self.spread.get((row, column)) if found is None else found

    def _nameless(
        self,
        row: int,
        here: Mapping[Place, Value],
        fields: Mapping[Field, Column],
        number: tuple[int, int] | None,
    ) -> "Free | Family | None":
        """A row without a source: a channel kept free, or words that belong to the list."""
        if number is not None:
            self._fate((row, fields["number"].column), "used", "a channel without a source")
            return self._kept_free(
                row, [place for place in here if place not in self.fates], number
            )
        told = [_tidy(shown(value)) for value in here.values()]
        self._keep_row(here, "no source: kept as a note of the rig")
        return (family_of(told[0]) or "other") if len(told) == 1 else None

    def _between(
        self,
        row: int,
        here: Mapping[Place, Value],
        fields: Mapping[Field, Column],
        name: str,
    ) -> bool:
        """Whether a row without a number only names what comes under it."""
        if len(here) > 1 or "number" not in fields or (row, fields["source"].column) not in here:
            return False
        known = family_of(name) is not None
        loud = name.isupper() and len(name) > 2 and known
        return row in self.across or loud or plain_words(name) in words_of("sections")

    def _kept_free(self, row: int, places: Sequence[Place], number: tuple[int, int]) -> Free | None:
        """A channel that the sheet keeps open, with all that the row says of it."""
        words = " \u00b7 ".join(_tidy(shown(self.grid.cells[place])) for place in places)
        for place in places:
            if len(words) <= WHY_MOST:
                self._fate(place, "used", "why the channel is kept free")
            else:
                self._fate(place, "left out", "longer than a reason can be; its beginning is kept")
        return Free(row, number, _cut(words, WHY_MOST)) if words else None

    def _source(
        self,
        row: int,
        here: Mapping[Place, Value],
        columns: Sequence[Column],
        fields: Mapping[Field, Column],
        texts: Mapping[Field, str],
        number: tuple[int, int] | None,
        name: str,
        family: Family | None,
        *,
        one_a_row: bool,
    ) -> "tuple[Input, Said]":
        said = said_by(name, texts.get("pair", ""), stated=one_a_row)
        notes: list[str] = []
        used: dict[Field, str] = {}
        for column in columns:
            place = (row, column.column)
            field = column.field
            if field is not None:
                text = texts.get(field, "")
            else:
                text = _tidy(shown(here[place])) if place in here else ""
            if not text:
                continue
            kept = self._taken(field, text, number, said, lined="line" in fields)
            if kept is not None and field is not None:
                used[field] = kept
                self._fate(place, "used", field)
                continue
            note = f"{_tidy(column.heading) or column.name}: {text}"
            if field == "note":
                note = text
            room = NOTE_MOST - sum(len(one) + 3 for one in notes)
            if len(note) < room:
                notes.append(note)
                became: Became = "used" if field == "note" else "kept as note"
                self._fate(place, became, "note" if field == "note" else f"a note of {name[:60]}")
            else:
                self._fate(place, "left out", "longer than a note can be")
        found = Input(
            row=row,
            name=_cut(said.name, NOTE_MOST),
            channels=number,
            stereo=said.side == "both" or said.stereo,
            player=used.get("player", ""),
            mic=used.get("mic", ""),
            whose=used.get("whose", ""),
            phantom=_phantom(used.get("phantom"), "phantom" in fields),
            stand=used.get("stand", ""),
            line=used.get("line", used.get("socket", "")),
            label=used.get("label", ""),
            alternative=used.get("alternative", ""),
            notes=tuple(notes),
            family=family_of(said.name) or family or "other",
        )
        return found, said

    def _taken(
        self,
        field: Field | None,
        text: str,
        number: tuple[int, int] | None,
        said: Said,
        *,
        lined: bool,
    ) -> str | None:
        """A text as its field can hold it; none where it is kept as a note instead."""
        if field is None or field == "note" or len(text) > NOTE_MOST:
            return None
        if field == "number":
            return text if number is not None else None
        if field == "phantom":
            return text if _phantom(text, True) is not None else None
        if field == "label":
            return text if len(text) <= LABEL_MOST else None
        if field == "mic":
            return type_of(text)
        if field == "whose":
            return owner_of(text)
        if field == "pair":
            return text if said.pair_used else None
        if field == "socket" and lined:
            return None  # the stage calls it by its line
        return text

    def _odd(self, inputs: Sequence[Input]) -> None:
        """What a person should look at: numbers that stand twice, and cells without a value."""
        seen: dict[int, int] = {}
        for one in inputs:
            for number in range(one.channels[0], one.channels[1] + 1) if one.channels else ():
                if number in seen and seen[number] != one.row:
                    self.remarks.append(
                        f"number {number} stands in row {seen[number]} and in row {one.row}"
                    )
                seen.setdefault(number, one.row)
        if self.grid.unstored:
            names = ", ".join(at(place) for place in sorted(self.grid.unstored)[:5])
            self.remarks.append(f"formulas without a stored value were left out: {names}")


# --- small things


def _tidy(text: str) -> str:
    """A cell's text as a rig file can hold it: one line, no signs that cannot be seen."""
    return " ".join("".join(s if s.isprintable() else " " for s in text).split())


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1] + "\u2026"


def _phantom(text: str | None, there: bool) -> Phantom | None:
    """What a cell of the 48 V column means; an empty one says no where there is such a column."""
    if text is None:
        return "none" if there else None
    folded = text.casefold().strip()
    words = plain_words(text)
    if folded in words_of("never") or words in words_of("never"):
        return "never"
    if folded in words_of("no") or words in words_of("no"):
        return "none"
    if folded in ("on", "an", "ein"):
        return "on"
    return "must" if folded in words_of("yes") or words in words_of("yes") else None


def _spread(grid: Grid) -> Iterator[tuple[Place, Value]]:
    """Values of cells merged downwards, for each row they stand beside."""
    room = 20_000
    for top, left, last, _ in grid.merged:
        value = grid.cells.get((top, left))
        if value is None or last == top:
            continue
        for row in range(top + 1, min(last, top + 200) + 1):
            if room and (row, left) not in grid.cells:
                room -= 1
                yield (row, left), value
