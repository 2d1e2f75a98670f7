"""Where the list begins in a sheet, and which column is taken for what: a guess that says how sure.

A heading that is one of the usual words is sure; one that only contains such a word is likely; a
column told by what stands in it is a guess. A person can correct each of them.
"""

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Literal

import msgspec

from rigproof.rigfile.intake.cells import Grid, Value, letters, shown
from rigproof.rigfile.intake.numbers import numbers_of
from rigproof.rigfile.intake.vocabulary import Field, headings, plain_words, words_of

Trust = Literal["sure", "likely", "guess", "told", "none"]
_LOOKED_AT = 400  # rows that hold anything, from the top, in the search for headings
_TRIED = 60  # rows of a column looked at for what is in it


class Column(msgspec.Struct, frozen=True):
    """One column of the list and what it is taken for; no field: its cells are kept as notes."""

    column: int
    heading: str
    field: Field | None
    trust: Trust

    @property
    def name(self) -> str:
        return letters(self.column)


class Head(msgspec.Struct, frozen=True):
    """A row of headings (0: there is none) and the lists that begin under it, side by side.

    `beside`: columns of other tables next to the list.
    """

    row: int
    lists: tuple[tuple[Column, ...], ...]
    beside: tuple[int, ...] = ()


def head_of(grid: Grid, *, row: int | None = None) -> Head:
    """The headings of a sheet: in the row that looks most like it, or in the row named."""
    rows = by_row(grid)
    standing = _standing(grid)
    if row is None:
        tried = list(rows)[:_LOOKED_AT]
        best = max(tried, key=lambda one: (_weight(rows[one]), -one), default=0)
        row = best if best and _weight(rows[best]) >= _ENOUGH else 0
    if row == 0:
        return Head(0, (_by_content(standing, list(standing), {}, 0),))
    return _split(standing, row, rows.get(row, {}))


def by_row(grid: Grid) -> Mapping[int, Mapping[int, Value]]:
    """The cells row by row, from the top."""
    found: dict[int, dict[int, Value]] = {}
    for place in sorted(grid.cells):
        found.setdefault(place[0], {})[place[1]] = grid.cells[place]
    return found


_Standing = Mapping[int, Sequence[tuple[int, Value]]]  # column -> rows and values, from the top


def _standing(grid: Grid) -> _Standing:
    found: dict[int, list[tuple[int, Value]]] = {column: [] for column in grid.columns}
    for row, column in sorted(grid.cells):
        found[column].append((row, grid.cells[row, column]))
    return found


_ENOUGH = 4  # two sure headings


def _weight(cells: Mapping[int, Value]) -> int:
    """How much a row looks like the headings of an input list; 0 where it cannot be them."""
    found: dict[Field, int] = {}
    for value in cells.values():
        if not isinstance(value, str):
            continue
        field, trust = _field(value)
        if field is not None:
            found[field] = max(found.get(field, 0), 2 if trust == "sure" else 1)
    either = any(plain_words(shown(v)) in words_of("either") for v in cells.values())
    if not (found.keys() & {"number", "source"} or either):
        return 0
    return sum(found.values()) + 2 * either


def likeness(grid: Grid) -> int:
    """How much a sheet looks like an input list: by its best row of headings."""
    rows = by_row(grid)
    return max((_weight(rows[row]) for row in list(rows)[:_LOOKED_AT]), default=0)


def is_head(cells: Mapping[int, Value]) -> bool:
    """Whether a row further down is headings once more."""
    return _weight(cells) >= _ENOUGH


def is_other_head(cells: Mapping[int, Value]) -> bool:
    """Whether a row is the headings of another table: outputs, mixes and the like."""
    words = [plain_words(value) for value in cells.values() if isinstance(value, str)]
    return (
        len(words) > 1
        and any(word in words_of("other") for word in words)
        and len(words) == len(cells)
    )


@lru_cache(maxsize=4096)
def _field(heading: str) -> tuple[Field | None, Trust]:
    """What a heading says."""
    words = plain_words(heading)
    if words in headings():
        return headings()[words], "sure"
    # Only words of some length: "in" and "no" stand in many a sentence.
    padded = f" {words} "
    inside = [
        word
        for word, field in headings().items()
        if len(word) > 2 and field != "pair" and f" {word} " in padded
    ]
    if inside and len(words.split()) <= 5:
        return headings()[max(inside, key=lambda word: (len(word), word))], "likely"
    return None, "none"


