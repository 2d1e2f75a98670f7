"""Hold a recording made at the house's end of our lines against what that venue should get."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable, Iterator, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from rigproof.cli.answer import CLEAN, FOUND, Answer, CannotRun, Fault
from rigproof.cli.kept import drift_data, drift_rows
from rigproof.cli.terminal import Part, Row, Table

if TYPE_CHECKING:
    from rigproof.checks.rule import View
    from rigproof.linecheck import Lineup
    from rigproof.linecheck.comparing import LineResult, Report
    from rigproof.linecheck.drifting import Drift
    from rigproof.linecheck.lineup import End, Line
    from rigproof.linecheck.tailends import Told
    from rigproof.rig import Kept
    from rigproof.rig.outside import Venue
    from rigproof.wording.phrases import Language


# A walk: the tails as they were plugged, the channel of the signal heard on each, and when.
Plugged = tuple[tuple[int, int, float], ...]
NOWHERE: Plugged = ()


def proved(asked: Namespace) -> Answer:
    """Read both files, hold them against the hand-off, tell."""
    from rigproof import linecheck
    from rigproof.checks.rule import look
    from rigproof.cli.prove import other_rig, other_rows
    from rigproof.linecheck.drifting import drifts
    from rigproof.rigfile.load import load, rig_path
    from rigproof.rigfile.write import keep_measured

    if asked.rig is None:
        raise CannotRun(Fault("a venue was named, and no rig.", "Add: --rig RIG"))
    rig_file = rig_path(Path(asked.rig))
    view = look(load(rig_file))
    venue = venue_of(view, asked.at)
    ends = ends_at(view, venue)
    order = order_of(asked.walk, ends)
    try:
        if order is None:
            proof, walked = _at_once(asked, view, ends), NOWHERE
        else:
            proof, walked = _one_by_one(asked, view, ends, order)
    except linecheck.Refused as error:
        raise CannotRun(Fault(error.says, error.fix)) from error
    report = proof("en")
    kept = _kept(asked, view, venue, ends, report)
    known = any((one.kind, one.venue) == ("tails", venue.id) for one in view.rig.measured)
    moved = drifts(kept, view.rig.measured, {})
    since = moved if known else None
    written = list(_written(asked, view, venue, proof(asked.language), since))
    if asked.keep:
        written.append(keep_measured(rig_file.parent, kept))
    other = other_rig(asked, view.rig.about)
    rows = (
        *other_rows(other),
        *_rows(report, venue, ends),
        *(() if since is None else (Row(), *drift_rows(since))),
        *(Row(str(path), lead="Written: ", lead_tone="strong") for path in written),
    )
    data = {
        **_data(report, ends),
        "at": venue.id,
        "signal_for": other,
        "plugged": [
            {"tail": tail, "holds": played, "at_s": round(at_s, 2)} for tail, played, at_s in walked
        ],
        "drift": drift_data(moved),
        "written": [str(path) for path in written],
    }
    clean = report.grade == "pass" and not moved
    return Answer(CLEAN if clean else FOUND, data, rows)


def _kept(asked: Namespace, view: View, venue: Venue, ends: dict[int, End], report: Report) -> Kept:
    """The tails as they would be kept, which is also how they are held against earlier ones."""
    from rigproof.cli.kept import day_of
    from rigproof.linecheck.keeping import TAILS_METHOD, WALK_METHOD, tails_kept
    from rigproof.linecheck.tailends import levels_count

    about = view.rig.about
    return tails_kept(
        report,
        ends,
        venue=venue.id,
        method=TAILS_METHOD if asked.walk is None else WALK_METHOD,
        date=day_of(asked),
        rig=f"{about.name} {about.version}".strip(),
        levels=levels_count(report),
    )


def venue_of(view: View, name: str) -> Venue:
    """The venue that was named."""
    venues = view.rig.venues
    if name not in venues:
        near = get_close_matches(name, venues, n=1)
        fix = f'Did you mean "{near[0]}"?' if near else f"This rig has: {', '.join(venues)}."
        raise CannotRun(Fault(f'no venue is called "{name[:60]}".', fix))
    return venues[name]


def ends_at(view: View, venue: Venue) -> dict[int, End]:
    """The lines that this house plugs, by the numbers that their ends wear."""
    from rigproof.handoff.lines import hand_off
    from rigproof.linecheck.lineup import End

    ends = {
        line.number: End(
            number=line.number,
            entry=line.house_number or line.number,
            channel=line.channel,
            source=line.source.id,
            lane=line.lane,
            name=line.name,
            sent_from=line.sent_from,
            carrier=line.carrier,
            digital=line.level == "digital",
        )
        for line in hand_off(view.rig, view.graph, venue).used
        if line.source is not None
    }
    if not ends:
        raise CannotRun(
            Fault(
                f"{venue.name} plugs no line of ours by itself.",
                "Name a venue whose desk takes tails, a network or a link.",
            )
        )
    return ends


def order_of(walk: str | None, ends: dict[int, End]) -> tuple[int, ...] | None:
    """The tails in the order in which they were plugged; None where all were at once."""
    if walk is None:
        return None
    if walk == "":
        return tuple(sorted(ends))
    order: list[int] = []
    for part in walk.split(","):
        first, dash, last = part.strip().partition("-")
        if not (first.isascii() and first.isdigit() and (not dash or last.isdigit())):
            raise CannotRun(Fault(f'"{part[:40]}" is no tail.', "For example: --walk 1-8,12"))
        begin, end = int(first[:6]), int((last or first)[:6])
        row = range(begin, end + 1) if begin <= end else range(begin, end - 1, -1)
        order += [number for number in row if number in ends or len(row) == 1][:1000]
    strange = sorted({number for number in order if number not in ends})
    if strange or len(set(order)) < len(order) or not order:
        says = (
            f"tail {strange[0]} is not plugged there."
            if strange
            else "a tail stands in the walk twice, or none does."
        )
        raise CannotRun(Fault(says, f"Plugged are: {', '.join(map(str, sorted(ends)))}."))
    return tuple(order)


def _at_once(asked: Namespace, view: View, ends: dict[int, End]) -> Callable[[Language], Report]:
    """A recording of all the house's inputs."""
    from rigproof import linecheck
    from rigproof.linecheck.tailends import at_house, of_inputs

    take, played = linecheck.taken(Path(asked.played), Path(asked.recorded))
    turned = of_inputs(take, ends)

    def proof(language: Language) -> Report:
        lineup = linecheck.of_ends(view.rig, view.graph, view.figures, ends, language)
        return at_house(turned, lineup, ends, known(view, language, played), language)

    return proof


