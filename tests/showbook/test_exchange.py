"""What leaves for other programs, read by other programs: workbooks, tables, data, drawings."""

import csv
import io
import json
import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import ezdxf
import jsonschema
import openpyxl
import pytest
from ezdxf.filemanagement import readfile
from ezdxf.tools.text import plain_text
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.worksheet.worksheet import Worksheet
from referencing import Registry, Resource

import rigproof
from rigproof.checks.rule import look
from rigproof.checks.verdict import Verdict, check
from rigproof.physics import rackgrid
from rigproof.rig import Rig
from rigproof.rigfile import schema
from rigproof.rigfile.intake.entering import new_rig
from rigproof.rigfile.intake.separated import plain_table
from rigproof.rigfile.intake.sources import Understood
from rigproof.rigfile.intake.understanding import understood
from rigproof.rigfile.intake.xlsx import sheets
from rigproof.rigfile.load import load, parse
from rigproof.showbook.edition import READERS, Edition, Reader
from rigproof.showbook.exchange import Listing, listings
from rigproof.showbook.exchange.commas import commas
from rigproof.showbook.exchange.outlines import outlines
from rigproof.showbook.exchange.pictures import pictures
from rigproof.showbook.exchange.whole import plain, whole, whole_schema
from rigproof.showbook.exchange.workbook import tab_names, workbook
from rigproof.showbook.papers import Order, for_reader
from rigproof.showbook.typeset import pdf
from tests.bands import WHOLE
from tests.showbook.drawn import BARE

PUBLISHED = Path(rigproof.__file__).parent / "schema"


@cache
def ordered(name: str, reader: Reader = "band", language: str = "en") -> Order:
    edition = Edition(reader=reader, language="de" if language == "de" else "en")
    return Order(verdict=check(load(WHOLE[name])), edition=edition)


def quick(rig: Rig, language: str = "en") -> Order:
    """An order for a rig that no rule looked at: lists need none."""
    verdict = Verdict((), (look(rig),), (), 0)
    return Order(verdict=verdict, edition=Edition(language="de" if language == "de" else "en"))


def made(order: Order) -> bytes:
    sheets_ = (sheet for p in for_reader(order.edition.reader) for sheet in p.sheets(order))
    return workbook(order, listings(order), sheets_).xlsx


def inputs(order: Order) -> Listing:
    return next(one for one in listings(order) if one.id == "inputs")


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


# --- hostile text -------------------------------------------------------------------------------

HOSTILE = (
    '=HYPERLINK("http://bad.example","x")',
    "+1+cmd|' /C calc'!A0",
    "-2+3",
    "@SUM(A1:A9)",
    "'=1+1",
    "a;=1+1",
    'quote " and , comma',
    "<b>&amp;</b>]]><!--",
    "{{7*7}} ${7} #eval(1) $x^2$",
    "%%d %%c ^J \\U+0041 \\M+1",
    '&L&"Arial"&24 foot',
    "_x0041_",
    "\u202egnirts\u202c \u05d0\u05d1 \u0627\u0644",
    "e" + "\u0301" * 40,
    "👩‍👩‍👧‍👦🥁",
    "../../etc/passwd",
    "C:\\con\\nul.txt",
    "CON",
    "two\nlines\tand a tab",
    "long " + "x" * 9_900,
)
SECRETS = {
    "phone": "+00 555 9911",
    "mail": "secret@bad.example",
    "serial": "SER-7781",
    "price": 77_123.0,
    "password": "hunter-9913",
}


def hostile_rig() -> Rig:
    """The trio with every free text replaced, and a secret in every place for one."""
    rig = load(WHOLE["trio"])
    stated = plain(rig.file)
    texts = iter(HOSTILE * 200)

    def poison(value: Any, key: str = "") -> Any:
        if isinstance(value, dict):
            return {k: poison(v, k) for k, v in value.items()}
        if isinstance(value, list):
            return [poison(one, key) for one in value]
        if key in ("name", "plays", "stand", "note", "alternative", "line", "colour"):
            return next(texts)[: 190 if key == "name" else 9_990]
        if key == "label":
            return next(texts)[:64]
        return value

    document: Any = poison(stated)
    document["rig"]["note"] = HOSTILE[-1]
    document["rig"]["band"] = '&L&"Arial"&24 foot'
    for number, source in enumerate(document["sources"]):
        source["name"] = HOSTILE[number % len(HOSTILE)]
    for number, person in enumerate(document["people"]):
        person["name"] = HOSTILE[-1 - number]
        person["phone"] = SECRETS["phone"]
    for gear in document["gear"]:
        gear["serial"], gear["price_eur"] = SECRETS["serial"], SECRETS["price"]
    document.setdefault("control", {})["password"] = SECRETS["password"]
    for venue in document.get("venues", []):
        venue["phone"] = SECRETS["phone"]
    return parse(json.dumps(document, ensure_ascii=False).encode(), types=dict(rig.types))


