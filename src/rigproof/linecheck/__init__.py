"""Prove the built rack: test signals out, recordings in, held against the plan."""

from typing import TYPE_CHECKING

from rigproof.linecheck.lineup import Line, Lineup, Refused, numbered, of_list, of_rig

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rigproof.linecheck.measuring import Take
    from rigproof.linecheck.noticing import Heard

LEVEL_DBFS = -20.0  # low: speakers and ears may hang on what the signal reaches

__all__ = [
    "LEVEL_DBFS",
    "Line",
    "Lineup",
    "Refused",
    "listen",
    "numbered",
    "of_list",
    "of_rig",
    "taken",
    "write_signal",
]


def write_signal(
    path: "Path", *, channels: int, rate_hz: int, level_dbfs: float, comment: str
) -> float:
    """Write the test signal for so many channels; its length in seconds.

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
    score = Score(channels, rate_hz)
    frames = rendered(score, level_dbfs=level_dbfs)
    write_sound(path, frames, rate_hz=rate_hz, comment=comment)
    return score.length_s


def taken(played: "Path", recorded: "Path") -> "tuple[Take, int]":
    """Read what came back of a test signal, and how many channels were played.

    Raises:
        Refused: a file that cannot be used, with what to do.
    """
    from rigproof.linecheck.measuring import read_take
    from rigproof.linecheck.score import recognised
    from rigproof.linecheck.sound import read_sound

    sent = read_sound(played)
    known = recognised(sent.frames, sent.rate_hz)
    if known is None:
        raise Refused(
            f"{sent.name} is no test signal made by rigproof signal, or not all of it.",
            "Name the file that was played first, then the recording of it.",
        )
    score, level_dbfs = known
    heard = read_sound(recorded)
    take = read_take(heard.frames, heard.rate_hz, score, level_dbfs=level_dbfs)
    if take is None:
        raise Refused(
            f"the test signal is nowhere in {heard.name}: no channel holds its two chirps.",
            "Was the recording running while it played, for all of it? Is a channel armed and "
            "open? Was another signal file played?",
        )
    return take, score.channels


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
