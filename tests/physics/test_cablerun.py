import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import cablerun, castors
from rigproof.physics.conductors import FOOT_M
from tests.reference.rows import Calls, Row, assert_agrees, judged_by


def _stock_ft(row: Row) -> float:
    found = cablerun.stock_m(
        row["need"] * FOOT_M, stock_m=[ft * FOOT_M for ft in row.numbers("stock")]
    )
    assert found is not None
    return found / FOOT_M


def _needed_m(row: Row) -> float:
    up, down = row.text("vertical").removesuffix(" m").split("+")
    way = cablerun.route_m(
        across_m=row["dx"], along_m=row["dy"], up_and_down_m=[float(up), float(down)]
    )
    return cablerun.needed_m(way, spare_percent=row["slack"])


def _stock_m(row: Row) -> float:
    found = cablerun.stock_m(_needed_m(row), stock_m=row.numbers("stock"))
    assert found is not None
    return found


CALLS: Calls = {
    ("cables/length", "next stock length *"): _stock_ft,
    ("cables/length", "needed length before *"): _needed_m,
    ("cables/length", "right-angle route: *"): _stock_m,
    ("rack/bend", "patch cord *"): lambda row: cablerun.bend_radius_mm(
        diameter_mm=row["OD"], bend_ratio=cablerun.OLD_CORD_BEND_RATIO
    ),
    ("rack/bend", "while being pulled *"): lambda row: cablerun.bend_radius_mm(
        diameter_mm=row["OD"], bend_ratio=cablerun.PULLED_BEND_RATIO
    ),
    ("rack/bend", "*category*"): lambda row: cablerun.bend_radius_mm(diameter_mm=row["OD"]),
    ("network/length", "copper channel limit"): lambda row: (
        cablerun.pair_fixed_m(cablerun.PAIR_CORDS_M) + cablerun.PAIR_CORDS_M
    ),
    ("network/length", "total 24 AWG stranded cord *"): lambda row: cablerun.pair_cord_m(
        fixed_m=row["H"], extra_loss_ratio=row.numbers("D")[0]
    ),
    ("network/length", "worst-case rule: *"): lambda row: cablerun.pair_fixed_m(row["cords"]),
    ("network/length", "stage snake entirely of *"): lambda row: cablerun.pair_cord_m(
        fixed_m=row["H"], extra_loss_ratio=row["D"]
    ),
    ("rack/castor", "three-of-four rule, *"): lambda row: castors.castor_kg(
        total_kg=row["case"] + row["gear"], castors=int(row["castors"])
    ),
    ("rack/castor", "N-1 form, *"): lambda row: castors.castor_kg(
        total_kg=row["E"] + row["L"], castors=int(row["N"])
    ),
    ("rack/castor", "safety-factor form, *"): lambda row: castors.factored_castor_kg(
        total_kg=row["E"] + row["L"], castors=int(row["N"]), factor_ratio=row["S"]
    ),
    ("rack/castor", "outdoor factor 2.2"): lambda row: castors.factored_castor_kg(
        total_kg=row["E+L"], castors=int(row["N"]), factor_ratio=row["S"]
    ),
}


@judged_by(CALLS, "systems.csv")
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


def test_nothing_on_the_shelf_is_long_enough() -> None:
    assert cablerun.stock_m(21, stock_m=[3, 20]) is None
    assert cablerun.stock_m(20, stock_m=[20, 3]) == 20


@given(st.floats(0, 40), st.lists(st.floats(0.5, 50), max_size=8))
def test_stock_is_the_shortest_that_reaches(needed: float, stock: list[float]) -> None:
    found = cablerun.stock_m(needed, stock_m=stock)
    enough = sorted(length for length in stock if length >= needed)
    if found is None:
        assert not enough
    else:
        assert found >= needed - 1e-8
        assert all(found <= length for length in enough)


@given(st.floats(0, 30), st.floats(0, 30), st.floats(0, 3))
def test_a_way_at_right_angles_is_never_shorter_than_straight(
    across: float, along: float, rise: float
) -> None:
    way = cablerun.route_m(across_m=across, along_m=along, up_and_down_m=[rise])
    assert way >= (across**2 + along**2) ** 0.5 - 1e-9
    assert cablerun.needed_m(way) >= way


@given(st.floats(10, 25))
def test_rule_of_thumb_and_formula_are_2_m_of_cord_apart(cords: float) -> None:
    fixed = cablerun.pair_fixed_m(cords)
    assert fixed + cords <= cablerun.PAIR_CHANNEL_M
    by_formula = cablerun.pair_cord_m(fixed_m=fixed, extra_loss_ratio=cablerun.STRANDED_26_RATIO)
    assert by_formula == pytest.approx(cords - 2)


@given(st.floats(10, 300), st.integers(4, 8))
def test_a_castor_carries_more_than_its_share(total: float, count: int) -> None:
    for found in (
        castors.castor_kg(total_kg=total, castors=count),
        castors.factored_castor_kg(total_kg=total, castors=count),
    ):
        assert found > total / count
    outdoors = castors.factored_castor_kg(
        total_kg=total, castors=count, factor_ratio=castors.OUTDOOR_FACTOR_RATIO
    )
    assert outdoors > castors.factored_castor_kg(total_kg=total, castors=count)


@pytest.mark.published("castor guidance, S between 1.5 and 2 indoors, 1.5-2.2 outdoors by hand")
def test_factors() -> None:
    assert castors.INDOOR_FACTOR_RATIO == 1.5
    assert castors.OUTDOOR_FACTOR_RATIO == 2.2
