"""Loudness, range, true peak and hum against what others print and what others compute."""

from collections.abc import Mapping
from math import log10

import numpy as np
import pyloudnorm
import pytest
from msgspec.structs import astuple
from numpy.typing import NDArray
from scipy.signal import resample_poly

from rigproof.linecheck.describing import described, loudness, ratio_db, short_term_lufs
from rigproof.linecheck.gathering import Gathered, Gatherer, Read
from rigproof.linecheck.lineup import numbered
from rigproof.linecheck.metering import LoudnessMeter, LoudnessTables
from rigproof.linecheck.noticing import Loudness
from rigproof.linecheck.silence import silence
from rigproof.physics.loudness import (
    SURROUND_RATIO,
    TRUE_PEAK_TAPS,
    k_weighting_gain_ratio,
    under_read_db,
)
from tests.reference.rows import Calls, Row, assert_agrees, judged_by

RATE = 48_000
Sound = NDArray[np.float64]


def gathered(sound: Sound, rate_hz: int = RATE) -> Gathered:
    """Frames by channels, in blocks as a file gives them."""
    gatherer = Gatherer(channels=sound.shape[1], rate_hz=rate_hz, frames=len(sound))
    step = 4 * rate_hz
    for at in range(0, len(sound), step):
        gatherer.take(Read(sound[at : at + step].astype(np.float32)))
    return gatherer.so_far()


def weighed(sound: Sound, rate_hz: int = RATE) -> LoudnessTables:
    """The same by the pass for the loudness alone."""
    meter = LoudnessMeter(channels=sound.shape[1], rate_hz=rate_hz, frames=len(sound))
    step = 4 * rate_hz
    for at in range(0, len(sound), step):
        meter.take(Read(sound[at : at + step].astype(np.float32)))
    return meter.so_far()


def _tone(
    row: Row, *, seconds: float, amplitude: float, frequency_hz: float = 1000.0, start: float = 0.0
) -> Sound:
    rate_hz = row["fs"] if "fs=" in row.inputs else RATE
    t = start + np.arange(round(seconds * rate_hz)) / rate_hz
    sound: Sound = amplitude * np.sin(2 * np.pi * frequency_hz * t)
    return sound


def _peak_ratio(level_dbfs: float) -> float:
    return float(10 ** (level_dbfs / 20))


def _parts(row: Row) -> Sound:
    """The segments that a row lists one after the other, as one channel."""
    parts: list[Sound] = []
    at = 0.0
    for text in row.text("segments").split(", "):
        length, _, rest = text.partition(" s ")
        seconds = float(length)
        silent = rest == "silence"
        level = -200.0 if silent else float(rest.split()[1])
        parts.append(_tone(row, seconds=seconds, amplitude=_peak_ratio(level), start=at))
        at += seconds
    repeats = int(row["repeats"]) if "repeats=" in row.inputs else 1
    return np.concatenate(parts * repeats)


def _programme(row: Row) -> tuple[Sound, Mapping[int, float]]:
    """The channels of a row's programme, and how each weighs."""
    if row.text("waveform").startswith("5.0"):
        names = ("L", "R", "C", "Ls", "Rs")
        sound = np.stack(
            [_tone(row, seconds=row["T"], amplitude=_peak_ratio(row[name])) for name in names],
            axis=1,
        )
        assert row["surround weight"] == SURROUND_RATIO
        return sound, {0: 1, 1: 1, 2: 1, 3: SURROUND_RATIO, 4: SURROUND_RATIO}
    if "segments=" in row.inputs:
        one = _parts(row)
    else:
        frequency = row["f"]
        one = _tone(row, seconds=row["T"], amplitude=_peak_ratio(row["L"]), frequency_hz=frequency)
    return np.stack([one, one], axis=1), {0: 1, 1: 1}


def _loudness(row: Row) -> Loudness:
    """Of either pass, which tell the same."""
    sound, weights = _programme(row)
    found, alone = (loudness(known, weights) for known in (gathered(sound), weighed(sound)))
    assert astuple(alone) == pytest.approx(astuple(found), abs=0.001)
    return alone


