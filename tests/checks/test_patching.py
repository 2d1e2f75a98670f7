"""The rules of part patch, plugs and ears where two short examples cannot show the edge."""

from pathlib import Path

import pytest

import rigproof
from rigproof.checks.catalogue import rule
from rigproof.checks.joints import plain_lead_bridges
from rigproof.checks.rule import Finding, look
from rigproof.checks.verdict import check
from rigproof.rigfile.load import load, parse

DEMO = Path(rigproof.__file__).parent / "demo"


def found(identifier: str, text: str, *, show: int | None = None) -> list[Finding]:
    rig = parse(f"format: 1\nrig: {{name: Example}}\n{text}".encode())
    wanted = rule(identifier)
    assert wanted is not None
    return list(wanted.findings(look(rig, rig.file.shows[show] if show is not None else None)))


@pytest.mark.parametrize(
    ("out", "into", "bridged"),
    [
        ("xlr-m", "xlr-f", True),  # a microphone into a splitter
        ("xlr-m", "combo-f", True),
        ("jack-ts-f", "combo-f", True),  # an instrument into the same socket
        ("jack-trs-f", "jack-trs-f", True),
        ("jack-ts-f", "jack-trs-f", True),
        ("jack-ts-m", "combo-f", True),  # a fixed cable
        ("xlr-f", "xlr-f", False),  # two inputs
        ("jack-ts-f", "xlr-f", False),
        ("mini-trs-f", "xlr-f", False),  # a telephone into a splitter
        ("xlr-m", "jack-trs-f", False),
        ("xlr-m", "db25-f", False),
    ],
)
def test_what_a_plain_lead_joins(out: str, into: str, bridged: bool) -> None:
    # Common practice, no source: XLR leads run from holes to pins, jack leads have plugs.
    assert plain_lead_bridges(out, into) is bridged


SWAPPED_LOOMS = """
sources: [{sources}]
gear: [{{id: mixer, type: mixer-rack-32}}]
patch: [{patch}]
routes: [{{from: mixer.adc.1-8, to: mixer.ch.9-16}}, {{from: mixer.adc.9-16, to: mixer.ch.1-8}}]
"""


def swapped_looms() -> str:
    return SWAPPED_LOOMS.format(
        sources=", ".join(f"{{id: s{n}, name: S{n}, family: keys}}" for n in range(1, 17)),
        patch=", ".join(
            f"{{source: s{n}, plug: mixer.in.{n}, channel: {n}}}" for n in range(1, 17)
        ),
    )


def test_two_swapped_looms_are_two_findings_not_sixteen() -> None:
    above, below = [f.says for f in found("patch.shifted", swapped_looms())]
    assert above.endswith("arrive 8 channels above the listed ones.")
    assert below.endswith("arrive 8 channels below the listed ones.")
    assert found("patch.arrives-elsewhere", swapped_looms()) == []


def test_a_hold_is_there_for_the_guest_of_one_show() -> None:
    text = """
sources: [{id: kick, name: Kick, family: drums}]
gear: [{id: mixer, type: mixer-rack-24}]
patch: [{source: kick, plug: mixer.in.1, channel: 1}]
holds: [{channels: 7, sockets: mixer.in.7, why: a guest}]
venues: [{id: hall, name: Hall, desk: {takes: tails}}]
shows:
  - {id: one, date: 2027-05-08, venue: hall,
     sources: [{id: gurdy, name: Gurdy, family: strings}],
     patch: [{source: gurdy, plug: mixer.in.7, channel: 7}]}
"""
    assert found("patch.held-place-taken", text, show=0) == []
    taken = text.replace("mixer.in.1, channel: 1", "mixer.in.7, channel: 7")
    assert len(found("patch.held-place-taken", taken)) == 2  # the channel and the socket


def test_names_keep_their_capitals_in_a_sentence() -> None:
    text = """
gear: [{id: mixer, type: mixer-rack-16}]
mixes: [{id: ines, name: Ines II, purpose: spare, stereo: true, bus: 4-5}]
"""
    (finding,) = found("mix.stereo-not-odd-even", text)
    assert finding.says == (
        "The mix Ines II is on buses 4-5; "
        "Rack mixer links only an odd bus with the even one after it."
    )


