"""Everything that one pass over a recording gathers of each channel.

A block is taken apart into tenths of a second. One transform of each gives its power, its hiss and
its loudness: the K weighting is laid over the spectrum, so that no filter need run through every
sample. Only the lowest notes, for which a tenth is short, go through one, at a 24th of the rate.
The likeness of channels to one another is read from some of these tenths.
"""

from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TYPE_CHECKING

import msgspec

from rigproof.physics.loudness import TRUE_PEAK_TAPS, k_weighting_gain_ratio

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Frames = NDArray[np.float32]
    Table = NDArray[np.float32]
    Spectra = NDArray[np.complex64]

STEP_S = 0.1  # the step of momentary loudness in BS.1770
NEAR_FULL = 0.9995
HISS_HZ = (4_000.0, 12_000.0)
# Channels are held against those of their own bank only: all against all of 256 would take 2 GB.
BANK = 64
LIKENESS_HZ = 12_000.0
_LIKENESS_LOOKS = 400
_AT_ONCE = 16  # tenths for one product of matrices
_WORKERS = 2
_TILE = 256
LOW_RATE_HZ, LOW_HZ = 2_000.0, 250.0
_NAMES = (
    "peak",
    "mean_square",
    "weighted",
    "hiss",
    "mean",
    "bends",
    "bend_square",
    "zeros",
    "full",
)
# Beside a true peak stands a sample less than 3 dB under it, unless almost all of the sound lies
# above a quarter of the sampling rate.
_NEAR_PEAK = 0.7


class Gathered(msgspec.Struct, frozen=True, kw_only=True):
    """What a pass has gathered. Tables are channels by tenths of a second.

    `weighted`: K-weighted mean squares. `hiss`: mean squares from 4 to 12 kHz. `bends`: the
    largest second difference from sample to sample, `bend_square` their mean square. `zeros`: how
    many samples are exactly nought. `full`: how many stand at the ceiling.
    """

    rate_hz: int
    channels: int
    frames: int
    peak: "Table"
    mean_square: "Table"
    weighted: "Table"
    hiss: "Table"
    mean: "Table"
    bends: "Table"
    bend_square: "Table"
    zeros: "Table"
    full: "Table"
    true_peak: "NDArray[np.float32]"
    not_numbers: "NDArray[np.int64]"  # samples that are none, of each channel
    power: "NDArray[np.float64]"  # channels by frequencies: the mean over the take
    shape: "NDArray[np.float64]"  # the same through a Hann window, from the tenths looked at
    cross: "tuple[NDArray[np.complex64], ...]"  # banks of frequencies by channels by channels
    looks: int  # tenths that made the cross-spectra

    @property
    def steps(self) -> int:
        return int(self.peak.shape[1])

    @property
    def spacing_hz(self) -> float:
        return 1 / STEP_S


def ahead(blocks: Iterator["Frames"]) -> Iterator["Frames"]:
    """Blocks, each read while the one before it is looked at."""
    with ThreadPoolExecutor(1) as reader:
        coming: Future[Frames | None] = reader.submit(next, blocks, None)
        while (block := coming.result()) is not None:
            coming = reader.submit(next, blocks, None)
            yield block


