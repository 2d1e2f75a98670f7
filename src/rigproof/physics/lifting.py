"""How heavy is heavy: two published ways to look at a lift by hand.

Both are screens for planning, made for two hands, a good floor and healthy adults; neither says
that a lift hurts nobody. Stairs, vans, carrying, one hand, slippery ground, a load that shifts or
has no handles, pregnancy and bad backs are outside of both. Local rules and a competent person
come first, and "carry it with more people" beats any figure here.
"""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Literal

import msgspec

Duration = Literal["1 h", "2 h", "8 h"]
Grip = Literal["good", "fair", "poor"]
Who = Literal["men", "women"]
Zone = Literal[
    "below mid lower leg",
    "mid lower leg to knuckle",
    "knuckle to elbow",
    "elbow to shoulder",
    "shoulder to head",
]
Reach = Literal["close", "arms out"]
Push = Literal["start or stop", "keep moving"]


class Form(msgspec.Struct, frozen=True, kw_only=True):
    """The constants of the lifting equation, which its two systems of units round differently."""

    load_kg: float
    near_cm: float  # horizontal multiplier 1
    far_cm: float  # beyond it, 0
    knuckle_cm: float  # vertical multiplier 1; grips count differently from here up
    high_cm: float
    height_per_cm: float
    travel_cm: float


METRIC = Form(
    load_kg=23, near_cm=25, far_cm=63, knuckle_cm=75, high_cm=175, height_per_cm=0.003,
    travel_cm=4.5,
)  # fmt: skip
# 51 lb, 10 in, 25 in, 30 in, 70 in, 0.0075 per inch, 1.8 in.
INCH = Form(
    load_kg=51 * 0.45359237, near_cm=25.4, far_cm=63.5, knuckle_cm=76.2, high_cm=177.8,
    height_per_cm=0.0075 / 2.54, travel_cm=1.8 * 2.54,
)  # fmt: skip

MOST_ASYMMETRY_DEG: float = 135.0
RARE_PER_MIN: float = 0.2  # lifts seldomer than every five minutes count as this many

# DHHS (NIOSH) 94-110 table 5: lifts per minute, then the multiplier by how long it goes on. The
# second line of a pair is for hands at knuckle height and above, where it differs.
_DURATIONS: tuple[Duration, ...] = ("1 h", "2 h", "8 h")
_LOW_FREQUENCY: Mapping[float, Sequence[float]] = MappingProxyType(
    {
        0.2: (1.00, 0.95, 0.85), 0.5: (0.97, 0.92, 0.81), 1: (0.94, 0.88, 0.75),
        2: (0.91, 0.84, 0.65), 3: (0.88, 0.79, 0.55), 4: (0.84, 0.72, 0.45),
        5: (0.80, 0.60, 0.35), 6: (0.75, 0.50, 0.27), 7: (0.70, 0.42, 0.22),
        8: (0.60, 0.35, 0.18), 9: (0.52, 0.30, 0.00), 10: (0.45, 0.26, 0.00),
        11: (0.41, 0.00, 0.00), 12: (0.37, 0.00, 0.00), 13: (0.00, 0.00, 0.00),
        14: (0.00, 0.00, 0.00), 15: (0.00, 0.00, 0.00),
    }
)  # fmt: skip
_HIGH_FREQUENCY: Mapping[float, Sequence[float]] = MappingProxyType(
    dict(_LOW_FREQUENCY)
    | {
        9: (0.52, 0.30, 0.15), 10: (0.45, 0.26, 0.13), 11: (0.41, 0.23, 0.00),
        12: (0.37, 0.21, 0.00), 13: (0.34, 0.00, 0.00), 14: (0.31, 0.00, 0.00),
        15: (0.28, 0.00, 0.00),
    }
)  # fmt: skip

