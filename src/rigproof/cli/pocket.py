"""Write the pocket book: the whole rig in one HTML file that a phone opens without a network."""

from argparse import ArgumentParser, Namespace
from pathlib import Path

from rigproof.cli.answer import CLEAN, Answer, CannotRun, Fault
from rigproof.cli.papers import READERS, edition, edition_of
from rigproof.cli.terminal import Row, working

FILE = "pocket-book.html"
_SUFFIXES = {".html", ".htm"}


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof pocket` takes."""
    parser.add_argument("rig", metavar="RIG", nargs="?", default=".", help="a folder or its file")
    parser.add_argument(
        "-o",
        "--output",
        metavar="FILE.html",
        help=f"where; {FILE} beside the rig file when left out",
    )
    parser.add_argument(
        "--for",
        dest="reader",
        metavar="READER",
        choices=READERS,
        default="band",
        help="band, house, deputy or shop; only the band's carries numbers, passwords and prices",
    )
    edition(parser)


def run(asked: Namespace) -> Answer:
    """Load, judge, write one file."""
    with working("Writing the pocket book"):
        from rigproof.checks.verdict import check_whole
        from rigproof.rigfile.history import HIDDEN
        from rigproof.rigfile.load import load, rig_path
        from rigproof.rigfile.write import replace
        from rigproof.showbook.papers import Order
        from rigproof.showbook.pocket import pocket_book

        rig_file = rig_path(Path(asked.rig))
        target = Path(asked.output) if asked.output else rig_file.parent / FILE
        if target.suffix.lower() not in _SUFFIXES:
            raise CannotRun(
                Fault(
                    f'the pocket book is a web page, and "{target}" does not end in .html.',
                    f"For example: -o {FILE}",
                )
            )
        order = Order(
            verdict=check_whole(load(rig_file)),
            edition=edition_of(asked),
            cache=rig_file.parent / HIDDEN / "drawings",
        )
        book = pocket_book(order)
        replace(target, book.data)
    size_kb = round(len(book.data) / 1000)
    return Answer(
        CLEAN,
        {
            "pocket": str(target),
            "reader": asked.reader,
            "bytes": len(book.data),
            "sheets": [{"id": sheet.id, "title": sheet.title} for sheet in book.sheets],
        },
        (
            Row(str(target), lead="Pocket book: ", lead_tone="strong"),
            Row(
                f"{size_kb} kB in one file. Send it to the phones before the van leaves.", indent=2
            ),
        ),
    )
