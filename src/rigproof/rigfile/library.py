"""The gear library: types that ship with the program, and the user's own beside the rig.

Reading thousands of lines to use thirty types would cost more than the whole check, so a library
file is cut at the first line of each type and only the pieces asked for are parsed. A test holds
the cut against a full parse.
"""

import re
from collections.abc import Mapping
from functools import cache, lru_cache
from pathlib import Path

import msgspec

from rigproof.rig import GearFile, GearType
from rigproof.rig.entry import Spot
from rigproof.rig.geartype import Port, Stage
from rigproof.rig.lanes import inner_lanes
from rigproof.rig.ref import BankRef
from rigproof.rig.where import RigError, Where
from rigproof.rigfile import migrate, yaml12
from rigproof.rigfile.figures import figure_faults, size_faults
from rigproof.rigfile.files import file_bytes
from rigproof.rigfile.form import build

LIBRARY = Path(__file__).parent.parent / "library"

_FIRST_LINE = re.compile(r"^  - id: ([a-z0-9-]+)\s*$", re.MULTILINE)


class _Piece(msgspec.Struct, frozen=True):
    file: str
    line: int  # of its first line, from 1
    text: str


@lru_cache
def _pieces() -> Mapping[str, _Piece]:
    found: dict[str, _Piece] = {}
    for path in sorted(LIBRARY.glob("*.yaml")):
        text = path.read_text(encoding="utf-8")
        starts = list(_FIRST_LINE.finditer(text))
        ends = [*(m.start() for m in starts[1:]), len(text)]
        for match, end in zip(starts, ends, strict=True):
            line = text.count("\n", 0, match.start()) + 1
            found[match[1]] = _Piece(f"library/{path.name}", line, text[match.start() : end])
    return found


def type_ids() -> tuple[str, ...]:
    """The names of all types of the library."""
    return tuple(_pieces())


@cache
def library_type(type_id: str) -> GearType:
    """One type of the library.

    Raises:
        KeyError: the library has no such type.
    """
    piece = _pieces()[type_id]
    # Blank lines before the piece keep its line numbers those of the file.
    text = "\n" * (piece.line - 2) + "types:\n" + piece.text if piece.line > 1 else piece.text
    data, faults = yaml12.read(text.encode(), piece.file)
    if isinstance(data, Spot):
        data["format"] = 1
        built, more = build(data, GearFile, Where(piece.file))
        if built is not None:
            return built.types[0]
        faults = faults + more
    raise AssertionError(f"the shipped library is faulty: {faults[0]}")


def own_types(folder: Path) -> tuple[dict[str, GearType], list[RigError]]:
    """The types in the `gear` folder beside a rig, and the faults of those files."""
    types: dict[str, GearType] = {}
    faults: list[RigError] = []
    for path in sorted((folder / "gear").glob("*.yaml")):
        file = f"gear/{path.name}"
        raw, unread = file_bytes(path, file)
        if unread:
            faults += unread
            continue
        data, more = migrate.read(raw, file, migrate.GEAR_STEPS)
        faults += more
        if data is None:
            continue
        built, more = build(data, GearFile, Where(file))
        faults += more
        for type_ in built.types if built else ():
            if type_.id in types:
                faults.append(
                    RigError(
                        at=type_.where.of("id"),
                        says=f'two gear types are called "{type_.id}" (the other in '
                        f"{types[type_.id].where}).",
                        fix="Give one of them another name.",
                    )
                )
            types.setdefault(type_.id, type_)
            faults += type_faults(type_)
    return types, faults


def type_faults(type_: GearType) -> list[RigError]:
    """What is inconsistent inside one type: banks that do not exist, wires that do not match."""
    faults: list[RigError] = list(figure_faults(type_))
    oversized = list(size_faults(type_))
    if oversized:
        return faults + oversized  # counting on would take the time that this is about
    seen: set[str] = set()
    banks: list[Port | Stage] = [*type_.ports, *type_.inside.stages]
    for bank in banks:
        if bank.id in seen:
            faults.append(
                RigError(
                    at=bank.where.of("id"),
                    says=f'two ports or stages of {type_.name} are called "{bank.id}".',
                    fix="Give one of them another name.",
                )
            )
        seen.add(bank.id)
    for port in type_.ports:
        if port.way == "both" and not port.lanes_rx and not port.lanes_tx and _audio(port.carries):
            faults.append(
                RigError(
                    at=port.where,
                    says=f'"{port.id}" works both ways but carries no lanes.',
                    fix="Give lanes_rx (what it receives) and lanes_tx (what it sends).",
                )
            )
    for wire in type_.inside.wires:
        start, more = _lanes(type_, wire.from_, wire.where.of("from"), entering=True)
        end, others = _lanes(type_, wire.to, wire.where.of("to"), entering=False)
        faults += more + others
        if start and end and wire.pattern == "straight" and len(start) != len(end):
            faults.append(
                RigError(
                    at=wire.where,
                    says=f"{len(start)} lanes of {wire.from_} cannot run straight to "
                    f"{len(end)} of {wire.to}.",
                    fix="Name equal ranges, or set pattern: every where all reach all.",
                )
            )
    for choice in type_.inside.choices:
        for ref in choice.from_:
            faults += _lanes(type_, ref, choice.where.of("from"), entering=True)[1]
        faults += _lanes(type_, choice.to, choice.where.of("to"), entering=False)[1]
    return faults


def _lanes(
    type_: GearType, ref: BankRef, at: Where, *, entering: bool
) -> tuple[tuple[str, ...], list[RigError]]:
    try:
        return inner_lanes(type_, ref, entering=entering, at=at), []
    except RigError as fault:
        return (), [fault]


def _audio(carries: str) -> bool:
    return carries not in {"control", "midi", "switch", "mains", "dc", "usb", "network"}
