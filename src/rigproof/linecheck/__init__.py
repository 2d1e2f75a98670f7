"""Prove the built rack: test signals out, recordings in, held against the plan."""

from typing import TYPE_CHECKING

from rigproof.linecheck.lineup import (
    Line,
    Lineup,
    Refused,
    numbered,
    of_ends,
    of_list,
    of_rig,
)
from rigproof.wording import counted

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from rigproof.linecheck.measuring import Take
    from rigproof.linecheck.metered import TakeLevels, TakeLoudness
    from rigproof.linecheck.noticing import Heard
    from rigproof.linecheck.score import Score
    from rigproof.linecheck.walking import Walk

_FEW, _ALIKE_DB = 2, 20.0
LEVEL_DBFS = -20.0  # low: speakers and ears may hang on what the signal reaches

__all__ = [
    "LEVEL_DBFS",
    "Line",
    "Lineup",
    "Refused",
    "levels",
    "listen",
    "loudnesses",
    "made_for",
    "numbered",
    "of_ends",
    "of_list",
    "of_rig",
    "one_by_one",
    "taken",
    "walk",
    "write_signal",
]


def write_signal(
    path: "Path",
    *,
    channels: int,
    rate_hz: int,
    level_dbfs: float,
    comment: str,
    under_db: "Sequence[float]" = (),
    lines: "Path | None" = None,
) -> float:
    """Write the test signal for so many channels; its length in seconds.

    `under_db`: how far each plays under the loudest. `lines`: a folder for each channel alone.

    Raises:
        Refused: no such signal can be made, or it cannot be written.
    """
    from rigproof.linecheck.score import MOST_CHANNELS, Score, rendered
    from rigproof.linecheck.sound import write_sound

    if not 1 <= channels <= MOST_CHANNELS:
        raise Refused(
            f"a test signal has 1 to {MOST_CHANNELS} channels, not {channels}.",
            "Test a larger rig in two goes.",
        )
    score = Score(channels, rate_hz, tuple(under_db))
    frames = rendered(score, level_dbfs=level_dbfs)
    write_sound(path, frames, rate_hz=rate_hz, comment=comment)
    if lines is not None:
        lines.mkdir(parents=True, exist_ok=True)
        for channel in range(channels):
            target = lines / f"{path.stem}-{channel + 1:03d}.wav"
            alone = frames[:, channel : channel + 1]
            write_sound(target, alone, rate_hz=rate_hz, comment=f"{comment}; line {channel + 1}")
    return score.length_s


def taken(played: "Path", recorded: "Path") -> "tuple[Take, int]":
    """Read what came back of a test signal, and how many channels were played.

    Raises:
        Refused: a file that cannot be used, with what to do.
    """
    from rigproof.linecheck.measuring import read_take
    from rigproof.linecheck.sound import read_sound

    score, level_dbfs = _sent(played)
    heard = read_sound(recorded)
    take = read_take(heard.frames, heard.rate_hz, score, level_dbfs=level_dbfs)
    if take is None:
        raise Refused(
            f"the test signal is nowhere in {heard.name}: no channel holds its two chirps.",
            "Was the recording running while it played, for all of it? Is a channel armed and "
            "open? Was another signal file played?",
        )
    if _is_mixture(take):
        raise Refused(
            f"{heard.name} holds all lines at once on {counted(heard.channels, 'channel')}: it is "
            "a mix, or a speaker that something listened to.",
            "Record the mixer's channels, each on its own. What a phone at the end of a line can "
            "tell: rigproof announce.",
        )
    return take, score.channels


def _is_mixture(take: "Take") -> bool:
    """Whether a recording of one or two channels holds most lines about as loud as each other."""
    if len(take.channels) > _FEW or take.played <= _FEW:
        return False
    return all(
        2 * sum(one.gain_db > heard.responses[0].gain_db - _ALIKE_DB for one in heard.responses)
        > take.played
        for heard in take.channels
        if heard.responses
    )


