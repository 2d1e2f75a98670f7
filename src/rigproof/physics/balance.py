"""When a case tips over: from how wide it stands and how high its weight hangs.

Standing still on a level and hard floor. A push on the lid, a kerb under a castor, a ramp, soft
ground and a drawer that slides out all tip a case sooner; nothing here says that one cannot fall.
Heights of the weight come from `rackgrid.centre_of_gravity_mm`, counted from the floor with the
case and its castors in the sum.
"""

import math

TEST_TILT_DEG: float = 10.0  # IEC 62368-1 clause 8.6


def middle_mm(*, first_kg: float, second_kg: float, distance_mm: float) -> float:
    """How far from the first of two weights they hang together.

    m2 d / (m1 + m2). Source: two-body centre of mass.

    >>> middle_mm(first_kg=20, second_kg=10, distance_mm=600)
    200.0
    """
    return second_kg * distance_mm / (first_kg + second_kg)


def tip_deg(*, base_mm: float, height_mm: float, offset_mm: float = 0.0) -> float:
    """By how much a case can lean towards one side before it goes on by itself.

    atan((b/2 - e) / h), e = how far the weight hangs towards that side. Source: statics, the
    weight above the edge. The base is where it touches the floor: castor to castor, and a
    swivelled castor stands further in.

    >>> round(tip_deg(base_mm=520, height_mm=450), 1)
    30.0
    """
    return math.degrees(math.atan2(base_mm / 2 - offset_mm, height_mm))


def highest_mm(*, base_mm: float, tilt_deg: float = TEST_TILT_DEG, offset_mm: float = 0.0) -> float:
    """How high the weight may hang at most for a case to stand on such a slope.

    (b/2 - e) / tan(angle). Source: statics; 10 degrees is the stability test of IEC 62368-1
    clause 8.6, which goes by the class of the equipment and has more to it than this.

    >>> round(highest_mm(base_mm=520))
    1475
    """
    return (base_mm / 2 - offset_mm) / math.tan(math.radians(tilt_deg))
