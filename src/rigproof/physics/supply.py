"""How long a battery lasts, and how much of a generator is left high up or in the heat.

Estimates for planning: an aged or cold battery lasts shorter, and what a data sheet says of a set
or a UPS comes before any rule of thumb. Fuel, exhaust gas and earthing of generators are not
covered; they are for the maker's manual, local codes and competent people.
"""

from rigproof.physics._arrays import Floats, not_below_0, power

DERATING_RATIO: float = 0.03  # generator manuals, per step
ALTITUDE_STEP_M: float = 500.0
ALTITUDE_FROM_M: float = 1000.0
TEMPERATURE_STEP_K: float = 5.0
TEMPERATURE_FROM_DEGC: float = 40.0


def battery_h(
    *, capacity_ah: Floats, battery_v: Floats, efficiency_ratio: Floats, load_w: Floats
) -> Floats:
    """How long a battery feeds a load through its inverter.

    C V eff / P. Source: energy balance, as in IEC 62040. Assumes that all of the capacity can be
    had: lead batteries give it only slowly (`peukert_h`) and should keep some.

    >>> battery_h(capacity_ah=100, battery_v=12, efficiency_ratio=0.9, load_w=500)
    2.16
    """
    return capacity_ah * battery_v * efficiency_ratio / load_w


def peukert_h(
    *, capacity_ah: Floats, rated_h: float, current_a: Floats, peukert_ratio: float = 1.2
) -> Floats:
    """How long a battery gives a current, when more current takes some of its capacity.

    H (C / (I H))^k. Source: Peukert's law; k is 1.1 to 1.3 for lead batteries, near 1 for others.

    >>> round(peukert_h(capacity_ah=100, rated_h=20, current_a=10), 3)
    8.706
    """
    return rated_h * power(capacity_ah / (current_a * rated_h), peukert_ratio)


def altitude_ratio(
    altitude_m: Floats,
    *,
    per_step_ratio: float = DERATING_RATIO,
    step_m: float = ALTITUDE_STEP_M,
    from_m: float = ALTITUDE_FROM_M,
) -> Floats:
    """What is left of a generator at an altitude.

    Source: generator operator manual, 3 % for every 500 m above 1000 m. Manuals differ, so the
    steps can be given; between them the loss is taken in proportion.

    >>> altitude_ratio(1500)
    0.97
    """
    return 1 - per_step_ratio * not_below_0(altitude_m - from_m) / step_m


def temperature_ratio(
    ambient_degc: Floats,
    *,
    per_step_ratio: float = DERATING_RATIO,
    step_k: float = TEMPERATURE_STEP_K,
    from_degc: float = TEMPERATURE_FROM_DEGC,
) -> Floats:
    """What is left of a generator in warm air.

    Source: generator operator manual, 3 % for every 5 degrees above 40 degrees C.

    >>> temperature_ratio(55)
    0.91
    """
    return 1 - per_step_ratio * not_below_0(ambient_degc - from_degc) / step_k


def generator_w(*, rated_w: Floats, altitude_m: Floats, ambient_degc: Floats) -> Floats:
    """What a generator gives at an altitude and in warm air: both losses multiply.

    Source: alternator sizing note, derating factors are cumulative. Assumes the default steps.

    >>> round(generator_w(rated_w=3300, altitude_m=2000, ambient_degc=45), 1)
    3008.9
    """
    return rated_w * altitude_ratio(altitude_m) * temperature_ratio(ambient_degc)
