"""A folder, or its rig.yaml, to a rig: all faults in one go, or a model that holds together."""

from collections.abc import Mapping
from pathlib import Path

from rigproof.rig import FORMAT, GearType, Rig, RigFile
from rigproof.rig.entry import Spot
from rigproof.rig.geartype import Port
from rigproof.rig.lanes import bank_of, inner_lanes, sockets
from rigproof.rig.ref import HOUSE
from rigproof.rig.where import RigError, RigErrors, Where
from rigproof.rigfile import library, yaml12
from rigproof.rigfile.form import build
from rigproof.rigfile.names import name_faults, port_refs, uses

RIG_FILE = "rig.yaml"


def rig_path(path: Path) -> Path:
    """The rig file meant by a folder or a file.

    Raises:
        RigErrors: nothing there that could be a rig.
    """
    found = path / RIG_FILE if path.is_dir() else path
    if found.is_file():
        return found
    if path.is_dir():
        says, fix = (
            f"this folder has no {RIG_FILE}.",
            f'"rigproof new {path}" starts one there.',
        )
    elif found.exists():
        says, fix = (
            "this is not a file.",
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
    try:
        size = file.stat().st_size
        raw = file.read_bytes() if size <= yaml12.LARGEST_BYTES else bytes(size)
    except OSError as error:
        fault = RigError(
            at=Where(str(file)), says=f"cannot be read ({error.strerror})."
        )
        raise RigErrors([fault]) from error
    types, faults = library.own_types(file.parent)
    return parse(raw, file.name, types, faults, str(file.parent))


def parse(
    raw: bytes,
    name: str = RIG_FILE,
    types: Mapping[str, GearType] | None = None,
    faults: list[RigError] | None = None,
    folder: str = "",
) -> Rig:
    """A rig from the bytes of its file and the user's own gear types.

    Raises:
        RigErrors: everything that is wrong with it, in file order.
    """
    types, faults = dict(types or {}), list(faults or [])
    data, more = yaml12.read(raw, name)
    faults += more
    if data is None:
        raise RigErrors(faults)
    faults += _format_faults(data, Where(name))
    built, more = build(data, RigFile, Where(name))
    faults += more
    if built is None:
        raise RigErrors(faults)
    faults += name_faults(built, [*types, *library.type_ids()])
    if faults:
        raise RigErrors(faults)
    types = _used_types(built, types)
    faults += _socket_faults(built, types)
    if faults:
        raise RigErrors(faults)
    return Rig(built, types, folder)


def _format_faults(data: object, at: Where) -> list[RigError]:
    found = data.get("format") if isinstance(data, Spot) else None
    if isinstance(data, Spot) and isinstance(found, int) and found > FORMAT:
        return [
            RigError(
                at=data.where.of("format"),
                says=f"this file has form {found}; this program reads forms up to {FORMAT}.",
                fix="Update the program; the file is as it was.",
            )
        ]
    return []


def _used_types(file: RigFile, own: Mapping[str, GearType]) -> dict[str, GearType]:
    wanted = {
        u.name: u for u in uses(file) if u.kinds == ("gear type",) and not u.defines
    }
    return {
        name: own[name] if name in own else library.library_type(name)
        for name in sorted(wanted)
    }


def _socket_faults(file: RigFile, types: Mapping[str, GearType]) -> list[RigError]:
    """References to sockets, lanes and inner stages that the gear does not have."""
    of = {gear.id: types[gear.type] for gear in file.gear}
    for show in file.shows:
        of.update({gear.id: types[gear.type] for gear in show.gear})
    faults: list[RigError] = []
    for ref, at in port_refs(file):
        if ref.gear == HOUSE:
            continue
        try:
            if isinstance(bank_of(of[ref.gear], ref, at), Port):
                sockets(of, ref, at)
            else:
                inner_lanes(of[ref.gear], ref, entering=True, at=at)
        except RigError as fault:
            faults.append(fault)
    return faults
