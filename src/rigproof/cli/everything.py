"""All papers of a rig for one reader into one folder: what `rigproof papers --all` does."""

from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from rigproof.cli import book, export, labels, pocket
from rigproof.cli.answer import CLEAN, Answer, CannotRun, Fault
from rigproof.cli.papers import edition_of, left_out, wake_drawing
from rigproof.cli.terminal import Row, working
from rigproof.rig.collecting import no_collecting

if TYPE_CHECKING:
    from rigproof.showbook.everything import Everything

# One file each: name, what is in it, what it could not hold.
_File = tuple[str, bytes, list[str]]


@no_collecting()
def everything(asked: Namespace) -> Answer:
    """Print the whole set; each file bears the name that its own command would give it."""
    chosen = [f"--{name}" for name in ("only", "person", "venue") if getattr(asked, name)]
    if chosen:
        raise CannotRun(
            Fault(
                f"--all is everything, and {chosen[0]} is a part of it.",
                f"Leave out --all, or {chosen[0]}.",
            )
        )
    with working("Printing everything"):
        wake_drawing()
        from rigproof.checks.verdict import check_whole
        from rigproof.rigfile.earlier import earlier
        from rigproof.rigfile.history import HIDDEN
        from rigproof.rigfile.load import load, rig_path
        from rigproof.rigfile.write import replace

        rig_file = rig_path(Path(asked.rig))
        folder = _folder(asked, rig_file.parent)
        verdict = check_whole(load(rig_file))
        from rigproof.showbook.everything import everything as made_of
        from rigproof.showbook.papers import Order

        order = Order(
            verdict=verdict,
            edition=edition_of(asked),
            earlier=None if asked.since is None else earlier(rig_file, asked.since).rig,
            cache=rig_file.parent / HIDDEN / "drawings",
        )
        files = list(_files(made_of(order), asked.reader))
        folder.mkdir(parents=True, exist_ok=True)
        for name, content, _ in files:
            replace(folder / name, content)
    lost = [f"{name}: {matter}" for name, _, matters in files for matter in matters]
    return Answer(
        CLEAN,
        {
            "folder": str(folder),
            "reader": asked.reader,
            "written": [str(folder / name) for name, _, _ in files],
            "left_out": lost,
        },
        (
            Row(str(folder), lead="Everything: ", lead_tone="strong"),
            *(Row(name, indent=2) for name, _, _ in files),
            *(Row(matter, indent=2, lead="- ") for matter in lost),
        ),
    )


def _folder(asked: Namespace, beside: Path) -> Path:
    folder = Path(asked.output) if asked.output else beside / f"papers-{asked.reader}"
    if folder.suffix.lower() == ".pdf" or (folder.exists() and not folder.is_dir()):
        raise CannotRun(
            Fault(f'"{folder}" is a file, and --all is several.', "Name a folder: -o out")
        )
    return folder


def _files(made: "Everything", reader: str) -> Iterator[_File]:
    if made.book is not None:
        yield book.FILE, made.book.pdf, left_out(made.book)
    if made.papers is not None:
        yield f"papers-{reader}.pdf", made.papers.pdf, left_out(made.papers)
    if made.labels is not None:
        yield labels.FILE, made.labels.pdf, labels.grave(made.labels)
    yield pocket.FILE, made.pocket.data, []
    yield f"rig-{reader}.xlsx", made.workbook.xlsx, export.cut_short(made.workbook)
