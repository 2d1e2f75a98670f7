"""Devices that ran on clocks of their own: what channels hear of one another moves apart.

Where something begins on a channel, the others hear it a little later, by the way through the air.
On one clock that way stays; on two it grows from beginning to beginning along a line. At each
beginning the delay is read from the correlation of a short stretch, its three highest peaks, since
others play as well; and a line counts that enough of the beginnings lie on.
Derived: generalised correlation with part of the phase transform; a line by agreement of most.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from statistics import median
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.gathering import STEP_S, Gathered
from rigproof.linecheck.serving import serving
from rigproof.linecheck.taking import Reader

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Values = NDArray[np.float64]

Pair = tuple[int, int]


class Drift(msgspec.Struct, frozen=True, kw_only=True):
    """How a channel's clock runs beside another's; both counted from 0.

    `ppm`: above 0 where the second falls behind, `off_ppm` its error. `sure_ratio`: that there is a
    drift at all. `often`: how many beginnings tell it.
    """

    one: int
    other: int
    ppm: float
    off_ppm: float
    sure_ratio: float
    often: int


# Common practice, no source; tried on takes of our own.
_PARTS, _TENTHS = 24, 6  # parts of the take, and in how many tenths of each beginnings are read
_RISE_DB = 1.0
_BEFORE_S, _LENGTH_S, _AIR_S = 0.05, 0.2, 0.03
_MOST_PPM = 300.0
_SPAN_S = 600.0  # in a longer time a clock may run further off than the delay is looked for
_WHITE_RATIO = 0.7  # all of it would make as much of the noise between the tones as of them
_FROM_HZ = 60.0
_PEAKS, _PEAK_GUARD = 3, 20
_OFF_SAMPLES = 1.5
_LINE_OFF_SAMPLES = 3.0  # between both ends: what is less may be a swing of low notes
_LEAST, _LEAST_RATIO = 8, 0.4
_LEAST_SPAN = 0.5  # of the time in which beginnings were looked at


def drifts(reader: Reader, gathered: Gathered, asked: Iterable[Pair]) -> Iterator[Drift]:
    """For each pair how its clocks run, where enough beginnings tell; in its order."""
    pairs = list(asked)
    points: dict[Pair, list[tuple[float, float, float]]] = {pair: [] for pair in pairs}
    looked: dict[Pair, int] = dict.fromkeys(pairs, 0)
    by_first: dict[int, list[int]] = {}
    for one, other in pairs:
        by_first.setdefault(one, []).append(other)
    for time_s, pair, peaks in _peaks(reader, gathered, by_first):
        looked[pair] += 1
        points[pair].extend((time_s, late, height) for late, height in peaks)
    for pair in pairs:
        found = _line(pair, points[pair], looked[pair], gathered.rate_hz)
        if found is not None:
            yield found


def beginnings(gathered: Gathered, channels: Collection[int]) -> Iterator[tuple[int, list[int]]]:
    """Tenths in which channels rise, of each part of the take, and which channels do so.

    Each channel's strongest, as far as a few tenths for all of them together allow: a beginning of
    one is seldom its alone.
    """
    import numpy as np

    places = sorted(channels)
    steps = min(gathered.steps, round(_SPAN_S / STEP_S))
    level = 10 * np.log10(gathered.mean_square[places, :steps].astype(np.float64) + 1e-10)
    loud = level[:, 1:] > np.median(level, axis=1, keepdims=True)
    rises = np.where(loud, np.diff(level, axis=1), 0)
    for place, rows in serving(rises, parts=_PARTS, places=_TENTHS, least=_RISE_DB):
        yield place + 1, [places[row] for row in rows]


def _peaks(
    reader: Reader, gathered: Gathered, asked: Mapping[int, Sequence[int]]
) -> Iterator[tuple[float, Pair, list[tuple[float, float]]]]:
    """Time, pair, and the highest peaks of its correlation at a beginning: delay and height."""
    import numpy as np
    from scipy.fft import irfft, next_fast_len, rfft

    rate_hz = gathered.rate_hz
    step, size = round(rate_hz * STEP_S), round(rate_hz * _LENGTH_S)
    span_s = min(_SPAN_S, gathered.steps * STEP_S)
    reach = round(rate_hz * (_AIR_S + _MOST_PPM * 1e-6 * span_s))
    whole = next_fast_len(size + 2 * reach, real=True)
    low = round(_FROM_HZ * whole / rate_hz)
    for tenth, channels in beginnings(gathered, asked):
        first = tenth * step - round(rate_hz * _BEFORE_S) - reach
        needed = sorted({other for channel in channels for other in asked[channel]} | {*channels})
        sounds = reader.channels(max(0, first), size + 2 * reach, needed)
        if first < 0 or sounds.shape[1] < size + 2 * reach:
            continue
        at = {channel: place for place, channel in enumerate(needed)}
        spectra: dict[int, NDArray[np.complex64]] = {}
        for channel in channels:
            own = rfft(sounds[at[channel], reach : reach + size], whole).conj()
            for other in asked[channel]:
                if other not in spectra:
                    spectra[other] = rfft(sounds[at[other]], whole)
                cross = spectra[other] * own
                cross *= (np.abs(cross) + np.float32(1e-12)) ** np.float32(-_WHITE_RATIO)
                cross[:low] = 0
                line = irfft(cross, whole)[: 2 * reach]
                yield tenth * STEP_S, (channel, other), list(_highest(line, reach))


def _highest(line: "NDArray[np.float32]", reach: int) -> Iterator[tuple[float, float]]:
    """The highest peaks: by how many samples late, and how far over the usual height."""
    import numpy as np

    size = np.abs(line)
    usual = float(np.sqrt(np.square(line).mean())) + 1e-12
    for _ in range(_PEAKS):
        top = int(np.argmax(size))
        yield float(top - reach), float(size[top]) / usual
        size[max(0, top - _PEAK_GUARD) : top + _PEAK_GUARD] = 0


def _line(
    pair: Pair, points: Sequence[tuple[float, float, float]], looked: int, rate_hz: int
) -> Drift | None:
    """The drift by the line that most of the heights lie on."""
    import numpy as np

    if looked < _LEAST:
        return None
    t, d, weight = np.array(sorted(points)).T
    span = t[-1] - t[0]
    best, on = 0.0, None
    most = _MOST_PPM * 1e-6 * rate_hz
    for first in range(len(t)):
        last = np.flatnonzero(t > t[first] + 0.3 * span)
        slopes = (d[last] - d[first]) / (t[last] - t[first]) if len(last) else np.zeros(0)
        slopes = slopes[np.abs(slopes) < most]
        if not len(slopes):
            continue
        near = np.abs(d - d[first] - slopes[:, None] * (t - t[first])) <= _OFF_SAMPLES
        heights = near @ weight
        top = int(np.argmax(heights))
        if heights[top] > best:
            best, on = float(heights[top]), near[top]
    if on is None:
        return None
    t, d = t[on], d[on]
    often = len(np.unique(t))
    if often < max(_LEAST, _LEAST_RATIO * looked) or t[-1] - t[0] < _LEAST_SPAN * span:
        return None
    slope, offset = np.polyfit(t - t.mean(), d, 1)
    off = float(np.sqrt(np.square(d - offset - slope * (t - t.mean())).mean()))
    took_s = float(t[-1] - t[0])
    travelled = float(abs(slope)) * took_s
    return Drift(
        one=pair[0],
        other=pair[1],
        ppm=float(slope) / rate_hz * 1e6,
        off_ppm=_LINE_OFF_SAMPLES / took_s / rate_hz * 1e6,
        sure_ratio=travelled / (travelled + 3 * off + 0.3),
        often=often,
    )


_ONE_CLOCK_RATIO, _ROUNDS = 0.05, 4


def by_clock(drifts: Iterable[Drift]) -> Iterator[list[tuple[tuple[int, ...], float]]]:
    """Channels that hear one another, sorted by the clock they ran on; one clock alone is left out.

    First stands the clock of most channels, with a drift of 0; then the others, with theirs beside
    it (above 0 where they fall behind). Where drifts contradict one another, those that more
    beginnings tell go first.
    """
    beside: dict[int, list[tuple[int, Drift, float]]] = {}
    for drift in sorted(drifts, key=lambda one: (-one.often, one.one, one.other)):
        beside.setdefault(drift.one, []).append((drift.other, drift, drift.ppm))
        beside.setdefault(drift.other, []).append((drift.one, drift, -drift.ppm))
    left = set(beside)
    while left:
        known = _settled(min(left, key=lambda place: (-len(beside[place]), place)), beside)
        left -= set(known)
        off_ppm = median(drift.off_ppm for place in known for _, drift, _ in beside[place])
        clocks: list[list[int]] = []
        for place in sorted(known, key=lambda place: (known[place], place)):
            apart = known[place] - known[clocks[-1][-1]] if clocks else 0.0
            if clocks and apart <= max(off_ppm, _ONE_CLOCK_RATIO * abs(known[place])):
                clocks[-1].append(place)
            else:
                clocks.append([place])
        clocks.sort(key=lambda one: (-len(one), min(one)))
        if len(clocks) > 1:
            middles = [median(known[place] for place in one) for one in clocks]
            yield [
                (tuple(sorted(one)), middle - middles[0])
                for one, middle in zip(clocks, middles, strict=True)
            ]


def _settled(
    root: int, beside: Mapping[int, Sequence[tuple[int, Drift, float]]]
) -> dict[int, float]:
    """Every channel's clock beside one of theirs, as most beginnings have it.

    First along the drifts that most beginnings tell, then each by all of its drifts.
    """
    known = {root: 0.0}
    while True:
        ways = [
            (-drift.often, place, other, known[place] + ppm)
            for place in known
            for other, drift, ppm in beside[place]
            if other not in known
        ]
        if not ways:
            break
        _, _, other, ppm = min(ways)
        known[other] = ppm
    for _ in range(_ROUNDS):
        for place in sorted(known):
            says = sorted((known[other] - ppm, drift.often) for other, drift, ppm in beside[place])
            known[place] = _middle(says)
    return known


def _middle(weighed: Sequence[tuple[float, int]]) -> float:
    """The median of sorted values, each counted as often as it weighs."""
    half, sofar = sum(weight for _, weight in weighed) / 2, 0
    for value, weight in weighed:
        sofar += weight
        if sofar >= half:
            return value
    return weighed[-1][0]
