"""Differences of entries in words: in those of the rig file, where they were typed."""

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from rigproof.rig import Rig
from rigproof.rigfile.differences import Difference, Field
from rigproof.showbook.blocks import DASH
from rigproof.showbook.edition import Edition

if TYPE_CHECKING:
    from rigproof.showbook.changes.between import Changes

# The last word of a key where it is a unit, and how that is written.
_UNITS: Mapping[str, str] = {
    "m": "m", "mm": "mm", "mm2": "mm\u00b2", "kg": "kg", "db": "dB", "dbu": "dBu", "dbm": "dBm",
    "hz": "Hz", "mhz": "MHz", "v": "V", "w": "W", "a": "A", "ma": "mA", "ms": "ms", "s": "s",
    "min": "min", "h": "h", "eur": "EUR", "ohm": "ohm", "uv": "\u00b5V", "degc": "\u00b0C",
    "percent": "%",
}  # fmt: skip
_MANY = 6  # names in one cell


def section_name(edition: Edition, section: str) -> str:
    """What an entry of a section is called."""
    return edition.say(f"changes.in_{section}")


def entry_name(one: Difference, before: Rig, after: Rig) -> str:
    """An entry by the name people read, with the word the file calls it by."""
    rig = before if one.what == "gone" else after
    named = {
        "people": rig.people,
        "sources": rig.sources,
        "groups": rig.groups,
        "mixes": rig.mixes,
        "venues": rig.venues,
        "gear": rig.gear,
        "types": rig.types,
    }.get(one.section, {})
    entry = named.get(one.id)
    if one.section == "patch":
        entry = rig.sources.get(one.id)
    if one.section == "gear" and one.id in rig.box_names:
        name = rig.box_names[one.id]
    else:
        name = str(getattr(entry, "name", "") or "")
    if not name or name == one.id:
        return one.id
    return name if f"({one.id})" in name else f"{name} ({one.id})"


def headline(edition: Edition, found: "Changes") -> str:
    """The first thing that everybody asks: whether a number moved that they have learnt."""
    moves = [move for night in found.nights for move in night.moves]
    if not moves:
        if not found.kept:
            return edition.say("changes.no_number")
        return edition.say("changes.none_moved", n=found.kept)
    venues = dict.fromkeys(move.spot.venue for move in moves)
    if "" in venues:
        return edition.say("changes.moved", n=len(moves))
    rig = found.after.view.rig
    names = edition.listed(rig.venues[venue].name for venue in venues)
    return edition.say("changes.ours_stay", where=names, n=len(moves))


def told(edition: Edition, one: Difference) -> tuple[str, ...]:
    """What happened to an entry, a line for each value."""
    if one.what == "renamed":
        return (edition.say("changes.was_called", name=one.before),)
    if one.what != "changed":
        return ()
    return tuple(_field(edition, field) for field in one.fields)


def _field(edition: Edition, field: Field) -> str:
    *above, key = field.keys
    name, shown = _worded(key)
    path = ", ".join(part.replace("_", " ") for part in (*above, name))
    lists = _lists(edition, field)
    if lists:
        return f"{path}: {lists}"
    return (
        f"{path}: {_value(edition, field.before, shown, field.after)} \u2192 "
        f"{_value(edition, field.after, shown, field.before)}"
    )


def _worded(key: str) -> tuple[str, str]:
    """A key in words, and its unit where it ends in one."""
    words, _, unit = key.rpartition("_")
    if words and unit in _UNITS:
        return words.replace("_", " "), _UNITS[unit]
    return key.replace("_", " "), ""


def _lists(edition: Edition, field: Field) -> str:
    """Names that came and went, where the value is a list of them."""
    old = field.before if isinstance(field.before, tuple) else ()
    new = field.after if isinstance(field.after, tuple) else ()
    names = all(isinstance(one, str) for one in (*old, *new))
    if not (old or new) or not names or _is_figure(field.before) or _is_figure(field.after):
        return ""
    came = [str(one) for one in new if one not in old]
    went = [str(one) for one in old if one not in new]
    if not came and not went:
        return edition.say("changes.other_order", names=_some(str(one) for one in new))
    parts = []
    if came:
        parts.append(edition.say("changes.came", names=_some(came)))
    if went:
        parts.append(edition.say("changes.went", names=_some(went)))
    return "; ".join(parts)


def _some(names: Iterator[str] | list[str]) -> str:
    row = list(names)
    more = f" +{len(row) - _MANY}" if len(row) > _MANY else ""
    return ", ".join(row[:_MANY]) + more


def _is_figure(value: object) -> bool:
    return isinstance(value, tuple) and len(value) == 2 and isinstance(value[0], float)


def _value(edition: Edition, value: object, unit: str, other: object) -> str:
    """A value; where a figure comes from only where nothing else tells the two apart."""
    if value is None:
        return DASH
    if isinstance(value, bool):
        return edition.say("changes.yes") if value else edition.say("changes.no")
    if isinstance(value, tuple) and _is_figure(value):
        number = edition.number(value[0], 3)
        text = f"{number} {unit}" if unit else number
        alike = isinstance(other, tuple) and _is_figure(other) and other[0] == value[0]
        return f"{text} {edition.say(f'paper.{value[1]}')}" if alike else text
    if isinstance(value, dict):
        parts = []
        for key, one in value.items():
            name, shown = _worded(str(key))
            parts.append(f"{name} {_value(edition, one, shown, None)}")
        return ", ".join(parts[:_MANY]) + (" \u2026" if len(parts) > _MANY else "")
    if isinstance(value, tuple):
        return ", ".join(_value(edition, one, unit, None) for one in value)
    if isinstance(value, int | float):
        return edition.number(float(value), 3)
    return str(value)
