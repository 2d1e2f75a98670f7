"""The 48 V supply of microphones: what arrives there, from one feeder or from several.

Each feeder is its voltage behind two equal resistors, one to either signal conductor; the current
comes back by the shield. Seen from a microphone that draws alike from both conductors the two
resistors are in parallel. Direct current only.
"""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Literal

import msgspec

from rigproof.physics._arrays import Floats, added

SupplyKind = Literal["P12", "P24", "P48"]


class Supply(msgspec.Struct, frozen=True, kw_only=True):
    """One of the standard's supplies: its voltage and tolerance, its resistor on each leg."""

    voltage_v: float
    tolerance_v: float
    leg_ohm: float
    limit_ma: float  # the most that a microphone may draw


_SUPPLIES: Mapping[SupplyKind, Supply] = MappingProxyType(
    {
        "P12": Supply(voltage_v=12, tolerance_v=1, leg_ohm=680, limit_ma=15),
        "P24": Supply(voltage_v=24, tolerance_v=4, leg_ohm=1200, limit_ma=10),
        "P48": Supply(voltage_v=48, tolerance_v=4, leg_ohm=6800, limit_ma=10),
    }
)
LEG_MATCH_PERCENT: float = 0.4  # IEC 61938: the two resistors against each other
P48_V: float = _SUPPLIES["P48"].voltage_v
P48_LEG_OHM: float = 6810.0  # the stocked 1 % value; the standard prints 6.8 kohm


def supply(kind: SupplyKind) -> Supply:
    """The figures of one kind of supply.

    Source: IEC 61938, phantom supply.

    >>> supply("P48").voltage_v
    48
    """
    return _SUPPLIES[kind]


def feed_ohm(leg_ohm: Floats) -> Floats:
    """The resistance between a supply and a microphone that draws from both conductors alike.

    Derived: two equal resistors in parallel.

    >>> feed_ohm(6810)
    3405.0
    """
    return leg_ohm / 2


def microphone_v(
    *,
    current_ma: Floats,
    supply_v: Floats,
    leg_ohm: Floats,
) -> Floats:
    """What is left at a microphone that draws this current from one feeder.

    U - I R/2. Source: IEC 61938, feed through two equal resistors. Assumes that the microphone
    draws the same current at any voltage; below 0, the feeder cannot give that current.

    >>> round(microphone_v(current_ma=2, supply_v=48, leg_ohm=6810), 2)
    41.19
    """
    return supply_v - current_ma / 1000 * feed_ohm(leg_ohm)


def shared_microphone_v(
    *, current_ma: Floats, supply_v: Sequence[Floats], leg_ohm: Sequence[Floats]
) -> Floats:
    """What is left at a microphone that several feeders hang on.

    (sum(Uk/Rk) - I) / sum(1/Rk), Rk = half of each feeder's leg resistor.
    Derived: Kirchhoff's current law. A desk whose 48 V is off feeds 0 V where its resistors stay
    tied to its ground, and is no feeder at all where they hang loose.

    >>> round(shared_microphone_v(current_ma=4, supply_v=[48, 48], leg_ohm=[6810, 6810]), 2)
    41.19
    """
    pushed_a = added([v / feed_ohm(ohm) for v, ohm in zip(supply_v, leg_ohm, strict=True)])
    return (pushed_a - current_ma / 1000) / added([1 / feed_ohm(ohm) for ohm in leg_ohm])


def feeder_ma(*, supply_v: Floats, leg_ohm: Floats, microphone_v: Floats) -> Floats:
    """What one feeder gives while the line stands at this voltage; below 0 it is being fed.

    (U - Umic) / (R/2). Derived: Ohm's law.

    >>> round(feeder_ma(supply_v=48, leg_ohm=6810, microphone_v=46), 3)
    0.587
    """
    return 1000 * (supply_v - microphone_v) / feed_ohm(leg_ohm)


def short_circuit_ma(*, supply_v: Floats, leg_ohm: Floats) -> Floats:
    """Current of one feeder with both conductors on the shield. Several feeders: add them.

    U / (R/2). Source: IEC 61938, feed through two equal resistors.

    >>> round(short_circuit_ma(supply_v=48, leg_ohm=6810), 1)
    14.1
    """
    return 1000 * supply_v / feed_ohm(leg_ohm)


def unbalanced_ma(*, supply_v: Floats, leg_ohm: Floats, output_ohm: Floats) -> Floats:
    """Current that 48 V drives into an unbalanced output through its hot conductor.

    U / (R + Rout). Derived: Ohm's law; the other conductor is on the shield and its leg is a
    short circuit of its own. Whether the output stands it, its maker alone can say.

    >>> round(unbalanced_ma(supply_v=48, leg_ohm=6810, output_ohm=100), 2)
    6.95
    """
    return 1000 * supply_v / (leg_ohm + output_ohm)


def highest_power_mw(*, supply_v: Floats, leg_ohm: Floats) -> Floats:
    """The most power a microphone can take out of one feeder, at half its voltage.

    U^2 / (4 R/2). Derived: matched load.

    >>> round(highest_power_mw(supply_v=48, leg_ohm=6810), 1)
    169.2
    """
    return 1000 * supply_v * supply_v / (4 * feed_ohm(leg_ohm))
