"""Workbooks, read with care: what the archive says of itself is checked before anything is opened.

Every part is first run through a parser that builds nothing and refuses declarations, so no part
can unfold into more than it is; that pass also tells where values end, which cells are formulas,
which are merged and which rows are hidden. Only then does the library read the values.
"""

import warnings
import zipfile
from collections.abc import Iterator, Mapping
from datetime import date, datetime, time, timedelta
from io import BytesIO
from typing import Any
from xml.parsers import expat

from rigproof.rigfile.intake.cells import (
    MOST_CELLS,
    MOST_COLUMNS,
    MOST_ROWS,
    Area,
    Grid,
    Place,
    Unreadable,
    Value,
    area_of,
    place_of,
)

_MOST_PARTS, _MOST_SHEETS = 2_000, 64
_PART_BYTES, _ALL_BYTES = 64_000_000, 128_000_000
_MOST_MARKS = 1_500_000  # elements of all parts
_MOST_MERGED = 20_000
_AS_XLSX = "Open it in a spreadsheet and save it as XLSX or CSV."


def sheets(raw: bytes) -> tuple[Grid, ...]:
    """The sheets of a workbook, in its order.

    Raises:
        Unreadable: it is no workbook, locked, damaged, or not what it says it is.
    """
    looked = _looked_at(raw)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return tuple(_read(raw, looked))
    except Unreadable:
        raise
    except Exception as error:  # the library says damage in a great many ways
        raise Unreadable(f"the workbook is damaged ({type(error).__name__}).", _AS_XLSX) from error


class _Looked:
    """What the first pass found in one part."""

    def __init__(self) -> None:
        self.row = self.column = 0
        self.last_row = self.last_column = 0
        self.filled: set[Place] = set()
        self.formulas: dict[Place, str] = {}
        self.merged: list[Area] = []
        self.hidden_rows: set[int] = set()
        self.coloured = False
        self.formula: list[str] | None = None
        self.in_value = 0


def _looked_at(raw: bytes) -> Mapping[str, _Looked]:
    """Every part of the archive, looked through without building anything."""
    try:
        archive = zipfile.ZipFile(BytesIO(raw))
    except Exception as error:  # the library says damage in a great many ways
        raise Unreadable("the workbook is damaged: its archive does not open.", _AS_XLSX) from error
    with archive:
        parts = archive.infolist()
        _sensible(parts)
        written = [part for part in parts if _is_xml(archive, part)]
        _small(written)
        marks = [0]
        return {part.filename: _part(archive, part, marks) for part in written}


def _sensible(parts: list[zipfile.ZipInfo]) -> None:
    names = [part.filename for part in parts]
    if any(part.flag_bits & 1 for part in parts):
        raise Unreadable("it is protected by a password.", "Save it without one, then import that.")
    if "mimetype" in names or "content.xml" in names:
        raise Unreadable("it is an OpenDocument file.", _AS_XLSX)
    if "xl/workbook.bin" in names:
        raise Unreadable("it is a binary workbook.", _AS_XLSX)
    if "[Content_Types].xml" not in names or not any(name.startswith("xl/") for name in names):
        raise Unreadable("it is an archive, but no workbook.", "Is this the right file?")
    if len(names) != len(set(names)) or len(names) > _MOST_PARTS:
        raise Unreadable("the workbook is damaged: its parts contradict each other.", _AS_XLSX)


def _small(parts: list[zipfile.ZipInfo]) -> None:
    large = sum(part.file_size for part in parts) > _ALL_BYTES
    if large or any(part.file_size > _PART_BYTES for part in parts):
        raise Unreadable(
            "unpacked it is far larger than any input list.",
            "Delete the empty rows and columns behind the list, then save it again.",
        )