def _one_by_one(
    asked: Namespace, view: View, ends: dict[int, End], order: Sequence[int]
) -> tuple[Callable[[Language], Report], Plugged]:
    """A recording of one tail after another."""
    from rigproof import linecheck
    from rigproof.linecheck.tailends import at_house, numbered_anew
    from rigproof.linecheck.walking import as_take

    walk, played = linecheck.walk(Path(asked.played), Path(asked.recorded))
    met = {number: ends[number] for number in order}
    # A tail that the signal has no channel for is silent even where it was plugged.
    walked = as_take(walk, [n for n in order if (ends[n].channel or played) <= played], ends)
    places = {place: tail for place, (tail, _, _) in enumerate(walked.plugged, 1)}
    turned = numbered_anew(walked.take, places, met)

    def proof(language: Language) -> Report:
        lines = linecheck.of_ends(view.rig, view.graph, view.figures, met, language)
        told = msgspec.structs.replace(
            known(view, language, played),
            walked=True,
            moving_db=walked.moving_db,
            torn=walk.torn,
        )
        lineup = dict(_plugged(lines, walked.plugged, language))
        return at_house(turned, lineup, met, told, language)

    return proof, walked.plugged


def _plugged(lines: Lineup, plugged: Plugged, language: Language) -> Iterator[tuple[int, Line]]:
    """Lines with the place in the walk; each pass has a clock of its own, so none is late."""
    from rigproof.wording.phrases import phrase

    places = {tail: (place, at_s) for place, (tail, _, at_s) in enumerate(plugged, 1)}
    for number, line in lines.items():
        place, at_s = places.get(number, (0, 0.0))
        words = phrase(language, "tails.nth", n=place, time=f"{at_s:.0f}") if place else ""
        yield number, msgspec.structs.replace(line, plug=words, delay_ms=None)


