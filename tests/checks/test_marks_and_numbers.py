"""What is written on leads, which numbers people have learnt, what scenes and circuits hold."""

import pytest

from tests.checks.looking import findings, says

TAILS = """
gear: [{id: split, type: splitter-transformer-16}]
leads:
  - {id: a, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8, plugged: every show, A}
  - {id: b, type: tails-xlr-8, from: split.iso.9-16, to: house.9-16, plugged: every show, B}
venues:
  - {id: one, name: One, desk: {takes: tails}}
  - {id: two, name: Two, desk: {takes: tails}}
"""


@pytest.mark.parametrize(
    ("a", "b", "rules"),
    [
        ("label: T1", "label: T2", []),
        ("label: T", "label: t", ["label.lead-doubled", "plug.multi-ways-alike"]),
        ("label: T, at_venues: [one]", "label: T, at_venues: [two]", []),
        ("colour: red", "colour: blue", ["label.colour-alone"]),
        ("note: none", "note: none", ["plug.multi-ways-alike"]),
        ("label: T, colour: red", "label: T, colour: blue", ["label.lead-doubled"]),
    ],
)
def test_what_tells_two_fan_outs_apart(a: str, b: str, rules: list[str]) -> None:
    text = TAILS.replace("A}", f"{a}}}").replace("B}", f"{b}}}")
    asked = ("label.colour-alone", "label.lead-doubled", "plug.multi-ways-alike")
    assert [rule for rule in asked if says(rule, text)] == rules


ORDER = """
sources:
  - {id: kick, name: Kick, family: drums}
  - {id: pads, name: Pads, family: electronics}
  - {id: bass, name: Bass, family: bass}
  - {id: voice, name: Voice, family: voices}
gear: [{id: mixer, type: mixer-rack-24}]
patch:
  - {source: kick, plug: mixer.in.1, channel: K}
  - {source: pads, plug: mixer.in.2, channel: P}
  - {source: bass, plug: mixer.in.3, channel: B}
  - {source: voice, plug: mixer.in.4, channel: V}
"""


@pytest.mark.parametrize(
    ("channels", "told"),
    [
        ((1, 2, 3, 4), []),
        ((1, 20, 3, 4), []),  # what is in no block may stand anywhere
        ((3, 2, 1, 4), ["The bass lines stand before the drums in the list of channels."]),
        ((2, 3, 4, 1), ["The voices stand before the bass lines in the list of channels."]),
    ],
)
def test_the_order_of_the_trade(channels: tuple[int, ...], told: list[str]) -> None:
    text = ORDER
    for letter, number in zip("KPBV", channels, strict=True):
        text = text.replace(f"channel: {letter}}}", f"channel: {number}}}")
    assert says("numbering.unusual-order", text) == told


def test_numbers_that_were_learnt_excuse_their_order() -> None:
    text = ORDER
    for letter, number in zip("KPBV", (3, 2, 1, 4), strict=True):
        learnt = f"channel: {number}, learnt: {number}}}"
        text = text.replace(f"channel: {letter}}}", learnt)
    assert says("numbering.unusual-order", text) == []
    assert says("numbering.learnt-moved", text) == []
    moved = text.replace("channel: 3, learnt: 3", "channel: 9, learnt: 1")
    assert says("numbering.learnt-moved", moved) == [
        "Kick is on channel 9, and others have learnt 1; there is now Bass."
    ]


def test_a_scene_that_starts_the_show_mutes_by_source_or_by_group() -> None:
    text = """
sources:
  - {id: t, name: Talk, family: talk, talk_switch: none}
  - {id: u, name: Shout, family: talk, talk_switch: momentary}
groups: [{id: talks, sources: [t, u]}]
gear: [{id: mixer, type: mixer-rack-24}]
scenes: [{id: start, starts_show: START, recalls: [mutes], mutes: [MUTES]}]
"""
    for start, mutes, told in (
        ("true", "t", 0),
        ("true", "talks", 0),
        ("true", "u", 1),
        ("false", "u", 0),
    ):
        found = says("talk.open-at-start", text.replace("START", start).replace("MUTES", mutes))
        assert len(found) == told


CIRCUITS = """
case: {type: case-12}
gear:
  - {id: playback, name: Playback, type: interface-8x8, unit: 1}
  - {id: laptop, name: Laptop, type: laptop, place: stage}
leads: [{id: join, type: LEAD, from: laptop.FROM, to: playback.usb}]
venues:
  - {id: bar, name: The bar, desk: {takes: nothing}, circuits: [{id: left, amps_a: 16, LEFT}, {id: right, amps_a: 10, RIGHT}]}
"""  # noqa: E501 (an entry reads better whole)


@pytest.mark.parametrize(
    ("left", "right", "told"),
    [
        ("feeds: [case]", "feeds: [laptop]", 1),
        ("breaker: B", "feeds: [laptop]", 1),  # the rack takes the circuit with the most amps
        ("feeds: [laptop]", "feeds: [case]", 1),
        ("feeds: [case, laptop]", "breaker: B", 0),
        ("feeds: [case]", "breaker: B", 0),  # nobody says where the laptop hangs
    ],
)
def test_two_earths_meet_over_a_shield(left: str, right: str, told: int) -> None:
    text = CIRCUITS.replace("LEFT", left).replace("RIGHT", right)
    usb = text.replace("LEAD", "lead-usb-c-c").replace("FROM", "usb.1")
    assert len(findings("circuit.earths-differ", usb)) == told


def test_where_a_box_on_the_stage_gets_its_mains() -> None:
    text = """
gear:
  - {id: strip, type: strip-c13-8}
  - {id: laptop, name: Laptop, type: laptop, place: stage}
  - {id: pm, name: Pult, type: personal-mixer-16, place: stage}
venues:
  - {id: a, name: A, desk: {takes: nothing}, circuits: [{id: x, FEEDS}]}
  - {id: b, name: B, desk: {takes: nothing}, circuits: [{id: y}]}
  - {id: c, name: C, desk: {takes: nothing}}
"""
    asked = text.replace("FEEDS", "amps_a: 16")
    assert says("circuit.box-without-supply", asked) == [
        "Nothing says which outlet or circuit feeds Laptop at A and B."
    ]
    assert says("circuit.box-without-supply", text.replace("FEEDS", "feeds: [laptop]")) == [
        "Nothing says which outlet or circuit feeds Laptop at B."
    ]
    ours = asked + "power: {feeds: [{gear: laptop, outlet: strip.outlet.1}]}\n"
    assert says("circuit.box-without-supply", ours) == []


def test_turned_over_twice_is_the_right_way_round() -> None:
    text = """
people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
sources: [{id: voice, name: Voice, family: voices, from: rx.out.1}]
gear:
  - {id: rx, type: receiver-mic-dual}
  - {id: split, type: splitter-transformer-8}
  - {id: mixer, type: mixer-rack-24}
leads:
  - {id: one, type: adapter-xlr-polarity, from: rx.out.1, to: split.in.1}
  - {id: two, type: SECOND, from: split.direct.1, to: mixer.in.1}
  - {id: tail, type: lead-xlr, from: split.iso.1, to: house.1}
patch: [{source: voice, channel: 1}]
mixes:
  - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
     sends: [{from: voice}]}
"""
    assert says("polarity.turned", text.replace("SECOND", "lead-xlr")) == [
        "Voice arrives turned over at Ana and the house."
    ]
    assert says("polarity.turned", text.replace("SECOND", "adapter-xlr-polarity")) == [
        "Voice arrives turned over at the house."
    ]
