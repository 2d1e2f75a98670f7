"""Whether a channel is in tune with the others: a player or a box that runs at a wrong rate.

What was made at 44.1 kHz and is played at 48 sounds 147 hundredths of a semitone sharp. Its own
clock and tempo are in order, so only its tuning beside that of the others gives it away: 47
hundredths off the steps that they share. Partials of steady sounds are read between 200 Hz and
2 kHz; where most of them stand at one place between the semitones, the channel has a tuning.
Derived: mean direction of angles, a semitone to the circle; equal temperament.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import log2
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.finding_marks import between
from rigproof.linecheck.gathering import STEP_S, Gathered
from rigproof.linecheck.serving import serving
from rigproof.linecheck.taking import Reader

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Values = NDArray[np.float64]

# Common practice, no source; tried on takes of our own.
_STRETCH_S, _PARTS, _PLACES = 0.5, 16, 3
_HELD_RATIO, _LEAST_LEVEL = 0.02, 1e-4  # as powers
_FROM_HZ, _TO_HZ = 200.0, 2000.0
_MOST_PEAKS, _STANDS_RATIO, _UNDER_DB = 12, 8.0, 30.0
_LEAST_PEAKS = 24
WRONG_RATE_CENT = 1200 * log2(48 / 44.1)  # 146.7


class Tuned(msgspec.Struct, frozen=True):
    """Where between the semitones of 440 Hz a channel stands, from -50 to 50 cent, and how firmly.

    `firm_ratio`: 1 where all partials stand at one place, near 0 where anywhere.
    """

    off_cent: float
    firm_ratio: float


def tuned(reader: Reader, gathered: Gathered, channels: Iterable[int]) -> Mapping[int, Tuned]:
    """The tuning of each channel that has enough steady partials."""
    import numpy as np

    step, size = round(gathered.rate_hz * STEP_S), round(gathered.rate_hz * _STRETCH_S)
    asked = sorted(channels)
    held = _held(gathered.mean_square[asked].astype(np.float64), round(_STRETCH_S / STEP_S))
    cents: dict[int, list[float]] = {}
    window = np.hanning(size)
    for tenth, rows in serving(held, parts=_PARTS, places=_PLACES, least=_LEAST_LEVEL):
        some = [asked[row] for row in rows]
        sounds = reader.channels(tenth * step, size, some)
        if sounds.shape[1] < size:
            continue
        for channel, sound in zip(some, sounds, strict=True):
            cents.setdefault(channel, []).extend(_partials(sound * window, gathered.rate_hz))
    found = {}
    for channel, places in sorted(cents.items()):
        if len(places) >= _LEAST_PEAKS:
            mean = np.exp(2j * np.pi * np.array(places) / 100).mean()
            found[channel] = Tuned(float(np.angle(mean)) * 50 / np.pi, float(abs(mean)))
    return found


def _held(level: "Values", span: int) -> "Values":
    """How loud each channel is at its softest in a stretch from each tenth on, of its loudest.

    Nought where something begins in it.
    """
    import numpy as np

    windows = np.lib.stride_tricks.sliding_window_view(level, min(span, level.shape[1]), 1)
    least, most = windows.min(axis=2), windows.max(axis=2)
    held: Values = np.where(least > _HELD_RATIO * most, least, 0)
    held /= level.max(axis=1, keepdims=True) + 1e-12
    return held


def _partials(sound: "Values", rate_hz: int) -> Iterator[float]:
    """Where between the semitones the strongest partials stand, in cent over a step of 440 Hz."""
    import numpy as np
    from scipy.fft import rfft

    size = 2 * len(sound)
    lines = np.abs(rfft(sound, size))
    low, high = round(_FROM_HZ * size / rate_hz), round(_TO_HZ * size / rate_hz)
    near = lines[low:high]
    least = max(near.max() * 10 ** (-_UNDER_DB / 20), _STANDS_RATIO * float(np.median(near)))
    tops = np.flatnonzero(
        (near[1:-1] > near[:-2]) & (near[1:-1] >= near[2:]) & (near[1:-1] > least)
    )
    for top in (tops[np.argsort(-near[tops + 1], kind="stable")][:_MOST_PEAKS] + 1).tolist():
        place = low + top + between(np.log(near[top - 1 : top + 2] + 1e-20), 1)
        yield 1200 * log2(place * rate_hz / size / 440)


def apart_cent(one: Tuned, others: Sequence[Tuned]) -> float | None:
    """How far a channel stands from the tuning that others share; None where they share none."""
    import numpy as np

    mean = np.mean([each.firm_ratio * np.exp(2j * np.pi * each.off_cent / 100) for each in others])
    usual = float(np.mean([each.firm_ratio for each in others]))
    if abs(mean) < 0.8 * usual:
        return None
    return float((one.off_cent - np.angle(mean) * 50 / np.pi + 50) % 100 - 50)
