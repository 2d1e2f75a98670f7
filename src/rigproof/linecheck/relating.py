"""Which channels carry the same thing: how alike, which way up, how much later, how much louder.

All of it comes from cross-spectra. Coherence says how far one channel follows from another; the
phase where they are coherent says how much later it is and whether it is turned over.
"""

from collections.abc import Iterable, Iterator
from statistics import median
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.gathering import BANK, LIKENESS_HZ, Gathered
from rigproof.linecheck.sifting import STEP_S
from rigproof.linecheck.taking import Reader

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Spectrum = NDArray[np.complex128]
    Values = NDArray[np.float64]

LEAST_LIKENESS = 0.2
_REACH_S = 0.02
_FROM_HZ, _TO_HZ = 80.0, 10_000.0
_FINE = 16


class Relation(msgspec.Struct, frozen=True, kw_only=True):
    """One channel beside another, both counted from 0.

    `likeness_ratio`: mean coherence over octaves. `follows_ratio`: how high the peak of the
    correlation stands, of 1; `rival_ratio`: the highest of the other sign. `delay_samples`: how
    much later the second is. `error_ratio`: what is left of the second once the first is taken
    out of it, as power.
    """

    one: int
    other: int
    likeness_ratio: float
    follows_ratio: float
    rival_ratio: float
    upright: bool
    delay_samples: float
    level_db: float
    error_ratio: float
    stands_out_ratio: float  # the peak over the usual height of the correlation


