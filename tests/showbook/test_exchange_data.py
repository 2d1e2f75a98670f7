"""The rig as data and as drawings: held against its schema, measured in the files themselves."""

import json
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import ezdxf
import jsonschema
import pytest
from ezdxf.bbox import extents
from ezdxf.filemanagement import readfile
from referencing import Registry, Resource

import rigproof
from rigproof.physics import rackgrid
from rigproof.rigfile import schema
from rigproof.rigfile.load import parse
from rigproof.showbook.edition import READERS, Reader
from rigproof.showbook.exchange.outlines import outlines
from rigproof.showbook.exchange.pictures import pictures
from rigproof.showbook.exchange.whole import plain, whole, whole_schema
from rigproof.showbook.typeset import pdf
from tests.bands import WHOLE
from tests.showbook.drawn import BARE
from tests.showbook.exchanged import ordered

PUBLISHED = Path(rigproof.__file__).parent / "schema"


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
        # An office suite that finds no reach in the header sets every shape to one point.
        shapes = extents(document.modelspace(), fast=True)
        low, high = document.header["$EXTMIN"], document.header["$EXTMAX"]
        assert all(low[axis] <= shapes.extmin[axis] + 1e-6 for axis in (0, 1))
        assert all(high[axis] >= shapes.extmax[axis] - 1e-6 for axis in (0, 1))
        assert high[0] - low[0] < 2 * shapes.size.x
        assert high[1] - low[1] < 2 * shapes.size.y
