"""Passes over a recording that gather its levels alone, or its loudness alone.

Frames stay as a file holds them, channel beside channel: turning them would take as long as the
rest of the levels. What both find is what the pass for everything finds.
"""

from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING, Protocol

import msgspec

from rigproof.linecheck.in_order import InOrder
from rigproof.linecheck.weighing import STATES, Weighing, step_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table = NDArray[np.float32]
    Counts = NDArray[np.int64]

_WIDE = 2048  # samples beside one another that are summed at once
_ALONE = 1 << 17  # multiplications of a product of matrices for which no second thread is woken


class Laid(Protocol):
    """A stretch of sound whose frames can be laid down as they are."""

    @property
    def frames(self) -> int: ...

    def interleaved(self, at: int, into: "Table") -> float:
        """All channels of as many frames as there is room for, from one on, and their full scale.

        Frames by channels.
        """


class LevelTables(msgspec.Struct, frozen=True, kw_only=True):
    """Peaks, mean squares and means of a take, each channels by tenths of a second.

    `not_numbers`: samples that are none, of each channel.
    """

    peak: "Table"
    mean_square: "Table"
    mean: "Table"
    not_numbers: "Counts"

    @property
    def tables(self) -> "tuple[Table, Table, Table]":
        return self.peak, self.mean_square, self.mean


class LoudnessTables(msgspec.Struct, frozen=True, kw_only=True):
    """K-weighted mean squares of a take: channels by tenths of a second."""

    rate_hz: int
    frames: int
    weighted: "Table"
    not_numbers: "Counts"


class _Levels(msgspec.Struct, frozen=True):
    """Of a stretch: peak, mean square and mean by channel and tenth."""

    frames: int
    tables: "Table"
    not_numbers: "Counts"


class _Loudness(msgspec.Struct, frozen=True):
    """Of a stretch: weighted mean squares of rings, and the sums that put them right."""

    frames: int
    weighted: "Table"
    edges: "Table"
    not_numbers: "Counts"


