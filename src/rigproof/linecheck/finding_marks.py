"""Where a recording of the test signal begins, and how fast its clock ran.

The recorder may have started up to a minute early, at another rate, on another clock; channels may
be dead. So the marks are looked for in the channels that have most to say, at each rate that a
mistaken setting makes likely, first coarsely and then to a fraction of a sample.
"""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.score import LEAD_S, MARK_S, Score, mark

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.float32]

# What one second of the signal may have become, as a ratio of rates: right, or 44.1 for 48 and the
# other way, or half and double, as happens where two boxes disagree on the rate.
LIKELY_RATIOS: tuple[float, ...] = (1.0, 44_100 / 48_000, 48_000 / 44_100, 0.5, 2.0)
CLEAR = 8.0  # a mark stands at least so far above the usual scatter of its likeness
_ASKED = 4  # channels that are looked into before giving up
_COARSE_HZ = 12_000.0
_NEAR_S = 0.02


class Marks(msgspec.Struct, frozen=True):
    """The two marks in one channel, in samples of the recording, and how clear they were."""

    first: float
    last: float
    clear: float  # times the usual scatter


class Clock(msgspec.Struct, frozen=True):
    """Where the signal starts in a recording, and the samples that one of its seconds takes."""

    start: float  # sample of the signal's own beginning; may lie before the recording
    per_s: float

    def at(self, signal_s: float) -> float:
        """The sample at which a moment of the signal stands."""
        return self.start + signal_s * self.per_s


def clock_of(marks: Marks, score: Score) -> Clock:
    """What two marks tell of the clock.

    Derived: two points of a line; the distance of the marks in the signal is exact.
    """
    per_s = (marks.last - marks.first) / (score.last_mark_s - LEAD_S)
    return Clock(marks.first - LEAD_S * per_s, per_s)


