"""Who can put 48 V on the line of each source, and in which state of our rig and of the house.

48 V is direct current: it comes back up the wires from an input to whatever is plugged in. It
passes leads and the direct legs of splitters, and ends at a transformer, at an amplifier and at
anything digital. Our own inputs feed it only while they are up; a passive box passes it always.
Volts and currents are not this module's business.

Source of the facts: IEC 61938, P48: 48 V on both signal conductors through two equal 6.8 kohm.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Literal

import msgspec

from rigproof.rig import Rig
from rigproof.rig.band import Source
from rigproof.rig.geartype import Need, Port, Stage
from rigproof.rig.ref import HOUSE
from rigproof.signal.graph import Graph, Hop
from rigproof.signal.wiring import di_box, mic_box

RigState = Literal["on", "booting", "off"]
HouseState = Literal["on", "off", "unknown"]
RIG_STATES: tuple[RigState, ...] = ("on", "booting", "off")
HOUSE_STATES: tuple[HouseState, ...] = ("on", "off", "unknown")

# Connectors that never carry a balanced line: 48 V meets an output that was not made for it.
UNBALANCED = frozenset(
    {
        *("jack-ts-m", "jack-ts-f", "rca-m", "rca-f"),
        *("mini-ts-m", "mini-trs-m", "mini-trs-f", "mini-trrs-m", "mini-trrs-f"),
    }
)


class PhantomLine(msgspec.Struct, frozen=True):
    """The line of one source and everything that can put 48 V on it. Sockets are named by key.

    `feeds`: our inputs that are switched on. `could_feed`: our inputs that are not, and could be.
    `house`: ends of tails that a desk's 48 V comes back through while our rig is on;
    `house_rig_off` while it is off. `blocked`: legs that this line leaves by and 48 V cannot come
    back through. `heard_rig_off`: ends of tails that the sound still arrives at with our rig off.
    """

    source: str
    need: Need | None
    feeds: tuple[str, ...] = ()
    could_feed: tuple[str, ...] = ()
    house: tuple[str, ...] = ()
    house_rig_off: tuple[str, ...] = ()
    blocked: tuple[str, ...] = ()
    heard_rig_off: tuple[str, ...] = ()

    def feeders(self, rig: RigState, house: HouseState) -> tuple[str, ...]:
        """What feeds this line in one state; an unknown house is taken to feed everywhere."""
        ours = self.feeds if rig == "on" else ()
        if house == "off":
            return ours
        return ours + (self.house if rig == "on" else self.house_rig_off)

    @property
    def feeders_by_state(self) -> dict[tuple[RigState, HouseState], tuple[str, ...]]:
        return {
            (rig, house): self.feeders(rig, house) for rig in RIG_STATES for house in HOUSE_STATES
        }


def phantom_lines(graph: Graph, rig: Rig) -> dict[str, PhantomLine]:
    """The line of every source. Each line is walked once; lines do not overlap but at Y-leads."""
    walks = {name: _walk(graph, ends) for name, ends in line_ends(graph, rig).items()}
    on = _switched_on(graph, rig, walks)
    return {
        name: _line(graph, rig, source, _as_it_starts(rig, source, walk), on)
        for name, walk in walks.items()
        for source in (rig.sources[name],)
    }


def _as_it_starts(rig: Rig, source: Source, walk: "_Walk") -> "_Walk":
    """A source that comes out of a box of ours with a supply is silent once the rig is off."""
    start = source.start
    if start is None or start.gear not in rig.gear or rig.type_of(start.gear).power is None:
        return walk
    return msgspec.structs.replace(walk, heard_dark=())


def line_ends(graph: Graph, rig: Rig) -> dict[str, tuple[int, ...]]:
    """Where the line of each source begins: the sockets of its microphone, DI or instrument."""
    found: dict[str, tuple[int, ...]] = {}
    for source in rig.file.sources:
        boxed = _box_outputs(graph, source) if source.mic or source.di else []
        ends = boxed[: source.lanes] or list(graph.of_source(source.id))
        if source.start is not None:
            ends = [
                graph.hops[hop].end
                for end in ends
                for hop in graph.leaving[end]
                if graph.hops[hop].means == "plug"
                and source.start.gear == graph.nodes[graph.hops[hop].end].gear
            ] or ends
        found[source.id] = tuple(ends)
    return found


def _box_outputs(graph: Graph, source: Source) -> list[int]:
    """Where a source leaves its DI, or its microphone where it has no DI."""
    gear = di_box(source) if source.di is not None else mic_box(source)
    own = graph.reached(
        graph.of_source(source.id),
        through=lambda hop: graph.nodes[hop.end].gear.startswith(f"{source.id}/"),
    )
    found = []
    for number in sorted(own):
        node = graph.nodes[number]
        port = node.bank if node.gear.startswith(gear) and isinstance(node.bank, Port) else None
        if port is not None and port.way == "out" and port.carries in {"mic", "line"}:
            found.append(number)
    return found


def need_of(rig: Rig, source: Source) -> Need | None:
    """What a source wants from its line; None where nobody said and nothing tells."""
    if source.phantom is not None:
        return source.phantom
    port = _way_out(rig, source)
    if port is not None and port.phantom_need is not None:
        return port.phantom_need
    boxed = source.mic is not None or source.di is not None
    balanced = port.balanced if port is not None else None
    if source.balanced is not None and not boxed:
        balanced = source.balanced
    connector = source.connector if port is None else port.connector
    if balanced is False or (balanced is None and connector in UNBALANCED):
        return "never"
    return None


def _way_out(rig: Rig, source: Source) -> Port | None:
    """The socket that the line of a source begins at, where a box has it."""
    for name in (source.di, source.mic):
        if name is not None:
            return next(
                (
                    port
                    for port in rig.types[name].ports
                    if port.way == "out" and port.carries in {"mic", "line"}
                ),
                None,
            )
    if source.start is not None and source.start.gear in rig.gear:
        bank = rig.type_of(source.start.gear).banks[source.start.bank]
        return bank if isinstance(bank, Port) and bank.way == "out" else None
    return None


class _Walk(msgspec.Struct, frozen=True):
    """What the wires of one line reach, nearest first, with our rig on and with it off."""

    powered: tuple[int, ...]
    dark: frozenset[int]
    blocked: tuple[int, ...]
    heard_dark: tuple[int, ...]


def _walk(graph: Graph, ends: tuple[int, ...]) -> _Walk:
    ends = tuple(node for node in ends if not graph.nodes[node].digital)
    powered = tuple(_reached(graph, ends, _conducts))
    dark = _reached(graph, ends, lambda hop: _conducts(hop) and _unpowered(hop))
    heard = [n for n in _reached(graph, ends, _sounds_dark) if _is_tail(graph, n)]
    return _Walk(powered, frozenset(dark), tuple(_blocked_legs(graph, powered)), tuple(heard))


def _reached(graph: Graph, ends: tuple[int, ...], through: Callable[[Hop], bool]) -> list[int]:
    """What the ends reach, nearest first."""
    hops, leaving = graph.hops, graph.leaving
    seen, queue = set(ends), list(ends)
    for node in queue:  # grows as it goes
        for number in leaving[node]:
            hop = hops[number]
            if hop.end not in seen and through(hop):
                seen.add(hop.end)
                queue.append(hop.end)
    return queue


def _conducts(hop: Hop) -> bool:
    return hop.phantom and not hop.open


def _unpowered(hop: Hop) -> bool:
    """Leads and plugs are there whatever is switched on; inside a box it depends on the box."""
    return hop.works_off or hop.means in {"plug", "lead"}


def _sounds_dark(hop: Hop) -> bool:
    return hop.means in {"plug", "lead", "inside"} and not hop.open and _unpowered(hop)


def _blocked_legs(graph: Graph, line: tuple[int, ...]) -> Iterator[int]:
    """Sockets by which the sound goes on while 48 V stays behind: isolated legs, blocking plugs."""
    for start in line:
        for number in graph.leaving[start]:
            hop = graph.hops[number]
            if hop.means == "lead" and not hop.phantom and not graph.nodes[start].digital:
                yield start
        queue = [
            hop.end
            for hop in _inner(graph, start)
            if not hop.phantom and not _takes_over(graph, hop)
        ]
        seen = set(queue)
        for node in queue:  # grows as it goes
            if isinstance(graph.nodes[node].bank, Port):
                if any(graph.hops[n].means == "lead" for n in graph.leaving[node]):
                    yield node
                continue
            for hop in _inner(graph, node):
                if hop.end not in seen and not _takes_over(graph, hop):
                    seen.add(hop.end)
                    queue.append(hop.end)


def _inner(graph: Graph, node: int) -> Iterator[Hop]:
    return (
        graph.hops[n]
        for n in graph.leaving[node]
        if graph.hops[n].means == "inside" and not graph.hops[n].open
    )


def _takes_over(graph: Graph, hop: Hop) -> bool:
    """A preamp or anything digital ends the line: what follows is another signal."""
    bank = graph.nodes[hop.end].bank
    return graph.nodes[hop.end].digital or (isinstance(bank, Stage) and bank.kind == "preamp")


def _feeding_port(graph: Graph, rig: Rig, node: int) -> Port | None:
    """The input that could feed 48 V here, if this is one of a box of ours."""
    bank = graph.nodes[node].bank
    if not isinstance(bank, Port) or bank.way == "out" or bank.phantom == "none":
        return None
    gear = rig.gear.get(graph.nodes[node].gear)
    return bank if gear is not None and gear.owner != "house" else None


def _is_tail(graph: Graph, node: int) -> bool:
    """The house's end of a line of ours, not of one that the house sends back."""
    return graph.nodes[node].gear == HOUSE and any(
        graph.hops[n].means == "lead" for n in graph.entering[node]
    )


