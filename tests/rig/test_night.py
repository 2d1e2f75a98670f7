"""The rig of one date holds no name of what stays at home, and no more is lost than must be."""

from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.checks.rule import look
from rigproof.rig import Rig, RigFile, Show
from rigproof.rig.where import RigErrors
from rigproof.rigfile.load import parse
from rigproof.rigfile.names import uses
from tests.bands import WHOLE, plain, whole, written


def dangling(file: RigFile) -> Iterator[str]:
    """Names used outside the list of shows that nothing outside it defines."""
    known = {("gear", "house")}
    used = []
    shows = {id(use.entry) for show in file.shows for use in uses(show)}
    for use in uses(file):
        if use.kinds == ("gear type",) or id(use.entry) in shows:
            continue
        if use.defines:
            known.add((use.kinds[0], use.name))
        else:
            used.append(use)
    for use in used:
        if not any((kind, use.name) in known for kind in use.kinds):
            yield f"{use.name} at {use.at}"


def without(rig: Rig, *names: str) -> Rig:
    venue = rig.file.venues[0].id
    return rig.for_show(Show(id="tonight", date="2027-01-01", venue=venue, without=names))


def everybody(rig: Rig) -> list[str]:
    return sorted({*rig.people, *rig.sources, *rig.gear, *rig.mixes})


@pytest.mark.parametrize("name", WHOLE)
@given(data=st.data())
@settings(max_examples=25, deadline=None)
def test_nothing_dangles_whoever_is_missing(name: str, data: st.DataObject) -> None:
    rig = whole(name).stated
    missing = data.draw(st.lists(st.sampled_from(everybody(rig)), max_size=4, unique=True))
    tonight = without(rig, *missing)
    assert list(dangling(tonight.file)) == []
    for kind in (tonight.people, tonight.sources, tonight.gear, tonight.mixes):
        assert not set(missing) & set(kind)
    look(tonight)


@pytest.mark.parametrize("name", WHOLE)
def test_a_rig_without_anybody_is_still_a_rig(name: str) -> None:
    rig = whole(name).stated
    empty = without(rig, *everybody(rig))
    assert (empty.people, empty.sources, empty.gear, empty.mixes) == ({}, {}, {}, {})
    assert look(empty).hand_offs


@pytest.mark.parametrize("name", WHOLE)
def test_a_night_like_any_other_changes_nothing(name: str) -> None:
    rig = whole(name).stated
    assert without(rig).file == rig.file


def test_a_missing_player() -> None:
    rig = whole("demo").stated
    tonight = without(rig, "bo")
    assert set(rig.sources) - set(tonight.sources) == {"trombone", "trumpet", "bo-voice"}
    assert set(rig.mixes) - set(tonight.mixes) == {"mix-bo"}
    # What Bo wears stays with Bo, and so does what it sends and hears.
    assert set(rig.gear) - set(tonight.gear) == {"body-bo", "pack-bo"}
    gone = [link.id for link in rig.file.radio if link not in tonight.file.radio]
    assert gone == ["radio-bo", "radio-trumpet"]
    assert "brass" not in tonight.groups  # nobody is left in it
    assert tonight.groups["melody"].sources == ("accordion", "fiddle")
    sends = {send.from_ for mix in tonight.file.mixes for send in mix.sends}
    assert "brass" not in sends
    assert "melody" in sends
    assert all("bo" not in talk.to for talk in tonight.file.talk)
    # Nobody else moves: numbers that people have learnt stay.
    assert all(rig.rows[name] == row for name, row in tonight.rows.items())


def test_a_missing_box_takes_along_what_hangs_on_it() -> None:
    tonight = without(whole("demo").stated, "playback")
    assert not {"tracks", "click", "cue"} & set(tonight.sources)
    assert not {"tracks-to-b", "click-and-cue", "laptop-usb"} & {x.id for x in tonight.file.leads}
    assert all(clock.gear != "playback" for clock in tonight.file.clocks)
    assert tonight.file.power is not None
    assert all(feed.gear != "playback" for feed in tonight.file.power.feeds)
    slots = {slot.name for feed in tonight.file.feeds for slot in feed.slots}
    assert not {"Tracks", "Click"} & slots  # these places are free tonight
    assert "Cue and talk" in slots


def test_what_is_built_into_a_missing_box_is_missing() -> None:
    tonight = without(whole("demo").stated, "mixer")
    assert "card" not in tonight.gear
    assert tonight.about.mixer is None
    assert tonight.file.streams == ()


