"""Plain tables: comma, semicolon or tab between the cells, in any of the usual encodings."""

import csv
import re
from collections import Counter
from collections.abc import Iterator
from io import StringIO

from rigproof.rigfile.intake.apostrophes import restored
from rigproof.rigfile.intake.cells import (
    MOST_CELLS,
    MOST_COLUMNS,
    MOST_ROWS,
    Grid,
    Place,
    Unreadable,
    Value,
)

_SIGNS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright strokes"}
_TRIED_LINES = 60
_BOMS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_LONGEST_CELL = 1_000_000


def plain_table(raw: bytes, name: str) -> Grid:
    """The cells of a plain table.

    Raises:
        Unreadable: it is none, or too large to be an input list.
    """
    text, remarks = _text(raw)
    sign, body, lines_before = _separator(text)
    if sign is not None:
        remarks.append(f"its cells stand apart by {_SIGNS[sign]}")
    cells: dict[Place, Value] = {}
    rows = 0
    for number, row in enumerate(_rows(body, sign or ","), 1 + lines_before):
        if len(row) > MOST_COLUMNS:
            raise Unreadable(
                f"line {number} has {len(row)} cells; no input list has more than {MOST_COLUMNS}.",
                "Is this the right file?",
            )
        filled = [(column, cell) for column, cell in enumerate(row, 1) if cell.strip()]
        rows += bool(filled)
        if rows > MOST_ROWS or len(cells) > MOST_CELLS:
            raise Unreadable(f"it has more than {MOST_ROWS:,} rows.", "Is this the right file?")
        for column, cell in filled:
            cells[number, column] = restored(cell)
    return Grid(name=name, cells=cells, remarks=tuple(remarks))


def _text(raw: bytes) -> tuple[str, list[str]]:
    for mark, encoding in _BOMS:
        if raw.startswith(mark):
            try:
                return raw.decode(encoding), []
            except UnicodeDecodeError as error:
                raise Unreadable(
                    "its letters are damaged: it says that it is Unicode, and is not.",
                    "Save it again as CSV, UTF-8.",
                ) from error
    if b"\0" in raw:
        raise Unreadable("it is no text and no workbook.", "Save it as XLSX or CSV.")
    try:
        return raw.decode("utf-8"), []
    except UnicodeDecodeError:
        # Every byte is a letter in this one: the five that Windows left free become marks.
        return raw.decode("cp1252", "replace"), ["its letters were read as Windows-1252"]


def _separator(text: str) -> tuple[str | None, str, int]:
    """The sign between cells, the text behind a line that names it, and how many lines that took.

    The sign that gives most lines the same number of cells wins; none where every line is one cell.
    """
    named = re.match(r"sep=([,;\t|])\r?\n", text, re.IGNORECASE)
    if named:
        return named[1], text[named.end() :], 1
    best: tuple[int, int, str] | None = None
    for order, sign in enumerate(_SIGNS):
        widths: Counter[int] = Counter()
        for number, row in enumerate(_rows(text, sign)):
            if number >= _TRIED_LINES:
                break
            if any(cell.strip() for cell in row):
                widths[len(row)] += 1
        alike = max(
            (count * min(width, 8) for width, count in widths.items() if width > 1), default=0
        )
        if alike and (best is None or (alike, -order) > best[:2]):
            best = (alike, -order, sign)
    return (best[2] if best else None), text, 0


def _rows(text: str, sign: str) -> Iterator[list[str]]:
    before = csv.field_size_limit(_LONGEST_CELL)
    try:
        yield from csv.reader(StringIO(text, newline=""), delimiter=sign)
    except csv.Error as error:
        raise Unreadable(
            "a cell of it never ends: a quote is opened and not closed, or the file is damaged.",
            "Open it in a spreadsheet, look at its last rows, save it as XLSX.",
        ) from error
    finally:
        csv.field_size_limit(before)
