"""Hostile text stays text in every form of export, and nothing private reaches a stranger."""

import csv
import io
import json
import re
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest
from ezdxf.filemanagement import readfile
from ezdxf.tools.text import plain_text

from rigproof.showbook.edition import READERS, Reader
from rigproof.showbook.exchange import listings
from rigproof.showbook.exchange.commas import commas
from rigproof.showbook.exchange.outlines import outlines
from rigproof.showbook.exchange.pictures import pictures
from rigproof.showbook.exchange.whole import whole
from rigproof.showbook.exchange.workbook import workbook
from tests.showbook.exchanged import SECRETS, hostile, inputs, made


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
