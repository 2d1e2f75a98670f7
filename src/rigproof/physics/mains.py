"""Currents, circuits and the voltage that is left at the end of a cable.

For planning a plug-in rig. Not covered: earthing, protective bonding, fault currents, the
disconnection time of a breaker, grouping and coiling of cables, harmonics in a neutral. Those, and
anything fixed to a building or a generator, are for local codes and licensed electricians.
"""

import math
from collections.abc import Iterable, Sequence

from rigproof.physics._arrays import Floats, least, not_below_0, power

CONTINUOUS_RATIO: float = 1.25  # NEC 210.19, 210.20: three hours or more
CONTINUOUS_SHARE_RATIO: float = 0.8  # the same, seen from the breaker
WARM_OHM_MM2_PER_M: float = 0.0225  # IEC 60364-5-52 annex G: copper at working temperature
SOCKET_DROP_PERCENT: float = 5.0  # BS 7671 appendix 4, IEC 60364-5-52 annex G: not lighting
BRANCH_DROP_PERCENT: float = 3.0  # NEC 210.19(A), informational note
SUPPLY_TOLERANCE_PERCENT: float = 10.0  # EN 50160, IEC 60038


def current_a(*, power_w: Floats, voltage_v: Floats, power_factor_ratio: float = 1.0) -> Floats:
    """Current of a load.

    P / (V pf). Source: definition of power factor. Switch-mode supplies without correction have
    a power factor of about 0.6.

    >>> round(current_a(power_w=300, voltage_v=120, power_factor_ratio=0.6), 3)
    4.167
    """
    return power_w / (voltage_v * power_factor_ratio)


def power_w(*, voltage_v: Floats, current_a: Floats, power_factor_ratio: float = 1.0) -> Floats:
    """Power of a load, or the most that an outlet gives.

    V I pf. Source: definition of power factor.

    >>> power_w(voltage_v=230, current_a=16)
    3680.0
    """
    return voltage_v * current_a * power_factor_ratio


def power_factor_ratio(*, power_w: Floats, apparent_va: Floats) -> Floats:
    """Power factor from watts and volt-amperes.

    P / S. Source: definition of power factor.

    >>> power_factor_ratio(power_w=8000, apparent_va=10000)
    0.8
    """
    return power_w / apparent_va


def apparent_va(*, power_w: Floats, power_factor_ratio: Floats) -> Floats:
    """What cables, generators and UPSs have to carry for a load.

    P / pf. Source: definition of power factor.

    >>> apparent_va(power_w=120, power_factor_ratio=0.5)
    240.0
    """
    return power_w / power_factor_ratio


def circuit_a(
    *, continuous_a: Floats, other_a: Floats, continuous_ratio: float = CONTINUOUS_RATIO
) -> Floats:
    """The rating that a circuit needs for loads of three hours or more beside shorter ones.

    I_other + 1.25 I_continuous. Source: NEC 210.19(A)(1), 210.20(A). North American rule; where
    it does not hold, the ratio is 1.

    >>> circuit_a(continuous_a=10, other_a=6)
    18.5
    """
    return other_a + continuous_ratio * continuous_a


def continuous_w(
    *, voltage_v: Floats, breaker_a: Floats, share_ratio: float = CONTINUOUS_SHARE_RATIO
) -> Floats:
    """What a circuit may carry for three hours or more.

    0.8 V I. Source: NEC 80 % rule.

    >>> continuous_w(voltage_v=120, breaker_a=15)
    1440.0
    """
    return voltage_v * breaker_a * share_ratio


def supply_band_v(
    nominal_v: Floats, *, tolerance_percent: float = SUPPLY_TOLERANCE_PERCENT
) -> tuple[Floats, Floats]:
    """The lowest and highest voltage that a mains of this name may have at the house's meter.

    Source: IEC 60038, EN 50160 (230 V plus and minus 10 %). What a long cable or a weak generator
    takes off comes on top.

    >>> supply_band_v(230)
    (207.0, 253.0)
    """
    away_v = nominal_v * tolerance_percent / 100
    return nominal_v - away_v, nominal_v + away_v


def drop_v(*, current_a: Floats, length_m: Floats, ohm_per_km: Floats) -> Floats:
    """Voltage lost in a two-core cable out and back.

    2 I L r. Source: Ohm's law; NEC practice 2 K I L / CM. Resistance only; thin and short cables
    have no reactance worth counting. The current is taken as given: see `load_v` for supplies
    that draw more when they get less.

    >>> drop_v(current_a=10, length_m=50, ohm_per_km=7.98)
    7.98
    """
    return 2 * current_a * length_m * ohm_per_km / 1000


