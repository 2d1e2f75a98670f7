"""Whether samples were lost or doubled while a test signal was recorded.

A sweep passes its tones one after another. Where samples are lost on the way, all that sounds
behind that moment arrives earlier than what sounded before: the bands of a line no longer arrive
together, and the clock that both chirps tell is none. Everything else that such a recording shows,
polarity and delay before all, would then be blamed on the rack.
"""

from collections.abc import Sequence
from statistics import fmean, median

import msgspec

from rigproof.linecheck.score import GROWTH_S, LOW_HZ, Score
from rigproof.physics.sweeps import passing_s

# Above them no usual filter delays one band by more than a few samples beside another.
BANDS_HZ: tuple[tuple[float, float], ...] = tuple(
    (600 * 1.6**n, 600 * 1.6 ** (n + 1)) for n in range(5)
)
MOST_ASKED = 8
SURE_ARRIVAL = 100.0  # times the scatter a response stands out before its bands are told apart
BAND_UNDER_RATIO = 0.03  # of the strongest band of a line, before a weak one counts
_LEAST_BANDS = 3
# In seconds. Common practice, no source: six samples at 48 kHz and no filter that all lines share,
# or more than any filter does.
_APART_S, _UNSHARED_S, _MUCH_S = 125e-6, 40e-6, 1e-3

Bands = Sequence[float | None]


class Arrivals(msgspec.Struct, frozen=True):
    """How late the bands of a line arrive, by the clock of the whole; channels count from 0."""

    recorded: int
    played: int
    late_s: tuple[float | None, ...]

    def by(self, clock_ratio: float, score: Score) -> Bands:
        """The same by the line's own clock: a box on one of its own drifts, and loses nothing."""
        return [
            None if late is None else late - (clock_ratio - 1) * self._at_s(n, score)
            for n, late in enumerate(self.late_s)
        ]

    def _at_s(self, band: int, score: Score) -> float:
        low, high = BANDS_HZ[band]
        passed = passing_s(at_hz=(low * high) ** 0.5, growth_s=GROWTH_S, low_hz=LOW_HZ)
        return score.start_s(self.played) + passed


def has_slipped(bands: Sequence[Bands]) -> bool:
    """Whether the bands of most lines arrive apart; line by line, in seconds."""
    lines = [line for line in bands if len(_known(line)) >= _LEAST_BANDS]
    if not lines:
        return False
    apart_s = median(max(_known(line)) - min(_known(line)) for line in lines)
    if apart_s <= _APART_S:
        return False
    return apart_s > _MUCH_S or _unshared_s(lines) > _UNSHARED_S


def _known(line: Bands) -> list[float]:
    return [late for late in line if late is not None]


def _unshared_s(lines: Sequence[Bands]) -> float:
    """What most lines have left of their delays, each one's own and what all share taken out.

    A filter is in the same band of each line; a loss is at the same moment, which is another band
    in a line that began its sweep later.
    """
    centred = [
        [None if late is None else late - fmean(_known(line)) for late in line] for line in lines
    ]
    shared = [median(_known(band) or [0.0]) for band in zip(*centred, strict=True)]
    return median(
        max(abs(late - usual) for late, usual in zip(line, shared, strict=True) if late is not None)
        for line in centred
    )
