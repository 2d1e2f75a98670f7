"""Whether two channels sound as if each were the other, going by the list.

What an instrument sounds like is known only roughly, so this never says more than "looks like".
"""

from collections.abc import Iterator, Mapping, Sequence
from math import log2
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.gathering import Gathered
from rigproof.linecheck.lineup import Lineup
from rigproof.linecheck.noticing import ChannelSound
from rigproof.linecheck.responses import THIRDS_HZ

if TYPE_CHECKING:
    from collections.abc import Callable


class Likely(msgspec.Struct, frozen=True):
    """Where the middle of an instrument's power lies, and how far its peaks stand out."""

    middle_hz: float
    octaves: float  # likely error of the middle
    strike_db: float
    strike_off_db: float


# From memory, no source: middles of power and peakiness of close-miked instruments, held wide.
_KICK = Likely(90, 1.0, 12, 4)
_BASS = Likely(110, 0.8, 6, 3)
_TOM = Likely(180, 1.0, 13, 4)
_SNARE = Likely(500, 1.3, 14, 4)
_CYMBALS = Likely(5000, 1.2, 12, 4)
_OVERHEADS = Likely(1500, 1.6, 13, 4)
_VOICE = Likely(500, 0.9, 9, 3)
_MIDDLE = Likely(450, 1.2, 9, 4)
_HORN = Likely(700, 1.0, 8, 3)
_CLICK = Likely(1500, 1.2, 17, 5)

_BY_WORD: Sequence[tuple[str, Likely]] = (
    ("kick", _KICK),
    ("bass drum", _KICK),
    ("snare", _SNARE),
    ("hat", _CYMBALS),
    ("hh", _CYMBALS),
    ("cymbal", _CYMBALS),
    ("ride", _CYMBALS),
    ("over", _OVERHEADS),
    ("tom", _TOM),
)
_BY_FAMILY: Mapping[str, Likely] = {
    "bass": _BASS,
    "guitar": _MIDDLE,
    "keys": _MIDDLE,
    "strings": _MIDDLE,
    "winds": _HORN,
    "brass": _HORN,
    "voices": _VOICE,
    "talk": _VOICE,
    "cue": _VOICE,
    "click": _CLICK,
}
_LEAST_GAIN, _LEAST_EACH = 7.0, 2.5


class Guess(msgspec.Struct, frozen=True, kw_only=True):
    """Two channels that would fit the list better the other way round."""

    one: int
    other: int
    sure_ratio: float


def likely(name: str, family: str) -> Likely | None:
    """What is expected of a channel of this name; None where nothing is known."""
    said = name.lower()
    for word, found in _BY_WORD:
        if word in said:
            return found
    return _BY_FAMILY.get(family.lower())


def guesses(
    gathered: Gathered, channels: Sequence[ChannelSound], lineup: Lineup
) -> Iterator[Guess]:
    """Pairs of channels that look swapped, the surest first; no channel twice."""
    import numpy as np

    known: dict[int, tuple[Likely, Callable[[Likely], float]]] = {}
    for sound in channels:
        line = lineup.get(sound.number)
        expected = likely(line.name, line.family) if line is not None else None
        if expected is None or sound.peak_dbfs < -50:
            continue
        place = sound.number - 1
        squares = gathered.mean_square[place]
        loud = squares >= np.quantile(squares, 0.95) * 10**-1.5
        if np.count_nonzero(loud) < 10:
            continue
        strikes = gathered.peak[place][loud] / np.sqrt(np.maximum(squares[loud], 1e-14))
        strike_db = float(20 * np.log10(np.median(strikes)))
        known[sound.number] = expected, _fit(_middle_hz(sound), strike_db)
    found: list[tuple[float, int, int]] = []
    numbers = sorted(known)
    for place, one in enumerate(numbers):
        for other in numbers[place + 1 :]:
            (mine, my_fit), (its, its_fit) = known[one], known[other]
            if mine is its:
                continue
            gains = my_fit(its) - my_fit(mine), its_fit(mine) - its_fit(its)
            if sum(gains) > _LEAST_GAIN and min(gains) > _LEAST_EACH:
                found.append((-sum(gains), one, other))
    told: set[int] = set()
    for gain, one, other in sorted(found):
        if told.isdisjoint((one, other)):
            told |= {one, other}
            yield Guess(one=one, other=other, sure_ratio=min(0.8, -gain / (-gain + 10)))


def _middle_hz(sound: ChannelSound) -> float:
    """The middle of the power, by octaves."""
    power = [10 ** (level / 10) for level in sound.thirds_dbfs]
    whole = sum(power) or 1.0
    middle: float = 2 ** (sum(p * log2(f) for p, f in zip(power, THIRDS_HZ, strict=True)) / whole)
    return middle


def _fit(middle_hz: float, strike_db: float) -> "Callable[[Likely], float]":
    """How well a sound fits what is expected: the logarithm of a likelihood, 0 at best."""

    def fit(expected: Likely) -> float:
        pitch = log2(middle_hz / expected.middle_hz) / expected.octaves
        strike = (strike_db - expected.strike_db) / expected.strike_off_db
        return -0.5 * (pitch**2 + strike**2)

    return fit