def drop_percent(*, drop_v: Floats, supply_v: Floats) -> Floats:
    """A drop as a share of the supply.

    Derived: ratio.

    >>> round(drop_percent(drop_v=7.98, supply_v=230), 2)
    3.47
    """
    return 100 * drop_v / supply_v


def allowed_drop_v(supply_v: Floats, *, allowed_percent: float = SOCKET_DROP_PERCENT) -> Floats:
    """The drop that a share of the supply is.

    Source: BS 7671 appendix 4 and IEC 60364-5-52 annex G (5 %); NEC 210.19(A) note (3 %). They
    count from the building's origin, not from the outlet; the house's own wiring has its part.

    >>> allowed_drop_v(230)
    11.5
    """
    return supply_v * allowed_percent / 100


def long_run_percent(length_m: Floats, *, base_percent: float = SOCKET_DROP_PERCENT) -> Floats:
    """The drop allowed on a run that is longer than 100 m.

    0.005 % more for each metre beyond 100 m, 0.5 % at most. Source: BS 7671 appendix 4.

    >>> long_run_percent(150), long_run_percent(250)
    (5.25, 5.5)
    """
    beyond_m = not_below_0(length_m - 100.0)
    return base_percent + least(0.005 * beyond_m, 0.5 + 0 * beyond_m)


def drop_mv_per_a_m(
    area_mm2: Floats, *, resistivity_ohm_mm2_per_m: float = WARM_OHM_MM2_PER_M
) -> Floats:
    """Drop of a warm two-core copper cable for each ampere and metre.

    2 rho / A. Source: IEC 60364-5-52 annex G; the same figures as BS 7671 table 4D2B.

    >>> round(drop_mv_per_a_m(2.5), 2)
    18.0
    """
    return 2 * resistivity_ohm_mm2_per_m / area_mm2 * 1000


def three_phase_drop_v(
    *,
    current_a: Floats,
    length_m: Floats,
    ohm_per_km: Floats,
    reactance_ohm_per_km: Floats,
    power_factor_ratio: Floats,
) -> Floats:
    """Drop between two phases of a cable with three of them, loaded alike.

    sqrt(3) I L (R cos + X sin). Source: IEC 60364-5-52 annex G. Assumes balanced phases and a
    lagging load without harmonics; a real stage load is neither, and then the neutral carries
    current too.

    >>> round(three_phase_drop_v(current_a=100, length_m=150, ohm_per_km=0.671,
    ...     reactance_ohm_per_km=0.085, power_factor_ratio=0.85), 2)
    15.98
    """
    lagging_ratio = power(1 - power_factor_ratio * power_factor_ratio, 0.5)
    along_ohm = ohm_per_km * power_factor_ratio + reactance_ohm_per_km * lagging_ratio
    return math.sqrt(3) * current_a * length_m / 1000 * along_ohm


def load_v(*, source_v: float, loop_ohm: float, power_w: float) -> float:
    """Voltage at a load that takes the same power whatever it gets, as switch-mode supplies do.

    (V + sqrt(V^2 - 4 P R)) / 2. Derived: V_load = V - R P / V_load, the higher of the two
    solutions. Assumes a power factor of 1. Not a number when the cable cannot carry that power at
    all: such supplies then fall out one after the other.

    >>> round(load_v(source_v=230, loop_ohm=2, power_w=2000), 1)
    211.0
    """
    under_root = source_v * source_v - 4 * power_w * loop_ohm
    return (source_v + math.sqrt(under_root)) / 2 if under_root >= 0 else math.nan


def chain_v(
    *, source_v: float, loops_ohm: Sequence[float], currents_a: Sequence[float]
) -> tuple[float, ...]:
    """Voltage at each box or strip of a chain, one plugged into the end of the one before.

    Each loop carries the currents of everything behind it. Derived: Kirchhoff's laws, with each
    current taken as given and all of them in phase.

    >>> chain_v(source_v=230, loops_ohm=[0.5, 1.0], currents_a=[4, 2])
    (227.0, 225.0)
    """
    behind_a = sum(currents_a)
    found: list[float] = []
    at_v = source_v
    for loop_ohm, taken_a in zip(loops_ohm, currents_a, strict=True):
        at_v -= loop_ohm * behind_a
        found.append(at_v)
        behind_a -= taken_a
    return tuple(found)


def weakest_w(*, voltage_v: float, ratings_a: Iterable[float]) -> float:
    """What may pass where several ratings lie in a row: circuit, plug, inlet, cord.

    V times the least of them. Source: IEC 60320-1, the coupler's rating governs. Assumes a power
    factor of 1.

    >>> weakest_w(voltage_v=230, ratings_a=[16, 10])
    2300
    """
    return voltage_v * min(ratings_a)
