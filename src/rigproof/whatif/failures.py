"""Single failures: take one box, lead or link out of the graph and see who loses what.

A box that lives on the mains stops when its strip does, one that lives on a network lead stops
with the box that feeds it. What passes a box without power still passes. A source that wants 48 V
falls silent with the last box that feeds it, and the house is not counted on to feed it instead.
Not here: two things at once that have no common cause, and what fails in part (noise, a dull line).
"""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Literal

import msgspec

from rigproof.mains import needs_mains, supplies
from rigproof.network import cabling, passed, stream_ways
from rigproof.network.feeding import budgets
from rigproof.rig import Rig
from rigproof.rig.lanes import sockets
from rigproof.rig.quantity import Quantity
from rigproof.rig.ref import HOUSE
from rigproof.signal import Graph, Hop
from rigproof.signal.arrival import Arrival, Lane
from rigproof.signal.graph import planned, possible
from rigproof.signal.phantom import PhantomLine
from rigproof.signal.reach import picked, spread, union

Kind = Literal["box", "lead", "radio", "stream"]
# What lies in these is not fed by them.
_HOLD_ONLY = frozenset({"drawer", "shelf", "case", "blank"})
KINDS: tuple[Kind, ...] = ("lead", "radio", "box", "stream")


class Suspect(msgspec.Struct, frozen=True):
    """One thing that can fail. `taken`: the boxes that go dead with it, itself first.

    `one_of`: how many like leads the entry stands for; the failure is that of the worst of them.
    """

    kind: Kind
    name: str
    taken: tuple[str, ...] = ()
    one_of: int = 1


class Loss(msgspec.Struct, frozen=True):
    """What one pair of ears, or one line of the house, no longer gets.

    `side`: 1 or 2 where one ear alone falls silent. `sources`: those of which nothing arrives any
    more; `halves`: pairs of which one side still does.
    """

    silent: bool = False
    side: int = 0
    sources: tuple[str, ...] = ()
    halves: tuple[str, ...] = ()


Listener = str  # a person of the rig


class Failure(msgspec.Struct, frozen=True):
    """What one failure does. `lines`: the ends in the house's hands that fall silent.

    `dry`: sources that fall silent because nobody is left who feeds them 48 V. `back_s`: how long
    the slowest of the boxes takes to start again; None where nothing starts or one does not say.
    """

    suspect: Suspect
    losses: Mapping[Listener, Loss]
    lines: tuple[int, ...]
    dry: tuple[str, ...]
    back_s: Quantity | None

    @property
    def silent(self) -> tuple[Listener, ...]:
        """Who hears nothing at all."""
        return tuple(name for name, loss in self.losses.items() if loss.silent)

    @property
    def harm(self) -> tuple[int, int, int]:
        """How bad it is, to put the worst first: ears that fall silent, lines, sources missed."""
        missed = sum(len(loss.sources) + len(loss.halves) for loss in self.losses.values())
        return (
            2 * len(self.silent) + sum(bool(loss.side) for loss in self.losses.values()),
            len(self.lines),
            missed,
        )

    @property
    def harmless(self) -> bool:
        return self.harm == (0, 0, 0)


class Origin(msgspec.Struct, frozen=True):
    """What makes a source that comes out of a box, such as a receiver's or a computer's.

    `roots`: where its sound begins in other boxes; empty where the box makes it alone.
    """

    box: str
    starts: tuple[int, ...]
    roots: tuple[int, ...]
    needs: frozenset[str]


def _origins(rig: Rig, graph: Graph) -> Iterator[tuple[str, Origin]]:
    for source in rig.file.sources:
        if source.start is None or source.start.gear not in rig.gear:
            continue
        box = source.start.gear
        nodes = graph.of_source(source.id)
        starts = tuple(graph.hops[hop].end for node in nodes for hop in graph.leaving[node])
        before = graph.feeding(starts, through=possible)
        hops = [hop for hop in graph.hops if hop.start in before and hop.end in before]
        entered = {hop.end for hop in hops}
        roots = tuple(
            node
            for node in sorted(before)
            if node not in entered and graph.nodes[node].gear not in {box, "source", HOUSE}
        )
        behind = graph.reached(roots, through=possible) & before
        needs = {name for hop in hops if hop.start in behind for name in hop.needs}
        needs |= {graph.nodes[node].gear for node in roots}
        yield source.id, Origin(box, starts, roots, frozenset(needs - {box}))