@cache
def hostile(reader: Reader = "band") -> Order:
    return Order(verdict=check(hostile_rig()), edition=Edition(reader=reader))


def names(order: Order) -> set[str]:
    rig = order.rig
    found = {source.name for source in rig.file.sources}
    return found | {person.name for person in rig.file.people}


def test_hostile_text_is_text_in_a_workbook() -> None:
    order = hostile()
    raw = workbook(order, listings(order), ()).xlsx
    book = openpyxl.load_workbook(io.BytesIO(raw))
    sheet = book.worksheets[1]
    heads = [cell.value for cell in sheet[4]]
    column, player = heads.index("Source") + 1, heads.index("Player") + 1
    found = {sheet.cell(row, column).value for row in range(5, sheet.max_row + 1)}
    stated = {row["source"] for row in inputs(order).rows if row.get("source")}
    assert found - {None} == stated
    assert any(str(name).startswith("=") for name in stated)
    for row in sheet.iter_rows(min_row=5, min_col=column, max_col=player):
        for cell in row:
            assert cell.data_type != "f"
            if isinstance(cell.value, str) and cell.value[:1] in "=+-@":
                assert cell.quotePrefix  # typed into again it stays a text
    for part in zipfile.ZipFile(io.BytesIO(raw)).namelist():
        assert ".." not in part
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        root = ET.fromstring(archive.read("xl/worksheets/sheet2.xml"))
    (foot,) = [e.text or "" for e in root.iter() if e.tag.endswith("oddFooter")]
    # The band's name sets no face and no size: of the marks only our own are left.
    assert re.findall("&(.)", foot.replace("&&", "")) == ["L", "R", "P", "N"]


def test_hostile_text_is_text_in_a_plain_table() -> None:
    order = hostile()
    for listing in listings(order):
        rows = list(csv.reader(io.StringIO(commas(listing).decode("utf-8-sig"), newline="")))
        assert len(rows) == len(listing.rows) + 1
        assert {len(row) for row in rows} == {len(listing.headings)}
        for row in rows[1:]:
            for text in row:
                if not re.fullmatch(r"-?[0-9.]+", text):
                    assert not re.match(r"[=+\-@\t\r\n]", text), text
                    assert not re.search(r"[;\t|\n][=+\-@]", text), text


def test_hostile_names_make_no_paths() -> None:
    order = hostile()
    files = [name for name, _ in pictures(order)] + [name for name, _ in outlines(order)]
    files += [f"{listing.id}.csv" for listing in listings(order)]
    for name in files:
        assert re.fullmatch(r"[a-z0-9-]+\.(svg|dxf|csv)", name)


def test_hostile_text_is_text_in_drawings() -> None:
    order = hostile()
    for name, content in pictures(order):
        root = ET.fromstring(content)
        tags = {element.tag.rpartition("}")[2] for element in root.iter()}
        known = {"svg", "g", "line", "rect", "circle", "ellipse", "polyline", "polygon", "path"}
        assert tags <= known | {"text", "tspan", "title", "desc"}, name


def test_hostile_text_is_text_in_dxf(tmp_path: Path) -> None:
    order = hostile()
    for name, content in outlines(order):
        path = tmp_path / name
        path.write_bytes(content)
        document = readfile(str(path))
        audit = document.audit()
        assert not audit.errors
        assert not audit.fixes
    shown = [plain_text(t.dxf.text) for t in document.modelspace().query("TEXT")]
    wanted = [p.name for p in order.rig.file.people if p.name.startswith("%%d")]
    for name in wanted:
        assert name.replace("\\U+", "\uff3cU+").replace("\\M+", "\uff3cM+")[:60] in " ".join(shown)


