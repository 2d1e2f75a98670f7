"""The figures of each channel, from what one pass has gathered."""

from collections.abc import Mapping
from math import log10
from typing import TYPE_CHECKING, Protocol

import msgspec

from rigproof.linecheck.gathering import Gathered
from rigproof.linecheck.lineup import Line
from rigproof.linecheck.noticing import ChannelSound, Levels, Loudness
from rigproof.linecheck.responses import THIRDS_HZ
from rigproof.linecheck.silence import FLOOR_DBFS
from rigproof.linecheck.weighing import STEP_S, step_of
from rigproof.physics.loudness import (
    BLOCK_S,
    SHORT_TERM_S,
    integrated_lufs,
    loudness_lufs,
    range_lu,
)
from rigproof.physics.weighting import a_weighting_db

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Values = NDArray[np.floating]

FLOOR_SHARE = 0.05
HISS_PLATEAU_DB = 1.2
LEAST_TENTHS = 20
_MOST_LEVELS = 600


def ratio_db(ratio: float) -> float:
    """An amplitude in dB; no less than the floor."""
    return max(FLOOR_DBFS, 20 * log10(ratio)) if ratio > 0 else FLOOR_DBFS


def level_dbfs(mean_square: float) -> float:
    """A level as AES17 has it: a sine of full scale reads 0."""
    return max(FLOOR_DBFS, 10 * log10(2 * mean_square)) if mean_square > 0 else FLOOR_DBFS


def levels_dbfs(mean_squares: "Values") -> "Values":
    """`level_dbfs` of many."""
    import numpy as np

    return 10 * np.log10(np.maximum(2 * mean_squares, 10 ** (FLOOR_DBFS / 10)))


class Weighted(Protocol):
    """K-weighted mean squares, channels by tenths, of so many samples at a rate."""

    @property
    def rate_hz(self) -> int: ...

    @property
    def frames(self) -> int: ...

    @property
    def weighted(self) -> "NDArray[np.float32]": ...


def loudness(gathered: Weighted, weights: Mapping[int, float]) -> Loudness:
    """The loudness of some channels together; keys are places, from 0.

    Channels at the sides and behind weigh `physics.loudness.SURROUND_RATIO`, all others 1.
    """
    import numpy as np

    whole = gathered.frames // step_of(gathered.rate_hz)
    places = list(weights)
    power = np.asarray([weights[place] for place in places], np.float64) @ gathered.weighted[
        places, :whole
    ].astype(np.float64)
    momentary = _running(power, round(BLOCK_S / STEP_S))
    short = _running(power, round(SHORT_TERM_S / STEP_S))
    return Loudness(
        integrated_lufs=integrated_lufs(block_power_ratio=momentary.tolist()),
        most_momentary_lufs=loudness_lufs(power_ratio=float(momentary.max(initial=0))),
        most_short_term_lufs=loudness_lufs(power_ratio=float(short.max(initial=0))),
        range_lu=range_lu(short_term_power_ratio=short.tolist()),
    )


def short_term_lufs(gathered: Weighted, weights: Mapping[int, float]) -> "list[float]":
    """Short-term loudness at every tenth of a second, once three seconds have passed."""
    import numpy as np

    power = sum(
        (gathered.weighted[place].astype(np.float64) * share for place, share in weights.items()),
        np.zeros(gathered.weighted.shape[1]),
    )
    return [
        loudness_lufs(power_ratio=float(one))
        for one in _running(power, round(SHORT_TERM_S / STEP_S))
    ]


def _running(power: "Values", length: int) -> "Values":
    """Means over so many neighbours."""
    import numpy as np

    if len(power) < length:
        return np.zeros(0)
    return np.convolve(power, np.full(length, 1 / length), "valid")


