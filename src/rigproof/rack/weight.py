"""Where the weight of the case hangs, as far as every weight is known."""

import msgspec

from rigproof.physics import rackgrid
from rigproof.rack.occupancy import Seat, seats
from rigproof.rig import Gear, Rig
from rigproof.rig.quantity import Kilograms, Provenance, Quantity, weakest


class Balance(msgspec.Struct, frozen=True):
    """The weight on the rails and the height at which it hangs, from the lower edge of unit 1."""

    boxes_kg: float
    height_mm: float
    middle_mm: float  # half the height of the rails
    provenance: Provenance


def weight_of(rig: Rig, gear: Gear) -> Quantity | None:
    """What a box weighs: its own figure before that of its type."""
    return gear.weight_kg if gear.weight_kg is not None else rig.types[gear.type].weight_kg


def load_kg(rig: Rig, seat: Seat) -> Kilograms | None:
    """A box with what rides in it; None where one of them is not known."""
    parts = [weight_of(rig, gear) for gear in (seat.gear, *seat.riders)]
    known = [part for part in parts if part is not None]
    if len(known) < len(parts):
        return None
    return Kilograms(sum(known), weakest(*known))


def balance(rig: Rig) -> Balance | None:
    """The centre of gravity of what hangs on the rails; None where a weight is missing.

    Each box counts at its own middle, riders with their box; the empty case is left out, because
    it stands evenly about its own middle.
    """
    case = rig.file.case
    size = rig.types[case.type].case if case else None
    found = seats(rig)
    loads = [load_kg(rig, seat) for seat in found]
    known = [load for load in loads if load is not None]
    if size is None or not known or len(known) < len(loads) or sum(known) <= 0:
        return None
    heights_mm = [
        rackgrid.opening_mm(seat.low - 1) + rackgrid.opening_mm(seat.units) / 2 for seat in found
    ]
    return Balance(
        float(sum(known)),
        rackgrid.centre_of_gravity_mm(weights_kg=known, heights_mm=heights_mm),
        rackgrid.opening_mm(size.units) / 2,
        weakest(*known),
    )