def _is_house(graph: Graph, rig: Rig, node: int) -> bool:
    """An end of a tail, or an input of a box that the house brings and switches."""
    if _is_tail(graph, node):
        return True
    place = graph.nodes[node]
    gear = rig.gear.get(place.gear)
    bank = place.bank
    return (
        gear is not None
        and gear.owner == "house"
        and isinstance(bank, Port)
        and bank.way != "out"
        and bank.phantom != "none"
    )


def _switched_on(graph: Graph, rig: Rig, walks: Mapping[str, _Walk]) -> frozenset[int]:
    """Our inputs that feed. Of several on one line a row means the nearest to the source.

    A switch for a whole bank is on as soon as one row wants it.
    """
    on: set[int] = set()
    banks: set[tuple[str, str]] = set()
    ours: dict[int, Port] = {}
    for name, walk in walks.items():
        row = rig.rows.get(name)
        wanted = row is not None and row.phantom == "on"
        others = {one.on: one.phantom == "on" for one in row.also} if row is not None else {}
        switched: list[int] = []
        for node in walk.powered:
            port = _feeding_port(graph, rig, node)
            if port is None:
                continue
            ours[node] = port
            if port.phantom == "always":
                on.add(node)
            elif wanted and graph.nodes[node].gear not in others:
                switched.append(node)
        there = [n for n in walk.powered if n in ours and others.get(graph.nodes[n].gear)]
        for node in (*_nearest(graph, switched, lanes=rig.sources[name].lanes), *there):
            if ours[node].phantom == "global":
                banks.add((graph.nodes[node].gear, ours[node].id))
            else:
                on.add(node)
    on.update(n for n, port in ours.items() if (graph.nodes[n].gear, port.id) in banks)
    return frozenset(on)


def _nearest(graph: Graph, nodes: list[int], *, lanes: int) -> list[int]:
    """The inputs of the box that stands nearest, one for each lane of the source."""
    if not nodes:
        return []
    box = graph.nodes[nodes[0]].gear
    return [node for node in nodes if graph.nodes[node].gear == box][:lanes]


def _line(graph: Graph, rig: Rig, source: Source, walk: _Walk, on: frozenset[int]) -> PhantomLine:
    ours = [n for n in walk.powered if _feeding_port(graph, rig, n) is not None]
    house = [n for n in walk.powered if _is_house(graph, rig, n)]

    def keys(nodes: list[int]) -> tuple[str, ...]:
        return tuple(graph.nodes[n].key for n in nodes)

    return PhantomLine(
        source.id,
        need_of(rig, source),
        feeds=keys([n for n in ours if n in on]),
        could_feed=keys([n for n in ours if n not in on]),
        house=keys(house),
        house_rig_off=keys([n for n in house if n in walk.dark]),
        blocked=keys(list(walk.blocked)),
        heard_rig_off=keys(list(walk.heard_dark)),
    )