def test_leads_of_two_venues_share_a_socket() -> None:
    text = """
gear: [{id: mixer, type: mixer-rack-24}]
leads:
  - {id: a, type: lead-xlr, from: mixer.out.1, to: house.1, at_venues: [hall]}
  - {id: b, type: lead-xlr, from: mixer.out.1, to: house.2, at_venues: [club]}
venues: [{id: hall, name: Hall, desk: {takes: tails}}, {id: club, name: C, desk: {takes: tails}}]
"""
    assert found("patch.socket-with-two-plugs", text) == []
    both = text.replace("at_venues: [club]", "at_venues: [club, hall]")
    assert [f.says for f in found("patch.socket-with-two-plugs", both)] == [
        "The lead a and the lead b are both plugged in Rack mixer, out 1."
    ]


def test_a_source_and_the_lead_it_comes_by_are_one_plug() -> None:
    text = """
sources: [{id: voice, name: Voice, family: voices, from: receiver.out}]
gear: [{id: receiver, type: receiver-mic}, {id: split, type: splitter-transformer-8}]
leads: [{id: short, type: lead-xlr, from: receiver.out, to: split.in.1}]
patch: [{source: voice, plug: split.in.1}]
"""
    assert found("patch.socket-with-two-plugs", text) == []
    other = text + "  - {source: kick, plug: split.in.1}\n"
    other = other.replace("patch: [{source: voice, plug: split.in.1}]\n", "patch:\n").replace(
        "sources: [", "sources: [{id: kick, name: Kick, family: drums}, "
    )
    assert len(found("patch.socket-with-two-plugs", other)) == 1


def test_a_lead_and_a_source_cannot_share_a_socket() -> None:
    text = """
sources: [{id: kick, name: Kick, family: drums}]
gear: [{id: box, type: splitter-panel-8}, {id: split, type: splitter-transformer-8}]
leads: [{id: back, type: lead-xlr, from: box.direct.1-4, to: split.in.1-4}]
patch: [{source: kick, plug: split.in.2}]
"""
    assert [f.says for f in found("patch.socket-with-two-plugs", text)] == [
        "Kick and the lead back are both plugged in Splitter, in 2."
    ]


def test_a_two_way_lead_may_be_turned_round() -> None:
    text = """
gear: [{id: mixer, type: mixer-rack-16}, {id: card, type: card-network-audio-32}]
leads: [{id: slot, type: adapter-card-slot, from: mixer.card, to: card.slot}]
"""
    assert found("plug.wrong-gender", text) == found("plug.wrong-connector", text) == []
    other = text.replace("mixer.card, to: card.slot", "card.slot, to: mixer.card")
    assert found("plug.wrong-gender", other) == found("plug.wrong-connector", other) == []


# A published account, second-hand: overheads and active DIs die in the house between two sets.
def test_who_loses_what_when_the_rack_is_off() -> None:
    text = """
sources:
  - {id: oh, name: Overheads, family: drums, stereo: true, mic: mic-small-condenser}
  - {id: bass, name: Bass, family: bass, di: di-active, connector: jack-ts-f}
  - {id: snare, name: Snare, family: drums, mic: mic-instrument-dynamic}
gear: [{id: split, type: splitter-transformer-8}, {id: mixer, name: Mixer, type: mixer-rack-16}]
patch:
  - {source: oh, plug: split.in.1-2, phantom: "on"}
  - {source: bass, plug: split.in.3, phantom: "on"}
  - {source: snare, plug: split.in.4}
leads:
  - {id: to-mixer, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}
  - {id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}
"""
    (finding,) = found("phantom.lost-when-rack-off", text)
    assert finding.says == (
        "With Mixer off or booting nobody feeds 48 V to Overheads and Bass: "
        "the house loses 2 sources."
    )
    assert finding.path[-1] == "the house, line 1"


@pytest.mark.parametrize(
    ("desk", "harm", "could"),
    [("unknown", 0, 1), ("on", 1, 0), ("off", 0, 0)],
)
def test_a_house_that_does_not_answer_may_feed(desk: str, harm: int, could: int) -> None:
    text = f"""
sources: [{{id: laptop, name: Laptop, family: playback, balanced: false}}]
gear: [{{id: split, type: splitter-panel-8}}]
patch: [{{source: laptop, plug: split.in.8}}]
leads: [{{id: tails, type: tails-xlr-8, from: split.second.1-8, to: house.1-8}}]
venues: [{{id: hall, name: Hall, desk: {{takes: tails, phantom: "{desk}"}}}}]
"""
    assert len(found("phantom.harms", text)) == harm
    assert len(found("phantom.could-harm", text)) == could


