"""One tail after another plugged into a recorder, while the test signal plays over and over.

Each time that the signal is heard whole is read by itself. Which tail it was is told by the order
of the walk, and which line it carries by what is heard.
"""

from collections.abc import Mapping, Sequence
from math import log10
from statistics import median
from typing import TYPE_CHECKING, TypeVar

import msgspec

from rigproof.linecheck.finding_marks import Clock, all_clocks
from rigproof.linecheck.lineup import Ends
from rigproof.linecheck.measuring import Take, read_at
from rigproof.linecheck.score import LEAD_S, SILENCE_S, Score, mark
from rigproof.linecheck.tailends import MOVING_DB

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.float32]

Value = TypeVar("Value")

LONGEST_S = 2400.0  # a walk along twenty tails with a long signal takes a quarter of an hour
MOST_CHANNELS = 2
_MARGIN_S = 0.3
_NEAR_S = 0.02  # a response further from its chirps than that is none of this pass
_TORN_S, _TORN_DB = 0.1, 30.0
_STEP_S = 0.02
_ASKED_S, _NOISE_RISES_DB = 0.2, 3.0
_NOTHING = 1e-11  # -107 dBFS: a recorder that writes its silence as such


class Stop(msgspec.Struct, frozen=True):
    """A tail plugged in for a while: the clearest take of it, and what rules it, from 0.

    `moving_db`: by how much the recorder turns its level within one pass, as the two chirps or the
    noise in the silence betray it.
    """

    take: Take
    played: int
    at_s: float
    moving_db: float
    passes: int


class Walk(msgspec.Struct, frozen=True):
    """The tails of a recording in the order in which they were plugged."""

    stops: tuple[Stop, ...]
    torn: int


def louder(frames: "Samples") -> "Samples":
    """The louder channel of a recorder with two."""
    import numpy as np

    power = [float(np.square(frames[:, place]).mean()) for place in range(frames.shape[1])]
    found: Samples = np.ascontiguousarray(frames[:, power.index(max(power))])
    return found


def walked(sound: "Samples", rate_hz: float, score: Score, *, level_dbfs: float) -> Walk:
    """Read a recording of one channel, made while the signal played again and again."""
    stops: list[Stop] = []
    torn = 0
    for clock in all_clocks(sound, rate_hz, score):
        one = _stop(sound, rate_hz, score, clock, level_dbfs)
        if one is None:
            continue
        if _is_torn(sound, clock, score, one.played):
            torn += 1
        elif stops and stops[-1].played == one.played:
            before = stops[-1]
            clearer = one if _sure(one) > _sure(before) else before
            stops[-1] = msgspec.structs.replace(clearer, at_s=before.at_s, passes=before.passes + 1)
        else:
            stops.append(one)
    return Walk(tuple(stops), torn)


def _sure(stop: Stop) -> float:
    return stop.take.channels[0].responses[0].sure


def _stop(
    sound: "Samples", rate_hz: float, score: Score, clock: Clock, level_dbfs: float
) -> Stop | None:
    """What one pass of the signal holds; None where it holds no line."""
    begin = max(0, int(clock.start - _MARGIN_S * clock.per_s))
    end = int(clock.at(score.length_s + _MARGIN_S))
    take = read_at(
        sound[begin:end, None],
        rate_hz,
        score,
        msgspec.structs.replace(clock, start=clock.start - begin),
        level_dbfs=level_dbfs,
    )
    heard = take.channels[0].responses
    if not heard or abs(heard[0].delay_s) > _NEAR_S:
        return None
    first, last = (
        _loud_db(sound, clock, at_s, last=at_s > LEAD_S) for at_s in (LEAD_S, score.last_mark_s)
    )
    moving_db = max(abs(last - first), _rising_db(sound, clock, score, heard[0].played))
    return Stop(take, heard[0].played, clock.start / rate_hz, moving_db, 1)


