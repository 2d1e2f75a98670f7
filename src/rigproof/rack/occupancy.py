"""Who sits in which units of the case, and who wants the same ones.

Units count from the bottom. `half` is seen from the face a box hangs on: left of the rear rails
is behind right of the front rails.
"""

from collections.abc import Iterator, Sequence
from typing import Literal

import msgspec

from rigproof.rig import Gear, GearType, Rig
from rigproof.rig.quantity import Quantity
from rigproof.wording.sentences import sentence

Side = Literal["left", "right"]
# Gear of these kinds is no box that could want a place in the case.
_NO_BOX = frozenset({"case", "lead", "adapter", "earphone", "microphone", "stand"})


class Seat(msgspec.Struct, frozen=True):
    """One box on the rails, or what rides inside it."""

    gear: Gear
    name: str
    type: GearType
    low: int
    units: int
    riders: tuple[Gear, ...] = ()  # what is built into it or lies in it

    @property
    def high(self) -> int:
        return self.low + self.units - 1

    @property
    def face(self) -> Literal["front", "rear"]:
        return self.gear.face

    @property
    def half(self) -> Side | None:
        return self.gear.half

    @property
    def front_half(self) -> Side | None:
        """The half it fills, seen from the front of the case."""
        if self.half is None or self.face == "front":
            return self.half
        return "right" if self.half == "left" else "left"

    @property
    def depth_mm(self) -> Quantity | None:
        return self.type.size.depth_mm if self.type.size else None

    @property
    def plugs_front_mm(self) -> Quantity | None:
        """What stands out before its panel."""
        return self.type.size.plugs_front_mm if self.type.size else None

    @property
    def plugs_rear_mm(self) -> Quantity | None:
        """What plugs and their bend add behind it."""
        return self.type.size.plugs_rear_mm if self.type.size else None

    @property
    def where(self) -> str:
        """The units in words."""
        if self.units == 1:
            return sentence("unit {low}", low=self.low)
        return sentence("units {low}-{high}", low=self.low, high=self.high)


def seats(rig: Rig) -> tuple[Seat, ...]:
    """The boxes on the rails, from the bottom up, front rails first.

    A box that states no height fills the one unit it is put in.
    """
    riders: dict[str, list[Gear]] = {}
    for gear in rig.file.gear:
        if gear.inside is not None:
            riders.setdefault(gear.inside, []).append(gear)
    found = [
        Seat(
            gear,
            rig.box_names[gear.id],
            type_ := rig.types[gear.type],
            gear.unit,
            (type_.size.units if type_.size else None) or 1,
            tuple(riders.get(gear.id, ())),
        )
        for gear in rig.file.gear
        if gear.unit is not None
    ]
    return tuple(sorted(found, key=lambda seat: (seat.low, seat.face, seat.half or "", seat.name)))


def homeless(rig: Rig) -> tuple[Gear, ...]:
    """Boxes made for a rack of which nothing says where they are, or in which unit of the case."""
    return tuple(
        gear
        for gear in rig.file.gear
        if (gear.unit, gear.inside) == (None, None)
        and gear.placed in {None, "case"}
        and gear.with_person is None
        and gear.at_m is None
        and gear.owner == "band"
        and (type_ := rig.types[gear.type]).class_ not in _NO_BOX
        and type_.size is not None
        and type_.size.units is not None
    )


class Clash(msgspec.Struct, frozen=True):
    """Two boxes, and the units that both want."""

    one: Seat
    other: Seat
    units: tuple[int, ...]


def clashes(found: Sequence[Seat]) -> Iterator[Clash]:
    """Every box that wants units which a box before it already has on the same rails.

    Each is held against the first holder of a place only: in a heap of boxes in one unit, every
    one but the lowest named is in the way once, not once for each of the others.
    """
    held: dict[_Place, Seat] = {}
    for seat in found:
        firsts: dict[str, tuple[Seat, set[int]]] = {}
        for place in _places(seat):
            first = held.setdefault(place, seat)
            if first is not seat:
                firsts.setdefault(first.gear.id, (first, set()))[1].add(place[1])
        for first, units in firsts.values():
            yield Clash(first, seat, tuple(sorted(units)))


def back_to_back(found: Sequence[Seat]) -> Iterator[Clash]:
    """The pairs of a front and a rear box in the same units, the front one named first."""
    held: dict[tuple[int, Side], Seat] = {}
    for seat in found:
        if seat.face == "front":
            for _, unit, side in _places(seat):
                held.setdefault((unit, side), seat)
    for seat in found:
        if seat.face != "rear":
            continue
        before: dict[str, tuple[Seat, set[int]]] = {}
        for _, unit, side in _places(seat):
            first = held.get((unit, side))
            if first is not None:
                before.setdefault(first.gear.id, (first, set()))[1].add(unit)
        for first, units in before.values():
            yield Clash(first, seat, tuple(sorted(units)))


_Place = tuple[str, int, Side]


def _places(seat: Seat) -> Iterator[_Place]:
    """The half units a box fills: face, unit, half as seen from the front."""
    sides: tuple[Side, ...] = (seat.front_half,) if seat.front_half else ("left", "right")
    for unit in range(seat.low, seat.high + 1):
        for side in sides:
            yield seat.face, unit, side


def free_units(rig: Rig, face: Literal["front", "rear"] = "front") -> tuple[int, ...]:
    """The units of one face that nothing hangs in; half a unit left is no free unit.

    A unit that a box wants free above it, for air, is not free either.
    """
    case = rig.file.case
    size = rig.types[case.type].case if case else None
    if size is None:
        return ()
    taken: set[int] = set()
    for seat in seats(rig):
        if seat.face == face:
            air = seat.type.size.free_above_units if seat.type.size else 0
            taken.update(range(seat.low, seat.high + air + 1))
    return tuple(unit for unit in range(1, size.units + 1) if unit not in taken)
