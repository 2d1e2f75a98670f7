"""The grid of a 19-inch rack: units, panels, holes, and where the weight hangs in it.

Heights count from the lower edge of unit 1 upwards, as units do.
"""

from collections.abc import Sequence

UNIT_MM: float = 44.45  # EIA-310-D: 1.75 in
PANEL_WIDTH_MM: float = 482.6  # EIA-310-D: 19 in
HOLE_ROWS_MM: float = 465.1  # EIA-310-D: 18.312 in between the two rows of holes
OPENING_WIDTH_MM: float = 450.0  # IEC 60297-3-100: the least between the rails

# EIA-310-D, universal spacing: centres of the three holes of each unit, from its lower edge.
_HOLES_MM = (6.35, 22.225, 38.1)


def opening_mm(units: int) -> float:
    """Height of so many units between the rails.

    44.45 n. Source: EIA-310-D / IEC 60297-3-100.

    >>> opening_mm(12)
    533.4
    """
    return round(UNIT_MM * units, 6)


def panel_height_mm(units: int) -> float:
    """Height of a front panel: the opening less the play that lets the next one in.

    44.45 n - 0.8. Source: IEC 60297-3-100.

    >>> panel_height_mm(3)
    132.55
    """
    return round(UNIT_MM * units - 0.8, 6)


def hole_height_mm(number: int) -> float:
    """Height of a rail hole's centre, holes counted from the bottom.

    Source: EIA-310-D, universal spacing (three holes in every unit).

    >>> hole_height_mm(5)
    66.675
    """
    unit, hole = divmod(number - 1, len(_HOLES_MM))
    return round(unit * UNIT_MM + _HOLES_MM[hole], 6)


def side_clearance_mm(*, opening_width_mm: float, body_width_mm: float) -> float:
    """Play at each side of a chassis that stands in the middle of an opening.

    Derived: half of what is left.

    >>> side_clearance_mm(opening_width_mm=450, body_width_mm=445)
    2.5
    """
    return (opening_width_mm - body_width_mm) / 2


def centre_of_gravity_mm(*, weights_kg: Sequence[float], heights_mm: Sequence[float]) -> float:
    """Height at which the weights together hang, each at the height of its own centre.

    sum(m y) / sum(m). Derived: statics. Assumes each weight is known and even inside its box.

    >>> round(centre_of_gravity_mm(weights_kg=[3, 9, 6, 12], heights_mm=[100, 250, 400, 550]), 1)
    385.0
    """
    moment = sum(m * y for m, y in zip(weights_kg, heights_mm, strict=True))
    return moment / sum(weights_kg)
