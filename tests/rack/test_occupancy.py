from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.rack import clashes, elevation, free_units, homeless, seats
from rigproof.rack.occupancy import back_to_back
from rigproof.rig import Rig
from rigproof.rigfile.load import parse

HEAD = "format: 1\nrig: {name: Example}\n"

# Types of 1, 1 (half), 2, 3 and 5 units.
TYPES = {
    "hub-16": 1,
    "transmitter-ears": 1,
    "drawer-2": 2,
    "drawer-3": 3,
    "mixer-rack-32": 5,
}


def rig_of(text: str) -> Rig:
    return parse((HEAD + text).encode())


@pytest.mark.published("EIA-310-D unit grid: 3+1+1+2+2+1 U in a 12 U case leave 2 U")
def test_free_units_of_a_full_case() -> None:
    units = iter((1, 4, 5, 6, 8, 10))
    types = ("drawer-3", "hub-16", "hub-16", "drawer-2", "drawer-2", "hub-16")
    gear = ", ".join(
        f"{{id: g{n}, type: {type_}, unit: {unit}}}"
        for n, (type_, unit) in enumerate(zip(types, units, strict=True))
    )
    rig = rig_of(f"case: {{type: case-12}}\ngear: [{gear}]\n")
    assert free_units(rig) == (11, 12)
    assert len(free_units(rig, "rear")) == 12


@pytest.mark.published("EIA-310-D unit grid: 2 U at U5 and 1 U at U6 share one unit")
def test_two_boxes_want_one_unit() -> None:
    rig = rig_of("""
case: {type: case-12}
gear:
  - {id: a, type: drawer-2, unit: 5}
  - {id: b, type: hub-16, unit: 6}
""")
    assert [clash.units for clash in clashes(seats(rig))] == [(6,)]


def test_two_halves_share_a_unit() -> None:
    rig = rig_of("""
case: {type: case-4}
gear:
  - {id: left, type: transmitter-ears, unit: 1, half: left}
  - {id: right, type: transmitter-ears, unit: 1, half: right}
""")
    assert list(clashes(seats(rig))) == []
    found = elevation(rig)
    assert found is not None
    assert sorted((box.x_mm, box.width_mm) for box in found.boxes) == [
        (0.0, 241.3),
        (241.3, 241.3),
    ]


def test_left_of_the_rear_is_behind_right_of_the_front() -> None:
    """Seen from behind, left and right change places."""
    text = """
case: {{type: case-4}}
gear:
  - {{id: near, type: transmitter-ears, unit: 1, half: left}}
  - {{id: back, type: transmitter-ears, unit: 1, half: {half}, face: rear}}
"""
    beside = seats(rig_of(text.format(half="left")))
    behind = seats(rig_of(text.format(half="right")))
    assert list(back_to_back(beside)) == []
    assert len(list(back_to_back(behind))) == 1


def test_what_rides_in_a_drawer_takes_no_unit_and_has_a_place() -> None:
    rig = rig_of("""
case: {type: case-4}
gear:
  - {id: drawer, type: drawer-2, unit: 1}
  - {id: switch, type: switch-10-stage, inside: drawer}
  - {id: loose, type: hub-16}
  - {id: shoved-in, type: hub-16, place: case}
  - {id: on-stage, type: hub-16, place: stage}
""")
    (seat,) = seats(rig)
    assert [gear.id for gear in seat.riders] == ["switch"]
    assert [gear.id for gear in homeless(rig)] == ["loose", "shoved-in"]


@st.composite
def cases(draw: st.DrawFn) -> list[tuple[str, int, str, str | None]]:
    boxes = []
    for _ in range(draw(st.integers(1, 9))):
        type_ = draw(st.sampled_from(sorted(TYPES)))
        half = (
            draw(st.sampled_from([None, "left", "right"])) if type_ == "transmitter-ears" else None
        )
        boxes.append(
            (type_, draw(st.integers(1, 12)), draw(st.sampled_from(["front", "rear"])), half)
        )
    return boxes


@settings(max_examples=100, deadline=None)
@given(cases())
def test_clashes_and_free_units_against_a_plain_grid(
    boxes: list[tuple[str, int, str, str | None]],
) -> None:
    """Each box as a set of (face, unit, half) cells: two boxes clash where the sets meet.

    Of several boxes on one cell only the first is named, but every later one is told.
    """
    cells: dict[str, set[tuple[str, int, str]]] = {}
    gear = []
    for n, (type_, unit, face, half) in enumerate(boxes):
        extra = f", half: {half}" if half else ""
        gear.append(f"{{id: g{n}, type: {type_}, unit: {unit}, face: {face}{extra}}}")
        cells[f"g{n}"] = {
            (face, u, side)
            for u in range(unit, unit + TYPES[type_])
            for side in ([half] if half else ["left", "right"])
        }
    rig = rig_of(f"case: {{type: case-16-castors}}\ngear: [{', '.join(gear)}]\n")
    wanted = {frozenset(pair) for pair in combinations(cells, 2) if cells[pair[0]] & cells[pair[1]]}
    found = {frozenset((c.one.gear.id, c.other.gear.id)) for c in clashes(seats(rig))}
    assert found <= wanted
    order = [seat.gear.id for seat in seats(rig)]
    late = {max(pair, key=order.index) for pair in wanted}
    assert {max(pair, key=order.index) for pair in found} == late
    used = {unit for face, unit, _ in set().union(*cells.values()) if face == "front"}
    assert set(free_units(rig)) == set(range(1, 17)) - used
