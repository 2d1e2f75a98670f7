"""Layered drawings, judged by a checker that knows nothing of the engine."""

import hashlib
import random
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import Future
from dataclasses import replace
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.showbook import layered
from rigproof.showbook.layered import (
    Box,
    End,
    Graph,
    Group,
    LayoutError,
    Placed,
    PlacedBox,
    Point,
    Wire,
    evenly,
    layout,
)

PEN = 0.8  # of the spacing of 6 between wires: less than that is one line to the eye
NEAR = 0.0025  # coordinates are rounded to thousandths, and two of them may be added


def faults(graph: Graph, placed: Placed) -> Iterator[str]:
    """Everything that makes a drawing wrong, whoever made it."""
    box_at = {box.name: place for box, place in zip(graph.boxes, placed.boxes, strict=True)}
    for box in graph.boxes:
        at = box_at[box.name]
        if (at.name, at.width, at.height) != (box.name, box.width, box.height):
            yield f"{box.name} changed its name or size"
        if not _inside(at, PlacedBox(name="", x=0, y=0, width=placed.width, height=placed.height)):
            yield f"{box.name} leaves the drawing"
    for a, b in combinations(placed.boxes, 2):
        if _overlap(a, b):
            yield f"{a.name} overlaps {b.name}"
    for a, b in combinations(placed.groups, 2):
        if _overlap(a, b):
            yield f"frames {a.name} and {b.name} overlap"
    for group, frame in zip(graph.groups, placed.groups, strict=True):
        for box in graph.boxes:
            if box.group == group.name:
                if not _inside(box_at[box.name], frame):
                    yield f"{box.name} leaves its frame"
                if box_at[box.name].y < frame.y + group.head:
                    yield f"{box.name} covers the title of its frame"
            elif _overlap(box_at[box.name], frame):
                yield f"{box.name} stands in a frame that is not its own"
    joined = {frozenset((wire.source.box, wire.target.box)) for wire in graph.wires}
    for left, right in combinations(graph.boxes, 2):
        free = left.group is None and right.group is None
        framed = left.group == right.group and frozenset((left.name, right.name)) in joined
        if None not in (left.layer, right.layer) and (free or framed):
            low, high = sorted((left, right), key=lambda box: box.layer or 0)
            if low.layer != high.layer and box_at[low.name].x >= box_at[high.name].x:
                yield f"{low.name} should stand left of {high.name}"
    ports = dict(_ports(graph, box_at))
    for wire, drawn in zip(graph.wires, placed.wires, strict=True):
        for end, point in ((wire.source, drawn.points[0]), (wire.target, drawn.points[-1])):
            if not _meet(point, ports[end]):
                yield f"{wire.name} misses port {end.port} of {end.box}"
        for start, stop in pairwise(drawn.points):
            if start.x != stop.x and start.y != stop.y:
                yield f"{wire.name} runs aslant"
            for at in placed.boxes:
                if _through(start, stop, at):
                    yield f"{wire.name} runs through {at.name}"
        for point in drawn.points:
            if not (0 <= point.x <= placed.width and 0 <= point.y <= placed.height):
                yield f"{wire.name} leaves the drawing"
    yield from _lying_on_each_other(graph, placed)


def _lying_on_each_other(graph: Graph, placed: Placed) -> Iterator[str]:
    """Wires without a common port must not share a stretch: one could not tell them apart.

    Nor may they run so near that a pen draws them as one.
    """
    drawn = list(zip(graph.wires, placed.wires, strict=True))
    for (a, a_drawn), (b, b_drawn) in combinations(drawn, 2):
        if {a.source, a.target} & {b.source, b.target}:
            continue
        for one in pairwise(a_drawn.points):
            for other in pairwise(b_drawn.points):
                if _shared_stretch(*one, *other) > NEAR:
                    yield f"{a.name} and {b.name} lie on each other"


def _shared_stretch(a: Point, b: Point, c: Point, d: Point) -> float:
    for this, that in ((0, 1), (1, 0)):
        if a[this] == b[this] and c[this] == d[this] and abs(a[this] - c[this]) < PEN:
            low = max(min(a[that], b[that]), min(c[that], d[that]))
            return min(max(a[that], b[that]), max(c[that], d[that])) - low
    return 0.0