def find_clock(recorded: "Samples", rate_hz: float, score: Score) -> tuple[Clock, float] | None:
    """The clock of a whole recording (frames by channels), and the ratio of rates it is near to.

    None where no channel holds both marks.
    """
    import numpy as np

    step = max(1, int(rate_hz // _COARSE_HZ))
    thin = _thinned(recorded, step)
    loudness = np.square(thin).mean(axis=0)
    best: tuple[float, Clock, float] | None = None
    for channel in np.argsort(-loudness, kind="stable")[:_ASKED].tolist():
        if loudness[channel] == 0:
            break
        for ratio in LIKELY_RATIOS:
            found = _coarse(thin[:, channel], rate_hz / step, ratio, score)
            if found is None or (best is not None and found.clear <= best[0]):
                continue
            first, last = found.first * step, found.last * step
            coarse = Marks(first, last, found.clear)
            near = refined(recorded[:, channel], coarse, clock_of(coarse, score).per_s)
            if near is not None:
                clock = clock_of(near, score)
                near = refined(recorded[:, channel], near, clock.per_s) or near
                best = (found.clear, clock_of(near, score), ratio)
        if best is not None and best[0] > 3 * CLEAR:
            break
    return None if best is None else (best[1], best[2])


def _thinned(recorded: "Samples", step: int) -> "Samples":
    """Every so many samples as one: their mean, which is filter enough for the marks' band."""
    import numpy as np

    whole = len(recorded) // step * step
    shaped = recorded[:whole].reshape(-1, step, recorded.shape[1])
    thin: Samples = shaped.mean(axis=1, dtype=np.float32)
    return thin


class _Likeness(msgspec.Struct, frozen=True):
    """How like the two marks a sound is: `together`, at each place, the lesser of the two.

    The last mark is looked for within `slack` around the `distance`.
    """

    together: "NDArray[np.float32]"
    falling: "NDArray[np.float32]"
    distance: int
    slack: int

    def marks(self, place: int) -> Marks:
        """The two marks of which the first stands here."""
        begin = place + self.distance - self.slack
        around = self.falling[begin : begin + 2 * self.slack + 1]
        return Marks(float(place), float(begin + int(around.argmax())), float(self.together[place]))


def _coarse(sound: "Samples", rate_hz: float, ratio: float, score: Score) -> Marks | None:
    """Both marks at a likely ratio: the pair of places at the right distance that stands out."""
    likeness = _likeness(sound, rate_hz, ratio, score)
    if likeness is None:
        return None
    place = int(likeness.together.argmax())
    return likeness.marks(place) if likeness.together[place] >= CLEAR else None


def _likeness(sound: "Samples", rate_hz: float, ratio: float, score: Score) -> _Likeness | None:
    import numpy as np
    from scipy.fft import irfft, next_fast_len, rfft

    size = next_fast_len(len(sound) + int(MARK_S * rate_hz) + 1, real=True)
    spectrum = rfft(np.asarray(sound, np.float32), size)
    # Where the file says another rate than it was recorded at, seconds themselves are longer.
    per_s = rate_hz * ratio
    scattered: list[NDArray[np.float32]] = []
    for last in (False, True):
        sought = mark(rate_hz=per_s, last=last).astype(np.float32)
        likeness = np.abs(irfft(spectrum * np.conj(rfft(sought, size)), size)[: len(sound)])
        # Loud sweeps must not drown a mark: only how far it stands out around itself counts.
        scattered.append(likeness / (_usual(likeness) + 1e-12))
    distance = round((score.last_mark_s - LEAD_S) * per_s)
    slack = max(2, round(distance * 0.001))
    rising, falling = scattered
    if len(rising) <= distance:
        return None
    ahead = _highest_near(falling, distance, slack)[: len(rising)]
    together = np.minimum(rising[: len(ahead)], ahead)
    return _Likeness(together, falling, distance, slack) if len(together) else None


def all_clocks(sound: "Samples", rate_hz: float, score: Score) -> tuple[Clock, ...]:
    """The clock of every time that the signal is heard whole in one long channel, in order.

    Looked for stretch by stretch: what is loud in one tail must not hide what is soft in another.
    The rate is that of the first stretch that holds the signal.
    """
    step = max(1, int(rate_hz // _COARSE_HZ))
    thin = _thinned(sound[:, None], step)[:, 0]
    ratios = LIKELY_RATIOS
    found: list[Clock] = []
    longest = max(1, int(max(ratios) * score.length_s * rate_hz / step))
    for begin in range(0, len(thin), longest):
        part = thin[begin : begin + 2 * longest + longest // 8]
        kept: list[Clock] = []
        for ratio in ratios:
            kept = [
                clock
                for clock in _clocks_in(sound, part, begin, step, rate_hz, ratio, score)
                if all(
                    abs(clock.start - one.start) > 0.4 * score.length_s * one.per_s for one in found
                )
            ]
            if kept:
                ratios = (ratio,)
                break
        found += kept
    return tuple(sorted(found, key=lambda clock: clock.start))


def _clocks_in(
    sound: "Samples",
    part: "Samples",
    begin: int,
    step: int,
    rate_hz: float,
    ratio: float,
    score: Score,
) -> Iterator[Clock]:
    """The signals within a thinned part that begins at a thinned sample of the sound."""
    likeness = _likeness(part, rate_hz / step, ratio, score)
    if likeness is None:
        return
    together = likeness.together.copy()
    apart = round(0.5 * likeness.distance)
    while together[place := int(together.argmax())] >= CLEAR:
        coarse = likeness.marks(place)
        together[max(0, place - apart) : place + apart] = 0
        marks = Marks((coarse.first + begin) * step, (coarse.last + begin) * step, coarse.clear)
        near = refined(sound, marks, clock_of(marks, score).per_s)
        near = near and refined(sound, near, clock_of(near, score).per_s)
        if near is not None and near.clear > CLEAR:
            yield clock_of(near, score)


def _usual(likeness: "NDArray[np.float32]") -> float:
    import numpy as np

    return float(np.median(likeness[:: max(1, len(likeness) // 100_000)]))


def _highest_near(
    values: "NDArray[np.float32]", distance: int, slack: int
) -> "NDArray[np.float32]":
    """For each place the highest value within the slack around the place at a distance."""
    from scipy.ndimage import maximum_filter1d

    spread: NDArray[np.float32] = maximum_filter1d(values, 2 * slack + 1, mode="constant")
    return spread[distance:]


def refined(sound: "Samples", near: Marks, per_s: float) -> Marks | None:
    """Marks to a fraction of a sample, looked for near places known roughly."""
    found = [
        _place(sound, at, per_s, last=last) for at, last in ((near.first, False), (near.last, True))
    ]
    first, last = found
    if first is None or last is None:
        return None
    return Marks(first[0], last[0], min(first[1], last[1]))


def _place(sound: "Samples", at: float, per_s: float, *, last: bool) -> tuple[float, float] | None:
    import numpy as np
    from scipy.fft import irfft, next_fast_len, rfft

    reach = int(_NEAR_S * per_s)
    sought = _mark(per_s, last=last)
    begin = max(0, int(at) - reach)
    part = np.asarray(sound[begin : int(at) + reach + len(sought)], np.float64)
    if len(part) < len(sought) // 2:
        return None
    size = next_fast_len(len(part) + len(sought), real=True)
    likeness = irfft(rfft(part, size) * np.conj(rfft(sought, size)), size)[: 2 * reach + 1]
    strength = np.abs(likeness)
    place = int(strength.argmax())
    scatter = float(np.median(strength)) + 1e-15
    return begin + place + between(strength, place), float(strength[place]) / scatter


@lru_cache(maxsize=4)
def _mark(per_s: float, *, last: bool) -> "NDArray[np.float64]":
    """A mark as every channel of a recording is searched for it."""
    found = mark(rate_hz=per_s, last=last)
    found.setflags(write=False)
    return found


def between(values: "NDArray[np.float64]", place: int) -> float:
    """Where a peak lies between samples, by the parabola through it and its neighbours."""
    if not 0 < place < len(values) - 1:
        return 0.0
    before, here, after = values[place - 1 : place + 2].tolist()
    bend = before - 2 * here + after
    return 0.0 if bend == 0 else 0.5 * (before - after) / bend


def own_clocks(
    recorded: "Samples", clock: Clock, score: Score, channels: Sequence[int]
) -> dict[int, Clock]:
    """The clock of each channel by its own marks; channels without clear ones are left out."""
    found = {}
    for channel in channels:
        near = Marks(clock.at(LEAD_S), clock.at(score.last_mark_s), 0.0)
        marks = refined(recorded[:, channel], near, clock.per_s)
        if marks is not None and marks.clear > CLEAR:
            found[channel] = clock_of(marks, score)
    return found
