"""A played test signal and what was recorded of it, made into figures for every channel."""

from collections.abc import Sequence
from math import acos, pi
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.finding_marks import Clock, find_clock, own_clocks
from rigproof.linecheck.lineup import Refused
from rigproof.linecheck.responses import Response, responses
from rigproof.linecheck.score import GROWTH_S, LEAD_S, LOW_HZ, MARK_S, SILENCE_S, Score
from rigproof.linecheck.silence import Silence, silence
from rigproof.linecheck.slipping import Slip, slipped
from rigproof.physics.sweeps import passing_s

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.float32]

_RULES_DB = 20.0  # by so much one source must lead the others before its shape is judged
_AGAIN = (
    "Record again: close other programs, take larger blocks, look whether player and recorder "
    "follow one clock."
)
_FLAT_RATIO = 0.85  # of the highest samples, where half of all lie under a cut top
_OWN_CLOCK_RATIO = 3e-6  # of the rate; below, marks in noise scatter as much


class Heard(msgspec.Struct, frozen=True):
    """What one recorded channel holds. Channels count from 1, as on every paper.

    `responses`: the loudest first. `clock_ratio`: its own clock over that of the whole; 1 where
    the same.
    """

    channel: int
    responses: tuple[Response, ...]
    silence: Silence
    peak_dbfs: float
    clipped: bool
    clock_ratio: float


class Take(msgspec.Struct, frozen=True):
    """A recording of the test signal, read.

    `rate_ratio`: samples that a second of the signal takes over those that the file says; 0.919
    where a recorder ran at 44.1 kHz and wrote 48. `played`: how many channels the signal had.
    `slip`: samples that were lost or doubled while it was recorded.
    """

    channels: tuple[Heard, ...]
    start_s: float
    rate_ratio: float
    thirds_db: dict[tuple[int, int], tuple[float, ...]]
    distortion_ratio: dict[tuple[int, int], float]
    played: int
    slip: Slip | None = None


def read_take(
    recorded: "Samples", rate_hz: float, score: Score, *, level_dbfs: float
) -> Take | None:
    """Read a recording (frames by channels); None where the signal is nowhere in it.

    Raises:
        Refused: samples were lost or doubled in it.
    """
    found = find_clock(recorded, rate_hz, score)
    if found is None:
        return None
    take = read_at(recorded, rate_hz, score, found[0], level_dbfs=level_dbfs)
    if take.slip is not None:
        count = round(abs(take.slip.by_s) * rate_hz)
        what = "lost" if take.slip.by_s < 0 else "doubled"
        at_s = take.slip.at_s
        at = "" if at_s is None else f", at {take.start_s + at_s:.0f} s"
        raise Refused(
            f"about {count} samples were {what} while it was recorded{at}: what sounded before "
            "and after no longer fits together.",
            _AGAIN,
        )
    if not any(one.responses for one in take.channels):
        raise Refused(
            "the two chirps of the signal are there, and none of what belongs between them: many "
            "samples were lost while it was recorded, or another signal was played.",
            _AGAIN,
        )
    return take


def read_at(
    recorded: "Samples", rate_hz: float, score: Score, clock: Clock, *, level_dbfs: float
) -> Take:
    """Read a recording whose clock is known."""
    import numpy as np

    read = responses(recorded, clock, score, level_dbfs=level_dbfs)
    by_channel: dict[int, list[Response]] = {}
    for one in read.responses:
        by_channel.setdefault(one.recorded, []).append(one)
    own = own_clocks(recorded, clock, score, sorted(by_channel))
    begin, end = clock.at(score.silence_s + 0.1), clock.at(score.silence_s + SILENCE_S - 0.1)
    still = recorded[max(0, round(begin)) : max(0, round(end))]
    played = recorded[
        max(0, round(clock.at(LEAD_S))) : max(0, round(clock.at(score.last_mark_s + MARK_S)))
    ]
    peaks = np.maximum(played.max(axis=0), -played.min(axis=0))
    loudest_first = [
        tuple(sorted(by_channel.get(channel, ()), key=lambda one: -one.gain_db))
        for channel in range(recorded.shape[1])
    ]
    channels = tuple(
        Heard(
            channel + 1,
            heard,
            silence(still[:, channel], rate_hz=clock.per_s),
            20 * float(np.log10(max(float(peaks[channel]), 1e-9))),
            _clipped(recorded[:, channel], heard, clock, score),
            _own_ratio(own.get(channel), clock),
        )
        for channel, heard in enumerate(loudest_first)
    )
    return Take(
        channels,
        clock.start / rate_hz,
        clock.per_s / rate_hz,
        read.thirds_db,
        read.distortion_ratio,
        score.channels,
        # Chirps come over the same lines as the sweeps: where these are missing, time is.
        slipped(
            read.arrivals,
            {channel: mine.per_s / clock.per_s for channel, mine in own.items()},
            score,
        ),
    )


def _own_ratio(own: Clock | None, clock: Clock) -> float:
    if own is None:
        return 1.0
    ratio = own.per_s / clock.per_s
    return ratio if abs(ratio - 1) > _OWN_CLOCK_RATIO else 1.0


def _clipped(sound: "Samples", heard: Sequence[Response], clock: Clock, score: Score) -> bool:
    """Whether the loudest source of a channel met a ceiling, the converter's or one before it.

    A sine spends 2/pi acos(0.99) = 9 % of its time within a hundredth of its peak; one whose top is
    cut off spends far more there. Where noise lies on the flat top, what half of the samples stay
    under tells it: 0.71 of the peak in a sine, all of it where the cut lies at 0.71 or lower. Asked
    where the sweep passes from 200 Hz to 2 kHz, and only where one source rules the channel.
    Derived: the time a sine spends above a level.
    """
    import numpy as np

    # As loud as they are recorded, whatever was played of them.
    heard = sorted(heard, key=lambda one: score.under(one.played) - one.gain_db)
    loud_db = [one.gain_db - score.under(one.played) for one in heard[:2]]
    if not heard or (len(heard) > 1 and loud_db[1] > loud_db[0] - _RULES_DB):
        return False
    start_s = score.start_s(heard[0].played)
    low, high = (
        round(clock.at(start_s + passing_s(at_hz=at_hz, growth_s=GROWTH_S, low_hz=LOW_HZ)))
        for at_hz in (200.0, 2000.0)
    )
    part = np.abs(sound[max(0, low) : max(0, high)])
    if not len(part):
        return False
    near = float((part >= 0.99 * part.max()).mean())
    half, most = np.quantile(part, (0.5, 0.99))
    return near > 1.6 * 2 / pi * acos(0.99) or bool(half > _FLAT_RATIO * most)
