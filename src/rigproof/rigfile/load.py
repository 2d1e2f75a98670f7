"""A folder, or its rig.yaml, to a rig: all faults in one go, or a model that holds together."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from pathlib import Path

from rigproof.rig import GearType, Kept, Rig, RigFile
from rigproof.rig.collecting import no_collecting
from rigproof.rig.where import RigError, RigErrors, Where
from rigproof.rigfile import library, migrate
from rigproof.rigfile.files import file_bytes
from rigproof.rigfile.form import build
from rigproof.rigfile.measured import measured_texts, measurements
from rigproof.rigfile.names import Use, name_faults, uses
from rigproof.rigfile.sockets import socket_faults
from rigproof.rigfile.yaml12 import MOST_FAULTS

RIG_FILE = "rig.yaml"


def rig_path(path: Path) -> Path:
    """The rig file meant by a folder or a file.

    Raises:
        RigErrors: nothing there that could be a rig.
    """
    try:
        is_folder = path.is_dir()
        found = path / RIG_FILE if is_folder else path
        if found.is_file():
            return found
        is_something = found.exists() or found.is_symlink()
    except OSError as error:
        says = f"cannot be looked at: {(error.strerror or 'no reason given').lower()}."
        fix = "Check the name and its permissions."
        raise RigErrors([RigError(at=Where(str(path)), says=says, fix=fix)]) from error
    if is_folder and not is_something:
        says, fix = (
            f"this folder has no {RIG_FILE}.",
            f'"rigproof new {path}" starts one there.',
        )
    elif is_something:
        what = f"the {RIG_FILE} in it is" if is_folder else "this is"
        kind = "a folder" if found.is_dir() else "no file that can be read"
        says, fix = (
            f"{what} {kind}.",
            f"Name a folder with a {RIG_FILE}, or that file.",
        )
    else:
        says, fix = (
            "there is no such file or folder.",
            "Check the name, or name a folder.",
        )
    raise RigErrors([RigError(at=Where(str(path)), says=says, fix=fix)])


def load(path: Path) -> Rig:
    """Read a rig from its folder or its file.

    Raises:
        RigErrors: everything that is wrong with it, in file order.
    """
    file = rig_path(path)
    raw, unread = file_bytes(file, file.name)
    if unread:
        raise RigErrors(unread)
    texts = tuple(measured_texts(file.parent))
    version = (raw, *_gear_texts(file.parent), *(text[:2] for text in texts))
    kept = _KEPT.get(file.resolve())
    if kept is not None and kept[0] == version:
        return kept[1]
    types, faults = library.own_types(file.parent)
    measured, more = measurements(texts)
    try:
        rig = parse(raw, file.name, types, faults, str(file.parent), measured)
    except RigErrors as error:
        raise RigErrors([*error.faults, *more]) from None
    if more:
        raise RigErrors(more)
    if len(_KEPT) >= _MOST_KEPT:
        _KEPT.clear()
    _KEPT[file.resolve()] = (version, rig)
    return rig


# The rigs read last and the very bytes they were read from: asked again for a rig whose files say
# the same, there is nothing to read. A sound rig only: faults are looked for anew each time.
_KEPT: dict[Path, tuple[tuple[object, ...], Rig]] = {}
_MOST_KEPT = 4


def _gear_texts(folder: Path) -> Iterator[tuple[str, bytes]]:
    for path in sorted((folder / "gear").glob("*.yaml")):
        yield path.name, file_bytes(path, path.name)[0]


@no_collecting()
def parse(
    raw: bytes,
    name: str = RIG_FILE,
    types: Mapping[str, GearType] | None = None,
    faults: list[RigError] | None = None,
    folder: str = "",
    measured: tuple[Kept, ...] = (),
) -> Rig:
    """A rig from the bytes of its file, the user's own gear types and what was measured of it.

    Raises:
        RigErrors: everything that is wrong with it, in file order.
    """
    types, faults = dict(types or {}), list(faults or [])
    unknown_types = bool(faults)  # a faulty gear file: what it defines cannot be told
    data, more = migrate.read(raw, name, migrate.RIG_STEPS)
    faults += more
    if data is None:
        raise RigErrors(faults)
    built, more = build(data, RigFile, Where(name))
    faults += more
    if built is None:
        raise RigErrors(faults)
    type_ids = None if unknown_types else [*types, *library.type_ids()]
    named = uses(built)
    faults += islice(name_faults(built, named, type_ids), MOST_FAULTS)
    if faults:
        raise RigErrors(faults)
    types = _used_types(named, types)
    faults += socket_faults(built, types)
    if faults:
        raise RigErrors(faults)
    return Rig(built, types, folder, measured)


def _used_types(named: Sequence[Use], own: Mapping[str, GearType]) -> dict[str, GearType]:
    wanted = {use.name for use in named if use.kinds == ("gear type",) and not use.defines}
    return {
        name: own[name] if name in own else library.library_type(name) for name in sorted(wanted)
    }