class Gatherer:
    """One pass over a recording: blocks in, figures out, at any time.

    Every block but the last is a whole number of tenths long. Memory: some tens of megabytes for
    32 channels, and 36 bytes a channel for each further tenth of a second.
    """

    def __init__(self, *, channels: int, rate_hz: int, frames: int) -> None:
        import numpy as np
        from scipy.fft import rfftfreq

        self.channels, self.rate_hz = channels, rate_hz
        self.step = max(1, round(rate_hz * STEP_S))
        self.frequencies = rfftfreq(self.step, 1 / rate_hz)
        # The rate of the low path: about 2 kHz, a whole number of samples to each tenth.
        self.together = min(
            (n for n in range(1, self.step + 1) if self.step % n == 0),
            key=lambda n: abs(rate_hz / n - LOW_RATE_HZ),
        )
        self.low_filter = self._low_filter()
        self.low_state = np.zeros((channels, len(self.low_filter), 2))
        self.weights = self._weights()
        self.parts: dict[str, list[Table]] = {name: [] for name in _NAMES}
        bins = len(self.frequencies)
        self.power, self.shape = np.zeros((channels, bins)), np.zeros((channels, bins))
        self.likened = min(bins, int(LIKENESS_HZ * STEP_S) + 1)
        self.banks = [slice(at, min(at + BANK, channels)) for at in range(0, channels, BANK)]
        self.cross = tuple(
            np.zeros((self.likened, bank.stop - bank.start, bank.stop - bank.start), np.complex64)
            for bank in self.banks
        )
        # Not a multiple of a beat: else it would always look at the same drum.
        every = max(1, frames // self.step // _LIKENESS_LOOKS)
        self.every = every + (every % 5 == 0)
        self.kept: list[Spectra] = []
        self.steps = self.frames = self.looks = 0
        self.before = np.zeros((channels, len(TRUE_PEAK_TAPS[0])), np.float32)
        self.true_peak = np.zeros(channels, np.float32)
        self.top = np.zeros(channels, np.float32)
        self.not_numbers = np.zeros(channels, np.int64)
        self.taps = np.array(TRUE_PEAK_TAPS, np.float32)[:, ::-1].T
        self.pool = ThreadPoolExecutor(_WORKERS)

    def _low_filter(self) -> "NDArray[np.float64]":
        """The high-pass of the K weighting and an end to what else the low path lets through."""
        import numpy as np
        from scipy.signal import butter

        rate_hz = self.rate_hz / self.together
        high_pass = np.array([k_weighting_gain_ratio(rate_hz=rate_hz)[1]])
        return np.concatenate(
            (high_pass, butter(4, min(LOW_HZ, 0.4 * rate_hz), fs=rate_hz, output="sos"))
        )

    def _low_gain(self) -> "NDArray[np.float64]":
        """What the low path makes of each frequency, as power: mean of some samples, filter."""
        import numpy as np
        from scipy.signal import sosfreqz

        place = np.pi * self.frequencies / self.rate_hz
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = np.sin(self.together * place) / (self.together * np.sin(place))
        mean[0] = 1
        _, gain = sosfreqz(self.low_filter, self.frequencies, fs=self.rate_hz / self.together)
        return np.square(np.abs(gain) * mean)  # type: ignore[no-any-return]

    def _weights(self) -> "Table":
        """What makes mean squares of a spectrum: all; K but for the low path; hiss; bends."""
        import numpy as np
        from scipy.signal import sosfreqz

        filters = np.array(k_weighting_gain_ratio(rate_hz=self.rate_hz))
        _, gain = sosfreqz(filters, self.frequencies, fs=self.rate_hz)
        hiss = (self.frequencies >= HISS_HZ[0]) & (self.frequencies <= HISS_HZ[1])
        bend = (2 * np.sin(np.pi * self.frequencies / self.rate_hz)) ** 4
        rows = np.stack([np.ones(len(hiss)), np.abs(gain) ** 2 - self._low_gain(), hiss, bend])
        rows[:, 1 : rows.shape[1] - (self.step % 2 == 0)] *= 2  # a real signal's other half
        return np.repeat(rows / self.step**2, 2, axis=1).astype(np.float32)

    def take(self, block: "Frames") -> None:
        """Look at the next block: frames by channels."""
        import numpy as np

        frames = len(block)
        short = -len(block) % self.step
        if short:
            block = np.pad(block, ((0, short), (0, 0)))
        shares = np.array_split(np.arange(self.channels), min(_WORKERS, self.channels))
        made = list(self.pool.map(lambda share: self._share(block, share), shares))
        for name in _NAMES:
            self.parts[name].append(np.concatenate([one[name] for one, _ in made]))
        looked = np.concatenate([kept for _, kept in made])
        self.kept.extend(looked[:, place] for place in range(looked.shape[1]))
        self.steps += len(block) // self.step
        self.frames += frames
        if len(self.kept) >= _AT_ONCE:
            self._liken()

    def _share(
        self, block: "Frames", share: "NDArray[np.intp]"
    ) -> "tuple[dict[str, Table], Spectra]":
        import numpy as np

        first, last = int(share[0]), int(share[-1]) + 1
        sound = np.empty((last - first, len(block)), np.float32)
        for at in range(0, len(block), _TILE):  # turned in pieces that fit a cache: 4 times faster
            sound[:, at : at + _TILE] = block[at : at + _TILE, first:last].T
        tenths = sound.shape[1] // self.step
        found = {name: np.zeros((len(sound), tenths), np.float32) for name in _NAMES}
        looked = range(-self.steps % self.every, tenths, self.every)
        kept = np.zeros((len(sound), len(looked), len(self.frequencies)), np.complex64)
        for place, one in enumerate(sound):
            row = {name: table[place] for name, table in found.items()}
            kept[place] = self._channel(first + place, one, row, looked)
        return found, kept

    def _channel(
        self, channel: int, sound: "Frames", row: "dict[str, Table]", looked: range
    ) -> "Spectra":
        """One channel of a block: fills its row of each table; the spectra to be likened."""
        import numpy as np
        from scipy.fft import rfft
        from scipy.signal import sosfilt

        tenths = sound.reshape(-1, self.step)
        np.maximum(tenths.max(axis=1), -tenths.min(axis=1), out=row["peak"])
        if not np.isfinite(row["peak"]).all():
            bad = ~np.isfinite(sound)
            self.not_numbers[channel] += np.count_nonzero(bad)
            sound[bad] = 0
            row["peak"][:] = np.abs(tenths).max(axis=1)
        spectra = rfft(tenths, axis=1)
        squares = np.square(spectra.view(np.float32))
        # Not a product of matrices: that would wake as many threads as there are cores in each of
        # ours.
        weighed = np.vecdot(squares[:, None], self.weights[None])
        for at, name in enumerate(("mean_square", "weighted", "hiss", "bend_square")):
            row[name][:] = weighed[:, at]
        row["mean"][:] = spectra[:, 0].real / self.step
        low = sound.reshape(-1, self.together).mean(axis=1, dtype=np.float32)
        low, self.low_state[channel] = sosfilt(self.low_filter, low, zi=self.low_state[channel])
        row["weighted"] += np.square(low).reshape(len(tenths), -1).mean(axis=1)
        np.maximum(row["weighted"], 0, out=row["weighted"])
        self.power[channel] += squares.sum(axis=0, dtype=np.float32).reshape(-1, 2).sum(axis=1)
        joined = np.concatenate((self.before[channel], sound))
        start = len(joined) - len(sound) - 2
        bends = np.diff(joined[start:], n=2).reshape(tenths.shape)
        np.maximum(bends.max(axis=1), -bends.min(axis=1), out=row["bends"])
        if np.count_nonzero(sound) < len(sound):
            row["zeros"][:] = self.step - np.count_nonzero(tenths, axis=1)
        for tenth in np.flatnonzero(row["peak"] >= NEAR_FULL).tolist():
            row["full"][tenth] = np.count_nonzero(np.abs(tenths[tenth]) >= NEAR_FULL)
        self._true_peak(channel, joined, row["peak"])
        self.before[channel] = sound[-self.before.shape[1] :]
        return spectra[looked.start : looked.stop : looked.step]  # type: ignore[no-any-return]

    def _true_peak(self, channel: int, joined: "Frames", peaks: "Table") -> None:
        """The peak between samples, by the filter of BS.1770, near the highest samples only."""
        import numpy as np

        taps = len(self.taps)
        self.top[channel] = max(self.top[channel], peaks.max())
        near = _NEAR_PEAK * self.top[channel]
        if near <= 0:
            return
        here = [
            np.arange(self.step) + taps + tenth * self.step
            for tenth in np.flatnonzero(peaks >= near).tolist()
        ]
        at = np.concatenate([np.arange(taps), *here])
        high = at[np.abs(joined[at]) >= near]
        # The filter's middle lies half its length back; either side of a high sample counts.
        ends = np.unique(np.concatenate((high + taps // 2 - 1, high + taps // 2)))
        ends = ends[(ends >= taps - 1) & (ends < len(joined))]
        if len(ends):
            windows = joined[ends[:, None] + np.arange(1 - taps, 1)]
            self.true_peak[channel] = max(
                self.true_peak[channel], np.abs(windows @ self.taps).max(), self.top[channel]
            )

    def _liken(self) -> None:
        """Cross-spectra of all pairs of a bank, through a Hann window laid on the spectra."""
        import numpy as np

        if not self.kept:
            return
        spectra = np.stack(self.kept)  # tenths, channels, frequencies
        self.kept = []
        smooth = spectra.copy()
        smooth[..., 1:-1] -= (spectra[..., :-2] + spectra[..., 2:]) / 2
        smooth[..., 0] = smooth[..., -1] = 0
        self.shape += (np.square(smooth.real) + np.square(smooth.imag)).sum(axis=0)
        near = smooth[..., : self.likened]
        for bank, cross in zip(self.banks, self.cross, strict=True):
            one = np.ascontiguousarray(near[:, bank].transpose(2, 1, 0))
            cross += one @ one.conj().transpose(0, 2, 1)
        self.looks += len(spectra)

    def so_far(self) -> Gathered:
        """What the blocks until now tell."""
        import numpy as np

        self._liken()
        # Ctrl-C may have come between two of them.
        whole = min(map(len, self.parts.values()))
        tables = {}
        for name, known in self.parts.items():  # of a long recording there is room for one only
            tables[name] = np.concatenate(known[:whole], axis=1)
            self.parts[name] = [tables[name]]
        return Gathered(
            rate_hz=self.rate_hz,
            channels=self.channels,
            frames=self.frames,
            true_peak=np.maximum(self.true_peak, self.top),
            not_numbers=self.not_numbers,
            power=self.power / max(1, self.steps),
            shape=self.shape / max(1, self.looks),
            cross=self.cross,
            looks=self.looks,
            **tables,
        )