def test_what_comes_along_replaces_what_it_names() -> None:
    rig = parse(
        b"""format: 1
rig: {name: Example}
people: [{id: ana, name: Ana}]
sources: [{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic}]
gear: [{id: mixer, type: mixer-rack-16}]
patch: [{source: kick, plug: mixer.in.1, channel: 1}]
mixes: [{id: m, listeners: [ana], bus: 1}]
venues: [{id: bar, name: Bar, desk: {takes: nothing}}]
shows:
  - id: s
    date: 2027-01-01
    venue: bar
    patch: [{source: kick, plug: mixer.in.9, channel: 9}]
    mixes: [{id: m, listeners: [ana], bus: 5}]
"""
    )
    tonight = rig.for_show(rig.file.shows[0])
    assert [str(row.plug) for row in tonight.file.patch] == ["mixer.in.9"]
    assert [str(mix.bus) for mix in tonight.file.mixes] == ["5"]


@pytest.mark.parametrize("name", WHOLE)
def test_a_night_written_out_is_a_sound_file(name: str) -> None:
    rig = whole(name).stated
    for show in rig.file.shows:
        tonight = rig.for_show(show)
        alone = Rig(tonight.file, tonight.types).changed(shows=())
        assert plain(parse(written(alone), types=rig.types).file) == plain(alone.file)


GUEST = b"""format: 1
rig: {name: R}
people: [{id: ann, name: Ann, ears: {plug: belt.phones, earphones: earphones-dual}}]
sources: [{id: voice, name: Voice, family: voices, player: ann, mic: mic-vocal-dynamic}]
gear:
  - {id: mixer, type: mixer-rack-16, unit: 1}
  - {id: strip, type: strip-c13-8, unit: 3}
  - {id: sender, type: transmitter-ears, unit: 4}
  - {id: belt, type: pack-wireless, place: person, with_person: ann}
leads: [{id: to-ears, type: lead-xlr, from: mixer.out.1-2, to: sender.in.1-2}]
radio: [{id: ann-ears, from: sender.rf, to: belt.rf, frequency_mhz: 823.2}]
clocks: [{gear: mixer, rate_hz: 48000}]
power: {volts_v: 230, circuit_a: 16, feeds: [{gear: mixer, outlet: strip.outlet.1}]}
venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
shows:
  - id: usual
    date: 2027-05-01
    venue: hall
  - id: with-ines
    date: 2027-06-01
    venue: hall
    people: [{id: ines, name: Ines}]
    sources: [{id: ines-voice, name: Ines, family: voices, player: ines, mic: mic-headworn}]
    gear:
      - {id: ines-pack, type: wireless-bodypack, place: person, with_person: ines, owner: guest}
      - {id: ines-receiver, type: receiver-mic, unit: 5, owner: guest}
    leads: [{id: ines-lead, type: lead-xlr, from: ines-receiver.out, to: mixer.in.9}]
    patch: [{source: ines-voice, plug: ines-pack.in, channel: 9}]
    radio:
      - {id: ines-radio, from: ines-pack.rf, to: ines-receiver.rf, frequency_mhz: 826}
      - {id: ann-ears, from: sender.rf, to: belt.rf, frequency_mhz: 829.4}
    clocks: [{gear: mixer, rate_hz: 96000}]
    power: {circuit_a: 10, feeds: [{gear: ines-receiver, outlet: strip.outlet.2}]}
"""


def test_a_guest_comes_with_wireless_of_their_own() -> None:
    rig = parse(GUEST)
    usual, guest = (rig.for_show(show) for show in rig.file.shows)
    view = look(rig, rig.file.shows[1])

    assert {link.id: link.frequency_mhz for link in usual.file.radio} == {"ann-ears": 823.2}
    assert {link.id: link.frequency_mhz for link in guest.file.radio} == {
        "ann-ears": 829.4,  # another frequency where the guest's would disturb
        "ines-radio": 826,
    }
    mixer = set(view.graph.of_listener("mixer"))
    assert view.graph.reached(view.graph.of_source("ines-voice")) & mixer


def test_what_a_show_says_counts_instead_and_the_rest_stays() -> None:
    rig = parse(GUEST)
    usual, guest = (rig.for_show(show) for show in rig.file.shows)
    assert usual.file.power is not None
    assert guest.file.power is not None

    assert [float(clock.rate_hz) for clock in guest.file.clocks] == [96000]
    assert [guest.file.power.volts_v, guest.file.power.circuit_a] == pytest.approx([230, 10])
    assert [feed.gear for feed in guest.file.power.feeds] == ["mixer", "ines-receiver"]
    assert usual.file.power.circuit_a == pytest.approx(16)


def test_a_radio_link_of_a_show_may_not_hang_on_what_stays_at_home() -> None:
    link = b"{id: own, from: ines-pack.rf, to: ines-receiver.rf}"
    moved = GUEST + b"  - {id: third, date: 2027-07-01, venue: hall, radio: [" + link + b"]}\n"
    with pytest.raises(RigErrors, match="only comes along to the show with-ines"):
        parse(moved)
