"""Levels that bring the things in a mix into the relations that are wished.

Loudness adds as powers, as it does for sounds that have nothing to do with one another. A knob
that several sources share moves them together; it counts as what makes up most of its loudness.

What leaks into somebody else's microphone is heard by that knob as well. The levels are first found
as if nothing leaked, and each knob is then turned until its own sources, by all ways together, are
as loud as was found.
"""

from collections.abc import Iterator, Mapping, Sequence
from math import log10

import msgspec

from rigproof.mixes.relations import ME, REST, SIGNS, Relation, Wishes
from rigproof.rig import Rig

_TURNS = 60
_MOST_DOWN_DB = 12.0  # further down a knob is not turned for what leaks; one's own sound would go


class Knob(msgspec.Struct, frozen=True, kw_only=True):
    """One level of a mix, and the loudness power of each of its sources at 0 dB.

    `leaks`: of other sources, which its microphones hear too.
    """

    key: str
    powers: Mapping[str, float]
    leaks: Mapping[str, float] = {}

    @property
    def power(self) -> float:
        return sum(self.powers.values())

    @property
    def playing(self) -> int:
        return sum(power > 0 for power in self.powers.values())


class Reached(msgspec.Struct, frozen=True):
    """A relation and what became of it. `by_db`: None where one of the two does not play.

    `instead`: what it was set against in the place of something that does not play.
    """

    relation: Relation
    by_db: float | None
    instead: str = ""


class Balance(msgspec.Struct, frozen=True):
    """Levels by knob, the highest at 0 dB; only of those that play."""

    levels_db: Mapping[str, float]
    reached: tuple[Reached, ...]
    circle: tuple[str, ...] = ()  # things that are measured against one another in a ring


def balanced(
    knobs: Sequence[Knob], wishes: Wishes, rig: Rig, listeners: tuple[str, ...]
) -> Balance:
    """The levels at which the wishes hold.

    What no relation names gets the balance of its family, each source of a family the same
    loudness; then each relation is put on top as soon as what it is measured against stands.
    """
    return _Balancer(knobs, wishes, rig, listeners).balance()


def measured(
    knobs: Sequence[Knob],
    levels_db: Mapping[str, float],
    reached: Sequence[Reached],
    rig: Rig,
    listeners: tuple[str, ...],
) -> tuple[Reached, ...]:
    """The relations as other levels than the wished ones make them: rounded, or at a stop."""
    balancer = _Balancer(knobs, Wishes(tuple(r.relation for r in reached), {}), rig, listeners)
    balancer.loud = {
        knob.key: knob.power * 10 ** (levels_db[knob.key] / 10)
        for knob in balancer.knobs
        if knob.key in levels_db
    }
    return tuple(balancer.told(one.relation, one.instead) for one in reached)


