"""How loud things are wished in an ear against one another, and the wishes of a file of one's own.

A relation says by how much one thing stands over another while both play. "me" is what the
listener plays, "rest" whatever else is played; families, sources and groups go by their names.
"""

from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from typing import Any, get_args

import msgspec

from rigproof.rig import Rig
from rigproof.rig.band import Family
from rigproof.rig.entry import PLACE_KEY, Spot
from rigproof.rig.where import RigError, RigErrors, Where
from rigproof.rigfile import yaml12
from rigproof.wording import listed

ME, REST = "me", "rest"
FAMILIES: tuple[Family, ...] = get_args(Family)
# What is heard for its own sake, not as music: it stands against the music, and is no part of it.
SIGNS: frozenset[Family] = frozenset({"click", "cue", "talk", "ambience"})
MOST_DB = 40.0


class Relation(msgspec.Struct, frozen=True):
    """One thing over another, by so many decibels of loudness."""

    of: str
    over: str
    by_db: float


class Wishes(msgspec.Struct, frozen=True):
    """What a first mix should reach. `balance`: how families of the rest stand to one another."""

    relations: tuple[Relation, ...]
    balance: Mapping[str, float]


# Common practice, no source: where to begin before anybody has listened.
RELATIONS = (
    Relation(ME, REST, 6.0),
    Relation("click", "drums", 3.0),
    Relation("cue", REST, 0.0),
    Relation("talk", REST, 0.0),
    Relation("ambience", REST, -12.0),
)
BALANCE: Mapping[str, float] = {
    "voices": 0.0,
    "bass": -3.0,
    "drums": -3.0,
    "strings": -4.0,
    "winds": -4.0,
    "brass": -4.0,
    "playback": -4.0,
    "keys": -5.0,
    "guitar": -5.0,
    "percussion": -6.0,
    "electronics": -6.0,
    "other": -6.0,
}
USUAL = Wishes(RELATIONS, BALANCE)


class AllWishes(msgspec.Struct, frozen=True):
    """The wishes of everybody, and those of some people."""

    usual: Wishes = USUAL
    people: Mapping[str, Wishes] = {}

    def of(self, listeners: tuple[str, ...]) -> Wishes:
        """The wishes for a mix: those of the first of its listeners who has any."""
        return next((self.people[who] for who in listeners if who in self.people), self.usual)


def read_wishes(raw: bytes, file: str, rig: Rig) -> AllWishes:
    """The wishes of a file: `relations`, `balance`, and both again for single `people`.

    Raises:
        RigErrors: everything that is wrong with it, in file order.
    """
    data, faults = yaml12.read(raw, file)
    if faults:
        raise RigErrors(faults)
    reader = _Reader(file, rig)
    found = reader.everything(data)
    if reader.faults:
        raise RigErrors(reader.faults)
    return found


class _Reader:
    def __init__(self, file: str, rig: Rig) -> None:
        self.file = file
        self.rig = rig
        self.faults: list[RigError] = []

    def everything(self, data: Any) -> AllWishes:
        keys = self._keys(data, Where(self.file), ("relations", "balance", "people"))
        usual = self._wishes(keys, USUAL)
        people: dict[str, Wishes] = {}
        stated = keys.get("people", {})
        at = data.where.of("people") if isinstance(data, Spot) else Where(self.file)
        for who, theirs in self._keys(stated, at, tuple(self.rig.people), "person").items():
            parts = self._keys(theirs, stated.where.of(who), ("relations", "balance"))
            people[who] = self._wishes(parts, usual)
        return AllWishes(usual, people)

    def _wishes(self, keys: Mapping[str, Any], before: Wishes) -> Wishes:
        """Wishes on top of others: of two about the same thing the nearer one counts."""
        own = tuple(self._relations(keys.get("relations", [])))
        named = {relation.of for relation in own}
        kept = tuple(relation for relation in before.relations if relation.of not in named)
        balance = dict(before.balance)
        stated = keys.get("balance", {})
        at = stated.where if isinstance(stated, Spot) else Where(self.file)
        music = tuple(family for family in FAMILIES if family not in SIGNS)
        for family, value in self._keys(stated, at, music, "family of the music").items():
            balance[family] = self._decibels(value, stated.where.of(family))
        return Wishes((*own, *kept), balance)

    def _relations(self, stated: Any) -> Iterator[Relation]:
        if not isinstance(stated, list):
            self._fault(
                Where(self.file), "relations are a list.", "- {of: me, over: rest, by_db: 6}"
            )
            return
        seen: set[str] = set()
        for one in stated:
            at = one.where if isinstance(one, Spot) else Where(self.file)
            keys = self._keys(one, at, ("of", "over", "by_db"))
            missing = [key for key in ("of", "over", "by_db") if key not in keys]
            if missing:
                fix = "A relation goes: {of: me, over: rest, by_db: 6}"
                self._fault(at, f"a relation lacks {listed(missing)}.", fix)
                continue
            of = self._thing(keys["of"], at.of("of"))
            over = self._thing(keys["over"], at.of("over"))
            if of == REST:
                self._fault(
                    at.of("of"),
                    '"rest" is what others are measured against.',
                    "Put it behind over.",
                )
            elif of == over or of in seen:
                again = "it is related to itself" if of == over else "it stands there twice"
                self._fault(at.of("of"), f'"{of}": {again}.', "Leave one relation for each thing.")
            seen.add(of)
            yield Relation(of, over, self._decibels(keys["by_db"], at.of("by_db")))

    def _thing(self, name: Any, at: Where) -> str:
        known = (ME, REST, *FAMILIES, *self.rig.sources, *self.rig.groups)
        if not isinstance(name, str) or name not in known:
            near = get_close_matches(str(name), known, n=1)
            fix = (
                f'Did you mean "{near[0]}"?'
                if near
                else "Name me, rest, a family, a source or a group."
            )
            self._fault(at, f'nothing is called "{yaml12.cut(str(name))}".', fix)
        return str(name)

    def _decibels(self, value: Any, at: Where) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            self._fault(
                at, f'"{yaml12.cut(str(value))}" is no number of decibels.', "For example: 6"
            )
            return 0.0
        if not abs(value) <= MOST_DB:
            self._fault(
                at, f"{value:g} dB cannot be meant.", f"Give -{MOST_DB:g} to {MOST_DB:g} dB."
            )
        return float(value)

    def _keys(
        self, data: Any, at: Where, known: tuple[str, ...], kind: str = "key"
    ) -> dict[str, Any]:
        if data is None:
            return {}
        if not isinstance(data, dict):
            self._fault(at, "here stands no map of keys.", f"Known are: {listed(known)}.")
            return {}
        found = {key: value for key, value in data.items() if key != PLACE_KEY}
        for key in found:
            if key not in known:
                near = get_close_matches(str(key), known, n=1)
                fix = f'Did you mean "{near[0]}"?' if near else f"There are: {listed(known)}."
                place = data.where.of(key) if isinstance(data, Spot) else at
                self._fault(place, f'no {kind} is called "{yaml12.cut(str(key))}".', fix)
        return {key: value for key, value in found.items() if key in known}

    def _fault(self, at: Where, says: str, fix: str) -> None:
        self.faults.append(RigError(at=at, says=says, fix=fix))
