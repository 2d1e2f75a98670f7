"""Which sources arrive where, against a plain search from each source."""

from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.rig import Rig
from rigproof.rigfile.load import parse
from rigproof.signal.arrival import arrival
from rigproof.signal.graph import Graph, Hop, Node, planned, possible
from rigproof.signal.reach import reach

SOURCES = 5
NODES = 14


def rig() -> Rig:
    sources = ", ".join(
        f"{{id: s{n}, name: S{n}, family: keys, stereo: {'true' if n % 2 else 'false'}}}"
        for n in range(SOURCES)
    )
    return parse(f"format: 1\nrig: {{name: Example}}\nsources: [{sources}]\n".encode())


RIG = rig()


@st.composite
def graphs(draw: st.DrawFn) -> Graph:
    """Small graphs with loops; a hop is open one time in four."""
    keys = [
        f"source:{source.id}" + (f".{lane + 1}" if source.stereo else "")
        for source in RIG.file.sources
        for lane in range(source.lanes)
    ]
    nodes = [Node(key, "source") for key in keys]
    nodes += [Node(f"box.{n}", "box") for n in range(NODES)]
    place = st.integers(0, len(nodes) - 1)
    pairs = draw(st.lists(st.tuples(place, place, st.integers(0, 3)), max_size=40))
    hops = [Hop(start, end, "lead", open=not chance) for start, end, chance in pairs]
    return Graph(tuple(nodes), tuple(hops))


def walked(graph: Graph, start: int, *, openly: bool) -> set[int]:
    """Every node behind a start, by plain recursion over the list of hops."""
    seen: set[int] = set()

    def go(node: int) -> None:
        seen.add(node)
        for hop in graph.hops:
            if hop.start == node and hop.end not in seen and (openly or not hop.open):
                go(hop.end)

    go(start)
    return seen


@settings(max_examples=150, deadline=None)
@given(graphs())
def test_reach_is_what_a_walk_from_each_source_finds(graph: Graph) -> None:
    for through, openly in ((planned, False), (possible, True)):
        found = reach(graph, RIG.sources, through=through)
        for number, source in enumerate(RIG.sources):
            wanted = set().union(
                *(walked(graph, start, openly=openly) for start in graph.of_source(source))
            )
            got = {n for n in range(len(graph.nodes)) if found.arrives(number, n)}
            assert got == wanted


@settings(max_examples=100, deadline=None)
@given(graphs())
def test_lanes_arrive_each_by_itself(graph: Graph) -> None:
    found = arrival(graph, RIG)
    for source in RIG.sources:
        for lane, start in enumerate(graph.of_source(source), start=1):
            wanted = walked(graph, start, openly=False)
            got = {n for n in range(len(graph.nodes)) if found.arrives((source, lane), n)}
            assert got == wanted


@settings(max_examples=100, deadline=None)
@given(graphs(), st.data())
def test_another_hop_never_takes_a_source_away(graph: Graph, data: st.DataObject) -> None:
    place = st.integers(0, len(graph.nodes) - 1)
    more = Hop(data.draw(place), data.draw(place), "lead")
    before = reach(graph, RIG.sources, through=planned).bits
    after = reach(Graph(graph.nodes, (*graph.hops, more)), RIG.sources, through=planned).bits
    assert all(old & ~new == 0 for old, new in zip(before, after, strict=True))


def test_a_pair_arrives_as_two_lanes() -> None:
    graph = Graph(
        (Node("source:s1.1", "source"), Node("source:s1.2", "source"), Node("box.1", "box")),
        (Hop(1, 2, "lead"),),
    )
    pair = parse(
        b"format: 1\nrig: {name: E}\nsources: [{id: s1, name: S, family: keys, stereo: true}]\n"
    )
    assert arrival(graph, pair).at([2]) == (("s1", 2),)


def test_reach_names_sources_in_the_order_of_the_file() -> None:
    nodes = (Node("source:s0", "source"), Node("source:s2", "source"), Node("box.1", "box"))
    graph = Graph(nodes, (Hop(1, 2, "lead"), Hop(0, 2, "lead")))
    assert reach(graph, RIG.sources, through=planned).at([2]) == ("s0", "s2")
