"""Which way round stereo pairs lie, stroke by stroke.

A stroke reaches the nearer microphone of a pair first, and louder. Of two pairs that hear one
stage, what reaches the left first in one does so in the other: held against one another over many
strokes from several places, they run together, or against each other where one is swapped.
Derived: delay by the phase transform of a short stretch around a beginning; ranks, because rooms
send strays.
"""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.gathering import STEP_S, Gathered
from rigproof.linecheck.taking import Reader

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Values = NDArray[np.float64]

Pair = tuple[int, int]

# Common practice, no source; tried on takes of our own.
_MOST_STROKES = 48  # of each pair, by level and by brightness
_BEFORE_S, _LENGTH_S, _REACH_S = 0.01, 0.125, 0.009  # the reach is 3 m
_FROM_HZ, _TO_HZ = 300.0, 8000.0
_STANDS_RATIO = 5.0  # a delay counts that stands so far over the correlation's usual height
_LEAST_STROKES, _LEAST_PLACES, _LEAST_AT_PLACE = 12, 2, 3
_APART_S, _APART_DB = 8e-5, 2.0  # less is one place: 28 mm
LEAN = 0.35


class Sided(msgspec.Struct, frozen=True, kw_only=True):
    """For each stroke by how much the second side of a pair is late, and how many dB louder.

    `late_samples` is no number where no delay stands out.
    """

    late_samples: "Values"
    louder_db: "Values"


def sided(reader: Reader, gathered: Gathered, pairs: Sequence[Pair]) -> Mapping[Pair, Sided]:
    """What each pair hears of the strokes that any of them hears; the same strokes for all."""
    import numpy as np
    from scipy.fft import rfft

    rate_hz = gathered.rate_hz
    step, size = round(rate_hz * STEP_S), round(rate_hz * _LENGTH_S)
    places = sorted({channel for pair in pairs for channel in pair})
    at = {channel: place for place, channel in enumerate(places)}
    window = np.hanning(size)
    late: dict[Pair, list[float]] = {pair: [] for pair in pairs}
    louder: dict[Pair, list[float]] = {pair: [] for pair in pairs}
    frequencies = np.arange(size + 1) * rate_hz / (2 * size)
    heard = (frequencies >= _FROM_HZ) & (frequencies <= _TO_HZ)
    for tenth in _strokes(gathered, pairs):
        first = tenth * step - round(_BEFORE_S * rate_hz)
        sounds = reader.channels(first, size, places) if first >= 0 else np.zeros((0, 0))
        if sounds.shape[-1] < size:
            continue
        spectra = rfft(sounds * window, 2 * size) * heard
        power = np.square(np.abs(spectra)).sum(axis=1)
        for pair in pairs:
            left, right = at[pair[0]], at[pair[1]]
            late[pair].append(_late(spectra[left], spectra[right], rate_hz))
            louder[pair].append(
                float(10 * np.log10((power[right] + 1e-20) / (power[left] + 1e-20)))
            )
    return {
        pair: Sided(late_samples=np.array(late[pair]), louder_db=np.array(louder[pair]))
        for pair in pairs
    }


def _late(left: "NDArray[np.complex128]", right: "NDArray[np.complex128]", rate_hz: int) -> float:
    """By how many samples the right is late; no number where no delay stands out."""
    import numpy as np
    from scipy.fft import irfft

    cross = right * left.conj()
    line = irfft(cross / np.maximum(np.abs(cross), 1e-20))
    reach = round(_REACH_S * rate_hz)
    near = np.concatenate((line[-reach:], line[: reach + 1]))
    top = int(np.argmax(near))
    usual = float(np.sqrt(np.square(near).mean()))
    return float(top - reach) if near[top] > _STANDS_RATIO * usual > 0 else float("nan")


def _strokes(gathered: Gathered, pairs: Sequence[Pair]) -> list[int]:
    """Tenths in which something begins, the loudest of each part of the take."""
    import numpy as np

    found: set[int] = set()
    for pair in pairs:
        for table in (gathered.mean_square, gathered.hiss):
            level = table[list(pair)].astype(np.float64).sum(axis=0)
            rises = np.where(level[1:] > 2 * level[:-1], level[1:], 0)
            for part in np.array_split(np.arange(len(rises)), _MOST_STROKES):
                if len(part) and rises[part].max() > 0:
                    found.add(int(part[np.argmax(rises[part])]) + 1)
    return sorted(found)


def lean(mine: Sided, its: Sided, rate_hz: int) -> float | None:
    """From 1 where two pairs lie the same way round to -1 where they lie crosswise.

    None where the strokes come from too few places, or the two have too little to do with one
    another. By delay where both pairs are spaced; by level where one is coincident, since by level
    alone two pairs of lines would do.
    """
    import numpy as np

    least = _APART_S * rate_hz
    delays = mine.late_samples, its.late_samples
    for (one, other), apart in (
        (delays, (least, least)),
        ((-mine.louder_db, its.late_samples), (_APART_DB, least)),
        ((mine.late_samples, -its.louder_db), (least, _APART_DB)),
    ):
        known = np.isfinite(one) & np.isfinite(other)
        if np.count_nonzero(known) < _LEAST_STROKES:
            continue
        one, other = one[known], other[known]
        if _spread(one) > 2 * apart[0] and _spread(other) > 2 * apart[1]:
            return _run_together(one, other, apart[0])
    return None


def _spread(values: "Values") -> float:
    import numpy as np

    low, high = np.quantile(values, (0.1, 0.9))
    return float(high - low)


def _run_together(one: "Values", other: "Values", apart: float) -> float | None:
    """The correlation of ranks, each place weighing alike however often it is struck."""
    import numpy as np

    places = _places(one, apart)
    if len(places) < _LEAST_PLACES:
        return None
    weights = np.concatenate([np.full(len(place), 1 / len(place)) for place in places])
    order = np.concatenate(places)
    whole = _ranked(one[order], other[order], weights)
    middles = [float(np.median(other[place])) for place in places]
    if len(places) == _LEAST_PLACES and min(middles) * max(middles) > 0:
        # Two places to one side of the other pair: a reflection from there would tell the same.
        return None
    return whole


def _places(values: "Values", apart: float) -> "list[NDArray[np.intp]]":
    """Which strokes come from one place: their delays or levels stand without a gap."""
    import numpy as np

    order = np.argsort(values, kind="stable")
    cuts = np.flatnonzero(np.diff(values[order]) > apart) + 1
    groups = np.split(order, cuts)
    return [group for group in groups if len(group) >= _LEAST_AT_PLACE]


def _ranked(one: "Values", other: "Values", weights: "Values") -> float:
    """Spearman's correlation of ranks with weights; ties share theirs."""
    import numpy as np

    across = np.cov(_ranks(one), _ranks(other), aweights=weights)
    size = float(np.sqrt(across[0, 0] * across[1, 1]))
    return float(across[0, 1]) / size if size > 0 else 0.0


def _ranks(values: "Values") -> "Values":
    """The rank of each, ties at their mean. As scipy.stats has it, which takes a second to load."""
    import numpy as np

    _, place, count = np.unique(values, return_inverse=True, return_counts=True)
    ranks: Values = (np.cumsum(count) - (count - 1) / 2)[place]
    return ranks
