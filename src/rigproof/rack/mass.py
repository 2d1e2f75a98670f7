"""What the case weighs, part by part, and how it stands: centre of gravity, tipping, castors.

Standing still on a level, hard floor, or on a ramp that it is rolled over slowly. Not here: a
push on the lid, a kerb, a drawer that slides out, soft ground, a worn castor.
"""

import math
from collections.abc import Iterator, Sequence
from typing import Literal

import msgspec

from rigproof.physics import balance, castors, rackgrid
from rigproof.rack.occupancy import Seat, seats
from rigproof.rack.weight import weight_of
from rigproof.rig import Lead, Rig
from rigproof.rig.geartype import CaseSize
from rigproof.rig.lanes import sockets
from rigproof.rig.quantity import Kilograms, Metres, Quantity
from rigproof.rig.ref import HOUSE
from rigproof.rig.spread import NOTHING, Likely, likely, total
from rigproof.signal.words import kind_of
from rigproof.wording.sentences import sentence

Kind = Literal["case", "box", "inside lead", "stage lead", "spare"]

# How far a castor's centre stands in from the edge of its case, turned inwards. Common practice,
# no source: a 100 mm castor on a 15 cm plate.
CASTOR_IN_MM = 70.0
# A case's floor or top board with its profile. Common practice, no source.
BOARD_MM = 37.0
# A van's loading ramp. Common practice, no source: 15 to 20 degrees.
RAMP_DEG = 15.0


class Mass(msgspec.Struct, frozen=True):
    """One thing and its weight; None where nobody states it."""

    name: str  # of the gear, lead or type
    kind: Kind
    weight_kg: Likely | None


class Weights(msgspec.Struct, frozen=True):
    """Everything that is carried, part by part.

    The case rolls with its lids on and what is wired for good; tails and stage leads are counted
    apart, because they travel in a bag or a drawer as the band likes.
    """

    parts: tuple[Mass, ...]

    def of(self, *kinds: Kind) -> Likely:
        """The sum of what is known of these kinds."""
        return total(p.weight_kg for p in self.parts if p.kind in kinds and p.weight_kg)

    @property
    def case_kg(self) -> Likely:
        """The case as it is rolled: itself with its lids, the boxes, the leads wired for good."""
        return self.of("case", "box", "inside lead")

    @property
    def all_kg(self) -> Likely:
        """With tails, stage leads and spares."""
        return self.of("case", "box", "inside lead", "stage lead", "spare")

    @property
    def missing(self) -> tuple[str, ...]:
        """Whose weight is not known."""
        return tuple(part.name for part in self.parts if part.weight_kg is None)

    @property
    def case_missing(self) -> tuple[str, ...]:
        """Whose weight is not known, of what rolls with the case."""
        rolling = {"case", "box"}
        return tuple(p.name for p in self.parts if p.weight_kg is None and p.kind in rolling)


def weights(rig: Rig) -> Weights:
    """The weight of the case and of everything that goes with it."""
    return Weights(tuple(_parts(rig)))


def _parts(rig: Rig) -> Iterator[Mass]:
    case = rig.file.case
    if case is not None:
        stated = case.weight_kg if case.weight_kg is not None else rig.types[case.type].weight_kg
        yield Mass(case.name or sentence("the case"), "case", _range(stated))
    for gear in rig.file.gear:
        if gear.placed == "case":
            yield Mass(gear.name or gear.id, "box", _range(weight_of(rig, gear)))
    for lead in rig.file.leads:
        yield Mass(lead.label or lead.id, _kind(rig, lead), _lead_kg(rig, lead))
    for spare in rig.file.spares:
        one = _one_kg(rig, spare.type, spare.length_m)
        yield Mass(
            sentence("spare: {type}", type=kind_of(rig, spare.type)),
            "spare",
            one.times(spare.count) if one else None,
        )


def _range(figure: Quantity | None) -> Likely | None:
    return None if figure is None else likely(figure)


def _kind(rig: Rig, lead: Lead) -> Kind:
    ends = (lead.from_.gear, lead.to.gear)
    inside = all(end != HOUSE and rig.gear[end].placed == "case" for end in ends)
    return "inside lead" if inside and lead.plugged == "for good" else "stage lead"