def _ports(graph: Graph, box_at: dict[str, PlacedBox]) -> Iterator[tuple[End, Point]]:
    for box in graph.boxes:
        at = box_at[box.name]
        for x, side in ((at.x, box.west), (at.x + at.width, box.east)):
            for port in side:
                yield End(box.name, port.name), Point(x, at.y + port.down)


def _meet(a: Point, b: Point) -> bool:
    return abs(a.x - b.x) <= NEAR and abs(a.y - b.y) <= NEAR


def _overlap(a: PlacedBox, b: PlacedBox) -> bool:
    return (
        a.x < b.x + b.width - NEAR
        and b.x < a.x + a.width - NEAR
        and a.y < b.y + b.height - NEAR
        and b.y < a.y + a.height - NEAR
    )


def _inside(inner: PlacedBox, outer: PlacedBox) -> bool:
    return (
        inner.x >= outer.x - NEAR
        and inner.y >= outer.y - NEAR
        and inner.x + inner.width <= outer.x + outer.width + NEAR
        and inner.y + inner.height <= outer.y + outer.height + NEAR
    )


def _through(a: Point, b: Point, box: PlacedBox) -> bool:
    """Does this stretch enter the box, not merely touch its edge?"""
    return (
        max(a.x, b.x) > box.x + NEAR
        and min(a.x, b.x) < box.x + box.width - NEAR
        and max(a.y, b.y) > box.y + NEAR
        and min(a.y, b.y) < box.y + box.height - NEAR
    )


def box(
    name: str,
    *,
    west: int = 0,
    east: int = 0,
    layer: int | None = None,
    group: str | None = None,
) -> Box:
    height = 16.0 + 11.0 * max(west, east, 1)
    return Box(
        name=name,
        width=80.0,
        height=height,
        west=evenly([f"in {n}" for n in range(1, west + 1)], height=height, top=16.0),
        east=evenly([f"out {n}" for n in range(1, east + 1)], height=height, top=16.0),
        layer=layer,
        group=group,
    )


def wire(source: str, out: int, target: str, into: int) -> Wire:
    return Wire(
        f"{source} {out} to {target} {into}",
        End(source, f"out {out}"),
        End(target, f"in {into}"),
    )


def small_rig(prefix: str = "") -> Graph:
    """Sources, a splitter, a rack mixer with an outboard loop, the house, three pairs of ears."""
    n = prefix
    boxes = [box(f"{n}source {i}", east=1, layer=0) for i in range(1, 9)]
    boxes += [
        box(f"{n}splitter", west=8, east=16, layer=1),
        box(f"{n}rack mixer", west=10, east=8, layer=2, group="rack"),
        box(f"{n}outboard", west=2, east=2, layer=3, group="rack"),
        box(f"{n}house", west=8, layer=4),
    ]
    boxes += [box(f"{n}ears {i}", west=2, layer=4) for i in range(1, 4)]
    wires = [wire(f"{n}source {i}", 1, f"{n}splitter", i) for i in range(1, 9)]
    wires += [wire(f"{n}splitter", i, f"{n}rack mixer", i) for i in range(1, 9)]
    wires += [wire(f"{n}splitter", 8 + i, f"{n}house", i) for i in range(1, 9)]
    wires += [wire(f"{n}rack mixer", 6 + i, f"{n}outboard", i) for i in (1, 2)]
    wires += [wire(f"{n}outboard", i, f"{n}rack mixer", 8 + i) for i in (1, 2)]
    for i in (1, 2, 3):
        wires += [
            wire(f"{n}rack mixer", 2 * i - 1, f"{n}ears {i}", 1),
            wire(f"{n}rack mixer", 2 * i, f"{n}ears {i}", 2),
        ]
    return Graph(boxes=tuple(boxes), wires=tuple(wires), groups=(Group(name="rack", layer=2),))


def test_a_small_rig_is_drawn_without_fault() -> None:
    graph = small_rig()
    assert list(faults(graph, layout(graph))) == []


