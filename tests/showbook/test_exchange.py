"""What leaves for other programs, read by other programs: workbooks, tables, data, drawings."""

import io
import json
import re
import shutil
import subprocess
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.worksheet.worksheet import Worksheet

from rigproof.rig import Rig
from rigproof.rigfile.intake.entering import new_rig
from rigproof.rigfile.intake.separated import plain_table
from rigproof.rigfile.intake.sources import Understood
from rigproof.rigfile.intake.understanding import understood
from rigproof.rigfile.intake.xlsx import sheets
from rigproof.rigfile.load import parse
from rigproof.showbook.edition import READERS, Reader
from rigproof.showbook.exchange import Listing, listings
from rigproof.showbook.exchange.commas import commas
from rigproof.showbook.exchange.outlines import outlines
from rigproof.showbook.exchange.whole import whole
from rigproof.showbook.exchange.workbook import tab_names, workbook
from rigproof.showbook.papers import for_reader
from tests.bands import WHOLE
from tests.showbook.exchanged import hostile, inputs, made, ordered, quick

# --- out and in again ---------------------------------------------------------------------------

KEPT = ("number", "source", "pair", "label", "player", "phantom", "stand", "line", "alternative")


def essentials(listing: Listing) -> list[tuple[object, ...]]:
    """What must survive: the rows that hold a source, in the order of the list."""
    return [tuple(row.get(key) for key in KEPT) for row in listing.rows if row.get("source")]


def held(listing: Listing) -> list[tuple[object, object]]:
    rows = (row for row in listing.rows if not row.get("source") and row.get("note"))
    return [(row["number"], row["note"]) for row in rows]


def again(found: Understood) -> Listing:
    """The list of the rig that was made of an imported sheet."""
    text = new_rig(found, file="list", schema="./rig.schema.json")
    return inputs(quick(parse(text.encode())))


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("name", WHOLE)
def test_a_list_comes_back_as_it_went(name: str, language: str) -> None:
    order = ordered(name, "band", language)
    usual = inputs(ordered(name))
    from_table = again(understood(plain_table(commas(inputs(order)), "inputs")))
    book = sheets(workbook(order, listings(order), ()).xlsx)
    from_book = again(understood(book[1]))
    for found in (from_table, from_book):
        assert essentials(found) == essentials(usual)
        assert held(found) == held(usual)


WORD = st.one_of(
    st.sampled_from(
        ["Keys L", "Keys R", "Vox 1-3", "Spare", "DRUMS", "=1+1", "+49", "-3 dB", "@home", "'n'",
         "'=x", "a;-b", 'say "yes"', "א ב", "🥁🥁", "e\u0301", "<b>", "_x0041_", "Mix", "Source",
         "7-8", "SR", "48 V", "x", "null", "1"]
    ),
    st.text(min_size=1, max_size=12).map(lambda text: "".join(c for c in text if c.isprintable())),
).map(lambda text: " ".join(text.split())).filter(bool)  # fmt: skip


@st.composite
def rigs(draw: st.DrawFn) -> Rig:
    """Rigs of people, sources and numbers with gaps, every name as odd as may be."""
    people = [
        {"id": f"p{n}", "name": name}
        for n, name in enumerate(draw(st.lists(WORD, max_size=3, unique=True)))
    ]
    sources: list[dict[str, Any]] = []
    patch: list[dict[str, Any]] = []
    number = 1
    for place, name in enumerate(draw(st.lists(WORD, min_size=1, max_size=6))):
        stereo = draw(st.booleans())
        source: dict[str, Any] = {"id": f"s{place}", "name": name, "family": "other"}
        if stereo:
            source["stereo"] = True
            source["pair"] = draw(st.sampled_from(["left-right", "stage-right-left"]))
        played = draw(st.booleans())
        if people and played:
            source["player"] = draw(st.sampled_from(people))["id"]
        choices: dict[str, list[str]] = {
            "phantom": ["must", "never", "tolerates"],
            "mic": ["mic-vocal-dynamic", "mic-small-condenser"],
        }
        for key, values in choices.items():
            if draw(st.booleans()):
                source[key] = draw(st.sampled_from(values))
        for key in ("stand", "alternative"):
            if draw(st.booleans()):
                source[key] = draw(WORD)
        sources.append(source)
        if draw(st.integers(0, 4)):
            number += draw(st.integers(0, 3))
            row: dict[str, Any] = {"source": source["id"]}
            row["channel"] = f"{number}-{number + 1}" if stereo else number
            if draw(st.booleans()):
                row["line"] = draw(WORD)
            if draw(st.booleans()):
                row["phantom"] = draw(st.sampled_from(["on", "off"]))
            patch.append(row)
            number += 1 + stereo
    rig = {"format": 1, "rig": {"name": "R"}, "people": people, "sources": sources, "patch": patch}
    return parse(json.dumps(rig, ensure_ascii=False).encode())


