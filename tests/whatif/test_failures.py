"""One thing broken: held against a rig without it, and against small rigs worked out by hand."""

import pytest

from rigproof.checks.rule import View
from rigproof.signal.arrival import arrival
from rigproof.signal.build import build
from rigproof.whatif import Failure, dark_with, failures, rack_off
from tests.bands import seen, whole

# A drummer on a personal mixer fed over its lead, a singer by radio, playback from a computer.
BAND = """
people:
  - {id: runa, name: Runa, ears: {plug: pm.phones}}
  - {id: ana, name: Ana, ears: {plug: pack.phones}}
sources:
  - {id: voice, name: Voice, family: voices, player: ana, mic: mic-vocal-dynamic}
  - {id: hat, name: Hat, family: drums, player: runa, mic: mic-small-condenser}
  - {id: hand, name: Hand, family: voices, from: rx.out.1}
  - {id: tracks, name: Tracks, family: playback, stereo: true, from: pb.out.1-2}
gear:
  - {id: power, type: conditioner-c13, unit: 1}
  - {id: strip, type: strip-c13-8, unit: 2}
  - {id: split, type: splitter-transformer-8, unit: 3}
  - {id: mixer, type: mixer-rack-16, unit: 4}
  - {id: hub, type: hub-16, unit: 8}
  - {id: tx, type: transmitter-ears, unit: 9}
  - {id: rx, type: receiver-mic-dual, unit: 10}
  - {id: pb, type: interface-8x8, unit: 11}
  - {id: laptop, type: laptop, place: stage}
  - {id: pm, type: personal-mixer-16, place: stage, with_person: runa}
  - {id: pack, type: pack-wireless, place: person, with_person: ana}
  - {id: mic, type: wireless-handheld, place: person, with_person: ana}
leads:
  - {id: loom, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}
  - {id: tail, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8, plugged: every show}
  - {id: from-rx, type: lead-xlr, from: rx.out.1, to: mixer.in.9}
  - {id: from-pb, type: lead-jack-trs-xlr, from: pb.out.1-2, to: mixer.in.10-11}
  - {id: usb, type: lead-usb-c-c, from: laptop.usb.1, to: pb.usb, plugged: every show}
  - {id: to-tx, type: lead-xlr, from: mixer.out.1-2, to: tx.in.1-2}
  - {id: feed, type: lead-network-locking, from: mixer.feed, to: hub.feed}
  - {id: to-pm, type: lead-network-locking, from: hub.out.1, to: pm.feed, plugged: every show}
radio:
  - {id: ears, from: tx.rf, to: pack.rf}
  - {id: lead-voice, from: mic.rf, to: rx.rf.1}
patch:
  - {source: voice, plug: split.in.1, channel: 1}
  - {source: hat, plug: split.in.2, channel: 2, phantom: "on"}
  - {source: hand, channel: 9}
  - {source: tracks, channel: 10-11}
mixes:
  - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2,
     sends: [{from: voice}, {from: hat}, {from: hand}, {from: tracks}]}
  - {id: runa, listeners: [runa], stereo: true, on: pm}
feeds:
  - {id: feed, port: mixer.feed, slots: [{slot: 1, takes: [voice]}, {slot: 2, takes: [hat]},
     {slot: 3-4, takes: [tracks]}]}
power:
  feeds:
    - {gear: strip, outlet: power.outlet.1}
    - {gear: mixer, outlet: power.outlet.2}
    - {gear: tx, outlet: strip.outlet.1}
    - {gear: rx, outlet: strip.outlet.2}
    - {gear: hub, outlet: power.outlet.3}
    - {gear: pb, outlet: power.outlet.4}
"""


@pytest.fixture(scope="module")
def view() -> View:
    return seen(BAND)


def broken(view: View, name: str) -> Failure:
    found = failures(view.rig, view.graph, view.lanes, view.lines)
    return next(failure for failure in found if failure.suspect.name == name)


