"""Only the levels of a recording, or only its loudness: figures, and nothing is judged."""

from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Iterator
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigproof.cli.answer import CLEAN, Answer, CannotRun, Fault
from rigproof.cli.prove import Plan
from rigproof.cli.terminal import Part, Row, Table

if TYPE_CHECKING:
    from rigproof.linecheck.metered import Metered, ProgrammeLoudness, TakeLevels, TakeLoudness

STOPPED = 130
_DASHED = -139.0
Progress = Callable[[float], None]


def only(parser: ArgumentParser) -> None:
    """How `rigproof listen` is told to leave all else away."""
    parser.add_argument(
        "--only",
        choices=("levels", "loudness"),
        help="only these figures, in a fraction of the time; nothing is judged",
    )


def refuse_keeping_part(asked: Namespace) -> None:
    """What is kept of a take is all of it."""
    if asked.only is not None and asked.keep:
        raise CannotRun(
            Fault(
                f"only the {asked.only} would be known, and a take is kept with all its figures.",
                "Leave --only away, or --keep.",
            )
        )


def levels(asked: Namespace, plan: Plan, progress: Progress) -> Answer:
    """`--only levels`."""
    from rigproof import linecheck

    try:
        heard = linecheck.levels(Path(asked.take), plan.lineup("en"), progress=progress)
    except linecheck.Refused as error:
        raise CannotRun(Fault(error.says, error.fix)) from error
    channels = [
        {
            "channel": one.number,
            "name": one.name,
            "peak_dbfs": one.levels.peak_dbfs,
            "level_dbfs": one.levels.level_dbfs,
            "floor_dbfs": one.levels.floor_dbfs,
            "crest_db": one.levels.crest_db,
            "dynamic_db": one.levels.dynamic_db,
            "loudest_dbfs": one.levels.loudest_dbfs,
            "dc": one.levels.dc_ratio,
            "levels_dbfs": [round(level, 1) for level in one.levels.levels_dbfs],
        }
        for one in heard.channels
    ]
    data = {
        "only": "levels",
        **_read(heard),
        "level_step_s": heard.level_step_s,
        "channels": channels,
    }
    return Answer(_code(heard), data, tuple(_level_rows(heard)))


def loudness(asked: Namespace, plan: Plan, progress: Progress) -> Answer:
    """`--only loudness`."""
    from rigproof import linecheck

    try:
        heard = linecheck.loudnesses(Path(asked.take), plan.lineup("en"), progress=progress)
    except linecheck.Refused as error:
        raise CannotRun(Fault(error.says, error.fix)) from error
    data = {
        "only": "loudness",
        **_read(heard),
        "channels": [{"channel": one.numbers[0], **_loudness(one)} for one in heard.channels],
        "pairs": [{"channels": list(one.numbers), **_loudness(one)} for one in heard.pairs],
    }
    return Answer(_code(heard), data, tuple(_loudness_rows(heard)))


def _code(heard: "Metered") -> int:
    return CLEAN if heard.whole else STOPPED


def _read(heard: "Metered") -> dict[str, Any]:
    return {
        "whole": heard.whole,
        "length_s": heard.length_s,
        "read_s": heard.read_s,
        "rate_hz": heard.rate_hz,
        "said": list(heard.said),
    }


def _loudness(one: "ProgrammeLoudness") -> dict[str, Any]:
    def number(value: float) -> float | None:
        return value if isfinite(value) else None  # JSON has no infinity

    return {
        "name": one.name,
        "integrated_lufs": number(one.loudness.integrated_lufs),
        "momentary_lufs": number(one.loudness.most_momentary_lufs),
        "short_term_lufs": number(one.loudness.most_short_term_lufs),
        "range_lu": one.loudness.range_lu,
    }


def _told(value: float) -> str:
    return "-" if value < _DASHED else f"{value:.1f}"


def _level_rows(heard: "TakeLevels") -> Iterator[Part]:
    for text in heard.said:
        yield Row(text, tone="strong")
    yield Table(
        ("ch", "name", "peak dBFS", "level dBFS", "crest dB", "loudest 3 s", "floor dBFS",
         "range dB", "DC %"),
        tuple(
            (
                str(one.number),
                one.name,
                _told(one.levels.peak_dbfs),
                _told(one.levels.level_dbfs),
                _told(one.levels.crest_db),
                _told(one.levels.loudest_dbfs),
                _told(one.levels.floor_dbfs),
                _told(one.levels.dynamic_db),
                f"{round(100 * one.levels.dc_ratio, 2) + 0:.2f}",  # no minus before nought
            )
            for one in heard.channels
        ),
        wraps=1,
        right=frozenset({0, 2, 3, 4, 5, 6, 7, 8}),
    )  # fmt: skip
    yield Row()
    if any(one.levels.peak_dbfs < _DASHED for one in heard.channels):
        yield Row("A dash: every sample is nought.")
    yield Row("Peaks are those of the samples; what lies between them was not looked at.")
    yield _unjudged()


def _loudness_rows(heard: "TakeLoudness") -> Iterator[Part]:
    for text in heard.said:
        yield Row(text, tone="strong")
    yield Table(
        ("ch", "name", "LUFS", "highest 0.4 s", "highest 3 s", "range LU"),
        tuple(
            (
                " + ".join(map(str, one.numbers)),
                one.name,
                _told(one.loudness.integrated_lufs),
                _told(one.loudness.most_momentary_lufs),
                _told(one.loudness.most_short_term_lufs),
                _told(one.loudness.range_lu),
            )
            for one in (*heard.channels, *heard.pairs)
        ),
        wraps=1,
        right=frozenset({0, 2, 3, 4, 5}),
    )
    yield Row()
    if any(one.loudness.integrated_lufs < _DASHED for one in heard.channels):
        yield Row("A dash: nothing is loud enough to count, or the recording is too short.")
    if heard.pairs:
        yield Row("Pairs are heard as left and right of one programme.")
    yield _unjudged()


def _unjudged() -> Row:
    return Row("Nothing was judged: leave --only away for what is wrong with the take.")
