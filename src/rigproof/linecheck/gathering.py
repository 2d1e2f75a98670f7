"""Everything that one pass over a recording gathers of each channel.

A block is taken apart into tenths of a second. One transform of each gives the spectrum, and with
the K weighting laid over it the loudness; so a filter need not run through every sample. The
likeness of channels to one another is read from every twentieth of these.
"""

from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TYPE_CHECKING

import msgspec

from rigproof.physics.loudness import k_weighting_gain_ratio

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Frames = NDArray[np.float32]
    Table = NDArray[np.float32]

STEP_S = 0.1  # a tenth of a second: the step of momentary loudness in BS.1770
NEAR_FULL = 0.9995
_LIKENESS_EVERY = 20
_WORKERS = 2


class Gathered(msgspec.Struct, frozen=True, kw_only=True):
    """What a pass has gathered. Tables are channels by tenths of a second, or by frequencies.

    `weighted`: K-weighted mean squares. `jumps`: the largest step from sample to sample.
    `zeros`: how many samples are exactly nought. `full`: how many stand at the ceiling.
    `cross`: cross-spectra of channel pairs (upper triangle), summed over some tenths.
    """

    rate_hz: int
    channels: int
    frames: int
    peak: "Table"
    mean_square: "Table"
    weighted: "Table"
    mean: "Table"
    jumps: "Table"
    zeros: "Table"
    full: "Table"
    power: "NDArray[np.float64]"  # channels by frequencies, mean over the take
    cross: "NDArray[np.complex128]"
    looked_s: float  # how much of the take the cross-spectra have looked at

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

    Memory: some tens of megabytes for 32 channels, and 30 bytes a channel for each further tenth
    of a second.
    """

    def __init__(self, channels: int, rate_hz: int) -> None:
        import numpy as np
        from scipy.fft import rfftfreq
        from scipy.signal import sosfreqz

        self.channels, self.rate_hz = channels, rate_hz
        self.step = round(rate_hz * STEP_S)
        frequencies = rfftfreq(self.step, 1 / rate_hz)
        filters = np.array(k_weighting_gain_ratio(rate_hz=rate_hz))
        _, gain = sosfreqz(filters, frequencies, fs=rate_hz)
        weight = np.square(np.abs(gain))
        weight[1:-1] *= 2  # a real signal's other half
        self.weight = (weight / self.step**2).astype(np.float32)
        self.parts: dict[str, list[Table]] = {
            name: []
            for name in ("peak", "mean_square", "weighted", "mean", "jumps", "zeros", "full")
        }
        self.power = np.zeros((channels, len(frequencies)))
        pairs = channels * (channels - 1) // 2
        self.cross = np.zeros((pairs, len(frequencies)), np.complex128)
        self.upper = np.triu_indices(channels, 1)
        self.steps = self.frames = self.looked = 0
        self.last = np.zeros((channels, 1), np.float32)
        self.pool = ThreadPoolExecutor(_WORKERS)

    def take(self, block: "Frames") -> None:
        """Look at the next block: frames by channels."""
        import numpy as np

        self.frames += len(block)
        short = -len(block) % self.step
        if short:
            block = np.pad(block, ((0, short), (0, 0)))
        halves = np.array_split(np.arange(self.channels), min(_WORKERS, self.channels))
        made = list(self.pool.map(lambda half: self._half(block, half), halves))
        for name, known in self.parts.items():
            known.append(np.concatenate([one[0][name] for one in made]))
        spectra = np.concatenate([one[1] for one in made])
        self.power += np.concatenate([one[2] for one in made])
        self.last = np.ascontiguousarray(block[-1:].T)
        for place in range(-self.steps % _LIKENESS_EVERY, spectra.shape[1], _LIKENESS_EVERY):
            here = spectra[:, place]
            self.cross += here[self.upper[0]] * np.conj(here[self.upper[1]])
            self.looked += 1
        self.steps += spectra.shape[1]

    def _half(
        self, block: "Frames", half: "NDArray[np.intp]"
    ) -> "tuple[dict[str, Table], NDArray[np.complex64], NDArray[np.float64]]":
        import numpy as np
        from scipy.fft import rfft

        own = slice(int(half[0]), int(half[-1]) + 1)
        sound = np.ascontiguousarray(block[:, own].T)
        tenths = sound.reshape(len(sound), -1, self.step)
        high, low = tenths.max(axis=2), tenths.min(axis=2)
        steps = np.diff(sound, prepend=self.last[own])
        np.abs(steps, out=steps)
        spectra = rfft(tenths, axis=2)
        power = np.square(spectra.real) + np.square(spectra.imag)
        peak = np.maximum(high, -low)
        full = np.zeros_like(peak)
        for channel, tenth in np.argwhere(peak >= NEAR_FULL).tolist():
            full[channel, tenth] = np.count_nonzero(np.abs(tenths[channel, tenth]) >= NEAR_FULL)
        found = {
            "peak": peak,
            "mean_square": np.einsum("ctn,ctn->ct", tenths, tenths) / self.step,
            "weighted": power @ self.weight,
            "mean": tenths.mean(axis=2),
            "jumps": steps.reshape(tenths.shape).max(axis=2),
            "zeros": (self.step - np.count_nonzero(tenths, axis=2)).astype(np.float32),
            "full": full,
        }
        return found, spectra, power.sum(axis=1, dtype=np.float64)

    def so_far(self) -> Gathered:
        """What the blocks until now tell."""
        import numpy as np

        tables = {name: np.concatenate(known, axis=1) for name, known in self.parts.items()}
        return Gathered(
            rate_hz=self.rate_hz,
            channels=self.channels,
            frames=self.frames,
            power=self.power / max(1, self.steps),
            cross=self.cross,
            looked_s=self.looked * STEP_S,
            **tables,
        )
