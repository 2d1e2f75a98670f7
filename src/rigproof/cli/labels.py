"""Print labels at true scale: strips, panel legends, flags for both ends of every lead, cards."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigproof.cli.answer import CLEAN, Answer, CannotRun, Fault
from rigproof.cli.papers import edition, edition_of, known
from rigproof.cli.terminal import Row, working

if TYPE_CHECKING:
    from rigproof.checks.rule import View
    from rigproof.rig import Rig, Show
    from rigproof.showbook.labels import Asked, Label, LabelSheets, Reprint, Sheets

FILE = "labels.pdf"
KINDS = ("strips", "legends", "flags", "cards")
_MANY = 12  # losses in a row; the rest stand on the page with the key


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof labels` takes."""
    parser.add_argument("rig", metavar="RIG", nargs="?", default=".", help="a folder or its file")
    parser.add_argument(
        "-o", "--output", metavar="FILE.pdf", help=f"where; {FILE} beside the rig file"
    )
    parser.add_argument(
        "--only",
        metavar="KIND",
        choices=KINDS,
        action="append",
        default=[],
        help="strips, legends, flags or cards; may be repeated",
    )
    parser.add_argument(
        "--about",
        metavar="ID",
        action="append",
        default=[],
        help="labels of this box, lead or person only, or addresses; may be repeated",
    )
    parser.add_argument("--show", metavar="ID", help="as this show needs them")
    parser.add_argument(
        "--since",
        metavar="EARLIER",
        help="only what changed since a version of the history, or another folder or file",
    )
    parser.add_argument(
        "--colours",
        metavar="SCHEME",
        choices=("none", "digits", "players"),
        default="none",
        help="none, digits (the resistor code) or players (one colour each); with a legend",
    )
    _sheet(parser)
    edition(parser)


def _sheet(parser: ArgumentParser) -> None:
    parser.add_argument(
        "--sheet",
        metavar="WxH",
        help="flags on label sheets with labels of this size in mm, for example 70x37; "
        "plain paper with crop marks otherwise",
    )
    parser.add_argument("--grid", metavar="CxR", help="columns and rows of the label sheet")
    parser.add_argument(
        "--margins", metavar="LxT", help="mm to its first label from the left and from the top"
    )
    parser.add_argument("--gaps", metavar="XxY", help="mm between its labels")
    parser.add_argument(
        "--first", metavar="N", type=int, default=1, help="the first label that is still there"
    )
    parser.add_argument(
        "--offset-mm",
        metavar="X,Y",
        default="0,0",
        help="move everything to the right and down, as --calibrate told",
    )
    parser.add_argument(
        "--calibrate", action="store_true", help="print the page that shows where a printer prints"
    )


def run(asked: Namespace) -> Answer:
    """Find the labels, leave out what nobody needs anew, print the rest."""
    with working("Printing labels"):
        from rigproof.checks.rule import look
        from rigproof.rigfile.earlier import earlier
        from rigproof.rigfile.load import load, rig_path
        from rigproof.rigfile.write import replace
        from rigproof.showbook.labels import calibration, labels_pdf, reprint

        rig_file = rig_path(Path(asked.rig))
        target = Path(asked.output) if asked.output else rig_file.parent / FILE
        if target.suffix.lower() != ".pdf":
            raise CannotRun(
                Fault(f'labels are a PDF, and "{target}" does not end in .pdf.', f"-o {FILE}")
            )
        rig = load(rig_file)
        sheets = _sheets(asked)
        wanted = _wanted(asked)
        if asked.calibrate:
            replace(target, calibration(rig, wanted, sheets))
            return _calibrated(target)
        show = _show(rig, asked.show)
        known(asked.about, _things(rig), "box, lead or person")
        view = look(rig, show)
        labels = _labels(view, wanted, sheets)
        changed: Reprint | None = None
        if asked.since is not None:
            before = earlier(rig_file, asked.since).rig
            changed = reprint(_labels(look(before), wanted, sheets), labels)
            labels = changed.to_print
        if not labels:
            return _nothing(changed)
        made = _printed(view, labels, wanted, sheets, changed, labels_pdf)
        replace(target, made.pdf)
    return Answer(
        CLEAN, _data(target, labels, made, changed), tuple(_rows(target, labels, made, changed))
    )


def _wanted(asked: Namespace) -> Asked:
    from rigproof.showbook.labels import KINDS as EVERY
    from rigproof.showbook.labels import Asked as Wanted

    usual = ("flags",) if asked.sheet else KINDS
    return Wanted(
        edition=edition_of(asked),
        kinds=tuple(kind for kind in EVERY if kind in (asked.only or usual)),
        about=tuple(asked.about),
        scheme=asked.colours,
    )


def _sheets(asked: Namespace) -> Sheets:
    """The label sheet asked for, and where on it to begin."""
    from rigproof.showbook.labels import Sheets as Stack
    from rigproof.showbook.labels import StockError, stock
    from rigproof.showbook.labels.stock import pair

    try:
        grid = pair(asked.grid) if asked.grid else None
        found = (
            stock(
                asked.sheet,
                paper=asked.paper,
                grid=(int(grid[0]), int(grid[1])) if grid else None,
                margins_mm=pair(asked.margins) if asked.margins else None,
                gaps_mm=pair(asked.gaps) if asked.gaps else None,
            )
            if asked.sheet
            else None
        )
        offset = pair(asked.offset_mm, ",")
    except StockError as error:
        raise CannotRun(Fault(str(error), '"rigproof labels --help" shows the form.')) from error
    if found is None and (asked.grid or asked.margins or asked.gaps or asked.first != 1):
        raise CannotRun(
            Fault(
                "--grid, --margins, --gaps and --first are about label sheets.",
                "Say how large their labels are: --sheet 70x37.",
            )
        )
    if found is not None and not 1 <= asked.first <= found.places:
        raise CannotRun(
            Fault(f"--first {asked.first}: the sheet has labels 1 to {found.places}.", "--first 1")
        )
    return Stack(stock=found, first=asked.first, offset_mm=offset)


