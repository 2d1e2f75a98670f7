"""What single hops and places do: each case small enough to see by eye."""

from math import cos, inf, log10, pi

import pytest

from rigproof.checks.rule import View
from rigproof.signal.figures import Figures, Step
from tests.signal.pencil import FEED, GEAR, SPLIT, seen


def step_into(view: View, key: str) -> Step:
    """What the one set hop into a place does."""
    graph = view.graph
    (number,) = (n for n in graph.entering[graph.index[key]] if not graph.hops[n].open)
    return Figures(graph, view.rig).step(number)


def parts(view: View, key: str) -> dict[str, float]:
    return {part.name: part.value_db for part in step_into(view, key).parts}


def swapped(rig: str, *changes: tuple[str, str]) -> View:
    for old, _ in changes:
        assert old in rig or old in GEAR, old
    return seen(_changed(rig, changes), _changed(GEAR, changes))


def _changed(text: str, changes: tuple[tuple[str, str], ...]) -> str:
    for old, new in changes:
        text = text.replace(old, new)
    return text


def db(ratio: float) -> float:
    return 20 * log10(ratio)


# Loading: every input of the line at once, on the one way out of what drives it.


def test_a_split_is_loaded_once_where_the_microphone_drives_it() -> None:
    view = seen(SPLIT)
    assert parts(view, "split.in") == {"loaded by 2": pytest.approx(db(1200 / 1500))}
    assert parts(view, "split.a") == {}
    assert parts(view, "desk.in.1") == {}


def test_a_stated_impedance_of_a_miced_source_does_not_load_it_twice() -> None:
    view = swapped(SPLIT, ("spl_db: 106", "spl_db: 106, impedance_ohm: 600"))
    assert parts(view, "split.in") == {"loaded by 2": pytest.approx(db(1200 / 1500))}
    assert parts(view, "voice/mic.capsule") == {}


def test_a_source_that_leaves_a_socket_is_that_socket() -> None:
    """Its impedance goes before the type's, and the output is no load of its own."""
    rig = SPLIT.replace(
        "mic: own-mic, spl_db: 106", "from: desk.out.2, level_dbu: 4, impedance_ohm: 100"
    )
    rig = rig.replace("y-xlr-2-jack-stereo", "lead-xlr")
    rig = rig.replace("from: desk.out.1-2, to: amp.in", "from: desk.out.2, to: desk.in.2")
    rig = rig.replace("patch: [{source: voice, plug: split.in, channel: 1, gain_db: 40}]\n", "")
    view = seen(rig)
    assert parts(view, "desk.in.2") == {"loaded by 1": pytest.approx(db(3000 / 3100))}


def test_a_talkback_from_the_house_is_not_loaded_by_the_house() -> None:
    rig = SPLIT.replace(
        "mic: own-mic, spl_db: 106", "from: house.9, level_dbu: 0, impedance_ohm: 100"
    )
    rig = rig.replace("from: split.a, to: desk.in.1", "from: house.9, to: desk.in.1")
    rig = rig.replace("plug: split.in, channel: 1, ", "channel: 1, ")
    assert parts(seen(rig), "desk.in.1") == {"loaded by 1": pytest.approx(db(3000 / 3100))}


def test_what_is_looped_out_of_an_input_loads_the_same_source() -> None:
    """Keys in a DI box of the rack whose second socket goes on to 10 kohm, beside its 100."""
    rig = FEED.replace("di: own-di, ", "").replace("plug: split.in", "plug: box-di.in")
    rig = rig.replace(
        "gear:\n", "gear:\n  - {id: box-di, type: own-di}\n  - {id: amp, type: own-amp}\n"
    )
    leads = (
        "  - {id: on, type: lead-xlr, from: box-di.out, to: split.in}\n",
        "  - {id: backline, type: lead-jack-ts, from: box-di.thru, to: amp.in}\n",
    )
    alone = parts(seen(rig.replace("leads:\n", f"leads:\n{leads[0]}")), "box-di.in")
    both = parts(seen(rig.replace("leads:\n", f"leads:\n{leads[0]}{leads[1]}")), "box-di.in")
    assert alone == {"loaded by 1": pytest.approx(db(100 / 101))}
    # The mono plug reaches both lanes of the stereo socket: twice 10 kohm.
    load_ohm = 1 / (1 / 100_000 + 2 / 10_000)
    assert both == {"loaded by 3": pytest.approx(db(load_ohm / (1000 + load_ohm)))}


