"""Write the demo rig into a folder, judge it, and print its show book."""

import shutil
from argparse import ArgumentParser, Namespace
from pathlib import Path

from rigproof.cli.answer import CLEAN, Answer, CannotRun, Fault
from rigproof.cli.book import FILE, book_rows, print_book
from rigproof.cli.check import verdict_data, verdict_rows
from rigproof.cli.terminal import Row, working

DEMO = Path(__file__).parent.parent / "demo"
FOLDER = "rigproof-demo"


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof demo` takes."""
    parser.add_argument(
        "folder", metavar="FOLDER", nargs="?", default=FOLDER, help=f"{FOLDER} when left out"
    )


def run(asked: Namespace) -> Answer:
    """Copy, judge, print. The findings of the demo are there on purpose: the exit code is 0."""
    with working("Writing the demo and its show book"):
        from rigproof.checks.verdict import check_whole
        from rigproof.rigfile.load import load
        from rigproof.showbook.edition import Edition

        folder = Path(asked.folder)
        copy_demo(folder)
        rig = load(folder)
        verdict = check_whole(rig)
        book = folder.resolve() / FILE
        made = print_book(verdict, book, folder, Edition())
    rows = (
        *verdict_rows(rig, verdict),
        Row(),
        Row("This is an invented band. Most of what was found was put there to be found."),
        Row(str(folder.resolve() / "rig.yaml"), lead="Rig file: ", lead_tone="strong"),
        *book_rows(book, made),
    )
    result = {
        "folder": str(folder.resolve()),
        "book": str(book),
        "verdict": verdict_data(rig, verdict),
    }
    return Answer(CLEAN, result, rows)


def demo_files() -> dict[str, bytes]:
    """The demo as it ships: name within the folder, and content."""
    return {
        path.relative_to(DEMO).as_posix(): path.read_bytes()
        for path in sorted(DEMO.rglob("*.yaml"))
    }


def copy_demo(folder: Path) -> None:
    """Put the demo into a folder that is new, empty, or holds this very demo already.

    Raises:
        CannotRun: something else is there.
    """
    files = demo_files()
    if folder.exists() and not folder.is_dir():
        raise CannotRun(Fault(f'"{folder}" is a file, not a folder.', "Name another folder."))
    if folder.is_dir() and any(folder.iterdir()):
        if any(
            not (folder / name).is_file() or (folder / name).read_bytes() != content
            for name, content in files.items()
        ):
            raise CannotRun(
                Fault(
                    f'"{folder}" holds something else already, and nothing there was touched.',
                    "Name a new folder: rigproof demo FOLDER",
                )
            )
        return
    for name in files:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(DEMO / name, folder / name)
