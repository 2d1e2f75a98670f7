"""List the versions of a rig that were kept, show one, bring one back, or keep the rig as it is."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigproof.cli.answer import CLEAN, FOUND, Answer, CannotRun, Fault
from rigproof.cli.terminal import Part, Row, Table, Verbatim

if TYPE_CHECKING:
    from rigproof.rig.where import RigError
    from rigproof.rigfile.history import Version


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof history` takes."""
    parser.add_argument("rig", metavar="RIG", nargs="?", default=".", help="a folder or its file")
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--list", action="store_true", help="every version kept; the default")
    what.add_argument("--show", metavar="N", type=int, help="print the rig file of version N")
    what.add_argument(
        "--restore", metavar="N", type=int, help="bring version N back; what is there is kept first"
    )
    what.add_argument("--keep", metavar="NOTE", help="keep the rig as it stands, with a note")
    parser.add_argument("--file", metavar="FILE", help="another file of the rig, for --show")


def run(asked: Namespace) -> Answer:
    """Do the one thing asked."""
    from rigproof.rigfile import history
    from rigproof.rigfile.load import rig_path
    from rigproof.rigfile.write import locked, restore

    rig_file = rig_path(Path(asked.rig))
    folder = rig_file.parent
    if asked.show is not None:
        return _show(folder, asked.show, asked.file or rig_file.name)
    if asked.restore is not None:
        number, kept = asked.restore, restore(rig_file, asked.restore)
        same = kept.number == number
        says = "stands there already." if same else f"is back, as version {kept.number}."
        row = Row(f"version {number} {says}", lead=f"{folder.resolve().name}: ")
        return Answer(CLEAN, {"versions": [_data(kept)], "damage": []}, (row,))
    if asked.keep is not None:
        with locked(folder):
            kept = history.keep(folder, rig_file.name, asked.keep)
        row = Row(f"kept as version {kept.number}.", lead=f"{folder.resolve().name}: ")
        return Answer(CLEAN, {"versions": [_data(kept)], "damage": []}, (row,))
    known, damage = history.versions(folder)
    result = {"versions": [_data(one) for one in known], "damage": [str(fault) for fault in damage]}
    rows = tuple(_rows(folder, known, damage))
    return Answer(FOUND if damage else CLEAN, result, rows)


def _show(folder: Path, number: int, name: str) -> Answer:
    from rigproof.rigfile import history

    raw = history.show(folder, number, name)
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise CannotRun(
            Fault(f'"{name}" of version {number} is not text.', "--restore brings it back.")
        ) from error
    return Answer(CLEAN, {"version": number, "file": name, "text": text}, (Verbatim(text),))


def _rows(folder: Path, known: Sequence[Version], damage: Sequence[RigError]) -> Iterator[Part]:
    if known:
        yield Table(
            ("version", "kept (UTC)", "files", "why"),
            tuple(
                (str(one.number), _time(one.time), str(len(one.files)), one.note) for one in known
            ),
            wraps=3,
            right=frozenset({0, 2}),
        )
    else:
        yield Row("No version has been kept yet.", lead=f"{folder.resolve().name}: ")
        yield Row('rigproof history --keep "why" keeps the rig as it stands.', indent=2)
    for fault in damage:
        yield Row()
        yield Row(fault.says, lead=f"{fault.at}: ", lead_tone="strong")
        yield Row(fault.fix, indent=2)


def _time(iso: str) -> str:
    return iso.removesuffix("Z").replace("T", " ")[:16]


def _data(version: Version) -> dict[str, Any]:
    return {
        "number": version.number,
        "time": version.time,
        "note": version.note,
        "files": sorted(version.files),
    }
