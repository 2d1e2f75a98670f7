"""What a channel says when nobody plays: its noise, and the hum of the mains in it."""

from functools import lru_cache
from math import log10
from typing import TYPE_CHECKING

import msgspec

from rigproof.physics.weighting import a_weighting_db

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MAINS_HZ = (50.0, 60.0)
HARMONICS = 12
_SWAY_HZ = 0.4  # what a grid may be off its name, and a recorder's clock with it
_STANDS_OUT_DB = 12.0  # above its surroundings before a line in the spectrum is hum
FLOOR_DBFS = -140.0
_TOLD, _TOLD_DB = 6, 30.0  # multiples worth telling, and how far under the strongest
_BLACKMAN_LINES = 1.727


class Hum(msgspec.Struct, frozen=True):
    """Mains hum: its fundamental, and the level of each multiple of it, the first included."""

    mains_hz: float
    levels_dbfs: tuple[float, ...]

    @property
    def total_dbfs(self) -> float:
        """All multiples together, as powers add."""
        return 10 * log10(sum(10 ** (level / 10) for level in self.levels_dbfs))

    @property
    def strongest(self) -> tuple[int, ...]:
        """The multiples that make it what it is, in their order: at most six."""
        loudest = sorted(range(len(self.levels_dbfs)), key=lambda n: -self.levels_dbfs[n])
        top = max(self.levels_dbfs)
        rest = [n + 1 for n in loudest[:_TOLD] if self.levels_dbfs[n] > top - _TOLD_DB]
        return tuple(sorted(rest))

    @property
    def cause(self) -> str:
        """The likely cause by the pattern of the multiples: common practice, from memory."""
        power = [10 ** (level / 10) for level in self.levels_dbfs]
        odd, even = sum(power[0::2]), sum(power[1::2])
        high = sum(power[4:])
        if high > 0.3 * sum(power):
            return "buzz"  # dimmers, unbalanced runs, switched supplies
        if even > 2 * odd:
            return "ripple"  # a rectifier in a box
        return "field"  # a loop of earths, or a transformer nearby


class Silence(msgspec.Struct, frozen=True):
    """What one channel holds while nothing plays.

    `noise_dba`: A-weighted, without the hum; None for a stretch too short to tell them apart.
    """

    noise_dbfs: float
    hum: Hum | None
    noise_dba: float | None = None

    @property
    def rest_dbfs(self) -> float:
        """The noise without the multiples of the mains."""
        if self.hum is None:
            return self.noise_dbfs
        rest = 10 ** (self.noise_dbfs / 10) - 10 ** (self.hum.total_dbfs / 10)
        return 10 * log10(max(rest, 10 ** (FLOOR_DBFS / 10)))


def silence(sound: "NDArray[np.float32]", *, rate_hz: float) -> Silence:
    """Noise and hum of a stretch in which nothing plays. At least a second is wanted.

    `noise_dbfs` is the root mean square over a full-scale sine's, hum included (a sine of full
    scale reads 0 dBFS, as in AES17).
    """
    import numpy as np

    power = float(np.square(sound, dtype=np.float64).mean())
    noise_dbfs = 10 * log10(2 * power) if power > 0 else FLOOR_DBFS
    if len(sound) < rate_hz:
        return Silence(max(noise_dbfs, FLOOR_DBFS), None)
    lines, spacing_hz = lines_of(sound), rate_hz / len(sound)
    hum = hum_of_lines(lines, spacing_hz=spacing_hz)
    return Silence(max(noise_dbfs, FLOOR_DBFS), hum, _hiss_dba(lines, spacing_hz, hum))


def _hiss_dba(lines: "NDArray[np.float64]", spacing_hz: float, hum: Hum | None) -> float:
    """The A-weighted level of a spectrum from 20 Hz to 20 kHz, without the multiples of the mains.

    A spectrum scaled for sines shows noise larger by what the window's lobe holds: 1.727 lines of a
    Blackman window. Source: F. J. Harris, Proc. IEEE 66, 1978, table 1, from memory.
    """
    import numpy as np

    inside = slice(max(1, round(20 / spacing_hz)), round(20_000 / spacing_hz) + 1)
    power = np.square(lines[inside]) * _a_weights(len(lines), spacing_hz)[inside]
    if hum is not None:
        frequencies = np.arange(len(lines))[inside] * spacing_hz
        nearest = np.maximum(1, np.round(frequencies / hum.mains_hz))
        reach = _SWAY_HZ * nearest + 3 * spacing_hz
        off = np.abs(frequencies - nearest * hum.mains_hz)
        power[(off <= reach) & (nearest <= HARMONICS)] = 0.0
    total = float(power.sum()) / _BLACKMAN_LINES
    return max(FLOOR_DBFS, 10 * log10(total)) if total > 0 else FLOOR_DBFS


@lru_cache(4)
def _a_weights(lines: int, spacing_hz: float) -> "NDArray[np.float64]":
    import numpy as np

    weights = np.zeros(lines)
    audible = (np.arange(1, lines) * spacing_hz).astype(np.float64)
    weights[1:] = 10 ** (np.asarray(a_weighting_db(audible)) / 10)
    return weights


@lru_cache(4)
def _window(size: int) -> "NDArray[np.float64]":
    import numpy as np

    return np.blackman(size)


def lines_of(sound: "NDArray[np.float32]") -> "NDArray[np.float64]":
    """The spectrum of a stretch, scaled so that a sine of full scale peaks at 1."""
    import numpy as np
    from scipy.fft import rfft

    window = _window(len(sound))
    lines: NDArray[np.float64] = np.abs(rfft(sound * window)) / (window.sum() / 2)
    return lines


def hum_of_lines(lines: "NDArray[np.float64]", *, spacing_hz: float) -> Hum | None:
    """The mains whose multiples stand out most in a spectrum; None where none does."""
    best: Hum | None = None
    for mains_hz in MAINS_HZ:
        found = _series(lines, spacing_hz, mains_hz)
        if found is not None and (best is None or found.total_dbfs > best.total_dbfs):
            best = found
    return best


def _series(lines: "NDArray[np.float64]", spacing_hz: float, mains_hz: float) -> Hum | None:
    import numpy as np

    levels: list[float] = []
    clear = 0
    for harmonic in range(1, HARMONICS + 1):
        middle = harmonic * mains_hz
        reach = _SWAY_HZ * harmonic + 2 * spacing_hz
        low, high = (round((middle + sign * reach) / spacing_hz) for sign in (-1, 1))
        if high >= len(lines):
            break
        top = float(lines[low : high + 1].max())
        wide = round(12 / spacing_hz)
        around = np.concatenate(
            (lines[max(1, low - wide) : low - 3], lines[high + 4 : high + 4 + wide])
        )
        usual = float(np.median(around)) if len(around) else 0.0
        stands = top > usual * 10 ** (_STANDS_OUT_DB / 20) and top > 10 ** (FLOOR_DBFS / 20)
        clear += stands
        levels.append(20 * log10(top) if stands else FLOOR_DBFS)
    # One line alone at 50 or 60 Hz counts only as the fundamental; two make a series.
    if clear >= 2 or (levels and levels[0] > FLOOR_DBFS + 40):
        return Hum(mains_hz, tuple(levels)) if max(levels) > FLOOR_DBFS else None
    return None
