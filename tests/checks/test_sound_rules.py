"""Rules about level, hearing, delay and splits at their edges."""

import inspect

import pytest

from rigproof.checks import lateness, level, loudness, splitting
from rigproof.checks.catalogue import rules
from tests.bands import whole
from tests.checks.looking import findings, says

AREAS = ("level.", "hearing.", "delay.", "split.l", "phantom.volts")


def desk(gain_db: float, mic: str = "mic-kick-dynamic", spl_db: float = 126) -> str:
    return f"""
sources: [{{id: kick, name: Kick, family: drums, mic: {mic}, spl_db: {spl_db}}}]
gear: [{{id: mixer, type: mixer-rack-24}}]
patch: [{{source: kick, plug: mixer.in.1, channel: 1, gain_db: {gain_db}, phantom: "on"}}]
"""


@pytest.mark.published(
    "voltage divider, mV/Pa of IEC 60268-4, AES17 full scale; crest of drums 18 dB"
)
def test_edges_of_headroom_by_hand() -> None:
    """126 dB SPL are 39.9 Pa, 39.9 mV, -25.8 dBu; 250 into 3000 ohm -0.69; +18 peak; clip 21.01.

    At 20 dB of gain 9.5 dB are left, at 24 dB 5.5, at 30 dB it clips by 0.5.
    """
    assert findings("level.headroom-thin", desk(20)) == []
    (thin,) = findings("level.headroom-thin", desk(24))
    assert thin.found == pytest.approx(5.5, abs=0.1)
    assert findings("level.clips-first", desk(24)) == []
    (over,) = findings("level.clips-first", desk(30))
    assert over.found == pytest.approx(0.5, abs=0.1)
    assert "converter" in over.says
    assert over.fix.startswith("Set the gain of Kick to 23 dB")


def test_the_first_place_only() -> None:
    """An input that clips before its preamp is told there and not again at the converter."""
    text = """
sources: [{id: synth, name: Synth, family: keys, level_dbu: 20, impedance_ohm: 100}]
gear: [{id: mixer, type: mixer-rack-24}]
patch: [{source: synth, plug: mixer.in.1, channel: 1, gain_db: 10}]
"""
    (found,) = findings("level.clips-first", text)
    assert "mixer" in found.says.lower()
    assert "converter" not in found.says
    assert "pad" in found.fix


def test_a_limiter_keeps_what_is_behind_it_from_clipping() -> None:
    text = """
sources:
  - {{id: a, name: A, family: keys, level_dbu: 0, impedance_ohm: 100}}
  - {{id: b, name: B, family: keys, level_dbu: 0, impedance_ohm: 100}}
gear: [{{id: mixer, type: mixer-rack-24}}]
patch:
  - {{source: a, plug: mixer.in.1, channel: 1, gain_db: -3}}
  - {{source: b, plug: mixer.in.2, channel: 2, gain_db: -3}}
mixes:
  - {{id: m, stereo: true, bus: 1-2, out: mixer.out.1-2{limiter},
     sends: [{{from: a, level_db: 10}}, {{from: b, level_db: 10}}]}}
"""
    assert len(findings("level.clips-first", text.format(limiter=""))) == 1
    assert findings("level.clips-first", text.format(limiter=", limiter_dbu: 4")) == []


@pytest.mark.published("common practice, no source: 40 dB over the noise")
def test_a_whisper_is_told() -> None:
    assert len(findings("level.too-low", desk(40, spl_db=40))) == 1
    assert findings("level.too-low", desk(40, spl_db=90)) == []


@pytest.mark.published(
    "reported case: desk +20 dBu into an amplifier that clips at +5: 15 dB too hot"
)
def test_fifteen_decibels_too_hot() -> None:
    text = """
sources: [{id: kick, name: Kick, family: drums}]
gear: [{id: mixer, type: mixer-rack-24}, {id: amp, type: AMP}]
patch: [{source: kick, plug: mixer.in.1, channel: 1}]
leads: [{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1}]
mixes: [{id: m, stereo: true, bus: 1-2, out: mixer.out.1-2, sends: [{from: kick}]}]
"""
    (found,) = findings("level.output-into-input", text.replace("AMP", "headphone-amp-4-noisy"))
    assert (found.found, found.limit) == (18, 5)
    assert "13 dB" in found.fix
    assert findings("level.output-into-input", text.replace("AMP", "headphone-amp-4")) == []


