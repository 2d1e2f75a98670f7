"""Where labels go on a plan: near what they name, over nothing else, the same every time.

Every label is a rectangle with an anchor. Places around the anchor are tried from the nearest to
the farthest; the label that has the fewest free places goes first, then each is moved while that
makes the whole better. A label that finds no place is tried in a shorter form.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

Point = tuple[float, float]
Segment = tuple[Point, Point]

_DISTANCES = (0.8, 2.5, 4.5, 7.0, 10.0, 13.5, 17.5, 22.0, 27.0, 34.0, 42.0, 55.0)
_DIRECTIONS = 20
_ROUNDS = 4
_SEVERAL, _MANY = 16, 40  # labels; above these fewer orders and rounds must do
# In millimetres of distance that a reader would rather bridge:
_LEADER_CROSSES = 60.0  # a leader over a label, a symbol or another leader
_LINE_COVERED = 8.0  # a label over a line of the drawing, such as the edge of a riser
_NEAR_ANOTHER = 5.0  # a label so near to another symbol that it could be taken for its own
_BESIDE_FIRST = 1.5  # a label beside its anchor reads better than one above or under it


class Area(NamedTuple):
    """A rectangle by its upper left corner."""

    x: float
    y: float
    width: float
    height: float

    def meets(self, other: "Area", gap: float = 0.0) -> bool:
        return (
            self.x < other.x + other.width + gap
            and other.x < self.x + self.width + gap
            and self.y < other.y + other.height + gap
            and other.y < self.y + self.height + gap
        )

    def within(self, outer: "Area") -> bool:
        return (
            self.x >= outer.x
            and self.y >= outer.y
            and self.x + self.width <= outer.x + outer.width
            and self.y + self.height <= outer.y + outer.height
        )

    def nearest(self, x: float, y: float) -> Point:
        """The point of the rectangle that is nearest to a place."""
        return (
            min(max(x, self.x), self.x + self.width),
            min(max(y, self.y), self.y + self.height),
        )


@dataclass(frozen=True, slots=True)
class Wanted:
    """A label to place: what it stands by, how far that reaches, and its sizes, fullest first."""

    name: str
    x: float
    y: float
    reach: float
    sizes: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Put:
    """Where a label went, in which of its forms, and the leader to its anchor."""

    area: Area
    form: int
    leader: Segment | None


class _Spot(NamedTuple):
    cost: float
    area: Area
    leader: Segment | None


_Placing: TypeAlias = dict[str, tuple[int, _Spot]]  # label -> its form and place


def place(
    wanted: Sequence[Wanted],
    *,
    bounds: Area,
    taken: Sequence[Area],
    lines: Sequence[Segment] = (),
    gap: float = 0.7,
) -> dict[str, Put]:
    """Put as many labels as fit, none over another or over what is taken.

    Not exact: greedy, then moved one by one. What it promises is that nothing overlaps; a label
    without any place is left out of the answer. `lines` may be covered, at a cost.
    """
    table = _Table(bounds, tuple(taken), tuple(lines), gap)
    spots = _Spots(table, {})
    tried = [_settled(order, spots, gap) for order in _orders(wanted, spots)]
    put = min(tried, key=lambda one: _total(one, len(wanted)))
    return {
        want.name: Put(spot.area, form, spot.leader)
        for want in wanted
        if want.name in put
        for form, spot in [put[want.name]]
    }


def _orders(wanted: Sequence[Wanted], spots: "_Spots") -> list[list[Wanted]]:
    """Who goes first: where a stage is crowded, no one order is always the best."""
    tightest = sorted(wanted, key=lambda want: (len(spots.of(want, 0)), want.name))
    if len(wanted) > _MANY:
        return [tightest]
    middle = sum(want.x for want in wanted) / max(1, len(wanted))
    keys: tuple[Callable[[Wanted], float], ...] = (
        lambda want: want.y,
        lambda want: -want.y,
        lambda want: want.x,
        lambda want: -want.x,
        lambda want: abs(want.x - middle),
        lambda want: -abs(want.x - middle),
        lambda want: -want.sizes[0][0] * want.sizes[0][1],
    )
    by_name = sorted(wanted, key=lambda want: want.name)
    by_place = [sorted(by_name, key=key) for key in keys]
    return [tightest, *by_place][: 3 if len(wanted) > _SEVERAL else None]


def _settled(order: Sequence[Wanted], spots: "_Spots", gap: float) -> _Placing:
    """One label after the other, then each again while the others stay."""
    put: _Placing = {}

    def settle(want: Wanted, forms: Iterable[int]) -> None:
        for form in forms:
            found = _best(spots.of(want, form), [spot for _, spot in put.values()], gap)
            if found is not None:
                put[want.name] = form, found
                return

    for want in order:
        settle(want, range(len(want.sizes)))
    for _ in range(1 if len(order) > _MANY else _ROUNDS):
        before = dict(put)
        for want in order:
            form, _ = put.pop(want.name, (len(want.sizes) - 1, None))
            settle(want, range(form + 1))
        if put == before:
            break
    return put


def _total(put: _Placing, wanted: int) -> float:
    """What a whole placing costs a reader; a label left out or cut short costs the most."""
    cost = 1000.0 * (wanted - len(put)) + 100.0 * sum(form for form, _ in put.values())
    spots = [spot for _, spot in put.values()]
    for place_, spot in enumerate(spots):
        cost += spot.cost + _LEADER_CROSSES * sum(
            _crossings(spot, other) for other in spots[:place_]
        )
    return round(cost, 6)


@dataclass(frozen=True, slots=True)
class _Spots:
    """The free places of each form of each label, looked for when they are asked for."""

    table: "_Table"
    known: dict[tuple[str, int], list[_Spot]]

    def of(self, want: Wanted, form: int) -> list[_Spot]:
        key = want.name, form
        if key not in self.known:
            self.known[key] = self.table.spots(want, form)
        return self.known[key]


@dataclass(frozen=True, slots=True)
class _Table:
    """What a label must keep off, and what it had better not cover."""

    bounds: Area
    taken: tuple[Area, ...]
    lines: tuple[Segment, ...]
    gap: float

    def spots(self, want: Wanted, form: int) -> list[_Spot]:
        """The places of one form of a label that are free of everything drawn, cheapest first."""
        width, height = want.sizes[form]
        others = [one for one in self.taken if not _holds(one, want.x, want.y)]
        found: list[_Spot] = []
        for distance in _DISTANCES:
            for dx, dy in _COMPASS:
                # The rectangle slides along its edge as the direction turns.
                x = want.x + dx * (want.reach + distance) + width / 2 * (_slide(dx) - 1)
                y = want.y + dy * (want.reach + distance) + height / 2 * (_slide(dy) - 1)
                area = Area(x, y, width, height)
                if not area.within(self.bounds) or any(
                    area.meets(one, self.gap) for one in self.taken
                ):
                    continue
                leader = _leader(want, area)
                cost = distance + _BESIDE_FIRST * abs(dy)
                cost += _LINE_COVERED * sum(_runs_over(one, area) for one in self.lines)
                cost += _NEAR_ANOTHER * sum(area.meets(one, 2.2) for one in others)
                if leader is not None:
                    cost += _LEADER_CROSSES * sum(_runs_over(leader, one) for one in others)
                found.append(_Spot(round(cost, 6), area, leader))
        return sorted(found, key=lambda spot: (spot.cost, spot.area))


_COMPASS = tuple(
    (
        round(math.cos(2 * math.pi * step / _DIRECTIONS), 9),
        round(math.sin(2 * math.pi * step / _DIRECTIONS), 9),
    )
    for step in range(_DIRECTIONS)
)


def _slide(part: float) -> float:
    return max(-1.0, min(1.0, part * 1.42))


def _holds(area: Area, x: float, y: float) -> bool:
    return area.x <= x <= area.x + area.width and area.y <= y <= area.y + area.height


def _best(spots: Sequence[_Spot], others: Sequence[_Spot], gap: float) -> _Spot | None:
    best: _Spot | None = None
    least = math.inf
    for spot in spots:
        if spot.cost >= least:
            break
        if any(spot.area.meets(other.area, gap) for other in others):
            continue
        crossed = sum(_crossings(spot, other) for other in others)
        cost = spot.cost + _LEADER_CROSSES * crossed
        if cost < least:
            best, least = spot, cost
    return best


def _crossings(one: _Spot, other: _Spot) -> int:
    """How often the leader of one of two labels runs over the other label or its leader."""
    crossed = 0
    if one.leader is not None:
        crossed += _runs_over(one.leader, other.area)
        crossed += other.leader is not None and _cross(one.leader, other.leader)
    if other.leader is not None:
        crossed += _runs_over(other.leader, one.area)
    return crossed


def _leader(want: Wanted, area: Area) -> Segment | None:
    """From the edge of the anchor to the label; none where the label stands at its anchor."""
    end = area.nearest(want.x, want.y)
    away = math.hypot(end[0] - want.x, end[1] - want.y)
    if away <= want.reach + 2.0:
        return None
    ratio = (want.reach + 0.4) / away
    start = (want.x + (end[0] - want.x) * ratio, want.y + (end[1] - want.y) * ratio)
    return start, end


def _runs_over(line: Segment, area: Area) -> bool:
    """Whether a straight line enters a rectangle (clipping by its four sides)."""
    (x1, y1), (x2, y2) = line
    if (
        max(x1, x2) <= area.x
        or min(x1, x2) >= area.x + area.width
        or max(y1, y2) <= area.y
        or min(y1, y2) >= area.y + area.height
    ):
        return False
    low, high = 0.0, 1.0
    for step, start, near, size in (
        (x2 - x1, x1, area.x, area.width),
        (y2 - y1, y1, area.y, area.height),
    ):
        if abs(step) < 1e-12:
            continue  # the first look has settled it
        one, other = (near - start) / step, (near + size - start) / step
        low, high = max(low, min(one, other)), min(high, max(one, other))
    return low < high


def _cross(one: Segment, other: Segment) -> bool:
    """Whether two straight lines cross: each has the other's ends on its two sides."""
    return _parts(one, other) and _parts(other, one)


def _parts(one: Segment, other: Segment) -> bool:
    (x1, y1), (x2, y2) = one
    sides = [(x2 - x1) * (y - y1) - (y2 - y1) * (x - x1) for x, y in other]
    return sides[0] * sides[1] < 0