@settings(max_examples=60, deadline=None)
@given(rigs(), st.sampled_from(["en", "de"]))
def test_any_list_comes_back_as_it_went(rig: Rig, language: str) -> None:
    order = quick(rig, language)
    usual = essentials(inputs(quick(rig)))
    table = plain_table(commas(inputs(order)), "inputs")
    assert essentials(again(understood(table))) == usual
    raw = workbook(order, [inputs(order)], ()).xlsx
    assert essentials(again(understood(sheets(raw)[1]))) == usual


# --- workbooks ----------------------------------------------------------------------------------


@cache
def book_of(reader: Reader, language: str = "en") -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(made(ordered("demo", reader, language))))


def worksheet(book: openpyxl.Workbook, start: str) -> Worksheet:
    name = next(name for name in book.sheetnames if name.startswith(start))
    found = book[name]
    assert isinstance(found, Worksheet)
    return found


def test_a_workbook_as_another_library_reads_it() -> None:
    book = book_of("band")
    sheet = worksheet(book, "Inputs")
    heads = [cell.value for cell in sheet[4]]
    assert heads[:2] == ["Channel", "Source"]
    column = heads.index("Channel") + 1
    numbers = [sheet.cell(row, column).value for row in range(5, sheet.max_row + 1)]
    assert numbers[:3] == [1, 2, 3]
    assert all(isinstance(n, int) for n in numbers if n is not None)
    assert sheet.freeze_panes == "A5"
    assert sheet.print_title_rows == "$4:$4"
    assert sheet.page_setup.paperSize == 9  # A4
    assert sheet.page_setup.fitToHeight == 0
    foot: Any = sheet.oddFooter
    assert "&P" in foot.right.text
    assert "Lantern Ceilidh Engine" in foot.left.text
    leads = worksheet(book, "Leads")
    length = [cell.value for cell in leads[4]].index("Length (m)") + 1
    lengths = [leads.cell(row, length).value for row in range(5, leads.max_row + 1)]
    assert any(value is not None for value in lengths)
    assert all(isinstance(value, int | float) for value in lengths if value is not None)


def test_every_paper_with_a_table_has_a_sheet() -> None:
    """Papers that are still to be written appear by themselves."""
    order = ordered("demo")
    titles = [
        sheet.title
        for paper in for_reader("band")
        for sheet in paper.sheets(order)
        if any(type(block).__name__ in ("Table", "Items") for block in sheet.blocks)
    ]
    contents = [cell.value for cell in book_of("band").worksheets[0]["A"]]
    assert titles
    assert set(titles) <= set(contents)


def test_a_paper_of_drawings_has_nothing_for_a_sheet() -> None:
    """What is left out of a workbook because it is drawn holds no table that would be missed."""
    drawn = [paper for paper in for_reader("band") if paper.drawn]
    assert drawn
    for paper in drawn:
        for sheet in paper.sheets(ordered("trio")):
            assert {type(block).__name__ for block in sheet.blocks}.isdisjoint({"Table", "Items"})


