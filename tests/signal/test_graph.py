"""What leads where: every kind of connection of the trade, in rigs as people write them."""

import pytest

from rigproof.signal import Hop
from rigproof.signal.graph import Graph, possible
from rigproof.signal.reach import reach
from tests.bands import reached, seen, way, whole

PRACTICE = pytest.mark.published("common practice, no source")


def hop(graph: Graph, start: str, end: str) -> Hop:
    found = [
        h
        for h in graph.hops
        if (graph.nodes[h.start].key, graph.nodes[h.end].key) == (start, end) and not h.open
    ]
    assert len(found) == 1, f"{len(found)} hops from {start} to {end}"
    return found[0]


SPLIT = """
sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}]
gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-16}]
leads:
  - {id: ours, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}
  - {id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}
patch: [{source: voice, plug: split.in.3, channel: 3, phantom: "on", gain_db: 31}]
"""


@PRACTICE
def test_split_front_is_a_patch_panel() -> None:
    """An eight-way split panel at the front serves as patch panel: each plug is in both places."""
    graph = seen(SPLIT).graph
    assert {"mixer.ch.3", "house.3"} <= reached(graph, "voice")
    assert not {"mixer.ch.2", "house.2"} & reached(graph, "voice")


def test_direct_leg_passes_48_v_and_isolated_leg_does_not() -> None:
    graph = seen(SPLIT).graph
    direct = hop(graph, "split.in.3", "split.direct.3")
    assert direct.phantom
    assert not direct.isolated
    assert direct.works_off
    assert not hop(graph, "split.in.3", "split.coil.3").phantom
    isolated = hop(graph, "split.coil.3", "split.iso.3")
    assert isolated.isolated
    assert not isolated.phantom
    assert isolated.works_off


def test_a_gain_stands_at_the_preamp_the_plug_leads_to() -> None:
    graph = seen(SPLIT).graph
    assert hop(graph, "mixer.in.3", "mixer.pre.3").gain_db == pytest.approx(31)
    assert hop(graph, "mixer.in.2", "mixer.pre.2").gain_db is None
    assert hop(graph, "split.in.3", "split.coil.3").gain_db == pytest.approx(-0.7)


def test_a_hop_needs_what_it_runs_through() -> None:
    graph = seen(SPLIT).graph
    assert hop(graph, "split.direct.3", "mixer.in.3").needs == ("ours",)
    assert hop(graph, "mixer.pre.3", "mixer.adc.3").needs == ("mixer",)
    assert hop(graph, "voice/mic.out", "split.in.3").needs == ("voice/lead",)


def test_delay_of_a_converter_stands_on_the_hop_into_it() -> None:
    graph = seen(SPLIT).graph
    assert hop(graph, "mixer.pre.3", "mixer.adc.3").delay_ms == pytest.approx(0.4)
    assert hop(graph, "mixer.in.3", "mixer.pre.3").delay_ms is None


THIRTY_TWO = """
sources:
  - {id: near, name: Near, family: voices, mic: mic-vocal-dynamic}
  - {id: far, name: Far, family: voices, mic: mic-vocal-dynamic}
people: [{id: ana, name: Ana, ears: {plug: box.out.1}}]
gear: [{id: mixer, type: mixer-rack-16}, {id: box, type: stage-box-16x8}]
leads: [{id: link, type: lead-network-locking, from: box.link, to: mixer.link}]
clocks:
  - {gear: mixer, rate_hz: 48000}
  - {gear: box, follows: mixer, over: link, rate_hz: 48000}
patch: [{source: near, plug: mixer.in.16, channel: 16}, {source: far, plug: box.in.16, channel: 32}]
mixes:
  - {id: mix, listeners: [ana], bus: 1, out: mixer.link.tx.1, sends: [{from: far, level_db: -6}]}
"""


@PRACTICE
def test_sixteen_local_and_sixteen_over_one_network_cable_make_32() -> None:
    view = seen(THIRTY_TWO)
    assert "mixer.ch.16" in reached(view.graph, "near")
    assert "mixer.ch.32" in reached(view.graph, "far")
    over_the_cable = [h for h in view.graph.hops if h.needs == ("link",)]
    there = [h for h in over_the_cable if view.graph.nodes[h.start].gear == "box"]
    assert len(there) == 16
    assert len(over_the_cable) - len(there) == 8  # and eight come back by the same cable


