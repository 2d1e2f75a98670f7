"""The proof of a rack on paper: what was measured on each line, and what to do about it."""

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from rigproof.linecheck import comparing, drifting, tailends
from rigproof.linecheck.comparing import GRADES, LineResult, Report
from rigproof.linecheck.drifting import Drift
from rigproof.rig.measured import Kind
from rigproof.showbook.blocks import (
    DASH,
    Block,
    Cell,
    Column,
    Drawing,
    amount,
    caution,
    cell,
    column,
    facts,
    heading,
    new_page,
    numbers,
    points,
    remark,
    say,
    table,
)
from rigproof.showbook.drawings import crossings, curves
from rigproof.showbook.drawings.ink import Drawing as Drawn
from rigproof.showbook.edition import Edition
from rigproof.showbook.papers import Sheet

_PIECE = 200  # letters; a cell of a table holds a few more
_BREAKS = re.compile(r"(?<=[.;:]) ")


class _Heads(NamedTuple):
    """How a proof's numbers are headed: channels of the rack, or tails at the house."""

    passed: str = "proof.lines_passed"
    number: str = "proof.ch"
    plug: str = "proof.plug"
    at: str = "proof.worst_at"
    moved: str = "drift.key"
    kind: Kind = "proof"


_AT_HOUSE = _Heads(
    passed="tails.lines_passed",
    number="tails.head",
    plug="tails.plugged_head",
    at="tails.end",
    moved="drift.key_tails",
    kind="tails",
)


def sheet(report: Report, edition: Edition, moved: Sequence[Drift] | None = None) -> Sheet:
    """The whole proof as one sheet. `moved`: since a proof was kept; None where none was."""
    return Sheet(
        id="proof",
        title=edition.say("proof.title"),
        lead=edition.say("proof.lead"),
        blocks=tuple(_blocks(report, edition, moved, _Heads())),
    )


def sheet_of_tails(
    report: Report, edition: Edition, moved: Sequence[Drift] | None = None, *, venue: str
) -> Sheet:
    """The proof of the tails at one house, apart from that of the rack."""
    return Sheet(
        id="proof-tails",
        title=edition.say("tails.title", venue=venue),
        lead=edition.say("tails.lead"),
        blocks=tuple(_blocks(report, edition, moved, _AT_HOUSE)),
    )


def plots(report: Report, edition: Edition) -> Iterator[tuple[str, Drawn]]:
    """The drawings of a proof, by the name that a file of each may have."""
    for place, drawn in enumerate(curves.curves(report.lines, edition), 1):
        yield f"response-{place}", drawn
    yield "crosstalk", crossings.crossings(report.lines, edition)


def _blocks(
    report: Report, edition: Edition, moved: Sequence[Drift] | None, heads: _Heads
) -> Iterator[Block]:
    yield facts(list(_sums(report, edition, heads)))
    if report.rate_is_wrong:
        ratio = edition.number(report.rate_ratio, 3)
        yield say(edition.say("proof.rate", ratio=ratio))
    yield heading(edition.say("proof.found"))
    if not report.findings:
        yield say(edition.say("proof.nothing"))
    else:
        yield _graded([(one.grade, one.says) for one in report.findings], edition)
    if moved is not None:
        yield heading(edition.say("drift.title"))
        if moved:
            yield _graded([(one.grade, edition.tell(one.says)) for one in moved], edition)
        else:
            yield say(edition.say("drift.none"))
        yield say(
            edition.say(
                heads.moved,
                level=edition.number(drifting.LEVEL_DB[heads.kind][0]),
                delay=edition.number(drifting.DELAY_MS["proof"][0], 2),
                noise=edition.number(drifting.NOISE_DB[0]),
                response=edition.number(drifting.RESPONSE_DB[heads.kind][0]),
            )
        )
    yield heading(edition.say("proof.by_line"))
    yield table(_columns(edition, heads), [_row(one, edition) for one in report.lines])
    scale = report.full_scale_dbu
    yield say(
        edition.say("proof.key")
        if scale is None
        else edition.say("proof.key_alone", scale=edition.number(scale))
    )
    yield heading(edition.say("proof.untested"))
    yield points(report.not_tested)
    yield heading(edition.say("proof.limits"))
    yield table(
        [
            column(edition.say("proof.matter"), 3),
            numbers(edition.say("proof.doubt_from"), 0),
            numbers(edition.say("proof.fail_from"), 0),
        ],
        [*(_tail_limits(edition) if heads is _AT_HOUSE else ()), *_limits(edition)],
    )
    yield caution(edition.say("proof.caution_title"), edition.say("proof.caution"))
    shown = ""
    for _, drawn in plots(report, edition):
        if drawn.title != shown:
            yield new_page(drawn.title)
        shown = drawn.title
        yield Drawing(svg=drawn.svg, alt=drawn.alt, caption=drawn.caption, width_mm=drawn.width_mm)


