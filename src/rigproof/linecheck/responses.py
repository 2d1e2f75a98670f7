"""From a recording of the test signal to what each recorded channel holds of each played one.

One division by the sweep lays the responses of all sources out in a row. The recording is not
resampled: the sweep is computed at the recorder's own clock instead, so a clock that is off, or a
wrong rate, costs nothing. Source: Farina 2000 and Majdak et al. 2007, as in `score`.
"""

from collections.abc import Iterator
from functools import cached_property
from math import ceil, log10
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.finding_marks import Clock, between
from rigproof.linecheck.score import GROWTH_S, LOW_HZ, STAGGER_S, Score, sweep
from rigproof.linecheck.slipping import (
    BAND_UNDER_RATIO,
    BANDS_HZ,
    MOST_ASKED,
    SURE_ARRIVAL,
    Arrivals,
)
from rigproof.linecheck.unpacking import turned_onto
from rigproof.physics.sweeps import harmonic_advance_s

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.float32]
    Table = NDArray[np.float64]

# Of the way to the next place: what is taken as a source's response.
BEFORE, AFTER = 0.08, 0.20
# Where nothing lands but noise: behind the longest response, ahead of the fourth harmonic.
QUIET = (0.75, 0.88)
LEVEL_LOW_HZ, LEVEL_HIGH_HZ = 300.0, 3000.0  # in which level and polarity are read
HARMONICS = (2, 3, 4, 5)
HARMONIC_REACH_S = 0.004
HEARD_DB = -75.0  # below the loudest in its channel nothing is told from the sweep's own skirts
CLEAR = 10.0  # times the usual scatter before a response counts
# Power that the division must let through of a third octave before what it takes is put back.
LEAST_LET_RATIO = 0.05
# Noise is taken out of a response; so much of it is left where nothing else is there.
NOISE_LEFT_RATIO = 0.2
# The power of two stretches of noise differs by a tenth: beyond half as much again it is no noise.
NOISE_CLEAR_RATIO = 1.5
THIRDS_HZ: tuple[float, ...] = tuple(
    1000 * 10 ** (n / 10) for n in range(-16, 14)
)  # 25 Hz to 20 kHz


class Response(msgspec.Struct, frozen=True):
    """What one recorded channel holds of one played channel; both counted from 0.

    `gain_db`: recorded over played, in the band around 1 kHz. `delay_s`: behind the signal's own
    clock. `upright`: the polarity is kept. `sure`: how far the response stands out, times the
    usual scatter around it.
    """

    recorded: int
    played: int
    gain_db: float
    delay_s: float
    upright: bool
    sure: float


class Found(msgspec.Struct, frozen=True):
    """All responses of a recording above its noise, and what else the division shows."""

    responses: tuple[Response, ...]
    # By (recorded, played): the response in third octaves (dB) and the distortion (share).
    thirds_db: "dict[tuple[int, int], tuple[float, ...]]"
    distortion_ratio: "dict[tuple[int, int], float]"
    # Of some lines, how late each of `slipping.BANDS_HZ` arrives.
    arrivals: tuple[Arrivals, ...] = ()