def test_the_data_hold_the_text_letter_by_letter() -> None:
    document = json.loads(whole(hostile()))
    found = {one["name"] for one in document["rig"]["sources"]}
    assert found == {source.name for source in hostile().rig.file.sources}


def files_for(reader: Reader) -> Iterator[tuple[str, bytes]]:
    """Everything that a reader may have, unpacked."""
    order = hostile(reader)
    with zipfile.ZipFile(io.BytesIO(made(order))) as archive:
        for part in archive.namelist():
            yield f"xlsx/{part}", archive.read(part)
    for listing in listings(order):
        yield listing.id, commas(listing)
    yield "json", whole(order)
    yield from pictures(order)
    yield from outlines(order)


@pytest.mark.parametrize("reader", [reader for reader in READERS if reader != "band"])
def test_nothing_private_reaches_a_stranger(reader: Reader) -> None:
    for name, content in files_for(reader):
        text = content.decode("utf-8", "replace")
        for kind, secret in SECRETS.items():
            shown = f"{secret:g}" if isinstance(secret, float) else str(secret)
            assert shown not in text, (name, kind)


def test_the_band_has_its_own_secrets() -> None:
    """The check above can fail: what strangers lack is there for the band."""
    text = whole(hostile()).decode()
    for kind in ("phone", "serial", "password"):
        assert str(SECRETS[kind]) in text


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


# --- the rig as data ----------------------------------------------------------------------------


def validator() -> jsonschema.Draft202012Validator:
    files = ("rig.schema.json", "gear.schema.json")
    stored = {name: json.loads((PUBLISHED / name).read_text("utf-8")) for name in files}
    registry: Registry[Any] = Registry().with_resources(
        [(name, Resource.from_contents(content)) for name, content in stored.items()]
    )
    own = json.loads((PUBLISHED / "export.schema.json").read_text("utf-8"))
    return jsonschema.Draft202012Validator(own, registry=registry)


def test_the_schema_is_published() -> None:
    text = (PUBLISHED / "export.schema.json").read_text(encoding="utf-8")
    assert text == schema.text(whole_schema())
    jsonschema.Draft202012Validator.check_schema(json.loads(text))


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("name", WHOLE)
def test_the_data_are_as_the_schema_says(name: str, reader: Reader) -> None:
    document = json.loads(whole(ordered(name, reader)))
    validator().validate(document)
    if reader != "band":
        assert [document[key] for key in ("rig", "types", "findings", "planned")] == [None] * 4
    for one in document["lists"]:
        keys = {heading["key"] for heading in one["headings"]}
        assert all(set(row) <= keys for row in one["rows"])


def test_the_schema_refuses_what_is_wrong() -> None:
    document = json.loads(whole(ordered("trio")))
    document["rig"]["sources"][0]["family"] = "no such family"
    assert not validator().is_valid(document)


@pytest.mark.parametrize("name", WHOLE)
def test_the_rig_in_the_data_is_a_rig_file(name: str) -> None:
    rig = ordered(name).rig
    document = json.loads(whole(ordered(name)))
    read = parse(json.dumps(document["rig"]).encode(), types=dict(rig.types))
    assert plain(read.file) == plain(rig.file)
    assert {one["id"] for one in document["types"]} == set(rig.types)


# --- drawings -----------------------------------------------------------------------------------


def test_drawings_have_their_size_in_millimetres_and_can_be_set() -> None:
    for name, content in pictures(ordered("trio")):
        root = ET.fromstring(content)
        wide, high = root.attrib["width"], root.attrib["height"]
        assert wide.endswith("mm")
        assert high.endswith("mm")
        box = [float(one) for one in root.attrib["viewBox"].split()]
        ratio = float(wide.removesuffix("mm")) / box[2]
        assert float(high.removesuffix("mm")) == pytest.approx(box[3] * ratio, abs=0.01)
        title = root.find("{http://www.w3.org/2000/svg}title")
        assert title is not None
        assert title.text
        data = {"svg": content.decode(), "width": box[2], "height": box[3], "alt": name}
        assert pdf(BARE, data)[:5] == b"%PDF-"


def groups(content: bytes) -> Iterator[tuple[int, str]]:
    """A DXF file as pairs of code and value. Source: the format's own reference, "group codes"."""
    lines = iter(content.decode().split("\n"))
    for code in lines:
        if code.strip():
            yield int(code), next(lines).rstrip("\r")


