"""The K weighting of loudness, laid over the spectrum of each tenth of a second.

No filter runs through the samples, and what comes out is what comes of one that does. A spectrum
takes its tenth for one turn of a ring, so that the end of it rings on into its own beginning, in
place of the end of the tenth before. The filter has four states, and forgets within a tenth: four
sums over the samples tell where a tenth leaves it, four more what the ring's beginning has in
common with each state's dying away. From these, the mean square is put right exactly.
"""

from typing import TYPE_CHECKING

from rigproof.physics.loudness import k_weighting_gain_ratio

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table = NDArray[np.float32]
    Curve = NDArray[np.float64]

STEP_S = 0.1  # the step of momentary loudness in BS.1770
STATES = 4


def step_of(rate_hz: int) -> int:
    """How many samples a tenth of a second is."""
    return max(1, round(rate_hz * STEP_S))


class Weighing:
    """What makes the K-weighted mean squares of tenths of their spectra and their edges.

    `power_ratio`: the weighting of the frequencies of a tenth. `edges`: the states that a tenth
    leaves, and then what its ring has in common with each state's dying away: sums of its samples
    by these rows.
    """

    def __init__(self, rate_hz: int) -> None:
        import numpy as np
        from scipy.fft import irfft, rfft, rfftfreq

        self.step = step_of(rate_hz)
        self.frequencies: Curve = rfftfreq(self.step, 1 / rate_hz)
        (b0, b1, b2, _, a1, a2), (c0, c1, c2, _, d1, d2) = k_weighting_gain_ratio(rate_hz=rate_hz)
        back = np.exp(-2j * np.pi * np.arange(len(self.frequencies)) / self.step)
        gain = (b0 + b1 * back + b2 * back**2) / (1 + a1 * back + a2 * back**2)
        gain *= (c0 + c1 * back + c2 * back**2) / (1 + d1 * back + d2 * back**2)
        self.power_ratio: Curve = np.square(np.abs(gain))
        # Both filters as states (the transposed second form), one behind the other.
        onward = np.array([[-a1, 1, 0, 0], [-a2, 0, 0, 0], [c1 - d1 * c0, 0, -d1, 1],
                           [c2 - d2 * c0, 0, -d2, 0]])  # fmt: skip
        shelf = np.array([b1 - a1 * b0, b2 - a2 * b0])
        entering = np.concatenate((shelf, b0 * onward[2:, 0]))
        leaving = np.array([c0, 0.0, 1.0, 0.0])
        left, dying = (np.empty((STATES, self.step)) for _ in range(2))
        for place in range(self.step):
            left[:, -1 - place], entering = entering, onward @ entering
            dying[:, place], leaving = leaving, leaving @ onward
        in_common = irfft(gain.conj() * rfft(dying, axis=1), self.step, axis=1)
        self.edges: Table = np.concatenate((left, in_common)).astype(np.float32)
        self.among: Curve = dying @ dying.T

    def of_spectra(self, curves: "Curve") -> "Curve":
        """Curves of power, so scaled that they make mean squares of the squares of a spectrum."""
        scaled = curves / self.step**2
        scaled[..., 1 : curves.shape[-1] - (self.step % 2 == 0)] *= 2  # a real signal's other half
        return scaled

    def put_right(self, weighted: "Table", edges: "Table", before: "Table") -> "Curve":
        """Mean squares of tenths in a row, from those of rings and the sums by `edges`.

        `weighted`: channels by tenths. `edges`: sums by channels by tenths. `before`: the states
        that the tenth before has left, states by channels.

        Derived: what a filter makes of a tenth is what it makes of the ring, and the dying away of
        by how much the states at its beginning differ; the square of that sum, over the tenth.
        """
        import numpy as np

        left, in_common = edges[:STATES].astype(np.float64), edges[STATES:]
        off = -left
        off[..., 0] += before
        off[..., 1:] += left[..., :-1]
        among = np.einsum("ict,ij,jct->ct", off, self.among, off)
        squares: Curve = weighted + (2 * (in_common * off).sum(axis=0) + among) / self.step
        return np.maximum(squares, 0)