def made_for(played: "Path") -> str:
    """The rig that a test signal says it was made for; empty where it says none.

    Raises:
        Refused: a file that cannot be read.
    """
    from rigproof.linecheck.sound import comment_of

    return comment_of(played).partition("; ")[2]


def walk(played: "Path", recorded: "Path") -> "tuple[Walk, int]":
    """Read a recording made at one tail after another, and how many channels were played.

    Of a recording with two channels the louder one counts.

    Raises:
        Refused: a file that cannot be used, with what to do.
    """
    from rigproof.linecheck.sound import read_sound
    from rigproof.linecheck.walking import LONGEST_S, MOST_CHANNELS, louder, walked

    score, level_dbfs = _sent(played)
    heard = read_sound(recorded, longest_s=LONGEST_S)
    if heard.channels > MOST_CHANNELS:
        raise Refused(
            f"{heard.name} has {heard.channels} channels, and a walk is recorded on one.",
            "Leave --walk away where all tails were recorded at once.",
        )
    found = walked(louder(heard.frames), heard.rate_hz, score, level_dbfs=level_dbfs)
    if not found.stops:
        raise Refused(
            f"the test signal is nowhere whole in {heard.name}.",
            "Play it over and over, and hold each tail for a whole pass of it "
            f"({score.length_s:.0f} s); set the recorder's level by hand.",
        )
    return found, score.channels


def one_by_one(played: "Path", recorded: "Path") -> "tuple[Take, int]":
    """Read a recording of all channels, made while one line after another was played.

    Raises:
        Refused: a file that cannot be used, with what to do.
    """
    from rigproof.linecheck import walking
    from rigproof.linecheck.sound import read_sound

    score, level_dbfs = _sent(played)
    heard = read_sound(recorded, longest_s=walking.LONGEST_S)
    take = walking.one_by_one(heard.frames, heard.rate_hz, score, level_dbfs=level_dbfs)
    if take is None:
        raise Refused(
            f"no line is heard whole in {heard.name}.",
            "Play each channel's own file from its beginning to its end.",
        )
    return take, score.channels


def _sent(played: "Path") -> "tuple[Score, float]":
    """The test signal that a file is, and its peak.

    Raises:
        Refused: it is none.
    """
    from rigproof.linecheck.score import recognised
    from rigproof.linecheck.sound import read_sound

    sent = read_sound(played)
    known = recognised(sent.frames, sent.rate_hz)
    if known is None:
        raise Refused(
            f"{sent.name} is no test signal made by rigproof signal, or not all of it.",
            "Name the file that was played first, then the recording of it.",
        )
    return known


def listen(
    take: "Path", lineup: "Lineup | None" = None, *, progress: "Callable[[float], None]"
) -> "Heard":
    """Read a multitrack recording: figures of every channel, and what is wrong with it.

    `progress` is told the share that was read. Ctrl-C ends the reading; what was read is judged.

    Raises:
        Refused: it cannot be read, with what to do.
    """
    from rigproof.linecheck import listening

    return listening.listen(take, lineup, progress=progress)


def levels(
    take: "Path", lineup: "Lineup | None" = None, *, progress: "Callable[[float], None]"
) -> "TakeLevels":
    """Only the levels of a recording: no spectra, no loudness, and nothing is judged.

    Raises:
        Refused: it cannot be read, with what to do.
    """
    from rigproof.linecheck import metered

    return metered.levels(take, lineup, progress=progress)


def loudnesses(
    take: "Path", lineup: "Lineup | None" = None, *, progress: "Callable[[float], None]"
) -> "TakeLoudness":
    """Only the loudness of a recording, of every channel and stereo pair; nothing is judged.

    Raises:
        Refused: it cannot be read, with what to do.
    """
    from rigproof.linecheck import metered

    return metered.loudnesses(take, lineup, progress=progress)
