"""Amperes that are printed on plugs, couplers, cords, fuses and breakers, and when they give out.

A rating is what a part in good order is tested for, not a promise about a worn one. Which parts
may be used where, and by whom changed, is a matter of local codes and licensed electricians.
"""

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from rigproof.physics._arrays import Floats

Coupler = Literal["C5", "C7", "C9", "C13", "C15", "C17", "C19"]
Region = Literal["iec", "north-american"]
Plug = Literal["cee-7-7", "cee-7-16", "bs-1363", "nema-5-15", "nema-5-20"]
Curve = Literal["B", "C", "D"]

# IEC 60320-1; each goes with the inlet of the next even number.
_COUPLER_A: Mapping[Coupler, float] = MappingProxyType(
    {"C5": 2.5, "C7": 2.5, "C9": 6, "C13": 10, "C15": 10, "C17": 10, "C19": 16}
)
# UL and CSA practice, at 125 V. The others are not listed here and stay at IEC's figure.
_NORTH_AMERICAN_A: Mapping[str, float] = MappingProxyType({"C13": 15, "C15": 15, "C19": 20})
# CEE 7, BS 1363, NEMA WD 6.
_PLUG_A: Mapping[Plug, float] = MappingProxyType(
    {"cee-7-7": 16, "cee-7-16": 2.5, "bs-1363": 13, "nema-5-15": 15, "nema-5-20": 20}
)
# IET Code of Practice, table VII.1: cords of portable equipment, by area in mm2.
_CORD_A: Mapping[float, float] = MappingProxyType({0.5: 3, 0.75: 6, 1: 10, 1.25: 13, 1.5: 15})
# IEC 60898-1: within this many times its rating a breaker may trip at once, or not yet.
_TRIP_RATIO: Mapping[Curve, tuple[float, float]] = MappingProxyType(
    {"B": (3, 5), "C": (5, 10), "D": (10, 20)}
)

SMALL_FUSE_A: float = 3.0  # BS 1362
LARGE_FUSE_A: float = 13.0
SMALL_FUSE_W: float = 700.0
# BS 7671 531.3: earth leakage of working equipment against the rating of a residual-current
# device. It must not trip below half of its rating and must above (IEC 61008). From memory.
LEAKAGE_SHARE_RATIO: float = 0.3
NO_TRIP_RATIO: float = 0.5


def coupler_a(coupler: Coupler, *, region: Region = "iec") -> float:
    """Rating of an appliance coupler, called by its connector (its inlet has the same).

    Source: IEC 60320-1; UL 60320-1 and UL 498 practice for the larger ones in North America.

    >>> coupler_a("C13"), coupler_a("C13", region="north-american")
    (10, 15)
    """
    rated_a = _COUPLER_A[coupler]
    return _NORTH_AMERICAN_A.get(coupler, rated_a) if region == "north-american" else rated_a


def plug_a(plug: Plug) -> float:
    """Rating of a mains plug.

    Source: CEE 7, BS 1363, NEMA WD 6. The outlet's circuit may have less.

    >>> plug_a("nema-5-15")
    15
    """
    return _PLUG_A[plug]


def cord_a(area_mm2: float) -> float:
    """Rating of a flexible cord of portable equipment, laid out straight in free air.

    Source: IET Code of Practice, table VII.1. A cord on a reel, in a bundle or in the sun carries
    less; what is printed on it comes first. Only for areas of the table.

    >>> cord_a(1.5)
    15
    """
    return _CORD_A[area_mm2]


def plug_fuse_a(power_w: float) -> float:
    """The fuse of a British plug for a load.

    3 A up to 700 W, else 13 A. Source: BS 1362, 700 W rule. The cord's own rating comes first.

    >>> plug_fuse_a(700), plug_fuse_a(1200)
    (3.0, 13.0)
    """
    return SMALL_FUSE_A if power_w <= SMALL_FUSE_W else LARGE_FUSE_A


def instant_trip_a(*, curve: Curve, rated_a: float) -> tuple[float, float]:
    """From where on a breaker may trip at once, and from where on it surely does.

    Source: IEC 60898-1 (B 3-5, C 5-10, D 10-20 times the rating), for currents that last at least
    a tenth of a second at mains frequency. A peak of a few milliseconds may pass above it; an
    overload below it trips in seconds to hours.

    >>> instant_trip_a(curve="B", rated_a=16)
    (48, 80)
    """
    low_ratio, high_ratio = _TRIP_RATIO[curve]
    return low_ratio * rated_a, high_ratio * rated_a


def inrush_peak_a(*, voltage_v: Floats, series_ohm: Floats) -> Floats:
    """The most that can flow when a supply is switched on at the crest of the mains.

    V sqrt(2) / R. Derived: empty capacitors behind a resistance (the cold limiter, the cable, the
    mains behind the outlet).

    >>> round(inrush_peak_a(voltage_v=120, series_ohm=10), 2)
    16.97
    """
    return voltage_v * math.sqrt(2) / series_ohm


def leakage_budget_ma(
    residual_rating_ma: Floats, *, share_ratio: float = LEAKAGE_SHARE_RATIO
) -> Floats:
    """The earth leakage of working equipment that should hang on one residual-current device.

    Source: BS 7671 531.3 (30 % of the rating), from memory. Leakages of boxes alike add nearly in
    full. The device itself may trip from half of its rating on.

    >>> leakage_budget_ma(30)
    9.0
    """
    return residual_rating_ma * share_ratio