class Broken(msgspec.Struct, frozen=True, dict=True):
    """A rig with something broken, held against the sound one."""

    rig: Rig
    graph: Graph
    sound: Arrival
    phantoms: Mapping[str, PhantomLine]
    origins: Mapping[str, Origin]

    @cached_property
    def needing(self) -> Mapping[str, Sequence[Hop]]:
        """The planned hops that depend on each thing."""
        found: dict[str, list[Hop]] = {}
        for hop in self.graph.hops:
            if planned(hop):
                for name in hop.needs:
                    found.setdefault(name, []).append(hop)
        return found

    @cached_property
    def _order(self) -> Sequence[int]:
        """All that any source leads to in the sound rig, in the order of the signal."""
        sources = self.rig.sources
        starts = (node for source in sources for node in self.graph.of_source(source))
        return self.graph.downstream(tuple(starts))

    @cached_property
    def carriers(self) -> Mapping[str, tuple[frozenset[str], ...]]:
        """Stream -> the boxes and leads that carry it, for each of the ways it has."""
        return dict(_carriers(self.rig))

    def look(self, suspect: Suspect, at: Collection[str] = ()) -> Failure:
        """What is lost with a suspect; of several like leads, with those that start at `at`."""
        dead = frozenset(suspect.taken)
        powerless = {name for name in dead if not self.rig.type_of(name).passive}
        dry = tuple(self._dry(dead))
        gone = suspect.name
        silent = {
            stream
            for stream, ways in self.carriers.items()
            if ways and all(way & {gone, *dead} for way in ways)
        }

        def holds(hop: Hop) -> bool:
            for name in hop.needs:
                if name in silent:
                    return False
                if name in dead and not (name in powerless and hop.works_off):
                    return False
                if name == gone and not dead:
                    return bool(at) and self.graph.nodes[hop.start].key not in at
            return True

        onward = list(self.graph.onward)
        broken = (gone, *dead, *silent)
        for start in {h.start for name in broken for h in self.needing.get(name, ())}:
            hops = (self.graph.hops[number] for number in self.graph.leaving[start])
            onward[start] = [hop.end for hop in hops if planned(hop) and holds(hop)]
        mute = {*dry, *self._mute(suspect, holds)}
        seeds = {
            node: 1 << self.sound.number[source, lane]
            for source in self.rig.sources
            if source not in mute
            for lane, node in enumerate(self.graph.of_source(source), start=1)
        }
        left = Arrival(self.sound.order, spread(onward, seeds, self._order))
        losses = {
            person: loss
            for person in self.rig.people
            if (loss := self._loss(self.graph.of_listener(person), left)) != Loss()
        }
        return Failure(suspect, losses, tuple(self._lines(left)), dry, self._back_s(dead))

    def _dry(self, dead: frozenset[str]) -> Iterator[str]:
        """Sources that need 48 V and lose the last of our boxes that feeds it."""
        for source, line in self.phantoms.items():
            feeders = {key.partition(".")[0] for key in line.feeds}
            if line.need == "must" and feeders and feeders <= dead:
                yield source

    def _mute(self, suspect: Suspect, holds: Callable[[Hop], bool]) -> Iterator[str]:
        """Sources that come out of a box which is dead, or which nothing arrives at any more."""
        broken = {suspect.name, *suspect.taken}
        for source, origin in self.origins.items():
            if origin.box in broken:
                yield source
            elif broken & origin.needs:
                alive = [n for n in origin.roots if self.graph.nodes[n].gear not in broken]
                if self.graph.reached(alive, through=holds).isdisjoint(origin.starts):
                    yield source

    def _loss(self, ends: tuple[int, ...], left: Arrival) -> Loss:
        before = union(self.sound.bits, ends)
        after = union(left.bits, ends)
        if before == after and all(
            bool(self.sound.bits[end]) == bool(left.bits[end]) for end in ends
        ):
            return Loss()
        if before and not after:
            return Loss(silent=True, sources=_sources(picked(self.sound.order, before)))
        still = set(_sources(picked(self.sound.order, after)))
        gone = _sources(picked(self.sound.order, before & ~after))
        deaf = [
            number
            for number, end in enumerate(ends, start=1)
            if self.sound.bits[end] and not left.bits[end]
        ]
        return Loss(
            side=deaf[0] if len(deaf) == 1 and len(ends) == 2 else 0,
            sources=tuple(source for source in gone if source not in still),
            halves=tuple(source for source in gone if source in still),
        )

    def _lines(self, left: Arrival) -> Iterator[int]:
        for number, node in enumerate(self.graph.nodes):
            if node.gear == HOUSE and self.sound.bits[number] and not left.bits[number]:
                enters = any(planned(self.graph.hops[hop]) for hop in self.graph.entering[number])
                if enters:
                    yield int(node.key.rpartition(".")[2])

    def _back_s(self, dead: frozenset[str]) -> Quantity | None:
        boots = []
        for name in sorted(dead):
            power = self.rig.type_of(name).power
            if power is None or (power.boot_s is None and power.watts is None):
                continue
            if power.boot_s is None:
                return None
            boots.append(power.boot_s)
        return max(boots, default=None)


def _carriers(rig: Rig) -> Iterator[tuple[str, tuple[frozenset[str], ...]]]:
    if not rig.file.streams:
        return
    ends = {stream.id: (stream.from_.gear, stream.to.gear) for stream in rig.file.streams}
    for name, ways in stream_ways(rig, cabling(rig)).items():
        yield name, tuple(passed(way, ends[name]) for way in ways)


