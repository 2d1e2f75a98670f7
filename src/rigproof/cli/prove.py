"""Hold a recording of the test signal against the plan: was built what was drawn, and how well."""

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigproof.cli.answer import CLEAN, FOUND, Answer, CannotRun, Fault
from rigproof.cli.terminal import Part, Row, Table, working

if TYPE_CHECKING:
    from rigproof.linecheck import Lineup
    from rigproof.linecheck.comparing import LineResult, Report


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof prove` takes."""
    parser.add_argument("played", metavar="PLAYED.wav", help="the test signal as it was played")
    parser.add_argument("recorded", metavar="RECORDED.wav", help="the multitrack that came back")
    known_by(parser)


def known_by(parser: ArgumentParser) -> None:
    """How a command that reads recordings is told what belongs on the channels."""
    parser.add_argument("--rig", metavar="RIG", help="the rig: names, plugs and planned figures")
    parser.add_argument(
        "--channels", metavar="LIST.csv", help="instead a list: number, name, pair, family"
    )


def lineup_of(asked: Namespace) -> "Lineup | None":
    """What belongs on the channels, from a rig or a list; None where neither is named."""
    from rigproof import linecheck

    if asked.rig is not None and asked.channels is not None:
        raise CannotRun(Fault("a rig and a list were both named.", "Name one of the two."))
    if asked.rig is not None:
        from rigproof.checks.rule import look
        from rigproof.rigfile.load import load, rig_path

        view = look(load(rig_path(Path(asked.rig))))
        return linecheck.of_rig(view.rig, view.graph, view.figures)
    if asked.channels is not None:
        path = Path(asked.channels)
        try:
            return linecheck.of_list(path.read_text(encoding="utf-8-sig"), name=path.name)
        except UnicodeDecodeError as error:
            raise CannotRun(
                Fault(f"{path.name} is no UTF-8 text.", "Save the list as UTF-8 CSV.")
            ) from error
        except linecheck.Refused as error:
            raise CannotRun(Fault(error.says, error.fix)) from error
    return None


def run(asked: Namespace) -> Answer:
    """Read both files, compare, tell."""
    with working("Reading the recording"):
        from rigproof import linecheck

        lineup = lineup_of(asked)
        try:
            report = linecheck.prove(Path(asked.played), Path(asked.recorded), lineup)
        except linecheck.Refused as error:
            raise CannotRun(Fault(error.says, error.fix)) from error
    return Answer(CLEAN if report.grade == "pass" else FOUND, data_of(report), tuple(_rows(report)))


def data_of(report: "Report") -> dict[str, Any]:
    """The report for programs."""
    return {
        "grade": report.grade,
        "rate_ratio": report.rate_ratio,
        "start_s": report.start_s,
        "lines": [_line_data(one) for one in report.lines],
        "findings": [
            {
                "channel": one.channel,
                "others": list(one.others),
                "kind": one.kind,
                "grade": one.grade,
                "sure": round(one.sure_ratio, 3),
                "value": one.value,
                "unit": one.unit,
                "limit": one.limit,
                "says": one.says,
            }
            for one in report.findings
        ],
        "not_tested": list(report.not_tested),
    }


def _line_data(one: "LineResult") -> dict[str, Any]:
    return {
        "channel": one.line.number,
        "name": one.line.name,
        "plug": one.line.plug,
        "holds": one.found,
        "grade": one.grade,
        "gain_db": one.gain_db,
        "gain_error_db": one.gain_error_db,
        "delay_ms": one.delay_ms,
        "delay_error_ms": one.delay_error_ms,
        "upright": one.upright,
        "noise_dbfs": one.noise_dbfs,
        "hum_dbfs": one.hum_dbfs,
        "distortion_ratio": one.distortion_ratio,
        "thirds_db": list(one.thirds_db),
        "crosstalk": [{"line": line, "level_db": level} for line, level in one.crosstalk],
    }


def _rows(report: "Report") -> Iterator[Part]:
    if abs(report.rate_ratio - 1) > 0.01:
        yield Row(
            f"The recording runs at {report.rate_ratio:.3f} of the rate it says: somebody is set "
            "to 44.1 kHz and somebody to 48.",
            lead="Rate: ",
            lead_tone="strong",
        )
    yield Table(_HEAD, tuple(map(_figures, report.lines)), wraps=1, right=_RIGHT)
    yield Row()
    for finding in report.findings:
        yield Row(finding.says, lead=f"{finding.grade.upper()}  ", lead_tone="strong")
    if not report.findings:
        yield Row("Everything that was looked at is as planned.", tone="strong")
    yield Row()
    yield Row("Not tested:")
    for matter in report.not_tested:
        yield Row(matter, indent=2, lead="- ")


_HEAD = ("ch", "line", "holds", "gain dB", "off plan", "late ms", "off plan", "noise dBFS", "")
_RIGHT = frozenset({0, 2, 3, 4, 5, 6, 7})


def _figures(one: "LineResult") -> tuple[str, ...]:
    def told(value: float | None, decimals: int = 1) -> str:
        return "-" if value is None else f"{round(value, decimals) + 0.0:.{decimals}f}"

    holds = "-" if one.found is None else str(one.found)
    return (
        str(one.line.number),
        one.line.name,
        f"{holds} turned" if one.upright is False else holds,
        told(one.gain_db),
        told(one.gain_error_db),
        told(one.delay_ms, 3),
        told(one.delay_error_ms, 3),
        told(one.noise_dbfs, 0),
        "" if one.grade == "pass" else one.grade,
    )