class LevelMeter:
    """One pass for peaks, mean squares and means: stretches in, tables out, at any time.

    Every stretch but the last is a whole number of tenths long.
    """

    def __init__(self, *, channels: int, rate_hz: int, frames: int) -> None:
        import numpy as np

        self.channels, self.step = channels, step_of(rate_hz)
        # So many frames are one row of what is summed: rows of some channels would be too short.
        self.row = min(
            (n for n in range(1, self.step + 1) if self.step % n == 0),
            key=lambda n: abs(n * channels - _WIDE),
        )
        self.tables = np.zeros((3, channels, -(-frames // self.step)), np.float32)
        self.not_numbers = np.zeros(channels, np.int64)
        self.frames = self.steps = self.asked = 0
        self.measuring: InOrder[_Levels] = InOrder()

    def take(self, stretch: Laid) -> None:
        """Look at the next stretch, and join those that are measured already."""
        place, self.asked = self.asked, self.asked + -(-stretch.frames // self.step)
        for here, one in self.measuring.look(place, partial(self._measured, stretch)):
            self._join(here, one)

    def so_far(self) -> LevelTables:
        """What the stretches until now tell."""
        for here, one in self.measuring.rest():
            self._join(here, one)
        peak, mean_square, mean = self.tables[:, :, : self.steps]
        return LevelTables(
            peak=peak,
            mean_square=mean_square,
            mean=mean,
            not_numbers=self.not_numbers,
        )

    def _join(self, place: int, one: _Levels) -> None:
        if place < self.steps:
            return
        beyond = place + one.tables.shape[2]
        self.tables[:, :, place:beyond] = one.tables
        not_numbers = self.not_numbers + one.not_numbers
        # All at once, so that a stretch counts once wherever Ctrl-C comes.
        self.not_numbers, self.steps, self.frames = not_numbers, beyond, self.frames + one.frames

    def _measured(self, stretch: Laid) -> _Levels:
        import numpy as np

        tenths = -(-stretch.frames // self.step)
        found = _Levels(
            stretch.frames,
            np.empty((3, self.channels, tenths), np.float32),
            np.zeros(self.channels, np.int64),
        )
        peak, mean_square, mean = found.tables
        for place, (tenth, full) in enumerate(_tenths(stretch, self.step, self.channels)):
            highest = self._highest(tenth)
            if not np.isfinite(highest).all():
                found.not_numbers[:] += _silenced(tenth)
                highest = self._highest(tenth)
            rows = tenth.reshape(-1, self.row * self.channels)
            peak[:, place] = highest / full
            mean_square[:, place] = self._by_channel(np.einsum("ij,ij->j", rows, rows)) / full**2
            mean[:, place] = self._by_channel(rows.sum(axis=0)) / full
        return found

    def _highest(self, tenth: "Table") -> "Table":
        import numpy as np

        rows = tenth.reshape(-1, self.row * self.channels)
        either = np.maximum(rows.max(axis=0), -rows.min(axis=0))
        highest: Table = either.reshape(self.row, self.channels).max(axis=0)
        return highest

    def _by_channel(self, sums: "Table") -> "Table":
        """Means of a tenth from the sums of what stands in one place of its rows."""
        means: Table = sums.reshape(self.row, self.channels).sum(axis=0) / self.step
        return means


class LoudnessMeter:
    """One pass for K-weighted mean squares: stretches in, a table out, at any time.

    Every stretch but the last is a whole number of tenths long.
    """

    def __init__(self, *, channels: int, rate_hz: int, frames: int) -> None:
        import numpy as np

        self.channels, self.rate_hz = channels, rate_hz
        self.weighing = Weighing(rate_hz)
        self.step = self.weighing.step
        self.states = np.zeros((STATES, channels), np.float32)  # of the weighting, so far
        # Small enough for one thread, which a product of matrices only is up to some size.
        self.pieces = _pieces(self.step, _ALONE // (2 * STATES * channels))
        self.edges = np.ascontiguousarray(
            self.weighing.edges.reshape(2 * STATES, self.pieces, -1).transpose(1, 0, 2)
        )
        self.weights = self.weighing.of_spectra(self.weighing.power_ratio).astype(np.float32)
        self.weighted = np.zeros((channels, -(-frames // self.step)), np.float32)
        self.not_numbers = np.zeros(channels, np.int64)
        self.frames = self.steps = self.asked = 0
        self.measuring: InOrder[_Loudness] = InOrder()

    def take(self, stretch: Laid) -> None:
        """Look at the next stretch, and join those that are measured already."""
        place, self.asked = self.asked, self.asked + -(-stretch.frames // self.step)
        for here, one in self.measuring.look(place, partial(self._measured, stretch)):
            self._join(here, one)

    def so_far(self) -> LoudnessTables:
        """What the stretches until now tell."""
        for here, one in self.measuring.rest():
            self._join(here, one)
        return LoudnessTables(
            rate_hz=self.rate_hz,
            frames=self.frames,
            weighted=self.weighted[:, : self.steps],
            not_numbers=self.not_numbers,
        )

    def _join(self, place: int, one: _Loudness) -> None:

        if place < self.steps:
            return
        beyond = place + one.weighted.shape[1]
        right = self.weighing.put_right(one.weighted, one.edges, self.states)
        self.weighted[:, place:beyond] = right
        not_numbers = self.not_numbers + one.not_numbers
        # All at once, so that a stretch counts once wherever Ctrl-C comes.
        self.states, self.not_numbers, self.steps, self.frames = (
            one.edges[:STATES, :, -1], not_numbers, beyond, self.frames + one.frames,
        )  # fmt: skip

    def _measured(self, stretch: Laid) -> _Loudness:
        import numpy as np

        tenths = -(-stretch.frames // self.step)
        found = _Loudness(
            stretch.frames,
            np.empty((self.channels, tenths), np.float32),
            np.empty((2 * STATES, self.channels, tenths), np.float32),
            np.zeros(self.channels, np.int64),
        )
        for place, (tenth, full) in enumerate(_tenths(stretch, self.step, self.channels)):
            weighted = self._weighted(tenth)
            if not np.isfinite(weighted).all():
                found.not_numbers[:] += _silenced(tenth)
                weighted = self._weighted(tenth)
            found.weighted[:, place] = weighted / full**2
            sums = self.edges @ tenth.reshape(self.pieces, -1, self.channels)
            found.edges[..., place] = sums.sum(axis=0) / full
        return found

    def _weighted(self, tenth: "Table") -> "Table":
        import numpy as np
        from scipy.fft import rfft

        squares = rfft(tenth, axis=0).view(np.float32)
        np.square(squares, out=squares)
        # A product of matrices as large as this would wake as many threads as there are cores.
        sums = np.einsum("f,fc->c", self.weights, squares)
        both: Table = sums[::2] + sums[1::2]
        return both


def _tenths(stretch: Laid, step: int, channels: int) -> "Iterator[tuple[Table, float]]":
    """Each tenth, frames by channels, and its full scale; a last short one ends in silence.

    All stand in one place, which fits a cache, where what is done with them finds them.
    """
    import numpy as np

    tenth = np.empty((step, channels), np.float32)
    for at in range(0, stretch.frames, step):
        there = min(step, stretch.frames - at)
        full = stretch.interleaved(at, tenth[:there])
        tenth[there:] = 0
        yield tenth, full


def _silenced(tenth: "Table") -> "Counts":
    """Make silence of samples that are no numbers; how many there were on each channel."""
    import numpy as np

    bad = ~np.isfinite(tenth)
    tenth[bad] = 0
    counts: Counts = np.count_nonzero(bad, axis=0)
    return counts


def _pieces(step: int, longest: int) -> int:
    """Into how many equal pieces a tenth is cut, so that none is longer."""
    return next(n for n in range(1, step + 1) if step % n == 0 and step <= n * max(1, longest))
