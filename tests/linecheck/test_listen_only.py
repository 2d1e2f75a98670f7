"""Only the levels of a take, or only its loudness, beside what others make of the same files."""

from collections.abc import Iterator
from math import log10
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
from numpy.typing import NDArray
from scipy.signal import sosfilt

from rigproof.linecheck import listening, metered
from rigproof.linecheck.gathering import Read
from rigproof.linecheck.metering import LoudnessMeter
from rigproof.physics.loudness import k_weighting_gain_ratio
from tests.cli.conftest import Run, run, small  # noqa: F401 (fixtures)
from tests.linecheck import bandtakes

RATE = 48_000
Sound = NDArray[np.float64]

recorded = pytest.mark.skipif(
    not (bandtakes.KITS.exists() and bandtakes.LOOPS.exists()),
    reason="needs the Debian packages hydrogen-drumkits and sonic-pi-samples",
)


def _strokes(seconds: float, channels: int, rate_hz: int = RATE, seed: int = 1) -> Sound:
    """Tones that die away and a little noise, every channel its own."""
    dice = np.random.default_rng(seed)
    t = np.arange(round(seconds * rate_hz))[:, None] / rate_hz
    tones = np.sin(2 * np.pi * dice.uniform(60, 6000, channels) * t)
    sound: Sound = 0.4 * np.exp(-((t * dice.uniform(1, 3, channels)) % 1) * 9) * tones
    return sound + dice.standard_normal(sound.shape) * 1e-3


def _recorded() -> Iterator[Path]:
    """Recorded loops and strokes that are long enough for a block of loudness."""
    loops = sorted(bandtakes.LOOPS.glob("*.flac"))
    kits = sorted(one for kit in bandtakes.kits() for one in kit.glob("*.[wf]*"))
    for path in (*loops[::4], *kits[::40]):
        if soundfile.info(path).duration > 0.8:
            yield path


