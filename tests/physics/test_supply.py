import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import supply
from tests.reference.rows import Calls, Row, assert_agrees, judged_by


def _battery_h(row: Row) -> float:
    return supply.battery_h(
        capacity_ah=row["C"], battery_v=row["V"], efficiency_ratio=row["eff"], load_w=row["P"]
    )


CALLS: Calls = {
    ("power/ups", "*0 Ah 12 V*"): _battery_h,
    ("power/ups", "minutes form *"): lambda row: 60 * _battery_h(row),
    ("power/ups", "Peukert: *"): lambda row: supply.peukert_h(
        capacity_ah=row["C"], rated_h=row["H"], current_a=row["I"], peukert_ratio=row["k"]
    ),
    ("power/generator", "altitude factor at *"): lambda row: supply.altitude_ratio(row["altitude"]),
    ("power/generator", "temperature factor at *"): lambda row: supply.temperature_ratio(
        row["ambient"]
    ),
    # The row gives the two factors that its case's 2000 m and 45 degrees make.
    ("power/generator", "3.3 kW set at 2000 m and 45 C, *"): lambda row: supply.generator_w(
        rated_w=row["P"], altitude_m=2000, ambient_degc=45
    ),
    ("power/generator", "no derate at *"): lambda row: supply.generator_w(
        rated_w=row["P"], altitude_m=row["altitude"], ambient_degc=row["ambient"]
    ),
}


@judged_by(CALLS, "systems.csv")
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@given(st.floats(1, 200), st.floats(0.5, 20), st.floats(1.01, 1.4))
def test_a_battery_gives_its_hours_at_its_rated_current(
    capacity: float, hours: float, exponent: float
) -> None:
    rated_a = capacity / hours
    at_rated = supply.peukert_h(
        capacity_ah=capacity, rated_h=hours, current_a=rated_a, peukert_ratio=exponent
    )
    assert at_rated == pytest.approx(hours)
    twice = supply.peukert_h(
        capacity_ah=capacity, rated_h=hours, current_a=2 * rated_a, peukert_ratio=exponent
    )
    assert twice < hours / 2


@given(st.floats(0, 4000), st.floats(0, 4000), st.floats(-10, 55))
def test_higher_or_hotter_never_gives_more(low: float, more: float, degc: float) -> None:
    def left(altitude: float, ambient: float) -> float:
        return supply.generator_w(rated_w=1000, altitude_m=altitude, ambient_degc=ambient)

    assert left(low + more, degc) <= left(low, degc) <= 1000
    assert left(low, degc + 5) <= left(low, degc)
