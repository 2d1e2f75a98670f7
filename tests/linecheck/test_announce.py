"""Lines that say their numbers: what was written is read back from a phone at the far end."""

import os
import stat
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from scipy.signal import butter, fftconvolve, resample_poly, sosfilt

from rigproof.linecheck.announcing import announced, announcement, pitch_hz
from rigproof.linecheck.speaking import can_speak, spoken
from tests.cli.conftest import Run, run, small  # noqa: F401 (fixtures)
from tests.linecheck.house_end import automatic

TRIO = Path(__file__).resolve().parents[2] / "examples" / "trio"
RATE = 48_000
SEED = 20_270_301

Samples = Any


def speech(length_s: float, dice: np.random.Generator) -> Samples:
    """Something like a voice: a buzz through moving resonances, in syllables."""
    count = round(length_s * RATE)
    at = np.arange(count) / RATE
    pitch = 140 * (1 + 0.2 * np.sin(2 * np.pi * 0.7 * at + dice.uniform(0, 6)))
    buzz = np.sign(np.sin(np.cumsum(2 * np.pi * pitch / RATE)))
    voice = np.zeros(count)
    for low in (400, 900, 2200):
        voice += sosfilt(butter(1, (low, 1.5 * low), "band", fs=RATE, output="sos"), buzz)
    return voice * (np.sin(2 * np.pi * 3 * at) > -0.5)


@pytest.mark.parametrize("number", [1, 2, 9, 10, 11, 16, 17, 19, 20, 32, 48, 60, 99, 128])
def test_each_number_comes_back(number: int) -> None:
    """Alone, and with a voice between."""
    dice = np.random.default_rng(SEED + number)
    for said in (None, speech(2.0, dice)):
        sound = announcement(number, said, rate_hz=RATE)
        (one,) = announced(sound, rate_hz=RATE)
        assert (one.number, one.times, one.sure) == (number, 2, True)
        assert one.at_s == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize("number", [3, 14, 27])