def test_a_link_works_both_ways() -> None:
    graph = seen(THIRTY_TWO).graph
    assert way(graph, "mixer.bus.1", "box.out.1") == [
        "mixer.bus.1", "mixer.link.tx.1", "box.link.rx.1", "box.dac.1", "box.out.1",
    ]  # fmt: skip
    assert "ear:ana.1" in reached(graph, "far")
    assert "ear:ana.2" in reached(graph, "far")  # one output, both sides
    assert "ear:ana.1" not in reached(graph, "near")


def test_digital_hops_run_on_the_leaders_clock() -> None:
    graph = seen(THIRTY_TWO).graph
    assert hop(graph, "box.link.tx.16", "mixer.link.rx.16").clock == "mixer"
    assert hop(graph, "box.adc.16", "box.link.tx.16").clock == "mixer"
    assert hop(graph, "box.in.16", "box.pre.16").clock == ""


def test_a_send_carries_its_level() -> None:
    graph = seen(THIRTY_TWO).graph
    assert hop(graph, "mixer.ch.32", "mixer.bus.1").gain_db == pytest.approx(-6)
    assert hop(graph, "mixer.ch.32", "mixer.bus.1").means == "send"


INSERT = """
sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}]
gear: [{id: desk, type: mixer-analogue-16}, {id: effect, type: processor-voice}]
leads:
  - {id: y, type: y-insert, from: desk.insert.2, to: effect.in.1, back: effect.out.1}
patch: [{source: voice, plug: desk.in.2, channel: 2}]
"""


def test_an_insert_lead_goes_out_and_back() -> None:
    graph = seen(INSERT).graph
    # The plug parts the way: the channel takes what comes back, and what it sounded like is gone.
    assert way(graph, "desk.in.2", "desk.ch.2") == [
        "desk.in.2", "desk.pre.2", "desk.insert.2.tx.1", "effect.in.1", "effect.effect.1",
        "effect.out.1", "desk.insert.2.rx.1", "desk.ch.2",
    ]  # fmt: skip
    into = [graph.nodes[graph.hops[n].start].key for n in graph.bringing[graph.index["desk.ch.2"]]]
    assert into == ["desk.insert.2.rx.1"]
    assert "desk.insert.2.rx.1" in reached(graph, "voice")
    assert "desk.insert.1.rx.1" not in reached(graph, "voice")
    # Without the lead the channel hears its preamp.
    plain = "\n".join(line for line in INSERT.splitlines() if "id: y," not in line)
    graph = seen(plain.replace("leads:", "")).graph
    assert way(graph, "desk.in.2", "desk.ch.2") == ["desk.in.2", "desk.pre.2", "desk.ch.2"]


LOOP = """
sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}]
gear: [{id: mixer, type: mixer-rack-16}, {id: effect, type: processor-voice}]
people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
leads:
  - {id: out, type: lead-xlr, from: mixer.out.7, to: effect.in.1}
  - {id: back, type: lead-xlr, from: effect.out.1, to: mixer.in.12}
patch: [{source: voice, plug: mixer.in.1, channel: 1}]
routes:
  - {from: mixer.adc.12, to: mixer.ch.12}
  - {from: mixer.bus.7, to: mixer.out.7}
  - {from: mixer.ch.12, to: mixer.bus.7, note: the effect feeds itself}
  - {from: mixer.ch.12, to: mixer.bus.1}
  - {from: mixer.bus.1, to: mixer.monitor.1}
mixes:
  - {id: verb, purpose: effect, bus: 7, out: mixer.out.7, sends: [{from: voice, level_db: -6}]}
  - {id: ears, listeners: [ana], bus: 1, sends: [{from: voice, level_db: 0}]}
"""


def test_an_effect_that_feeds_itself_ends_every_walk() -> None:
    graph = seen(LOOP).graph
    ears = graph.of_listener("ana")
    ways = graph.paths(graph.of_source("voice"), ears)
    told = [[graph.nodes[h.end].key for h in path] for path in ways]
    assert any("effect.out.1" in keys for keys in told)  # dry and by the effect
    assert any("effect.out.1" not in keys for keys in told)
    assert all(len(set(keys)) == len(keys) for keys in told)


