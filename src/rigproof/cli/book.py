"""Print the show book of a rig: every sheet the band and the house need, in one PDF."""

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from rigproof.cli.answer import CLEAN, FOUND, Answer, CannotRun, Fault
from rigproof.cli.papers import edition, edition_of, left_out, wake_drawing
from rigproof.cli.terminal import Row, working

if TYPE_CHECKING:
    from rigproof.checks.verdict import Verdict
    from rigproof.showbook import Book
    from rigproof.showbook.edition import Edition

FILE = "show-book.pdf"


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof book` takes."""
    parser.add_argument("rig", metavar="RIG", nargs="?", default=".", help="a folder or its file")
    parser.add_argument(
        "-o",
        "--output",
        metavar="FILE.pdf",
        help=f"where to write it; {FILE} beside the rig file when left out",
    )
    parser.add_argument(
        "--numbers",
        dest="printer",
        action="store_const",
        const="book_with_numbers",
        default="book",
        help="bind in the pages of figures: levels, gains, delay, exposure, power, weight, network",
    )
    edition(parser)


def run(asked: Namespace) -> Answer:
    """Load, judge, print. The verdict stands on the cover, so it also gives the exit code."""
    with working("Printing the show book"):
        wake_drawing()
        from rigproof.checks.verdict import check_whole
        from rigproof.rigfile.load import load, rig_path

        rig_file = rig_path(Path(asked.rig))
        target = Path(asked.output) if asked.output else rig_file.parent / FILE
        if target.suffix.lower() != ".pdf":
            raise CannotRun(
                Fault(
                    f'the show book is a PDF, and "{target}" does not end in .pdf.',
                    f"For example: -o {FILE}",
                )
            )
        verdict = check_whole(load(rig_file))
        made_out = edition_of(asked)
        book = print_book(verdict, target, rig_file.parent, made_out, asked.printer)
    return Answer(
        CLEAN if verdict.clean else FOUND,
        {
            "book": str(target),
            "pages": book.pages,
            "clean": verdict.clean,
            "left_out": left_out(book),
        },
        (*book_rows(target, book), *_finding_rows(verdict)),
    )


def print_book(
    verdict: "Verdict", target: Path, folder: Path, edition: "Edition", printer: str = "book"
) -> "Book":
    """Write the show book of a rig in a folder to a file, whole or not at all.

    `printer`: the function of the show book that makes it.
    """
    from rigproof import showbook
    from rigproof.rigfile.history import HIDDEN
    from rigproof.rigfile.write import replace

    made: Book = getattr(showbook, printer)(verdict, edition, cache=folder / HIDDEN / "drawings")
    replace(target, made.pdf)
    return made


def book_rows(target: Path, book: "Book") -> Iterator[Row]:
    """Where the book is, and what it could not hold."""
    from rigproof.wording import counted

    yield Row(str(target), lead="Show book: ", lead_tone="strong")
    yield Row(f"{counted(book.pages, 'page')}.", indent=2)
    for matter in left_out(book):
        yield Row(matter, indent=2, lead="- ")


def _finding_rows(verdict: "Verdict") -> Iterator[Row]:
    from rigproof.wording import counted

    if not verdict.clean:
        found = counted(len(verdict.findings), "finding")
        yield Row(f'The book carries {found}. "rigproof check" tells what to do.', indent=2)
