import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.rack import balance, elevation
from rigproof.rack.elevation import Elevation
from rigproof.rig import Rig
from rigproof.rigfile.load import parse

HEAD = "format: 1\nrig: {name: Example}\n"


def drawn(text: str) -> Elevation:
    found = elevation(rig_of(text))
    assert found is not None
    return found


def rig_of(text: str) -> Rig:
    return parse((HEAD + text).encode())


def test_no_case_no_drawing() -> None:
    assert elevation(rig_of("gear: [{id: hub, type: hub-16, unit: 1}]\n")) is None


@pytest.mark.published("EIA-310-D / IEC 60297-3-100: 44.45 mm a unit, panels 0.8 mm lower")
def test_rectangles_stand_on_the_grid() -> None:
    found = drawn("case: {type: case-12}\ngear: [{id: box, type: drawer-3, unit: 3}]\n")
    (box,) = found.boxes
    assert found.height_mm == pytest.approx(533.4)
    assert (box.y_mm, box.height_mm) == pytest.approx((88.9, 132.55))
    assert (box.x_mm, box.width_mm) == pytest.approx((0, 482.6))


def test_depth_and_plugs_with_their_provenance() -> None:
    """headphone-amp-4: 200 mm deep, 60 before, 80 behind, from memory."""
    (box,) = drawn("case: {type: case-12}\ngear: [{id: a, type: headphone-amp-4, unit: 1}]\n").boxes
    assert (box.depth_mm, box.front_plugs_mm, box.depth_with_plugs_mm) == (200, 60, 280)
    assert box.provenance == "typical"


@pytest.mark.parametrize(
    ("bar_mm", "face", "meets"),
    [
        (290, "front", []),
        (279, "front", ["plugs"]),
        (199, "front", ["box"]),
        # From behind, a bar 120 mm from the front leaves 280 of the 400 mm between the rails.
        (120, "rear", []),
        (121, "rear", ["plugs"]),
        (201, "rear", ["box"]),
    ],
)
def test_a_bar_in_the_way(bar_mm: int, face: str, meets: list[str]) -> None:
    """200 mm deep and 80 mm of plugs, 400 mm from rail to rail, lids 60 and 70 mm."""
    found = drawn(f"""
case: {{type: case-12}}
gear: [{{id: a, type: headphone-amp-4, unit: 2, face: {face}}}]
obstacles: [{{at_unit: 2, from_front_mm: {bar_mm}}}, {{at_unit: 3, from_front_mm: 1}}]
""")
    assert [hit.meets for hit in found.hits] == meets
    assert all(hit.against == "bar" and hit.short_mm > 0 for hit in found.hits)


def test_boxes_back_to_back() -> None:
    """240 + 90 before, 90 + 80 behind: together 500 of 400 mm with plugs, 330 without."""
    found = drawn("""
case: {type: case-12}
gear:
  - {id: mixer, type: mixer-rack-24, unit: 1}
  - {id: strip, type: strip-c13-8, unit: 4, face: rear}
""")
    (hit,) = found.hits
    assert (hit.against, hit.meets, hit.needs_mm, hit.has_mm) == ("box", "plugs", 500, 400)
    assert hit.box.seat.gear.id == "mixer"
    assert hit.other is not None
    assert hit.other.seat.gear.id == "strip"


def test_other_units_do_not_meet() -> None:
    found = drawn("""
case: {type: case-12}
gear:
  - {id: mixer, type: mixer-rack-24, unit: 1}
  - {id: strip, type: strip-c13-8, unit: 5, face: rear}
""")
    assert found.hits == ()


@given(st.integers(1, 12), st.integers(1, 11))
def test_raising_a_heavy_box_raises_the_centre(low: int, step: int) -> None:
    """A plain moment sum over all boxes, in the test's own words."""
    high = min(12, low + step)

    def height_mm(unit: int) -> float:
        found = balance(
            rig_of(f"""
case: {{type: case-16-castors}}
gear:
  - {{id: ups, type: ups-rack-650, unit: {unit}}}
  - {{id: drawer, type: drawer-2, unit: 14}}
""")
        )
        assert found is not None
        by_hand = (12 * (unit - 0.5) + 4.2 * 14.0) * 44.45 / 16.2
        assert found.height_mm == pytest.approx(by_hand)
        return found.height_mm

    assert height_mm(low) <= height_mm(high)


def test_balance_needs_every_weight() -> None:
    assert balance(rig_of("case: {type: case-4}\n")) is None
