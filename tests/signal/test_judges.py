"""Walks over graphs against plain ones written a second time, on random graphs and whole rigs."""

from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.signal import Graph, Hop, Node
from rigproof.signal.graph import planned, possible
from rigproof.signal.reach import flood, reach
from tests.bands import WHOLE, whole

PLACES = 7


@st.composite
def graphs(draw: st.DrawFn, most: int = 14) -> Graph:
    """A small graph with loops, doubled hops, hops to oneself and choices nobody made."""
    place = st.integers(0, PLACES - 1)
    ends = draw(st.lists(st.tuples(place, place, st.booleans()), max_size=most))
    nodes = tuple(Node(f"n.{n}", "box") for n in range(PLACES))
    return Graph(nodes, tuple(Hop(a, b, "lead", open=o) for a, b, o in ends))


def walked(graph: Graph, start: int, *, over_choices: bool) -> set[int]:
    """Depth first, by recursion over the plain list of hops."""
    seen: set[int] = set()

    def visit(node: int) -> None:
        if node in seen:
            return
        seen.add(node)
        for hop in graph.hops:
            if hop.start == node and (over_choices or not hop.open):
                visit(hop.end)

    visit(start)
    return seen


def every_path(graph: Graph, start: int, ends: set[int]) -> list[list[int]]:
    """All ways without a place twice that end at the first end they come to, by brute force."""
    found: list[list[int]] = []

    def go(path: list[int], places: list[int]) -> None:
        for number, hop in enumerate(graph.hops):
            if hop.open or hop.start != places[-1] or hop.end in places:
                continue
            if hop.end in ends:
                found.append([*path, number])
            else:
                go([*path, number], [*places, hop.end])

    go([], [start])
    return found


def steps(graph: Graph, start: int, ends: set[int]) -> int | None:
    """The fewest hops, by growing the set of what is reached one hop at a time."""
    now, count = {start}, 0
    before: set[int] = set()
    while now != before:
        if now & ends:
            return count
        before = now
        now = now | {h.end for h in graph.hops if h.start in now and not h.open}
        count += 1
    return None


def numbers(graph: Graph, path: Sequence[Hop]) -> list[tuple[int, int]]:
    return [(hop.start, hop.end) for hop in path]


@given(graphs())
def test_reached_is_what_a_plain_walk_reaches(graph: Graph) -> None:
    for start in range(PLACES):
        assert graph.reached([start]) == walked(graph, start, over_choices=False)
        assert graph.reached([start], through=possible) == walked(graph, start, over_choices=True)


@given(graphs())
def test_feeding_is_reached_the_other_way_round(graph: Graph) -> None:
    for end in range(PLACES):
        back = {n for n in range(PLACES) if end in walked(graph, n, over_choices=False)}
        assert graph.feeding([end]) == back


@given(graphs(), st.booleans())
def test_flood_of_bits_is_a_walk_from_each_seed(graph: Graph, over_choices: bool) -> None:
    through = possible if over_choices else planned
    bits = flood(graph, {n: 1 << n for n in range(0, PLACES, 2)}, through=through)
    for seed in range(0, PLACES, 2):
        there = {n for n in range(PLACES) if bits[n] >> seed & 1}
        assert there == walked(graph, seed, over_choices=over_choices)


@given(graphs(), st.integers(0, PLACES - 1), st.sets(st.integers(0, PLACES - 1), max_size=3))
@settings(max_examples=200)
def test_paths_are_all_there_are(graph: Graph, start: int, ends: set[int]) -> None:
    ends -= {start}
    plain = [
        [(graph.hops[n].start, graph.hops[n].end) for n in path]
        for path in every_path(graph, start, ends)
    ]
    found = [numbers(graph, path) for path in graph.paths([start], ends, most=10_000)]
    assert sorted(found) == sorted(plain)
    assert [len(path) for path in found] == sorted(len(path) for path in found)


@given(graphs(most=20))
def test_no_more_paths_than_asked_for(graph: Graph) -> None:
    assert len(graph.paths([0], [PLACES - 1], most=2)) <= 2


@given(graphs(), st.integers(0, PLACES - 1), st.sets(st.integers(0, PLACES - 1), max_size=3))
def test_shortest_takes_the_fewest_hops(graph: Graph, start: int, ends: set[int]) -> None:
    path = graph.shortest([start], ends)
    fewest = steps(graph, start, ends)
    assert (path is None) == (fewest is None)
    if path is not None:
        assert len(path) == fewest
        places = [start, *(hop.end for hop in path)]
        assert all(hop.start == place for hop, place in zip(path, places, strict=False))
        assert places[-1] in ends


def plain_reach(graph: Graph, starts: Sequence[int], *, over_choices: bool) -> set[int]:
    after: dict[int, list[int]] = {}
    for hop in graph.hops:
        if over_choices or not hop.open:
            after.setdefault(hop.start, []).append(hop.end)
    seen = set(starts)
    stack = list(starts)
    while stack:
        for end in after.get(stack.pop(), ()):
            if end not in seen:
                seen.add(end)
                stack.append(end)
    return seen


@pytest.mark.parametrize("name", WHOLE)
def test_reach_of_whole_rigs_is_a_walk_from_each_source(name: str) -> None:
    view = whole(name)
    for over_choices, through in ((False, planned), (True, possible)):
        found = reach(view.graph, view.rig.sources, through=through)
        for number, source in enumerate(found.order):
            starts = view.graph.of_source(source)
            plain = plain_reach(view.graph, starts, over_choices=over_choices)
            bits = {n for n in range(len(view.graph.nodes)) if found.arrives(number, n)}
            assert bits == plain, source


@pytest.mark.parametrize("name", WHOLE)
def test_arrivals_are_told_in_the_order_of_the_file(name: str) -> None:
    view = whole(name)
    order = list(view.rig.sources)
    for person in view.rig.people:
        there = view.arriving.at(view.graph.of_listener(person))
        assert list(there) == sorted(there, key=order.index)
