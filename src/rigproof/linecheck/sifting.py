"""What a stretch of sound shows, tenth by tenth of a second.

One transform of each tenth gives its power, its hiss and its loudness (`weighing`).
"""

from typing import TYPE_CHECKING, Protocol

import msgspec

from rigproof.linecheck.weighing import STATES, Weighing
from rigproof.linecheck.weighing import STEP_S as STEP_S
from rigproof.physics.loudness import TRUE_PEAK_TAPS

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    Table = NDArray[np.float32]
    Spectra = NDArray[np.complex64]

NEAR_FULL = 0.9995
HISS_HZ = (4_000.0, 12_000.0)
BEFORE = len(TRUE_PEAK_TAPS[0])  # samples of the stretch before that a stretch is looked at with
NAMES = (
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
_PLACES = {name: place for place, name in enumerate(NAMES)}
_TOGETHER = 8  # channels whose samples, spectra and squares fit a cache


# Derived: the printed filter as a line between the two middle samples and a rest that weighs
# second differences; the largest gain of the one, the largest sum of sizes of the other.
HIGH, BENT = 1.0016, 0.5698


class Unread(Protocol):
    """A stretch of sound that is still packed."""

    @property
    def frames(self) -> int: ...

    def unpacked(self, wanted: "Sequence[int]", into: "Table") -> None:
        """Some channels, counted from 0, as floats: channels by frames."""

    def last(self, frames: int) -> "Unread":
        """Its end; shorter than asked where it is so itself."""


class Sifted(msgspec.Struct, frozen=True):
    """What a stretch shows. `tables`: by name, channel and tenth, as `Gathered` has them.

    `edges`: what its weighted mean squares are put right by, sums by channels by tenths. `power`:
    squares of the spectra, channels by frequencies. `looked`: spectra of some tenths through a Hann
    window, tenths by channels by frequencies.
    """

    frames: int
    tables: "Table"
    edges: "Table"
    power: "Table"
    looked: "Spectra"
    true_peak: "Table"
    not_numbers: "NDArray[np.int64]"


class Sieve:
    """Sifts stretches of one recording; holds nothing of them, so it can sift several at once."""

    def __init__(self, *, channels: int, rate_hz: int) -> None:
        import numpy as np

        self.channels = channels
        self.weighing = Weighing(rate_hz)
        self.step = self.weighing.step
        self.frequencies = self.weighing.frequencies
        self.piece = min(
            (n for n in range(1, self.step + 1) if self.step % n == 0), key=lambda n: abs(n - 100)
        )
        self.weights = self._weights(rate_hz)
        self.taps = np.array(TRUE_PEAK_TAPS, np.float32)[:, ::-1].T

    def _weights(self, rate_hz: int) -> "Table":
        """What makes mean squares of a spectrum: all; K; hiss; bends."""
        import numpy as np

        hiss = (self.frequencies >= HISS_HZ[0]) & (self.frequencies <= HISS_HZ[1])
        bend = (2 * np.sin(np.pi * self.frequencies / rate_hz)) ** 4
        rows = np.stack([np.ones(len(hiss)), self.weighing.power_ratio, hiss, bend])
        return np.repeat(self.weighing.of_spectra(rows), 2, axis=1).astype(np.float32)

    def sift(self, stretch: Unread, before: "Table", looked: range, floor: "Table") -> Sifted:
        """Look at a stretch; a last tenth that is no whole one is filled up with silence.

        `before`: the samples ahead of it, channels by `BEFORE`. `looked`: which tenths are to be
        likened. `floor`: true peaks known already; lower ones are not looked for.
        """
        import numpy as np

        tenths = -(-stretch.frames // self.step)
        length = tenths * self.step
        joined = np.empty((self.channels, BEFORE + length), np.float32)
        joined[:, :BEFORE] = before
        joined[:, BEFORE + stretch.frames :] = 0
        stretch.unpacked(range(self.channels), joined[:, BEFORE : BEFORE + stretch.frames])
        bins = len(self.frequencies)
        found = Sifted(
            frames=stretch.frames,
            tables=np.zeros((len(NAMES), self.channels, tenths), np.float32),
            edges=np.empty((2 * STATES, self.channels, tenths), np.float32),
            power=np.empty((self.channels, bins), np.float32),
            looked=np.empty((len(looked), self.channels, bins), np.complex64),
            true_peak=floor.copy(),
            not_numbers=np.zeros(self.channels, np.int64),
        )
        spare = np.empty((min(_TOGETHER, self.channels), length + 1), np.float32)
        for first in range(0, self.channels, _TOGETHER):
            some = slice(first, min(first + _TOGETHER, self.channels))
            self._sift(joined[some], found, some, looked, spare[: some.stop - first])
        self._true_peaks(joined, found)
        return found

    def _sift(
        self, joined: "Table", found: Sifted, some: slice, looked: range, spare: "Table"
    ) -> None:
        """Some channels of a stretch: fills their rows of all that is found."""
        import numpy as np
        from scipy.fft import rfft

        row = {name: found.tables[place, some] for name, place in _PLACES.items()}
        sound = joined[:, BEFORE:]
        tenths = sound.reshape(len(sound), -1, self.step)
        np.maximum(tenths.max(axis=2), -tenths.min(axis=2), out=row["peak"])
        if not np.isfinite(row["peak"]).all():
            bad = ~np.isfinite(sound)
            found.not_numbers[some] = np.count_nonzero(bad, axis=1)
            sound[bad] = 0
            row["peak"][:] = np.abs(tenths).max(axis=2)
        self._edges(joined, tenths, row, spare)
        spectra = rfft(tenths, axis=2)
        sums = np.vecdot(tenths[..., None, :], self.weighing.edges)
        found.edges[:, some] = sums.transpose(2, 0, 1)
        row["mean"][:] = spectra[..., 0].real / self.step
        for place, one in enumerate(looked):
            _windowed(spectra[:, one], found.looked[place, some])
        squares = spectra.view(np.float32)
        np.square(squares, out=squares)
        # Not a product of matrices: that would wake as many threads as there are cores in each of
        # ours.
        weighed = np.vecdot(squares[..., None, :], self.weights)
        for at, name in enumerate(("mean_square", "weighted", "hiss", "bend_square")):
            row[name][:] = weighed[..., at]
        both = squares.sum(axis=1)
        np.add(both[:, ::2], both[:, 1::2], out=found.power[some])

    def _edges(
        self, joined: "Table", tenths: "Table", row: "dict[str, Table]", spare: "Table"
    ) -> None:
        """How sharply the sound bends, where it is exactly nought, and where at the ceiling."""
        import numpy as np

        slopes = np.subtract(joined[:, BEFORE - 1 :], joined[:, BEFORE - 2 : -1], out=spare)
        bends = slopes[:, :-1]
        np.subtract(slopes[:, 1:], bends, out=bends)
        bent = bends.reshape(tenths.shape)
        np.maximum(bent.max(axis=2), -bent.min(axis=2), out=row["bends"])
        nought = tenths == 0
        if nought.any():
            row["zeros"][:] = np.count_nonzero(nought, axis=2)
        for place, tenth in np.argwhere(row["peak"] >= NEAR_FULL).tolist():
            row["full"][place, tenth] = np.count_nonzero(np.abs(tenths[place, tenth]) >= NEAR_FULL)

    def _true_peaks(self, joined: "Table", found: Sifted) -> None:
        """The peak between samples, by the filter of BS.1770, where one can be.

        Exact: what the filter makes between two samples is at most `HIGH` times the higher of them
        and `BENT` times the sharpest bend it reaches. Only where that is over the highest peak so
        far is it laid on.
        """
        import numpy as np

        true_peak = found.true_peak
        peak, bends = (found.tables[_PLACES[name]] for name in ("peak", "bends"))
        # Each tenth with the samples before it: its first outputs still come of those.
        whole = np.lib.stride_tricks.sliding_window_view(joined, BEFORE + self.step, 1)
        whole = whole[:, :: self.step]
        edge = whole[..., : BEFORE + 2]
        highest = np.maximum(peak, np.abs(edge).max(axis=2))
        sharpest = np.maximum(bends, np.abs(np.diff(edge, n=2)).max(axis=2))
        np.maximum(true_peak, highest.max(axis=1), out=true_peak)
        place, tenth = np.nonzero(HIGH * highest + BENT * sharpest > true_peak[:, None])
        if not len(place):
            return
        sound = whole[place, tenth]
        # The same again of each piece of these tenths, with the piece before it.
        highest = self._by_piece(np.abs(sound), BEFORE)
        sharpest = self._by_piece(np.abs(np.diff(sound, n=2)), BEFORE - 2)
        most = HIGH * highest + BENT * sharpest
        one, piece = np.nonzero(most > true_peak[place][:, None])
        first = piece[:, None] * self.piece + np.arange(1, self.piece + BEFORE)
        windows = np.lib.stride_tricks.sliding_window_view(sound[one[:, None], first], BEFORE, 1)
        between = np.abs(np.einsum("ijk,kl->ijl", windows, self.taps)).max(axis=(1, 2))
        np.maximum.at(true_peak, place[one], between)

    def _by_piece(self, values: "Table", ahead: int) -> "Table":
        """The highest of each piece and the one before it; so many values stand ahead of all."""
        import numpy as np

        pieces = values[:, ahead:].reshape(len(values), -1, self.piece).max(axis=2)
        before = np.concatenate((values[:, :ahead].max(axis=1)[:, None], pieces[:, :-1]), axis=1)
        highest: Table = np.maximum(pieces, before)
        return highest


def _windowed(spectra: "Spectra", into: "Spectra") -> None:
    """What the spectra would be through a Hann window; the lowest and highest line are left out."""
    import numpy as np

    inner = into[:, 1:-1]
    np.add(spectra[:, :-2], spectra[:, 2:], out=inner)
    inner *= np.float32(-0.5)
    inner += spectra[:, 1:-1]
    into[:, 0] = into[:, -1] = 0
