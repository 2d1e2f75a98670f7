import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import phantom48
from tests.reference.rows import Calls, Row, assert_agrees, judged_by

FIELDS = {
    "voltage": "voltage_v",
    "voltage tolerance": "tolerance_v",
    "maximum current per microphone": "limit_ma",
    "feed resistor per leg": "leg_ohm",
}


def _supply(row: Row) -> float:
    kind, _, field = row.text("quantity").partition(" ")
    return float(getattr(phantom48.supply(kind), FIELDS[field]))  # type: ignore[arg-type]


def _tied_ma(row: Row) -> float:
    """What flows from the higher of two supplies that a hard split ties together."""
    joined_v = phantom48.shared_microphone_v(
        current_ma=0, supply_v=[row["U1"], row["U2"]], leg_ohm=[row["R"], row["R"]]
    )
    return phantom48.feeder_ma(supply_v=row["U1"], leg_ohm=row["R"], microphone_v=joined_v)


CALLS: Calls = {
    ("splitters", "phantom: P*"): _supply,
    ("splitters", "phantom: feed resistor matching limit"): lambda row: phantom48.LEG_MATCH_PERCENT,
    ("splitters", "P12 short-circuit current"): lambda row: phantom48.short_circuit_ma(
        supply_v=row["U"], leg_ohm=row["R"]
    ),
    ("splitters", "P* voltage left at *"): lambda row: phantom48.microphone_v(
        current_ma=row["I"], supply_v=row["U"], leg_ohm=row["R"]
    ),
    ("splitters", "most power a P48 feed can deliver"): lambda row: phantom48.highest_power_mw(
        supply_v=row["U"], leg_ohm=row["R"]
    ),
    ("splitters", "two P48 feeds of different voltage *"): _tied_ma,
}


@judged_by(CALLS)
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@pytest.mark.published("IEC 61938, P48 feed resistor 6.8 kohm or 6.81 kohm per leg")
def test_the_stocked_resistor_is_within_the_row() -> None:
    assert pytest.approx(phantom48.supply("P48").leg_ohm, abs=15) == phantom48.P48_LEG_OHM
    assert phantom48.supply("P48").voltage_v == phantom48.P48_V


volts, legs, current = st.floats(0, 52), st.floats(600, 10_000), st.floats(0, 10)


@given(current, volts, legs)
def test_two_equal_feeders_halve_the_drop(drawn_ma: float, supply_v: float, leg_ohm: float) -> None:
    one = phantom48.microphone_v(current_ma=drawn_ma, supply_v=supply_v, leg_ohm=leg_ohm)
    two = phantom48.shared_microphone_v(
        current_ma=drawn_ma, supply_v=[supply_v] * 2, leg_ohm=[leg_ohm] * 2
    )
    assert supply_v - two == pytest.approx((supply_v - one) / 2, abs=1e-9)
    alone = phantom48.shared_microphone_v(
        current_ma=drawn_ma, supply_v=[supply_v], leg_ohm=[leg_ohm]
    )
    assert alone == pytest.approx(one, abs=1e-9)


@given(current, st.lists(st.tuples(volts, legs), min_size=1, max_size=4))
def test_what_feeders_give_is_what_the_microphone_takes(
    drawn_ma: float, feeders: list[tuple[float, float]]
) -> None:
    left_v = phantom48.shared_microphone_v(
        current_ma=drawn_ma, supply_v=[v for v, _ in feeders], leg_ohm=[r for _, r in feeders]
    )
    given_ma = sum(
        phantom48.feeder_ma(supply_v=v, leg_ohm=r, microphone_v=left_v) for v, r in feeders
    )
    assert given_ma == pytest.approx(drawn_ma, abs=1e-6)


@given(volts, legs)
def test_the_most_power_is_at_half_the_voltage(supply_v: float, leg_ohm: float) -> None:
    half_ma = phantom48.short_circuit_ma(supply_v=supply_v, leg_ohm=leg_ohm) / 2
    for drawn_ma in (half_ma * 0.9, half_ma, half_ma * 1.1):
        left_v = phantom48.microphone_v(current_ma=drawn_ma, supply_v=supply_v, leg_ohm=leg_ohm)
        most_mw = phantom48.highest_power_mw(supply_v=supply_v, leg_ohm=leg_ohm)
        assert left_v * drawn_ma <= most_mw + 1e-9
    assert half_ma * supply_v / 2 == pytest.approx(most_mw)
