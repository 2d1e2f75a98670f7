"""Hand a rig to other programs: a workbook, plain tables, data, drawings."""

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from rigproof.cli.answer import CLEAN, Answer, CannotRun, Fault
from rigproof.cli.papers import READERS, edition, edition_of, known
from rigproof.cli.terminal import Row, working

if TYPE_CHECKING:
    from rigproof.showbook.exchange.workbook import Workbook
    from rigproof.showbook.papers import Order

# One file, or a folder of several.
FILES = {"xlsx": ".xlsx", "json": ".json"}
FOLDERS = ("csv", "svg", "dxf")
FORMS = ("xlsx", "csv", "json", "svg", "dxf")


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof export` takes."""
    parser.add_argument("rig", metavar="RIG", nargs="?", default=".", help="a folder or its file")
    parser.add_argument(
        "--as",
        dest="form",
        metavar="|".join(FORMS),
        choices=FORMS,
        required=True,
        help="a workbook of all lists and papers; lists; the whole rig as data; drawings on paper; "
        "drawings at true size",
    )
    parser.add_argument(
        "-o",
        "--output",
        metavar="FILE|FOLDER",
        help="a file for xlsx and json, a folder for the others; beside the rig file when left out",
    )
    parser.add_argument(
        "--for",
        dest="reader",
        metavar="READER",
        choices=READERS,
        default="band",
        help="band, house, deputy or shop; only the band's carry serial numbers, prices and the "
        "rig itself",
    )
    parser.add_argument(
        "--venue", metavar="ID", action="append", default=[], help="only for this venue"
    )
    edition(parser)


def run(asked: Namespace) -> Answer:
    """Write what was asked for; say where it is and what did not fit."""
    with working("Exporting"):
        from rigproof.checks.verdict import check_whole
        from rigproof.rigfile.history import HIDDEN
        from rigproof.rigfile.load import load, rig_path
        from rigproof.rigfile.write import replace
        from rigproof.showbook.papers import Order

        rig_file = rig_path(Path(asked.rig))
        target = _target(asked, rig_file.parent)
        rig = load(rig_file)
        known(asked.venue, rig.venues, "venue")
        order = Order(
            verdict=check_whole(rig),
            edition=edition_of(asked),
            venues=tuple(asked.venue),
            cache=rig_file.parent / HIDDEN / "drawings",
        )
        files, left_out = _made(asked.form, order)
        if not files:
            raise CannotRun(
                Fault(
                    f"nothing to write: no {asked.form} of this rig is for the {asked.reader}.",
                    "Ask for another form, or for another reader.",
                )
            )
        if asked.form in FILES:
            (content,) = files.values()
            written = {target: content}
        else:
            target.mkdir(parents=True, exist_ok=True)
            written = {target / name: content for name, content in files.items()}
        for path, content in written.items():
            replace(path, content)
    names = [str(path) for path in written]
    return Answer(
        CLEAN,
        {"as": asked.form, "for": asked.reader, "written": names, "left_out": left_out},
        tuple(_rows(names, left_out)),
    )


def _target(asked: Namespace, beside: Path) -> Path:
    end = FILES.get(asked.form)
    if asked.output is None:
        return beside / (f"rig-{asked.reader}{end}" if end else f"rig-{asked.reader}-{asked.form}")
    target = Path(asked.output)
    if end is not None and (target.is_dir() or target.suffix.lower() != end):
        raise CannotRun(Fault(f'"{target}" does not end in {end}.', f"-o {target.stem}{end}"))
    if end is None and target.exists() and not target.is_dir():
        raise CannotRun(
            Fault(
                f'"{target}" is a file, and {asked.form} is several files.', "Name a folder: -o out"
            )
        )
    return target


def _made(form: str, order: "Order") -> tuple[Mapping[str, bytes], list[str]]:
    """The files by name, and what they could not hold."""
    if form == "xlsx":
        from rigproof.showbook.exchange import listings
        from rigproof.showbook.exchange.workbook import workbook
        from rigproof.showbook.papers import for_reader

        papers = (paper for paper in for_reader(order.edition.reader) if not paper.drawn)
        sheets = (sheet for paper in papers for sheet in paper.sheets(order))
        made = workbook(order, listings(order), sheets)
        return {"": made.xlsx}, cut_short(made)
    if form == "csv":
        from rigproof.showbook.exchange import listings
        from rigproof.showbook.exchange.commas import commas

        return {f"{one.id}.csv": commas(one) for one in listings(order)}, []
    if form == "json":
        from rigproof.showbook.exchange.whole import whole

        return {"": whole(order)}, []
    if form == "svg":
        from rigproof.showbook.exchange.pictures import pictures

        return dict(pictures(order)), []
    from rigproof.showbook.exchange.outlines import outlines

    return dict(outlines(order)), []


def cut_short(made: "Workbook") -> list[str]:
    """What no cell could hold, in words."""
    return [f'too long for a cell, cut short: "{one.begins} ..."' for one in made.cut]


def _rows(names: list[str], left_out: list[str]) -> Iterator[Row]:
    for name in names:
        yield Row(name, lead="Written: ", lead_tone="strong")
    for matter in left_out:
        yield Row(matter, indent=2, lead="- ")
