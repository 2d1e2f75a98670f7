"""How long a lead has to be, which one to take off the shelf, and how tightly it may bend.

Positions say where the two ends are; leads go along walls and edges, up and down, and want some
left over.
"""

from collections.abc import Iterable

from rigproof.physics._arrays import Floats

SPARE_PERCENT: float = 10.0  # common practice, no source

# ANSI/TIA-568.0-D and 568.2-D: bend radius of twisted-pair cable in outside diameters.
BEND_RATIO: float = 4.0
OLD_CORD_BEND_RATIO: float = 1.0  # ANSI/TIA-568-C.0, patch cords, superseded
PULLED_BEND_RATIO: float = 8.0  # while it is pulled

# ANSI/TIA-568, ISO/IEC 11801: twisted pair, of which so much is laid for good.
PAIR_CHANNEL_M: float = 100.0
PAIR_FIXED_M: float = 90.0
PAIR_CORDS_M: float = PAIR_CHANNEL_M - PAIR_FIXED_M
_PAIR_REACH_M = 102.0  # the same as one figure, in metres of solid conductor
STRANDED_24_RATIO: float = 0.2  # what stranded cords lose beyond solid cable, by gauge
STRANDED_26_RATIO: float = 0.5


def route_m(*, across_m: Floats, along_m: Floats, up_and_down_m: Iterable[float] = ()) -> Floats:
    """A way at right angles: along two walls or edges, and up and down at its ends.

    Derived: sum. Nobody lays a lead straight across a stage where people walk.

    >>> route_m(across_m=6, along_m=4, up_and_down_m=[0.8, 0.8])
    11.6
    """
    return across_m + along_m + sum(up_and_down_m)


def needed_m(route_m: Floats, *, spare_percent: float = SPARE_PERCENT) -> Floats:
    """A way with something left over.

    Common practice: a tenth more. Derived: product.

    >>> round(needed_m(11.6), 2)
    12.76
    """
    return route_m * (1 + spare_percent / 100)


def stock_m(needed_m: float, *, stock_m: Iterable[float]) -> float | None:
    """The shortest length on the shelf that is long enough; None if there is none.

    Derived: comparison.

    >>> stock_m(12.76, stock_m=[3, 5, 6, 10, 15, 20])
    15
    """
    # A length typed in feet must not be passed over for the last bit of its conversion.
    return min((one for one in stock_m if one >= needed_m - 1e-9), default=None)


def bend_radius_mm(*, diameter_mm: Floats, bend_ratio: float = BEND_RATIO) -> Floats:
    """How tightly a twisted-pair cable may lie bent, to the inside of the bend.

    So many outside diameters. Source: ANSI/TIA-568.0-D (4, laid), 568.2-D (8, while pulled),
    568-C.0 (1, patch cords, superseded). Other cables: what their maker says.

    >>> bend_radius_mm(diameter_mm=6.0)
    24.0
    """
    return diameter_mm * bend_ratio


def pair_cord_m(*, fixed_m: Floats, extra_loss_ratio: float = STRANDED_24_RATIO) -> Floats:
    """Stranded cord that a twisted-pair link may have beside so much solid cable, in all.

    (102 - H) / (1 + D). Source: ANSI/TIA-568-B.1, open-office formula (from memory). D is what
    stranded pairs lose more than solid ones: 20 % at 24 AWG, 50 % at 26 AWG. In offices capped at
    22 m. The link's own plugs and couplers are taken as those of a normal channel.

    >>> round(pair_cord_m(fixed_m=80), 1), pair_cord_m(fixed_m=0, extra_loss_ratio=0.5)
    (18.3, 68.0)
    """
    return (_PAIR_REACH_M - fixed_m) / (1 + extra_loss_ratio)


def pair_fixed_m(cords_m: Floats) -> Floats:
    """Solid cable that is left with more cord than the usual 10 m.

    90 - 1.5 (C - 10). Source: ISO/IEC 11801 rule of thumb, worst case.

    >>> pair_fixed_m(20)
    75.0
    """
    return PAIR_FIXED_M - 1.5 * (cords_m - PAIR_CORDS_M)