def responses(recorded: "Samples", clock: Clock, score: Score, *, level_dbfs: float) -> Found:
    """Every response in a recording (frames by channels) whose clock is known.

    `level_dbfs`: the peak of the loudest that was played. Memory: about twice the recording.
    """
    row = _Row(recorded, clock, score, level_dbfs)
    found: list[Response] = []
    thirds: dict[tuple[int, int], tuple[float, ...]] = {}
    distortion: dict[tuple[int, int], float] = {}
    clear: list[Response] = []
    for channel in range(recorded.shape[1]):
        heard = list(row.heard(channel))
        found += [
            msgspec.structs.replace(one, gain_db=one.gain_db + score.under(one.played))
            for one in heard
        ]
        if not heard:
            continue
        loudest = max(heard, key=lambda one: one.gain_db)
        if loudest.sure > SURE_ARRIVAL:
            clear.append(loudest)
        for one in heard:
            if one.gain_db > loudest.gain_db - 20:
                thirds[one.recorded, one.played] = row.thirds(one)
                distortion[one.recorded, one.played] = row.distortion(one)
    some = clear[:: -(-len(clear) // MOST_ASKED) or 1]
    return Found(tuple(found), thirds, distortion, tuple(map(row.arrivals, some)))


class _Row:
    """The responses of all sources in each recorded channel, laid out in a row."""

    def __init__(self, recorded: "Samples", clock: Clock, score: Score, level_dbfs: float) -> None:
        import numpy as np
        from scipy.fft import irfft, next_fast_len, rfft, rfftfreq

        self.clock, self.score = clock, score
        self.per_s = clock.per_s
        begin = int(clock.at(score.start_s(0) - 0.1))
        end = ceil(clock.at(score.silence_s))
        part = _cut(recorded, begin, end)
        # The division would need twice as many samples as the row: but of its far half, where
        # nothing lands, the row may as well have what falls onto the near one.
        row_s = (score.channels + 2) * STAGGER_S + harmonic_advance_s(
            harmonic=HARMONICS[-1], growth_s=GROWTH_S
        )
        size = 2 * next_fast_len(max(ceil(len(part) / 2), ceil(row_s * self.per_s)), real=True)
        sound = np.zeros(size, np.float32)
        high_hz = self.high_hz = min(score.high_hz, 0.45 * self.per_s)
        swept = sweep(rate_hz=self.per_s, high_hz=high_hz) * 10 ** (level_dbfs / 20)
        sound[: len(swept)] = swept
        spectrum = rfft(sound)[::2]
        frequencies = rfftfreq(size, 1 / self.per_s)[::2]
        inverse = np.conj(spectrum) * _band(frequencies, high_hz)
        inverse /= np.square(np.abs(spectrum)) + 1e-6 * float(np.square(np.abs(spectrum)).max())
        # Every second line of a spectrum is the spectrum of both halves laid onto one another.
        taken = rfft(_folded(part, size // 2), workers=-1, overwrite_x=True)
        taken *= inverse.astype(np.complex64)
        self.row = irfft(taken, size // 2, workers=-1, overwrite_x=True)
        self._noises: dict[int, Table] = {}
        # The first source's place in the row.
        self.first = clock.at(score.start_s(0)) - begin

    def _place(self, played: int) -> float:
        return self.first + played * STAGGER_S * self.per_s

    def heard(self, channel: int) -> Iterator[Response]:
        """The sources that stand out of the noise of a channel."""
        import numpy as np

        step = STAGGER_S * self.per_s
        before, after = int(BEFORE * step), int(AFTER * step)
        places = [round(self._place(played)) for played in range(self.score.channels)]
        parts = np.stack([self._around(channel, at - before, before + after) for at in places])
        scatter = float(np.median(np.abs(self._quiet(channel))) / 0.6745) + 1e-12
        peaks = np.abs(parts).max(axis=1)
        highest = float(peaks.max())
        for played in np.flatnonzero(
            (peaks > CLEAR * scatter) & (peaks > highest * 10 ** (HEARD_DB / 20))
        ).tolist():
            one = self._read(channel, played, parts[played], places[played] - before)
            yield msgspec.structs.replace(one, sure=float(peaks[played]) / scatter)

    def _around(self, channel: int, begin: int, length: int) -> "Samples":
        """A stretch of the row, which closes on itself."""
        import numpy as np

        found: Samples = self.row[channel].take(np.arange(begin, begin + length), mode="wrap")
        return found

    def _read(self, channel: int, played: int, part: "Samples", begin: int) -> Response:
        """Level, polarity and delay of a response."""
        import numpy as np
        from scipy.fft import rfft, rfftfreq

        peak = int(np.abs(part).argmax())
        size = 4096
        reach = min(peak, len(part) - peak, size // 2)
        centred = np.zeros(size)
        window = np.hanning(2 * reach + 1)[: 2 * reach] if reach else np.ones(1)
        body = part[peak - reach : peak + reach] * window
        centred[:reach] = body[reach:]
        centred[size - reach :] = body[:reach]
        spectrum = rfft(centred)
        frequencies = rfftfreq(size, 1 / self.per_s)
        band = (frequencies > LEVEL_LOW_HZ) & (frequencies < LEVEL_HIGH_HZ)
        gain = float(np.sqrt(np.square(np.abs(spectrum[band])).mean()))
        late, turned = _slope(spectrum[band], frequencies[band])
        at = begin + peak + late * self.per_s
        delay_s = (at - self._place(played)) / self.per_s
        # A steep filter within the band turns the phase as well; then the highest peak tells.
        upright = abs(turned) < np.pi / 4 or (abs(turned) < 3 * np.pi / 4 and part[peak] > 0)
        return Response(channel, played, 20 * log10(max(gain, 1e-12)), delay_s, bool(upright), 0.0)

    def thirds(self, one: Response) -> tuple[float, ...]:
        """The response in third octaves, in dB over that of the level's band.

        A slow recorder has no samples for the highest: nothing is told of them.
        """
        import numpy as np
        from scipy.fft import rfft

        step = STAGGER_S * self.per_s
        before = int(BEFORE * step)
        at = round(self._place(one.played) + one.delay_s * self.per_s)
        part = self._around(one.recorded, at - before, before + int(0.5 * step))
        bounds, let = self._thirds
        # Where a response falls steeply, single precision would lose the rest of it in the sum.
        power = np.square(np.abs(rfft(part, self._thirds_size)).astype(float))
        sums = np.concatenate(([0.0], np.cumsum(power)))
        wide = bounds[:, 1] - bounds[:, 0]
        levels = (sums[bounds[:, 1]] - sums[bounds[:, 0]]) / np.maximum(wide, 1)
        noise = self._noise(one.recorded) * len(part)
        levels = np.maximum(levels - noise, NOISE_LEFT_RATIO * noise) / let
        told: list[float] = (10 * np.log10(np.maximum(levels, 1e-24)) - one.gain_db).tolist()
        return tuple(told[: self._reached])

    def _noise(self, channel: int) -> "Table":
        """The power of the noise in the row for each third octave, for one sample of it."""
        import numpy as np
        from scipy.fft import rfft, rfftfreq

        if channel not in self._noises:
            quiet = self._quiet(channel)
            window = np.hanning(quiet.shape[1] + 2)[1:-1].astype(np.float32)
            power = np.square(np.abs(rfft(quiet * window))).mean(axis=0) / np.square(window).sum()
            at_hz = rfftfreq(quiet.shape[1], 1 / self.per_s)
            self._noises[channel] = np.interp(THIRDS_HZ, at_hz, power)
        return self._noises[channel]

    def _quiet(self, channel: int) -> "Samples":
        """Stretches of the row in which nothing lands but noise, one behind each source."""
        found: Samples = self.row[channel].take(self._quiet_places, mode="wrap")
        return found

    @cached_property
    def _quiet_places(self) -> "NDArray[np.int64]":
        import numpy as np

        step = STAGGER_S * self.per_s
        # Lengths of many factors of two are transformed faster.
        length = int((QUIET[1] - QUIET[0]) * step) // 64 * 64
        begins = [round(self._place(n)) + int(QUIET[0] * step) for n in range(self.score.channels)]
        return np.array(begins)[:, None] + np.arange(length)

    @property
    def _reached(self) -> int:
        """How many third octaves lie in what was swept: fewer where a recorder is slow."""
        return sum(middle <= 1.05 * self.high_hz for middle in THIRDS_HZ)

    @property
    def _thirds_size(self) -> int:
        return 16_384 if self.per_s < 60_000 else 32_768

    @cached_property
    def _thirds(self) -> "tuple[NDArray[np.int64], Table]":
        """For each third octave where it begins and ends in a spectrum, and what is let through."""
        import numpy as np

        size = self._thirds_size
        bounds = np.array(
            [
                [ceil(middle * 10**edge * size / self.per_s) for edge in (-0.05, 0.05)]
                for middle in THIRDS_HZ
            ]
        )
        bounds = np.minimum(bounds, size // 2 + 1)
        frequencies = np.arange(size // 2 + 1) * self.per_s / size
        # The division lets less through at its edges; that is no fault of the rig.
        passed = np.concatenate(([0.0], np.cumsum(np.square(_band(frequencies, self.high_hz)))))
        wide = np.maximum(bounds[:, 1] - bounds[:, 0], 1)
        let = (passed[bounds[:, 1]] - passed[bounds[:, 0]]) / wide
        return bounds, np.maximum(let, LEAST_LET_RATIO)

    def arrivals(self, one: Response) -> Arrivals:
        """How late each band of a response arrives, by the top of its envelope.

        None where a band is too weak to tell.
        """
        import numpy as np
        from scipy.fft import fft, ifft

        step = STAGGER_S * self.per_s
        before, size = int(BEFORE * step), 4096 if self.per_s < 60_000 else 8192
        at = round(self._place(one.played)) - before
        spectrum = fft(self._around(one.recorded, at, before + int(AFTER * step)), size)
        octaves = np.log2(np.maximum(np.arange(size) * self.per_s / size, 1))
        octaves[size // 2 :] = 0  # one side alone: what comes back is a band with its envelope
        envelopes = []
        for low, high in BANDS_HZ:
            middle, wide = np.log2(low * high) / 2, np.log2(high / low)
            shape = np.clip(1 - np.abs(octaves - middle) / wide, 0, 1)
            envelopes.append(np.abs(ifft(spectrum * shape)))
        least = BAND_UNDER_RATIO * max(float(envelope.max()) for envelope in envelopes)
        late: list[float | None] = []
        for envelope in envelopes:
            place = int(envelope.argmax())
            clear = envelope[place] > max(least, CLEAR * float(np.median(envelope)))
            late.append((place + between(envelope, place) - before) / self.per_s if clear else None)
        return Arrivals(one.recorded, one.played, tuple(late))

    def distortion(self, one: Response) -> float:
        """The share of the harmonics of orders 2 to 5 in the amplitude, as a root sum of squares.

        Assumes what Farina's method does: a chain without memory in its distortion.
        """
        import numpy as np

        reach = int(HARMONIC_REACH_S * self.per_s)
        at = self._place(one.played) + one.delay_s * self.per_s
        own = float(np.square(self._around(one.recorded, round(at) - reach, 2 * reach)).sum())
        total = 0.0
        for harmonic in HARMONICS:
            ahead = harmonic_advance_s(harmonic=harmonic, growth_s=GROWTH_S) * self.per_s
            part = self._around(one.recorded, round(at - ahead) - reach, 2 * reach)
            beside = self._around(one.recorded, round(at - ahead) + reach, 2 * reach)
            there, noise = (float(np.square(some).sum()) for some in (part, beside))
            total += there - noise if there > NOISE_CLEAR_RATIO * noise else 0.0
        return (total / own) ** 0.5 if own > 0 else 0.0


def _folded(part: "Samples", length: int) -> "Samples":
    """Channels by so many frames: what is longer is laid onto the beginning."""
    import numpy as np

    found: Samples = np.zeros((part.shape[1], length), np.float32)
    for begin in range(0, len(part), length):
        turned_onto(found, part[begin : begin + length])
    return found


def _cut(recorded: "Samples", begin: int, end: int) -> "Samples":
    """A stretch of a recording; silence where it does not reach."""
    import numpy as np

    part = recorded[max(0, begin) : max(0, end)]
    short = (max(0, -begin), max(0, end - len(recorded)))
    if any(short):
        part = np.pad(part, (short, (0, 0)))
    return part


def _band(frequencies: "Table", high_hz: float) -> "Table":
    """Full in the swept band, with soft edges: hard ones would ring from place to place."""
    import numpy as np

    low = np.clip((frequencies - LOW_HZ) / (2.5 * LOW_HZ), 0, 1)
    high = np.clip((high_hz - frequencies) / (0.15 * high_hz), 0, 1)
    shaped: Table = (0.5 - 0.5 * np.cos(np.pi * low)) * (0.5 - 0.5 * np.cos(np.pi * high))
    return shaped


def _slope(spectrum: "Table", frequencies: "Table") -> tuple[float, float]:
    """Delay in seconds and phase at nought, of a response whose peak lies near the first sample.

    The steepest common slope of the phase: found coarsely by trying delays of up to two samples'
    reach, then by least squares on what remains, weighed by power.
    """
    import numpy as np

    weight = np.square(np.abs(spectrum))
    weight = weight / (weight.sum() + 1e-30)
    tried = np.linspace(-1, 1, 81) * 1.5 / (2 * frequencies[-1])
    turned = spectrum[None, :] * np.exp(2j * np.pi * tried[:, None] * frequencies[None, :])
    # Whichever the polarity, the square of a phase does not know it.
    squared = turned**2 / (np.abs(turned) + 1e-30)
    best = int(np.abs(squared.sum(axis=1)).argmax())
    rest = turned[best]
    common = 0.5 * float(np.angle((rest**2 / (np.abs(rest) + 1e-30)).sum()))
    if (rest * np.exp(-1j * common)).sum().real < 0:
        common += np.pi
    phase = np.angle(rest * np.exp(-1j * common))
    middle = float((weight * frequencies).sum())
    spread = float((weight * (frequencies - middle) ** 2).sum())
    slope = float((weight * (frequencies - middle) * phase).sum()) / spread
    level = float((weight * phase).sum()) - slope * middle
    late = float(tried[best]) - slope / (2 * np.pi)
    at_nought = float(np.angle(np.exp(1j * (common + level))))
    return late, at_nought