def shapes(content: bytes, kind: str, layer: str) -> list[list[tuple[float, float]]]:
    """The corners of every shape of a kind on a layer, read without any library."""
    found: list[list[tuple[float, float]]] = []
    now: dict[str, Any] = {}
    inside = False
    for code, value in [*groups(content), (0, "END")]:
        if code == 0:
            if now.get("kind") == kind and now.get("layer") == layer:
                found.append(list(zip(now["x"], now["y"], strict=True)))
            now = {"kind": value, "x": [], "y": []} if inside else {}
        elif code == 2 and value in ("ENTITIES", "BLOCKS", "OBJECTS"):
            inside = value == "ENTITIES"
        elif now and code == 8:
            now["layer"] = value
        elif now and code in (10, 20):
            now["x" if code == 10 else "y"].append(float(value))
    return found


def extent(corners: list[tuple[float, float]]) -> tuple[float, float]:
    xs, ys = zip(*corners, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


@pytest.mark.published("EIA-310-D: unit 44.45 mm, panel 482.6 mm, hole rows 465.1 mm apart")
def test_the_case_is_drawn_at_true_size() -> None:
    order = ordered("demo")
    front = dict(outlines(order))["case-front.dxf"]
    units = 20
    ((case),) = [extent(one) for one in shapes(front, "LWPOLYLINE", "case")]
    assert case == pytest.approx((482.6, units * 44.45))
    panels = [extent(one) for one in shapes(front, "LWPOLYLINE", "boxes")]
    assert all(wide == pytest.approx(482.6) or wide == pytest.approx(241.3) for wide, _ in panels)
    for _, high in panels:
        assert (high + 0.8) / 44.45 == pytest.approx(round((high + 0.8) / 44.45))
    holes = [one[0] for one in shapes(front, "CIRCLE", "holes")]
    assert len(holes) == 2 * 3 * units
    assert max(x for x, _ in holes) - min(x for x, _ in holes) == pytest.approx(465.1)
    assert min(y for _, y in holes) == pytest.approx(6.35)
    assert rackgrid.UNIT_MM == 44.45


def test_the_depths_of_the_section_are_those_of_the_file() -> None:
    order = ordered("demo")
    section = dict(outlines(order))["case-section.dxf"]
    rig = order.rig
    assert rig.file.case is not None
    size = rig.types[rig.file.case.type].case
    assert size is not None
    assert size.rail_to_rail_mm is not None
    rails = {one[0][0] for one in shapes(section, "LINE", "rails")}
    assert rails == {0.0, float(size.rail_to_rail_mm)}
    depths = {round(extent(one)[0], 3) for one in shapes(section, "LWPOLYLINE", "boxes")}
    stated = {
        float(type_.size.depth_mm)
        for gear in rig.file.gear
        if gear.unit is not None
        and (type_ := rig.types[gear.type]).size is not None
        and type_.size.depth_mm is not None
    }
    assert stated <= depths


def test_the_stage_is_drawn_at_true_size() -> None:
    order = ordered("demo")
    plot = dict(outlines(order))["stage-plot-meadow.dxf"]
    (stage,) = shapes(plot, "LWPOLYLINE", "stage")
    venue = order.rig.venues["festival"]
    assert venue.stage_m is not None
    assert extent(stage) == pytest.approx(tuple(1000 * float(one) for one in venue.stage_m))
    people = {one[0] for one in shapes(plot, "CIRCLE", "people")}
    places = {
        (round(1000 * float(p.at_m[0]), 6), round(1000 * float(p.at_m[1]), 6))
        for p in order.verdict.views[1].rig.file.people
        if p.at_m is not None and p.on_stage
    }
    assert {(round(x, 6), round(y, 6)) for x, y in people} == places


@pytest.mark.parametrize("name", WHOLE)
def test_an_auditor_finds_nothing_in_the_drawings(name: str, tmp_path: Path) -> None:
    for file, content in outlines(ordered(name)):
        path = tmp_path / file
        path.write_bytes(content)
        document = readfile(str(path))
        audit = document.audit()
        assert not audit.errors
        assert not audit.fixes
        assert document.units == ezdxf.units.MM
        layers = {layer.dxf.name for layer in document.layers}
        used = {entity.dxf.layer for entity in document.modelspace()}
        assert used <= layers
        assert "0" not in used
