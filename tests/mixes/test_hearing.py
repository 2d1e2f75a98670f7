"""Who hears what, how loud it was written, and what the places of a feed hold."""

import pytest

from rigproof.checks.rule import look
from rigproof.mixes import listenings, slot_uses
from rigproof.mixes.hearing import Listening
from tests.bands import seen, stated, whole

MIXES = """
people:
  - {id: ana, name: Ana, ears: {plug: amp.phones.1}}
  - {id: ben, name: Ben, ears: {plug: amp.phones.2}}
sources:
  - {id: kick, name: Kick, family: drums, mic: mic-kick-dynamic}
  - {id: snare, name: Snare, family: drums, mic: mic-instrument-dynamic}
  - {id: keys, name: Keys, family: keys, stereo: true, di: di-passive-stereo, connector: jack-ts-f}
groups: [{id: kit, sources: [kick, snare]}]
gear: [{id: mixer, type: mixer-rack-16}, {id: amp, type: headphone-amp-4}]
leads:
  - {id: pairs, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1}
  - {id: mono, type: y-xlr-2-jack-stereo, from: mixer.out.3-4, to: amp.in.2}
patch:
  - {source: kick, plug: mixer.in.1, channel: 1}
  - {source: snare, plug: mixer.in.2, channel: 2}
  - {source: keys, plug: mixer.in.3-4, channel: 3-4}
mixes:
  - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2, sends: [{from: kit, level_db: -9}, {from: snare, level_db: -3}, {from: keys}]}
  - {id: ben, listeners: [ben], bus: 3, out: mixer.out.3-4, sends: [{from: keys, level_db: 0}]}
"""  # noqa: E501


def of(view_text: str, person: str) -> Listening:
    view = seen(view_text)
    return next(x for x in listenings(view.rig, view.graph) if x.person == person)


def test_a_source_named_after_its_group_refines_the_level() -> None:
    levels: dict[str, float | None] = {
        heard.source: heard.level_db for heard in of(MIXES, "ana").heard
    }
    assert levels == {"kick": -9, "snare": -3, "keys": None}


def test_a_refined_source_has_one_send_in_the_graph() -> None:
    graph = seen(MIXES).graph
    sends: list[float | None] = [
        h.gain_db
        for h in graph.hops
        if h.means == "send"
        and graph.nodes[h.start].key == "mixer.ch.2"
        and graph.nodes[h.end].key == "mixer.bus.1"
    ]
    assert sends == [-3]


def test_mono_goes_to_both_sides_of_a_stereo_mix() -> None:
    graph = seen(MIXES).graph
    ears = set(graph.of_listener("ana"))
    assert ears <= graph.reached(graph.of_source("kick"))


def test_a_pair_in_a_stereo_mix_keeps_its_sides() -> None:
    graph = seen(MIXES).graph
    left, right = graph.of_source("keys")
    one, two = graph.of_listener("ana")
    assert (one in graph.reached([left]), two in graph.reached([left])) == (True, False)
    assert (one in graph.reached([right]), two in graph.reached([right])) == (False, True)


def test_a_pair_in_a_mono_mix_is_summed_and_heard_on_both_sides() -> None:
    graph = seen(MIXES).graph
    for lane in graph.of_source("keys"):
        assert set(graph.of_listener("ben")) <= graph.reached([lane])
    assert [h.source for h in of(MIXES, "ben").heard] == ["keys"]


def test_what_is_sent_and_does_not_arrive_is_missing() -> None:
    cut = MIXES.replace("{id: pairs,", "{id: pairs, at_venues: [],").replace(
        "from: mixer.out.1-2, to: amp.in.1}", "from: mixer.out.5-6, to: amp.in.1}"
    )
    ana = of(cut, "ana")
    assert ana.heard == ()
    assert ana.missing == ("kick", "snare", "keys")


def test_who_has_no_way_to_hear_hears_nothing() -> None:
    lost = of(MIXES.replace("ears: {plug: amp.phones.2}", "plays: bass"), "ben")
    assert (lost.heard, lost.missing) == ((), ("keys",))
    nobody = of(MIXES + "\nshows: []\n".replace("shows: []", ""), "ana")
    assert nobody.kind == "bus"


def test_a_personal_mixer_without_written_knobs_lets_every_filled_slot_through() -> None:
    view = whole("demo")
    runa = next(x for x in listenings(view.rig, view.graph) if x.person == "runa")
    filled = {s for use in slot_uses(view.rig) for s in use.sources}
    assert {h.source for h in runa.heard} == filled
    assert runa.kind == "personal mixer"
    assert all(h.level_db is None for h in runa.heard)


def test_sources_on_one_knob_know_each_other() -> None:
    view = whole("demo")
    runa = next(x for x in listenings(view.rig, view.graph) if x.person == "runa")
    kit = next(h for h in runa.heard if h.source == "hat")
    assert kit.slot == "1-2"
    assert set(kit.shared) == {"tom", "floor-tom", "overheads", "pads"}
    kick = next(h for h in runa.heard if h.source == "kick")
    assert (kick.slot, kick.shared) == ("3", ())


@pytest.mark.parametrize("name", ["demo", "trio", "twelve"])
def test_everybody_hears_what_was_written_for_them(name: str) -> None:
    view = whole(name)
    for listening in listenings(view.rig, view.graph, view.arriving):
        assert listening.missing == (), listening.person
        assert listening.heard, listening.person


@pytest.mark.parametrize(("name", "places"), [("demo", 16), ("twelve", 40)])
def test_every_place_of_a_feed_is_told_once(name: str, places: int) -> None:
    uses = slot_uses(whole(name).rig)
    numbers = [n for use in uses for n in use.numbers]
    assert numbers == list(range(1, places + 1))


def test_free_and_made_places() -> None:
    uses = {use.numbers: use for use in slot_uses(whole("twelve").rig)}
    assert uses[(32,)].slot is None
    assert uses[(3, 4)].made_by == "bus 13-14"
    assert uses[(3, 4)].grouped
    assert uses[(1,)].made_by == "channel"
    assert not uses[(1,)].grouped


def test_a_mix_that_says_only_whose_it_is_is_planned_whole() -> None:
    view = look(
        stated("""
people: [{id: ann, name: Ann, ears: {plug: mixer.phones}}]
sources:
  - {id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}
  - {id: own, name: Ann talks, family: talk, player: ann, mic: mic-talkback-dynamic}
  - {id: room, name: Broadcast, family: ambience, audience: house, mic: mic-small-condenser}
gear: [{id: mixer, type: mixer-rack-16}]
mixes: [{id: for-ann, listeners: [ann]}]
""")
    )

    # Everything but what is for the house alone and the person's own talk.
    assert [send.from_ for send in view.rig.mixes["for-ann"].sends] == ["voice"]
    assert view.rig.mixes["for-ann"].bus is not None