def test_two_pairs_of_earphones_on_one_socket_share_its_impedance() -> None:
    rig = SPLIT.replace(
        "people: [",
        "people: [{id: bo, name: Bo, ears: {plug: amp.phones.1, earphones: own-ears}}, ",
    )
    alone, shared = (parts(seen(text), "ear:ana.1") for text in (SPLIT, rig))
    assert alone["loaded by 1"] == pytest.approx(db(16 / 26))
    assert shared["loaded by 2"] == pytest.approx(db(8 / 18))


def test_two_outputs_joined_by_a_lead_load_each_other() -> None:
    """A passive sum: each output of 75 ohm works into the other's 75 ohm and the 10 kohm."""
    rig = SPLIT.replace("from: desk.out.1-2, to: amp.in", "from: desk.out.1-2, to: desk.in.2")
    rig = rig.replace("y-xlr-2-jack-stereo", "lead-xlr")
    view = seen(rig)
    graph = view.graph
    entering = graph.entering[graph.index["desk.in.2"]]
    figures = Figures(graph, view.rig)
    load_ohm = 1 / (1 / 3000 + 1 / 75)
    for number in entering:
        (part,) = figures.step(number).parts
        assert part.value_db == pytest.approx(db(load_ohm / (75 + load_ohm)))
    assert len(entering) == 2


def test_a_long_cable_takes_its_part_at_10_khz() -> None:
    """100 m of 60 pF/m on 300 ohm beside 3000 and 2000 ohm; first-order low pass."""
    view = swapped(SPLIT, ("to: desk.in.1}", "to: desk.in.1, length_m: 100}"))
    got = parts(view, "split.in")
    seen_ohm = 1 / (1 / 300 + 1 / 3000 + 1 / 2000)
    lead = view.rig.types["lead-xlr"].lead
    assert lead is not None
    assert lead.capacitance_pf_per_m is not None
    farad = 100 * float(lead.capacitance_pf_per_m) * 1e-12
    expected = -10 * log10(1 + (2 * pi * 10_000 * seen_ohm * farad) ** 2)
    assert expected < -0.01
    assert got["cable, at 10 kHz"] == pytest.approx(expected)


def test_a_pad_takes_what_it_says_and_parts_the_line() -> None:
    pad = ("type: lead-xlr, from: split.a", "type: adapter-xlr-pad-20, from: split.a")
    view = swapped(SPLIT, pad)
    assert parts(view, "desk.in.1") == {"gain": -20.0}
    assert parts(view, "split.in") == {"loaded by 1": pytest.approx(db(2000 / 2300))}


# Knobs: a gain stands once.


def test_a_patch_row_sets_a_preamp_beside_what_the_wire_does() -> None:
    wire, rest_of = (
        "        - {from: in, to: pre}\n",
        "        - {from: pre, to: adc}\n        - {from: dac",
    )
    view = swapped(SPLIT, (wire + rest_of, wire.replace("pre}", "pre, gain_db: -10}") + rest_of))
    assert step_into(view, "desk.pre.1").gain_db == pytest.approx(30)


def test_a_patch_row_goes_before_a_setting() -> None:
    view = swapped(SPLIT, ("settings: [", "settings: [{at: desk.pre.1, gain_db: 12}, "))
    assert parts(view, "desk.pre.1") == {"preamp gain": 40}


def test_a_setting_turns_a_preamp_without_a_patched_gain() -> None:
    view = swapped(
        SPLIT, (", gain_db: 40", ""), ("settings: [", "settings: [{at: desk.pre.1, gain_db: 12}, ")
    )
    assert parts(view, "desk.pre.1") == {"setting": 12}