# HSE INDG143, in kg, from the lower legs up to above the shoulders.
_ZONES: tuple[Zone, ...] = (
    "below mid lower leg",
    "mid lower leg to knuckle",
    "knuckle to elbow",
    "elbow to shoulder",
    "shoulder to head",
)
_GUIDELINE_KG: Mapping[tuple[Who, Reach], Sequence[float]] = MappingProxyType(
    {
        ("men", "close"): (10, 20, 25, 20, 10),
        ("men", "arms out"): (5, 10, 15, 10, 5),
        ("women", "close"): (7, 13, 16, 13, 7),
        ("women", "arms out"): (3, 7, 10, 7, 3),
    }
)
_PUSH_KGF: Mapping[tuple[Who, Push], float] = MappingProxyType(
    {
        ("men", "start or stop"): 20,
        ("men", "keep moving"): 10,
        ("women", "start or stop"): 15,
        ("women", "keep moving"): 7,
    }
)


def horizontal_ratio(horizontal_cm: float, *, form: Form = METRIC) -> float:
    """What is left of a lift when the hands are so far in front of the ankles.

    25 / H; 0 beyond 63 cm. Source: DHHS (NIOSH) 94-110 table 1.

    >>> horizontal_ratio(40)
    0.625
    """
    if horizontal_cm > form.far_cm:
        return 0.0
    return form.near_cm / max(horizontal_cm, form.near_cm)


def vertical_ratio(vertical_cm: float, *, form: Form = METRIC) -> float:
    """What is left of a lift when the hands are so high above the floor.

    1 - 0.003 |V - 75|; 0 above 175 cm. Source: DHHS (NIOSH) 94-110 table 2.

    >>> round(vertical_ratio(150), 3)
    0.775
    """
    if vertical_cm > form.high_cm:
        return 0.0
    return 1 - form.height_per_cm * abs(vertical_cm - form.knuckle_cm)


def distance_ratio(distance_cm: float, *, form: Form = METRIC) -> float:
    """What is left of a lift that goes up or down so far.

    0.82 + 4.5 / D from 25 cm on; 0 beyond 175 cm. Source: DHHS (NIOSH) 94-110 table 3.

    >>> round(distance_ratio(100), 3)
    0.865
    """
    if distance_cm > form.high_cm:
        return 0.0
    return min(1.0, 0.82 + form.travel_cm / max(distance_cm, form.near_cm))


def asymmetry_ratio(asymmetry_deg: float) -> float:
    """What is left of a lift with the trunk twisted.

    1 - 0.0032 A; 0 beyond 135 degrees. Source: DHHS (NIOSH) 94-110 table 4.

    >>> round(asymmetry_ratio(45), 3)
    0.856
    """
    return 1 - 0.0032 * asymmetry_deg if asymmetry_deg <= MOST_ASYMMETRY_DEG else 0.0


def frequency_ratio(
    *, lifts_per_min: float, duration: Duration, vertical_cm: float, form: Form = METRIC
) -> float:
    """What is left of a lift that is done again and again.

    Source: DHHS (NIOSH) 94-110 table 5, for up to 1, 2 or 8 hours. Between two rates of the table
    the figure of the faster one counts.

    >>> frequency_ratio(lifts_per_min=3, duration="1 h", vertical_cm=55)
    0.88
    """
    table = _LOW_FREQUENCY if vertical_cm < form.knuckle_cm else _HIGH_FREQUENCY
    for rate_per_min, ratios in table.items():
        if lifts_per_min <= rate_per_min:
            return ratios[_DURATIONS.index(duration)]
    return 0.0


def coupling_ratio(*, grip: Grip, vertical_cm: float, form: Form = METRIC) -> float:
    """What is left of a lift with such a grip: handles, a fair hold, none to speak of.

    Source: DHHS (NIOSH) 94-110 table 7.

    >>> coupling_ratio(grip="fair", vertical_cm=50)
    0.95
    """
    if grip == "fair":
        return 0.95 if vertical_cm < form.knuckle_cm else 1.0
    return {"good": 1.0, "poor": 0.9}[grip]


