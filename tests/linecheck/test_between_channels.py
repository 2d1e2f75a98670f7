"""What only a fault can do between channels, and what music and air do that looks like it."""

from pathlib import Path

import numpy as np
import pytest

from rigproof.linecheck import listening
from rigproof.linecheck.clocking import Drift, by_clock
from rigproof.linecheck.lineup import of_list
from rigproof.linecheck.noticing import Noticed
from tests.linecheck.bandtakes import RATE, Band, Sound, written

SECONDS = 12
SPEED_M_S = 343.0


def found(sound: Sound, folder: Path, lines: str) -> tuple[Noticed, ...]:
    path = written(Band(sound, 0), folder / "take.wav")
    return listening.listen(path, of_list(lines, name="list")).findings


def strokes(dice: np.random.Generator, per_s: float = 2.0, low_hz: float = 0.0) -> Sound:
    """Short bursts at times of their own."""
    sound = np.zeros(SECONDS * RATE)
    size = RATE // 8
    for at in dice.integers(RATE // 2, len(sound) - size, round(per_s * SECONDS)):
        burst = dice.standard_normal(size) * 0.5 ** (np.arange(size) / (0.012 * RATE))
        burst *= np.minimum(1, np.arange(size) / 50)
        sound[at : at + size] += 0.2 * dice.uniform(0.4, 1) * burst
    return sound


def later(sound: Sound, metres: float, level_db: float) -> Sound:
    """The same by air."""
    late = round(metres / SPEED_M_S * RATE)
    made = np.zeros_like(sound)
    made[late:] = sound[: len(sound) - late] * 10 ** (level_db / 20)
    return made


def hiss(dice: np.random.Generator, channels: int) -> Sound:
    return 1e-5 * dice.standard_normal((channels, SECONDS * RATE))


FOUR = "number,name,family\n1,Bodhran,drums\n2,Fiddle,strings\n3,Whistle,brass\n4,Bones,drums\n"


def test_a_third_source_as_far_from_both_is_no_crosstalk(tmp_path: Path) -> None:
    """The bones reach two microphones at one time; their own channel tells that they do."""
    dice = np.random.default_rng(11)
    own = [strokes(dice) for _ in range(4)]
    sound = np.stack(own) + hiss(dice, 4)
    for place in (1, 2):
        sound[place] += later(own[3], 2.0, -12)
    assert [one for one in found(sound, tmp_path, FOUR) if one.kind == "crosstalk"] == []


@pytest.mark.parametrize("rising", [False, True], ids=["joined wires", "wires side by side"])
def test_a_leak_in_the_wire_is_told_with_its_level(tmp_path: Path, rising: bool) -> None:
    """Although the neighbour is heard through the air as well, and louder."""
    dice = np.random.default_rng(12)
    own = [strokes(dice) for _ in range(4)]
    sound = np.stack(own) + hiss(dice, 4)
    sound[1] += later(own[0], 1.0, -20)
    leak = own[0]
    if rising:  # alike to what it is at 4 kHz
        spectrum = np.fft.rfft(leak)
        leak = np.fft.irfft(1j * np.fft.rfftfreq(len(leak), 1 / RATE) / 4000 * spectrum)
    sound[1] += leak * 10 ** (-30 / 20)
    (one,) = (one for one in found(sound, tmp_path, FOUR) if one.kind == "crosstalk")
    assert (one.channel, one.others) == (2, (1,))
    assert one.value == pytest.approx(-30, abs=1.5)


PAIRS = """\
number,name,pair,family
1,Over left,2,drums
2,Over right,1,drums
3,Room left,4,ambience
4,Room right,3,ambience
"""


def stage(dice: np.random.Generator, places_m: tuple[float, ...]) -> Sound:
    """Two spaced pairs and drums at some places across the stage."""
    sound = hiss(dice, 4)
    for at in places_m:
        own = strokes(dice, 1.5)
        for place, (x, away) in enumerate(((-0.6, 1.0), (0.6, 1.0), (-1.5, 4.0), (1.5, 4.0))):
            way = float(np.hypot(at - x, away))
            sound[place] += later(own, way, -20 * np.log10(way))
    return sound


def test_swapped_sides_are_told_by_strokes_from_several_places(tmp_path: Path) -> None:
    dice = np.random.default_rng(13)
    sound = stage(dice, (-0.7, 0.1, 0.6))
    assert found(sound, tmp_path, PAIRS) == ()
    (one,) = found(sound[[1, 0, 2, 3]], tmp_path, PAIRS)
    assert (one.kind, one.grade) == ("sides", "doubt")
    assert {one.channel, *one.others} == {1, 2, 3, 4}


def test_one_place_tells_nothing_of_sides(tmp_path: Path) -> None:
    """Both ways round one place gives delays that may be: nothing is said."""
    sound = stage(np.random.default_rng(14), (0.4,))
    told = found(sound[[1, 0, 2, 3]], tmp_path, PAIRS)
    assert [one for one in told if one.kind == "sides"] == []


def test_a_hard_stroke_in_another_microphone_is_no_click(tmp_path: Path) -> None:
    """It begins on one channel, and 8 ms later on another; there alone it is a click."""
    dice = np.random.default_rng(15)
    sound = 3e-3 * dice.standard_normal((2, SECONDS * RATE))
    sound = np.cumsum(sound, axis=1) * 0.02 + 1e-6 * dice.standard_normal(sound.shape)
    alone = sound.copy()
    for at in (3 * RATE, 7 * RATE + 111):
        for take in (sound, alone):
            take[1, at] += 0.02
        sound[0, at - 384] += 0.4
    two = "number,name\n1,Bones\n2,Room\n"
    clicks = [one.channel for one in found(alone, tmp_path, two) if one.kind == "click"]
    assert clicks == [2]
    clicks = [one.channel for one in found(sound, tmp_path, two) if one.kind == "click"]
    assert 2 not in clicks


def notes(dice: np.random.Generator, tuned_hz: float) -> Sound:
    """Held notes of an equal temperament."""
    t = np.arange(RATE) / RATE
    sound = []
    for _ in range(SECONDS):
        pitch_hz = tuned_hz * 2 ** (int(dice.integers(-9, 10)) / 12)
        tone = sum(np.sin(2 * np.pi * n * pitch_hz * t + n) / n**2 for n in range(1, 5))
        sound.append(0.1 * tone * np.hanning(RATE))
    return np.concatenate(sound)


# 1200 log2(48 / 44.1) = 146.7 cent: 46.7 off the semitone, from memory of no table.
@pytest.mark.parametrize(("ratio", "cent"), [(48 / 44.1, 46.7), (44.1 / 48, -46.7), (445 / 440, 0)])
def test_a_player_at_a_wrong_rate_is_out_of_tune(tmp_path: Path, ratio: float, cent: float) -> None:
    """And an instrument tuned to 445 Hz is not."""
    dice = np.random.default_rng(16)
    sound = np.stack([notes(dice, 440.0 * (ratio if place == 2 else 1)) for place in range(5)])
    lines = "number,name,family\n" + "".join(
        f"{n},{name},{family}\n"
        for n, (name, family) in enumerate(
            (("Harp", "strings"), ("Guitar", "guitar"), ("Tracks", "playback"), ("Organ", "keys"),
             ("Bass", "bass")), 1)
    )  # fmt: skip
    pitch = [one for one in found(sound + hiss(dice, 5), tmp_path, lines) if one.kind == "pitch"]
    assert [one.channel for one in pitch] == ([3] if cent else [])
    for one in pitch:
        assert one.value == pytest.approx(cent, abs=2)
        assert "44.1" in one.says


def test_clocks_go_by_what_most_beginnings_tell() -> None:
    """A chance line of few beginnings does not make a device of a channel that keeps time."""
    many = [
        Drift(one=one, other=other, ppm=ppm, off_ppm=3, sure_ratio=0.9, often=20)
        for one, other, ppm in ((0, 1, 0.2), (1, 2, -0.1), (0, 2, 0.1), (0, 3, 80.0), (1, 3, 80.5))
    ]
    stray = Drift(one=2, other=3, ppm=0.0, off_ppm=3, sure_ratio=0.9, often=8)
    (clocks,) = by_clock([stray, *many])
    assert [one for one, _ in clocks] == [(0, 1, 2), (3,)]
    assert clocks[1][1] == pytest.approx(80, abs=1)