def _rising_db(sound: "Samples", clock: Clock, score: Score, played: int) -> float:
    """By how much the noise rises from the end of a line's sweep to the end of the silence.

    An automatic level that was held down by the sweep comes up again there; noise of a line does
    not.
    """
    import numpy as np

    early, late = (
        float(np.square(sound[round(clock.at(begin)) : round(clock.at(begin + _ASKED_S))]).mean())
        for begin in (
            score.start_s(played) + score.sweep_s + 0.05,
            score.silence_s + SILENCE_S - 0.1 - _ASKED_S,
        )
    )
    if min(early, late) < _NOTHING:
        return 0.0
    rise_db = 10 * log10(late / early)
    return rise_db if rise_db > _NOISE_RISES_DB else 0.0


def _loud_db(sound: "Samples", clock: Clock, at_s: float, *, last: bool) -> float:
    """How loud a chirp is, whatever else sounds."""
    import numpy as np

    at = max(0, round(clock.at(at_s)))
    sought = mark(rate_hz=clock.per_s, last=last, offset_s=(at - clock.at(at_s)) / clock.per_s)
    part = sound[at : at + len(sought)]
    likeness = abs(float(np.dot(part, sought[: len(part)])))
    return 20 * log10(max(likeness / float(np.dot(sought, sought)), 1e-9))


def _is_torn(sound: "Samples", clock: Clock, score: Score, played: int) -> bool:
    """Whether a line falls silent within its sweep and comes back: a plug was moved.

    The sweep is equally loud from its beginning to its end, and no broken line makes a hole of a
    tenth of a second in it.
    """
    import numpy as np

    step = max(1, round(_STEP_S * clock.per_s))
    begin = max(0, round(clock.at(score.start_s(played))))
    end = round(clock.at(score.start_s(played) + score.sweep_s))
    part = sound[begin:end]
    levels = np.square(part[: len(part) // step * step].reshape(-1, step)).mean(axis=1)
    if not len(levels):
        return True
    before = np.maximum.accumulate(levels)
    after = np.maximum.accumulate(levels[::-1])[::-1]
    hole = levels < np.minimum(before, after) * 10 ** (-_TORN_DB / 10)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], hole.astype(np.int8), [0]))))
    return bool(len(edges)) and int((edges[1::2] - edges[::2]).max()) * _STEP_S >= _TORN_S


def one_by_one(
    frames: "Samples", rate_hz: float, score: Score, *, level_dbfs: float
) -> Take | None:
    """A recording of all channels, made while one line after another was played alone.

    Of several passes of one line the clearest counts. Each has a clock of its own, so delays tell
    nothing. None where no line was heard.
    """
    import numpy as np

    passes: dict[int, Take] = {}
    for clock in all_clocks(frames.mean(axis=1, dtype=np.float32), rate_hz, score):
        begin = max(0, int(clock.start - _MARGIN_S * clock.per_s))
        end = int(clock.at(score.length_s + _MARGIN_S))
        near = msgspec.structs.replace(clock, start=clock.start - begin)
        take = read_at(frames[begin:end], rate_hz, score, near, level_dbfs=level_dbfs)
        played, sure = _alone(take)
        if sure > 0 and (played not in passes or sure > _alone(passes[played])[1]):
            passes[played] = take
    return _merged(passes) if passes else None


def _alone(take: Take) -> tuple[int, float]:
    """The line that was played, and how sure it is; 0 where none was heard."""
    heard = [
        one for channel in take.channels for one in channel.responses if abs(one.delay_s) < _NEAR_S
    ]
    best = max(heard, key=lambda one: one.sure, default=None)
    return (0, 0.0) if best is None else (best.played, best.sure)


def _merged(passes: Mapping[int, Take]) -> Take:
    """Each line from its own pass, and each channel as it was while it held its loudest line."""
    first = passes[min(passes)]
    channels = []
    for place in range(len(first.channels)):
        found = {
            played: one
            for played, take in sorted(passes.items())
            for one in take.channels[place].responses
            if one.played == played
        }
        loudest = max(found, key=lambda played: found[played].gain_db, default=min(passes))
        channels.append(
            msgspec.structs.replace(
                passes[loudest].channels[place],
                responses=tuple(sorted(found.values(), key=lambda one: -one.gain_db)),
                clock_ratio=1.0,
            )
        )
    return msgspec.structs.replace(
        first,
        channels=tuple(channels),
        thirds_db=_of_own(passes, [take.thirds_db for _, take in sorted(passes.items())]),
        distortion_ratio=_of_own(
            passes, [take.distortion_ratio for _, take in sorted(passes.items())]
        ),
    )


