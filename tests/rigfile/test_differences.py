"""Two states of a rig file: exactly what was touched is named, and nothing else."""

from functools import cache

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigproof.rig import Rig
from rigproof.rigfile import library
from rigproof.rigfile.differences import differences
from rigproof.rigfile.edit import Add, Edit, Move, Remove, Rename, Set, apply
from rigproof.rigfile.load import parse
from tests.bands import WHOLE

DEMO = WHOLE["demo"]


@cache
def text() -> str:
    return (DEMO / "rig.yaml").read_text(encoding="utf-8")


def read(said: str) -> Rig:
    types, faults = library.own_types(DEMO)
    assert not faults
    return parse(said.encode(), types=types)


@cache
def demo() -> Rig:
    return read(text())


Touched = tuple[str, str, str]  # section, id, what


def ids(section: str) -> list[str]:
    return [entry.id for entry in getattr(demo().file, section)]


# Every kind of thing with a name; leads, knobs, spares and links may go without tearing others.
NAMED = ("people", "sources", "groups", "gear", "leads", "mixes", "feeds", "radio", "venues")
FREE_TO_GO = ("leads", "radio")
NEW: dict[str, dict[str, object]] = {
    "people": {"name": "Someone new"},
    "gear": {"type": "drawer-2", "unit": 19},
    "venues": {"name": "Another hall", "desk": {"takes": "tails"}},
    "sources": {"name": "Something new", "family": "other", "mic": "mic-kick-dynamic"},
}
FIELDS: dict[str, tuple[str, object]] = {
    "people": ("plays", "the spoons"),
    "sources": ("note", "ein neuer Satz: mit # und 'Zeichen'"),
    "gear": ("note", "on its head"),
    "leads": ("length_m", 7.25),
    "mixes": ("note", "louder"),
    "venues": ("desk/distance_m", 31),
    "radio": ("frequency_mhz", 601.1),
}


@st.composite
def edits(draw: st.DrawFn) -> tuple[list[Edit], set[Touched]]:
    """A few edits, each of a thing of its own, and what they touch."""
    made: list[Edit] = []
    touched: set[Touched] = set()
    used: set[tuple[str, str]] = set()
    for number in range(draw(st.integers(1, 4))):
        kind = draw(st.sampled_from(["rename", "set", "add", "remove"]))
        sections = {"rename": NAMED, "set": tuple(FIELDS), "add": tuple(NEW), "remove": FREE_TO_GO}
        section = draw(st.sampled_from(sections[kind]))
        if kind == "add":
            name = f"new-{number}"
            made.append(Add(section, {"id": name, **NEW[section]}))  # type: ignore[dict-item]
            touched.add((section, name, "new"))
            continue
        name = draw(st.sampled_from(ids(section)))
        if (section, name) in used:
            continue
        used.add((section, name))
        if kind == "rename":
            made.append(Rename(f"{section}/{name}", f"now-{number}"))
            touched.add((section, f"now-{number}", "renamed"))
        elif kind == "remove":
            made.append(Remove(f"{section}/{name}"))
            touched.add((section, name, "gone"))
        else:
            key, value = FIELDS[section]
            made.append(Set(f"{section}/{name}/{key}", value))  # type: ignore[arg-type]
            touched.add((section, name, "changed"))
    return made, touched


def told(before: Rig, after: Rig) -> set[Touched]:
    return {(one.section, one.id, one.what) for one in differences(before, after)}


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(edits())
def test_exactly_what_was_touched_is_named(drawn: tuple[list[Edit], set[Touched]]) -> None:
    made, touched = drawn
    after = read(apply(text(), made))
    assert told(demo(), after) == touched
    # And back again: what came goes, what was renamed gets its old name.
    back = {(section, what) for section, _, what in told(after, demo())}
    turned = {"new": "gone", "gone": "new"}
    assert back == {(section, turned.get(what, what)) for section, _, what in touched}


@pytest.mark.parametrize("name", WHOLE)
def test_a_rig_does_not_differ_from_itself(name: str) -> None:
    from rigproof.rigfile.load import load

    rig = load(WHOLE[name])
    assert differences(rig, rig) == ()


@pytest.mark.parametrize(
    "edit",
    [
        Move("sources/kick", after="fiddle"),
        Move("leads/feed", before="stage-link"),
        Move("people/bo", before="runa"),
    ],
)
def test_the_order_of_entries_is_no_difference(edit: Edit) -> None:
    assert told(demo(), read(apply(text(), [edit]))) == set()


def test_comments_and_spelling_are_no_difference() -> None:
    said = text().replace("length_m: 1.5", "length_m: 1.50")
    said = said.replace("\nsources:", "\n# new\nsources:")
    assert said != text()
    assert told(demo(), read(said)) == set()


def test_values_before_and_after() -> None:
    after = read(
        apply(
            text(),
            [
                Set("mixes/mix-bo/listeners", ["bo", "ade"]),
                Set("venues/club/desk/lines_free", 18),
                Set("leads/feed/length_m", {"value": 1, "from": "measured"}),
                Remove("sources/kick/drop"),
            ],
        )
    )
    found = {one.id: one.fields for one in differences(demo(), after)}
    (listeners,) = found["mix-bo"]
    assert (listeners.keys, listeners.before) == (("listeners",), ("bo",))
    assert listeners.after == ("bo", "ade")
    (free,) = found["club"]
    assert (free.keys, free.before, free.after) == (("desk", "lines_free"), 20, 18)
    (length,) = found["feed"]
    assert (length.before, length.after) == ((1.0, "assumed"), (1.0, "measured"))
    (drop,) = found["kick"]
    assert (drop.keys, drop.before, drop.after) == (("drop",), 30, None)


def test_a_patch_row_is_found_by_its_source_and_a_send_by_what_it_sends() -> None:
    after = read(
        apply(
            text(),
            [Set("patch/fiddle/gain_db", 22), Rename("sources/kick", "bass-drum")],
        )
    )
    assert told(demo(), after) == {
        ("patch", "fiddle", "changed"),
        ("sources", "bass-drum", "renamed"),
    }
    sends = text().replace("{from: brass, level_db: 0}", "{from: brass, level_db: -1}", 1)
    (one,) = differences(demo(), read(sends))
    assert [field.keys for field in one.fields] == [("sends", "brass", "level_db")]


def test_worth_stated_anew_is_one_change() -> None:
    after = read(text().replace("figures: assumed", "figures: measured"))
    (one,) = differences(demo(), after)
    assert (one.section, one.fields[0].keys) == ("rig", ("figures",))


def test_two_alike_are_not_taken_for_renamed() -> None:
    base = "format: 1\nrig: {name: E}\ngear:\n"
    old = parse(f"{base}  - {{id: a, type: drawer-2}}\n  - {{id: b, type: drawer-2}}\n".encode())
    new = parse(f"{base}  - {{id: c, type: drawer-2}}\n  - {{id: d, type: drawer-2}}\n".encode())
    assert {(one.id, one.what) for one in differences(old, new)} == {
        ("a", "gone"),
        ("b", "gone"),
        ("c", "new"),
        ("d", "new"),
    }


def test_a_gear_type_of_ones_own_that_says_something_else() -> None:
    types, _ = library.own_types(DEMO)
    import msgspec

    from rigproof.rig.quantity import Kilograms

    heavier = msgspec.structs.replace(types["touring-mixer"], weight_kg=Kilograms(9.5))
    after = Rig(demo().file, {**demo().types, "touring-mixer": heavier})
    (one,) = differences(demo(), after)
    assert (one.section, one.id, one.fields[0].keys) == ("types", "touring-mixer", ("weight_kg",))
