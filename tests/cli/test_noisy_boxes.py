"""Two kinds of box that players sent back for hiss, judged from the command line.

Common practice, no source: on sensitive earphones in a quiet room the noisy ones are heard and the
quiet ones are not.
"""

from pathlib import Path

import pytest

from tests.cli.conftest import Run

HISS = "hearing.hiss-in-quiet-room"
RIG = """\
format: 1
rig: {{name: Hiss, mixer: mixer}}
people: [{{id: ana, name: Ana, ears: {{plug: amp.phones.1, earphones: earphones-custom-3}}}}]
sources: [{{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: 106}}]
gear:
  - {{id: split, type: {split}}}
  - {{id: mixer, type: mixer-rack-12}}
  - {{id: amp, name: Amp, type: {amp}}}
leads:
  - {{id: to-mixer, type: lead-xlr, from: split.{leg}.1-8, to: mixer.in.1-8}}
  - {{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1}}
patch: [{{source: voice, plug: split.in.1, channel: 1, gain_db: 36}}]
settings: [{{at: amp.amp, gain_db: {knob:.1f}}}]
mixes:
  - {{id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2,
     sends: [{{from: voice, level_db: 0}}]}}
"""
PASSIVE = ("splitter-passive-16", "direct")
ACTIVE = ("splitter-active-8", "out")


def written(folder: Path, run: Run, *, split: str, leg: str, amp: str) -> Path:
    """The knob is set so that the voice is at 95 dB SPL, whatever the boxes before it."""
    folder.mkdir()
    file = folder / "rig.yaml"
    file.write_text(RIG.format(split=split, leg=leg, amp=amp, knob=0), encoding="utf-8")
    at_0_db = run("why", folder, "voice", "ana", "--json").json["result"]["value"]
    text = RIG.format(split=split, leg=leg, amp=amp, knob=95 - at_0_db)
    file.write_text(text, encoding="utf-8")
    assert run("why", folder, "voice", "ana", "--json").json["result"]["value"] == pytest.approx(
        95, abs=0.1
    )
    return folder


def hisses(run: Run, folder: Path) -> bool:
    found = run("check", folder, "--json").json["result"]["findings"]
    return any(one["rule"] == HISS for one in found)


@pytest.mark.parametrize(
    ("split", "leg", "amp", "heard"),
    [
        (*PASSIVE, "headphone-amp-4-noisy", True),
        (*PASSIVE, "headphone-amp-4-quiet", False),
        ("splitter-active-8-noisy", "out", "headphone-amp-4-quiet", True),
        (*ACTIVE, "headphone-amp-4-quiet", False),
    ],
)
def test_the_noisy_one_is_heard_and_the_quiet_one_is_not(
    run: Run, tmp_path: Path, split: str, leg: str, amp: str, heard: bool
) -> None:
    assert hisses(run, written(tmp_path / "rig", run, split=split, leg=leg, amp=amp)) == heard


def test_swap_says_which_to_buy_and_why(run: Run, tmp_path: Path) -> None:
    split, leg = PASSIVE
    folder = written(tmp_path / "rig", run, split=split, leg=leg, amp="headphone-amp-4-noisy")
    text = " ".join(run("swap", folder, "amp=headphone-amp-4-quiet").out.split())
    assert "Take Headphone amplifier, four stereo, quiet" in text
    assert "less hiss" in text
    assert "no longer heard between songs" in text
    assert f"{HISS}" in text[text.index("No longer found") :]
    first = run("why", folder, "ana", "--json").json["result"]["lines"][0]
    assert first["place"].startswith("amp.phones.1")  # the largest share comes first