def test_the_checker_sees_each_kind_of_fault() -> None:
    graph = small_rig()
    good = layout(graph)
    first, second, *rest = good.boxes
    on_top = replace(good, boxes=(replace(first, x=second.x, y=second.y + 1), second, *rest))
    assert any("overlaps" in fault for fault in faults(graph, on_top))
    one, *others = good.wires
    start, *tail = one.points
    astray = replace(one, points=(Point(start.x, start.y + 5), *tail))
    said = list(faults(graph, replace(good, wires=(astray, *others))))
    assert any("misses port" in fault for fault in said)
    mixer = next(at for at in good.boxes if at.name == "rack mixer")
    middle = mixer.y + mixer.height / 2
    across = replace(one, points=(start, Point(0, middle), Point(good.width, middle)))
    said = list(faults(graph, replace(good, wires=(across, *others))))
    assert any("runs through rack mixer" in fault for fault in said)
    doubled = replace(others[0], points=one.points)
    said = list(faults(graph, replace(good, wires=(one, doubled, *others[1:]))))
    assert any("lie on each other" in fault for fault in said)


def test_wires_between_equal_port_rows_do_not_cross() -> None:
    # Eight wires, port n to port n: if either side were numbered from the foot they would cross.
    graph = Graph(
        boxes=(box("a", east=8), box("b", west=8)),
        wires=tuple(wire("a", n, "b", n) for n in range(1, 9)),
    )
    placed = layout(graph)
    assert list(faults(graph, placed)) == []
    assert [len(one.points) for one in placed.wires] == [2] * 8


def test_names_do_not_move_anything() -> None:
    plain, renamed = layout(small_rig()), layout(small_rig('"]});<b>é\\ '))
    assert [one.points for one in plain.wires] == [one.points for one in renamed.wires]
    assert [(at.x, at.y) for at in plain.boxes] == [(at.x, at.y) for at in renamed.boxes]


def test_same_graph_same_drawing_in_a_new_process() -> None:
    script = (
        "import sys; sys.path.insert(0, sys.argv[1])\n"
        "from test_layered import small_rig, layout\n"
        "import hashlib; print(hashlib.sha256(repr(layout(small_rig())).encode()).hexdigest())"
    )
    other = subprocess.run(
        [sys.executable, "-c", script, str(Path(__file__).parent)],
        capture_output=True,
        text=True,
        check=True,
    )
    here = hashlib.sha256(repr(layout(small_rig())).encode()).hexdigest()
    assert other.stdout.strip() == here


def test_two_wires_of_one_port_show_their_junction() -> None:
    graph = Graph(
        boxes=(box("a", east=1), box("b", west=1), box("c", west=1)),
        wires=(wire("a", 1, "b", 1), wire("a", 1, "c", 1)),
    )
    placed = layout(graph)
    assert list(faults(graph, placed)) == []
    assert any(one.junctions for one in placed.wires)


def test_wires_that_one_trunk_would_join_wrongly_run_apart() -> None:
    # a goes to x and y, b goes to y alone: drawn with one trunk, b would seem to go to x too.
    graph = Graph(
        boxes=(box("a", east=1), box("b", east=1), box("x", west=1), box("y", west=1)),
        wires=(wire("a", 1, "x", 1), wire("a", 1, "y", 1), wire("b", 1, "y", 1)),
    )
    placed = layout(graph)
    assert list(faults(graph, placed)) == []
    assert sum(len(one.junctions) for one in placed.wires) == 2  # one at a, one at y


def one_mix_for_two() -> Graph:
    """The small rig with one output of its mixer at two ears."""
    graph = small_rig()
    more = Wire("more ears", End("rack mixer", "out 1"), End("ears 3", "in 2"))
    kept = tuple(one for one in graph.wires if one.target != more.target)
    return replace(graph, wires=(*kept, more))


def test_a_dot_stands_where_wires_of_a_port_part() -> None:
    graph = one_mix_for_two()
    placed = layout(graph)
    assert list(faults(graph, placed)) == []
    (dot,) = [point for one in placed.wires for point in one.junctions]
    ways = [
        one.points
        for wire, one in zip(graph.wires, placed.wires, strict=True)
        if wire.source == End("rack mixer", "out 1")
    ]
    assert len(ways) == 2
    # Both pass it, and neither has a fellow behind it.
    for way in ways:
        assert any(_on(dot, *stretch) for stretch in pairwise(way))
    after = [way[next(n for n, s in enumerate(pairwise(way)) if _on(dot, *s)) + 1] for way in ways]
    assert after[0] != after[1]


