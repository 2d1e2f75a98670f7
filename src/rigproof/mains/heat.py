"""Heat in the case: what the boxes give off, how warm it gets, how much air carries it away."""

import msgspec

from rigproof.mains.load import Load
from rigproof.physics import heat
from rigproof.rig import Gear, Rig
from rigproof.rig.quantity import Celsius
from rigproof.rig.spread import Likely, weaker

# What a box may stand around it, where its type does not say. Common practice, no source: most
# data sheets print 40 degrees C.
USUAL_WARMEST = Celsius(40, "assumed")
# The rise that a rack's ventilation is usually laid out for. Common practice, no source.
WANTED_RISE_K = 10.0


class Warmth(msgspec.Struct, frozen=True):
    """The case while it plays.

    `closed_rise_k` is a least: no figure for a wooden case was found, so its skin is counted as
    painted steel, which sheds more. `None` where the case does not state its outer size.
    """

    heat_w: Likely
    without_watts: tuple[Gear, ...]
    surface_m2: float | None
    closed_rise_k: Likely | None
    airflow_m3_per_h: float  # wanted, to stay within `WANTED_RISE_K`
    fan_rise_k: float | None  # with the air that the case states
    weakest_gear: Gear | None  # the box that stands the least warmth
    warmest_degc: Celsius

    def air_degc(self, around_degc: float) -> float | None:
        """How warm the closed case gets at least, over the air around it."""
        if self.fan_rise_k is not None:
            return around_degc + self.fan_rise_k
        return None if self.closed_rise_k is None else around_degc + self.closed_rise_k.value


def warmth(rig: Rig, load: Load) -> Warmth | None:
    """The heat of what stands in the case; None without a case or without boxes in it."""
    case = rig.file.case
    inside = tuple(box for box in load.boxes if box.gear.placed == "case")
    if case is None or not inside:
        return None
    low = value = high = 0.0
    provenances = []
    for box in inside:
        if box.usual_w is not None:
            low, value, high = (
                low + box.usual_w.low,
                value + box.usual_w.value,
                high + box.usual_w.high,
            )
            provenances.append(box.usual_w.provenance)
    given = Likely(low, value, high, weaker(*provenances))
    surface = _surface_m2(rig)
    rise = None
    if surface is not None:
        shed = heat.shed_w_per_m2_k("painted-steel") * surface
        rise = given.times(1 / shed)
    fan = case.airflow_m3_per_h
    stated = [
        (warmest, box.gear)
        for box in inside
        if (warmest := rig.types[box.gear.type].warmest_degc) is not None
    ]
    least = min(stated, key=lambda pair: (float(pair[0]), pair[1].id), default=None)
    return Warmth(
        given,
        tuple(box.gear for box in inside if box.usual_w is None),
        surface,
        rise,
        float(heat.airflow_m3_per_h(power_w=value, rise_k=WANTED_RISE_K)),
        float(heat.airflow_rise_k(power_w=value, airflow_m3_per_h=float(fan))) if fan else None,
        least[1] if least else None,
        least[0] if least else USUAL_WARMEST,
    )


def _surface_m2(rig: Rig) -> float | None:
    """What of the case is in the air: all but the floor it stands on."""
    case = rig.file.case
    size = rig.types[case.type].case if case else None
    if size is None or size.width_mm is None or size.height_mm is None or size.depth_mm is None:
        return None
    width_m, height_m, depth_m = size.width_mm / 1e3, size.height_mm / 1e3, size.depth_mm / 1e3
    whole = heat.box_surface_m2(width_m=width_m, height_m=height_m, depth_m=depth_m)
    return float(whole) - width_m * depth_m