def _graded(told: Sequence[tuple[str, str]], edition: Edition) -> Block:
    """Sentences with their grades."""
    columns = [
        column(edition.say("proof.grade"), 0, look="name"),
        column(edition.say("proof.matter"), 6),
    ]
    rows = []
    for grade, says in told:
        first, *rest = _pieces(says)
        rows.append((cell(edition.say(f"proof.{grade}")), remark(first)))
        rows += [(cell(""), remark(piece)) for piece in rest]
    return table(columns, rows)


def _pieces(says: str) -> list[str]:
    """A sentence in pieces that a cell holds whole: no plug of a long ring may be cut off."""
    pieces = [""]
    for part in _BREAKS.split(says):
        if pieces[-1] and len(pieces[-1]) + len(part) >= _PIECE:
            pieces.append("")
        pieces[-1] = f"{pieces[-1]} {part}".strip()
    return pieces


def _sums(report: Report, edition: Edition, heads: _Heads) -> Iterator[tuple[str, str, str]]:
    graded = [one.grade for one in report.lines]
    yield (
        edition.say(heads.passed),
        str(graded.count("pass")),
        edition.say("proof.of_lines", n=len(graded)),
    )
    for grade, key in (("fail", "proof.faults"), ("doubt", "proof.doubts")):
        yield edition.say(key), str(sum(one.grade == grade for one in report.findings)), ""
    noises = [(one.noise_dbfs, one) for one in report.lines if one.noise_dbfs is not None]
    if noises:
        level_dbfs, loudest = max(noises, key=lambda pair: (pair[0], -pair[1].line.number))
        yield (
            edition.say("proof.worst_noise"),
            f"{edition.figure(level_dbfs, 0)} dBFS",
            edition.say(heads.at, channel=loudest.line.number, number=loudest.line.number),
        )


def _columns(edition: Edition, heads: _Heads) -> list[Column]:
    return [
        column(edition.say(heads.number), 0, look="number"),
        column(edition.say("proof.name"), 2.6, look="name"),
        column(edition.say(heads.plug), 2.6, look="small"),
        column(edition.say("proof.holds_head"), 0),
        numbers(edition.say("proof.gain"), 0, unit="dB"),
        numbers(edition.say("proof.off"), 0, unit="dB"),
        numbers(edition.say("proof.delay"), 0, unit="ms"),
        numbers(edition.say("proof.noise_head"), 0, unit="dBFS"),
        numbers(edition.say("proof.hum_head"), 0, unit="dBFS"),
        numbers(edition.say("proof.harmonics"), 0, unit="%"),
        column(edition.say("proof.grade"), 0),
    ]


def _row(one: LineResult, edition: Edition) -> list[Cell]:
    def told(value: float | None, decimals: int = 1) -> Cell:
        return cell(DASH if value is None else edition.figure(value, decimals))

    holds = DASH if one.found is None else str(one.found)
    if one.upright is not None and one.upright is not one.line.upright:
        holds = edition.say("proof.turned", n=holds)
    percent = None if one.distortion_ratio is None else 100 * one.distortion_ratio
    return [
        amount(one.line.number),
        cell(one.line.name),
        remark(one.line.plug),
        cell(holds),
        told(one.gain_db),
        told(one.gain_error_db),
        told(one.delay_error_ms, 3),
        told(one.noise_dbfs, 0),
        told(one.hum_dbfs, 0),
        told(percent, 2),
        cell("" if one.grade == GRADES[0] else edition.say(f"proof.{one.grade}")),
    ]


def _tail_limits(edition: Edition) -> Iterator[list[Cell]]:
    """What the fault of a pair is told by; such a thing is a fault or nothing."""
    octave = edition.say("tails.octave")
    for key, limit, unit in (
        ("tails.limit_half", tailends.HALF_DB[0], "dB"),
        ("tails.limit_fed", tailends.FED_DB[0], "dB"),
        ("tails.limit_short", tailends.SHORT_FROM_DB, "dB"),
        ("tails.limit_thin", tailends.THIN_DB_AN_OCTAVE, octave),
    ):
        yield [remark(edition.say(key)), cell(DASH), cell(f"{edition.figure(limit, 1)} {unit}")]


def _limits(edition: Edition) -> Iterator[list[Cell]]:
    doubt, fail = comparing.DISTORTION_RATIO
    for key, limits, unit, decimals in (
        ("proof.limit_level", comparing.LEVEL_DB, "dB", 0),
        ("proof.limit_delay", comparing.DELAY_MS, "ms", 2),
        ("proof.limit_noise", comparing.NOISE_DBFS, "dBFS", 0),
        ("proof.limit_hum", comparing.HUM_DBFS, "dBFS", 0),
        ("proof.limit_crosstalk", comparing.CROSSTALK_DB, "dB", 0),
        ("proof.limit_response", comparing.RESPONSE_DB, "dB", 0),
        ("proof.limit_distortion", (100 * doubt, 100 * fail), "%", 1),
        ("proof.limit_clock", comparing.CLOCK_PPM, "ppm", 0),
    ):
        yield [
            remark(edition.say(key)),
            *(cell(f"{edition.figure(limit, decimals)} {unit}") for limit in limits),
        ]
