"""An earlier version of a rig, to lay beside the present one: a kept one, or another folder."""

import tempfile
from pathlib import Path

import msgspec

from rigproof.rig import Rig
from rigproof.rig.where import RigError, RigErrors, Where
from rigproof.rigfile import history
from rigproof.rigfile.load import load, rig_path


class Earlier(msgspec.Struct, frozen=True):
    """An earlier rig and what it is called: `version 3 of the history`, or a path."""

    rig: Rig
    number: int | None  # of the history
    path: str


def earlier(rig_file: Path, which: str = "") -> Earlier:
    """The rig to compare with: a number of the history, a folder or file, or the last that differs.

    Raises:
        RigErrors: no such version or file, nothing kept that differs, or it cannot be read.
    """
    if which.isdecimal() and not Path(which).exists():
        return kept(rig_file, int(which))
    if which:
        return Earlier(load(Path(which)), None, str(rig_path(Path(which))))
    number = _last_that_differs(rig_file)
    if number is None:
        says = "no earlier version is kept that says anything else."
        fix = "Name another folder or file, or keep versions: rigproof history --keep NOTE."
        raise RigErrors([RigError(at=Where(str(rig_file)), says=says, fix=fix)])
    return kept(rig_file, number)


def kept(rig_file: Path, number: int) -> Earlier:
    """A rig as a version of the history has it, with its own gear types.

    Raises:
        RigErrors: no such version, or what it holds is damaged or no longer understood.
    """
    contents = history.contents(rig_file.parent, number)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for file, raw in contents.items():
            if not file.startswith("measured/"):
                (folder / file).parent.mkdir(parents=True, exist_ok=True)
                (folder / file).write_bytes(raw)
        return Earlier(load(folder / rig_file.name), number, str(rig_file))


def _last_that_differs(rig_file: Path) -> int | None:
    """The newest version with another rig file or other gear; measurements are no description."""
    folder = rig_file.parent
    now = {
        name: history.digest((folder / name).read_bytes())
        for name in history.versioned(folder, rig_file.name)
        if not name.startswith("measured/")
    }
    for version in reversed(history.versions(folder)[0]):
        then = {n: d for n, d in version.files.items() if not n.startswith("measured/")}
        if then != now:
            return version.number
    return None