@pytest.mark.parametrize("area", ["patch.", "plug.wrong", "plug.level", "lead.", "mix.", "ears.h"])
def test_the_demo_is_wired_without_such_faults(area: str) -> None:
    faults = [f for f in check(load(DEMO)).findings if f.rule.startswith(area)]
    assert [f"{f.rule}: {f.says}" for f in faults] == []


def test_a_show_without_the_mixer_is_still_judged() -> None:
    text = """
people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
sources: [{id: kick, name: Kick, family: drums}]
gear: [{id: mixer, type: mixer-rack-24}, {id: small, type: mixer-rack-12},
  {id: amp, type: headphone-amp-4}]
patch: [{source: kick, plug: small.in.1, channel: 1}]
mixes: [{id: ana, listeners: [ana], bus: 1, out: amp.phones.1, sends: [{from: kick}]}]
venues: [{id: hall, name: Hall, desk: {takes: tails}}]
shows: [{id: one, date: 2027-05-08, venue: hall, without: [mixer]}]
"""
    verdict = check(parse(f"format: 1\nrig: {{name: Example}}\n{text}".encode()))
    assert len(verdict.views) == 2
    assert all(finding.at.line for finding in verdict.findings)


def test_a_stereo_source_in_one_socket_is_told_so() -> None:
    rig = """
sources: [{id: keys, name: Keys, family: keys, stereo: true}]
gear: [{id: mixer, type: mixer-rack-24}]
patch: [{source: keys, plug: mixer.in.5, channel: 5-6}]
    """
    finding = next(iter(found("patch.pair-halved", rig)))

    assert "plugged in one socket" in finding.says
    assert "mixer.in.5-6" in finding.fix


def test_ears_that_hear_nothing_are_told_where_the_way_breaks() -> None:
    rig = """
people: [{id: bo, name: Bo, ears: {plug: belt.phones, earphones: earphones-dual}}]
sources: [{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic}]
gear: [{id: mixer, type: mixer-rack-24}, {id: belt, name: Belt, type: pack-wired}]
    """
    finding = next(iter(found("ears.hear-nothing", rig)))

    assert "Nothing leads into Belt, in" in finding.fix


def test_a_stream_and_a_tail_on_one_line_of_the_house_clash() -> None:
    rig = """
gear: [{id: split, type: splitter-panel-8}, {id: card, type: card-network-audio-32}]
leads: [{id: tails, type: tails-xlr-8, from: split.second.1-8, to: house.1-8}]
streams: [{id: net, from: card.net.tx.1-8, to: house.LINES}]
    """
    assert [f.says for f in found("handoff.line-used-twice", rig.replace("LINES", "5-12"))]
    assert not found("handoff.line-used-twice", rig.replace("LINES", "9-16"))


@pytest.mark.parametrize(
    ("routes", "says"),
    [
        # Alone in its block of eight, and still not where the block would bring it.
        ("{from: mixer.adc.5, to: mixer.ch.6}", "puts converter (adc) 5 on channel 6"),
        ("{from: mixer.link.rx.1, to: mixer.ch.10}", "puts link receiving 1 on channel 10"),
        ("{from: mixer.adc.1-4, to: mixer.ch.5-8}", "puts converter (adc) 1 on channel 5"),
        # One block of inputs to one of channels, as it is.
        ("{from: mixer.adc.5, to: mixer.ch.5}", ""),
        ("{from: mixer.adc.5, to: mixer.ch.13}", ""),
        ("{from: mixer.adc.9-16, to: mixer.ch.1-8}", ""),
        # Two blocks asked of one is told as before.
        ("{from: mixer.adc.1, to: mixer.ch.1}, {from: mixer.adc.9, to: mixer.ch.2}", "wants"),
    ],
)
def test_a_block_brings_each_input_to_its_own_place(routes: str, says: str) -> None:
    found = broken_blocks(f"gear: [{{id: mixer, type: mixer-rack-16}}]\nroutes: [{routes}]")
    assert len(found) == bool(says)
    assert all(says in one.says for one in found)


def broken_blocks(text: str) -> list[Finding]:
    broken = rule("patch.block-broken")
    assert broken is not None
    return list(broken.findings(look(parse(f"format: 1\nrig: {{name: Example}}\n{text}".encode()))))


def test_the_own_place_of_an_input_is_named() -> None:
    (one,) = broken_blocks(
        "gear: [{id: mixer, type: mixer-rack-16}]\nroutes: [{from: mixer.adc.13, to: mixer.ch.6}]"
    )
    assert "channel 5" in one.fix  # the fifth of its eight