def test_a_setting_replaces_what_the_stage_does_by_itself() -> None:
    fixed = (
        "kind: amplifier, count: 2, gain_min_db: -60",
        "kind: amplifier, count: 2, gain_db: 3, gain_min_db: -60",
    )
    assert parts(swapped(SPLIT, fixed), "amp.amp.1") == {"setting": -10}
    bare = swapped(SPLIT, fixed, ("settings: [{at: amp.amp, gain_db: -10}]\n", ""))
    assert parts(bare, "amp.amp.1") == {"amplifier gain": 3}


def test_an_unwritten_knob_is_assumed_and_an_unwritten_preamp_is_missing() -> None:
    view = swapped(SPLIT, (", gain_db: 40", ""), ("settings: [{at: amp.amp, gain_db: -10}]\n", ""))
    (part,) = step_into(view, "amp.amp.1").parts
    assert (part.name, part.value_db, part.figure.provenance) == ("knob, not written", 0, "assumed")
    assert part.off_db == 6
    assert step_into(view, "desk.pre.1").missing == ("the gain of desk.pre.1",)


# Units: a converter is told by what it joins.


@pytest.mark.parametrize(
    ("rig", "key", "unit"),
    [
        (FEED, "box.adc.1", "dBFS"),
        (FEED, "box.link.tx.1", "dBFS"),
        (FEED, "pm.slot.1", "dBFS"),
        (FEED, "pm.mix.1", "dBFS"),
        (FEED, "pm.dac.1", "dBu"),
        (FEED, "pm.amp.1", "dBu"),
        (FEED, "ear:bo.1", "dB SPL"),
        (SPLIT, "desk.pre.1", "dBu"),
        (SPLIT, "house.1", "dBu"),
    ],
)
def test_what_a_place_is_counted_in(rig: str, key: str, unit: str) -> None:
    view = seen(rig)
    assert Figures(view.graph, view.rig).unit(view.graph.index[key]) == unit


def test_a_feed_becomes_volts_by_the_full_scale_of_the_personal_mixer() -> None:
    assert parts(seen(FEED), "pm.dac.1") == {"0 dBFS to dBu": 8}


def test_a_converter_without_full_scale_is_missing() -> None:
    view = swapped(
        FEED, ("kind: converter, count: 2, full_scale_dbu: 8", "kind: converter, count: 2")
    )
    assert step_into(view, "pm.dac.1").missing == ("the full scale of pm.dac.1",)


# Noise.


def noise_at(view: View, key: str) -> float:
    figures = Figures(view.graph, view.rig)
    (noise,) = figures.noises_at(view.graph.index[key])
    return noise.level_db


def test_a_figure_that_does_not_say_how_it_was_read_is_taken_as_it_stands() -> None:
    stated = noise_at(seen(SPLIT), "desk.out.1")
    silent = noise_at(
        swapped(SPLIT, ("noise_dbu: -86, noise_weighting: a", "noise_dbu: -86")), "desk.out.1"
    )
    flat = noise_at(
        swapped(
            SPLIT, ("noise_dbu: -86, noise_weighting: a", "noise_dbu: -86, noise_weighting: flat")
        ),
        "desk.out.1",
    )
    assert stated == silent == -86
    assert flat == pytest.approx(-88.05, abs=0.01)


def test_a_source_with_noise_of_its_own_leaves_the_preamp_its_own_part() -> None:
    """Its thermal noise is in the microphone's figure: it is not counted a second time."""
    kind, figure = "kind: dynamic, sensitivity_mv_pa: 2", "sensitivity_mv_pa: 2"
    condenser = (kind, f"kind: condenser, {figure}, self_noise_dba: 20")
    before, after = seen(SPLIT), swapped(SPLIT, condenser)
    assert noise_at(after, "desk.pre.1") < noise_at(before, "desk.pre.1")
    assert noise_at(after, "voice/mic.capsule") == pytest.approx(
        20 - 93.98 + db(2e-3) + 2.218, abs=0.01
    )