def _split(standing: _Standing, row: int, cells: Mapping[int, Value]) -> Head:
    """The lists under one row of headings: a new one where a first column comes again."""
    used = [column for column, values in standing.items() if values[-1][0] > row]
    groups: list[list[int]] = [[]]
    seen: set[Field | None] = set()
    for column in sorted({*cells, *used}):
        field = _field(shown(cells[column]))[0] if column in cells else None
        if field in ("number", "source") and field in seen and {"number", "source"} <= seen:
            groups.append([])
            seen = set()
        seen.add(field)
        groups[-1].append(column)
    lists, beside = [], []
    for number, group in enumerate(groups):
        mine, others = _without_others(group, cells)
        beside += others
        names = {column: shown(cells[column]) for column in mine if column in cells}
        found = _by_content(standing, mine, names, row)
        if any(column.field == "source" for column in found) or number == 0:
            lists.append(found)
        else:
            beside += mine
    return Head(row, tuple(lists), tuple(sorted(beside)))


def _without_others(
    group: Sequence[int], cells: Mapping[int, Value]
) -> tuple[list[int], list[int]]:
    """The columns of the list, and those behind a gap that are headed as another table."""
    for place, column in enumerate(group):
        gap = place > 0 and column - group[place - 1] > 1
        rest = [c for c in group[place:] if c in cells]
        known = [_field(shown(cells[c]))[0] for c in rest]
        other = any(plain_words(shown(cells[c])) in words_of("other") for c in rest)
        if gap and other and len(rest) > 1 and not {"source"} & set(known):
            return list(group[:place]), list(group[place:])
    return list(group), []


def _by_content(
    standing: _Standing, columns: Sequence[int], names: Mapping[int, str], row: int
) -> tuple[Column, ...]:
    """What each column of one list is taken for."""
    values = {
        column: [value for at, value in standing.get(column, ()) if at > row][:_TRIED]
        for column in columns
    }
    wanted: dict[int, tuple[Field | None, Trust]] = {}
    for column in columns:
        name = names.get(column, "")
        field, trust = _field(name) if name else (None, "none")
        if plain_words(name) in words_of("either"):
            field, trust = ("number" if _numeric(values[column]) else "source"), "likely"
        if field == "number" and values[column]:
            good = any(numbers_of(value) is not None for value in values[column])
            if not (good if trust == "sure" else _numeric(values[column])):
                field, trust = None, "none"
        wanted[column] = field, trust
    taken: dict[Field, int] = {}
    for trust in ("sure", "likely"):
        for column, (field, how) in wanted.items():
            if field is not None and how == trust and field not in taken:
                taken[field] = column
    free = [column for column in columns if column not in taken.values()]
    if "number" not in taken:
        rising = [column for column in free if _numeric(values[column]) and _rising(values[column])]
        if rising:
            taken["number"] = rising[0]
            free.remove(rising[0])
            wanted[rising[0]] = "number", "guess"
    if "source" not in taken:
        texts = [column for column in free if _texts(values[column])]
        if texts:
            best = max(texts, key=lambda column: (_texts(values[column]), -column))
            taken["source"] = best
            wanted[best] = "source", "guess"
    return tuple(
        Column(column, names.get(column, ""), field, trust)
        if (field := wanted[column][0]) is not None and taken.get(field) == column
        else Column(column, names.get(column, ""), None, "none")
        for column in columns
        for trust in [wanted[column][1]]
    )


def _numeric(values: Sequence[Value]) -> bool:
    """Whether most of the cells are channel numbers."""
    good = sum(numbers_of(value) is not None for value in values)
    return bool(values) and good * 2 > len(values)


def _rising(values: Iterable[Value]) -> bool:
    firsts = [found[0] for value in values if (found := numbers_of(value)) is not None]
    return len(set(firsts)) > 1 and firsts == sorted(firsts)


def _texts(values: Sequence[Value]) -> int:
    """How many different texts of letters there are."""
    return len({v.strip() for v in values if isinstance(v, str) and any(c.isalpha() for c in v)})


def corrected(columns: Sequence[Column], told: Mapping[Field, int | None]) -> tuple[Column, ...]:
    """The guess with what a person says of it: this field is in that column, or in none."""
    others = {column for column in told.values() if column is not None}
    found = []
    for one in columns:
        mine = next((field for field, column in told.items() if column == one.column), None)
        if mine is not None:
            found.append(msgspec.structs.replace(one, field=mine, trust="told"))
        elif one.field in told or one.column in others:
            found.append(msgspec.structs.replace(one, field=None, trust="none"))
        else:
            found.append(one)
    return tuple(found)
