"""Say what changed between two versions of a rig, and whose pages and labels that makes wrong."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigproof.cli.answer import CLEAN, FOUND, Answer
from rigproof.cli.terminal import Part, Row, Table, working

if TYPE_CHECKING:
    from rigproof.checks.rule import Finding
    from rigproof.rigfile.earlier import Earlier
    from rigproof.showbook.changes import Changes, Move, Night

_MANY = 8  # of a kind in a row; --json and the change sheet hold all


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof diff` takes."""
    parser.add_argument("rig", metavar="RIG", nargs="?", default=".", help="a folder or its file")
    parser.add_argument(
        "earlier",
        metavar="EARLIER",
        nargs="?",
        default="",
        help="a version of the history, or another folder or file; "
        "the last version kept that differs when left out",
    )


def run(asked: Namespace) -> Answer:
    """Compare two versions. Nothing is written; exit 1 where they differ."""
    with working("Comparing"):
        from rigproof.checks.verdict import check_whole
        from rigproof.rigfile.earlier import earlier
        from rigproof.rigfile.load import load, rig_path
        from rigproof.showbook.changes import changes
        from rigproof.showbook.papers import Order

        rig_file = rig_path(Path(asked.rig))
        now = load(rig_file)
        then = earlier(rig_file, asked.earlier)
        before = check_whole(then.rig)
        found = changes(before, Order(verdict=check_whole(now)))
    code = FOUND if found else CLEAN
    return Answer(code, _data(found, then), tuple(_rows(found, then)))


def _data(found: Changes, then: Earlier) -> dict[str, Any]:
    return {
        "against": {"version": then.number, "path": then.path},
        "moved": found.moved,
        "kept": found.kept,
        "entries": [
            {
                "section": one.section,
                "id": one.id,
                "what": one.what,
                "was": one.before,
                "values": [
                    {"key": list(f.keys), "before": f.before, "after": f.after} for f in one.fields
                ],
            }
            for one in found.entries
        ],
        "nights": [_night(night) for night in found.nights],
        "sums": [
            {"what": x.what, "before": x.before, "after": x.after, "unit": x.unit}
            for x in found.figures
        ],
        "findings_new": [_finding(one) for one in found.new],
        "findings_gone": [_finding(one) for one in found.gone],
        "pages": [
            {
                "paper": page.paper,
                "sheet": page.sheet,
                "title": page.title,
                "what": page.what,
                "for": list(page.readers),
            }
            for page in found.pages
        ],
        "labels": {
            "print": [
                {"id": x.id, "kind": x.kind, "title": x.title} for x in found.labels.to_print
            ],
            "gone": [{"id": x.id, "kind": x.kind, "title": x.title} for x in found.labels.gone],
        },
    }


def _night(night: Night) -> dict[str, Any]:
    return {
        "show": night.show,
        "moved": [_move(move) for move in night.moves],
        "added": [_move(move) for move in night.added],
        "removed": [_move(move) for move in night.removed],
        "houses": [
            {
                "venue": house.venue,
                "needed_before": house.needed[0],
                "needed_after": house.needed[1],
                "lines": [
                    {"line": number, "before": before, "after": after}
                    for number, before, after in house.lines
                ],
                "left_out": list(house.dropped),
            }
            for house in night.houses
        ],
    }


def _move(move: Move) -> dict[str, Any]:
    return {
        "source": move.lane.source,
        "name": move.name,
        "where": move.spot.what,
        "venue": move.spot.venue,
        "before": move.before,
        "after": move.after,
    }


def _finding(one: Finding) -> dict[str, Any]:
    return {"rule": one.rule, "severity": one.severity, "says": one.says, "show": one.show}


def _rows(found: Changes, then: Earlier) -> Iterator[Part]:
    from rigproof.showbook.changes import headline
    from rigproof.showbook.edition import Edition

    against = f"version {then.number}" if then.number is not None else then.path
    if not found:
        yield Row("nothing that a rig says has changed.", lead=f"Against {against}: ")
        return
    yield Row(headline(Edition(), found), lead=f"Against {against}: ", lead_tone="strong")
    if found.same_version:
        version = found.after.view.stated.about.version or "-"
        yield Row(Edition().say("changes.same_version", version=version), indent=2)
    yield from _entries(found)
    for night in found.nights:
        yield from _stage(found, night)
    yield from _sums(found)
    yield from _findings(found)
    yield from _hands(found)