def level_step(tenths: int) -> int:
    """How many tenths make one figure of level over time, in a take of so many."""
    return max(1, -(-tenths // _MOST_LEVELS))


def levels_of(peaks: "Values", mean_squares: "Values", means: "Values") -> Levels:
    """The levels of one channel, from those of its tenths."""
    import numpy as np

    squares = mean_squares.astype(np.float64)
    mean_square, peak = float(squares.mean()), float(peaks.max())
    floor = float(np.quantile(squares, FLOOR_SHARE))
    loud = float(np.quantile(squares, 0.95))
    by = level_step(len(squares))
    cut = squares[: len(squares) // by * by].reshape(-1, by).mean(axis=1)
    return Levels(
        peak_dbfs=ratio_db(peak),
        level_dbfs=level_dbfs(mean_square),
        floor_dbfs=level_dbfs(floor),
        crest_db=ratio_db(peak) - 10 * log10(mean_square) if mean_square > 0 else 0.0,
        dynamic_db=level_dbfs(loud) - level_dbfs(floor),
        dc_ratio=float(np.median(means)),
        loudest_dbfs=loudest_dbfs(squares),
        levels_dbfs=tuple(float(one) for one in levels_dbfs(cut)),
    )


def described(gathered: Gathered, lines: Mapping[int, Line]) -> tuple[ChannelSound, ...]:
    """Each channel's figures."""
    import numpy as np

    frequencies = np.arange(gathered.power.shape[1]) * gathered.spacing_hz
    step = round(gathered.rate_hz * STEP_S)
    scale = np.full(len(frequencies), 2.0 / step**2)
    scale[0] = 1.0 / step**2
    power = gathered.power * scale  # mean squares by frequency
    curve = np.zeros(len(frequencies))
    audible: NDArray[np.float64] = frequencies[1:].astype(np.float64)
    curve[1:] = 10 ** (np.asarray(a_weighting_db(audible)) / 10)
    weighted = power @ curve
    found = []
    for place in range(gathered.channels):
        number = place + 1
        line = lines.get(number) or Line(number=number, name="")
        levels = levels_of(gathered.peak[place], gathered.mean_square[place], gathered.mean[place])
        found.append(
            ChannelSound(
                number=number,
                name=line.name,
                family=line.family,
                true_peak_dbtp=ratio_db(float(gathered.true_peak[place])),
                level_dba=level_dbfs(float(weighted[place])),
                loudness=loudness(gathered, {place: 1.0}),
                thirds_dbfs=_thirds(frequencies, power[place]),
                hiss_dbfs=hiss_dbfs(gathered.hiss[place]),
                **msgspec.structs.asdict(levels),
            )
        )
    return tuple(found)


def loudest_dbfs(squares: "Values") -> float:
    """The level of the loudest three seconds, from the mean squares of tenths."""
    running = _running(squares, round(SHORT_TERM_S / STEP_S))
    return level_dbfs(float(running.max() if len(running) else squares.mean()))


def hiss_dbfs(squares: "Values") -> float | None:
    """Steady noise, from the mean squares of tenths; None where what is quietest still changes.

    Noise never changes; bleed from cymbals does.
    """
    import numpy as np

    sounding = squares[squares > 0]
    if len(sounding) < LEAST_TENTHS:
        return None
    low, tenth = (level_dbfs(float(np.quantile(sounding, share))) for share in (0.02, 0.1))
    return low if tenth - low < HISS_PLATEAU_DB else None


def _thirds(frequencies: "Values", power: "Values") -> tuple[float, ...]:
    """Third octaves; each line of the spectrum is shared out by how much of it lies in a band."""
    import numpy as np

    spacing = float(frequencies[1])
    low = np.concatenate(([0.0], np.cumsum(power)))
    edges = np.concatenate(([0.0], frequencies + spacing / 2))

    def below(frequency_hz: float) -> float:
        return float(np.interp(frequency_hz, edges, low))

    half = 2 ** (1 / 6)
    return tuple(
        level_dbfs(max(0.0, below(middle * half) - below(middle / half))) for middle in THIRDS_HZ
    )
