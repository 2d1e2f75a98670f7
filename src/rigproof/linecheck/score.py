"""The test signal: when each channel starts its sweep, and the marks that tell where one stands.

All channels play at once, each the same exponential sweep a little later than the one before. One
division of a recorded channel by the sweep then lays the responses of all sources out in a row,
each in a place of its own; the distortion of a source arrives ahead of it, between those places.
Method: Farina 2000; several sweeps in one another, Majdak, Balazs, Laback 2007 ("Multiple
exponential sweep method"). A chirp common to all channels stands before the sweeps and another
behind them: they tell the start, and the distance between them the clock.
"""

from functools import lru_cache
from math import ceil, log10
from typing import TYPE_CHECKING

import msgspec

from rigproof.physics.sweeps import frequency_hz, passing_s

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.float64]
    Frames = NDArray[np.float32]

LOW_HZ, HIGH_HZ = 20.0, 20_000.0
# A whole number of periods of the lowest frequency, so that harmonics keep their phases (Novak).
GROWTH_S = 1.6
# Every moment of the signal is a multiple of this: whole samples at 44.1, 48, 88.2 and 96 kHz.
GRID_S = 1 / 300
# Orders 2 to 5 of the distortion then land between the places of the sources, and apart from each
# other: at 0.63, 0.49, 0.27 and 0.54 of the way from one to the next.
STAGGER_S = 62 * GRID_S
LEAD_S = 0.5  # silence before the first mark
MARK_S = 0.35
MARK_LOW_HZ, MARK_HIGH_HZ = 400.0, 4000.0  # what a telephone lets through as well
SWEEPS_AT_S = 1.25
REST_S = 0.5  # for the last response to die away
SILENCE_S = 1.6  # in which noise and hum are read
TAIL_S = 0.4
FADE_IN_S, FADE_OUT_S = 0.05, 0.004
MOST_CHANNELS = 128
ALIKE_DB = 0.05  # channels of a file that differ by less are as loud as each other


class Score(msgspec.Struct, frozen=True):
    """A test signal for some channels at some rate: everything else follows from these.

    `under_db`: how far each channel plays under the loudest; empty where all are as loud.
    """

    channels: int
    rate_hz: float
    under_db: tuple[float, ...] = ()

    def under(self, channel: int) -> float:
        """How far a channel, counted from 0, plays under the loudest, in dB."""
        return self.under_db[channel] if channel < len(self.under_db) else 0.0

    @property
    def high_hz(self) -> float:
        """The end of the sweep: 20 kHz, or a little below half the rate."""
        return min(HIGH_HZ, 0.45 * self.rate_hz)

    @property
    def sweep_s(self) -> float:
        """The length of one sweep."""
        return passing_s(at_hz=self.high_hz, growth_s=GROWTH_S, low_hz=LOW_HZ)

    def start_s(self, channel: int) -> float:
        """When a channel, counted from 0, begins its sweep."""
        return SWEEPS_AT_S + channel * STAGGER_S

    @property
    def silence_s(self) -> float:
        """When the silence behind the sweeps begins."""
        return ceil((self.start_s(self.channels - 1) + self.sweep_s + REST_S) / GRID_S) * GRID_S

    @property
    def last_mark_s(self) -> float:
        """When the second mark begins."""
        return self.silence_s + SILENCE_S

    @property
    def length_s(self) -> float:
        return self.last_mark_s + MARK_S + TAIL_S

    @property
    def frames(self) -> int:
        return ceil(self.length_s * self.rate_hz)


def sweep(*, rate_hz: float, high_hz: float, offset_s: float = 0.0) -> "Samples":
    """One sweep of full scale, sampled so many times a second of its own time.

    `rate_hz` need be no whole number: a recorder whose clock is off takes other samples of the
    same sweep. `offset_s`: how long after the start the first sample is taken, below one sample.
    """
    import numpy as np

    duration_s = passing_s(at_hz=high_hz, growth_s=GROWTH_S, low_hz=LOW_HZ)
    t = offset_s + np.arange(int(duration_s * rate_hz)) / rate_hz
    # Source: Farina 2000, equation of the sweep; Novak's form, without the -1.
    sound: Samples = np.sin(2 * np.pi * LOW_HZ * GROWTH_S * np.exp(t / GROWTH_S))
    rising = 0.5 - 0.5 * np.cos(np.pi * np.clip(t / FADE_IN_S, 0, 1))
    falling = 0.5 - 0.5 * np.cos(np.pi * np.clip((duration_s - t) / FADE_OUT_S, 0, 1))
    return sound * rising * falling