def _of_own(
    passes: Mapping[int, Take], values: Sequence[Mapping[tuple[int, int], Value]]
) -> dict[tuple[int, int], Value]:
    """What belongs to the line of each pass."""
    return {
        key: value
        for line, told in zip(sorted(passes), values, strict=True)
        for key, value in told.items()
        if key[1] == line
    }


# Which tail was which


class Walked(msgspec.Struct, frozen=True):
    """A walk as a take: each stop by the tail that was plugged, as far as that is known."""

    take: Take
    plugged: tuple[tuple[int, int, float], ...]  # tail, the line heard there, and when
    moving_db: float | None


def as_take(walk: Walk, order: Sequence[int], ends: Ends) -> Walked:
    """The stops of a walk, one or more, as channels of one take, as they were plugged.

    The channels of that take are counted in the order of `plugged`.
    """
    carrying = {end.channel: number for number, end in ends.items()}
    heard = [carrying.get(stop.played + 1, 0) for stop in walk.stops]
    pairs = matched(heard, order)
    used = [(walk.stops[place], tail) for place, tail in pairs]
    moves = median(stop.moving_db for stop, _ in used)
    return Walked(
        _joined([stop.take for stop, _ in used]),
        tuple((tail, stop.played + 1, stop.at_s) for stop, tail in used),
        moves if moves > MOVING_DB else None,
    )


def _joined(takes: Sequence[Take]) -> Take:
    """Takes of one channel each as one of many."""
    return msgspec.structs.replace(
        takes[0],
        channels=tuple(
            msgspec.structs.replace(
                take.channels[0],
                channel=place + 1,
                responses=tuple(
                    msgspec.structs.replace(one, recorded=place)
                    for one in take.channels[0].responses
                ),
            )
            for place, take in enumerate(takes)
        ),
        thirds_db={
            (place, played): value
            for place, take in enumerate(takes)
            for (_, played), value in take.thirds_db.items()
        },
        distortion_ratio={
            (place, played): value
            for place, take in enumerate(takes)
            for (_, played), value in take.distortion_ratio.items()
        },
    )


# A tail that carries another's line is likelier than one that is dead and one plugged twice.
# The dead one is rather one whose line was heard nowhere.
_WRONG, _SKIPPED, _ALIVE_SKIPPED = 1.0, 1.1, 1.3


def matched(heard: Sequence[int], order: Sequence[int]) -> tuple[tuple[int, int], ...]:
    """Which place of a walk belongs to which tail: (place in `heard`, tail).

    As many stops as tails: one by one. Otherwise the cheapest way to lay one row along the other,
    where some tails were not heard or some were plugged again.
    """
    if len(heard) == len(order):
        return tuple(enumerate(order))
    rows, columns = len(heard) + 1, len(order) + 1
    left_out = [_ALIVE_SKIPPED if tail in heard else _SKIPPED for tail in order]
    costs = [
        [_SKIPPED * row + sum(left_out[:column]) for column in range(columns)]
        for row in range(rows)
    ]
    for row in range(1, rows):
        for column in range(1, columns):
            costs[row][column] = min(
                costs[row - 1][column - 1] + _miss(heard[row - 1], order[column - 1]),
                costs[row - 1][column] + _SKIPPED,
                costs[row][column - 1] + left_out[column - 1],
            )
    pairs = []
    row, column = rows - 1, columns - 1
    while row and column:
        here = costs[row][column]
        if here == costs[row - 1][column - 1] + _miss(heard[row - 1], order[column - 1]):
            row, column = row - 1, column - 1
            pairs.append((row, order[column]))
        elif here == costs[row - 1][column] + _SKIPPED:
            row -= 1
        else:
            column -= 1
    return tuple(reversed(pairs))


def _miss(line: int, tail: int) -> float:
    return 0.0 if line == tail else _WRONG