Y_AND_FANS = """
sources:
  - {id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}
  - {id: bass, name: Bass, family: bass, mic: mic-kick-dynamic}
gear:
  - {id: panel, type: panel-xlr-16-db25}
  - {id: mixer, type: mixer-rack-16}
  - {id: other, type: mixer-rack-18}
leads:
  - {id: y, type: y-xlr, from: voice-box.out, to: mixer.in.15-16}
  - {id: fan, type: fan-db25-xlr-m-8, from: panel.rear.2, to: other.in.1-8}
patch: [{source: bass, plug: panel.front.12}, {source: voice, plug: voice-box.in}]
"""


def test_y_leads_split_and_fans_keep_their_order() -> None:
    text = Y_AND_FANS.replace("gear:", "gear:\n  - {id: voice-box, type: talk-switch}")
    graph = seen(text).graph
    assert {"mixer.in.15", "mixer.in.16"} <= reached(graph, "voice")
    # The second D-sub begins at line 9: line 12 is its fourth pair.
    assert "other.in.4" in reached(graph, "bass")
    assert not {f"other.in.{n}" for n in range(1, 9) if n != 4} & reached(graph, "bass")


def test_two_into_one_join() -> None:
    graph = seen("""
sources:
  - {id: one, name: One, family: keys, mic: mic-vocal-dynamic, stereo: true}
gear: [{id: panel, type: panel-xlr-8-in}, {id: mixer, type: mixer-rack-16}]
leads: [{id: y, type: y-xlr, from: panel.rear.1-2, to: mixer.in.5}]
patch: [{source: one, plug: panel.front.1-2}]
""").graph
    ends = graph.reached([graph.of_source("one")[1]])
    assert "mixer.in.5" in {graph.nodes[n].key for n in ends}


def test_stereo_stays_side_by_side() -> None:
    graph = whole("demo").graph
    left, right = graph.of_source("keys")
    ears = graph.of_listener("tamsin")
    assert graph.nodes[ears[0]].key == "ear:tamsin.1"
    assert ears[0] in graph.reached([left])
    assert ears[1] not in graph.reached([left])
    assert ears[1] in graph.reached([right])


def test_mono_is_heard_on_both_sides() -> None:
    graph = whole("demo").graph
    assert set(graph.of_listener("tamsin")) <= graph.reached(graph.of_source("click"))


def test_one_di_for_both_lanes_or_one_for_each() -> None:
    graph = whole("demo").graph
    assert {"keys/di.out.1", "keys/di.out.2"} <= reached(graph, "keys")
    assert {"overheads/mic-1.out", "overheads/mic-2.out"} <= reached(graph, "overheads")


def test_a_di_leaves_by_its_output_and_not_by_its_thru() -> None:
    graph = whole("demo").graph
    assert [h for h in graph.hops if graph.nodes[h.start].key == "sub/di.thru"] == []
    assert "split-a.in.12" in reached(graph, "sub")


def test_a_source_may_start_at_a_box() -> None:
    graph = whole("demo").graph
    assert way(graph, "source:tamsin-voice", "split-b.in.6") == [
        "source:tamsin-voice", "receiver.out.1", "split-b.in.6",
    ]  # fmt: skip


def test_what_the_house_sends_back_arrives_at_ears_and_not_at_the_house() -> None:
    graph = whole("demo").graph
    there = reached(graph, "house-talk")
    assert {"mixer.ch.35", "ear:runa.1", "ear:tamsin.2"} <= there
    assert {key for key in there if key.startswith("house.")} == {"house.33"}


def test_wireless_carries_both_sides() -> None:
    graph = whole("twelve").graph
    path = way(graph, "mixer.bus.3", "ear:kofi.1")
    assert path is not None
    assert path[path.index("tx-a.rf.2.1") + 1] == "pack-kofi.rf.1"
    assert "ear:kofi.2" not in {
        graph.nodes[n].key for n in graph.reached([graph.index["mixer.bus.3"]])
    }


def test_the_delay_of_a_stream_is_its_latency() -> None:
    graph = whole("twelve").graph
    stream = hop(graph, "card.net.tx.1", "house.1")
    assert stream.delay_ms == pytest.approx(1)
    assert stream.means == "stream"
    assert stream.needs == ("to-house",)