def _on(point: Point, a: Point, b: Point) -> bool:
    """Whether a place lies on a stretch, or on its far end."""
    inside = min(a.x, b.x) <= point.x <= max(a.x, b.x) and min(a.y, b.y) <= point.y <= max(a.y, b.y)
    return inside and point != a


def test_a_wire_may_come_back_to_its_own_box() -> None:
    graph = Graph(boxes=(box("a", west=1, east=1),), wires=(wire("a", 1, "a", 1),))
    assert list(faults(graph, layout(graph))) == []


def test_nothing_makes_an_empty_drawing() -> None:
    placed = layout(Graph(boxes=(), wires=()))
    assert (placed.width, placed.height, placed.boxes) == (0, 0, ())


@st.composite
def graphs(draw: st.DrawFn) -> Graph:
    count = draw(st.integers(1, 14))
    framed = draw(st.booleans())
    columns = draw(st.integers(1, 5))  # few of them: many boxes in one, and wires that change lanes
    boxes = []
    for place in range(count):
        layer = draw(st.integers(0, columns - 1))
        boxes.append(
            box(
                f"box {place}",
                west=draw(st.integers(0, 5)),
                east=draw(st.integers(0, 5)),
                # Boxes of one frame share a band of columns, as the boxes of a case do.
                layer=layer,
                group="frame" if framed and layer == 2 else None,
            )
        )
    outs = [End(one.name, port.name) for one in boxes for port in one.east]
    ins = [End(one.name, port.name) for one in boxes for port in one.west]
    pairs: list[tuple[End, End]] = []
    if outs and ins:
        pairs = draw(
            st.lists(
                st.tuples(st.sampled_from(outs), st.sampled_from(ins)), max_size=18, unique=True
            )
        )
    filled = any(one.group for one in boxes)
    return Graph(
        boxes=tuple(boxes),
        wires=tuple(Wire(f"wire {n}", a, b) for n, (a, b) in enumerate(pairs)),
        groups=(Group(name="frame", layer=2),) if filled else (),
    )


@settings(max_examples=60, deadline=None, derandomize=True)
@given(graphs())
def test_any_graph_is_drawn_without_fault(graph: Graph) -> None:
    assert list(faults(graph, layout(graph))) == []


def crowded(seed: int) -> Graph:
    """Six to twelve boxes and up to forty wires from anywhere to anywhere: a bird's nest."""
    dice = random.Random(seed)
    framed = seed % 3 == 0
    boxes = []
    for place in range(dice.randint(6, 12)):
        layer = dice.randint(0, 3)
        group = "frame" if framed and layer == 2 else None
        west, east = dice.randint(0, 5), dice.randint(0, 5)
        boxes.append(box(f"box {place}", west=west, east=east, layer=layer, group=group))
    outs = [End(one.name, port.name) for one in boxes for port in one.east]
    ins = [End(one.name, port.name) for one in boxes for port in one.west]
    pairs = {(dice.choice(outs), dice.choice(ins)): None for _ in range(dice.randint(12, 40))}
    return Graph(
        boxes=tuple(boxes),
        wires=tuple(Wire(f"wire {n}", a, b) for n, (a, b) in enumerate(pairs)),
        groups=(Group(name="frame", layer=2),) if any(one.group for one in boxes) else (),
    )


# With one trunk for all wires of a net, every second of these drew wires on each other.
@pytest.mark.parametrize("seed", range(24))
def test_a_crowded_graph_is_drawn_without_fault(seed: int) -> None:
    graph = crowded(seed)
    assert list(faults(graph, layout(graph))) == []


