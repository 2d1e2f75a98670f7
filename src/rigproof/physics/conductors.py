"""The resistance of a length of copper: by area, by wire gauge, cold and warm.

Direct current, which is near enough for mains on cables of up to some 50 mm2. The tables give the
most that a conductor of the class may have; a real one has a little less.
"""

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from rigproof.physics._arrays import Floats, exp10, power

Build = Literal["stranded", "flexible"]  # IEC 60228 class 2; class 5
Metal = Literal["plain", "tinned"]

FOOT_M: float = 0.3048
COPPER_OHM_MM2_PER_M: float = 0.017241  # IACS annealed copper at 20 degrees C
COPPER_OHM_CMIL_PER_FT: float = 12.9  # NEC practice: warm stranded copper
COPPER_PER_K: float = 0.00393  # of the resistance at 20 degrees C
WARM_COPPER_PER_K: float = 0.00323  # of the resistance at 75 degrees C (NEC chapter 9, table 8)
LAY_RATIO: float = 1.02  # strands lie aslant, so each is longer than its conductor
GAUGE_STEP_RATIO: float = 92 ** (1 / 39)  # ASTM B258

# IEC 60228 tables 2 and 3, most ohms per km at 20 degrees C, by area in mm2. The sizes below
# 0.5 mm2 are those of DIN VDE 0295.
_OHM_PER_KM: Mapping[tuple[Build, Metal], Mapping[float, float]] = MappingProxyType(
    {
        ("stranded", "plain"): {
            0.5: 36.0, 0.75: 24.5, 1: 18.1, 1.5: 12.1, 2.5: 7.41, 4: 4.61, 6: 3.08, 10: 1.83,
            16: 1.15, 25: 0.727, 35: 0.524, 50: 0.387,
        },
        ("stranded", "tinned"): {
            0.5: 36.7, 0.75: 24.8, 1: 18.2, 1.5: 12.2, 2.5: 7.56, 4: 4.70, 6: 3.11, 10: 1.84,
            16: 1.16, 25: 0.734, 35: 0.529, 50: 0.391,
        },
        ("flexible", "plain"): {
            0.14: 134, 0.22: 96, 0.25: 76, 0.34: 53,
            0.5: 39.0, 0.75: 26.0, 1: 19.5, 1.5: 13.3, 2.5: 7.98, 4: 4.95, 6: 3.30, 10: 1.91,
            16: 1.21, 25: 0.780, 35: 0.554, 50: 0.386,
        },
        ("flexible", "tinned"): {
            0.14: 138, 0.22: 99, 0.25: 79, 0.34: 56,
            0.5: 40.1, 0.75: 26.7, 1: 20.0, 1.5: 13.7, 2.5: 8.21, 4: 5.09, 6: 3.39, 10: 1.95,
            16: 1.24, 25: 0.795, 35: 0.565, 50: 0.393,
        },
    }
)  # fmt: skip


def areas_mm2(*, build: Build = "flexible", metal: Metal = "plain") -> tuple[float, ...]:
    """The areas that the table of a class knows.

    Source: IEC 60228, and DIN VDE 0295 below 0.5 mm2.

    >>> areas_mm2()[4:9]
    (0.5, 0.75, 1, 1.5, 2.5)
    """
    return tuple(_OHM_PER_KM[build, metal])


def largest_ohm_per_km(
    area_mm2: float, *, build: Build = "flexible", metal: Metal = "plain"
) -> float:
    """The most that a conductor may have at 20 degrees C; extension leads are flexible, plain.

    Source: IEC 60228 tables 2 and 3. Only for areas of the table.

    >>> largest_ohm_per_km(2.5), largest_ohm_per_km(2.5, build="stranded")
    (7.98, 7.41)
    """
    return _OHM_PER_KM[build, metal][area_mm2]


def solid_ohm_per_km(
    area_mm2: Floats, *, resistivity_ohm_mm2_per_m: float = COPPER_OHM_MM2_PER_M
) -> Floats:
    """Resistance of a solid conductor from its area, at the temperature of the resistivity.

    1000 rho / A. Derived: definition of resistivity. Strands need `LAY_RATIO` more.

    >>> round(solid_ohm_per_km(awg_area_mm2(14)), 2)
    8.29
    """
    return 1000 * resistivity_ohm_mm2_per_m / area_mm2


