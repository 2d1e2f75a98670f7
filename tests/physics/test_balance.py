import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import balance, rackgrid
from tests.reference.rows import Calls, Row, assert_agrees, judged_by


def _centred(row: Row) -> float:
    return balance.tip_deg(base_mm=1000 * row["b"], height_mm=1000 * row["h"])


CALLS: Calls = {
    ("rack/gravity", "three point masses on a line"): lambda row: (
        rackgrid.centre_of_gravity_mm(
            weights_kg=row.numbers("m"), heights_mm=[10 * x for x in row.numbers("x")]
        )
        / 10
    ),
    ("rack/gravity", "centre of gravity height, heavy high"): lambda row: (
        rackgrid.centre_of_gravity_mm(weights_kg=row.numbers("m"), heights_mm=row.numbers("y"))
    ),
    ("rack/gravity", "two masses: distance from the first"): lambda row: (
        balance.middle_mm(first_kg=row["m_a"], second_kg=row["m_b"], distance_mm=1000 * row["d"])
        / 1000
    ),
    ("rack/tip", "uniform cuboid leaning *"): lambda row: balance.tip_deg(
        base_mm=1000 * row.numbers("base a")[0], height_mm=1000 * row["height b"] / 2
    ),
    ("rack/tip", "tip angle, *"): _centred,
    ("rack/tip", "off-centre load: *"): lambda row: balance.tip_deg(
        base_mm=1000 * row["b"],
        height_mm=1000 * row["h"],
        offset_mm=1000 * row["cg offset"],
    ),
    ("rack/tip", "10 degree stability test: *"): lambda row: (
        balance.highest_mm(base_mm=1000 * row["b"], tilt_deg=row["angle"]) / 1000
    ),
    ("rack/tip", "triangle block with *"): lambda row: math.tan(
        math.radians(balance.tip_deg(base_mm=1000 * row["w"], height_mm=1000 * row["h"] / 3))
    ),
}


@judged_by(CALLS, "systems.csv")
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


weights = st.lists(st.tuples(st.floats(0.1, 40), st.floats(0, 1200)), min_size=1, max_size=8)


@given(weights, st.floats(0.1, 40), st.floats(0, 1200))
def test_weights_are_added_in_any_order(
    parts: list[tuple[float, float]], more_kg: float, at_mm: float
) -> None:
    """The sum of what hangs together is one weight at its own centre, by hand."""
    total_kg = math.fsum(kg for kg, _ in parts)
    low_mm = rackgrid.centre_of_gravity_mm(
        weights_kg=[kg for kg, _ in parts], heights_mm=[mm for _, mm in parts]
    )
    both = rackgrid.centre_of_gravity_mm(
        weights_kg=[*(kg for kg, _ in parts), more_kg],
        heights_mm=[*(mm for _, mm in parts), at_mm],
    )
    joined = low_mm + (at_mm - low_mm) * more_kg / (total_kg + more_kg)
    assert both == pytest.approx(joined, abs=1e-6)
    found = balance.middle_mm(first_kg=total_kg, second_kg=more_kg, distance_mm=at_mm - low_mm)
    assert low_mm + found == pytest.approx(both, abs=1e-6)


@given(st.floats(200, 900), st.floats(100, 1500), st.floats(-80, 80))
def test_at_the_tip_angle_the_weight_stands_over_the_edge(
    base: float, height: float, offset: float
) -> None:
    angle = balance.tip_deg(base_mm=base, height_mm=height, offset_mm=offset)
    # Turned about the edge by that angle, the weight's horizontal distance from it is nothing.
    arm, turn = base / 2 - offset, math.radians(angle)
    assert arm * math.cos(turn) - height * math.sin(turn) == pytest.approx(0, abs=1e-6)
    highest = balance.highest_mm(base_mm=base, tilt_deg=angle, offset_mm=offset)
    assert highest == pytest.approx(height)


def test_a_weight_beyond_the_edge_tips_by_itself() -> None:
    assert balance.tip_deg(base_mm=400, height_mm=500, offset_mm=210) < 0
    assert balance.TEST_TILT_DEG == 10
