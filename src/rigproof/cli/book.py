"""Print the show book of a rig: every sheet the band and the house need, in one PDF."""

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from rigproof.cli.answer import CLEAN, FOUND, Answer, CannotRun, Fault
from rigproof.cli.terminal import Row, working

if TYPE_CHECKING:
    from rigproof.checks.verdict import Verdict
    from rigproof.rig import Rig

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


def run(asked: Namespace) -> Answer:
    """Load, judge, print. The verdict stands on the cover, so it also gives the exit code."""
    with working("Printing the show book"):
        from rigproof.checks.verdict import check
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
        rig = load(rig_file)
        verdict = check(rig)
        size = print_book(rig, verdict, target)
    return Answer(
        CLEAN if verdict.clean else FOUND,
        {"book": str(target), "bytes": size, "clean": verdict.clean},
        tuple(_rows(target, verdict)),
    )


def print_book(rig: "Rig", verdict: "Verdict", target: Path) -> int:
    """Write the show book to a file, whole or not at all; its size in bytes."""
    from rigproof.rigfile.write import replace
    from rigproof.showbook import book

    data = book(rig, verdict)
    replace(target, data)
    return len(data)


def _rows(target: Path, verdict: "Verdict") -> Iterator[Row]:
    from rigproof.wording import counted

    yield Row(str(target), lead="Show book: ", lead_tone="strong")
    if not verdict.clean:
        found = counted(len(verdict.findings), "finding")
        yield Row(f'The cover carries {found}. "rigproof check" tells what to do.')