class Likeness:
    """Coherence and phase between channels of one recording."""

    def __init__(self, gathered: Gathered) -> None:
        import numpy as np

        self.gathered = gathered
        self.looks = gathered.looks
        frequencies = np.arange(gathered.cross[0].shape[0]) / STEP_S
        self.heard = (frequencies >= _FROM_HZ) & (frequencies <= min(_TO_HZ, LIKENESS_HZ))
        weight = np.where(self.heard, 1 / np.maximum(frequencies, 1), 0)  # octaves count alike
        self.weight = weight / weight.sum()
        self.means = [self._mean(cross) for cross in gathered.cross]

    def _mean(self, cross: "NDArray[np.complex64]") -> "Values":
        """Mean coherence of all pairs of a bank, freed of what few looks make of nothing."""
        import numpy as np

        own = np.einsum("fcc->fc", cross).real.astype(np.float64)
        size = np.square(cross.real, dtype=np.float64) + np.square(cross.imag, dtype=np.float64)
        floor = own.max(axis=0, keepdims=True) * 1e-12 + 1e-30
        coherence = size / np.maximum(own[:, :, None] * own[:, None, :], (floor**2)[..., None])
        free = np.clip((coherence - 1 / max(2, self.looks)) / (1 - 1 / max(2, self.looks)), 0, 1)
        return np.einsum("f,fij->ij", self.weight, free)  # type: ignore[no-any-return]

    def likeness(self, one: int, other: int) -> float:
        """Mean coherence, 0 where the two are not in one bank."""
        if one // BANK != other // BANK:
            return 0.0
        return float(self.means[one // BANK][one % BANK, other % BANK])

    def side(self, source: int, pair: tuple[int, int]) -> float | None:
        """How many dB louder a source is on the second side of a pair; None where it is not heard.

        Of what each side holds, only the part that follows from the source counts.
        """
        import numpy as np

        alike = [self.likeness(source, one) for one in pair]
        if max(alike) < 0.05 or len({source // BANK, *(one // BANK for one in pair)}) > 1:
            return None
        cross = self.gathered.cross[source // BANK]
        heard = self.heard
        held = [
            float(np.square(np.abs(cross[heard, one % BANK, source % BANK])).sum()) for one in pair
        ]
        return float(10 * np.log10(max(held[1], 1e-30) / max(held[0], 1e-30)))

    def pairs(self, least: float = LEAST_LIKENESS) -> list[tuple[int, int]]:
        """All pairs that are so much alike."""
        import numpy as np

        found: list[tuple[int, int]] = []
        for bank, mean in enumerate(self.means):
            ones, others = np.nonzero(np.triu(mean, 1) >= least)
            found.extend(
                (bank * BANK + one, bank * BANK + other)
                for one, other in zip(ones.tolist(), others.tolist(), strict=True)
            )
        return found

    def relation(self, one: int, other: int) -> Relation | None:
        """How the second stands to the first; None where they are not in one bank."""
        if one // BANK != other // BANK or one == other:
            return None
        cross = self.gathered.cross[one // BANK]
        one_, other_ = one % BANK, other % BANK
        return related(
            one,
            other,
            cross[:, other_, one_].astype("complex128"),
            cross[:, one_, one_].real.astype("float64"),
            cross[:, other_, other_].real.astype("float64"),
            looks=self.looks,
            rate_hz=self.gathered.rate_hz,
            likeness_ratio=self.likeness(one, other),
            heard=self.heard,
        )


def related(
    one: int,
    other: int,
    cross: "Spectrum",
    own_one: "Values",
    own_other: "Values",
    *,
    looks: int,
    rate_hz: int,
    likeness_ratio: float,
    heard: "NDArray[np.bool_]",
) -> Relation:
    """Read a pair's cross-spectrum (the second times the first's conjugate).

    The correlation is weighted by coherence and whitened (the phase transform), so its peak is
    sharp and a room's or an amplifier's colour does not move it.
    """
    import numpy as np
    from scipy.fft import irfft

    tiny = 1e-30 + 1e-9 * own_one.max() * own_other.max()
    coherence = np.square(np.abs(cross)) / np.maximum(own_one * own_other, tiny)
    weight = np.where(heard, np.clip(coherence - 2.0 / max(2, looks), 0, 1), 0)
    total = float(weight.sum()) or 1.0
    white = weight * cross / np.maximum(np.abs(cross), 1e-30)
    step = round(rate_hz * STEP_S)
    size = step * _FINE
    line = irfft(white, size) * size / 2 / total
    reach = round(_REACH_S * rate_hz) * _FINE
    near = np.concatenate((line[-reach:], line[: reach + 1]))
    at = int(np.argmax(np.abs(near)))
    peak = float(near[at])
    signed = -near if peak > 0 else near
    guard = 4 * _FINE
    rest = np.delete(np.abs(near), slice(max(0, at - guard), at + guard))
    loud = np.where(heard, own_one, 0)
    power_db = 10 * np.log10(
        max(float((own_other * heard).sum()), 1e-30) / max(float(loud.sum()), 1e-30)
    )
    return Relation(
        one=one,
        other=other,
        likeness_ratio=likeness_ratio,
        follows_ratio=abs(peak),
        rival_ratio=float(signed.max()),
        upright=peak > 0,
        delay_samples=(at - reach + _bowed(near, at)) / _FINE,
        level_db=float(power_db),
        error_ratio=float(
            1
            - (np.square(np.abs(cross))[heard] / np.maximum(own_one, tiny**0.5)[heard]).sum()
            / max(float(own_other[heard].sum()), 1e-30)
        ),
        stands_out_ratio=abs(peak) / max(float(np.sqrt(np.square(rest).mean())), 1e-9),
    )


def _bowed(line: "Values", at: int) -> float:
    """Where between the samples a parabola through a peak has its top."""
    if not 0 < at < len(line) - 1:
        return 0.0
    left, middle, right = (abs(float(one)) for one in line[at - 1 : at + 2])
    bow = left - 2 * middle + right
    return 0.5 * (left - right) / bow if bow < 0 else 0.0


class Leak(msgspec.Struct, frozen=True, kw_only=True):
    """What of one channel is heard in another where that is quiet; both counted from 0."""

    source: int
    into: int
    level_db: float
    delay_samples: float
    sure_ratio: float


_LEAK_TENTHS = 16
_LEAK_APART_DB = 12.0


def leaks(reader: Reader, gathered: Gathered, asked: Iterable[tuple[int, int]]) -> Iterator[Leak]:
    """How loud a source is in another channel, from tenths where it plays and the other rests.

    `asked`: (source, into). Only what arrives at once is told: sound through the air takes longer.
    """
    import numpy as np
    from scipy.fft import rfft

    level = 10 * np.log10(gathered.mean_square.astype(np.float64) + 1e-14)
    wanted: dict[tuple[int, int], list[int]] = {}
    for source, into in asked:
        apart = level[source] - level[into]
        loud = level[source] > np.quantile(level[source], 0.95) - 25
        usable = np.flatnonzero(loud & (apart > _LEAK_APART_DB) & (gathered.mean_square[into] > 0))
        best = usable[np.argsort(-apart[usable], kind="stable")][:_LEAK_TENTHS]
        if len(best) >= 6:
            wanted[source, into] = best.tolist()
    step = round(gathered.rate_hz * STEP_S)
    bins = gathered.cross[0].shape[0]
    sums: dict[tuple[int, int], list[NDArray[np.complex128]]] = {
        pair: [np.zeros(bins, np.complex128) for _ in range(3)] for pair in wanted
    }
    by_tenth: dict[int, list[tuple[int, int]]] = {}
    for pair, tenths in wanted.items():
        for tenth in tenths:
            by_tenth.setdefault(tenth, []).append(pair)
    window = np.hanning(step)
    for tenth, pairs in sorted(by_tenth.items()):
        needed = sorted({channel for pair in pairs for channel in pair})
        sounds = reader.channels(tenth * step, step, needed)
        if sounds.shape[1] < step:
            continue
        spectra = dict(zip(needed, rfft(sounds * window)[:, :bins], strict=True))
        for source, into in pairs:
            one, other = spectra[source], spectra[into]
            mine = sums[source, into]
            mine[0] += other * one.conj()
            mine[1] += np.square(np.abs(one))
            mine[2] += np.square(np.abs(other))
    frequencies = np.arange(bins) / STEP_S
    heard = (frequencies >= _FROM_HZ) & (frequencies <= _TO_HZ)
    for (source, into), (cross, own, other_own) in sums.items():
        looks = len(wanted[source, into])
        coherence = np.square(np.abs(cross)) / np.maximum(own.real * other_own.real, 1e-30)
        free = np.clip((coherence - 1 / looks) / (1 - 1 / looks), 0, 1)
        strong = np.where(heard, own.real * free, 0)
        likeness = float(strong.sum() / max(float((own.real * heard).sum()), 1e-30))
        relation = related(
            source,
            into,
            cross,
            own.real,
            other_own.real,
            looks=looks,
            rate_hz=gathered.rate_hz,
            likeness_ratio=likeness,
            heard=heard,
        )
        gain = np.abs(np.sum(cross[heard])) / max(float(own.real[heard].sum()), 1e-30)
        if gain <= 0 or relation.follows_ratio < 0.5 or likeness < 0.3:
            continue
        yield Leak(
            source=source,
            into=into,
            level_db=20 * float(np.log10(gain)),
            delay_samples=relation.delay_samples,
            sure_ratio=min(1.0, likeness * relation.follows_ratio),
        )


class Drift(msgspec.Struct, frozen=True, kw_only=True):
    """How a channel's clock runs beside another's; both counted from 0.

    `ppm`: above 0 where the second falls behind. `sure_ratio`: that there is a drift at all.
    """

    one: int
    other: int
    ppm: float
    sure_ratio: float


_DRIFT_OFF_SAMPLES = 1.5
_DRIFT_S, _DRIFT_LOOKS, _DRIFT_REACH_S = 1.0, 10, 0.25
_DRIFT_FIRST = 3  # where nothing is found at so many places, no further ones are asked
_DRIFT_LEAST, _DRIFT_LEAST_RATIO, _DRIFT_STANDS_RATIO = 5, 0.7, 12.0
_DRIFT_MOST_PPM = 500.0
# In a longer time a clock may run further off than the delay is looked for.
_DRIFT_SPAN_S = 1200.0


def drifts(reader: Reader, gathered: Gathered, asked: Iterable[tuple[int, int]]) -> Iterator[Drift]:
    """Delay between two channels at ten places of the take, and the line through most of them."""
    import numpy as np

    span = round(_DRIFT_S / STEP_S)
    steps = min(gathered.steps, round(_DRIFT_SPAN_S / STEP_S)) - span
    if steps < _DRIFT_LOOKS:
        return
    parts = np.array_split(np.arange(steps), _DRIFT_LOOKS)
    # Both ends and the middle first: what shows nothing there is left.
    order = sorted(range(_DRIFT_LOOKS), key=lambda place: min(place, 9 - place, abs(place - 5)))
    step = round(gathered.rate_hz * STEP_S)
    for one, other in asked:
        both = np.minimum(gathered.mean_square[one], gathered.mean_square[other])[:steps]
        usual = float(np.quantile(both, 0.6))
        points: list[tuple[float, float]] = []
        for count, place in enumerate(order):
            if count == _DRIFT_FIRST and not points:
                break
            best = int(parts[place][np.argmax(both[parts[place]])])
            if both[best] < usual or both[best] <= 0:
                continue
            late = _apart(reader, gathered.rate_hz, best * step, (one, other))
            if late is not None:
                points.append((best * STEP_S, late))
        found = _line(points, gathered.rate_hz)
        if found is not None:
            yield Drift(one=one, other=other, ppm=found[0], sure_ratio=found[1])


def _apart(reader: Reader, rate_hz: int, at: int, pair: tuple[int, int]) -> float | None:
    """By how many samples the second is late in a second of sound; None where nothing tells."""
    import numpy as np
    from scipy.fft import irfft, rfft

    size, reach = round(_DRIFT_S * rate_hz), round(_DRIFT_REACH_S * rate_hz)
    sounds = reader.channels(at, size, pair)
    if sounds.shape[1] < size:
        return None
    spectra = rfft(sounds, 2 * size)
    cross = spectra[1] * spectra[0].conj()
    # Half whitened: sharp without the noise between the tones counting as much as they.
    line = irfft(cross / np.sqrt(np.abs(cross) + 1e-12), 2 * size)
    near = np.concatenate((line[-reach:], line[: reach + 1]))
    top = int(np.argmax(np.abs(near)))
    height = abs(near[top]) / (np.sqrt(np.square(near).mean()) + 1e-12)
    return top - reach + _bowed(near, top) if height >= _DRIFT_STANDS_RATIO else None


def _line(points: list[tuple[float, float]], rate_hz: int) -> tuple[float, float] | None:
    """Drift in ppm and how sure it is, by the line that most points lie on.

    A channel may hear now one source, now another; a clock shows in most places alike.
    """
    import numpy as np

    t, d = np.array(sorted(points)).reshape(-1, 2).T
    most, on = 0, None
    for first in range(len(t)):
        for last in range(first + 1, len(t)):
            slope = (d[last] - d[first]) / (t[last] - t[first])
            near = np.abs(d - d[first] - slope * (t - t[first])) <= _DRIFT_OFF_SAMPLES
            if np.count_nonzero(near) > most:
                most, on = int(np.count_nonzero(near)), near
    if on is None or most < max(_DRIFT_LEAST, _DRIFT_LEAST_RATIO * len(t)):
        return None
    t, d = t[on], d[on]
    slope, offset = np.polyfit(t - t.mean(), d, 1)
    ppm = float(slope) / rate_hz * 1e6
    if abs(ppm) > _DRIFT_MOST_PPM:
        return None
    off = float(np.sqrt(np.square(d - offset - slope * (t - t.mean())).mean()))
    travelled = float(abs(slope) * (t[-1] - t[0]))
    return ppm, travelled / (travelled + 3 * off + 0.3)


_ONE_CLOCK_PPM, _ONE_CLOCK_RATIO = 1.0, 0.05


def by_clock(drifts: Iterable[Drift]) -> Iterator[list[tuple[tuple[int, ...], float]]]:
    """Channels that hear one another, sorted by the clock they ran on; one clock alone is left out.

    First stands the clock of most channels, with a drift of 0; then the others, with theirs beside
    it (above 0 where they fall behind).
    """
    beside: dict[int, list[tuple[int, float]]] = {}
    for drift in sorted(drifts, key=lambda one: (-one.sure_ratio, one.one, one.other)):
        beside.setdefault(drift.one, []).append((drift.other, drift.ppm))
        beside.setdefault(drift.other, []).append((drift.one, -drift.ppm))
    left = set(beside)
    while left:
        root = min(left, key=lambda place: (-len(beside[place]), place))
        known, asked = {root: 0.0}, [root]
        for place in asked:  # grows while it is walked
            for other, ppm in beside[place]:
                if other not in known:
                    known[other] = known[place] + ppm
                    asked.append(other)
        left -= set(known)
        clocks: list[list[int]] = []
        for place in sorted(known, key=lambda place: (known[place], place)):
            apart = known[place] - known[clocks[-1][-1]] if clocks else 0.0
            if clocks and apart <= max(_ONE_CLOCK_PPM, _ONE_CLOCK_RATIO * abs(known[place])):
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
