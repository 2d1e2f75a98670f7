"""A rig between the player and the recorder, with faults that are known because we made them."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft, rfftfreq
from scipy.signal import resample_poly

Sound = NDArray[np.float64]


@dataclass(frozen=True)
class Faults:
    """What a simulated rig does to what it is sent. Channels count from 0."""

    route: Mapping[int, int] = field(default_factory=dict)  # recorded -> played, where not itself
    flipped: frozenset[int] = frozenset()
    late_samples: Mapping[int, float] = field(default_factory=dict)
    gain_db: Mapping[int, float] = field(default_factory=dict)
    leaks: Mapping[tuple[int, int], float] = field(default_factory=dict)  # (recorded, played): dB
    dead: frozenset[int] = frozenset()
    ceiling: Mapping[int, float] = field(default_factory=dict)
    band_hz: Mapping[int, tuple[float, float]] = field(default_factory=dict)
    square: Mapping[int, float] = field(default_factory=dict)  # second-order distortion, of 1
    hum_dbfs: Mapping[int, tuple[float, tuple[float, ...]]] = field(default_factory=dict)
    noise_dbfs: float = -100.0
    noisy_dbfs: Mapping[int, float] = field(default_factory=dict)
    start_s: float = 1.0
    clock_ppm: float = 0.0


def through(played: NDArray[np.float32], faults: Faults, *, rate_hz: int, seed: int) -> Sound:
    """What a recorder gets: frames by channels."""
    random = np.random.default_rng(seed)
    length, channels = played.shape
    before = int(faults.start_s * rate_hz)
    recorded = np.zeros((before + length + rate_hz // 2, channels))
    for to in range(channels):
        if to in faults.dead and all(at != to for at, _ in faults.leaks):
            continue
        sound = played[:, faults.route.get(to, to)].astype(float)
        sound *= 10 ** (faults.gain_db.get(to, 0.0) / 20)
        if to in faults.flipped:
            sound = -sound
        if to in faults.late_samples or to in faults.band_hz:
            sound = _filtered(
                sound, faults.late_samples.get(to, 0.0), faults.band_hz.get(to), rate_hz
            )
        if to in faults.square:
            peak = np.abs(sound).max()
            sound = sound + faults.square[to] * (sound**2 / peak)
        if to in faults.dead:
            sound = np.zeros(length)
        for (at, source), level_db in faults.leaks.items():
            if at == to:
                sound = sound + 10 ** (level_db / 20) * played[:, source]
        if to in faults.ceiling:
            sound = np.clip(sound, -faults.ceiling[to], faults.ceiling[to])
        recorded[before : before + length, to] = sound
    if faults.clock_ppm:
        recorded = _off_clock(recorded, faults.clock_ppm, begin=before)
    t = np.arange(len(recorded)) / rate_hz
    for to, (mains_hz, levels_dbfs) in faults.hum_dbfs.items():
        for harmonic, level_dbfs in enumerate(levels_dbfs, 1):
            recorded[:, to] += 10 ** (level_dbfs / 20) * np.sin(2 * np.pi * mains_hz * harmonic * t)
    for to in range(channels):
        # A sine of full scale is 0 dBFS, so noise of that power has 1/sqrt(2) of root mean square.
        scale = 10 ** (faults.noisy_dbfs.get(to, faults.noise_dbfs) / 20) / 2**0.5
        recorded[:, to] += random.normal(0, scale, len(recorded))
    return recorded


def _filtered(
    sound: Sound, late: float, band_hz: tuple[float, float] | None, rate_hz: int
) -> Sound:
    """Delayed by a part of a sample, and limited to a band, in the spectrum: both are exact."""
    size = next_fast_len(len(sound) + 8192, real=True)
    frequencies = rfftfreq(size, 1 / rate_hz)
    spectrum = rfft(sound, size) * np.exp(-2j * np.pi * frequencies / rate_hz * late)
    if band_hz is not None:
        low, high = band_hz
        spectrum /= 1 + (low / np.maximum(frequencies, 1e-3)) ** 4
        spectrum /= 1 + (frequencies / high) ** 4
    shaped: Sound = irfft(spectrum, size)[: len(sound)]
    return shaped


def _off_clock(recorded: Sound, ppm: float, *, begin: int) -> Sound:
    """What a recorder takes whose clock is slower by so much: by eightfold interpolation.

    Before `begin` there is nothing to move.
    """
    at = np.arange(int(len(recorded) / (1 + ppm * 1e-6)) - 2) * (1 + ppm * 1e-6)
    since = max(0, begin - 1000)
    first = int(np.searchsorted(at, since))
    made = np.zeros((len(at), recorded.shape[1]))
    for to in np.flatnonzero(recorded.any(axis=0)):
        fine = resample_poly(recorded[since:, to], 8, 1)
        place = (at[first:] - since) * 8
        below = place.astype(int)  # evenly spaced, so there is nothing to search for
        share = place - below
        made[first:, to] = fine[below] * (1 - share) + fine[below + 1] * share
    return made
