"""A line that says its own number: in beeps for machines and bad speakers, in words for people.

The number is told in tens and ones: a long beep for each ten, then a short one for each one. The
pitch tells it once more: 500 Hz for line 1 and 60 Hz more for each further line, from the beginning
again after sixteen. A high beep stands before and behind, so that no voice is taken for a number.
So a recording made with a phone can be read, and what was heard is checked.
"""

from collections.abc import Iterator
from itertools import pairwise
from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.float64]

LOWEST_HZ, APART_HZ, PITCHES = 500.0, 60.0, 16  # within what a telephone lets through
FRAME_HZ, FRAME_S = 1640.0, 0.3
LONG_S, SHORT_S, GAP_S, BETWEEN_S = 0.45, 0.15, 0.15, 0.45
PAUSE_S = 1.0  # before and behind a code: longer than any gap in it
_RAMP_S = 0.01
MOST = 256

_WINDOW_S, _HOP_S = 0.06, 0.01
_STANDS_OUT = 4.0  # a pitch over the middle of the others
_AROUND_S, _RINGS_RATIO = 0.2, 0.5
_LEAST_S, _TORN_S = 0.08, 0.03
_LONG_FROM_S, _LONGEST_S = 0.3, 0.6
_FRAME_FROM_S, _FRAME_TO_S = 0.2, 0.42
_APART_S = 0.75
_FRAME = PITCHES  # its place among the pitches


class Announced(msgspec.Struct, frozen=True, kw_only=True):
    """A line that says its number in a recording: how often in a row, and when first."""

    number: int
    times: int
    at_s: float

    @property
    def sure(self) -> bool:
        """Once may be chance: a voice can hold a note."""
        return self.times > 1


def pitch_hz(number: int) -> float:
    """The pitch of a line's beeps."""
    return LOWEST_HZ + APART_HZ * ((number - 1) % PITCHES)


