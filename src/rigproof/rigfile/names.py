"""Every name a rig file uses must be one that it, or the gear library, defines.

The model marks which fields define a name and which use one, so a new kind of entry is covered
as soon as it is written, and renaming finds every use.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from difflib import get_close_matches
from functools import lru_cache
from typing import Any, get_args, get_origin

import msgspec

from rigproof.rig import Gear, RigFile
from rigproof.rig.entry import Defines, Entry, NameOf
from rigproof.rig.outside import Circuit
from rigproof.rig.ref import HOUSE, PortRef
from rigproof.rig.where import RigError, Where


class Use(msgspec.Struct, frozen=True):
    """One place where a name is defined (`defines`) or used."""

    entry: Entry
    field: str  # as the model calls it
    key: str  # as the file calls it
    name: str
    kinds: tuple[str, ...]
    defines: bool

    @property
    def at(self) -> Where:
        return self.entry.where.of(self.key)


@lru_cache
def _marks(cls: type[Entry]) -> tuple[tuple[str, str, Any, bool], ...]:
    """(attribute, key in the file, mark or None, whether entries lie below) of a class."""
    marks = []
    for attribute, key in zip(cls.__struct_fields__, cls.__struct_encode_fields__, strict=True):
        hint = _hint(cls, attribute)
        mark = _mark(hint)
        nested = _nested(hint)
        if mark is not None or nested:
            marks.append((attribute, key, mark, nested))
    return tuple(marks)


def _hint(cls: type, attribute: str) -> Any:
    for owner in cls.__mro__:
        found = owner.__dict__.get("__annotations__", {})  # noqa: RUF063 (that import is dear)
        if attribute in found:
            return found[attribute]
    raise AttributeError(attribute)


def _mark(hint: Any) -> Any:
    if hint is PortRef:
        return PortRef
    for extra in getattr(hint, "__metadata__", ()):
        if isinstance(extra, Defines | NameOf):
            return extra
    if get_origin(hint) is not None:
        return next((m for m in map(_mark, get_args(hint)) if m is not None), None)
    return None


def _nested(hint: Any) -> bool:
    if isinstance(hint, type) and issubclass(hint, Entry):
        return True
    return any(_nested(arg) for arg in get_args(hint) if arg is not Ellipsis)


def uses(entry: Entry) -> Sequence[Use]:
    """Every name defined or used in an entry and in what lies below it, in file order."""
    found: list[Use] = []
    _gather(entry, found)
    return found


def _gather(entry: Entry, found: list[Use]) -> None:
    for attribute, key, mark, nested in _marks(type(entry)):
        value = getattr(entry, attribute)
        if value is None:
            continue
        values = value if isinstance(value, tuple) else (value,)
        if nested:
            for part in values:
                _gather(part, found)
            continue
        for name in values:
            if mark is PortRef:
                found.append(Use(entry, attribute, key, name.gear, _BOX, False))
            elif isinstance(mark, Defines):
                found.append(Use(entry, attribute, key, name, (mark.kind,), True))
            else:
                found.append(Use(entry, attribute, key, name, mark.kinds, False))


_BOX = ("gear",)
_TYPE = ("gear type",)


def unknown_name(name: str, known: Collection[str], *, kind: str, at: Where) -> RigError:
    """The fault of a name that nothing answers to, with the nearest right one."""
    near = get_close_matches(name, known, n=1)
    some = sorted(known)
    if near:
        fix = f'Did you mean "{near[0]}"?'
    elif not some:
        fix = f"This file has no {kind} yet."
    else:
        more = f" and {len(some) - 12} more" if len(some) > 12 else ""
        who = "The library has" if kind == "gear type" else "This file has"
        fix = f"{who}: {', '.join(some[:12])}{more}."
    if kind == "gear type":
        fix += " One of your own goes into a file in gear, beside the rig file."
    return RigError(at=at, says=f'no {kind} is called "{name}".', fix=fix)


# A show may replace these by naming them again.
_REPLACEABLE = {"mix", "feed", "group", "stream", "radio link"}


def name_faults(
    file: RigFile, found: Sequence[Use], type_ids: Collection[str] | None
) -> Iterator[RigError]:
    """Names defined twice, and names that nothing answers to, of all that a file names.

    `type_ids`: every gear type there is; None while a gear file is faulty and nobody can tell.
    """
    shows = {id(entry): show.id for show in file.shows for entry in _below(show)}
    known: dict[str, set[str]] = {"gear type": set(type_ids or ()), "gear": {HOUSE}}
    along: dict[tuple[str, str], set[str]] = {("gear", HOUSE): {""}}  # name -> shows; "": always
    first: dict[tuple[str, str], tuple[Use, str]] = {}
    case = file.case.id if file.case else ""
    for use in found:
        if not use.defines:
            continue
        kind, show = use.kinds[0], shows.get(id(use.entry), "")
        if kind == "gear" and use.name == HOUSE:
            yield RigError(
                at=use.at,
                says=f'no box can be called "{HOUSE}": that name means the ends of the tails.',
                fix="Give it another name.",
            )
        known.setdefault(kind, set()).add(use.name)
        along.setdefault((kind, use.name), set()).add(show)
        earlier = first.setdefault((kind, use.name), (use, show))
        if earlier[0] is use or (show and kind in _REPLACEABLE):
            continue
        if show == earlier[1] or not earlier[1]:
            yield RigError(
                at=use.at,
                says=f'two {_plural(kind)} are called "{use.name}" '
                f"(the first in line {earlier[0].at.line}).",
                fix="Give one of them another name.",
            )
    for use in found:
        if use.defines or (use.kinds == _TYPE and type_ids is None):
            continue
        if not any(use.name in known.get(k, ()) for k in use.kinds):
            everything = {name for k in use.kinds for name in known.get(k, ())} - {HOUSE}
            yield unknown_name(use.name, everything, kind=" or ".join(use.kinds), at=use.at)
        elif use.kinds != _TYPE and not any("" in along.get((k, use.name), ()) for k in use.kinds):
            yield from _elsewhere(use, shows.get(id(use.entry), ""), along)
        if use.kinds == _BOX and (use.name == HOUSE or use.name == case):
            yield from _no_box(use, case)


def _elsewhere(
    use: Use, show: str, along: Mapping[tuple[str, str], set[str]]
) -> Iterator[RigError]:
    """A name that only comes along to a show means nothing on any other night."""
    where = set[str]().union(*(along.get((kind, use.name), set()) for kind in use.kinds))
    if where & {"", show}:
        return
    yield RigError(
        at=use.at,
        says=f'"{use.name}" only comes along to the show {", ".join(sorted(where))}.',
        fix="Move what names it to that show, or what it names out of it.",
    )


def _no_box(use: Use, case: str) -> Iterator[RigError]:
    """The case holds boxes, and only what is kept inside it may name it; the house has sockets."""
    is_socket = isinstance(getattr(use.entry, use.field), PortRef)
    if use.name == HOUSE and not is_socket:
        what = "the far end of the tails"
    elif use.name == case and not isinstance(use.entry, Gear | Circuit):
        what = "the case"
    else:
        return
    yield RigError(
        at=use.at,
        says=f'"{use.name}" is {what}, and a box is wanted here.',
        fix="Name a box under gear.",
    )


def _below(entry: Entry) -> Iterator[Entry]:
    yield entry
    for attribute, _, _, nested in _marks(type(entry)):
        if nested:
            value = getattr(entry, attribute)
            for part in value if isinstance(value, tuple) else (value,):
                if part is not None:
                    yield from _below(part)


def _plural(kind: str) -> str:
    return {"person": "people", "mix": "mixes", "gear": "boxes"}.get(kind, f"{kind}s")


def port_refs(file: RigFile) -> Iterator[tuple[Entry, str, str, PortRef]]:
    """Every socket or lane that the file names: by which entry, in which field, by which key."""
    for entry in _below(file):
        for attribute, key, mark, _ in _marks(type(entry)):
            value = getattr(entry, attribute)
            if mark is PortRef and value is not None:
                yield entry, attribute, key, value