@pytest.mark.parametrize(
    ("graph", "says"),
    [
        (Graph(boxes=(box("a"), box("a")), wires=()), 'two box entries are called "a"'),
        (Graph(boxes=(box("a", group="g"),), wires=()), 'a group "g" that is not there'),
        (
            Graph(boxes=(box("a", east=1),), wires=(wire("a", 1, "b", 1),)),
            'port "in 1" of box "b", which is not there',
        ),
        (Graph(boxes=(replace(box("a"), width=float("nan")),), wires=()), "has no size"),
        (
            Graph(boxes=(replace(box("a"), west=evenly(["1", "2"], height=900)),), wires=()),
            "outside its side",
        ),
    ],
)
def test_contradictions_are_refused(graph: Graph, says: str) -> None:
    with pytest.raises(LayoutError, match=says):
        layout(graph)


@pytest.fixture
def forgetful(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(layered, "_kept", type(layered._kept)())


@pytest.mark.usefixtures("forgetful")
def test_the_folder_answers_for_the_engine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = layout(small_rig(), cache_folder=tmp_path / "new")
    layered._kept.clear()

    def no_engine(_question: str) -> dict[str, object]:
        raise AssertionError("the engine was asked again")

    monkeypatch.setattr(layered, "_ask_engine", no_engine)
    assert layout(small_rig(), cache_folder=tmp_path / "new") == first
    assert layout(small_rig()) == first


@pytest.mark.usefixtures("forgetful")
def test_two_that_ask_the_same_at_once_are_answered_once(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []
    engine = layered._ask_engine

    def counted(question: str) -> Future[dict[str, Any]]:
        asked.append(question)
        return engine(question)

    monkeypatch.setattr(layered, "_ask_engine", counted)
    first, second = layered.ask(small_rig()), layered.ask(small_rig())
    assert first() == second()
    assert len(asked) == 1
    assert not layered.busy()


@pytest.mark.usefixtures("forgetful")
def test_wires_drawn_on_each_other_are_asked_for_again(monkeypatch: pytest.MonkeyPatch) -> None:
    # The engine does it once in hundreds of crowded graphs: here, at the first question.
    asked: list[str] = []
    engine = layered._ask_engine

    def clumsy(question: str) -> Future[dict[str, Any]]:
        answer = engine(question).result()
        if not asked:
            edges = answer["edges"]
            edges[1]["sections"] = edges[0]["sections"]
        asked.append(question)
        again: Future[dict[str, Any]] = Future()
        again.set_result(answer)
        return again

    monkeypatch.setattr(layered, "_ask_engine", clumsy)
    graph = one_mix_for_two()
    assert list(faults(graph, layout(graph))) == []
    assert len(asked) == 2
    assert list(faults(graph, layout(graph))) == []
    assert len(asked) == 2  # both answers are remembered


@pytest.mark.usefixtures("forgetful")
@pytest.mark.parametrize("damage", [b"", b"\x00\xff", b"half", b'"other"\n{}'])
def test_a_damaged_file_is_laid_out_again(tmp_path: Path, damage: bytes) -> None:
    first = layout(small_rig(), cache_folder=tmp_path)
    (kept,) = tmp_path.iterdir()
    whole = kept.read_bytes()
    kept.write_bytes(whole[: len(whole) // 2] if damage == b"half" else damage)
    layered._kept.clear()
    assert layout(small_rig(), cache_folder=tmp_path) == first
    assert kept.read_bytes() == whole


@pytest.mark.usefixtures("forgetful")
def test_a_folder_that_cannot_be_written_costs_nothing_else(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    placed = layout(small_rig(), cache_folder=tmp_path / "file")
    assert list(faults(small_rig(), placed)) == []


@pytest.mark.usefixtures("forgetful")
def test_an_engine_that_is_stopped_says_so_and_recovers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(layered, "_engine", layered._Engine())
    monkeypatch.setattr(layered, "_MEMORY_LIMIT_BYTES", 4 << 20)
    with pytest.raises(LayoutError, match="too large to lay out"):
        layout(small_rig())
    monkeypatch.setattr(layered, "_MEMORY_LIMIT_BYTES", 512 << 20)
    assert list(faults(small_rig(), layout(small_rig()))) == []


def test_the_engine_is_the_published_one() -> None:
    folder = Path(layered.__file__).parent / "vendor/elkjs"
    digest = hashlib.sha256((folder / "elk-worker.min.js").read_bytes()).hexdigest()
    assert digest in (folder / "ABOUT.md").read_text(encoding="utf-8")
