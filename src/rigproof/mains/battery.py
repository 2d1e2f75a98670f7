"""How long the rack's UPS bridges, and what hangs on it."""

import msgspec

from rigproof.mains.load import StripLoad
from rigproof.physics import supply
from rigproof.rig import Gear, Rig
from rigproof.rig.quantity import Quantity, WattHours
from rigproof.rig.spread import Likely, spread_ratio, weaker

# Inverter and converter losses of a small UPS. Common practice, no source.
EFFICIENCY = Quantity(0.85, "assumed")
RATED_H = 20.0  # what the watt-hours of a lead battery are stated for
HARD_RATIO = 1.3  # Peukert's exponent of an unwilling battery


class Bridge(msgspec.Struct, frozen=True):
    """How long a UPS feeds what hangs on it. The low end takes Peukert's law for lead batteries.

    None minutes: the battery, or the load, is not stated.
    """

    gear: Gear
    load: StripLoad
    minutes: Likely | None
    battery_wh: WattHours | None


def bridges(rig: Rig, strips: tuple[StripLoad, ...]) -> tuple[Bridge, ...]:
    """Every UPS of the rig with what hangs behind it."""
    found: list[Bridge] = []
    for strip in strips:
        type_ = rig.types[strip.gear.type]
        if type_.class_ != "ups":
            continue
        battery = type_.power.battery_wh if type_.power else None
        usual = strip.load.usual_w
        minutes = None
        if battery is not None and usual.value > 0 and not strip.load.without_watts:
            minutes = _minutes(battery, usual)
        found.append(Bridge(strip.gear, strip, minutes, battery))
    return tuple(found)


def _minutes(battery: WattHours, load: Likely) -> Likely:
    low_ratio, high_ratio = spread_ratio(battery.provenance)
    # Watt-hours and watts behave in Peukert's law as ampere-hours and amperes at steady volts.
    hard_h = supply.peukert_h(
        capacity_ah=battery * low_ratio * EFFICIENCY,
        rated_h=RATED_H,
        current_a=load.high,
        peukert_ratio=HARD_RATIO,
    )
    usual_h = supply.battery_h(
        capacity_ah=float(battery), battery_v=1.0, efficiency_ratio=EFFICIENCY, load_w=load.value
    )
    easy_h = supply.battery_h(
        capacity_ah=battery * high_ratio,
        battery_v=1.0,
        efficiency_ratio=EFFICIENCY,
        load_w=load.low,
    )
    return Likely(
        60 * float(min(hard_h, usual_h)),
        60 * float(usual_h),
        60 * float(easy_h),
        weaker(battery.provenance, load.provenance, EFFICIENCY.provenance),
    )
