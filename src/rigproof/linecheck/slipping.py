"""Whether samples were lost or doubled while a test signal was recorded.

A sweep passes its tones one after another. Where samples are lost on the way, all that sounds
behind that moment arrives earlier than what sounded before, on all lines: the bands of a line no
longer arrive together, and the clock that both chirps tell is off by just as much. Everything else
that such a recording shows, polarity and delay before all, would then be blamed on the rack.
"""

from collections.abc import Iterator, Mapping, Sequence
from statistics import fmean

import msgspec

from rigproof.linecheck.score import GROWTH_S, LEAD_S, LOW_HZ, Score
from rigproof.physics.sweeps import passing_s

# Above them no usual filter delays one band by more than a few samples beside another.
BANDS_HZ: tuple[tuple[float, float], ...] = tuple(
    (600 * 1.6**n, 600 * 1.6 ** (n + 1)) for n in range(5)
)
MOST_ASKED = 8
SURE_ARRIVAL = 100.0  # times the scatter a response stands out before its bands are told apart
BAND_UNDER_RATIO = 0.03  # of the strongest band of a line, before a weak one counts
_LEAST_BANDS = 3
_LEAST_S = 150e-6  # fewer samples lost than that bend nothing that is told
_FEW, _LEAST_OF_FEW_S = 2, 1e-3  # of one or two lines a room or a filter may look like a loss
# Common practice, no source. So much of the delays a loss must leave unexplained at most, of so
# many of the bands at least; those that sounded within so long of it are left out.
_UNEXPLAINED_RATIO, _COUNTED_RATIO, _MIDST_S = 0.3, 0.6, 0.6


class Arrivals(msgspec.Struct, frozen=True):
    """How late the bands of a line arrive, by the clock of the whole; channels count from 0."""

    recorded: int
    played: int
    late_s: tuple[float | None, ...]


class Slip(msgspec.Struct, frozen=True):
    """So much later than before everything arrives from a moment of the signal on.

    None where it lies before or behind all that was asked.
    """

    at_s: float | None
    by_s: float


class _Point(msgspec.Struct, frozen=True):
    line: int
    at_s: float
    late_s: float


def slipped(
    arrivals: Sequence[Arrivals], clock_ratios: Mapping[int, float], score: Score
) -> Slip | None:
    """The loss that explains how the bands arrive; None where none does.

    `clock_ratios`: of each recorded channel, its own clock over that of the whole: a box on one of
    its own drifts, and loses nothing. Derived: with a time J lost at t0 of the time T between the
    chirps, whose clock is off by J / T, a tone at t is late by J (t > t0) - J t / T.
    """
    points = sorted(_points(arrivals, clock_ratios, score), key=lambda one: one.at_s)
    if not points:
        return None
    between_s = score.last_mark_s - LEAD_S
    least_s = _LEAST_S if len({one.line for one in points}) > _FEW else _LEAST_OF_FEW_S
    found: tuple[float, Slip] | None = None
    for moment in (0.0, *(one.at_s for one in points)):
        # A band in whose midst it happened arrives at no one time.
        clear = [one for one in points if abs(one.at_s - moment) > _MIDST_S]
        if len(clear) < _COUNTED_RATIO * len(points):
            continue
        late = _centred(clear, [one.late_s for one in clear])
        shape = _centred(clear, [(one.at_s > moment) - one.at_s / between_s for one in clear])
        square = sum(one * one for one in shape)
        if not square:
            continue
        by_s = sum(a * b for a, b in zip(shape, late, strict=True)) / square
        left = fmean(abs(a - by_s * b) for a, b in zip(late, shape, strict=True))
        unexplained = left / max(fmean(map(abs, late)), 1e-12)
        if abs(by_s) > least_s and (found is None or unexplained < found[0]):
            between = any(one.at_s < moment for one in clear) and clear[-1].at_s > moment
            found = unexplained, Slip(moment if between else None, by_s)
    return found[1] if found is not None and found[0] < _UNEXPLAINED_RATIO else None


def _points(
    arrivals: Sequence[Arrivals], clock_ratios: Mapping[int, float], score: Score
) -> Iterator[_Point]:
    for line, one in enumerate(arrivals):
        known = [(n, late) for n, late in enumerate(one.late_s) if late is not None]
        if len(known) < _LEAST_BANDS or one.recorded not in clock_ratios:
            continue
        for band, late_s in known:
            low, high = BANDS_HZ[band]
            passed = passing_s(at_hz=(low * high) ** 0.5, growth_s=GROWTH_S, low_hz=LOW_HZ)
            at_s = score.start_s(one.played) + passed
            yield _Point(line, at_s, late_s - (clock_ratios[one.recorded] - 1) * at_s)


def _centred(points: Sequence[_Point], values: Sequence[float]) -> list[float]:
    """Values less the mean of those of the same line: how late a line is itself says nothing."""
    lines: dict[int, list[float]] = {}
    for one, value in zip(points, values, strict=True):
        lines.setdefault(one.line, []).append(value)
    means = {line: fmean(mine) for line, mine in lines.items()}
    return [value - means[one.line] for one, value in zip(points, values, strict=True)]