def code(number: int, *, rate_hz: int) -> "Samples":
    """The beeps of a number, full scale at 1, without pauses around."""
    import numpy as np

    beeps = [LONG_S] * (number // 10) + [SHORT_S] * (number % 10)
    frame = _beep(FRAME_HZ, FRAME_S, rate_hz)
    parts = [frame, _rest(BETWEEN_S, rate_hz)]
    for place, length_s in enumerate(beeps):
        parts.append(_beep(pitch_hz(number), length_s, rate_hz))
        last_ten = place == number // 10 - 1
        last = place == len(beeps) - 1
        parts.append(_rest(BETWEEN_S if last_ten or last else GAP_S, rate_hz))
    return np.concatenate([*parts, frame])


def _rest(length_s: float, rate_hz: int) -> "Samples":
    import numpy as np

    return np.zeros(round(length_s * rate_hz))


def _beep(pitch: float, length_s: float, rate_hz: int) -> "Samples":
    import numpy as np

    at = np.arange(round(length_s * rate_hz)) / rate_hz
    ramp = np.minimum(1, np.minimum(at, at[::-1]) / _RAMP_S)
    sound: Samples = np.sin(2 * np.pi * pitch * at) * ramp
    return sound


def announcement(number: int, said: "Samples | None", *, rate_hz: int) -> "Samples":
    """The code, the words where there are any, and the code again; peaks at full scale."""
    import numpy as np

    pause = np.zeros(round(PAUSE_S * rate_hz))
    beeps = code(number, rate_hz=rate_hz)
    parts = [pause, beeps, pause]
    if said is not None and len(said) and np.abs(said).max() > 0:
        parts += [said / np.abs(said).max(), pause]
    return np.concatenate([*parts, beeps, pause])


def announced(sound: "Samples", *, rate_hz: float) -> tuple[Announced, ...]:
    """The lines that say their numbers in a recording, in the order in which they are heard.

    Only codes whose pitch agrees with their number count. A line that is heard again after another
    stands there again.
    """
    found: list[Announced] = []
    for number, at_s in sorted(_codes(sound, rate_hz), key=lambda one: one[1]):
        if found and found[-1].number == number:
            found[-1] = msgspec.structs.replace(found[-1], times=found[-1].times + 1)
        else:
            found.append(Announced(number=number, times=1, at_s=at_s))
    return tuple(found)


def _codes(sound: "Samples", rate_hz: float) -> Iterator[tuple[int, float]]:
    """Every number that is framed, in order, and told by its pitch too; and when it begins."""
    beeps = _beeps(sound, rate_hz)
    frames = [
        place
        for place, beep in enumerate(beeps)
        if beep.pitch == _FRAME and _FRAME_FROM_S <= beep.length_s <= _FRAME_TO_S
    ]
    for first, last in pairwise(frames):
        inside = beeps[first + 1 : last]
        near = all(
            after.start_s - before.end_s < _APART_S
            for before, after in pairwise(beeps[first : last + 1])
        )
        if not inside or not near or len({beep.pitch for beep in inside}) > 1:
            continue
        long = [beep.length_s > _LONG_FROM_S for beep in inside]
        number = 10 * sum(long) + len(long) - sum(long)
        in_order = long == sorted(long, reverse=True)
        told = (number - 1) % PITCHES == inside[0].pitch and number <= MOST
        if in_order and told and max(beep.length_s for beep in inside) <= _LONGEST_S:
            yield number, beeps[first].start_s


class _Beep(msgspec.Struct, frozen=True):
    pitch: int
    start_s: float
    end_s: float

    @property
    def length_s(self) -> float:
        return self.end_s - self.start_s


def _beeps(sound: "Samples", rate_hz: float) -> list[_Beep]:
    from scipy.ndimage import maximum_filter1d

    strongest, level, stands = _pitches(sound, rate_hz)
    found = []
    for pitch in range(PITCHES + 1):
        mine = (strongest == pitch) & stands
        if not mine.any():
            continue
        # A room rings on after a beep, but no longer as loud: only what is near the top is it.
        top = maximum_filter1d(level * mine, 2 * round(_AROUND_S / _HOP_S) + 1, mode="constant")
        found += [
            _Beep(pitch, round(start * _HOP_S, 2), round(end * _HOP_S, 2))
            for start, end in _joined(_runs(mine & (level > _RINGS_RATIO * top)))
            if (end - start) * _HOP_S >= _LEAST_S
        ]
    return sorted(found, key=lambda beep: beep.start_s)


def _pitches(
    sound: "Samples", rate_hz: float
) -> "tuple[NDArray[np.intp], Samples, NDArray[np.bool_]]":
    """At each hop the strongest of the pitches, how strong, and whether it stands out."""
    import numpy as np

    size, hop = round(_WINDOW_S * rate_hz), round(_HOP_S * rate_hz)
    if len(sound) < size:
        return np.zeros(0, np.intp), np.zeros(0), np.zeros(0, np.bool_)
    at = np.arange(size) / rate_hz
    window = np.hanning(size)
    wanted = np.append(LOWEST_HZ + APART_HZ * np.arange(PITCHES), FRAME_HZ)
    waves = np.exp(-2j * np.pi * wanted[:, None] * at) * window
    strongest, level, stands = [], [], []
    views = np.lib.stride_tricks.sliding_window_view(sound, size)[::hop]
    for start in range(0, len(views), 1000):  # some seconds at a time
        levels = np.abs(views[start : start + 1000] @ waves.T)
        top = levels.argmax(axis=1)
        highest = levels.max(axis=1)
        strongest.append(top)
        level.append(highest)
        stands.append((highest > _STANDS_OUT * np.median(levels, axis=1)) & (highest > 0))
    return np.concatenate(strongest), np.concatenate(level), np.concatenate(stands)


def _runs(on: "NDArray[np.bool_]") -> list[tuple[int, int]]:
    import numpy as np

    edges = np.flatnonzero(np.diff(np.concatenate(([0], on.astype(np.int8), [0]))))
    return [(int(start), int(end)) for start, end in edges.reshape(-1, 2)]


def _joined(runs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Runs with a crackle between them as one."""
    found: list[tuple[int, int]] = []
    for run in runs:
        if found and (run[0] - found[-1][1]) * _HOP_S <= _TORN_S:
            found[-1] = (found[-1][0], run[1])
        else:
            found.append(run)
    return found
