import pytest

from tests.checks.looking import findings, says


@pytest.mark.published("common practice, no source: antenna clear of the lid by about 15 mm")
def test_antenna_clearance() -> None:
    """antenna-combiner-4 stands out 60 mm; case lids: 60 mm, rear 70 mm."""
    text = "case: {{type: case-12}}\ngear: [{{id: a, name: Aerials, type: {}, unit: 12{}}}]\n"
    assert says("case.antenna-under-lid", text.format("antenna-combiner-4", "")) == [
        "The antennas of Aerials have 0 mm to the closed lid; 15 mm are wanted."
    ]
    assert [
        f.found
        for f in findings(
            "case.antenna-under-lid", text.format("antenna-combiner-4", ", face: rear")
        )
    ] == [10.0]
    # A router that stands out further than the lid is another rule's business.
    assert says("case.antenna-under-lid", text.format("router-wifi-rack", "")) == []
    assert len(says("case.lid-hits-plugs", text.format("router-wifi-rack", ""))) == 1


@pytest.mark.published("common practice, no source: racks of about 12 U serve such a rig")
def test_a_usual_rack_of_twelve_units_raises_nothing() -> None:
    text = """
case: {type: case-12-castors, light: true}
gear:
  - {id: filter, type: conditioner-c13, unit: 1}
  - {id: mixer, type: mixer-rack-24, unit: 2, rear_support: true}
  - {id: split, type: splitter-transformer-16, unit: 6}
  - {id: amp, type: headphone-amp-4, unit: 9}
  - {id: drawer, type: drawer-2, unit: 11}
"""
    for identifier in (
        "case.units-overlap", "case.beyond-top", "case.box-without-place", "case.too-deep",
        "case.lid-hits-plugs", "case.rear-clash", "case.heavy-on-top",
        "case.deep-box-without-rear-support", "case.antenna-under-lid", "case.panel-in-the-dark",
    ):  # fmt: skip
        assert says(identifier, text) == [], identifier


def test_a_bar_is_named_by_its_note() -> None:
    text = """
case: {type: case-12}
gear: [{id: mixer, name: Mixer, type: mixer-rack-24, unit: 1}]
obstacles: [{at_unit: 2, from_front_mm: 180, note: wooden cross bar}]
"""
    assert says("case.too-deep", text) == [
        "Mixer is 240 mm deep; the wooden cross bar behind it leaves 180 mm."
    ]


def test_plugs_alone_that_meet_a_bar() -> None:
    text = """
case: {type: case-12}
gear: [{id: mixer, name: Mixer, type: mixer-rack-24, unit: 1}]
obstacles: [{at_unit: 2, from_front_mm: 300}]
"""
    assert says("case.too-deep", text) == []
    assert says("case.lid-hits-plugs", text) == [
        "Mixer (units 1-4): with its plugs it needs 330 mm, and a bar leaves 300 mm."
    ]


def test_without_a_case_nothing_is_judged() -> None:
    text = "gear: [{id: mixer, type: mixer-rack-24}]\n"
    assert says("case.box-without-place", text) == []


def test_a_light_in_the_case_is_light() -> None:
    text = """
case: {type: case-12, light: false}
gear: [{id: lamp, type: rack-light, place: case}]
"""
    assert says("case.panel-in-the-dark", text) == []


def test_a_heap_of_boxes_in_one_unit_is_told_once_for_each() -> None:
    gear = ", ".join(f"{{id: b{n}, type: hub-16, unit: 3}}" for n in range(30))
    found = says("case.units-overlap", f"case: {{type: case-12}}\ngear: [{gear}]\n")
    assert len(found) == 29
