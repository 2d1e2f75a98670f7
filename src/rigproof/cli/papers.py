"""Print single papers of a rig for one reader: the band, the house, a deputy or a shop."""

from argparse import ArgumentParser, Namespace
from collections.abc import Collection, Iterator, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

from rigproof.cli.answer import CLEAN, Answer, CannotRun, Fault
from rigproof.cli.terminal import Row, columns, working

if TYPE_CHECKING:
    from rigproof.showbook import Book
    from rigproof.showbook.binding import Bound
    from rigproof.showbook.edition import Edition
    from rigproof.showbook.papers import Paper, Sheet

READERS = ("band", "house", "deputy", "shop")


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof papers` takes."""
    parser.add_argument("rig", metavar="RIG", nargs="?", default=".", help="a folder or its file")
    parser.add_argument(
        "-o",
        "--output",
        metavar="FILE.pdf",
        help="where; papers-READER.pdf beside the rig file; with --all a folder",
    )
    parser.add_argument(
        "--all",
        action="store_true",
        help="everything for the reader into one folder, in one go: papers, pocket book and "
        "workbook, for the band also show book and labels",
    )
    parser.add_argument(
        "--for",
        dest="reader",
        metavar="READER",
        choices=READERS,
        default="band",
        help="band, house, deputy or shop; only the band's carry numbers, passwords and prices",
    )
    parser.add_argument(
        "--only", metavar="PAPER", action="append", default=[], help="this paper; may be repeated"
    )
    parser.add_argument(
        "--person", metavar="ID", action="append", default=[], help="sheets of this person only"
    )
    parser.add_argument(
        "--venue", metavar="ID", action="append", default=[], help="sheets of this venue only"
    )
    parser.add_argument(
        "--since",
        metavar="EARLIER",
        help="with a change sheet against a version of the history, or another folder or file",
    )
    parser.add_argument("--list", action="store_true", help="which papers there are, and for whom")
    edition(parser)


def edition(parser: ArgumentParser) -> None:
    """How papers are made out; the same for every command that makes some."""
    parser.add_argument(
        "--language", metavar="en|de", choices=("en", "de"), default="en", help="en otherwise"
    )
    parser.add_argument(
        "--measures",
        metavar="metric|imperial",
        choices=("metric", "imperial"),
        default="metric",
        help="metres and kilograms, or feet and pounds; metric otherwise",
    )
    parser.add_argument(
        "--paper", metavar="a4|letter", choices=("a4", "letter"), default="a4", help="a4 otherwise"
    )


def edition_of(asked: Namespace) -> "Edition":
    """The edition that the options of `edition` ask for; the band's where no reader is named."""
    from rigproof.showbook.edition import Edition

    return Edition(
        reader=getattr(asked, "reader", "band"),
        language=asked.language,
        measures=asked.measures,
        size=asked.paper,
    )


def run(asked: Namespace) -> Answer:
    """Print the papers asked for; or list what can be asked for."""
    if asked.list:
        return _listed(asked)
    if asked.all:
        from rigproof.cli.everything import everything

        return everything(asked)
    with working("Printing papers"):
        from rigproof.checks.verdict import check_whole
        from rigproof.rigfile.earlier import earlier
        from rigproof.rigfile.history import HIDDEN
        from rigproof.rigfile.load import load, rig_path
        from rigproof.rigfile.write import replace
        from rigproof.showbook.binding import bound
        from rigproof.showbook.papers import Order

        chosen = _chosen(asked.reader, asked.only)
        if any(paper.drawn for paper in chosen):
            wake_drawing()
        rig_file = rig_path(Path(asked.rig))
        target = (
            Path(asked.output) if asked.output else rig_file.parent / f"papers-{asked.reader}.pdf"
        )
        if target.suffix.lower() != ".pdf":
            raise CannotRun(
                Fault(f'papers are a PDF, and "{target}" does not end in .pdf.', "-o papers.pdf")
            )
        rig = load(rig_file)
        known(asked.person, rig.people, "person")
        known(asked.venue, rig.venues, "venue")
        order = Order(
            verdict=check_whole(rig),
            edition=edition_of(asked),
            people=tuple(asked.person),
            venues=tuple(asked.venue),
            earlier=earlier(rig_file, asked.since or "").rig if _compares(asked) else None,
            cache=rig_file.parent / HIDDEN / "drawings",
        )
        # All are begun before any is made: drawings are laid out while the rest is written.
        begun = [paper.sheets(order) for paper in chosen]
        sheets = [sheet for some in begun for sheet in some]
        if not sheets:
            raise CannotRun(
                Fault(
                    "there is nothing to print: the rig has nothing for these papers.",
                    '"rigproof papers --list" tells what each holds.',
                )
            )
        made = bound(order, sheets)
        replace(target, made.pdf)
    return Answer(
        CLEAN,
        {
            "papers": str(target),
            "reader": asked.reader,
            "sheets": [{"id": sheet.id, "title": sheet.title} for sheet in sheets],
            "left_out": left_out(made),
        },
        tuple(_rows(target, sheets, made)),
    )


def wake_drawing() -> None:
    """Let the layout engine start while the rig is read and judged."""
    from rigproof.showbook import layered

    layered.wake()


def left_out(made: "Bound | Book") -> list[str]:
    """What the paper could not hold, in words: it must not go unsaid."""
    short = [f'too long, cut short: "{cut.begins} ..."' for cut in made.cut]
    return short + [f'no type for some letters of: "{text.text}"' for text in made.unprintable]


def _chosen(reader: str, only: Sequence[str]) -> "tuple[Paper, ...]":
    """The papers asked for, in the order of binding; all that the reader may have by default."""
    from rigproof.showbook.papers import PAPERS

    allowed = [paper for paper in PAPERS if reader in paper.readers]
    for name in only:
        if name in {paper.id for paper in allowed}:
            continue
        if name in {paper.id for paper in PAPERS}:
            raise CannotRun(
                Fault(
                    f'"{name}" is not a paper for the {reader}.',
                    f"For the {reader}: {', '.join(paper.id for paper in allowed)}.",
                )
            )
        near = get_close_matches(name, [paper.id for paper in allowed], n=1)
        names = ", ".join(paper.id for paper in allowed)
        raise CannotRun(
            Fault(
                f'no paper is called "{name}".',
                f'Did you mean "{near[0]}"?' if near else f"For the {reader}: {names}.",
            )
        )
    return tuple(paper for paper in allowed if not only or paper.id in only)


def _compares(asked: Namespace) -> bool:
    """Whether an earlier version is wanted: asked for, or needed by the sheet asked for."""
    return asked.since is not None or "changes" in asked.only


def known(names: Sequence[str], there: Collection[str], kind: str) -> None:
    """Refuse names of people or venues that the rig does not have."""
    for name in names:
        if name not in there:
            near = get_close_matches(name, list(there), n=1)
            listed = ", ".join(there) or "none"
            raise CannotRun(
                Fault(
                    f'no {kind} is called "{name}".',
                    f'Did you mean "{near[0]}"?' if near else f"The rig has: {listed}.",
                )
            )


def _rows(target: Path, sheets: "Sequence[Sheet]", made: "Bound") -> Iterator[Row]:
    yield Row(str(target), lead="Papers: ", lead_tone="strong")
    for sheet in sheets:
        yield Row(sheet.title, indent=2)
    for matter in left_out(made):
        yield Row(matter, indent=2, lead="- ")


def _listed(asked: Namespace) -> Answer:
    from rigproof.showbook.papers import PAPERS
    from rigproof.wording.phrases import phrase

    found = [
        {
            "id": paper.id,
            "title": phrase(asked.language, f"{paper.id}.title"),
            "purpose": phrase(asked.language, f"{paper.id}.purpose"),
            "for": [reader for reader in READERS if reader in paper.readers],
        }
        for paper in PAPERS
    ]
    rows = columns(
        tuple(
            (str(one["id"]), f"{one['title']}: {one['purpose']} ({', '.join(one['for'])})")
            for one in found
        )
    )
    return Answer(CLEAN, {"available": found}, tuple(rows))
