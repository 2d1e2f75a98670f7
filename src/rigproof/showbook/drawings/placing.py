"""Where labels go on a plan: near what they name, over nothing else, the same every time.

Every label is a rectangle with an anchor. Places around the anchor are tried from the nearest to
the farthest; the label that has the fewest free places goes first, then each is moved while that
makes the whole better. A label that finds no place is tried in a shorter form.
"""

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from heapq import heapify, heappop, heappush
from typing import NamedTuple, TypeAlias

Point = tuple[float, float]
Segment = tuple[Point, Point]

_DISTANCES = (0.8, 2.5, 4.5, 7.0, 10.0, 13.5, 17.5, 22.0, 27.0, 34.0, 42.0, 55.0)
_DIRECTIONS = 20
_ROUNDS = 4
_SEVERAL, _MANY = 16, 40  # labels; above these fewer orders and rounds must do
_LOOKED_AT = 8  # free places of one label, where there are many labels
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


@dataclass(frozen=True, slots=True, eq=False)
class _Spot:
    """A free place of a label; `number` tells it from every other one of this plan."""

    number: int
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
    return dict(_placed(tuple(wanted), bounds, tuple(taken), tuple(lines), gap))


@lru_cache(maxsize=32)  # one page changed leaves the other plans of a book as they are
def _placed(
    wanted: tuple[Wanted, ...],
    bounds: Area,
    taken: tuple[Area, ...],
    lines: tuple[Segment, ...],
    gap: float,
) -> Mapping[str, Put]:
    spots = _Spots(_Table(bounds, taken, lines, gap), {})
    pairs = _Pairs(gap, {})
    tried = [_settled(order, spots, pairs) for order in _orders(wanted, spots)]
    put = min(tried, key=lambda one: _total(one, len(wanted), pairs))
    return {
        want.name: Put(spot.area, form, spot.leader)
        for want in wanted
        if want.name in put
        for form, spot in [put[want.name]]
    }


def _orders(wanted: Sequence[Wanted], spots: "_Spots") -> list[list[Wanted]]:
    """Who goes first: where a stage is crowded, no one order is always the best."""
    tightest = sorted(wanted, key=lambda want: (spots.of(want, 0).free, want.name))
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


def _settled(order: Sequence[Wanted], spots: "_Spots", pairs: "_Pairs") -> _Placing:
    """One label after the other, then each again while the others stay."""
    put: _Placing = {}
    most = _LOOKED_AT if len(order) > _MANY else _TRIED

    def settle(want: Wanted, forms: Iterable[int]) -> None:
        for form in forms:
            found = _best(spots.of(want, form), [spot for _, spot in put.values()], pairs, most)
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


def _total(put: _Placing, wanted: int, pairs: "_Pairs") -> float:
    """What a whole placing costs a reader; a label left out or cut short costs the most."""
    cost = 1000.0 * (wanted - len(put)) + 100.0 * sum(form for form, _ in put.values())
    spots = [spot for _, spot in put.values()]
    for place_, spot in enumerate(spots):
        cost += spot.cost + _LEADER_CROSSES * sum(
            pairs.crossings(spot, other) for other in spots[:place_]
        )
    return round(cost, 6)


@dataclass(frozen=True, slots=True)
class _Pairs:
    """How two places of two labels get on. Many orders ask the same, so answers are kept."""

    gap: float
    known: dict[tuple[int, int], int]

    def crossings(self, one: _Spot, other: _Spot) -> int:
        """How often the leader of one runs over the other label or its leader."""
        a, b = one.number, other.number
        key = (a, b) if a < b else (b, a)
        found = self.known.get(key)
        if found is None:
            found = self.known[key] = _crossings(one, other)
        return found


@dataclass(frozen=True, slots=True)
class _Spots:
    """The free places of each form of each label, looked for when they are asked for."""

    table: "_Table"
    known: dict[tuple[str, int], "_Free"]

    def of(self, want: Wanted, form: int) -> "_Free":
        key = want.name, form
        if key not in self.known:
            self.known[key] = _Free(self.table, want, form, first=len(self.known) * _TRIED)
        return self.known[key]


