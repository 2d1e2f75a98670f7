"""Heat in a closed case: what comes out, how much air carries it off, how warm it gets.

Everything a box draws ends as heat in it, but for what leaves by its outputs, which is little in a
monitor rig. Air is taken as dry and well mixed; a real case has corners that are warmer. What a
box may stand is on its own data sheet.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from rigproof.physics._arrays import Floats, power

Skin = Literal["painted-steel", "aluminium"]

BTU_PER_WH: float = 3.412142
STANDARD_AIR_KG_PER_M3: float = 1.2  # what fans are rated in: 20 degrees C at sea level, humid
AIR_HEAT_J_PER_KG_K: float = 1005.0
DRY_AIR_J_PER_KG_K: float = 287.05
SEA_LEVEL_PA: float = 101_325.0
CUBIC_FOOT_M3: float = 0.3048**3

# What one square metre of a sealed box sheds for each kelvin of rise, as enclosure makers print.
_SHED_W_PER_M2_K: Mapping[Skin, float] = MappingProxyType({"painted-steel": 5.5, "aluminium": 6.5})


def w_to_btu_per_h(power_w: Floats) -> Floats:
    """Heat as air conditioning counts it.

    Source: 1 W = 3.412142 BTU/h (International Table).

    >>> round(w_to_btu_per_h(100), 1)
    341.2
    """
    return power_w * BTU_PER_WH


def air_kg_per_m3(*, air_degc: Floats, pressure_pa: float = SEA_LEVEL_PA) -> Floats:
    """Density of dry air.

    p / (R T). Source: ideal gas law, R = 287.05 J/(kg K).

    >>> round(air_kg_per_m3(air_degc=35), 3)
    1.146
    """
    return pressure_pa / (DRY_AIR_J_PER_KG_K * (air_degc + 273.15))


def airflow_m3_per_h(
    *, power_w: Floats, rise_k: Floats, density_kg_per_m3: float = STANDARD_AIR_KG_PER_M3
) -> Floats:
    """Air that carries a power off while it warms by so much.

    P / (rho c dT). Source: heat balance of air (the fan makers' 3160 kW per degree F, in CFM).
    Air through the case, not the figure on the fan: that is without a case around it.

    >>> round(airflow_m3_per_h(power_w=300, rise_k=10), 1)
    89.6
    """
    return 3600 * power_w / (density_kg_per_m3 * AIR_HEAT_J_PER_KG_K * rise_k)


def airflow_rise_k(
    *,
    power_w: Floats,
    airflow_m3_per_h: Floats,
    density_kg_per_m3: float = STANDARD_AIR_KG_PER_M3,
) -> Floats:
    """How much warmer the air is where it leaves.

    P / (rho c Q). Derived: `airflow_m3_per_h`, turned round.

    >>> round(airflow_rise_k(power_w=150, airflow_m3_per_h=60), 1)
    7.5
    """
    return 3600 * power_w / (density_kg_per_m3 * AIR_HEAT_J_PER_KG_K * airflow_m3_per_h)


def m3_per_h_to_cfm(airflow_m3_per_h: Floats) -> Floats:
    """Air per hour in cubic feet per minute.

    Derived: 1 ft = 0.3048 m.

    >>> round(m3_per_h_to_cfm(100), 1)
    58.9
    """
    return airflow_m3_per_h / 60 / CUBIC_FOOT_M3


def thin_air_ratio(altitude_m: Floats) -> Floats:
    """How much more air a fan has to move up there for the same rise.

    rho(0) / rho(z). Source: ISO 2533 standard atmosphere, up to 11 km.

    >>> round(thin_air_ratio(1000), 3)
    1.102
    """
    return power(1 - 2.25577e-5 * altitude_m, -4.25588)


def box_surface_m2(*, width_m: Floats, height_m: Floats, depth_m: Floats) -> Floats:
    """All six faces of a box.

    2 (HW + HD + WD). Derived: geometry. A face against a wall or on a carpet sheds next to
    nothing: leave it out.

    >>> round(box_surface_m2(width_m=0.6, height_m=0.5, depth_m=0.7), 2)
    2.14
    """
    return 2 * (height_m * width_m + height_m * depth_m + width_m * depth_m)


def shed_w_per_m2_k(skin: Skin) -> float:
    """What the skin of a sealed box sheds for each square metre and kelvin.

    Source: enclosure handbooks, Q = U A dT. A plywood case with foam in it sheds far less; no
    figure for one was found.

    >>> shed_w_per_m2_k("painted-steel")
    5.5
    """
    return _SHED_W_PER_M2_K[skin]


def sealed_rise_k(*, power_w: Floats, surface_m2: Floats, shed_w_per_m2_k: Floats) -> Floats:
    """How much warmer than the room a closed box is in the end.

    P / (U A). Source: enclosure handbooks, Q = U A dT. Steady state: a case takes hours to get
    there. Without sun on it, and without air through it.

    >>> round(sealed_rise_k(power_w=120, surface_m2=1.5, shed_w_per_m2_k=5.5), 1)
    14.5
    """
    return power_w / (shed_w_per_m2_k * surface_m2)


def sealed_w(*, rise_k: Floats, surface_m2: Floats, shed_w_per_m2_k: Floats) -> Floats:
    """What a closed box sheds at a rise.

    U A dT. Source: enclosure handbooks.

    >>> round(sealed_w(rise_k=15, surface_m2=1.2, shed_w_per_m2_k=5.5), 1)
    99.0
    """
    return shed_w_per_m2_k * surface_m2 * rise_k
