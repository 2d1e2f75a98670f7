import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import rackgrid
from tests.reference.rows import Calls, Row, assert_agrees, judged_by

CALLS: Calls = {
    ("rack/dimensions", "rack unit height"): lambda row: rackgrid.opening_mm(int(row["n"])),
    ("rack/dimensions", "* U opening height"): lambda row: rackgrid.opening_mm(int(row["n"])),
    ("rack/dimensions", "hole row to hole row, *"): lambda row: rackgrid.HOLE_ROWS_MM,
    ("rack/dimensions", "a 445 mm wide chassis body: *"): lambda row: rackgrid.side_clearance_mm(
        opening_width_mm=row["opening"], body_width_mm=row["body"]
    ),
    ("rack/dimensions", "first hole centre *"): lambda row: rackgrid.hole_height_mm(1),
    ("rack/dimensions", "third hole centre *"): lambda row: rackgrid.hole_height_mm(3),
    ("rack/dimensions", "height of hole number *"): lambda row: rackgrid.hole_height_mm(
        int(row["n"])
    ),
    ("rack/dimensions", "? U *panel height *"): lambda row: rackgrid.panel_height_mm(int(row["n"])),
}


@judged_by(CALLS, "systems.csv")
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@pytest.mark.published("IEC 60297-3-100 minimum opening 450 mm; EIA-310-D, 18.312 in")
def test_constants() -> None:
    assert rackgrid.OPENING_WIDTH_MM == 450
    assert pytest.approx(18.312 * 25.4, abs=0.1) == rackgrid.HOLE_ROWS_MM


@given(st.integers(1, 60))
def test_a_panel_has_play_and_its_holes_inside(units: int) -> None:
    assert 0 < rackgrid.opening_mm(units) - rackgrid.panel_height_mm(units) < 1
    holes = [rackgrid.hole_height_mm(n) for n in range(1, 3 * units + 1)]
    assert holes == sorted(set(holes))
    assert 0 < holes[0] < holes[-1] < rackgrid.opening_mm(units)