def _is_xml(archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> bool:
    """Whether a part begins as XML does, whatever its name says: pictures do not."""
    try:
        with archive.open(part) as stream:
            start = stream.read(4096)
    except Exception as error:  # the archive says damage in a great many ways
        raise Unreadable(f"the workbook is damaged ({part.filename}).", _AS_XLSX) from error
    return start.lstrip(b"\xef\xbb\xbf\xff\xfe\0 \t\r\n")[:1] in (b"<", b"")


def _part(archive: zipfile.ZipFile, part: zipfile.ZipInfo, marks: list[int]) -> _Looked:
    found = _Looked()
    parser = expat.ParserCreate()
    parser.buffer_text = True

    def start(name: str, attributes: dict[str, str]) -> None:
        marks[0] += 1
        if marks[0] > _MOST_MARKS:
            raise Unreadable("it holds far more than any input list.", "Is this the right file?")
        _started(found, name.rpartition(":")[2], attributes)

    def end(name: str) -> None:
        plain = name.rpartition(":")[2]
        if found.formula is not None and plain == "f":
            found.formulas[found.row, found.column] = "".join(found.formula)
            found.formula = None
        elif plain in ("v", "is"):
            found.in_value = max(0, found.in_value - 1)

    def text(words: str) -> None:
        if found.formula is not None:
            found.formula.append(words)
        elif found.in_value:
            found.filled.add((found.row, found.column))
            found.last_row = max(found.last_row, found.row)
            found.last_column = max(found.last_column, found.column)

    def refuse(*_: object) -> None:
        raise Unreadable("the workbook holds declarations that no spreadsheet writes.", _AS_XLSX)

    parser.StartElementHandler, parser.EndElementHandler = start, end
    parser.CharacterDataHandler = text
    parser.StartDoctypeDeclHandler = refuse
    try:
        with archive.open(part) as stream:
            parser.ParseFile(stream)
    except expat.ExpatError as error:
        if part.filename.lower().endswith((".xml", ".rels")):
            raise Unreadable(f"the workbook is damaged ({part.filename}).", _AS_XLSX) from error
    except Unreadable:
        raise
    except Exception as error:  # as above
        raise Unreadable(f"the workbook is damaged ({part.filename}).", _AS_XLSX) from error
    return found


def _started(found: _Looked, name: str, attributes: dict[str, str]) -> None:
    if name == "c":
        place = place_of(attributes["r"]) if "r" in attributes else None
        found.row, found.column = place or (found.row, found.column + 1)
    elif name in ("v", "is"):
        found.in_value += 1
    elif name == "row":
        stated = attributes.get("r", "")
        found.row = int(stated) if stated.isascii() and stated.isdigit() else found.row + 1
        found.column = 0
        if attributes.get("hidden") in ("1", "true"):
            found.hidden_rows.add(found.row)
    elif name == "f" and found.column:
        found.formula = []
        found.formulas[found.row, found.column] = ""
        found.last_row = max(found.last_row, found.row)
        found.last_column = max(found.last_column, found.column)
    elif name == "mergeCell" and len(found.merged) < _MOST_MERGED:
        area = area_of(attributes.get("ref", ""))
        if area:
            found.merged.append(area)
    elif name == "patternFill" and attributes.get("patternType") == "solid":
        found.coloured = True


def _read(raw: bytes, looked: Mapping[str, _Looked]) -> Iterator[Grid]:
    import openpyxl

    book = openpyxl.load_workbook(BytesIO(raw), read_only=True, data_only=True, keep_links=False)
    coloured = any(part.coloured for part in looked.values())
    try:
        if len(book.worksheets) > _MOST_SHEETS:
            raise Unreadable("it has more sheets than anybody reads.", "Is this the right file?")
        room = MOST_CELLS
        for sheet in book.worksheets:
            # The only way to the part that a sheet comes from.
            path = str(getattr(sheet, "_worksheet_path", "")).lstrip("/")
            part = looked.get(path)
            if part is None:
                raise Unreadable("the workbook is damaged: a sheet is missing.", _AS_XLSX)
            grid = _grid(sheet, part, coloured)
            room -= len(grid.cells)
            if room < 0:
                raise Unreadable("it has more cells than an input list.", "Is this the right file?")
            yield grid
    finally:
        book.close()


def _grid(sheet: Any, part: _Looked, coloured: bool) -> Grid:
    name = str(sheet.title)
    rows = len({row for row, _ in part.filled})
    if rows > MOST_ROWS or part.last_column > MOST_COLUMNS:
        raise Unreadable(
            f'sheet "{name}" has {rows:,} rows and {part.last_column:,} columns; an input list has '
            f"at most {MOST_ROWS:,} and {MOST_COLUMNS}.",
            "Delete what stands far behind the list, then save it again.",
        )
    cells: dict[Place, Value] = {}
    unstored: set[Place] = set()
    sheet.reset_dimensions()  # what a file says of its own size may be wrong
    if part.last_row:
        found = sheet.iter_rows(max_row=part.last_row, max_col=part.last_column, values_only=True)
        for row, values in enumerate(found, 1):
            for column, value in enumerate(values, 1):
                read = _value(value)
                if read is not None:
                    cells[row, column] = read
    for place, formula in part.formulas.items():
        if place not in cells and place not in part.filled:
            cells[place] = f"={formula}" if formula else "a formula"
            unstored.add(place)
    remarks = []
    if part.formulas:
        remarks.append("of formulas the stored values were taken")
    if part.hidden_rows:
        remarks.append("hidden rows were read like the others")
    if coloured:
        remarks.append("colours were not read")
    return Grid(
        name=name,
        cells=cells,
        merged=tuple(part.merged),
        hidden_rows=frozenset(part.hidden_rows),
        hidden=sheet.sheet_state != "visible",
        reckoned=frozenset(part.formulas),
        unstored=frozenset(unstored),
        remarks=tuple(remarks),
    )


def _value(value: object) -> Value | None:
    """A value of the library as a plain one; nothing for what is empty to the eye."""
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    if isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, datetime) and value.time() == time():
        return value.date().isoformat()
    if isinstance(value, datetime | date | time):
        return value.isoformat(sep=" ") if isinstance(value, datetime) else value.isoformat()
    if isinstance(value, timedelta):
        return str(value)
    return str(value)