def _labels(view: View, wanted: Asked, sheets: Sheets) -> tuple[Label, ...]:
    from rigproof.showbook.labels import every_label
    from rigproof.showbook.labels.stock import plain_room_mm

    longest = (
        sheets.stock.width_mm
        if sheets.stock
        else plain_room_mm(wanted.edition.size, flipped=True)[0]
    )
    return every_label(view, wanted, longest)


def _printed(
    view: View,
    labels: Sequence[Label],
    wanted: Asked,
    sheets: Sheets,
    changed: Reprint | None,
    printer: Any,
) -> LabelSheets:
    from rigproof.showbook.labels import StockError

    try:
        made: LabelSheets = printer(
            view.rig, labels, wanted, sheets, changed.gone if changed else ()
        )
    except StockError as error:
        raise CannotRun(Fault(str(error), "Another --sheet, or none for plain paper.")) from error
    return made


def _show(rig: Rig, name: str | None) -> Show | None:
    shows = {show.id: show for show in rig.file.shows}
    known([name] if name else [], shows, "show")
    return shows[name] if name else None


def _things(rig: Rig) -> list[str]:
    """What labels can be about, of every night."""
    things = ["addresses"]
    shows = rig.file.shows
    for gear in (rig.file.gear, *(show.gear for show in shows)):
        things += [one.id for one in gear]
    for leads in (rig.file.leads, *(show.leads for show in shows)):
        things += [one.id for one in leads]
    for people in (rig.file.people, *(show.people for show in shows)):
        things += [one.id for one in people]
    return things


def _calibrated(target: Path) -> Answer:
    from rigproof.wording.phrases import phrase

    steps = tuple(Row(phrase("en", f"labels.calibrate_{n}"), indent=2) for n in range(1, 5))
    row = Row(str(target), lead="Calibration page: ", lead_tone="strong")
    return Answer(CLEAN, {"labels": str(target), "pages": 1, "printed": []}, (row, *steps))


def _nothing(changed: Reprint | None) -> Answer:
    gone = [_one(label) for label in changed.gone] if changed else []
    rows = [Row("Nothing to print: the labels in hand still hold.")]
    if changed is None:
        rows = [Row("Nothing to print: the rig has nothing for these labels.")]
    rows += _gone_rows(changed)
    return Answer(CLEAN, {"labels": "", "pages": 0, "printed": [], "gone": gone}, tuple(rows))


def _one(label: Label) -> dict[str, str]:
    return {"id": label.id, "kind": label.kind, "title": label.title}


def _data(
    target: Path, labels: Sequence[Label], made: LabelSheets, changed: Reprint | None
) -> dict[str, Any]:
    found: dict[str, Any] = {
        "labels": str(target),
        "pages": made.pages,
        "printed": [_one(label) for label in labels],
        "not_as_written": [
            {"label": x.label, "text": x.text, "shown": x.shown, "how": x.how} for x in made.losses
        ],
    }
    if changed is not None:
        found["gone"] = [_one(label) for label in changed.gone]
    return found


def _rows(
    target: Path, labels: Sequence[Label], made: LabelSheets, changed: Reprint | None
) -> Iterator[Row]:
    from rigproof.showbook.labels.fitting import alike
    from rigproof.wording import counted, listed

    yield Row(str(target), lead="Labels: ", lead_tone="strong")
    by_kind = {kind: sum(label.kind == kind for label in labels) for kind in KINDS}
    what = listed(counted(n, kind[:-1]) for kind, n in by_kind.items() if n)
    yield Row(f"{what} on {counted(made.pages, 'page')}, and the key. Print at 100 %.", indent=2)
    for matter in grave(made):
        yield Row(matter, indent=2, lead="- ")
    short = sum(loss.how == "short" for loss in alike(made.losses))
    if short:
        yield Row(
            f"{counted(short, 'text')} in short form, because the name is too long: see the key.",
            indent=2,
            lead="- ",
        )
    yield from _gone_rows(changed)


def grave(made: LabelSheets) -> list[str]:
    """What labels do not bear as it is written, in words, beyond short forms of names."""
    from rigproof.showbook.labels.fitting import alike
    from rigproof.wording.phrases import phrase

    told = [(loss, names) for loss, names in alike(made.losses).items() if loss.how != "short"]
    found = []
    for loss, names in told[:_MANY]:
        shown = f' stands as "{loss.shown}"' if loss.shown else ""
        why = phrase("en", f"labels.how_{loss.how}")
        more = f" and {len(names) - 1} more" if len(names) > 1 else ""
        found.append(f'{names[0]}{more}: "{loss.text}"{shown}: {why}')
    if len(told) > _MANY:
        found.append(f"and {len(told) - _MANY} more: see the key.")
    return found


def _gone_rows(changed: Reprint | None) -> Iterator[Row]:
    if changed is not None and changed.gone:
        yield Row("Take off:", indent=2)
        for label in changed.gone:
            yield Row(f"{label.title} ({label.kind})", indent=4, lead="- ")