def known(view: View, language: Language, played: int) -> Told:
    """Our own channels, and which of them the house must not get."""
    from rigproof import linecheck
    from rigproof.linecheck.tailends import Told

    own = linecheck.of_rig(view.rig, view.graph, view.figures, language)
    return Told(
        own=own,
        private=frozenset(n for n, line in own.items() if view.rig.sources[line.source].private),
        played=played,
    )


def _written(
    asked: Namespace,
    view: View,
    venue: Venue,
    report: Report,
    moved: Sequence[Drift] | None,
) -> Iterator[Path]:
    """Write the proof as pages and plots, where that was asked for."""
    if asked.report is None and asked.plots is None:
        return
    from rigproof.cli.prove import proof_written
    from rigproof.linecheck.tailends import drawable
    from rigproof.showbook import proof
    from rigproof.showbook.edition import Edition

    edition = Edition(language=asked.language, size=asked.paper)
    shown = drawable(report)
    sheet = proof.sheet_of_tails(shown, edition, moved, venue=venue.name)
    plots = proof.plots(shown, edition)
    yield from proof_written(asked, view.rig.about, sheet, plots, edition)


def _data(report: Report, ends: dict[int, End]) -> dict[str, Any]:
    """The report for programs: tails by their numbers, what they hold by the signal's channels."""
    from rigproof.cli.prove import data_of
    from rigproof.linecheck.tailends import played_channel

    data = data_of(report)
    for line in data["lines"]:
        line["holds"] = played_channel(line["holds"], ends)
        for other in line["crosstalk"]:
            other["line"] = played_channel(other["line"], ends)
    for finding in data["findings"]:
        finding["others"] = [number for number in finding["others"] if number in ends]
    return data


_HEAD = ("tail", "line", "plugged", "holds", "off plan dB", "noise dBFS", "")
_RIGHT = frozenset({0, 4, 5})


def _rows(report: Report, venue: Venue, ends: dict[int, End]) -> Iterator[Part]:
    yield Row(f"The tails at {venue.name}, apart from our own ears:", tone="strong")
    yield Table(_HEAD, tuple(_figures(one, ends) for one in report.lines), wraps=1, right=_RIGHT)
    yield Row()
    for finding in report.findings:
        yield Row(finding.says, lead=f"{finding.grade.upper()}  ", lead_tone="strong")
    if not report.findings:
        yield Row("Every tail that was looked at is as planned.", tone="strong")
    yield Row()
    yield Row("Not tested:")
    for matter in report.not_tested:
        yield Row(matter, indent=2, lead="- ")


def _figures(one: LineResult, ends: dict[int, End]) -> tuple[str, ...]:
    from rigproof.linecheck.tailends import played_channel

    def told(value: float | None, decimals: int) -> str:
        return "-" if value is None else f"{round(value, decimals) + 0.0:.{decimals}f}"

    holds = "-"
    if one.found is not None:
        strange = one.found not in ends
        holds = f"ch {played_channel(one.found, ends)}" if strange else f"tail {one.found}'s"
        holds += " turned" if one.upright is False else ""
    return (
        str(one.line.number) if one.line.number in ends else "other",
        one.line.name,
        one.line.plug,
        holds,
        told(one.gain_error_db, 1),
        told(one.noise_dbfs, 0),
        "" if one.grade == "pass" else one.grade,
    )
