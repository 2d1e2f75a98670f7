"""Everything that one pass over a recording gathers of each channel.

Stretches of the recording are sifted in threads, some at a time, and joined in their order here.
The likeness of channels to one another is read from some of their tenths.
"""

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.in_order import InOrder
from rigproof.linecheck.sifting import BEFORE, NAMES, Sieve, Sifted, Unread
from rigproof.linecheck.weighing import STATES
from rigproof.linecheck.weighing import STEP_S as STEP_S

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Frames = NDArray[np.float32]
    Table = NDArray[np.float32]
    Spectra = NDArray[np.complex64]

# Channels are held against those of their own bank only: all against all of 256 would take 2 GB.
BANK = 64
LIKENESS_HZ = 12_000.0
_LIKENESS_LOOKS = 400
_AT_ONCE = 16  # tenths for one product of matrices


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


class Read(msgspec.Struct, frozen=True):
    """A stretch whose samples are there already: frames by channels."""

    sound: "Frames"

    @property
    def frames(self) -> int:
        return len(self.sound)

    def unpacked(self, wanted: Sequence[int], into: "Table") -> None:
        into[:] = self.sound[:, list(wanted)].T

    def interleaved(self, at: int, into: "Table") -> float:
        into[:] = self.sound[at : at + len(into)]
        return 1.0

    def last(self, frames: int) -> "Read":
        return Read(self.sound[max(0, len(self.sound) - frames) :])


class Gatherer:
    """One pass over a recording: stretches in, figures out, at any time.

    Every stretch but the last is a whole number of tenths long. Memory: some tens of megabytes for
    32 channels, and 36 bytes a channel for each further tenth of a second.
    """

    def __init__(self, *, channels: int, rate_hz: int, frames: int) -> None:
        import numpy as np

        self.channels, self.rate_hz = channels, rate_hz
        self.sieve = Sieve(channels=channels, rate_hz=rate_hz)
        self.step = self.sieve.step
        self.states = np.zeros((STATES, channels), np.float32)  # of the K weighting, so far
        # There is memory behind it only once it is written to.
        self.tables = np.zeros((len(NAMES), channels, -(-frames // self.step)), np.float32)
        bins = len(self.sieve.frequencies)
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
        self.asked = self.steps = self.frames = self.looks = 0  # in tenths, but for the frames
        self.before = np.zeros((channels, BEFORE), np.float32)
        self.true_peak = np.zeros(channels, np.float32)
        self.not_numbers = np.zeros(channels, np.int64)
        self.sifting: InOrder[Sifted] = InOrder()

    def take(self, stretch: Unread) -> None:
        """Look at the next stretch, and join those that are sifted already."""
        place, tenths = self.asked, -(-stretch.frames // self.step)
        looked = range(-place % self.every, tenths, self.every)
        before, self.before = self.before, self._end(stretch)
        self.asked += tenths
        sift = partial(self.sieve.sift, stretch, before, looked, self.true_peak)
        for here, one in self.sifting.look(place, sift):
            self._join(here, one)

    def _end(self, stretch: Unread) -> "Table":
        """The last samples of a stretch, for the next to go on from."""
        import numpy as np

        last = stretch.last(BEFORE)
        end = np.zeros((self.channels, BEFORE), np.float32)
        last.unpacked(range(self.channels), end[:, BEFORE - last.frames :])
        return np.nan_to_num(end, nan=0, posinf=0, neginf=0)

    def _join(self, place: int, one: Sifted) -> None:
        """Lay the next stretch to those that are there."""
        import numpy as np

        if place < self.steps:
            return
        tenths = one.tables.shape[2]
        here = slice(place, place + tenths)
        self.tables[:, :, here] = one.tables
        weighted = self.tables[NAMES.index("weighted"), :, here]
        weighted[:] = self.sieve.weighing.put_right(weighted, one.edges, self.states)
        power, not_numbers = self.power + one.power, self.not_numbers + one.not_numbers
        true_peak = np.maximum(self.true_peak, one.true_peak)
        kept = [*self.kept, *one.looked]
        # All at once, so that a stretch counts once wherever Ctrl-C comes.
        self.power, self.not_numbers, self.true_peak, self.kept = (
            power, not_numbers, true_peak, kept,
        )  # fmt: skip
        self.states, self.steps, self.frames = (
            one.edges[:STATES, :, -1], place + tenths, self.frames + one.frames,
        )  # fmt: skip
        if len(self.kept) >= _AT_ONCE:
            self._liken()

    def _liken(self) -> None:
        """Cross-spectra of all pairs of a bank."""
        import numpy as np

        if not self.kept:
            return
        smooth = np.stack(self.kept)  # tenths, channels, frequencies
        self.kept = []
        self.shape += (np.square(smooth.real) + np.square(smooth.imag)).sum(axis=0)
        near = smooth[..., : self.likened]
        for bank, cross in zip(self.banks, self.cross, strict=True):
            one = np.ascontiguousarray(near[:, bank].transpose(2, 1, 0))
            cross += one @ one.conj().transpose(0, 2, 1)
        self.looks += len(smooth)

    def so_far(self) -> Gathered:
        """What the blocks until now tell."""
        for place, one in self.sifting.rest():
            self._join(place, one)
        self._liken()
        tables = self.tables[:, :, : self.steps]
        return Gathered(
            rate_hz=self.rate_hz,
            channels=self.channels,
            frames=self.frames,
            true_peak=self.true_peak,
            not_numbers=self.not_numbers,
            power=self.power / max(1, self.steps),
            shape=self.shape / max(1, self.looks),
            cross=self.cross,
            looks=self.looks,
            **dict(zip(NAMES, tables, strict=True)),
        )