def _sources(lanes: tuple[Lane, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(source for source, _ in lanes))


def dark_with(rig: Rig, first: str) -> tuple[str, ...]:
    """The boxes that have no power once this one is off: itself first, then by the file."""
    dead = {first}
    fed: dict[str, list[str]] = {}
    for supply in supplies(rig):
        if needs_mains(rig.type_of(supply.gear)) or supply.gear in rig.gear:
            for strip in supply.through:
                fed.setdefault(strip, []).append(supply.gear)
    for budget in budgets(rig):
        for hung in budget.fed:
            fed.setdefault(budget.gear.id, []).append(hung.gear.id)
    for gear in rig.file.gear:
        if gear.inside is not None and rig.type_of(gear.inside).class_ not in _HOLD_ONLY:
            fed.setdefault(gear.inside, []).append(gear.id)
    for lead in rig.file.leads:
        for giver, taker in ((lead.from_.gear, lead.to.gear), (lead.to.gear, lead.from_.gear)):
            if HOUSE in (giver, taker):
                continue
            power = rig.type_of(taker).power
            if power is not None and power.by == "usb" and _over_usb(rig, giver, taker):
                fed.setdefault(giver, []).append(taker)
    queue = [first]
    for box in queue:  # grows as it goes
        for name in fed.get(box, ()):
            if name not in dead:
                dead.add(name)
                queue.append(name)
    return (first, *(gear.id for gear in rig.file.gear if gear.id in dead and gear.id != first))


def _over_usb(rig: Rig, giver: str, taker: str) -> bool:
    """Whether a computer or hub gives a box its power over the lead between the two."""
    return rig.type_of(giver).class_ in {"computer", "hub"} and any(
        port.carries == "usb" for port in rig.type_of(taker).ports
    )


def failures(
    rig: Rig, graph: Graph, sound: Arrival, phantoms: Mapping[str, PhantomLine]
) -> tuple[Failure, ...]:
    """Every single failure that anybody hears, the worst first."""
    broken = _broken(rig, graph, sound, phantoms)
    parts = dict(_like_leads(rig))
    found = [
        failure
        for suspect in _suspects(rig, graph, broken)
        if not (failure := _worst(broken, suspect, parts.get(suspect.name, ()))).harmless
    ]
    return tuple(
        sorted(
            found,
            key=lambda one: (
                *(-harm for harm in one.harm),
                -len(one.suspect.taken),
                KINDS.index(one.suspect.kind),
                one.suspect.name,
            ),
        )
    )


def _suspects(rig: Rig, graph: Graph, broken: Broken) -> Iterator[Suspect]:
    """What the ways of the graph depend on; strips too, because boxes hang on them."""
    needed = {name for hop in graph.hops if planned(hop) for name in hop.needs}
    for origin in broken.origins.values():
        needed |= {origin.box, *origin.needs}
    for ways in broken.carriers.values():
        needed.update(*ways)
    strips = {strip for supply in supplies(rig) for strip in supply.through}
    for gear in rig.file.gear:
        if (gear.id in needed or gear.id in strips) and gear.owner == "band":
            yield Suspect("box", gear.id, dark_with(rig, gear.id))
    for lead in rig.file.leads:
        if lead.id in needed:
            yield Suspect("lead", lead.id)
    for radio in rig.file.radio:
        if radio.id in needed:
            yield Suspect("radio", radio.id)
    for stream in rig.file.streams:
        if stream.id in needed:
            yield Suspect("stream", stream.id)


def _worst(broken: Broken, suspect: Suspect, parts: Sequence[frozenset[str]]) -> Failure:
    """The failure of a suspect; of several like leads, that of the one that does most harm."""
    if len(parts) < 2:
        return broken.look(suspect)
    one = msgspec.structs.replace(suspect, one_of=len(parts))
    return max((broken.look(one, part) for part in parts), key=lambda failure: failure.harm)


def _like_leads(rig: Rig) -> Iterator[tuple[str, tuple[frozenset[str], ...]]]:
    """Entry -> for each of its leads the lanes it begins at; a jacket of many is one lead."""
    for lead in rig.file.leads:
        body = rig.types[lead.type].lead
        starts = sockets(rig.gear_types, lead.from_, lead.where)
        if body is None or len(starts) <= body.a.count or starts[0].port is None:
            continue
        keys = [tuple(lane for lane in socket.lanes("tx")) for socket in starts]
        yield (
            lead.id,
            tuple(
                frozenset(key for lanes in keys[at : at + body.a.count] for key in lanes)
                for at in range(0, len(keys), body.a.count)
            ),
        )


def rack_off(
    rig: Rig, graph: Graph, sound: Arrival, phantoms: Mapping[str, PhantomLine]
) -> Failure:
    """The whole rack without mains: every box that lives on it, and what lives on those."""
    dead: dict[str, None] = {}
    for gear in rig.file.gear:
        if gear.owner == "band" and needs_mains(rig.types[gear.type]) and gear.placed == "case":
            dead.update(dict.fromkeys(dark_with(rig, gear.id)))
    return _broken(rig, graph, sound, phantoms).look(Suspect("box", "", tuple(dead)))


def _broken(rig: Rig, graph: Graph, sound: Arrival, phantoms: Mapping[str, PhantomLine]) -> Broken:
    return Broken(rig, graph, sound, phantoms, dict(_origins(rig, graph)))