@pytest.mark.published("common practice, no source: noisy boxes of this kind go back to the shop")
@pytest.mark.parametrize("earphones", ["earphones-custom-3", "earphones-custom-6"])
@pytest.mark.parametrize(("amp", "told"), [("-noisy", 1), ("-quiet", 0)])
def test_noisy_amplifier_is_heard_and_the_quiet_is_not(earphones: str, amp: str, told: int) -> None:
    text = f"""
people: [{{id: ana, name: Ana, ears: {{plug: amp.phones.1, earphones: {earphones}}}}}]
gear: [{{id: amp, type: headphone-amp-4{amp}}}]
"""
    found = findings("hearing.hiss-in-quiet-room", text)
    assert len(found) == told
    assert all("output noise" in f.says for f in found)


def test_one_finding_for_all_who_wait_for_a_figure() -> None:
    text = """
people:
  - {id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: earphones-dual}}
  - {id: bea, name: Bea, ears: {plug: amp.phones.2, earphones: earphones-dual}}
sources: [{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 120}]
gear: [{id: mixer, type: mixer-rack-24}, {id: amp, type: headphone-amp-4}]
leads: [{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-4, to: amp.in.1-2}]
patch: [{source: kick, plug: mixer.in.1, channel: 1}]
mixes:
  - {id: a, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2, sends: [{from: kick}]}
  - {id: b, listeners: [bea], stereo: true, bus: 3-4, out: mixer.out.3-4, sends: [{from: kick}]}
"""
    (found,) = findings("level.missing-figure", text)
    assert found.severity == "unknown"
    assert "Ana and Bea" in found.says
    assert "the gain of mixer.pre.1" in found.says
    assert findings("hearing.level-not-planned", text) == []  # the gain comes first


def test_a_dep_with_louder_earphones() -> None:
    text = """
people: [{id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: headphones-80-ohm}}]
gear: [{id: amp, type: headphone-amp-4}]
venues: [{id: club, name: Club, desk: {takes: tails}}]
shows:
  - id: night
    date: 2027-01-01
    venue: club
    without: [ana]
    people: [{id: dep, name: Dep, ears: {plug: amp.phones.1, earphones: earphones-custom-6}}]
"""
    (told,) = says("hearing.earphones-differ", text)
    assert told.startswith("Dep takes over the socket of Ana")


def test_a_louder_spare() -> None:
    text = """
people: [{id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: headphones-80-ohm}}]
gear: [{id: amp, type: headphone-amp-4}]
spares: [{type: earphones-custom-6}, {type: headphones-80-ohm}, {type: lead-xlr}]
"""
    (told,) = says("hearing.earphones-differ", text)
    assert "spare" in told


@pytest.mark.parametrize("limiter_dbu", [-14, 4])
def test_the_limiter_that_is_advised_is_enough(limiter_dbu: int) -> None:
    text = """
people: [{{id: ana, name: Ana, ears: {{plug: mixer.phones, earphones: earphones-custom-6}}}}]
sources: [{{id: kick, name: Kick, family: drums}}]
gear: [{{id: mixer, type: mixer-rack-24}}]
mixes:
  - {{id: a, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
     limiter_dbu: {limiter}, sends: [{{from: kick}}]}}
"""
    found = findings("hearing.loudest-possible", text.format(limiter=limiter_dbu))
    assert len(found) == (limiter_dbu == 4)
    if found:
        assert found[0].found is not None
        lower = limiter_dbu - (found[0].found - 115)
        assert (
            findings("hearing.loudest-possible", text.format(limiter=round(lower - 0.1, 1))) == []
        )


def test_two_lines_of_one_source_to_one_desk() -> None:
    """A transformer leg and a mixer's output: the desk mixes a copy 0.9 ms late with the first."""
    text = """
sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: 110}]
gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-24}]
patch: [{source: voice, plug: split.in.1, channel: 1, gain_db: 0}]
leads:
  - {id: to-mixer, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}
  - {id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}
  - {id: out, type: lead-xlr, from: mixer.out.1, to: house.9}
routes: [{from: mixer.ch.1, to: mixer.dac.1}]
venues: [{id: club, name: Club, desk: {takes: tails}}]
"""
    (found,) = findings("delay.parallel-ways", text)
    assert found.found == pytest.approx(0.4 + 0.1 + 0.4)
    assert "Club" in found.says
    assert "556 Hz" in found.says


def test_no_rule_calls_anything_safe() -> None:
    for module in (level, loudness, lateness, splitting):
        words = inspect.getsource(module).lower()
        assert " safe" not in words


def test_about_twenty_rules_look_at_it() -> None:
    assert sum(rule.id.startswith(AREAS) for rule in rules()) >= 18


def test_a_tidy_small_rig_is_told_nothing() -> None:
    view = whole("trio")
    told = [
        (rule.id, finding.says)
        for rule in rules()
        if rule.id.startswith(AREAS)
        for finding in rule.findings(view)
    ]
    assert told == []