@PRACTICE
def test_a_feed_of_sixteen_carries_a_kit_as_one_pair() -> None:
    """A personal-mixer feed carries 16 channels, so a drum kit travels as one stereo pair."""
    view = whole("demo")
    lanes = [n for n in view.graph.nodes if n.key.startswith("hub.feed.")]
    assert len(lanes) == 16
    for source in ("hat", "tom", "floor-tom", "overheads", "pads"):
        there = reached(view.graph, source)
        assert {"pm-runa.slot.1", "pm-runa.slot.2"} <= there, source
        assert not {f"pm-runa.slot.{n}" for n in range(3, 17)} & there, source


def test_forty_slots_over_one_cable() -> None:
    graph = whole("twelve").graph
    over = [h for h in graph.hops if h.needs == ("to-pm-lumi",)]
    assert len(over) == 40
    assert "pm-lumi.slot.37" in reached(graph, "click")
    assert {"ear:lumi.1", "ear:lumi.2"} <= reached(graph, "click")


@PRACTICE
def test_a_six_channel_headphone_amp_with_four_pairs_leaves_two() -> None:
    """Four stereo pairs wired to a six-channel headphone amplifier: two amplifiers hear nothing."""
    graph = seen("""
sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}]
gear: [{id: mixer, type: mixer-rack-16}, {id: amp, type: headphone-amp-6-quiet}]
leads: [{id: loom, type: y-xlr-2-jack-stereo, from: mixer.out.1-8, to: amp.in.1-4}]
patch: [{source: voice, plug: mixer.in.1, channel: 1}]
routes: [{from: mixer.ch.1, to: mixer.out.1}, {from: mixer.ch.1, to: mixer.out.8}]
""").graph
    fed = {n for n in range(1, 7) if graph.entering[graph.index[f"amp.in.{n}.1"]]}
    assert fed == {1, 2, 3, 4}
    assert {"amp.phones.1.1", "amp.phones.4.2"} <= reached(graph, "voice")
    assert not {"amp.phones.5.1", "amp.phones.6.1"} & reached(graph, "voice")


@pytest.mark.parametrize(
    ("from_", "to", "met"),
    [
        (
            "box.link.tx.1-4",
            "house.11-14",
            {"house.11": "box.link.tx.1", "house.14": "box.link.tx.4"},
        ),
        ("box.link", "house.1-16", {"house.1": "box.link.tx.1", "house.16": "box.link.tx.16"}),
        ("box.link", "house.1-20", {"house.16": "box.link.tx.16"}),
        ("box.out.3-4", "house.21-22", {"house.21": "box.out.3", "house.22": "box.out.4"}),
    ],
)
def test_lane_ranges_meet_in_order(from_: str, to: str, met: dict[str, str]) -> None:
    graph = seen(f"""
gear: [{{id: box, type: stage-box-16x8}}]
leads: [{{id: l, type: lead-network-locking, from: {from_}, to: {to}}}]
""").graph
    ends = {
        graph.nodes[h.end].key: graph.nodes[h.start].key for h in graph.hops if h.means == "lead"
    }
    assert met.items() <= ends.items()
    assert "house.17" not in ends  # what is left over on one side stays unconnected


def test_polarity_pads_and_blockers_stand_on_their_hops() -> None:
    graph = seen("""
gear: [{id: a, type: panel-xlr-8-in}, {id: b, type: panel-xlr-8-in}]
leads:
  - {id: turn, type: adapter-xlr-polarity, from: a.rear.1, to: b.front.1}
  - {id: pad, type: adapter-xlr-pad-20, from: a.rear.2, to: b.front.2}
  - {id: block, type: adapter-xlr-block, from: a.rear.3, to: b.front.3}
""").graph
    turned = hop(graph, "a.rear.1", "b.front.1")
    assert (turned.inverts, turned.gain_db, turned.phantom) == (True, None, True)
    assert hop(graph, "a.rear.2", "b.front.2").gain_db == pytest.approx(-20)
    assert not hop(graph, "a.rear.3", "b.front.3").phantom


def test_two_choices_of_one_box_are_open_until_somebody_sets_them() -> None:
    view = seen(SPLIT)
    out = view.graph.index["mixer.out.1"]
    assert out not in view.graph.reached(view.graph.of_source("voice"))
    assert "voice" in reach(view.graph, view.rig.sources, through=possible).at([out])