def cmil_ohm_per_km(
    area_cmil: Floats, *, resistivity_ohm_cmil_per_ft: float = COPPER_OHM_CMIL_PER_FT
) -> Floats:
    """Resistance from an area in circular mils and the constant K that goes with it.

    K / CM ohm per foot. Source: NEC circular-mil method, K = 12.9 for copper.

    >>> round(cmil_ohm_per_km(6530), 2)
    6.48
    """
    return 1000 * resistivity_ohm_cmil_per_ft / area_cmil / FOOT_M


def per_km_to_per_kft(ohm_per_km: Floats) -> Floats:
    """Ohms per kilometre as ohms per 1000 feet.

    Derived: 1 ft = 0.3048 m.

    >>> round(per_km_to_per_kft(8.282), 3)
    2.524
    """
    return ohm_per_km * FOOT_M


def per_kft_to_per_km(ohm_per_kft: Floats) -> Floats:
    """Ohms per 1000 feet as ohms per kilometre.

    Derived: 1 ft = 0.3048 m.

    >>> round(per_kft_to_per_km(6.385), 2)
    20.95
    """
    return ohm_per_kft / FOOT_M


def to_20_degc_ratio(temperature_degc: Floats) -> Floats:
    """What a reading at another temperature is multiplied by to be one at 20 degrees C.

    1 / (1 + 0.004 (t - 20)). Source: IEC 60228, temperature correction factors.

    >>> round(to_20_degc_ratio(50), 3)
    0.893
    """
    return 1 / (1 + 0.004 * (temperature_degc - 20))


def warmed_ohm(
    resistance_ohm: Floats,
    *,
    from_degc: Floats,
    to_degc: Floats,
    coefficient_per_k: float = COPPER_PER_K,
) -> Floats:
    """A copper resistance at another temperature; a loaded cable on a reel is a warm one.

    R (1 + a (t - t0)). Source: NEC chapter 9, table 8, note. The coefficient belongs to the
    temperature one comes from: 0.00393 at 20, 0.00323 at 75 degrees C.

    >>> round(warmed_ohm(7.98, from_degc=20, to_degc=70), 2)
    9.55
    """
    return resistance_ohm * (1 + coefficient_per_k * (to_degc - from_degc))


def loop_ohm(*, length_m: Floats, ohm_per_km: Floats) -> Floats:
    """Resistance of a two-core cable out and back, of conductors alike.

    2 L r. Derived: two conductors in series.

    >>> loop_ohm(length_m=50, ohm_per_km=7.98)
    0.798
    """
    return 2 * length_m * ohm_per_km / 1000


def awg_number(gauge: str) -> int:
    """The number of a gauge that a cable prints: 4/0 and its like go below 0.

    Source: ASTM B258 (n = 1 - m for a gauge of m noughts).

    >>> awg_number("14"), awg_number("4/0")
    (14, -3)
    """
    noughts, slash, _ = gauge.partition("/")
    return 1 - int(noughts) if slash else int(noughts)


def awg_diameter_mm(gauge_awg: Floats) -> Floats:
    """Diameter of the solid wire of a gauge.

    0.127 mm * 92^((36 - n)/39). Source: ASTM B258.

    >>> round(awg_diameter_mm(18), 3)
    1.024
    """
    return 0.127 * exp10((36 - gauge_awg) / 39 * math.log10(92))


def awg_area_mm2(gauge_awg: Floats) -> Floats:
    """Area of the solid wire of a gauge; strands of that gauge have about as much.

    pi d^2 / 4. Source: ASTM B258.

    >>> round(awg_area_mm2(14), 2)
    2.08
    """
    return awg_area_cmil(gauge_awg) * 25.4e-3**2 * math.pi / 4


def awg_area_cmil(gauge_awg: Floats) -> Floats:
    """Area of the solid wire of a gauge as the square of its diameter in mils.

    Source: ASTM B258; NEC chapter 9, table 8.

    >>> round(awg_area_cmil(10), -1)
    10380.0
    """
    return power(awg_diameter_mm(gauge_awg) / 25.4e-3, 2)
