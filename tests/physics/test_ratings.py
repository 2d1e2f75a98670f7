import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import ratings
from tests.reference.rows import Calls, Row, assert_agrees, judged_by


def _coupler(row: Row) -> float:
    region: ratings.Region = "north-american" if "UL" in row.text("system")[:2] else "iec"
    name = row.text("coupler").partition("/")[0]
    return ratings.coupler_a(name, region=region)  # type: ignore[arg-type]


def _trip(row: Row, which: int) -> float:
    curve = row.text("type")
    return ratings.instant_trip_a(curve=curve, rated_a=row["In"])[which]  # type: ignore[arg-type]


CALLS: Calls = {
    ("power/region", "UK plug fuse for *"): lambda row: ratings.plug_fuse_a(row["P"]),
    ("power/region", "rated current of *"): lambda row: ratings.cord_a(row["area"]),
    ("power/region", "appliance coupler *"): _coupler,
    ("power/region", "C13 rating in North America *"): _coupler,
    ("power/region", "North American 5-15 plug rating"): lambda row: ratings.plug_a("nema-5-15"),
    ("power/inrush", "* breaker: lowest instantaneous trip"): lambda row: _trip(row, 0),
    ("power/inrush", "* breaker: sure instantaneous trip"): lambda row: _trip(row, 1),
    ("power/inrush", "switch-on peak *"): lambda row: ratings.inrush_peak_a(
        voltage_v=row["V"], series_ohm=row["R"]
    ),
}


@judged_by(CALLS, "systems.csv")
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@pytest.mark.published("BS 1362, 700 W rule: 3 A up to 700 W")
def test_the_small_fuse_goes_up_to_its_watts() -> None:
    assert ratings.plug_fuse_a(700) == 3
    assert ratings.plug_fuse_a(700.1) == 13


@pytest.mark.published("BS 7671 531.3: 30 % of 30 mA (from memory)")
def test_leakage() -> None:
    assert ratings.leakage_budget_ma(30) == pytest.approx(9)
    assert ratings.LEAKAGE_SHARE_RATIO < ratings.NO_TRIP_RATIO


@pytest.mark.parametrize("coupler", ["C5", "C7", "C9", "C13", "C15", "C17", "C19"])
def test_no_coupler_is_rated_lower_across_the_sea(coupler: ratings.Coupler) -> None:
    here = ratings.coupler_a(coupler)
    assert ratings.coupler_a(coupler, region="north-american") >= here


@given(st.floats(1, 63))
def test_the_bands_of_the_curves_follow_each_other(rated: float) -> None:
    (_, b), (c, c_sure), (d, _) = (
        ratings.instant_trip_a(curve=curve, rated_a=rated) for curve in ("B", "C", "D")
    )
    assert (b, c_sure) == (c, d)