def recommended_kg(
    *,
    horizontal_cm: float,
    vertical_cm: float,
    distance_cm: float,
    asymmetry_deg: float = 0.0,
    lifts_per_min: float = RARE_PER_MIN,
    duration: Duration = "1 h",
    grip: Grip = "good",
    form: Form = METRIC,
) -> float:
    """The recommended weight limit for one person and two hands.

    23 kg * HM * VM * DM * AM * FM * CM. Source: revised NIOSH lifting equation, DHHS (NIOSH)
    94-110. Left out, as its own manual says: one hand, sitting, kneeling, tight places, carrying,
    pushing, unstable loads, hot or cold places, slippery floors, lifting for over 8 hours.

    >>> round(recommended_kg(horizontal_cm=25, vertical_cm=55, distance_cm=95, lifts_per_min=3,
    ...     grip="fair"), 1)
    15.7
    """
    return (
        form.load_kg
        * horizontal_ratio(horizontal_cm, form=form)
        * vertical_ratio(vertical_cm, form=form)
        * distance_ratio(distance_cm, form=form)
        * asymmetry_ratio(asymmetry_deg)
        * frequency_ratio(
            lifts_per_min=lifts_per_min, duration=duration, vertical_cm=vertical_cm, form=form
        )
        * coupling_ratio(grip=grip, vertical_cm=vertical_cm, form=form)
    )


def lifting_index_ratio(*, load_kg: float, recommended_kg: float) -> float:
    """A load against the recommended limit. Above 1 some people's risk of harm is raised.

    L / RWL. Source: DHHS (NIOSH) 94-110. Endless where nothing is recommended.

    >>> round(lifting_index_ratio(load_kg=12, recommended_kg=15.7), 2)
    0.76
    """
    return load_kg / recommended_kg if recommended_kg > 0 else float("inf")


def guideline_kg(*, who: Who, zone: Zone, reach: Reach = "close") -> float:
    """The weight up to which no closer look at a lift is asked for.

    Source: HSE INDG143 / L23, lifting filter, up to 30 lifts an hour. A screen that leaves some
    people out; if the hands pass through several zones, the least figure counts.

    >>> guideline_kg(who="women", zone="knuckle to elbow")
    16
    """
    return _GUIDELINE_KG[who, reach][_ZONES.index(zone)]


def twist_ratio(twist_deg: float) -> float:
    """What is left of a guideline weight when the body twists.

    10 % off from 45 degrees on, 20 % from 90. Source: HSE INDG143.

    >>> twist_ratio(60)
    0.9
    """
    if twist_deg >= 90:
        return 0.8
    return 0.9 if twist_deg >= 45 else 1.0


def repeated_ratio(lifts_per_min: float) -> float:
    """What is left of a guideline weight when it is lifted over and over.

    30 % off for one or two lifts a minute, 50 % for five to eight, 80 % for more than twelve.
    Source: HSE INDG143. What lies between the printed rates counts as the faster one.

    >>> repeated_ratio(6)
    0.5
    """
    if lifts_per_min > 8:
        return 0.2
    if lifts_per_min > 2:
        return 0.5
    return 0.7 if lifts_per_min > 0.5 else 1.0


def team_kg(each_kg: Sequence[float]) -> float:
    """What people lift together: less than the sum of what each would alone.

    Two lift two thirds of the sum, three half of it. Source: HSE L23 (from memory). It stops
    there: of more people, only the three weakest are counted.

    >>> round(team_kg([25, 16]), 1)
    27.3
    """
    share_ratio = {1: 1.0, 2: 2 / 3}.get(len(each_kg), 0.5)
    return share_ratio * sum(sorted(each_kg)[:3])


def push_kgf(*, who: Who, action: Push) -> float:
    """The force up to which no closer look at pushing or pulling a case is asked for.

    Source: HSE INDG143 table 2, in kilograms of force. On the level, hands between knuckle and
    shoulder, no more than some 20 m without a rest.

    >>> push_kgf(who="women", action="start or stop")
    15
    """
    return _PUSH_KGF[who, action]
