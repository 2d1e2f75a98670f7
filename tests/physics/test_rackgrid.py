import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import rackgrid

GRID = "EIA-310-D / IEC 60297-3-100, unit height"
HOLES = "EIA-310-D, universal hole pattern"
PANEL = "IEC 60297-3-100 panel height, 44.45 n - 0.8 mm (from memory)"


@pytest.mark.published(GRID)
@pytest.mark.parametrize(
    ("units", "printed_mm"), [(1, 44.45), (3, 133.35), (12, 533.4), (20, 889.0)]
)
def test_opening(units: int, printed_mm: float) -> None:
    assert rackgrid.opening_mm(units) == pytest.approx(printed_mm, abs=0.001)


@pytest.mark.published(HOLES)
@pytest.mark.parametrize(("hole", "printed_mm"), [(1, 6.35), (3, 38.1), (5, 66.675), (10, 139.7)])
def test_hole(hole: int, printed_mm: float) -> None:
    assert rackgrid.hole_height_mm(hole) == pytest.approx(printed_mm, abs=0.002)


@pytest.mark.published("EIA-310-D, 18.312 in between the rows of holes")
def test_rows_of_holes() -> None:
    assert pytest.approx(465.1, abs=0.1) == rackgrid.HOLE_ROWS_MM
    assert pytest.approx(18.312 * 25.4, abs=0.1) == rackgrid.HOLE_ROWS_MM


@pytest.mark.published(PANEL)
@pytest.mark.parametrize(("units", "printed_mm"), [(1, 43.65), (3, 132.55), (4, 177.0)])
def test_panel(units: int, printed_mm: float) -> None:
    assert rackgrid.panel_height_mm(units) == pytest.approx(printed_mm, abs=0.06)


@pytest.mark.published("EIA-310-D panel height, 1/32 in less than the unit (from memory)")
def test_panel_by_the_inch_rule() -> None:
    assert rackgrid.panel_height_mm(1) == pytest.approx((1.75 - 1 / 32) * 25.4, abs=0.02)


@pytest.mark.published("IEC 60297-3-100, least opening 450 mm (from memory)")
def test_play_beside_a_chassis() -> None:
    found = rackgrid.side_clearance_mm(
        opening_width_mm=rackgrid.OPENING_WIDTH_MM, body_width_mm=445
    )
    assert found == 2.5


@pytest.mark.published("engineering handbook, centre of mass (heavy parts high), worked figure")
def test_centre_of_gravity() -> None:
    found = rackgrid.centre_of_gravity_mm(weights_kg=[3, 9, 6, 12], heights_mm=[100, 250, 400, 550])
    assert found == pytest.approx(385, abs=0.05)


@pytest.mark.published("textbook exercise: 300, 500, 400 g at 0, 40, 70 cm")
def test_three_masses_on_a_line() -> None:
    found = rackgrid.centre_of_gravity_mm(weights_kg=[0.3, 0.5, 0.4], heights_mm=[0, 400, 700])
    assert found == pytest.approx(400)


@given(st.integers(1, 60))
def test_a_panel_has_play_and_its_holes_inside(units: int) -> None:
    assert 0 < rackgrid.opening_mm(units) - rackgrid.panel_height_mm(units) < 1
    holes = [rackgrid.hole_height_mm(n) for n in range(1, 3 * units + 1)]
    assert holes == sorted(set(holes))
    assert 0 < holes[0] < holes[-1] < rackgrid.opening_mm(units)
