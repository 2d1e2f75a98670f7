"""Wires that share a port may share a line; all others must be told apart.

Two wires that share a port may run together until they part, and a dot marks the place. Two that
do not would read as joined wherever they lie on each other.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from rigproof.showbook.boxes import End, Graph, Placed, PlacedBox, Point, Wire

NEAR = 0.0025  # coordinates are rounded to thousandths, and two of them may be added


def tangled(wires: Sequence[Wire]) -> frozenset[int]:
    """Wires that one trunk would join wrongly, by number.

    A trunk from all starts of a net to all its ends says that each start reaches each end. Where
    that is not so - a to x, a to y and b to y, but not b to x - the wires want lines of their own.
    """
    nets = _nets(wires)
    found: set[int] = set()
    for places in nets:
        starts = {wires[place].source for place in places}
        ends = {wires[place].target for place in places}
        joined = {(wires[place].source, wires[place].target) for place in places}
        if len(joined) < len(starts) * len(ends):
            found.update(places)
    return frozenset(found)


def _nets(wires: Sequence[Wire]) -> list[list[int]]:
    """The wires that hang together by their ports."""
    leader: dict[End, End] = {}

    def led(end: End) -> End:
        while leader.setdefault(end, end) != end:
            end = leader[end]
        return end

    for wire in wires:
        leader[led(wire.source)] = led(wire.target)
    nets: dict[End, list[int]] = {}
    for place, wire in enumerate(wires):
        nets.setdefault(led(wire.source), []).append(place)
    return list(nets.values())


def confused(graph: Graph, placed: Placed) -> bool:
    """Whether any two wires without a common port lie on each other."""
    lines: dict[tuple[int, float], list[tuple[float, float, int]]] = {}
    for place, wire in enumerate(placed.wires):
        for a, b in pairwise(wire.points):
            for across, along in ((0, 1), (1, 0)):
                if a[across] == b[across]:
                    low, high = sorted((a[along], b[along]))
                    lines.setdefault((across, a[across]), []).append((low, high, place))
    return any(
        not _share_a_port(graph.wires[one], graph.wires[other])
        for stretches in lines.values()
        for one, other in _overlapping(sorted(stretches))
    )


def _overlapping(stretches: Sequence[tuple[float, float, int]]) -> Iterator[tuple[int, int]]:
    """Pairs of wires on one line that share more than a point of it."""
    for number, (_, high, one) in enumerate(stretches):
        for low, _, other in stretches[number + 1 :]:
            if low >= high - NEAR:
                break
            yield one, other


def _share_a_port(one: Wire, other: Wire) -> bool:
    return bool({one.source, one.target} & {other.source, other.target})


def partings(ways: Sequence[Sequence[Point]]) -> Iterator[Point | None]:
    """For each way from a port, where it leaves the ways before it; None where it leaves none.

    Of several such places the farthest from the port: up to there it has company.
    """
    for number, way in enumerate(ways):
        found = [_parting(way, other) for other in ways[:number]]
        yield max((one for one in found if one), default=(0.0, None), key=lambda one: one[0])[1]


def _parting(one: Sequence[Point], other: Sequence[Point]) -> tuple[float, Point] | None:
    """How far from their common start two ways part, and where."""
    at, far = one[0], 0.0
    mine, theirs = list(one[1:]), list(other[1:])
    while mine and theirs and _heading(at, mine[0]) == _heading(at, theirs[0]):
        nearest = min(mine[0], theirs[0], key=lambda point: _between(at, point))
        far += _between(at, nearest)
        at = nearest
        for way in (mine, theirs):
            if way[0] == at:
                del way[0]
    return (far, at) if far and mine and theirs else None


def _heading(a: Point, b: Point) -> tuple[int, int]:
    return (b.x > a.x) - (b.x < a.x), (b.y > a.y) - (b.y < a.y)


def _between(a: Point, b: Point) -> float:
    return abs(a.x - b.x) + abs(a.y - b.y)


Way = tuple[Point, ...]


def straightened(ways: Sequence[Way], boxes: Sequence[PlacedBox], *, least: float) -> list[Way]:
    """The wires without steps too small to mean anything: the engine leaves some at ports.

    The stretch beyond such a step moves level with the one before it, unless it would come nearer
    than `least` to another wire, or enter a box.
    """
    found = list(ways)
    for number, way in enumerate(found):
        for place in range(1, len(way) - 2):
            moved = _levelled(way, place, least)
            if moved is not None and _has_room(moved, number, found, boxes, least):
                found[number] = _corners(moved[0])
                break
    return found


def _corners(way: Way) -> Way:
    """The way without places where it does not turn."""
    kept = [way[0]]
    for here, after in pairwise(way[1:]):
        if here != kept[-1] and _heading(kept[-1], here) != _heading(here, after):
            kept.append(here)
    return (*kept, way[-1])


_Moved = tuple[Way, Point, Point]  # the wire as it would be, and the ends of the moved stretch


def _levelled(way: Way, place: int, least: float) -> _Moved | None:
    """The wire without the small upright step that begins at a corner; None where there is none."""
    a, b = way[place], way[place + 1]
    if a.x != b.x or not 0 < abs(a.y - b.y) < least:
        return None
    if place + 3 < len(way):  # the stretch behind the step ends at no port: it may move
        end = Point(way[place + 2].x, a.y)
        return (*way[:place], end, *way[place + 3 :]), way[place - 1], end
    if place >= 2:  # nor does the one before it begin at one
        start = Point(way[place - 1].x, b.y)
        return (*way[: place - 1], start, *way[place + 2 :]), start, way[place + 2]
    return None


def _has_room(
    moved: _Moved, number: int, ways: Sequence[Way], boxes: Sequence[PlacedBox], least: float
) -> bool:
    _, a, b = moved
    low, high = sorted((a.x, b.x))
    for box in boxes:
        if (
            box.y < a.y < box.y + box.height
            and low < box.x + box.width - NEAR
            and high > box.x + NEAR
        ):
            return False
    for other, way in enumerate(ways):
        for c, d in pairwise(way) if other != number else ():
            level = c.y == d.y and abs(c.y - a.y) < least
            if level and min(c.x, d.x) < high and max(c.x, d.x) > low:
                return False
    return True
