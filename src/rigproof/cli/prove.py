"""Hold a recording of the test signal against the plan: was built what was drawn, and how well."""

from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from rigproof.cli import tailproof
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
from rigproof.cli.terminal import Part, Row, Table, working

if TYPE_CHECKING:
    from rigproof.checks.rule import View
    from rigproof.linecheck import Lineup
    from rigproof.linecheck.comparing import LineResult, Report
    from rigproof.linecheck.drifting import Drift
    from rigproof.linecheck.measuring import Take
    from rigproof.rig import About, Kept
    from rigproof.showbook.drawings import Drawing
    from rigproof.showbook.edition import Edition
    from rigproof.showbook.papers import Sheet
    from rigproof.wording.phrases import Language


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof prove` takes."""
    parser.add_argument("played", metavar="PLAYED.wav", help="the test signal as it was played")
    parser.add_argument(
        "recorded",
        metavar="RECORDED.wav",
        help="the multitrack that came back, or a folder with a mono file for each channel",
    )
    known_by(parser)
    parser.add_argument(
        "--at", metavar="VENUE", help="recorded there, at the house's end of our tails"
    )
    parser.add_argument(
        "--walk",
        metavar="TAILS",
        nargs="?",
        const="",
        help="one after another: lines from a phone, or with --at tails, in this order (1-8,12)",
    )
    parser.add_argument(
        "--full-scale",
        metavar="DBU",
        type=float,
        help="what the player's 0 dBFS was at its sockets: levels are judged by themselves",
    )
    on_paper(parser)


def on_paper(parser: ArgumentParser) -> None:
    """What a proof may be written as."""
    parser.add_argument("--report", metavar="FILE.pdf", help="the proof as pages, with its plots")
    parser.add_argument("--plots", metavar="FOLDER", help="the plots as SVG files in this folder")
    parser.add_argument(
        "--language",
        metavar="en|de",
        choices=("en", "de"),
        default="en",
        help="of the pages and plots; en otherwise",
    )
    parser.add_argument(
        "--paper", metavar="a4|letter", choices=("a4", "letter"), default="a4", help="a4 otherwise"
    )
    parser.add_argument(
        "--loop",
        metavar="CHANNEL",
        type=int,
        help="played and recorded straight over one lead: what the lines take beside it is theirs",
    )
    keeping(parser)


def known_by(parser: ArgumentParser) -> None:
    """How a command that reads recordings is told what belongs on the channels."""
    parser.add_argument("--rig", metavar="RIG", help="the rig: names, plugs and planned figures")
    parser.add_argument(
        "--channels", metavar="LIST.csv", help="instead a list: number, name, pair, family"
    )


class Plan(NamedTuple):
    """What is expected on the channels, in a language, and what a rig says of itself.

    `timed`: whether all lines were played at once, so that their delays can be held together.
    """

    lineup: "Callable[[Language], Lineup | None]"
    rig_file: Path | None = None
    about: "About | None" = None
    view: "View | None" = None
    timed: bool = True

    @property
    def measured(self) -> "Sequence[Kept]":
        """What is kept of the rig, the oldest first."""
        return self.view.rig.measured if self.view is not None else ()

    @property
    def title(self) -> str:
        """The rig and its version, as a measurement names them."""
        return f"{self.about.name} {self.about.version}".strip() if self.about is not None else ""


def plan_of(asked: Namespace) -> Plan:
    """What belongs on the channels, from a rig or a list; nothing where neither is named."""
    from rigproof import linecheck

    if asked.rig is not None and asked.channels is not None:
        raise CannotRun(Fault("a rig and a list were both named.", "Name one of the two."))
    if asked.rig is not None:
        from rigproof.checks.rule import look
        from rigproof.rigfile.load import load, rig_path

        rig_file = rig_path(Path(asked.rig))
        view = look(load(rig_file))
        return Plan(
            lambda language: linecheck.of_rig(view.rig, view.graph, view.figures, language),
            rig_file,
            view.rig.about,
            view,
        )
    if asked.channels is not None:
        path = Path(asked.channels)
        try:
            lineup = linecheck.of_list(path.read_text(encoding="utf-8-sig"), name=path.name)
        except UnicodeDecodeError as error:
            raise CannotRun(
                Fault(f"{path.name} is no UTF-8 text.", "Save the list as UTF-8 CSV.")
            ) from error
        except linecheck.Refused as error:
            raise CannotRun(Fault(error.says, error.fix)) from error
        return Plan(lambda _: lineup)
    return Plan(lambda _: None)


def run(asked: Namespace) -> Answer:
    """Read both files, compare, tell."""
    with working("Reading the recording"):
        from rigproof import linecheck

        refuse_targets(asked)
        refuse_full_scale(asked)
        if asked.full_scale is not None and asked.at is not None:
            raise CannotRun(
                Fault("no plan knows the gain of the house's inputs.", "Leave --full-scale away.")
            )
        if asked.loop is not None and not (asked.at is None and asked.walk is None):
            raise CannotRun(
                Fault(
                    "a loop is heard while all lines play at once, not along tails or one by one.",
                    "Leave --loop away.",
                )
            )
        if asked.at is not None:
            return tailproof.proved(asked)
        plan = plan_of(asked)
        if asked.walk:
            raise CannotRun(Fault("tails in an order are those of a venue.", "Add: --at VENUE"))
        if asked.walk is not None:
            plan = _without_delays(plan)
        read = linecheck.taken if asked.walk is None else linecheck.one_by_one
        try:
            take, played = read(Path(asked.played), Path(asked.recorded))
        except linecheck.Refused as error:
            raise CannotRun(Fault(error.says, error.fix)) from error
        answer = told(asked, plan, take, played)
        other = other_rig(asked, plan.about)
        data = {**answer.result, "at": None, "plugged": [], "signal_for": other}
        return Answer(answer.code, data, (*other_rows(other), *answer.rows))


def other_rig(asked: Namespace, about: "About | None") -> str | None:
    """The rig that the played signal was made for, where it is another one."""
    from rigproof import linecheck

    made_for = linecheck.made_for(Path(asked.played))
    if about is None or not made_for or made_for.startswith(about.name):
        return None
    return made_for


def other_rows(other: str | None) -> Iterator[Part]:
    """Says so."""
    if other is not None:
        yield Row(
            f"It was made for another rig, {other}. Its channels are taken for the lines of this "
            "one, and its levels are what that one planned.",
            lead="Signal: ",
            lead_tone="strong",
        )


def _without_delays(plan: Plan) -> Plan:
    """The same without delays: lines played one after another have no clock in common."""

    def lineup(language: "Language") -> "Lineup | None":
        known = plan.lineup(language)
        if known is None:
            return None
        return {n: replace(line, delay_ms=None) for n, line in known.items()}

    from msgspec.structs import replace

    return plan._replace(lineup=lineup, timed=False)


def refuse_full_scale(asked: Namespace) -> None:
    """Refuse a player's full scale that none has, or that nothing is held against."""
    if asked.full_scale is None:
        return
    if not -10 <= asked.full_scale <= 30:
        raise CannotRun(
            Fault(
                f"no player has its full scale at {asked.full_scale:g} dBu.",
                "From -10 to 30: it stands in the player's data sheet.",
            )
        )
    if asked.rig is None:
        raise CannotRun(Fault("planned levels come from a rig.", "Name the rig."))


def refuse_targets(asked: Namespace) -> None:
    """Refuse what cannot be written before anything is read or played."""
    refuse_keeping(asked)
    if asked.report is not None and Path(asked.report).suffix.lower() != ".pdf":
        raise CannotRun(
            Fault(
                f'the report is a PDF, and "{asked.report}" does not end in .pdf.',
                "--report proof.pdf",
            )
        )


def told(asked: Namespace, plan: Plan, take: "Take", played: int) -> Answer:
    """Hold a take against the plan, write what was asked for, and tell."""
    from rigproof import linecheck
    from rigproof.linecheck.comparing import compare
    from rigproof.linecheck.drifting import drifts
    from rigproof.linecheck.joining import joined
    from rigproof.linecheck.keeping import loop_apart, proof_kept, untimed

    loop_ms = None
    if asked.loop is not None:
        line = (plan.lineup("en") or {}).get(asked.loop)
        if line is not None and line.known:
            raise CannotRun(
                Fault(
                    f"channel {asked.loop} belongs to {line.name}, so it is no loop.",
                    "Plug the loop lead where the rig has no line.",
                )
            )
        try:
            take, loop_ms = loop_apart(take, asked.loop)
        except linecheck.Refused as error:
            raise CannotRun(Fault(error.says, error.fix)) from error

    def proof(language: "Language") -> "Report":
        lineup = plan.lineup(language) or linecheck.numbered(played)
        report = compare(take, lineup, language, full_scale_dbu=asked.full_scale)
        return joined(report, lineup, language)

    report = proof("en")
    ways = ways_of(plan)
    kept = proof_kept(report, take, ways, date=day_of(asked), rig=plan.title, loop_ms=loop_ms)
    kept = kept if plan.timed else untimed(kept)
    known = any(one.kind == "proof" for one in plan.measured)
    moved = drifts(kept, plan.measured, called_in(plan))
    since = moved if known else None
    written = list(_written(asked, plan, proof(asked.language), since))
    written += kept_by(asked, plan, kept)
    rows = (
        *_rows(report, since),
        *(Row(str(path), lead="Written: ", lead_tone="strong") for path in written),
    )
    data = {
        **data_of(report),
        "drift": drift_data(moved),
        "written": [str(path) for path in written],
    }
    clean = report.grade == "pass" and not moved
    return Answer(CLEAN if clean else FOUND, data, rows)


def _written(
    asked: Namespace,
    plan: Plan,
    report: "Report",
    moved: "Sequence[Drift] | None",
) -> Iterator[Path]:
    """Write the proof as pages and plots, where that was asked for."""
    if asked.report is None and asked.plots is None:
        return
    from rigproof.rig import About
    from rigproof.showbook import proof
    from rigproof.showbook.edition import Edition

    edition = Edition(language=asked.language, size=asked.paper)
    about = plan.about or About(name=edition.say("proof.no_rig"))
    sheet = proof.sheet(report, edition, moved)
    yield from proof_written(asked, about, sheet, proof.plots(report, edition), edition)


def proof_written(
    asked: Namespace,
    about: "About",
    sheet: "Sheet",
    plots: "Iterable[tuple[str, Drawing]]",
    edition: "Edition",
) -> Iterator[Path]:
    """Write a proof's page and its plots where the options say; the paths."""
    from rigproof.rigfile.write import replace
    from rigproof.showbook.binding import bound_of
    from rigproof.showbook.exchange.pictures import svg_file

    if asked.report is not None:
        replace(Path(asked.report), bound_of(about, edition, [sheet]).pdf)
        yield Path(asked.report)
    if asked.plots is not None:
        folder = Path(asked.plots)
        folder.mkdir(parents=True, exist_ok=True)
        for name, drawn in plots:
            replace(folder / f"{name}.svg", svg_file(drawn))
            yield folder / f"{name}.svg"


def data_of(report: "Report") -> dict[str, Any]:
    """The report for programs."""
    return {
        "grade": report.grade,
        "rate_ratio": report.rate_ratio,
        "start_s": report.start_s,
        "full_scale_dbu": report.full_scale_dbu,
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
        "hum": None
        if one.hum is None
        else {
            "mains_hz": one.hum.mains_hz,
            "levels_dbfs": [round(level, 1) for level in one.hum.levels_dbfs],
            "likely": one.hum.cause,
        },
        "distortion_ratio": one.distortion_ratio,
        "thirds_db": [] if one.covered else list(one.thirds_db),
        "crosstalk": [{"line": line, "level_db": level} for line, level in one.crosstalk],
    }


def _rows(report: "Report", moved: "Sequence[Drift] | None") -> Iterator[Part]:
    if report.rate_is_wrong:
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
        says = "Everything else" if report.rate_is_wrong else "Everything"
        yield Row(f"{says} that was looked at is as planned.", tone="strong")
    if moved is not None:
        yield Row()
        yield from drift_rows(moved)
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
