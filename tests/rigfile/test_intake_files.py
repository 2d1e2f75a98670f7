"""Files that somebody calls a spreadsheet: workbooks of another make, and hostile ones."""

import random
import struct
import zipfile
from collections.abc import Callable, Iterator
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest

from rigproof.rigfile.intake.cells import Unreadable, Value
from rigproof.rigfile.intake.opening import opened
from rigproof.rigfile.intake.understanding import understood
from tests.rigfile.sheets import fate, grid, one, rig_of

# --- workbooks ----------------------------------------------------------------------------------


def saved(book: openpyxl.Workbook) -> bytes:
    raw = BytesIO()
    book.save(raw)
    return raw.getvalue()


def test_a_workbook_of_another_make(tmp_path: Path) -> None:
    """Written by openpyxl: merged cells, a hidden row, a hidden sheet, formulas, colours, dates."""
    import datetime

    from openpyxl.styles import PatternFill

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Inputs"
    sheet.append(["Ch", "Source", "48V", "Player", "When"])
    sheet.append([1, "Kick", True, "Runa", datetime.date(2027, 5, 1)])
    sheet.append([2.0, "=B2", None, None, None])
    sheet.append(["3", "Voice", "x", "Tamsin", None])
    sheet.merge_cells("D2:D3")
    sheet.row_dimensions[4].hidden = True
    sheet["B2"].fill = PatternFill("solid", fgColor="FFFF00")
    hidden = book.create_sheet("Old")
    hidden.append(["Ch", "Source", "Mic", "48V", "Stand", "Player"])
    hidden.append([1, "Not this one"])
    hidden.sheet_state = "hidden"
    path = tmp_path / "list.xlsx"
    path.write_bytes(saved(book))
    first, second = opened(path)
    assert second.hidden
    assert first.hidden_rows == {4}
    assert first.unstored == {(3, 2)}
    assert set(first.remarks) == {
        "of formulas the stored values were taken",
        "hidden rows were read like the others",
        "colours were not read",
    }
    found = understood(first)
    assert [(s.name, s.channels, s.player) for s in found.inputs] == [
        ("Kick", (1, 1), "Runa"),
        ("Voice", (3, 3), "Tamsin"),
    ]
    assert fate(found, "B3").what == "a formula without a stored value"
    assert one(found, "Kick").notes == ("When: 2027-05-01",)
    assert one(found, "Kick").phantom == "must"


