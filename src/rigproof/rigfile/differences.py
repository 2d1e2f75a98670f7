"""What two states of a rig file say differently: entry by entry, under the names entries go by.

Order of entries, comments and spelling are not compared: they say nothing. An entry that only got
another name is told as renamed, and what refers to it has not changed.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Literal

import msgspec

from rigproof.rig import Rig, RigFile
from rigproof.rig.entry import Entry
from rigproof.rig.quantity import Quantity
from rigproof.rig.ref import PortRef
from rigproof.rigfile.names import uses
from rigproof.rigfile.rename import ORDER

What = Literal["new", "gone", "changed", "renamed"]


class Field(msgspec.Struct, frozen=True):
    """One value of an entry: its keys from the entry down, and what stood and stands there."""

    keys: tuple[str, ...]
    before: object  # None where nothing is stated
    after: object


class Difference(msgspec.Struct, frozen=True, kw_only=True):
    """One entry of a section. `before`: the name it had, where it is renamed."""

    section: str
    id: str
    what: What
    before: str = ""
    fields: tuple[Field, ...] = ()


# How entries without an identifier are found again.
_KEYS: Mapping[str, tuple[str, ...]] = {
    "PatchRow": ("source",),
    "Hold": ("channels", "sockets", "lines"),
    "Route": ("from", "to"),
    "Setting": ("at",),
    "Clock": ("gear",),
    "Talk": ("from",),
    "Send": ("from", "slot"),
    "Slot": ("slot",),
    "MainsFeed": ("gear",),
    "FirmwareTested": ("gear",),
    "Backup": ("of", "kept"),
    "LogEntry": ("date", "gear", "what"),
    "Spare": ("type", "length_m"),
    "Consumable": ("what",),
    "Opening": ("at_unit", "from_front_mm"),
    "Sent": ("date", "to"),
}
_ROUNDS = 4  # renamed things that name renamed things


class _Figure(msgspec.Struct, frozen=True):
    """A number and where it is from, compared as one."""

    value: float
    provenance: str


def differences(before: Rig, after: Rig) -> tuple[Difference, ...]:
    """All entries that differ, in the order of the sections; gear types last."""
    renamed = _renamed(before.file, after.file)
    old, new = _Reader(before.file, renamed), _Reader(after.file, {})
    # Where the worth of all plain figures was stated anew, that alone is the change.
    worth = before.about.figures == after.about.figures
    found = [
        one
        for section in (f for f in RigFile.__struct_fields__ if f not in {"where", "format"})
        for one in _section(section, old, new, renamed, worth=worth)
    ]
    return (*found, *_types(before, after))


Renamed = Mapping[str, Mapping[str, str]]  # kind -> old name -> new name


class _Reader:
    """Entries as plain data, with every name that refers to something renamed as it is now."""

    def __init__(self, file: RigFile, renamed: Renamed) -> None:
        self.file = file
        self.renamed = renamed
        self.kinds: dict[tuple[type, str], tuple[str, ...]] = {}
        self.known: dict[str, set[str]] = {}
        for use in uses(file):
            self.kinds[type(use.entry), use.field] = use.kinds
            if use.defines:
                self.known.setdefault(use.kinds[0], set()).add(use.name)

    def now(self, name: str, kinds: tuple[str, ...]) -> str:
        """What a name of one of these kinds is called after the renaming."""
        meant = [kind for kind in kinds if name in self.known.get(kind, ())]
        kind = min(meant, key=lambda k: ORDER.index(k) if k in ORDER else 0, default="")
        return self.renamed.get(kind, {}).get(name, name)

    def entry(self, entry: Entry) -> dict[str, Any]:
        """Key -> value, without what nobody states."""
        found = {}
        for field, key in zip(entry.__struct_fields__, entry.__struct_encode_fields__, strict=True):
            value = getattr(entry, field)
            if field != "where" and value not in (None, (), ""):
                found[key] = self._value(value, self.kinds.get((type(entry), field), ()))
        return found

    def _value(self, value: Any, kinds: tuple[str, ...]) -> Any:
        if isinstance(value, Entry):
            return self.entry(value)
        if isinstance(value, tuple):
            if value and isinstance(value[0], Entry):
                return self.keyed(value)
            return tuple(self._value(one, kinds) for one in value)
        if isinstance(value, PortRef):
            gear = self.now(value.gear, ("gear",))
            return f"{gear}{value[len(value.gear) :]}"
        if isinstance(value, Quantity):
            return _Figure(float(value), value.provenance)
        if isinstance(value, str) and kinds:
            return self.now(value, kinds)
        return value if isinstance(value, str | bool | int | float) else str(value)

    def keyed(self, entries: Iterable[Entry]) -> dict[str, dict[str, Any]]:
        """Entries by the names they go by; a second one of a name is told apart by a number."""
        found: dict[str, dict[str, Any]] = {}
        seen: Counter[str] = Counter()
        for entry in entries:
            data = self.entry(entry)
            keys = _KEYS.get(type(entry).__name__, ("id",))
            name = ", ".join(_text(data[key]) for key in keys if key in data)
            seen[name] += 1
            found[name if seen[name] == 1 else f"{name} ({seen[name]})"] = data
        return found


def _text(value: object) -> str:
    return f"{value.value:g}" if isinstance(value, _Figure) else str(value)


def _section(
    section: str, old: _Reader, new: _Reader, renamed: Renamed, *, worth: bool
) -> Iterator[Difference]:
    before, after = getattr(old.file, section), getattr(new.file, section)
    if isinstance(before, tuple):
        olds, news = old.keyed(before), new.keyed(after)
    else:
        olds = {section: old.entry(before)} if before is not None else {}
        news = {section: new.entry(after)} if after is not None else {}
    was = {now: then for names in renamed.values() for then, now in names.items()}
    for name in (*news, *(name for name in olds if name not in news)):
        if name not in olds:
            yield Difference(section=section, id=name, what="new")
        elif name not in news:
            yield Difference(section=section, id=name, what="gone")
        else:
            fields = tuple(_fields(olds[name], news[name], (), worth=worth))
            other = was.get(name, "")
            if other and renamed.get(_kind(section), {}).get(other) == name:
                yield Difference(section=section, id=name, what="renamed", before=other)
            elif fields:
                yield Difference(section=section, id=name, what="changed", fields=fields)


def _fields(old: Any, new: Any, keys: tuple[str, ...], *, worth: bool) -> Iterator[Field]:
    if isinstance(old, dict) and isinstance(new, dict):
        for key in (*new, *(key for key in old if key not in new)):
            yield from _fields(old.get(key), new.get(key), (*keys, key), worth=worth)
        return
    if old == new:
        return
    figures = isinstance(old, _Figure) and isinstance(new, _Figure)
    if figures and not worth and old.value == new.value:
        return
    yield Field(keys, _plain(old), _plain(new))


def _plain(value: Any) -> object:
    if isinstance(value, _Figure):
        return (value.value, value.provenance)
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    return tuple(map(_plain, value)) if isinstance(value, tuple) else value


# --- renamed ---

_KINDS: Mapping[str, str] = {
    "people": "person",
    "sources": "source",
    "groups": "group",
    "gear": "gear",
    "leads": "lead",
    "mixes": "mix",
    "feeds": "feed",
    "streams": "stream",
    "radio": "radio link",
    "scenes": "scene",
    "venues": "venue",
    "shows": "show",
}


def _kind(section: str) -> str:
    return _KINDS.get(section, "")


def _renamed(before: RigFile, after: RigFile) -> Renamed:
    """Names that went while a like entry came, where there is no doubt which became which."""
    found: dict[str, dict[str, str]] = {}
    new = _Reader(after, {})
    for _ in range(_ROUNDS):
        old = _Reader(before, found)
        more = {
            section: _pairs(section, old, new, found.get(kind, {}))
            for section, kind in _KINDS.items()
        }
        if not any(more.values()):
            break
        for section, pairs in more.items():
            found.setdefault(_KINDS[section], {}).update(pairs)
    return {kind: names for kind, names in found.items() if names}


def _pairs(section: str, old: _Reader, new: _Reader, known: Mapping[str, str]) -> dict[str, str]:
    """Old name -> new name, where exactly one entry that went is like exactly one that came."""
    olds, news = getattr(old.file, section), getattr(new.file, section)
    names = {entry.id for entry in olds}, {entry.id for entry in news}
    gone = [x for x in olds if x.id not in names[1] and x.id not in known]
    came = [x for x in news if x.id not in names[0] and x.id not in known.values()]
    if not gone or not came:
        return {}
    told = {entry.id: _nameless(new.entry(entry)) for entry in came}
    pairs: dict[str, str] = {}
    for entry in gone:
        wanted = _nameless(old.entry(entry))
        alike = [name for name, data in told.items() if data == wanted]
        if len(alike) == 1:
            pairs[entry.id] = alike[0]
    often = Counter(pairs.values())
    return {then: now for then, now in pairs.items() if often[now] == 1}


def _nameless(data: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in data.items() if key != "id"}


# --- gear types ---


def _types(before: Rig, after: Rig) -> Iterator[Difference]:
    """Types that both rigs use and that say something else: a user's own, or a newer library's."""
    reader = _Reader(after.file, {})
    for name in before.types:
        if name in after.types and before.types[name] != after.types[name]:
            old, new = reader.entry(before.types[name]), reader.entry(after.types[name])
            fields = tuple(_fields(old, new, (), worth=True))
            if fields:
                yield Difference(section="types", id=name, what="changed", fields=fields)
