"""Who hears what: for each pair of ears, the sources that arrive, how loud and by which way."""

from collections.abc import Iterator, Mapping

import msgspec

from rigproof.rig import Rig
from rigproof.rig.plan import Mix
from rigproof.rig.quantity import Quantity
from rigproof.signal import Graph
from rigproof.signal.build import sends_by_source
from rigproof.signal.graph import planned
from rigproof.signal.reach import Reach, reach


class Heard(msgspec.Struct, frozen=True):
    """One source in one pair of ears. `level_db` is the send as written; None: a knob's business.

    `slot` is the personal-mixer place it comes by, `shared` the sources on the same knob.
    """

    source: str
    level_db: Quantity | None
    slot: str = ""
    shared: tuple[str, ...] = ()


class Listening(msgspec.Struct, frozen=True):
    """One listener with the mix made for them and everything that arrives in their ears."""

    person: str
    mix: Mix | None
    kind: str  # "bus", "personal mixer", "wedge" or "nothing"
    heard: tuple[Heard, ...]
    missing: tuple[str, ...]  # sent to the mix, and yet it does not arrive

    def hears(self, source: str) -> bool:
        return any(h.source == source for h in self.heard)


def listenings(rig: Rig, graph: Graph, arriving: Reach | None = None) -> tuple[Listening, ...]:
    """What every person of the rig hears, in the order of the file."""
    found = arriving or reach(graph, rig.sources, through=planned)
    mixes = {person: mix for mix in reversed(rig.file.mixes) for person in mix.listeners}
    slots = dict(_slots(rig))
    return tuple(
        _listening(rig, graph, found, person, mixes.get(person), slots) for person in rig.people
    )


_Place = tuple[str, tuple[str, ...]]  # a slot, and who shares it


def _listening(
    rig: Rig,
    graph: Graph,
    found: Reach,
    person: str,
    mix: Mix | None,
    slots: Mapping[str, _Place],
) -> Listening:
    arriving = found.at(graph.of_listener(person))
    written = sends_by_source(rig, mix) if mix else {}
    sends = {source: send.level_db for source, send in written.items()}
    places = slots if _personal(rig, mix) else {}
    heard = tuple(
        Heard(source, sends.get(source), *places.get(source, ("", ()))) for source in arriving
    )
    there = set(arriving)
    missing = tuple(source for source in sends if source not in there)
    return Listening(person, mix, _kind(rig, person, mix), heard, missing)


def _personal(rig: Rig, mix: Mix | None) -> bool:
    return mix is not None and mix.on is not None and rig.type_of(mix.on).class_ == "personal-mixer"


def _kind(rig: Rig, person: str, mix: Mix | None) -> str:
    if _personal(rig, mix):
        return "personal mixer"
    if mix is None:
        return "nothing"
    return "wedge" if rig.people[person].wedge and not rig.people[person].ears else "bus"


def _slots(rig: Rig) -> Iterator[tuple[str, _Place]]:
    for feed in rig.file.feeds:
        for slot in feed.slots:
            members = tuple(s for name in slot.takes for s in rig.members(name))
            for source in members:
                yield source, (str(slot.slot), tuple(m for m in members if m != source))