@dataclass(frozen=True, slots=True)
class _Table:
    """What a label must keep off, and what it had better not cover."""

    bounds: Area
    taken: tuple[Area, ...]
    lines: tuple[Segment, ...]
    gap: float

    def free(self, want: Wanted, form: int) -> Iterator[tuple[float, Area]]:
        """The places that are free of everything drawn, with the least that each can cost."""
        width, height = want.sizes[form]
        left, top = self.bounds.x, self.bounds.y
        right, foot = left + self.bounds.width - width, top + self.bounds.height - height
        # Each taken area grown by the label: a corner inside it is a label over it.
        blocks = [
            (x - width - self.gap, y - height - self.gap, x + wide + self.gap, y + high + self.gap)
            for x, y, wide, high in self.taken
        ]
        for distance in _DISTANCES:
            for dx, dy, slide_x, slide_y in _COMPASS:
                # The rectangle slides along its edge as the direction turns.
                x = want.x + dx * (want.reach + distance) + width * slide_x
                y = want.y + dy * (want.reach + distance) + height * slide_y
                if not (left <= x <= right and top <= y <= foot):
                    continue
                for place_, (x1, y1, x2, y2) in enumerate(blocks):
                    if x1 < x < x2 and y1 < y < y2:
                        # What is in the way here is likely to be in the way of the next.
                        blocks.insert(0, blocks.pop(place_))
                        break
                else:
                    least = round(distance + _BESIDE_FIRST * abs(dy), 6)
                    yield least, Area(x, y, width, height)


class _Free:
    """The free places of one form of one label, cheapest first, ties by where they are.

    What a place costs in full takes longest to work out, and the first few are mostly enough. So
    the places lie in a heap by the least that they can cost until one is asked for.
    """

    def __init__(self, table: _Table, want: Wanted, form: int, *, first: int) -> None:
        self._table = table
        self._want = want
        self._first = first
        self._others = [one for one in table.taken if not _holds(one, want.x, want.y)]
        self._heap: list[tuple[float, bool, Area, Segment | None]]
        self._heap = [(least, False, area, None) for least, area in table.free(want, form)]
        self._ranked: list[_Spot] = []
        self.free = len(self._heap)
        heapify(self._heap)

    def __iter__(self) -> Iterator[_Spot]:
        yield from self._ranked
        place_ = len(self._ranked)
        while self._more(place_):
            yield self._ranked[place_]
            place_ += 1

    def _more(self, place_: int) -> bool:
        """Rank the places as far as this one; whether there is one."""
        while len(self._ranked) <= place_ and self._heap:
            cost, full, area, leader = heappop(self._heap)
            if full:
                number = self._first + len(self._ranked)
                self._ranked.append(_Spot(number, cost, area, leader))
            else:
                leader = _leader(self._want, area)
                heappush(self._heap, (self._cost(cost, area, leader), True, area, leader))
        return len(self._ranked) > place_

    def _cost(self, least: float, area: Area, leader: Segment | None) -> float:
        cost = least
        cost += _LINE_COVERED * sum(_runs_over(one, area) for one in self._table.lines)
        cost += _NEAR_ANOTHER * sum(area.meets(one, 2.2) for one in self._others)
        if leader is not None:
            cost += _LEADER_CROSSES * sum(_runs_over(leader, one) for one in self._others)
        return round(cost, 6)


def _slide(part: float) -> float:
    return (max(-1.0, min(1.0, part * 1.42)) - 1) / 2


def _compass(step: int) -> tuple[float, float, float, float]:
    """A direction, and which part of a label's width and height lies before its place."""
    angle = 2 * math.pi * step / _DIRECTIONS
    dx, dy = round(math.cos(angle), 9), round(math.sin(angle), 9)
    return dx, dy, _slide(dx), _slide(dy)


_COMPASS = tuple(_compass(step) for step in range(_DIRECTIONS))
_TRIED = len(_DISTANCES) * _DIRECTIONS


def _holds(area: Area, x: float, y: float) -> bool:
    return area.x <= x <= area.x + area.width and area.y <= y <= area.y + area.height


def _best(
    spots: Iterable[_Spot], others: Sequence[_Spot], pairs: _Pairs, most: int
) -> _Spot | None:
    """The cheapest place beside those that are taken, of the first `most` that overlap none."""
    best: _Spot | None = None
    least = math.inf
    for spot in spots:
        if spot.cost >= least or not most:
            break
        if _met(spot.area, others, pairs.gap):
            continue
        most -= 1
        room = (least - spot.cost) / _LEADER_CROSSES  # for crossings
        crossed = 0
        for other in others:
            found = pairs.crossings(spot, other)
            crossed += found
            if crossed >= room:
                break
        else:
            best, least = spot, spot.cost + _LEADER_CROSSES * crossed
    return best


def _met(area: Area, others: Sequence[_Spot], gap: float) -> bool:
    """Whether a label meets one that is there already: asked more often than all else here."""
    left, top, width, height = area
    right, foot = left + width + gap, top + height + gap
    for other in others:
        x, y, wide, high = other.area
        if left < x + wide + gap and x < right and top < y + high + gap and y < foot:
            return True
    return False


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
