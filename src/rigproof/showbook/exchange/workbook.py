"""A workbook of all lists and papers: numbers as numbers, texts as texts and never as formulas.

Every worksheet is made of the blocks that paper is made of, so a new paper appears here by itself.
The same rig gives the same bytes: the file carries no clock.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from io import BytesIO
from typing import Any, NamedTuple, get_args

import msgspec

from rigproof.rig.quantity import Provenance
from rigproof.showbook import blocks
from rigproof.showbook.blocks import Block, Cell, Column, Table
from rigproof.showbook.edition import head
from rigproof.showbook.exchange.listing import Listing, Value
from rigproof.showbook.paper import Cut
from rigproof.showbook.papers import Order, Sheet

# What spreadsheets hold in a cell, on a tab and in a footer. Common practice, from memory.
_CELL_MOST, _TAB_MOST, _FOOT_MOST = 32_767, 31, 255
_NO_TAB = re.compile(r"[\[\]:*?/\\\x00-\x1f]")
# No XML file can hold these, not even as a reference.
_NO_XML = re.compile("[\ud800-\udfff\ufffe\uffff]")
# A text that begins so is taken for a formula by whoever types into the cell again.
_FORMULA_SIGNS = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"
LIKE_A_FORMULA = re.compile(f"[{re.escape(_FORMULA_SIGNS)}]")
_CLOCK = datetime(2000, 1, 1, tzinfo=UTC)
_PAPER = {"a4": 9, "letter": 1}
_ASIDE = {"align": "left", "indent": 1, "text_wrap": True}
_EVERYWHERE = {"valign": "top", "font_size": 10}
_NARROWEST, _WIDEST = 5.0, 44.0  # of a column, in digits of the face
_PORTRAIT = 96.0  # digits that an upright page holds before its letters get too small
_TICKED, _WRITTEN_ON = 7.0, 26.0  # columns to tick and to write in


class Workbook(msgspec.Struct, frozen=True):
    """A workbook, the tabs in it, and the texts that were too long for a cell."""

    xlsx: bytes
    tabs: tuple[str, ...]
    cut: tuple[Cut, ...]


class _Leaf(msgspec.Struct, frozen=True):
    """One worksheet before it is written."""

    tab: str
    title: str
    lead: str
    parts: tuple[Block, ...]


def workbook(order: Order, lists: Iterable[Listing], sheets: Iterable[Sheet]) -> Workbook:
    """All lists, then every sheet of the papers that holds a table or a list."""
    leaves = [_of_list(one) for one in lists]
    leaves += [
        _Leaf(sheet.title, sheet.title, sheet.lead, sheet.blocks)
        for sheet in sheets
        if any(isinstance(part, blocks.Table | blocks.Items) for part in sheet.blocks)
    ]
    return _Writer(order).written(leaves)


def _of_list(listing: Listing) -> _Leaf:
    numeric = {
        heading.key
        for heading in listing.headings
        if any(isinstance(row.get(heading.key), int | float) for row in listing.rows)
    }
    columns = [
        Column(heading.title, heading.unit, 1, "figures" if heading.key in numeric else "words")
        for heading in listing.headings
    ]
    rows = [[_cell(value) for value in listing.values(row)] for row in listing.rows]
    return _Leaf(listing.title, listing.title, "", (blocks.table(columns, rows),))


def _cell(value: Value) -> Cell:
    if isinstance(value, str):
        return Cell(v=value)
    return Cell() if value is None else Cell(v=f"{value:g}", n=value)


def tab_names(titles: Iterable[str]) -> list[str]:
    """Titles as tabs can carry them: short, without the signs that are forbidden, no two alike.

    >>> tab_names(["Leads", "leads", "In/Out: all of it and what else there may be"])
    ['Leads', 'leads 2', 'In Out all of it and what else']
    """
    taken: set[str] = set()
    names = []
    for title in titles:
        words = _NO_XML.sub(" ", _NO_TAB.sub(" ", title))
        plain = " ".join(words.split()).strip("'") or "-"
        # "History" is a name that office suites keep for themselves.
        plain = f"{plain} -" if plain.casefold() == "history" else plain
        name, number = _shortened(plain, ""), 2
        while name.casefold() in taken:
            name, number = _shortened(plain, f" {number}"), number + 1
        taken.add(name.casefold())
        names.append(name)
    return names


def _shortened(name: str, end: str) -> str:
    """Counted as the file counts: a sign outside the basic plane is two."""
    while len((name + end).encode("utf-16-le")) // 2 > _TAB_MOST:
        name = name[:-1]
    return name.strip(" '") + end


class _Looks(NamedTuple):
    """A column in a kind of row: of what the look of its texts is made, and its ready looks."""

    parts: dict[str, Any]
    text: Any
    number: Any
    blank: Any


class _Writer:
    """Writes one workbook: formats are made once, texts cut where they must be."""

    def __init__(self, order: Order) -> None:
        import xlsxwriter

        self.order = order
        self.head = head(order.rig, order.edition)
        self.cut: dict[str, Cut] = {}
        self.file = BytesIO()
        self.book = xlsxwriter.Workbook(
            self.file,
            {"in_memory": True, "strings_to_numbers": False, "strings_to_formulas": False},
        )
        self.book.set_properties(
            {
                "title": self._fits(order.say("paper.set", band=self.head["running"]))[:255],
                "created": _CLOCK,
                "comments": order.say(f"exchange.for_{order.edition.reader}"),
            }
        )
        self.formats: dict[tuple[tuple[str, Any], ...], Any] = {}
        self.worths = {one: order.say(f"paper.{one}") for one in get_args(Provenance)}

    def written(self, leaves: Sequence[_Leaf]) -> Workbook:
        contents = self.order.say("exchange.contents")
        tabs = tab_names([contents, *(leaf.tab for leaf in leaves)])
        self._contents(tabs, leaves)
        for tab, leaf in zip(tabs[1:], leaves, strict=True):
            self._leaf(tab, leaf)
        self.book.close()
        return Workbook(self.file.getvalue(), tuple(tabs), tuple(self.cut.values()))

    def _format(self, **parts: Any) -> Any:
        key = tuple(parts.items())
        found = self.formats.get(key)
        if found is None:
            found = self.formats[key] = self.book.add_format({**_EVERYWHERE, **parts})
        return found

    def _fits(self, text: object) -> str:
        """A text as a cell can hold it."""
        said = str(text)
        said = said if said.isascii() else _NO_XML.sub("\ufffd", said)
        if len(said) <= _CELL_MOST // 2 or len(said.encode("utf-16-le")) // 2 <= _CELL_MOST:
            return said
        self.cut.setdefault(said, Cut(said[:40], len(said)))
        while len(said.encode("utf-16-le")) // 2 >= _CELL_MOST:
            said = said[: _CELL_MOST // 2] if len(said) > _CELL_MOST else said[:-1]
        return said + "\u2026"

    def _text(self, sheet: Any, row: int, column: int, text: str, **look: Any) -> None:
        if LIKE_A_FORMULA.match(text):
            look["quote_prefix"] = True
        sheet.write_string(row, column, self._fits(text), self._format(**look))

    def _opened(self, tab: str, title: str) -> Any:
        """A new worksheet with its head and foot; row 3 is the first one free."""
        sheet = self.book.add_worksheet(tab)
        sheet.set_paper(_PAPER[self.order.edition.size])
        sheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.8)
        sheet.set_footer(self._foot())
        sheet.fit_to_pages(1, 0)
        sheet.hide_gridlines(2)
        self._text(sheet, 0, 0, title, bold=True, font_size=14)
        self._text(sheet, 1, 0, self._whose())
        return sheet

    def _whose(self) -> str:
        says = self.head["says"]
        assert isinstance(says, dict)
        parts = (self.head["running"], self.head["edition"], says["call"])
        reader = self.order.say(f"exchange.for_{self.order.edition.reader}")
        return " \u00b7 ".join([*map(str, parts), reader])

    def _foot(self) -> str:
        """At the foot of each printed page: whose, which version, which page of how many."""
        says = self.head["says"]
        assert isinstance(says, dict)
        end = f"&R{says['page']} &P {says['of']} &N"
        whose = " ".join(f"{self.head['running']} \u00b7 {self.head['edition']}".split())
        whose = _NO_XML.sub("", re.sub(r"[\x00-\x1f]", " ", whose))
        room = _FOOT_MOST - len(end) - 2
        while len(whose.replace("&", "&&").encode("utf-16-le")) // 2 > room:
            whose = whose[:-1]
        return f"&L{whose.replace('&', '&&')}{end}"

    def _contents(self, tabs: Sequence[str], leaves: Sequence[_Leaf]) -> None:
        sheet = self._opened(tabs[0], str(self.head["running"]))
        sheet.set_column(0, 0, 64)
        look = self._format(font_color="#1a4f8b", underline=1)
        for row, (tab, leaf) in enumerate(zip(tabs[1:], leaves, strict=True), 3):
            quoted = tab.replace("'", "''")
            # The target is our own; the title is only shown.
            sheet.write_url(row, 0, f"internal:'{quoted}'!A1", look, self._fits(leaf.title)[:255])

    def _leaf(self, tab: str, leaf: _Leaf) -> None:
        sheet = self._opened(tab, leaf.title)
        row = 3
        if leaf.lead:
            self._text(sheet, row, 0, leaf.lead)
            row += 2
        widths: dict[int, float] = {}
        frozen = False
        tables = [part for part in leaf.parts if isinstance(part, Table)]
        for part in leaf.parts:
            if isinstance(part, Table):
                for place, width in enumerate(_widths(part)):
                    widths[place] = max(widths.get(place, 0.0), width)
                last = self._table(sheet, row, part, widths)
                if not frozen:
                    sheet.freeze_panes(row + 1, 0)
                    sheet.repeat_rows(row)
                    frozen = True
                    if len(tables) == 1 and part.rows and not part.groups:
                        sheet.autofilter(row, 0, row + len(part.rows), len(part.columns) - 1)
                row = last + 2
            else:
                row = self._words(sheet, row, part)
        for place, width in widths.items():
            sheet.set_column(place, place, width)
        if sum(widths.values()) > _PORTRAIT:
            sheet.set_landscape()

    def _table(self, sheet: Any, row: int, part: Table, widths: Mapping[int, float]) -> int:
        """Write a table; its last row."""
        line = {"bottom": 1, "bottom_color": "#9aa3ad"}
        lines = 1
        for place, column in enumerate(part.columns):
            title = f"{column.title} ({column.unit})" if column.unit else column.title
            side = {"align": "right"} if column.right else {"align": "left", "indent": 1}
            self._text(sheet, row, place, title, bold=True, bottom=2, text_wrap=True, **side)
            lines = max(lines, -(-len(title) // max(1, int(widths[place]) - 1)))
        sheet.set_row(row, 14.0 * min(lines, 4))
        groups = dict(part.groups)
        looks = self._looks(part.columns, line)
        for number, cells in enumerate(part.rows):
            row += 1
            if number in groups:
                self._text(sheet, row, 0, groups[number], bold=True)
                row += 1
            self._cells(sheet, row, cells, looks)
        if part.foot:
            row += 1
            looks = self._looks(part.columns, {"bold": True, "top": 1})
            self._cells(sheet, row, part.foot, looks)
        return row

    def _looks(self, columns: Sequence[Column], look: Mapping[str, Any]) -> list[_Looks]:
        """How the cells of a row look, column by column: put together once for all its rows."""
        found = []
        for column in columns:
            side = {"align": "right"} if column.right else _ASIDE
            box = {"border": 1} if column.look in ("tick", "write") else {}
            parts = {**look, **side}
            blank = self._format(**{**look, **box})
            found.append(_Looks(parts, self._format(**parts), self._format(**look), blank))
        return found

    def _cells(self, sheet: Any, row: int, cells: Sequence[Cell], looks: Sequence[_Looks]) -> None:
        for place, (cell, look) in enumerate(zip(cells, looks, strict=True)):
            worth = self.worths[cell.p] if cell.p else ""
            if cell.n is not None:
                shown = look.number
                if worth:
                    plain = {key: look.parts[key] for key in look.parts if key not in _ASIDE}
                    shown = self._format(**plain, num_format=f'General" {worth}"')
                sheet.write_number(row, place, cell.n, shown)
                continue
            text = cell.text
            if not text:
                sheet.write_blank(row, place, None, look.blank)
                continue
            text = f"{text} {worth}" if worth else text
            if text[0] in _FORMULA_SIGNS:
                self._text(sheet, row, place, text, **look.parts)
            else:
                sheet.write_string(row, place, self._fits(text), look.text)

    def _words(self, sheet: Any, row: int, part: Block) -> int:
        """Write what is no table, a line for each sentence; the first row free after it."""
        lines: list[tuple[str, dict[str, Any]]] = []
        match part:
            case blocks.Heading() | blocks.NewPage():
                lines = [(part.title, {"bold": True, "font_size": 12})]
            case blocks.Say() | blocks.LeftOut():
                lines = [(part.text, {})]
            case blocks.Run():
                lines = [(part.said, {})]
            case blocks.Caution():
                lines = [(part.title, {"bold": True}), (part.text, {})]
            case blocks.Facts():
                told = (f"{fact.label}: {fact.value} {fact.note}".strip() for fact in part.rows)
                lines = [(text, {}) for text in told]
            case blocks.Items():
                marks = {"tick": "\u2610", "dash": "\u2013"}
                lines = [
                    (f"{marks.get(part.before, f'{number}.')} {one.text}", {})
                    for number, one in enumerate(part.rows, 1)
                ]
            case blocks.Remedies():
                for one in part.rows:
                    lines.append((one.sign, {"bold": True}))
                    lines += [
                        (f"{number}. {step.text}", {}) for number, step in enumerate(one.steps, 1)
                    ]
            case blocks.Fold():
                return row
            case blocks.Drawing():
                lines = [(part.caption or part.alt, {"italic": True})]
            case _:
                raise TypeError(f"a worksheet cannot hold a {type(part).__name__}")
        for text, look in lines:
            self._text(sheet, row, 0, text, **look)
            row += 1
        return row + 1


def _widths(part: Table) -> Iterable[float]:
    for place, column in enumerate(part.columns):
        if column.look == "tick":
            yield _TICKED
            continue
        longest = 0
        for row in part.rows:
            cell = row[place]
            text = cell.v or cell.note
            long = len(text) + (len(cell.p) + 1 if cell.p else 0)
            if "\n" in text:
                long = max(map(len, f"{text} {cell.p}".rstrip().split("\n")))
            longest = max(longest, long)
        words = max((len(word) for word in column.title.split()), default=0) + 2
        least = _WRITTEN_ON if column.look == "write" else _NARROWEST
        yield min(_WIDEST, max(least, words, longest * 0.95 + 1))
