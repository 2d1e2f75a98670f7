"""Sockets, boxes and people in the user's own words."""

from collections.abc import Iterable

from rigproof.rig import Rig
from rigproof.rig.ref import HOUSE
from rigproof.wording import listed

FEW = 6  # more names than this in one sentence and nobody reads to its end


def box(rig: Rig, gear: str) -> str:
    """A box by its display name, else by the name the file gives it."""
    if gear in rig.gear:
        return rig.gear[gear].name or gear
    owner, _, part = gear.partition("/")
    if owner in rig.sources and part:
        kind = "DI" if part.startswith("di") else "microphone"
        return f"the {kind} of {rig.sources[owner].name}"
    return gear


def place(rig: Rig, key: str) -> str:
    """A socket as the file names it, with the name of its box behind it."""
    gear, _, rest = key.partition(".")
    if gear == HOUSE:
        return f"tail {rest} at the house"
    name = box(rig, gear)
    if "/" in gear:
        return name
    return key if name == gear else f"{key} ({name})"


def places(rig: Rig, keys: Iterable[str]) -> str:
    """Several sockets in a row."""
    return listed(place(rig, key) for key in keys)


def some(names: Iterable[str]) -> str:
    """Names in a row; the rest of a long row only counted."""
    row = list(dict.fromkeys(names))
    if len(row) <= FEW:
        return listed(row)
    return f"{', '.join(row[: FEW - 1])} and {len(row) - FEW + 1} more"


def opening(text: str) -> str:
    """Words at the start of a sentence; names in them keep their own capitals."""
    return text[:1].upper() + text[1:]


def person(rig: Rig, identifier: str) -> str:
    """A person by name; one who is not there tonight by identifier."""
    return rig.people[identifier].name if identifier in rig.people else identifier


_FAMILY_WORDS = {
    "xlr": "XLR",
    "xlr4": "four-pin XLR",
    "xlr5": "five-pin XLR",
    "combo": "a combined XLR and jack",
    "jack-ts": "a two-pole jack",
    "jack-trs": "a three-pole jack",
    "mini-ts": "a small two-pole jack",
    "mini-trs": "a small three-pole jack",
    "mini-trrs": "a small four-pole jack",
    "rca": "a phono",
    "db25": "a 25-way D-sub",
    "multipin": "a multipin",
    "rj45": "a network",
    "rj45-lock": "a locking network",
}


def plug_words(connector: str) -> str:
    """A connector as people say it: XLR has pins or holes, the rest are plugs or sockets."""
    family, _, gender = connector.rpartition("-")
    if family not in _FAMILY_WORDS or gender not in {"m", "f"}:
        return connector
    if family.startswith("xlr"):
        return f"{_FAMILY_WORDS[family]} with {'pins' if gender == 'm' else 'holes'}"
    return f"{_FAMILY_WORDS[family]} {'plug' if gender == 'm' else 'socket'}"