def mark(*, rate_hz: float, last: bool, offset_s: float = 0.0) -> "Samples":
    """A mark of full scale: a chirp that rises before the sweeps and falls behind them."""
    import numpy as np

    t = offset_s + np.arange(int(MARK_S * rate_hz)) / rate_hz
    low, high = (MARK_HIGH_HZ, MARK_LOW_HZ) if last else (MARK_LOW_HZ, MARK_HIGH_HZ)
    sound: Samples = np.sin(2 * np.pi * (low * t + (high - low) * t**2 / (2 * MARK_S)))
    window: Samples = np.sqrt(np.clip(np.sin(np.pi * t / MARK_S), 0, None))
    return sound * window


def rendered(score: Score, *, level_dbfs: float) -> "Frames":
    """The test signal as samples: frames by channels, the loudest one's peaks at the level.

    Memory: four bytes a sample; 32 channels take about 130 MB.
    """
    import numpy as np

    peak = 10 ** (level_dbfs / 20)
    made = np.zeros((score.frames, score.channels), np.float32)
    for at_s, last in ((LEAD_S, False), (score.last_mark_s, True)):
        at, offset_s = _begun(at_s, score.rate_hz)
        sound = mark(rate_hz=score.rate_hz, last=last, offset_s=offset_s) * peak
        made[at : at + len(sound)] = sound[:, None]
    swept: dict[float, Samples] = {}
    for channel in range(score.channels):
        at, offset_s = _begun(score.start_s(channel), score.rate_hz)
        if offset_s not in swept:
            swept[offset_s] = peak * sweep(
                rate_hz=score.rate_hz, high_hz=score.high_hz, offset_s=offset_s
            )
        sound = swept[offset_s]
        made[at : at + len(sound), channel] += sound
    if any(score.under_db):
        made *= np.array(
            [10 ** (-score.under(channel) / 20) for channel in range(score.channels)], np.float32
        )
    return made


def _begun(at_s: float, rate_hz: float) -> tuple[int, float]:
    """The first sample at or behind a moment, and how long behind it that sample is taken."""
    exact = round(at_s * rate_hz, 6)
    at = ceil(exact)
    return at, (at - exact) / rate_hz


def pitch_hz(score: Score, channel: int, at_s: float) -> float | None:
    """What a channel plays at a time; None outside its sweep."""
    since = at_s - score.start_s(channel)
    if not 0 <= since <= score.sweep_s:
        return None
    return frequency_hz(at_s=since, growth_s=GROWTH_S, low_hz=LOW_HZ)


def recognised(frames: "Frames", rate_hz: float) -> tuple[Score, float] | None:
    """The test signal that a played file is, and its peak level in dBFS; None where it is none."""
    score = Score(frames.shape[1], rate_hz)
    if score.channels > MOST_CHANNELS or abs(len(frames) - score.frames) > 0.01 * score.frames:
        return None
    amplitudes = []
    for channel in range(score.channels):
        amplitude = _amplitude(frames[:, channel], score, channel)
        if amplitude is None:
            return None
        amplitudes.append(amplitude)
    top = max(amplitudes)
    under = tuple(round(20 * log10(top / one), 2) for one in amplitudes)
    alike = max(under) < ALIKE_DB
    return Score(score.channels, rate_hz, () if alike else under), 20 * log10(top)


def _amplitude(sound: "Frames", score: Score, channel: int) -> float | None:
    """How loud a channel plays its sweep; None where it does not play just that.

    Asked in its second fifth, from 80 Hz to 300 Hz: enough to know it by, and for all channels
    quickly.
    """
    import numpy as np

    at, offset_s = _begun(score.start_s(channel), score.rate_hz)
    sought = _swept(score.rate_hz, score.high_hz, round(offset_s, 9))
    begin, end = len(sought) // 5, 2 * len(sought) // 5
    part, sought = sound[at + begin : at + end], sought[begin:end]
    if len(part) < len(sought):
        return None
    own = float(np.dot(sought, sought))
    amplitude = float(np.dot(part, sought)) / own
    # What is left when the sweep is taken out of it must be next to nothing.
    rest = float(np.square(part - amplitude * sought).sum())
    return None if amplitude <= 0 or rest > 0.01 * amplitude**2 * own else amplitude


@lru_cache(maxsize=4)
def _swept(rate_hz: float, high_hz: float, offset_s: float) -> "Samples":
    """The sweep as all channels of a file that begin it alike hold it."""
    made = sweep(rate_hz=rate_hz, high_hz=high_hz, offset_s=offset_s)
    made.setflags(write=False)
    return made
