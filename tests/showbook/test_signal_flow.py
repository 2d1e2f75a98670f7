"""The signal flow: every wire of the graph, from row to row, and where it goes on."""

import itertools
import re
import time
from pathlib import Path

from rigproof.checks.rule import View
from rigproof.rigfile.load import load
from rigproof.showbook import layered
from rigproof.showbook.drawings import ink, signal_flow
from rigproof.showbook.drawings.flowsheets import sheets
from rigproof.showbook.edition import ENGLISH
from tests.showbook.drawn import (
    DEMO,
    SVG,
    every,
    figure,
    group,
    parsed,
    renamed,
    texts,
    view_of,
)


@every
def test_wires_end_at_a_row_of_a_box(rig: str) -> None:
    wires = 0
    for drawing in signal_flow(view_of(rig)):
        boxes = []
        for one in parsed(drawing).iter(f"{SVG}g"):
            if not (one.get("id") or "").startswith("box-"):
                continue
            outline = one.findall(f"{SVG}rect")[0]
            left, width = figure(outline, "x"), figure(outline, "width")
            # Letters stand around their row: capitals are 0.69 of the size of the text face.
            rows = [
                figure(text, "y") - figure(text, "font-size") * 0.69 / 2
                for text in one.iter(f"{SVG}text")
            ]
            gathered = [
                figure(mark, "y1")
                for mark in one.iter(f"{SVG}line")
                if mark.get("y1") == mark.get("y2")
            ]
            boxes.append((left, left + width, rows + gathered))
        for wire in group(drawing, "wires").findall(f"{SVG}polyline"):
            points = [tuple(map(float, p.split(","))) for p in wire.get("points", "").split()]
            (x1, y1), (x2, y2) = points[0], points[-1]
            assert any(
                abs(right - x1) < 0.01 and any(abs(row - y1) < 0.06 for row in rows)
                for _, right, rows in boxes
            )
            assert any(
                abs(left - x2) < 0.01 and any(abs(row - y2) < 0.06 for row in rows)
                for left, _, rows in boxes
            )
            for (ax, ay), (bx, by) in itertools.pairwise(points):
                assert abs(ax - bx) < 0.002 or abs(ay - by) < 0.002  # right angles
            wires += 1
    assert wires >= 6


@every
def test_every_person_box_and_lead_that_carries_sound_is_drawn(rig: str) -> None:
    view = view_of(rig)
    made = sheets(view, ENGLISH)
    boxes = {node.key for sheet in made for node in sheet.nodes}
    joined = {(join.start[0], join.end[0]) for sheet in made for join in sheet.joins}
    for person in view.rig.people:
        if view.graph.of_listener(person):
            assert f"person:{person}" in boxes
    for source in view.rig.file.sources:
        if source.start is None and source.player and view.rig.rows.get(source.id):
            assert f"player:{source.player}" in boxes

    def drawn_as(name: str) -> str:
        gear = view.rig.gear.get(name)
        worn = gear and view.rig.type_of(name).class_ in {"pack", "personal-mixer"}
        return f"person:{gear.with_person}" if gear and worn and gear.with_person else name

    # Leads that the graph has a signal on, one way or the other.
    carrying = {
        name
        for hop in view.graph.hops
        if hop.means == "lead" and view.arriving.bits[hop.start]
        for name in hop.needs
    }
    assert carrying
    for lead in view.rig.file.leads:
        if lead.id in carrying:
            ends = drawn_as(lead.from_.gear), drawn_as(lead.to.gear)
            assert ends in joined or ends[::-1] in joined, lead.id


def test_kinds_of_wire_differ_by_line_and_by_word() -> None:
    drawings = signal_flow(view_of("demo"))
    dashes = {
        wire.get("stroke-dasharray")
        for drawing in drawings
        for wire in group(drawing, "wires").findall(f"{SVG}polyline")
    }
    assert len(dashes) == 4
    said = " ".join(words for drawing in drawings for words in texts(parsed(drawing)))
    for word in ("digital", "network", "radio", "isolated", "band only"):
        assert word in said


def test_a_wire_outlives_a_poor_copy_wherever_it_falls_on_the_dots() -> None:
    """Between two rows of dots, 100 to the inch, half of it darkens each: to black, if it is wide.

    Derived: what covers more than half a dot, weighed with its darkness, is nearer to black.
    """
    for drawing in signal_flow(view_of("demo")):
        wires = group(drawing, "wires").findall(f"{SVG}polyline")
        assert wires
        for wire in wires:
            stroke = wire.get("stroke") or ink.INK
            red, green, blue = (int(stroke[at : at + 2], 16) for at in (1, 3, 5))
            darkness_ratio = 1 - (0.299 * red + 0.587 * green + 0.114 * blue) / 255
            wide_dots = figure(wire, "stroke-width") / (25.4 / 100)
            assert wide_dots / 2 * darkness_ratio > 0.5


def test_a_line_that_goes_on_says_where() -> None:
    drawings = signal_flow(view_of("demo"))
    for number, drawing in enumerate(drawings, start=1):
        for words in texts(parsed(drawing)):
            found = re.search(r"[→←] (\d[\d, -]*)$", words)
            if found:
                pages = {int(page) for page in re.findall(r"\d+", found[1])}
                assert number not in pages
                assert max(pages) <= len(drawings)
    into = " ".join(texts(group(drawings[0], "box-split-a")))
    house = next(n for n, one in enumerate(drawings, start=1) if one.title.endswith("the house"))
    assert f"iso 1-16 → {house}" in into


def test_a_layout_is_kept_in_the_folder(tmp_path: Path) -> None:
    layered._kept.clear()
    first = signal_flow(view_of("demo"), tmp_path)
    assert len(list(tmp_path.iterdir())) >= 3
    layered._kept.clear()
    started = time.process_time()
    assert signal_flow(view_of("demo"), tmp_path) == first
    assert time.process_time() - started < 0.5  # without the engine


def test_a_new_name_moves_no_box_of_the_signal_flow() -> None:
    def places(view: View) -> list[list[tuple[str, ...]]]:
        return [
            [
                tuple(one.get(key, "") for key in ("x", "y", "width", "height"))
                for one in parsed(drawing).iter(f"{SVG}rect")
                if one.get("stroke-width") in {"0.32", "0.55"}
            ]
            for drawing in signal_flow(view)
        ]

    assert places(renamed(load(DEMO), "Wilhelmina von und zu Quappendorf")) == places(
        view_of("demo")
    )
