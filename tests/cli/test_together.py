"""What trace says of several ways, of the own sound's delay, and of the combs between them."""

from math import log10
from pathlib import Path

import pytest

from tests.bands import WHOLE
from tests.cli.conftest import Run

TWO_WAYS = """
format: 1
rig: {name: Two ways, mixer: mixer}
people: [{id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-dual}}]
sources:
  - {id: voice, name: Voice, family: voices, player: ana, mic: mic-vocal-dynamic, spl_db: 110}
gear:
  - {id: mixer, type: mixer-rack-24}
  - {id: reverb, type: mixer-rack-12}
patch: [{source: voice, plug: mixer.in.1, channel: 1, gain_db: 20}]
leads:
  - {id: there, type: lead-xlr, from: mixer.out.1, to: reverb.in.1}
  - {id: back, type: lead-xlr, from: reverb.out.1, to: mixer.in.2}
settings: [{at: reverb.pre.1, gain_db: 0}, {at: mixer.pre.2, gain_db: 0}]
routes:
  - {from: mixer.ch.1, to: mixer.dac.1}
  - {from: reverb.adc.1, to: reverb.dac.1}
  - {from: mixer.adc.2, to: mixer.ch.2}
  - {from: mixer.ch.2, to: mixer.bus.1, gain_db: -6}
mixes:
  - {id: ana, listeners: [ana], bus: 1, out: mixer.phones.1-2, sends: [{from: voice}]}
"""


@pytest.fixture
def two(tmp_path: Path) -> Path:
    (tmp_path / "rig.yaml").write_text(TWO_WAYS.lstrip(), encoding="utf-8")
    return tmp_path


@pytest.mark.published("comb filter, acoustics textbooks: 1/(2 tau), 20 lg(1 - g), 20 lg(1 + g)")
def test_two_ways_are_summed_in_step_and_combed(run: Run, two: Path) -> None:
    result = run("trace", two, "voice", "ana", "--json").json["result"]
    at_left = [
        way["levels"]["rungs"][-1]["level"]["value"]
        for way in result["ways"]
        if way["levels"]["rungs"][-1]["place"] == "ear:ana.1"
    ]
    assert len(at_left) == 2
    left = next(one for one in result["together"]["in_step"] if one["place"] == "ear:ana.1")
    assert left["ways"] == 2
    assert left["level"] == pytest.approx(20 * log10(sum(10 ** (db / 20) for db in at_left)))
    (comb,) = (one for one in result["together"]["combs"] if one["with"] == "two ways that meet")
    delays = [way["delay_ms"]["low"] for way in result["ways"]]
    assert comb["apart_ms"] == pytest.approx(max(delays) - min(delays))
    assert comb["first_notch_hz"] == pytest.approx(500 / comb["apart_ms"])
    assert comb["copy_db"] == pytest.approx(-abs(at_left[0] - at_left[1]))
    assert comb["depth_db"] == pytest.approx(20 * log10(1 - 10 ** (comb["copy_db"] / 20)))


@pytest.mark.published("Lester and Boley 2007, table 1: in-ear voice, good to 1 ms, fair to 6.5 ms")
def test_the_own_voice_is_graded_and_listeners_differ(run: Run, two: Path) -> None:
    text = " ".join(run("trace", two, "voice", "ana").out.split())
    assert "graded voices by in-ear good up to 1 ms and fair up to 6.5: good." in text
    assert "Listeners differ" in text
    assert "Comb: the own voice through the skull: 0.60 ms apart, first notch at 833 Hz." in text
    assert "Comb: the own voice round the head" in text
    assert "Together: 2 ways at Ana, left ear, in step" in text


def test_trace_why_and_the_sheet_have_one_delay(run: Run) -> None:
    """A wireless microphone's receiver counts in all of them."""
    traced = run("trace", WHOLE["demo"], "tamsin-voice", "tamsin", "--json").json["result"]
    asked = run("why", WHOLE["demo"], "tamsin-voice", "tamsin", "--of", "delay", "--json").json[
        "result"
    ]
    (way,) = traced["ways"]
    assert way["delay_ms"]["low"] == pytest.approx(asked["value"])
    assert traced["together"]["delay_ms"]["longest"] == pytest.approx(asked["value"])
    assert asked["lines"][0]["what"] == "wireless microphone"
    assert [line["comes_to"] for line in asked["lines"]][-1] is None  # bounds and combs follow


def test_a_box_has_no_grade(run: Run, two: Path) -> None:
    result = run("trace", two, "voice", "reverb", "--json").json["result"]
    assert result["together"]["grade"] is None
    got = run("why", two, "voice", "reverb", "--of", "delay")
    assert got.code == 2
    assert "A delay is laid open for a person" in got.err