def test_wrong_extensions_are_no_matter(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    assert book.active is not None
    book.active.append(["Ch", "Source"])
    book.active.append([1, "Kick"])
    (tmp_path / "a.csv").write_bytes(saved(book))
    (tmp_path / "b.xlsx").write_text("Ch,Source\n1,Kick\n", encoding="utf-8")
    for name in ("a.csv", "b.xlsx"):
        (sheet,) = opened(tmp_path / name)
        assert [s.name for s in understood(sheet).inputs] == ["Kick"]


def packed(parts: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    raw = BytesIO()
    with zipfile.ZipFile(raw, "w", method) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return raw.getvalue()


def parts_of(raw: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(BytesIO(raw)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


@pytest.fixture(scope="module")
def sound() -> bytes:
    book = openpyxl.Workbook()
    assert book.active is not None
    book.active.append(["Ch", "Source"])
    for number in range(1, 40):
        book.active.append([number, f"Source {number}"])
    return saved(book)


BOMB = b'<?xml version="1.0"?><!DOCTYPE w [<!ENTITY a "aaaaaaaaaa">' + b"".join(
    b'<!ENTITY %c "%s">' % (98 + n, (b"&%c;" % (97 + n)) * 10) for n in range(8)
)

CHANGES: dict[str, Callable[[dict[str, bytes]], dict[str, bytes]]] = {
    "entities that multiply": lambda p: (
        p | {"xl/worksheets/sheet1.xml": BOMB + b"]><worksheet>&i;</worksheet>"}
    ),
    "an outside entity": lambda p: (
        p
        | {
            "xl/workbook.xml": b'<?xml version="1.0"?><!DOCTYPE w SYSTEM "file:///etc/passwd"><w/>',
        }
    ),
    "a declaration in another encoding": lambda p: (
        p
        | {
            "xl/styles.xml": '<?xml version="1.0"?><!DOCTYPE w [<!ENTITY a "b">]><w/>'.encode(
                "utf-16"
            )
        }
    ),
    "a part of 70 MB": lambda p: p | {"xl/worksheets/sheet1.xml": b" " * 70_000_000},
    "millions of cells": lambda p: (
        p | {"xl/worksheets/sheet1.xml": b"<worksheet><sheetData>" + b"<row/>" * 1_600_000}
    ),
    "no sheet": lambda p: {n: c for n, c in p.items() if "sheet1" not in n},
    "half a sheet": lambda p: p | {"xl/worksheets/sheet1.xml": p["xl/worksheets/sheet1.xml"][:200]},
    "no workbook": lambda p: {"[Content_Types].xml": p["[Content_Types].xml"], "a.txt": b"x"},
    "an open document": lambda p: {"mimetype": b"x", "content.xml": b"<x/>"},
    "a binary workbook": lambda p: {"[Content_Types].xml": b"<x/>", "xl/workbook.bin": b"x"},
    "a column far out": lambda p: (
        p
        | {
            "xl/worksheets/sheet1.xml": b'<worksheet xmlns="http://schemas.openxmlformats.org/'
            b'spreadsheetml/2006/main"><sheetData><row r="1"><c r="ZZZ1"><v>1</v></c></row>'
            b"</sheetData></worksheet>"
        }
    ),
    "a reference to a million rows": lambda p: (
        p
        | {
            "xl/worksheets/sheet1.xml": b"<worksheet><sheetData>"
            + b"".join(
                b'<row r="%d"><c r="A%d"><v>1</v></c></row>' % (n, n) for n in range(1, 30_000)
            )
            + b"</sheetData></worksheet>"
        }
    ),
}


def shared_text(parts: dict[str, bytes]) -> dict[str, bytes]:
    """One text of 30,000 letters in 12,000 cells: small in the file, 360 MB to whoever reads it."""
    space = b'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
    cells = b"".join(
        b'<row r="%d"><c r="A%d" t="s"><v>0</v></c></row>' % (n, n) for n in range(1, 12_001)
    )
    return parts | {
        "xl/worksheets/sheet1.xml": b"<worksheet %s><sheetData>%s</sheetData></worksheet>"
        % (space, cells),
        "xl/sharedStrings.xml": b"<sst %s><si><t>%s</t></si></sst>" % (space, b"-_." * 10_000),
    }


def hidden_among_pictures(parts: dict[str, bytes]) -> dict[str, bytes]:
    """The texts of the sheet in a part that calls itself a picture."""
    rels = parts["xl/_rels/workbook.xml.rels"].replace(b"sharedStrings.xml", b"media/a.png")
    moved = {name: part for name, part in parts.items() if "sharedStrings" not in name}
    return moved | {"xl/_rels/workbook.xml.rels": rels, "xl/media/a.png": BOMB + b"]><sst/>"}


CHANGES["one text in thousands of cells"] = shared_text
CHANGES["a bomb that calls itself a picture"] = hidden_among_pictures


@pytest.mark.parametrize("name", CHANGES)
def test_hostile_workbooks_are_refused(name: str, sound: bytes, tmp_path: Path) -> None:
    path = tmp_path / "list.xlsx"
    path.write_bytes(packed(CHANGES[name](parts_of(sound))))
    with pytest.raises(Unreadable) as refused:
        opened(path)
    assert refused.value.says.endswith(".")
    assert refused.value.fix


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (OLE + "EncryptedPackage".encode("utf-16-le"), "protected by a password"),
        (OLE, "of the old kind"),
        (b"%PDF-1.7 ...", "a PDF"),
        (b"<html><table>", "no spreadsheet"),
        (b"", "empty"),
        (b" \r\n , , \r\n", "empty"),
        (b"abc\0def", "no text"),
        (b"PK\x03\x04 and then nothing", "does not open"),
        (b"\xff\xfea", "damaged"),
        (b'a,"' + b"x" * 1_200_000, "never ends"),
        (b",".join([b"a"] * 300), "300 cells"),
        (b"a,b\n" * 20_002, "20,000 rows"),
    ],
)
def test_files_that_are_no_table(raw: bytes, says: str, tmp_path: Path) -> None:
    path = tmp_path / "list.xlsx"
    path.write_bytes(raw)
    with pytest.raises(Unreadable) as refused:
        opened(path)
    assert says in refused.value.says


def test_a_locked_archive(sound: bytes, tmp_path: Path) -> None:
    """The flag that says that a part is encrypted: bit 0. Source: APPNOTE 6.3.10, 4.4.4."""
    raw = bytearray(sound)
    at = raw.index(b"PK\x01\x02")
    flags = struct.unpack_from("<H", raw, at + 8)[0]
    struct.pack_into("<H", raw, at + 8, flags | 1)
    path = tmp_path / "list.xlsx"
    path.write_bytes(bytes(raw))
    with pytest.raises(Unreadable, match="password"):
        opened(path)


def damaged(raw: bytes, seed: int) -> Iterator[bytes]:
    chance = random.Random(seed)
    for _ in range(60):
        broken = bytearray(raw)
        for _ in range(chance.randint(1, 12)):
            broken[chance.randrange(len(broken))] = chance.randrange(256)
        yield bytes(broken[: chance.choice([len(broken), chance.randrange(1, len(broken))])])


@pytest.mark.parametrize("seed", range(4))
def test_damaged_workbooks_end_in_a_sentence(seed: int, sound: bytes, tmp_path: Path) -> None:
    """By the hundred: bytes changed and ends cut off, in the archive and inside its parts."""
    path = tmp_path / "list.xlsx"
    refused: list[Unreadable] = []
    inner = parts_of(sound)
    for number, broken in enumerate(damaged(sound, seed)):
        raw = broken
        if number % 2:  # a sound archive around damaged parts
            name = sorted(inner)[number % len(inner)]
            part = next(damaged(inner[name], seed * 100 + number))
            raw = packed(inner | {name: part})
        path.write_bytes(raw)
        try:
            found = [understood(sheet) for sheet in opened(path)]
        except Unreadable as error:
            refused.append(error)
        else:
            assert all([f.place for f in u.fates] == sorted(u.grid.cells) for u in found)
    assert len(refused) > 5
    assert all(error.says and error.fix for error in refused)


@pytest.mark.parametrize("text", ["-" * 10_000, "(" * 9_000, "ch" + "." * 9_000, "'" * 9_000])
def test_long_rows_of_one_sign_cost_no_age(text: str) -> None:
    rows: list[list[Value | None]] = [[number, f"a{text}", text] for number in range(1, 40)]
    found = understood(grid(["Ch", "Source", "Pair"], *rows))
    assert len(found.inputs) == 39
    assert len(rig_of(found).file.sources) == 39


def test_ten_thousand_rows(tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    lines = ["Ch;Source;Player;48V;Note"]
    lines += [f"{n};Source {n};P{n % 9};{'x' * (n % 2)};n{n}" for n in range(1, 10_001)]
    path.write_text("\n".join(lines), encoding="utf-8")
    (sheet,) = opened(path)
    found = understood(sheet)
    assert len(found.inputs) == 10_000
    assert found.inputs[-1].channels is None  # no desk has a channel 10,000
    assert [one.place for one in found.fates] == sorted(sheet.cells)
    assert len(rig_of(found).file.sources) == 10_000