@recorded
def test_recorded_sound_is_as_loud_as_another_meter_has_it() -> None:
    """Drums, basses, guitars and voices at 44.1 and 48 kHz, mono and stereo.

    A tenth of a LU is asked for; what filters sample by sample is met far closer. It gets whole
    tenths of a second, since it counts blocks by rounding: those not whole may be in or out.
    """
    apart: dict[str, float] = {}
    rates_hz = set()
    for path in _recorded():
        sound, rate_hz = soundfile.read(path, always_2d=True)
        rates_hz.add(rate_hz)
        whole = sound[: len(sound) * 10 // rate_hz * rate_hz // 10]
        # Its own filters are the analogue ones of another derivation; this class is the standard's.
        meter = pyloudnorm.Meter(rate_hz, filter_class="DeMan")
        found = metered.loudnesses(path)
        for one in (*found.channels, *found.pairs):
            expected = meter.integrated_loudness(whole[:, [number - 1 for number in one.numbers]])
            if np.isfinite(expected) or np.isfinite(one.loudness.integrated_lufs):
                apart[f"{path.name} {one.numbers}"] = abs(one.loudness.integrated_lufs - expected)
    assert rates_hz >= {44_100, 48_000}
    assert len(apart) > 40
    assert {name: value for name, value in apart.items() if value > 0.002} == {}


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_tenths_are_those_of_a_filter_that_runs_through_all_samples(rate_hz: int) -> None:
    """scipy's filter, tenth by tenth: tones wherever they fall, strokes, steps, a constant."""
    dice = np.random.default_rng(3)
    n, step = np.arange(2 * rate_hz), rate_hz // 10
    tones_hz = np.array([19, 27.5, 41, 55, 110, 207, 253, 445, 1234, 5000, 15_000])
    sound = np.zeros((len(n), 16))
    sound[:, :11] = 0.3 * np.sin(2 * np.pi * tones_hz * n[:, None] / rate_hz + 0.3)
    sound[:, 11:] = dice.standard_normal((len(n), 5)) * 0.1
    sound[:, 12] *= np.exp(-n / 3000)  # a stroke and its end
    sound[:, 13] = 0.5 * (n > 1.234 * rate_hz)
    sound[:, 14] = 0.25
    sound[step - 1, 15] = 1.0  # the last sample of a tenth
    meter = LoudnessMeter(channels=16, rate_hz=rate_hz, frames=len(sound))
    half = 7 * step  # what a stretch leaves, the next has to know
    for part in (sound[:half], sound[half:]):
        meter.take(Read(part.astype(np.float32)))
    filters = np.array(k_weighting_gain_ratio(rate_hz=rate_hz))
    filtered = sosfilt(filters, sound.astype(np.float32).astype(np.float64), axis=0)
    expected = np.square(filtered).reshape(-1, step, 16).mean(axis=1).T
    found = meter.so_far().weighted
    assert found == pytest.approx(expected, rel=1e-3, abs=1e-8)


@pytest.mark.parametrize(
    ("form", "subtype"),
    [
        ("WAV", "PCM_16"),
        ("RF64", "PCM_24"),
        ("WAV", "PCM_32"),
        ("WAV", "FLOAT"),
        ("W64", "DOUBLE"),
        ("FLAC", "PCM_24"),
    ],
)
@pytest.mark.parametrize("rate_hz", [44_100, 96_000])
def test_levels_are_those_of_the_samples(
    tmp_path: Path, form: str, subtype: str, rate_hz: int
) -> None:
    """Of what the library decodes; a last tenth that is no whole one ends in silence."""
    path = tmp_path / "take.snd"
    sound = _strokes(3.33, 3, rate_hz) + 0.01
    soundfile.write(path, sound, rate_hz, format=form, subtype=subtype)
    decoded, _ = soundfile.read(path)
    found = metered.levels(path)
    tenths = -(-len(decoded) * 10 // rate_hz)
    assert len(found.channels) == 3
    for one, samples in zip(found.channels, decoded.T, strict=True):
        peak, square = np.abs(samples).max(), np.square(samples).sum() / (tenths * rate_hz / 10)
        levels = one.levels
        assert levels.peak_dbfs == pytest.approx(20 * log10(peak), abs=1e-4)
        assert levels.level_dbfs == pytest.approx(10 * log10(2 * square), abs=1e-3)
        assert levels.crest_db == pytest.approx(20 * log10(peak) - 10 * log10(square), abs=1e-3)
        assert levels.dc_ratio == pytest.approx(0.01, abs=2e-3)
        assert len(levels.levels_dbfs) == tenths
        first = np.square(samples[: rate_hz // 10]).mean()
        assert levels.levels_dbfs[0] == pytest.approx(10 * log10(2 * first), abs=1e-3)


def test_both_tell_what_listening_to_all_of_it_tells(tmp_path: Path) -> None:
    """Longer than a stretch, a channel of nothing, and a file of each channel besides."""
    sound = _strokes(7.25, 4)
    sound[:, 2] = 0
    whole = tmp_path / "take.wav"
    soundfile.write(whole, sound, RATE, subtype="PCM_24", format="RF64")
    folder = tmp_path / "mono"
    folder.mkdir()
    for channel in range(4):
        soundfile.write(folder / f"{channel}.wav", sound[:, channel], RATE, subtype="PCM_24")
    known = listening.listen(whole)
    for path in (whole, folder):
        levels, loudness = metered.levels(path), metered.loudnesses(path)
        assert levels.level_step_s == known.level_step_s
        for one, other, all_of_it in zip(
            levels.channels, loudness.channels, known.channels, strict=True
        ):
            for name in ("peak_dbfs", "level_dbfs", "floor_dbfs", "crest_db", "dynamic_db",
                         "loudest_dbfs", "levels_dbfs"):  # fmt: skip
                expected = getattr(all_of_it, name)
                assert getattr(one.levels, name) == pytest.approx(expected, abs=1e-3), name
            assert one.levels.dc_ratio == pytest.approx(all_of_it.dc_ratio, abs=1e-7)
            for name in ("integrated_lufs", "most_momentary_lufs", "most_short_term_lufs",
                         "range_lu"):  # fmt: skip
                expected = getattr(all_of_it.loudness, name)
                assert getattr(other.loudness, name) == pytest.approx(expected, abs=1e-3), name
    assert levels.channels[0].name == "0"


def test_a_shorter_file_beside_others_ends_in_silence(tmp_path: Path) -> None:
    for number, seconds in ((1, 3.0), (2, 1.55)):
        soundfile.write(tmp_path / f"{number}.wav", _strokes(seconds, 1), RATE)
    found = metered.levels(tmp_path)
    assert "unequal length" in found.said[0]
    assert set(found.channels[1].levels.levels_dbfs[16:]) == {-140.0}
    loudness = metered.loudnesses(tmp_path).channels[1].loudness
    filled = np.concatenate([_strokes(1.55, 1), np.zeros((round(1.45 * RATE), 1))])
    soundfile.write(tmp_path / "2.wav", filled, RATE)
    assert loudness == metered.loudnesses(tmp_path).channels[1].loudness
    assert -60 < loudness.integrated_lufs < 0


def test_samples_that_are_no_numbers_are_silence_and_told(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    sound = _strokes(2.0, 2).astype(np.float32)
    clean = sound.copy()
    for at in (100, 90_000):
        sound[at, 1], clean[at, 1] = np.nan, 0
    sound[777, 1], clean[777, 1] = np.inf, 0
    soundfile.write(tmp_path / "clean.wav", clean, RATE, subtype="FLOAT")
    soundfile.write(path, sound, RATE, subtype="FLOAT")
    for meter in (metered.levels, metered.loudnesses):
        found, expected = meter(path), meter(tmp_path / "clean.wav")
        assert found.said == ("3 samples of channel 2 are no number and read as silence.",)
        assert found.channels == expected.channels


@pytest.mark.parametrize("meter", [metered.levels, metered.loudnesses])
def test_ctrl_c_keeps_what_is_known(tmp_path: Path, meter: object) -> None:
    """What was read until then is what the beginning of the take alone tells."""
    sound = _strokes(30.0, 2)
    path = tmp_path / "take.wav"
    soundfile.write(path, sound, RATE)

    def stop(share: float) -> None:
        if share > 0.3:
            raise KeyboardInterrupt

    found = meter(path, progress=stop)  # type: ignore[operator]
    assert not found.whole
    assert 9 < found.read_s < 30
    assert "Stopped" in found.said[-1]
    soundfile.write(path, sound[: round(found.read_s * RATE)], RATE)
    assert meter(path).channels == found.channels  # type: ignore[operator]


def test_two_channels_are_left_and_right_where_no_list_says_else(
    run: Run,  # noqa: F811
    tmp_path: Path,
) -> None:
    """ITU-R BS.1770: the same in both channels is 3 dB more than in one."""
    path = tmp_path / "mix.wav"
    one = _strokes(4.0, 1)
    soundfile.write(path, np.concatenate([one, one], axis=1), RATE)
    result = run("listen", path, "--only", "loudness", "--json").json["result"]
    (pair,) = result["pairs"]
    assert pair["channels"] == [1, 2]
    alone = result["channels"][0]["integrated_lufs"]
    assert pair["integrated_lufs"] == pytest.approx(alone + 3.01, abs=0.01)
    mono = tmp_path / "list.csv"
    mono.write_text("number,name\n1,Kick\n2,Snare\n", encoding="utf-8")
    command = ("listen", path, "--channels", mono, "--only", "loudness", "--json")
    result = run(*command).json["result"]
    assert result["pairs"] == []
    assert [channel["name"] for channel in result["channels"]] == ["Kick", "Snare"]
    mono.write_text("number,name,pair\n1,Keys left,2\n2,Keys right,1\n", encoding="utf-8")
    assert run(*command).json["result"]["pairs"][0]["name"] == "Keys left + Keys right"


def test_words_for_people(run: Run, tmp_path: Path, small: Path) -> None:  # noqa: F811
    path = tmp_path / "take.wav"
    soundfile.write(path, _strokes(4.0, 2), RATE)
    for figures, head in (("levels", "peak dBFS"), ("loudness", "LUFS")):
        outcome = run("listen", path, "--only", figures)
        assert outcome.code == 0
        assert head in outcome.out
        assert "Nothing was judged" in outcome.out
        assert run("listen", path, "--only", figures, "--json").json["result"]["only"] == figures
    soundfile.write(path, np.zeros((RATE, 2)), RATE)
    assert "A dash: every sample is nought." in run("listen", path, "--only", "levels").out
    assert "A dash: nothing is loud" in run("listen", path, "--only", "loudness").out
    refused = run("listen", path, "--only", "levels", "--keep", "--rig", small)
    assert refused.code == 2
    assert "a take is kept with all its figures" in refused.err
