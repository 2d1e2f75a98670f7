"""Power over twisted pair: what a port gives, what arrives, how many devices a switch feeds."""

from fractions import Fraction
from math import floor

from rigproof.physics._arrays import Floats

# IEEE 802.3af, at, bt: at the port, and guaranteed at the device after 100 m.
_CLASS_W: tuple[tuple[float, float], ...] = (
    (15.4, 12.95),
    (4.0, 3.84),
    (7.0, 6.49),
    (15.4, 12.95),
    (30.0, 25.5),
    (45.0, 40.0),
    (60.0, 51.0),
    (75.0, 62.0),
    (90.0, 71.3),
)


def port_w(power_class: int) -> float:
    """What a switch sets aside at its port for a device of a class from 0 to 8.

    Source: IEEE 802.3af, at, bt.

    >>> port_w(4)
    30.0
    """
    return _CLASS_W[power_class][0]


def device_w(power_class: int) -> float:
    """What a device of a class can count on after the longest cable.

    Source: IEEE 802.3af, at, bt.

    >>> device_w(4)
    25.5
    """
    return _CLASS_W[power_class][1]


def cable_loss_w(*, current_a: Floats, loop_ohm: Floats) -> Floats:
    """What a cable turns into heat.

    I^2 R. Source: IEEE 802.3af: 0.35 A in 20 ohm at most.

    >>> round(cable_loss_w(current_a=0.35, loop_ohm=20), 2)
    2.45
    """
    return current_a * current_a * loop_ohm


def devices_count(*, budget_w: float, each_w: float) -> int:
    """How many devices alike a switch can feed, when it sets power aside by class.

    Derived: whole devices only.

    >>> devices_count(budget_w=250, each_w=15.4)
    16
    """
    # Exact fractions: a device that fits to the milliwatt must not be lost to rounding.
    return floor(Fraction(str(budget_w)) / Fraction(str(each_w)))
