import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import lifting
from tests.reference.rows import Calls, Row, assert_agrees, judged_by

INCH_CM, POUND_KG = 2.54, 0.45359237
DURATIONS: dict[str, lifting.Duration] = {"1 h or less": "1 h", "1 to 2 h": "2 h"}


def _frequency(row: Row) -> float:
    return lifting.frequency_ratio(
        lifts_per_min=row["F"], duration=DURATIONS[row.text("duration")], vertical_cm=50
    )


def _coupling(row: Row) -> float:
    return lifting.coupling_ratio(
        grip=row.text("grip"),  # type: ignore[arg-type]
        vertical_cm=row["V"],
    )


def _grip(row: Row) -> lifting.Grip:
    found = re.search(r"\b(good|fair|poor)\b", row.case)
    # The stock example says "fair" once for both of its rows' tables.
    return found[1] if found else "fair"  # type: ignore[return-value]


def _recommended_kg(row: Row) -> float:
    """The rows give the multipliers of rate and grip; their cases say which rate and grip."""
    metric = row.unit_of("H") == "cm"
    scale = 1 if metric else INCH_CM
    often = re.search(r"(\d+) lifts/min", row.case)
    return lifting.recommended_kg(
        horizontal_cm=row["H"] * scale,
        vertical_cm=row["V"] * scale,
        distance_cm=row["D"] * scale,
        asymmetry_deg=row["A"],
        lifts_per_min=float(often[1]) if often else lifting.RARE_PER_MIN,
        grip=_grip(row),
        form=lifting.METRIC if metric else lifting.INCH,
    )


def _index(row: Row) -> float:
    load_kg = row["L"] * (POUND_KG if row.unit_of("L") == "lb" else 1)
    return lifting.lifting_index_ratio(load_kg=load_kg, recommended_kg=_recommended_kg(row))


def _guideline_kg(row: Row) -> float:
    return lifting.guideline_kg(
        who=row.text("who"),  # type: ignore[arg-type]
        zone=row.text("zone"),  # type: ignore[arg-type]
        reach=row.text("reach"),  # type: ignore[arg-type]
    )


def _push_kgf(row: Row) -> float:
    return lifting.push_kgf(
        who=row.text("who"),  # type: ignore[arg-type]
        action=row.text("action"),  # type: ignore[arg-type]
    )


CALLS: Calls = {
    ("rack/niosh", "horizontal multiplier *"): lambda row: lifting.horizontal_ratio(row["H"]),
    ("rack/niosh", "vertical multiplier *"): lambda row: lifting.vertical_ratio(row["V"]),
    ("rack/niosh", "distance multiplier *"): lambda row: lifting.distance_ratio(row["D"]),
    ("rack/niosh", "asymmetry multiplier *"): lambda row: lifting.asymmetry_ratio(row["A"]),
    ("rack/niosh", "frequency multiplier, *"): _frequency,
    ("rack/niosh", "coupling multiplier, *"): _coupling,
    ("rack/niosh", "RWL: *"): _recommended_kg,
    ("rack/niosh", "punch-press stock example, *"): lambda row: _recommended_kg(row) / POUND_KG,
    ("rack/niosh", "punch-press stock example: lifting index *"): _index,
    ("rack/niosh", "lifting index, *"): _index,
    ("rack/handling", "guideline weight, *"): _guideline_kg,
    # "More than" has no number of its own: one step beyond the printed edge.
    ("rack/handling", "twisting beyond 90 deg"): lambda row: row["base"] * lifting.twist_ratio(91),
    ("rack/handling", "lifting 5 to 8 times a minute"): lambda row: (
        row["base"] * lifting.repeated_ratio(5)
    ),
    ("rack/handling", "lifting more than 12 times a minute"): lambda row: (
        row["base"] * lifting.repeated_ratio(12.5)
    ),
    ("rack/handling", "push/pull guideline force, *"): _push_kgf,
}


@judged_by(CALLS, "systems.csv")
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@pytest.mark.published(
    "HSE INDG143: 10 % beyond 45 degrees, 30 % once or twice, 50 % to 8 a minute"
)
def test_other_reductions() -> None:
    assert [lifting.twist_ratio(angle) for angle in (0, 44, 46)] == [1, 1, 0.9]
    assert [lifting.repeated_ratio(rate) for rate in (0.5, 1, 2, 8)] == [1, 0.7, 0.7, 0.5]


@pytest.mark.published("HSE L23, team handling: two thirds of two, half of three (from memory)")
def test_together() -> None:
    assert lifting.team_kg([25]) == 25
    assert lifting.team_kg([25, 16]) == pytest.approx(41 * 2 / 3)
    assert lifting.team_kg([25, 25, 16]) == 33
    assert lifting.team_kg([25, 25, 25, 16]) == lifting.team_kg([16, 25, 25])


@pytest.mark.published("DHHS (NIOSH) 94-110: 51 lb, and 23 kg as the metric figure of it")
def test_the_most_that_is_recommended() -> None:
    best = lifting.recommended_kg(horizontal_cm=25, vertical_cm=75, distance_cm=25)
    assert best == pytest.approx(23)
    best = lifting.recommended_kg(
        horizontal_cm=25.4, vertical_cm=76.2, distance_cm=25.4, form=lifting.INCH
    )
    assert best / POUND_KG == pytest.approx(51)


@pytest.mark.published("DHHS (NIOSH) 94-110 table 5, last rows (from memory)")
@pytest.mark.parametrize(
    ("rate", "low", "high"), [(9, 0, 0.15), (11, 0, 0), (15, 0, 0), (15.1, 0, 0)]
)
def test_hands_high_may_go_on_a_little_longer(rate: float, low: float, high: float) -> None:
    for vertical_cm, printed in ((74, low), (75, high)):
        found = lifting.frequency_ratio(lifts_per_min=rate, duration="8 h", vertical_cm=vertical_cm)
        assert found == printed


heights, angles, rates = st.floats(0, 200), st.floats(0, 180), st.floats(0, 20)
durations = st.sampled_from(["1 h", "2 h", "8 h"])
grips = st.sampled_from(["good", "fair", "poor"])


@given(heights, heights, heights, angles, rates, durations, grips)
def test_nothing_makes_a_lift_lighter(
    horizontal: float,
    vertical: float,
    distance: float,
    angle: float,
    rate: float,
    duration: lifting.Duration,
    grip: lifting.Grip,
) -> None:
    for form in (lifting.METRIC, lifting.INCH):
        found = lifting.recommended_kg(
            horizontal_cm=horizontal, vertical_cm=vertical, distance_cm=distance,
            asymmetry_deg=angle, lifts_per_min=rate, duration=duration, grip=grip, form=form,
        )  # fmt: skip
        assert 0 <= found <= form.load_kg
        plainer = lifting.recommended_kg(
            horizontal_cm=horizontal, vertical_cm=vertical, distance_cm=distance,
            lifts_per_min=rate, duration=duration, form=form,
        )  # fmt: skip
        assert found <= plainer


@given(rates, rates, durations, heights)
def test_more_often_is_never_more(
    rate: float, more: float, duration: lifting.Duration, vertical: float
) -> None:
    def ratio(lifts: float) -> float:
        return lifting.frequency_ratio(lifts_per_min=lifts, duration=duration, vertical_cm=vertical)

    assert ratio(rate + more) <= ratio(rate)


def test_where_nothing_is_recommended_any_load_is_too_much() -> None:
    assert lifting.lifting_index_ratio(load_kg=1, recommended_kg=0) == math.inf
