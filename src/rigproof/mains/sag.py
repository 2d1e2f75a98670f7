"""The volts that arrive at each box at the end of the chain, and which box gives up first.

From the lowest volts that the supply may have, through the house's own cable, the rack's lead and
the cords from strip to strip. Supplies that take the same power whatever they get draw more as
the volts fall; that is counted in. Resistance of cold copper only.
"""

from math import isnan

import msgspec

from rigproof.mains.circuit import Place
from rigproof.mains.load import BoxLoad, Load
from rigproof.mains.outlets import Supply, supplies
from rigproof.physics import conductors, mains
from rigproof.rig import Rig
from rigproof.rig.quantity import (
    Metres,
    OhmsPerMetre,
    Provenance,
    Quantity,
    SquareMillimetres,
    weakest,
)
from rigproof.rig.spread import weaker
from rigproof.wording.sentences import sentence

# What a feeder is where nobody said: the thinnest that a 16 A extension lead has.
USUAL_FEEDER = SquareMillimetres(1.5, "assumed")
# A cord between two strips of one case. Common practice, no source.
CORD_M = Metres(1, "assumed")
CORD_MM2 = SquareMillimetres(1, "assumed")


class Cable(msgspec.Struct, frozen=True):
    """One length of the chain, out and back."""

    name: str
    length_m: float
    ohm_per_km: float
    loop_ohm: float
    provenance: Provenance


class AtBox(msgspec.Struct, frozen=True):
    """What arrives at one box when the supply is at its lowest, and what it needs."""

    box: BoxLoad
    volts_v: float
    needs_v: Quantity | None
    stands_v: Quantity | None

    @property
    def margin_v(self) -> float | None:
        """How far above its least volts it still is; below 0 it gives up."""
        return None if self.needs_v is None else self.volts_v - self.needs_v


class Sag(msgspec.Struct, frozen=True):
    """One place: the supply's band, the cables, and every box with its volts, weakest first."""

    lowest_v: float  # of the supply, at the start of the cables
    highest_v: float
    cables: tuple[Cable, ...]
    at_rack_v: float  # with everything at its most; not a number where it cannot be carried
    likely_v: tuple[float, float]  # the same with what the boxes likely take; 0 likewise
    nominal_drop_v: float  # with everything at its most and the supply at its name
    boxes: tuple[AtBox, ...]
    provenance: Provenance

    @property
    def carried(self) -> bool:
        """Whether the cables can carry what the rack takes at its most at all."""
        return not isnan(self.at_rack_v)

    @property
    def weakest(self) -> AtBox | None:
        """The box that gives up first, among those that state what they need."""
        return next((box for box in self.boxes if box.needs_v is not None), None)


def sag(rig: Rig, place: Place, load: Load) -> Sag | None:
    """The volts at each box of a place; None where its volts are not stated."""
    if place.volts_v is None:
        return None
    nominal_v = float(place.volts_v)
    tolerance = place.tolerance_percent
    lowest_v, highest_v = mains.supply_band_v(nominal_v, tolerance_percent=float(tolerance))
    cables = tuple(_cables(rig, place))
    loop_ohm = sum(cable.loop_ohm for cable in cables)
    most_va = load.most_va.value
    at_rack_v = mains.load_v(source_v=lowest_v, loop_ohm=loop_ohm, power_w=most_va)
    at_nominal_v = mains.load_v(source_v=nominal_v, loop_ohm=loop_ohm, power_w=most_va)
    ends_v = [
        mains.load_v(source_v=lowest_v, loop_ohm=loop_ohm, power_w=va)
        for va in (load.most_va.high, load.most_va.low)
    ]
    low_v, high_v = (0.0 if isnan(end) else float(end) for end in ends_v)
    behind = {supply.gear: supply for supply in supplies(rig)}
    drops = _strip_drops_v(load, behind, at_rack_v)
    boxes = [
        AtBox(
            box,
            at_rack_v - _lost_v(behind.get(box.gear.id), drops),
            power.volts_min if power else None,
            power.volts_max if power else None,
        )
        for box in load.boxes
        if rig.types[box.gear.type].class_ not in {"power-strip", "conditioner"}
        for power in (rig.types[box.gear.type].power,)
    ]
    boxes.sort(key=lambda b: (b.margin_v if b.margin_v is not None else 1e9, b.box.gear.id))
    return Sag(
        lowest_v,
        highest_v,
        cables,
        at_rack_v,
        (low_v, high_v),
        nominal_v - at_nominal_v,
        tuple(boxes),
        weaker(
            load.most_va.provenance,
            place.volts_v.provenance,
            tolerance.provenance,
            *(cable.provenance for cable in cables),
        ),
    )


def _cables(rig: Rig, place: Place) -> list[Cable]:
    found: list[Cable] = []
    circuit = place.circuit
    if circuit is not None and circuit.feeder_m is not None:
        area = circuit.feeder_mm2 if circuit.feeder_mm2 is not None else USUAL_FEEDER
        found.append(_cable(sentence("the house's cable"), circuit.feeder_m, area, None))
    power = rig.file.power
    if power is not None and power.lead_m is not None:
        body = rig.types[power.lead_type].lead if power.lead_type else None
        area = body.area_mm2 if body and body.area_mm2 is not None else USUAL_FEEDER
        ohms = body.resistance_ohm_per_m if body else None
        found.append(_cable(sentence("the rack's lead"), power.lead_m, area, ohms))
    return found


def _cable(
    name: str, length: Metres, area: SquareMillimetres, ohm_per_m: OhmsPerMetre | None
) -> Cable:
    if ohm_per_m is not None:
        ohm_per_km, provenance = 1000 * ohm_per_m, weakest(length, ohm_per_m)
    else:
        ohm_per_km, provenance = _ohm_per_km(float(area)), weakest(length, area)
    loop = float(conductors.loop_ohm(length_m=float(length), ohm_per_km=ohm_per_km))
    return Cable(name, float(length), float(ohm_per_km), loop, provenance)


def _ohm_per_km(area_mm2: float) -> float:
    """By the table where it knows the area, else from the area itself."""
    if area_mm2 in conductors.areas_mm2():
        return conductors.largest_ohm_per_km(area_mm2)
    return float(conductors.solid_ohm_per_km(area_mm2)) * conductors.LAY_RATIO


def cord_ohm() -> float:
    """The usual cord between two strips, out and back."""
    return float(
        conductors.loop_ohm(length_m=float(CORD_M), ohm_per_km=_ohm_per_km(float(CORD_MM2)))
    )


def _strip_drops_v(load: Load, behind: dict[str, Supply], at_rack_v: float) -> dict[str, float]:
    """Strip -> what the cord from the strip before it takes, with its own load at its most."""
    loop = cord_ohm()
    current_a: dict[str, float] = {}
    for box in load.boxes:
        supply = behind.get(box.gear.id)
        if supply is None or box.most_va is None or supply.ring:
            continue
        for strip in supply.through[1:]:  # the first one hangs on the rack's own lead
            current_a[strip] = current_a.get(strip, 0.0) + box.most_va.value / at_rack_v
    return {strip: loop * amps for strip, amps in current_a.items()}


def _lost_v(supply: Supply | None, drops: dict[str, float]) -> float:
    return sum(drops.get(strip, 0.0) for strip in supply.through) if supply else 0.0