def test_both_microphones_of_a_pair_hiss() -> None:
    pair = ("mic: own-mic, spl_db: 106", "mic: own-mic, spl_db: 106, stereo: true")
    rig = _changed(SPLIT, (pair, ("plug: split.in, channel: 1", "plug: desk.in.1-2, channel: 1-2")))
    rig = rig.replace("  - {id: to-desk, type: lead-xlr, from: split.a, to: desk.in.1}\n", "")
    gear = GEAR.replace("sensitivity_mv_pa: 2}", "sensitivity_mv_pa: 2, self_noise_dba: 20}")
    view = seen(rig, gear)
    figures = Figures(view.graph, view.rig)
    places = {view.graph.nodes[n.node].key for n in figures.noises if "own" in n.name}
    assert {p for p in places if p.endswith("capsule")} == {
        "voice/mic-1.capsule",
        "voice/mic-2.capsule",
    }


# Transformers that state their turns.


def test_turns_step_the_level_and_show_what_hangs_behind_by_their_square() -> None:
    """DI box, 200 ohm, into our stage box directly and a house of 2 kilohm behind 2 to 1 down."""
    coil = "{id: coil, kind: transformer, gain_db: -1}"
    view = swapped(FEED, (coil, "{id: coil, kind: transformer, turns_ratio: 0.5}"))
    behind_ohm = 2000 / 0.5**2
    loads_ohm = 1 / (1 / 3000 + 1 / behind_ohm)
    loaded = parts(view, "split.in")
    assert loaded["loaded by 2"] == pytest.approx(db(loads_ohm / (200 + loads_ohm)))
    assert parts(view, "split.coil") == {"turns": pytest.approx(db(0.5))}
    lines = view.figures.lines
    preamp_socket = view.graph.index["box.in.1"]
    assert [float(ohm) for ohm in lines.line(preamp_socket).beside(preamp_socket)] == [behind_ohm]


def test_a_preamp_behind_turns_looks_back_through_them() -> None:
    coil = "{id: coil, kind: transformer, gain_db: -1}"
    view = swapped(
        FEED,
        (coil, "{id: coil, kind: transformer, turns_ratio: 0.5}"),
        ("split.direct, to: box.in.1", "split.iso, to: box.in.1"),
        ("split.iso, to: house.1", "split.direct, to: house.1"),
    )
    (noise,) = view.figures.noises_at(view.graph.index["box.pre.1"])
    seen_ohm = 1 / (1 / 200 + 1 / 2000) * 0.5**2
    assert dict(noise.inputs)["source_ohm"] == pytest.approx(seen_ohm)


# Pan: what each side of a stereo mix gets.

BUSES = "{id: bus, kind: bus, count: 2, pairs: true}"


def panned(pan: str, centre: str = "") -> View:
    law = BUSES.replace("}", f", pan_centre_db: {centre}}}") if centre else BUSES
    return swapped(SPLIT, ("level_db: -6", f"level_db: -6{pan}"), (BUSES, law))


def sides(pan: str, centre: str = "") -> tuple[float, ...]:
    """The level of the voice at Ana's left and right ear."""
    view = panned(pan, centre)
    ends = view.graph.of_listener("ana")
    found = view.levels.together_db(ends)
    return tuple(found.get(end, -inf) for end in ends)


def test_a_pan_nobody_wrote_down_stands_in_the_middle() -> None:
    """A type that does not state its law is taken to lose nothing there: the loud side."""
    assert sides("") == sides(", pan: 0")
    assert sides("", "4.5") == sides(", pan: 0", "4.5")


def test_a_balance_keeps_its_own_side_and_takes_from_the_other() -> None:
    middle, _ = sides("")
    left, right = sides(", pan: 0.5")
    assert right == pytest.approx(middle)
    assert left == pytest.approx(middle + db(2**0.5 * cos(3 * pi / 8)))


def test_nothing_arrives_on_the_side_a_sound_is_panned_away_from() -> None:
    left, right = sides(", pan: -1", "3")
    assert right == -inf
    assert left == pytest.approx(sides("")[0])
    view = panned(", pan: -1")
    assert "voice" not in view.arriving.at([view.graph.index["desk.bus.2"]])


def test_a_stated_law_counts_and_stands_in_the_ladder_as_a_part_of_its_own() -> None:
    told = parts(panned(", pan: 0", "4.5"), "desk.bus.1")
    assert told == {"send": -6, "pan": pytest.approx(-4.5)}
    middle = sides("")
    assert sides(", pan: 0", "4.5") == pytest.approx([level - 4.5 for level in middle])