def _steady_short_term(row: Row) -> float:
    """The short-term value that stays, once three seconds have passed."""
    sound, weights = _programme(row)
    values = short_term_lufs(weighed(sound), weights)
    assert max(values) - min(values) < 0.2
    return values[len(values) // 2]


def _phased(row: Row, *, faded: bool) -> Sound:
    """A second of a tone of fs over a whole number, with the row's phase and fades."""
    n = np.arange(RATE)
    part = float(row.text("f").removeprefix("fs/"))
    sound: Sound = row["amplitude"] * np.sin(2 * np.pi * n / part + np.deg2rad(row["phase"]))
    if faded:
        fade = round(row["fades"] * RATE / 1000)
        sound[:fade] *= np.linspace(0, 1, fade)
        sound[-fade:] *= np.linspace(1, 0, fade)
    return sound[:, None]


def _true_peak_dbtp(row: Row) -> float:
    # In halves: the file holds 24 bits up to full scale, and case 19 lies above it.
    sound = _phased(row, faded=True)
    return ratio_db(float(gathered(sound).true_peak[0]))


def _sample_peak_dbfs(row: Row) -> float:
    one = described(gathered(_phased(row, faded=False)), numbered(1))
    return one[0].peak_dbfs


def _hum_multiple(row: Row) -> float:
    """The multiple that the hum of a channel is found at, where the row says which."""
    mains = row["mains"]
    multiple = int(row["n"]) if "n=" in row.inputs else 2
    t = np.arange(4 * RATE) / RATE
    sound = 0.01 * np.sin(2 * np.pi * mains * t) + 0.02 * np.sin(2 * np.pi * multiple * mains * t)
    noise = np.random.default_rng(1).standard_normal(len(t)) * 1e-5
    hum = silence((sound + noise).astype(np.float32), rate_hz=RATE).hum
    assert hum is not None
    strongest = int(np.argmax(hum.levels_dbfs)) + 1
    return strongest * hum.mains_hz


CALLS: Calls = {
    ("measurement", "EBU Tech 3341 * integrated loudness*"): lambda row: (
        _loudness(row).integrated_lufs
    ),
    ("measurement", "EBU Tech 3341 2.9 calibration tone"): lambda row: (
        _loudness(row).integrated_lufs
    ),
    ("measurement", "BS.1770: the same tone in both channels"): lambda row: (
        _loudness(row).integrated_lufs
    ),
    ("measurement", "EBU Tech 3341 * maximum short-term"): lambda row: (
        _loudness(row).most_short_term_lufs
    ),
    ("measurement", "EBU Tech 3341 * maximum momentary"): lambda row: (
        _loudness(row).most_momentary_lufs
    ),
    ("measurement", "EBU Tech 3341 case 9: *"): _steady_short_term,
    ("measurement", "EBU Tech 3342 *"): lambda row: _loudness(row).range_lu,
    ("measurement", "EBU Tech 3341 * true peak"): _true_peak_dbtp,
    ("measurement", "sample peak of the case * tone"): _sample_peak_dbfs,
    ("measurement", "true-peak under-read, *"): lambda row: under_read_db(
        oversampling_ratio=row["n"], frequency_ratio=row["fnorm"]
    ),
    ("measurement", "rectifier ripple frequency on 60 Hz mains"): _hum_multiple,
    ("measurement", "harmonic * of * Hz mains"): _hum_multiple,
}


@judged_by(CALLS)
def test_rows(row: Row, call: object) -> None:
    assert_agrees(row, call(row))  # type: ignore[operator]


@pytest.mark.published("ITU-R BS.1770-5, Annex 1, Tables 1 and 2 (48 kHz)")
def test_k_weighting_as_printed() -> None:
    shelf, high_pass = k_weighting_gain_ratio(rate_hz=48_000)
    printed = (1.53512485958697, -2.69169618940638, 1.19839281085285)
    assert shelf[:3] == pytest.approx(printed, abs=1e-13)
    assert shelf[3:] == pytest.approx((1, -1.69065929318241, 0.73248077421585), abs=1e-13)
    assert high_pass[:3] == (1, -2, 1)
    assert high_pass[3:] == pytest.approx((1, -1.99004745483398, 0.99007225036621), abs=1e-13)


@pytest.mark.published("ITU-R BS.1770-5, Annex 2: the fourth phase is the first turned round")
def test_the_taps_are_symmetrical() -> None:
    forth = [taps[place] for place in range(12) for taps in TRUE_PEAK_TAPS]
    assert forth == forth[::-1]


def _music(seed: int, channels: int = 4, seconds: int = 30, rate_hz: int = RATE) -> Sound:
    """Notes, strokes and noise at levels from soft to loud."""
    dice = np.random.default_rng(seed)
    t = np.arange(seconds * rate_hz) / rate_hz
    sound = np.zeros((len(t), channels))
    for channel in range(channels):
        level = 10 ** (np.repeat(dice.uniform(-45, -8, seconds), rate_hz) / 20)
        pitch = np.repeat(dice.uniform(40, 4000, 4 * seconds), rate_hz // 4)
        tone = np.sin(2 * np.pi * np.cumsum(pitch) / rate_hz)
        noise = dice.standard_normal(len(t)) * dice.uniform(0.01, 0.3)
        strokes = np.exp(-((t * dice.uniform(1, 3)) % 1) * 20)
        sound[:, channel] = level * strokes * (tone + noise)
    return sound


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
@pytest.mark.parametrize("seed", range(3))
def test_loudness_beside_another_meter(seed: int, rate_hz: int) -> None:
    """pyloudnorm filters sample by sample; we weigh spectra of tenths of a second.

    A tenth of a LU is asked for. What is left here comes of the lengths of blocks alone.
    """
    sound = _music(seed, channels=2, rate_hz=rate_hz, seconds=12)
    known = gathered(sound, rate_hz)
    # Its own filters are the analogue ones of another derivation; this class is the standard's.
    meter = pyloudnorm.Meter(rate_hz, filter_class="DeMan")
    assert loudness(known, {0: 1, 1: 1}).integrated_lufs == pytest.approx(
        meter.integrated_loudness(sound), abs=0.002
    )
    for channel in range(2):
        assert loudness(known, {channel: 1}).integrated_lufs == pytest.approx(
            meter.integrated_loudness(sound[:, channel]), abs=0.002
        )


def test_tones_are_as_loud_as_another_meter_has_them() -> None:
    """Wherever they lie: spectra of tenths alone were out by up to 0.12 LU around 200 Hz."""
    t = np.arange(5 * RATE)[:, None] / RATE
    tones_hz = np.array([22, 31, 38, 41.2, 55, 82.4, 150, 207, 253, 310, 1000, 6123])
    sound = 0.3 * np.sin(2 * np.pi * tones_hz * t)
    meter = pyloudnorm.Meter(RATE, filter_class="DeMan")
    expected = [meter.integrated_loudness(one) for one in sound.T]
    for known in (gathered(sound), weighed(sound)):
        found = [loudness(known, {place: 1}).integrated_lufs for place in range(len(tones_hz))]
        assert found == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize("seed", range(4))
def test_true_peak_beside_a_finer_resampling(seed: int) -> None:
    """scipy's long filter at 16 times the rate; the printed 48 taps are allowed 0.3 dB."""
    dice = np.random.default_rng(seed)
    fine = resample_poly(dice.standard_normal(6_000), 2, 1) * 0.2
    sound = np.clip(np.stack([fine, 0.3 * fine], axis=1), -1, 1)
    sound[:50] *= 0
    sound[-50:] *= 0
    expected = np.abs(resample_poly(sound, 16, 1, axis=0)).max(axis=0)
    found = gathered(sound).true_peak
    for one, other in zip(found, expected, strict=True):
        assert 20 * log10(float(one) / float(other)) == pytest.approx(0, abs=0.3)


@pytest.mark.published("ITU-R BS.1770-5, Annex 2: the printed filter")
@pytest.mark.parametrize("seed", range(4))
def test_no_true_peak_of_the_printed_filter_is_missed(seed: int) -> None:
    """Where the filter is laid on is chosen; laid on everywhere it finds no higher one.

    Tones up to near half the rate, whose samples may all lie far under what is between them.
    """
    dice = np.random.default_rng(seed)
    n = np.arange(3 * RATE)[:, None]
    turns = dice.uniform(0.01, 0.49, 6)
    sound = np.sin(2 * np.pi * turns * n + dice.uniform(0, 6, 6)) * dice.uniform(0.1, 0.9, 6)
    sound *= 1 + 0.3 * np.sin(n / dice.uniform(2_000, 20_000, 6))
    sound = (sound / 1.3).astype(np.float32)
    taps = np.array(TRUE_PEAK_TAPS)
    whole = np.stack([[np.convolve(one, row) for row in taps] for one in sound.T])
    expected = np.maximum(
        np.abs(whole[..., : len(sound)]).max(axis=(1, 2)), np.abs(sound).max(axis=0)
    )
    assert gathered(sound).true_peak == pytest.approx(expected, rel=1e-5)


def test_true_peaks_across_the_edges_of_blocks() -> None:
    """A peak that lies between two blocks is found as any other."""
    quarter = 0.5 * np.sin(np.pi / 2 * np.arange(40) + np.pi / 4) * np.hanning(40)
    for shift in range(-20, 21, 4):
        sound = np.zeros((8 * RATE, 1))
        at = 4 * RATE + shift - 20
        sound[at : at + 40, 0] = quarter
        expected = np.abs(resample_poly(quarter, 16, 1)).max()
        assert float(gathered(sound).true_peak[0]) == pytest.approx(expected, rel=0.03)


def test_levels_and_weighting_of_a_tone() -> None:
    """A sine of full scale is 0 dBFS (AES17); A takes 19.1 dB off 100 Hz (IEC 61672-1)."""
    t = np.arange(5 * RATE) / RATE
    one = described(gathered(np.sin(2 * np.pi * 100 * t)[:, None] * 0.5), numbered(1))[0]
    assert one.level_dbfs == pytest.approx(-6.02, abs=0.01)
    assert one.level_dba == pytest.approx(-6.02 - 19.1, abs=0.06)
    assert one.crest_db == pytest.approx(3.01, abs=0.01)
    assert max(one.thirds_dbfs) == pytest.approx(-6.02, abs=0.2)