def _entries(found: Changes) -> Iterator[Part]:
    from rigproof.showbook.changes import entry_name, section_name, told
    from rigproof.showbook.edition import Edition

    if not found.entries:
        return
    yield Row()
    yield Row("In the rig file", tone="strong")
    edition = Edition()
    rows = []
    for one in found.entries:
        name = entry_name(one, found.before.view.stated, found.after.view.stated)
        kind = section_name(edition, one.section)
        said = "; ".join(told(edition, one)) or edition.say(f"changes.what_{one.what}")
        rows.append((kind, name, said))
    yield Table(("what", "which", "how"), tuple(rows), wraps=2)


def _stage(found: Changes, night: Night) -> Iterator[Part]:
    rig = found.after.view.rig
    show = next((s for s in rig.file.shows if s.id == night.show), None)
    name = f"At {show.name or show.id}" if show else "Every night"
    rows = [
        (kind, move.name, _spot(found, move), move.before or "-", move.after or "-")
        for kind, moves in (("moved", night.moves), ("new", night.added), ("gone", night.removed))
        for move in moves
    ]
    if rows:
        yield Row()
        yield Row(f"{name}: numbers and sockets", tone="strong")
        yield Table(("", "source", "where", "before", "now"), tuple(rows), wraps=1)
    for house in night.houses:
        venue = rig.venues[house.venue]
        yield Row()
        used = f"{house.needed[1]} lines, {house.needed[0]} before"
        yield Row(f"{name}: lines of {venue.name} ({used})", tone="strong")
        lines = tuple((str(n), before or "-", after or "-") for n, before, after in house.lines)
        if lines:
            yield Table(("line", "before", "now"), lines, wraps=2, right=frozenset({0}))
        if house.dropped:
            names = ", ".join(dict.fromkeys(house.dropped))
            yield Row(f"Left out there, because lines are short: {names}.", indent=2)


def _spot(found: Changes, move: Move) -> str:
    venue = found.after.view.rig.venues.get(move.spot.venue)
    return venue.name if venue is not None else move.spot.what


def _sums(found: Changes) -> Iterator[Part]:
    from rigproof.showbook.edition import Edition

    if not found.figures:
        return
    yield Row()
    yield Row("Sums", tone="strong")
    say = Edition().say
    yield Table(
        ("sum", "before", "now"),
        tuple(
            (say(f"changes.fig_{x.what}"), _sum(x.before, x.unit), _sum(x.after, x.unit))
            for x in found.figures
        ),
        wraps=0,
        right=frozenset({1, 2}),
    )


def _sum(value: float | None, unit: str) -> str:
    if value is None:
        return "-"
    text = f"{value:.1f}".removesuffix(".0")
    return f"{text} {unit}" if unit else text


def _findings(found: Changes) -> Iterator[Part]:
    for title, some in (("New findings", found.new), ("Findings settled", found.gone)):
        if some:
            yield Row()
            yield Row(f"{title} ({len(some)})", tone="strong")
            yield from _few([f"{one.severity}: {one.says}" for one in some])


def _hands(found: Changes) -> Iterator[Part]:
    from rigproof.showbook.edition import Edition
    from rigproof.wording import counted

    say = Edition().say
    yield Row()
    yield Row("Pages in other people's hands", tone="strong")
    if found.pages:
        yield from _few(
            [
                f"{page.title} ({', '.join(page.readers)}): {say(f'changes.page_{page.what}')}"
                for page in found.pages
            ],
            most=len(found.pages),
        )
    else:
        yield Row(say("changes.no_page"), indent=2)
    labels = found.labels
    if labels.to_print or labels.gone:
        yield Row()
        yield Row("Labels", tone="strong")
    if labels.to_print:
        titles = [f"{label.title} ({label.kind})" for label in labels.to_print]
        yield Row(f"{counted(len(titles), 'label')} to print again:", indent=2)
        yield from _few(titles, indent=4)
    if labels.gone:
        titles = [f"{label.title} ({label.kind})" for label in labels.gone]
        yield Row(f"{counted(len(titles), 'label')} to take off:", indent=2)
        yield from _few(titles, indent=4)


def _few(texts: Sequence[str], *, most: int = _MANY, indent: int = 2) -> Iterator[Row]:
    for text in texts[:most]:
        yield Row(text, indent=indent, lead="- ")
    if len(texts) > most:
        yield Row(f"and {len(texts) - most} more", indent=indent, lead="- ")