@pytest.mark.parametrize("reader", READERS)
def test_no_cell_is_a_formula(reader: Reader) -> None:
    for sheet in book_of(reader).worksheets:
        for row in sheet.iter_rows():
            assert all(cell.data_type != "f" for cell in row)


def test_links_of_the_contents_lead_to_their_sheets() -> None:
    book = book_of("band", "de")
    links = [cell.hyperlink.location for cell in book.worksheets[0]["A"] if cell.hyperlink]
    targets = [link.rpartition("!")[0].strip("'").replace("''", "'") for link in links]
    assert targets == book.sheetnames[1:]


def test_the_same_rig_gives_the_same_bytes() -> None:
    order = ordered("trio")
    assert made(order) == made(order)
    assert whole(order) == whole(order)
    assert dict(outlines(order)) == dict(outlines(order))
    assert [commas(one) for one in listings(order)] == [commas(one) for one in listings(order)]


@pytest.mark.parametrize(
    "titles",
    [
        ["History", "history", "a" * 40, "a" * 41, "[x]:*?/\\", "'", "", "🥁" * 20, "\x07"],
        ["Leads"] * 120,
    ],
)
def test_tabs_are_short_and_no_two_alike(titles: list[str]) -> None:
    names = tab_names(titles)
    assert len({name.casefold() for name in names}) == len(titles)
    for name in names:
        assert 0 < len(name.encode("utf-16-le")) // 2 <= 31
        assert not re.search(r"[\[\]:*?/\\\x00-\x1f]", name)
        assert name.casefold() != "history"
        assert name == name.strip("'")


# --- a headless office suite --------------------------------------------------------------------

SUITE = next((found for name in ("soffice", "libreoffice") if (found := shutil.which(name))), None)
needs_suite = pytest.mark.skipif(
    SUITE is None, reason="no office suite (soffice, libreoffice) is installed on this machine"
)
# Comma, quotes, UTF-8, and the thirteenth token: take texts that begin with = for formulas.
AS_CSV = "Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,0,true"
SPLIT_AT_SEMICOLON = AS_CSV.replace("44", "59", 1)


def through_suite(content: bytes, name: str, folder: Path, reading: str = "") -> openpyxl.Workbook:
    """What an office suite makes of a file, as a workbook."""
    (folder / name).write_bytes(content)
    command = [str(SUITE), f"-env:UserInstallation=file://{folder}/profile", "--headless"]
    command += [f"--infilter={reading}"] if reading else []
    command += ["--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", str(folder / "out")]
    subprocess.run([*command, str(folder / name)], capture_output=True, check=True, timeout=120)
    return openpyxl.load_workbook(folder / "out" / f"{Path(name).stem}.xlsx")


@needs_suite
def test_an_office_suite_reads_the_workbook(tmp_path: Path) -> None:
    book = through_suite(made(ordered("trio")), "rig.xlsx", tmp_path)
    own = openpyxl.load_workbook(io.BytesIO(made(ordered("trio"))))
    assert book.sheetnames == own.sheetnames
    sheet = worksheet(book, "Inputs")
    rows = [row[:2] for row in sheet.iter_rows(min_row=5, values_only=True) if row[1]]
    usual = inputs(ordered("trio")).rows
    assert rows == [(row["number"], row["source"]) for row in usual if row.get("source")]


@needs_suite
@pytest.mark.parametrize("reading", [AS_CSV, SPLIT_AT_SEMICOLON])
def test_an_office_suite_runs_nothing_of_a_plain_table(tmp_path: Path, reading: str) -> None:
    listing = inputs(hostile())
    book = through_suite(commas(listing), "inputs.csv", tmp_path, reading)
    for row in book.worksheets[0].iter_rows():
        assert all(cell.data_type != "f" for cell in row)


@needs_suite
def test_an_office_suite_would_run_what_is_not_defused(tmp_path: Path) -> None:
    """The check above can fail."""
    book = through_suite(b"a,b\r\n=1+1,x\r\n", "raw.csv", tmp_path, AS_CSV)
    assert book.worksheets[0]["A2"].data_type == "f"