@pytest.mark.parametrize("rate_hz", [16_000, 44_100])
def test_through_a_phone(number: int, rate_hz: int) -> None:
    """A telephone's band, another rate, noise 15 dB below, hum, a soft and a clipped recording."""
    dice = np.random.default_rng(SEED + number)
    sound = np.tile(announcement(number, speech(1.5, dice), rate_hz=RATE), 2)
    heard = sosfilt(butter(4, (300, 3400), "band", fs=RATE, output="sos"), sound)
    heard = resample_poly(heard, rate_hz // 100, RATE // 100)
    noise = dice.standard_normal(len(heard))
    hum = np.sin(2 * np.pi * 50 * np.arange(len(heard)) / rate_hz)
    heard = heard + 0.18 * 0.7 * noise + 0.1 * hum
    for recorded in (0.001 * heard, np.clip(3 * heard, -1, 1)):
        (one,) = announced(recorded, rate_hz=rate_hz)
        assert (one.number, one.sure) == (number, True)


@pytest.mark.parametrize("seed", range(6))
def test_what_is_no_announcement_is_silent(seed: int) -> None:
    """Noise, a voice, chords, a click track: nobody is told a number for sure."""
    dice = np.random.default_rng(seed)
    at = np.arange(20 * RATE) / RATE
    chord = sum(np.sin(2 * np.pi * f * at) for f in 440 * 2 ** (dice.integers(-9, 15, 3) / 12))
    beats = np.sin(2 * np.pi * 1000 * at) * (at % 0.5 < 0.02)
    for sound in (dice.standard_normal(len(at)), speech(20, dice), chord, beats, np.zeros(len(at))):
        assert not [one for one in announced(sound, rate_hz=RATE) if one.sure]


def test_tails_one_after_the_other() -> None:
    """A walk along the tails with the recorder running."""
    walk = [announcement(n, None, rate_hz=RATE) for n in (3, 4, 6, 5, 21)]
    found = announced(np.concatenate(walk), rate_hz=RATE)
    assert [one.number for one in found] == [3, 4, 6, 5, 21]
    assert pitch_hz(5) == pitch_hz(21)


def test_files_of_a_rig(run: Run, small: Path, tmp_path: Path) -> None:  # noqa: F811
    """A file for each channel; the folder of the band's own voices goes before the machine's."""
    voices = tmp_path / "voices"
    voices.mkdir()
    dice = np.random.default_rng(SEED)
    soundfile.write(voices / "voice.wav", 0.1 * speech(1.0, dice), RATE)
    soundfile.write(voices / "12.wav", 0.1 * resample_poly(speech(1.0, dice), 147, 160), 44_100)
    out = tmp_path / "out"
    outcome = run("announce", "--rig", small, "-o", out, "--voices", voices, "--json")
    assert outcome.code == 0
    lines = {one["number"]: one for one in outcome.json["result"]["lines"]}
    assert sorted(lines) == [1, 3, 4, 12]
    assert {number: lines[number]["words"] for number in (1, 12)} == {1: "recorded", 12: "recorded"}
    assert sorted(path.name for path in out.iterdir()) == [
        "001-voice.wav", "003-keys-1.wav", "004-keys-2.wav", "012-click.wav"
    ]  # fmt: skip
    for number, line in lines.items():
        info = soundfile.info(line["file"])
        assert (info.channels, info.samplerate, info.subtype) == (1, RATE, "PCM_24")
        sound, _ = soundfile.read(line["file"])
        assert 20 * np.log10(np.abs(sound).max()) == pytest.approx(-20, abs=0.01)
        heard = run("announce", "--rig", small, "--heard", line["file"], "--json")
        assert [(one["number"], one["sure"]) for one in heard.json["result"]["heard"]] == [
            (number, True)
        ]
        assert heard.json["result"]["heard"][0]["name"] == line["name"]


@pytest.mark.skipif(sys.platform == "win32", reason="a script stands for the synthesiser")
def test_the_synthesiser_is_given_the_name_and_nothing_else(
    run: Run,  # noqa: F811
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What the user typed goes in as text: a name that looks like an option is a name."""
    bin_ = tmp_path / "bin"
    bin_.mkdir()
    sound = tmp_path / "said.wav"
    soundfile.write(sound, speech(0.5, np.random.default_rng(SEED)), 22_050)
    script = bin_ / "espeak-ng"
    script.write_text(
        f'#!/bin/sh\nfor last; do :; done\ncat >> "{tmp_path}/text"\ncp "{sound}" "$last"\n'
        f'echo "$@" >> "{tmp_path}/words"\n'
    )
    script.chmod(script.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setenv("PATH", f"{bin_}{os.pathsep}{os.environ['PATH']}")
    names = tmp_path / "list.csv"
    names.write_text("1,--voice=x; rm -rf\n2,Tuba\n", encoding="utf-8")
    outcome = run("announce", "--channels", names, "-o", tmp_path / "out", "--json")
    assert [one["words"] for one in outcome.json["result"]["lines"]] == ["spoken", "spoken"]
    said = (tmp_path / "text").read_text()
    assert said == "Line 1. --voice=x; rm -rf.Line 2. Tuba."
    assert "rm" not in (tmp_path / "words").read_text()


def test_without_a_voice_there_are_beeps(
    run: Run,  # noqa: F811
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("PATH", "")
    outcome = run("announce", "--count", "2", "-o", tmp_path / "out")
    assert outcome.code == 0
    assert "No voice is installed" in outcome.out
    assert len(list((tmp_path / "out").iterdir())) == 2


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--count", "0"), "cannot be meant"),
        (("--count", "999"), "cannot be meant"),
        (("--level", "6"), "is refused"),
        (("--voices", "nowhere"), "no folder"),
        (("--heard", "nowhere.wav"), "no file"),
        (("--rig", "a", "--channels", "b"), "both named"),
    ],
)
def test_what_cannot_be_meant(
    run: Run,  # noqa: F811
    tmp_path: Path,
    words: tuple[str, ...],
    says: str,
) -> None:
    outcome = run("announce", *words, "-o", tmp_path / "out", "--json")
    assert outcome.code == 2
    assert says in outcome.json["faults"][0]["says"]
    assert not (tmp_path / "out").exists()


def test_nothing_heard_is_said(run: Run, tmp_path: Path) -> None:  # noqa: F811
    path = tmp_path / "room.wav"
    soundfile.write(path, 0.01 * np.random.default_rng(1).standard_normal(5 * RATE), RATE)
    outcome = run("announce", "--heard", path)
    assert outcome.code == 1
    assert "No line says its number" in outcome.out


# Along the tails with a phone


def phone(sound: Samples, dice: np.random.Generator) -> Samples:
    """A phone in a room that rings for 0.3 s: 300 to 3400 Hz, noise 10 dB below, and more.

    An automatic level, a top that is cut off, 16 kHz and 12 bits.
    """
    length = int(0.3 * RATE)
    room = 0.4 * dice.normal(0, 1, length) * np.exp(-6.9 * np.arange(length) / length)
    room /= np.sqrt(np.square(room).sum()) / 0.4
    room[0] = 1
    heard = fftconvolve(sound, room)[: len(sound)]
    heard = sosfilt(butter(4, (300, 3400), "band", fs=RATE, output="sos"), heard)
    heard = resample_poly(heard, 1, 3)
    loud = heard[np.abs(heard) > 0.1 * np.abs(heard).max()]
    heard = heard + dice.normal(0, np.sqrt(np.square(loud).mean()) * 10 ** (-10 / 20), len(heard))
    heard = automatic(heard, RATE // 3)
    return np.round(np.clip(2 * heard / np.abs(heard).max(), -1, 1) * 2000) / 2048


def walked(order: tuple[int, ...], dice: np.random.Generator) -> Samples:
    voice = speech(1.0, dice)
    parts = []
    for number in order:
        gap = np.zeros(int(dice.uniform(0.5, 2) * RATE))
        parts += [gap, announcement(number, voice, rate_hz=RATE)]
    return np.concatenate(parts)


@pytest.mark.parametrize(
    ("order", "told"),
    [
        ((1, 2, 3, 4, 5, 6), []),
        ((1, 2, 5, 4, 3, 6), [("elsewhere", 3, "are swapped")]),
        ((1, 3, 4, 5, 6), [("missing", 2, "said no number")]),
    ],
)
def test_a_walk_with_a_phone(
    run: Run,  # noqa: F811
    tmp_path: Path,
    order: tuple[int, ...],
    told: list[tuple[str, int, str]],
) -> None:
    path = tmp_path / "phone.wav"
    dice = np.random.default_rng(SEED)
    soundfile.write(path, phone(walked(order, dice), dice), RATE // 3)
    outcome = run("announce", "--heard", path, "--rig", TRIO, "--at", "cellar", "--json")
    result = outcome.json["result"]
    assert [one["number"] for one in result["heard"]] == list(order)
    assert [(one["kind"], one["tail"]) for one in result["findings"]] == [one[:2] for one in told]
    for finding, (_, _, words) in zip(result["findings"], told, strict=True):
        assert words in finding["says"]
    assert outcome.code == (1 if told else 0)


def test_the_order_of_a_walk_is_told(run: Run, tmp_path: Path) -> None:  # noqa: F811
    path = tmp_path / "phone.wav"
    dice = np.random.default_rng(SEED)
    soundfile.write(path, 0.1 * walked((3, 12, 3), dice), RATE)
    out = run("announce", "--heard", path).out
    assert "1st plugged: Line 3, twice" in out
    assert "2nd plugged: Line 12, twice" in out
    assert "3rd plugged: Line 3, twice" in out


@pytest.mark.skipif(not can_speak(), reason="espeak-ng is not installed")
@pytest.mark.parametrize("language", ["en", "de"])
def test_a_real_synthesiser(language: str) -> None:
    """Its voice says no number by chance, and does not stand in the way of the beeps."""
    said = spoken("Line 17. Lead voice, accordion left.", language=language, rate_hz=RATE)
    assert said is not None
    assert announced(np.tile(said, 3), rate_hz=RATE) == ()
    dice = np.random.default_rng(SEED)
    (one,) = announced(phone(announcement(17, said, rate_hz=RATE), dice), rate_hz=RATE // 3)
    assert (one.number, one.times) == (17, 2)