@pytest.mark.parametrize("rig", ["demo", "trio", "twelve"])
def test_a_lead_that_fails_is_a_rig_without_it(rig: str) -> None:
    """Each jacket of its own, against the graph of the same rig with that entry deleted."""
    usual = whole(rig)
    found = failures(usual.rig, usual.graph, usual.lanes, usual.lines)
    told = {one.suspect.name: one for one in found if one.suspect.kind == "lead"}
    starts = {source.start.gear for source in usual.rig.file.sources if source.start}
    looked = 0
    for lead in usual.rig.file.leads:
        failure = told.get(lead.id)
        if (failure and failure.suspect.one_of > 1) or starts & {lead.to.gear}:
            continue  # one of several fails, or a source begins behind it
        without = usual.rig.changed(
            leads=tuple(other for other in usual.rig.file.leads if other.id != lead.id)
        )
        graph = build(without)
        left = arrival(graph, without)
        for person in usual.rig.people:
            before = usual.lanes.at(usual.graph.of_listener(person))
            after = left.at(graph.of_listener(person))
            silent = bool(before) and not after
            assert (failure is not None and person in failure.silent) == silent, lead.id
        looked += 1
    assert looked > 1


def test_a_strip_takes_with_it_what_hangs_on_it(view: View) -> None:
    assert dark_with(view.rig, "power")[1:] == ("strip", "mixer", "hub", "tx", "rx", "pb", "pm")
    assert dark_with(view.rig, "strip") == ("strip", "tx", "rx")
    failure = broken(view, "strip")
    assert failure.silent == ("ana",)
    assert failure.losses["ana"].silent
    assert "runa" not in failure.losses


def test_a_personal_mixer_lives_on_its_lead(view: View) -> None:
    assert dark_with(view.rig, "hub") == ("hub", "pm")
    for name in ("hub", "feed", "to-pm", "pm"):
        assert broken(view, name).silent == ("runa",)


def test_no_mixer_no_48_v(view: View) -> None:
    """The transformer leg goes on by itself, but what wants 48 V from the mixer does not."""
    failure = broken(view, "mixer")
    assert failure.silent == ("runa", "ana")
    assert failure.dry == ("hat",)
    assert failure.lines == (2,)  # and not line 1, the dynamic microphone
    assert rack_off(view.rig, view.graph, view.lanes, view.lines).lines == (2,)


def test_one_of_two_leads_is_one_ear(view: View) -> None:
    failure = broken(view, "to-tx")
    assert failure.suspect.one_of == 2
    assert failure.losses["ana"].side == 1
    assert failure.silent == ()


def test_a_tail_fails_as_a_whole_and_no_ear_hears_it(view: View) -> None:
    failure = broken(view, "tail")
    assert failure.lines == (1, 2)
    assert failure.losses == {}


@pytest.mark.parametrize("name", ["mic", "lead-voice", "rx"])
def test_what_a_receiver_gives_comes_from_somewhere(view: View, name: str) -> None:
    assert broken(view, name).losses["ana"].sources == ("hand",)


@pytest.mark.parametrize("name", ["laptop", "usb", "pb"])
def test_tracks_stop_with_the_computer_and_with_the_interface(view: View, name: str) -> None:
    failure = broken(view, name)
    assert {loss.sources for loss in failure.losses.values()} == {("tracks",)}


def test_half_a_pair(view: View) -> None:
    failure = broken(view, "from-pb")
    assert failure.losses["ana"].halves == ("tracks",)
    assert failure.losses["ana"].sources == ()


def test_the_worst_comes_first_and_nothing_that_nobody_hears(view: View) -> None:
    found = failures(view.rig, view.graph, view.lanes, view.lines)
    assert found[0].suspect.name == "power"
    assert [one.harm for one in found] == sorted((one.harm for one in found), reverse=True)
    assert not any(one.harmless for one in found)


def test_how_long_until_it_is_back(view: View) -> None:
    mixer = view.rig.type_of("mixer").power
    assert mixer is not None
    assert broken(view, "mixer").back_s == mixer.boot_s
    assert broken(view, "split").back_s is None  # nothing in it starts