class _Balancer:
    def __init__(
        self, knobs: Sequence[Knob], wishes: Wishes, rig: Rig, listeners: tuple[str, ...]
    ) -> None:
        self.knobs = [knob for knob in knobs if knob.power > 0]
        self.wishes = wishes
        self.rig = rig
        self.listeners = listeners
        self.loud: dict[str, float] = {}  # by knob, as it stands in the mix
        self.claimed: dict[str, str] = {}  # by knob: the thing whose relation sets it
        for relation in wishes.relations:
            for knob in self._of(relation.of):
                self.claimed.setdefault(knob.key, relation.of)

    def balance(self) -> Balance:
        self._lay_ground()
        waiting = [r for r in self.wishes.relations if self._moved_by(r)]
        instead: dict[str, str] = {}
        while waiting:
            ready = next((r for r in waiting if self._stands(r.over, r.of)), None)
            if ready is None:
                return Balance({}, (), tuple(r.of for r in waiting))
            waiting.remove(ready)
            instead[ready.of] = self._put(ready)
        self._settle()
        levels = {
            knob.key: 10 * log10(self.loud[knob.key] / knob.power)
            for knob in self.knobs
            if knob.key in self.loud
        }
        highest = max(levels.values(), default=0.0)
        levels = {key: level - highest for key, level in levels.items()}
        told = tuple(self.told(r, instead.get(r.of, "")) for r in self.wishes.relations)
        return Balance(levels, told)

    def told(self, relation: Relation, instead: str) -> Reached:
        """How far one thing stands over another now, whatever way they come by."""
        name = instead or relation.over
        mine, theirs = frozenset(self._members(relation.of)), frozenset(self._members(name))
        of = sum(self.loud.get(knob.key, 0.0) for knob in self._of(relation.of))
        over = self._over(name, relation.of)
        against = sum(self.loud.get(knob.key, 0.0) for knob in over)
        if of > 0 and against > 0:
            of += self._leaked(mine)
            against += self._leaked(theirs - mine)
        reached = 10 * log10(of / against) if of > 0 and against > 0 else None
        return Reached(relation, reached, instead)

    def _leaked(self, sources: frozenset[str]) -> float:
        """How loud some sources are by others' microphones."""
        return sum(
            self.loud[knob.key] / knob.power * power
            for knob in self.knobs
            if knob.key in self.loud
            for source, power in knob.leaks.items()
            if source in sources
        )

    def _settle(self) -> None:
        """Turn the knobs until what was found holds with all that leaks.

        Each is turned by what its sources lack or have too much, again and again; one whose
        sources come loud enough by others' microphones alone stays at its lowest.
        """
        if not any(knob.leaks for knob in self.knobs):
            return
        wanted = dict(self.loud)
        own = {knob.key: frozenset(knob.powers) for knob in self.knobs}
        for _ in range(_TURNS):
            self.loud = {
                key: max(
                    loud * wanted[key] / (loud + self._leaked(own[key])),
                    wanted[key] * 10 ** (-_MOST_DOWN_DB / 10),
                )
                for key, loud in self.loud.items()
            }

    def _lay_ground(self) -> None:
        lots: dict[str, list[Knob]] = {}
        for knob in self.knobs:
            if knob.key not in self.claimed:
                lots.setdefault(self._family(knob), []).append(knob)
        for family, lot in lots.items():
            share = 10 ** (self.wishes.balance.get(family, 0.0) / 10)
            together = sum(knob.playing for knob in lot)
            for knob in lot:
                self.loud[knob.key] = share * knob.playing / together

    def _put(self, relation: Relation) -> str:
        """Bring one thing to its level; what it was set against instead, if anything."""
        over, instead = self._over(relation.over, relation.of), ""
        if not over and relation.over != REST:
            over, instead = self._over(REST, relation.of), REST
        against = sum(self.loud[knob.key] for knob in over if knob.key in self.loud) or 1.0
        moved = self._moved_by(relation)
        together = sum(knob.playing for knob in moved)
        wanted = against * 10 ** (relation.by_db / 10)
        for knob in moved:
            self.loud[knob.key] = wanted * knob.playing / together
        return instead

    def _stands(self, over: str, of: str) -> bool:
        found = self._over(over, of)
        if not found and over != REST:
            found = self._over(REST, of)
        return all(knob.key in self.loud for knob in found)

    def _moved_by(self, relation: Relation) -> list[Knob]:
        return [knob for knob in self.knobs if self.claimed.get(knob.key) == relation.of]

    def _of(self, name: str) -> list[Knob]:
        members = frozenset(self._members(name))
        return [knob for knob in self.knobs if _mostly(knob, members)]

    def _over(self, name: str, of: str) -> list[Knob]:
        """What a thing is measured against: never against itself, not even in part."""
        own = {knob.key for knob in self._of(of)}
        return [knob for knob in self._of(name) if knob.key not in own]

    def _members(self, name: str) -> Iterator[str]:
        sources = self.rig.sources
        if name in (ME, REST):
            for source in sources.values():
                if source.family in SIGNS:
                    continue
                # Tracks run by themselves, whoever starts them.
                mine = source.player in self.listeners and source.family != "playback"
                if mine == (name == ME):
                    yield source.id
        elif name in self.rig.groups or name in sources:
            yield from self.rig.members(name)
        else:
            yield from (source.id for source in sources.values() if source.family == name)

    def _family(self, knob: Knob) -> str:
        powers: dict[str, float] = {}
        for source, power in knob.powers.items():
            family = self.rig.sources[source].family
            powers[family] = powers.get(family, 0.0) + power
        return max(sorted(powers), key=powers.__getitem__)


def _mostly(knob: Knob, members: frozenset[str]) -> bool:
    own = sum(power for source, power in knob.powers.items() if source in members)
    return own * 2 > knob.power