def lead_count(rig: Rig, lead: Lead) -> int:
    """How many like leads an entry stands for."""
    body = rig.types[lead.type].lead
    if body is None:
        return 1
    types = rig.gear_types
    count = 1
    for ref, end in ((lead.from_, body.a), (lead.to, body.b)):
        count = max(count, -(-len(sockets(types, ref, lead.where)) // end.count))
    return count


def _lead_kg(rig: Rig, lead: Lead) -> Likely | None:
    one = _one_kg(rig, lead.type, lead.length_m)
    return None if one is None else one.times(lead_count(rig, lead))


def _one_kg(rig: Rig, type_id: str, length: Metres | None) -> Likely | None:
    """One thing; a lead is its plugs and so much for each metre."""
    type_ = rig.types[type_id]
    body = type_.lead
    if body is None or body.weight_kg_per_m is None:
        return _range(type_.weight_kg)
    if length is None:
        return None
    cable = likely(body.weight_kg_per_m).times(length)
    return total((cable, likely(type_.weight_kg) if type_.weight_kg is not None else NOTHING))


class Hung(msgspec.Struct, frozen=True):
    """What hangs where in the case: from the floor, towards the right, towards the rear."""

    name: str
    likely_kg: Likely
    up_mm: float
    across_mm: float
    along_mm: float

    @property
    def weight_kg(self) -> float:
        return self.likely_kg.value


class Stand(msgspec.Struct, frozen=True):
    """How the loaded case stands, lids off, boxes at the middle of their own bodies."""

    total_kg: float
    height_mm: float  # of the centre of gravity, from the floor
    likely_mm: tuple[float, float]  # where it may be: heavy below and light above, and otherwise
    across_off_mm: float  # towards the right, seen from the front
    along_off_mm: float  # towards the rear
    base_across_mm: float
    base_along_mm: float
    tip_across_deg: float
    tip_along_deg: float
    castors: int
    castor_needs_kg: float | None  # what each castor has to be made for, by the stricter rule
    castor_kg: Kilograms | None
    ramp_kgf: float  # to hold it on a van's ramp
    assumed: tuple[str, ...]  # what was taken for granted, for people
    hung: tuple[Hung, ...]  # what the centre of gravity is made of

    @property
    def tip_deg(self) -> float:
        """The slope at which it goes over, whichever way is worse."""
        return min(self.tip_across_deg, self.tip_along_deg)

    @property
    def likely_across_deg(self) -> tuple[float, float]:
        return self._likely_deg(self.base_across_mm, self.across_off_mm)

    @property
    def likely_along_deg(self) -> tuple[float, float]:
        return self._likely_deg(self.base_along_mm, self.along_off_mm)

    def _likely_deg(self, base_mm: float, off_mm: float) -> tuple[float, float]:
        low, high = (
            float(balance.tip_deg(base_mm=base_mm, height_mm=height, offset_mm=abs(off_mm)))
            for height in reversed(self.likely_mm)
        )
        return low, high


def stand(rig: Rig, found: Weights | None = None) -> Stand | None:
    """How the case stands; None where a weight or a size of the case is not known."""
    case = rig.file.case
    size = rig.types[case.type].case if case else None
    everything = found or weights(rig)
    if size is None or everything.case_missing:
        return None
    if size.width_mm is None or size.depth_mm is None or size.height_mm is None:
        return None
    sitting = seats(rig)
    boxes_kg = [_seat_kg(rig, seat) for seat in sitting]
    case_kg = everything.of("case")
    known_kg = case_kg.value + sum(one.value for one in boxes_kg)
    rest_kg = max(0.0, everything.case_kg.value - known_kg)  # leads, loose boxes
    opening_mm = rackgrid.opening_mm(size.units)
    floor_mm = max(BOARD_MM, size.height_mm - opening_mm - BOARD_MM)
    middle_mm = floor_mm + opening_mm / 2
    depth_mm = float(size.rail_to_rail_mm) if size.rail_to_rail_mm is not None else None
    hung = (
        *(
            Hung(
                seat.name, kg, floor_mm + _up_mm(seat), _across_mm(seat), _along_mm(seat, depth_mm)
            )
            for seat, kg in zip(sitting, boxes_kg, strict=True)
        ),
        Hung(sentence("the empty case"), case_kg, middle_mm, 0.0, 0.0),
        Hung(
            sentence("leads and what lies in it"),
            likely(Quantity(rest_kg, "assumed")),
            middle_mm,
            0.0,
            0.0,
        ),
    )
    masses = [one.weight_kg for one in hung]
    if sum(masses) <= 0:
        return None
    height, x, z = (
        rackgrid.centre_of_gravity_mm(weights_kg=masses, heights_mm=offs)
        for offs in zip(*((one.up_mm, one.across_mm, one.along_mm) for one in hung), strict=True)
    )
    wide, long, assumed = _base_mm(size)
    whole_kg = everything.case_kg.value
    needs = _castor_needs_kg(whole_kg, size.castors)
    return Stand(
        whole_kg,
        height,
        (_furthest_mm(hung, -1.0), _furthest_mm(hung, 1.0)),
        x,
        z,
        wide,
        long,
        balance.tip_deg(base_mm=wide, height_mm=height, offset_mm=abs(x)),
        balance.tip_deg(base_mm=long, height_mm=height, offset_mm=abs(z)),
        size.castors,
        needs,
        size.castor_kg,
        whole_kg * math.sin(math.radians(RAMP_DEG)),
        (*assumed, sentence("the empty case and its leads hang at the middle of the rails")),
        hung,
    )


def _furthest_mm(hung: Sequence[Hung], sign: float) -> float:
    """The highest (or lowest, with -1) that the weight likely hangs at.

    What lies beyond is as heavy as it may be and the rest as light, until nothing changes sides.
    """
    heights = [one.up_mm for one in hung]
    at_mm = rackgrid.centre_of_gravity_mm(
        weights_kg=[one.weight_kg for one in hung], heights_mm=heights
    )
    for _ in hung:
        masses = [
            one.likely_kg.high if sign * (one.up_mm - at_mm) > 0 else one.likely_kg.low
            for one in hung
        ]
        moved_mm = rackgrid.centre_of_gravity_mm(weights_kg=masses, heights_mm=heights)
        if moved_mm == at_mm:
            break
        at_mm = moved_mm
    return at_mm


def _seat_kg(rig: Rig, seat: Seat) -> Likely:
    parts = [weight_of(rig, gear) for gear in (seat.gear, *seat.riders)]
    return total(likely(part) for part in parts if part is not None)


def _up_mm(seat: Seat) -> float:
    return rackgrid.opening_mm(seat.low - 1) + rackgrid.opening_mm(seat.units) / 2


def _across_mm(seat: Seat) -> float:
    quarter = rackgrid.PANEL_WIDTH_MM / 4
    return {"left": -quarter, "right": quarter}.get(seat.front_half or "", 0.0)


def _along_mm(seat: Seat, rails_mm: float | None) -> float:
    """How far behind the middle of the case a box hangs; in the middle where nothing says."""
    if rails_mm is None or seat.depth_mm is None:
        return 0.0
    from_middle = rails_mm / 2 - seat.depth_mm / 2
    return from_middle if seat.face == "rear" else -from_middle


def _base_mm(size: CaseSize) -> tuple[float, float, tuple[str, ...]]:
    """Where it touches the floor, across and along, and what was assumed for that."""
    assert size.width_mm is not None
    assert size.depth_mm is not None
    lids = sum(float(lid) for lid in (size.front_lid_mm, size.rear_lid_mm) if lid is not None)
    body_mm = float(size.depth_mm) - lids
    if not size.castors:
        return float(size.width_mm), body_mm, ()
    if size.castors_across_mm is not None and size.castors_along_mm is not None:
        return float(size.castors_across_mm), float(size.castors_along_mm), ()
    words = sentence(
        "castors stand {castor_in_mm:g} mm in from the edges of the case without its lids",
        castor_in_mm=CASTOR_IN_MM,
    )
    return (
        float(size.castors_across_mm or size.width_mm - 2 * CASTOR_IN_MM),
        float(size.castors_along_mm or body_mm - 2 * CASTOR_IN_MM),
        (words,),
    )


def _castor_needs_kg(total_kg: float, count: int) -> float | None:
    if count < 2:
        return None
    return max(
        float(castors.castor_kg(total_kg=total_kg, castors=count)),
        float(castors.factored_castor_kg(total_kg=total_kg, castors=count)),
    )
