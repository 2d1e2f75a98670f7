"""Take an input list from a spreadsheet: show how it is understood, then write or fill a rig."""

import sys
from argparse import ArgumentParser, Namespace
from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigproof.cli.answer import CLEAN, Answer, CannotRun, Fault
from rigproof.cli.schema import RIG, SCHEMAS
from rigproof.cli.terminal import Part, Row, Table, clean, screen, working

if TYPE_CHECKING:
    from rigproof.rigfile.intake.cells import Grid
    from rigproof.rigfile.intake.sources import Input, Understood
    from rigproof.rigfile.intake.vocabulary import Field

REPORT = "imported.csv"
_SHOWN = 12  # of the first rows as understood
_LISTED = 20  # cells that were left out
_WORDS = {
    "sure": "by its heading",
    "likely": "by a word in its heading",
    "guess": "by what is in it",
    "told": "as you say",
    "none": "",
}
_YES, _NO = {"y", "yes", "j", "ja"}, {"n", "no", "nein", ""}


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof import` takes."""
    parser.add_argument("file", metavar="FILE", help="a workbook (XLSX) or a plain table (CSV)")
    parser.add_argument(
        "-o",
        "--output",
        metavar="FOLDER|RIG",
        help="a new folder to start a rig in, or a rig to add to; left out, nothing is written",
    )
    parser.add_argument("--sheet", metavar="NAME", help="which sheet; the one that looks like it")
    parser.add_argument(
        "--headings",
        metavar="ROW",
        type=int,
        help="which row holds the headings, 0 for none; the one that looks like it",
    )
    parser.add_argument(
        "--column",
        metavar="WHAT=COLUMN",
        action="append",
        default=[],
        help="what stands where, for example source=C; player=- for nowhere; may be repeated",
    )
    parser.add_argument("--yes", action="store_true", help="do not ask whether it is understood")


def run(asked: Namespace) -> Answer:
    """Read, show, ask, write; tell what became of every cell."""
    from rigproof.rigfile.intake.cells import Unreadable
    from rigproof.rigfile.intake.opening import opened
    from rigproof.rigfile.intake.understanding import understood

    file = Path(asked.file)
    told = _told(asked.column)
    if asked.headings is not None and asked.headings < 0:
        raise CannotRun(Fault("--headings takes the number of a row, or 0 for none."))
    with working("Reading"):
        try:
            grids = opened(file)
        except Unreadable as error:
            raise CannotRun(Fault(error.says, error.fix, file=str(file))) from error
        grid = _chosen(grids, asked.sheet)
        found = understood(grid, head_row=asked.headings, told=told)
    if not found.inputs:
        raise CannotRun(
            Fault(
                f'no source was found in sheet "{grid.name}".',
                "Say where things stand: --sheet NAME, --headings ROW, --column source=B.",
                file=str(file),
            )
        )
    if asked.output is None:
        return Answer(
            CLEAN,
            _data(found, written=[]),
            (*_understood_rows(found), *_next_rows(asked)),
        )
    found = _confirmed(asked, found)
    written, more, added = _written(asked, found)
    rows = (*_done_rows(written, found), *more)
    if asked.json or asked.yes:
        rows = (*_understood_rows(found), *rows)
    return Answer(CLEAN, _data(found, written=written, **added), rows)


# --- what is asked ------------------------------------------------------------------------------


def _told(words: Sequence[str]) -> "Mapping[Field, int | None]":
    """`source=C` and the like."""
    from rigproof.rigfile.intake.cells import column_of
    from rigproof.rigfile.intake.vocabulary import FIELDS

    told: dict[Field, int | None] = {}
    for one in words:
        name, sign, where = one.partition("=")
        field = next((f for f in FIELDS if f == name.strip().lower()), None)
        column = None if where.strip() == "-" else column_of(where.strip())
        if field is None:
            near = get_close_matches(name, FIELDS, n=1)
            fix = f'Did you mean "{near[0]}"?' if near else f"There are: {', '.join(FIELDS)}."
            raise CannotRun(Fault(f'"{name}" is nothing that a column can hold.', fix))
        if not sign or (column is None and where.strip() != "-"):
            raise CannotRun(
                Fault(f'"{one}" names no column.', f"Write {field}=C, or {field}=- for none.")
            )
        told[field] = column
    return told


def _chosen(grids: "Sequence[Grid]", name: str | None) -> "Grid":
    """The sheet named, or the one that looks most like an input list."""
    from rigproof.rigfile.intake.columns import likeness

    if name is None:
        shown = [grid for grid in grids if grid.cells and not grid.hidden]
        filled = shown or [grid for grid in grids if grid.cells]
        return max(filled, key=lambda grid: (likeness(grid), -grids.index(grid)))
    found = next((grid for grid in grids if grid.name == name), None) or next(
        (grid for grid in grids if grid.name.casefold() == name.casefold()), None
    )
    if found is None:
        names = [grid.name for grid in grids]
        near = get_close_matches(name, names, n=1)
        fix = f'Did you mean "{near[0]}"?' if near else f"There are: {', '.join(names)}."
        raise CannotRun(Fault(f'no sheet is called "{name}".', fix))
    return found


def _confirmed(asked: Namespace, found: "Understood") -> "Understood":
    """The sheet as a person agrees that it is understood."""
    if asked.yes:
        return found
    if asked.json or sys.stdin is None or not sys.stdin.isatty():
        raise CannotRun(
            Fault(
                "nobody is there to say whether the columns are understood. Nothing was written.",
                "Look at it first: leave -o out. Then add --yes.",
            )
        )
    from rigproof.rigfile.intake.understanding import understood

    told = dict(_told(asked.column))
    while True:
        screen(sys.stdout).show(*_understood_rows(found))
        print('Is that right? "yes", "no", or what stands where, such as player=E.')
        try:
            word = input("> ").strip()
        except EOFError as error:
            fault = Fault("the answer ended. Nothing was written.", "Run it again.")
            raise CannotRun(fault) from error
        if word.lower() in _YES:
            return found
        if word.lower() in _NO:
            raise CannotRun(Fault("stopped as you said. Nothing was written."))
        try:
            told.update(_told(word.split()))
        except CannotRun as error:
            print("\n".join(f"{fault.says} {fault.fix}" for fault in error.faults))
            continue
        found = understood(found.grid, head_row=asked.headings, told=told)


# --- writing ------------------------------------------------------------------------------------


def _written(
    asked: Namespace, found: "Understood"
) -> tuple[list[str], tuple[Part, ...], Mapping[str, list[str]]]:
    """Write the rig and the account of the cells: where, rows to show, what was added."""
    from rigproof.rigfile.write import replace

    target = Path(asked.output)
    folder = target.parent if target.name.endswith((".yaml", ".yml")) else target
    if folder.exists() and not folder.is_dir():
        raise CannotRun(Fault(f'"{folder}" is a file, not a folder.', "Name another folder."))
    report = folder / REPORT
    rig_file = target if folder is not target else folder / "rig.yaml"
    if rig_file.exists():
        rows, added = _merge(rig_file, found, asked.file)
    else:
        _start(folder, rig_file, found, Path(asked.file).name)
        rows, added = (), {"added": [one.name for one in found.inputs]}
    replace(report, _report(found))
    return [str(rig_file), str(report)], rows, added


def _start(folder: Path, rig_file: Path, found: "Understood", name: str) -> None:
    from rigproof.rigfile import history
    from rigproof.rigfile.intake.entering import new_rig
    from rigproof.rigfile.load import parse
    from rigproof.rigfile.write import replace

    text = new_rig(found, file=name, schema=f"./{RIG}")
    parse(text.encode("utf-8"), rig_file.name)  # what is written can be read: before it is written
    folder.mkdir(parents=True, exist_ok=True)
    replace(folder / RIG, (SCHEMAS / RIG).read_bytes())
    with rig_file.open("x", encoding="utf-8", newline="\n") as file:
        file.write(text)
    history.keep(folder, rig_file.name, f"imported from {name}")


def _merge(
    rig_file: Path, found: "Understood", name: str
) -> tuple[tuple[Part, ...], Mapping[str, list[str]]]:
    from rigproof.rigfile.intake.entering import merged
    from rigproof.rigfile.load import load
    from rigproof.rigfile.write import edit_rig

    found_there = merged(found, load(rig_file))
    if found_there.edits:
        edit_rig(rig_file, found_there.edits, f"imported from {Path(name).name}")
    parts = {
        "added": list(found_there.added),
        "filled": list(found_there.filled),
        "differs": list(found_there.differs),
    }
    titles = {
        "added": "Added:",
        "filled": "Filled in, because the rig left it out:",
        "differs": "Left as the rig has it:",
    }
    rows: list[Part] = []
    for key, title in titles.items():
        if parts[key]:
            rows.append(Row(title, tone="strong"))
            rows += [Row(one, indent=2, lead="- ") for one in parts[key]]
    if not found_there.edits:
        rows.append(Row("The rig has all of it already; nothing was changed."))
    return tuple(rows), parts


def _report(found: "Understood") -> bytes:
    """The account of every cell, as a table that a spreadsheet opens."""
    import csv
    from io import StringIO

    from rigproof.rigfile.intake.apostrophes import defused

    text = StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(["cell", "row", "column", "value", "became", "what"])
    for fate in found.fates:
        row, _ = fate.place
        column = fate.cell.rstrip("0123456789")
        writer.writerow(
            [fate.cell, row, column, defused(fate.value), fate.became, defused(fate.what)]
        )
    return ("\ufeff" + text.getvalue()).encode("utf-8", "replace")


# --- showing ------------------------------------------------------------------------------------


def _understood_rows(found: "Understood") -> Iterator[Part]:
    """The guess: what each column is taken for, and the first rows as they are understood."""
    head = f"headings in row {found.head.row}" if found.head.row else "no headings found"
    yield Row(f'"{clean(found.grid.name)}", {head}', lead="Sheet: ", lead_tone="strong")
    yield Row()
    yield Table(
        ("column", "heading", "taken for", ""),
        tuple(
            (one.name, one.heading[:40], one.field or "kept as notes", _WORDS[one.trust])
            for one in found.columns
        ),
        indent=2,
        wraps=1,
    )
    yield Row()
    yield Row("The first rows as understood:", tone="strong")
    yield Table(
        ("row", "channel", "source", "player", "mic or DI", "48 V", "stand", "line", "notes"),
        tuple(_input_row(one) for one in found.inputs[:_SHOWN]),
        indent=2,
        wraps=8,
    )
    more = len(found.inputs) - _SHOWN
    if more > 0:
        yield Row(f"and {more} more", indent=2)
    yield Row()
    yield from _account_rows(found)


def _input_row(one: "Input") -> tuple[str, ...]:
    first, last = one.channels or (0, 0)
    channel = "" if not first else str(first) if first == last else f"{first}-{last}"
    width = " (pair)" if one.stereo else ""
    power = {"must": "yes", "on": "on", "never": "never"}.get(one.phantom or "", "")
    notes = " \u00b7 ".join(one.notes)
    cells = (one.name[:40] + width, one.player[:30], one.mic, power, one.stand[:30], one.line[:20])
    return (str(one.row), channel, *cells, notes[:60])


def _account_rows(found: "Understood") -> Iterator[Row]:
    """How many cells became what; those that were left out one by one."""
    counts = _counts(found)
    from rigproof.wording import counted

    told = ", ".join(f"{number} {what}" for what, number in counts.items() if number)
    yield Row(
        f"{counted(len(found.inputs), 'source')}; {counted(len(found.fates), 'cell')}: {told}.",
        lead="Account: ",
        lead_tone="strong",
    )
    left = [fate for fate in found.fates if fate.became == "left out"]
    for fate in left[:_LISTED]:
        yield Row(f'{fate.cell} "{fate.value[:60]}": {fate.what}', indent=2, lead="- ")
    if len(left) > _LISTED:
        yield Row(f"and {len(left) - _LISTED} more left out", indent=2)
    for remark in found.remarks[:_LISTED]:
        yield Row(f"{remark[:1].upper()}{remark[1:]}.", indent=2, lead="- ")
    if len(found.remarks) > _LISTED:
        yield Row(f"and {len(found.remarks) - _LISTED} more remarks", indent=2)


def _counts(found: "Understood") -> dict[str, int]:
    kinds = ("used", "kept as note", "left out")
    return {kind: sum(fate.became == kind for fate in found.fates) for kind in kinds}


def _next_rows(asked: Namespace) -> Iterator[Row]:
    yield Row()
    yield Row("Nothing was written yet. Where a column is wrong: --column source=C and the like.")
    yield Row(f"Then:  rigproof import {asked.file} -o NEW-FOLDER   (or a rig, to add to it)")


def _done_rows(written: Sequence[str], found: "Understood") -> Iterator[Row]:
    rig, report = written
    yield Row(rig, lead="Written: ", lead_tone="strong")
    yield Row(
        f"{report} tells what became of each of {len(found.fates)} cells.",
        lead="Account: ",
        lead_tone="strong",
    )


def _data(found: "Understood", *, written: list[str], **merged: list[str]) -> dict[str, Any]:
    return {
        "sheet": found.grid.name,
        "headings": found.head.row,
        "columns": [
            {"column": one.name, "heading": one.heading, "for": one.field, "trust": one.trust}
            for one in found.columns
        ],
        "sources": [
            {
                "row": one.row,
                "name": one.name,
                "channels": list(one.channels) if one.channels else None,
                "stereo": one.stereo,
                "player": one.player,
                "phantom": one.phantom,
                "notes": list(one.notes),
            }
            for one in found.inputs
        ],
        "cells": [
            {"cell": one.cell, "value": one.value, "became": one.became, "what": one.what}
            for one in found.fates
        ],
        "remarks": list(found.remarks),
        "written": written,
        "added": merged.get("added", []),
        "filled": merged.get("filled", []),
        "differs": merged.get("differs", []),
    }
