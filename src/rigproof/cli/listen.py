"""Listen to a multitrack recording: what went wrong on which channel, when, and what to turn."""

import sys
from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Iterator, Sequence
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigproof.cli.answer import CLEAN, FOUND, Answer, CannotRun, Fault
from rigproof.cli.kept import (
    called_in,
    day_of,
    drift_data,
    drift_rows,
    keeping,
    kept_by,
    refuse_keeping,
    ways_of,
)
from rigproof.cli.listen_only import STOPPED, levels, loudness, only, refuse_keeping_part
from rigproof.cli.prove import known_by, plan_of
from rigproof.cli.terminal import Part, Row, Table, write

if TYPE_CHECKING:
    from rigproof.linecheck.drifting import Drift
    from rigproof.linecheck.noticing import ChannelSound, Heard, Noticed

_SHOWN_TIMES = 6


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof listen` takes."""
    parser.add_argument("take", metavar="TAKE", help="a file of many channels, or a folder of mono")
    known_by(parser)
    only(parser)
    keeping(parser)


def run(asked: Namespace) -> Answer:
    """Read the recording once, look closer where it is needed, tell."""
    from rigproof import linecheck
    from rigproof.linecheck.drifting import drifts
    from rigproof.linecheck.keeping import take_kept

    refuse_keeping_part(asked)
    refuse_keeping(asked)
    plan = plan_of(asked)
    if asked.only is not None:
        return {"levels": levels, "loudness": loudness}[asked.only](asked, plan, _progress())
    try:
        heard = linecheck.listen(Path(asked.take), plan.lineup("en"), progress=_progress())
    except linecheck.Refused as error:
        raise CannotRun(Fault(error.says, error.fix)) from error
    kept = take_kept(heard, ways_of(plan), date=day_of(asked), rig=plan.title)
    known = any(one.kind == "take" for one in plan.measured)
    moved = drifts(kept, plan.measured, called_in(plan)) if known else None
    written = tuple(kept_by(asked, plan, kept)) if heard.whole else ()
    clean = heard.grade == "pass" and not moved
    code = STOPPED if not heard.whole else CLEAN if clean else FOUND
    data = {
        **data_of(heard),
        "drift": drift_data(moved or ()),
        "written": [str(path) for path in written],
    }
    told = Row("Stopped before its end, so nothing is kept.", tone="strong")
    rows = (
        *_rows(heard, moved),
        *(Row(str(path), lead="Written: ", lead_tone="strong") for path in written),
        *((told,) if asked.keep and not written else ()),
    )
    return Answer(code, data, rows)


def _progress() -> Callable[[float], None]:
    """Tells a person at a terminal how far the reading is."""
    out = sys.stderr
    told = -1

    def tell(share: float) -> None:
        nonlocal told
        percent = int(100 * share)
        if out.isatty() and percent != told:
            told = percent
            text = f"Listening ... {percent} % (Ctrl-C: judge what was read)"
            write(out, "\r" + (" " * len(text) + "\r" if share >= 1 else text))

    return tell


def _number(value: float) -> float | None:
    """Nothing where a figure is minus infinity: JSON has no such number."""
    return value if isfinite(value) else None


def data_of(heard: "Heard") -> dict[str, Any]:
    """All of it for programs."""
    return {
        "grade": heard.grade,
        "whole": heard.whole,
        "length_s": heard.length_s,
        "read_s": heard.read_s,
        "rate_hz": heard.rate_hz,
        "said": list(heard.said),
        "level_step_s": heard.level_step_s,
        "channels": [_channel(one) for one in heard.channels],
        "related": [
            {
                "channels": [one.one, one.other],
                "likeness": round(one.likeness_ratio, 4),
                "delay_ms": one.delay_ms,
                "upright": one.upright,
                "level_db": one.level_db,
            }
            for one in heard.related
        ],
        "findings": [_finding(one) for one in heard.findings],
        "not_looked": list(heard.not_looked),
    }


def _channel(one: "ChannelSound") -> dict[str, Any]:
    return {
        "channel": one.number,
        "name": one.name,
        "peak_dbfs": one.peak_dbfs,
        "true_peak_dbtp": one.true_peak_dbtp,
        "level_dbfs": one.level_dbfs,
        "level_dba": one.level_dba,
        "floor_dbfs": one.floor_dbfs,
        "crest_db": one.crest_db,
        "dynamic_db": one.dynamic_db,
        "loudest_dbfs": one.loudest_dbfs,
        "hiss_dbfs": one.hiss_dbfs,
        "dc": one.dc_ratio,
        "integrated_lufs": _number(one.loudness.integrated_lufs),
        "momentary_lufs": _number(one.loudness.most_momentary_lufs),
        "short_term_lufs": _number(one.loudness.most_short_term_lufs),
        "range_lu": one.loudness.range_lu,
        "thirds_dbfs": [round(level, 2) for level in one.thirds_dbfs],
        "levels_dbfs": [round(level, 1) for level in one.levels_dbfs],
        "hum": None
        if one.hum is None
        else {"mains_hz": one.hum.mains_hz, "levels_dbfs": list(one.hum.levels_dbfs)},
    }


def _finding(one: "Noticed") -> dict[str, Any]:
    return {
        "channel": one.channel,
        "others": list(one.others),
        "kind": one.kind,
        "grade": one.grade,
        "sure": round(one.sure_ratio, 3),
        "value": one.value,
        "unit": one.unit,
        "limit": one.limit,
        "times_s": list(one.times_s),
        "says": one.says,
    }


_HEAD = ("ch", "name", "true peak", "level dBFS", "dB(A)", "LUFS", "range LU", "floor dBFS", "")
_RIGHT = frozenset({0, 2, 3, 4, 5, 6, 7})


def _rows(heard: "Heard", moved: "Sequence[Drift] | None") -> Iterator[Part]:
    for text in heard.said:
        yield Row(text, tone="strong")
    worst = {
        number: finding.grade
        for finding in reversed(heard.findings)
        for number in (finding.channel, *finding.others)
    }
    yield Table(
        _HEAD,
        tuple(_figures(one, worst.get(one.number, "")) for one in heard.channels),
        wraps=1,
        right=_RIGHT,
    )
    yield Row()
    for finding in heard.findings:
        yield Row(
            f"{finding.says} {_sure(finding)}{_times(finding)}",
            lead=f"{finding.grade.upper()}  ",
            lead_tone="strong",
        )
    if not heard.findings:
        yield Row("Nothing is wrong with what was looked at.", tone="strong")
    if moved is not None:
        yield Row()
        yield from drift_rows(moved)
    yield Row()
    yield Row("Not looked at:")
    for matter in heard.not_looked:
        yield Row(matter, indent=2, lead="- ")


def _sure(finding: "Noticed") -> str:
    return f"({100 * finding.sure_ratio:.0f} % sure)"


def _times(finding: "Noticed") -> str:
    if not finding.times_s:
        return ""
    shown = [_clock(time) for time in finding.times_s[:_SHOWN_TIMES]]
    more = " ..." if len(finding.times_s) > _SHOWN_TIMES else ""
    return f" At {', '.join(shown)}{more}"


def _clock(time_s: float) -> str:
    minutes, seconds = divmod(time_s, 60)
    return f"{minutes:.0f}:{seconds:04.1f}"


def _figures(one: "ChannelSound", grade: str) -> tuple[str, ...]:
    def told(value: float, decimals: int = 1) -> str:
        return f"{value:.{decimals}f}" if value > -139 else "-"

    return (
        str(one.number),
        one.name,
        told(one.true_peak_dbtp),
        told(one.level_dbfs),
        told(one.level_dba),
        told(one.loudness.integrated_lufs),
        told(one.loudness.range_lu),
        told(one.floor_dbfs, 0),
        grade,
    )
