"""Fill in what the file leaves out of the patch, and say why.

Everything stated is kept: a number that people have learnt never moves. What is missing gets the
plainest answer: the same number all the way where that is free, else the next free place in the
order of the trade.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache
from itertools import chain

import msgspec

from rigproof.rig import Gear, Reason, Rig
from rigproof.rig.band import FAMILY_ORDER, Source
from rigproof.rig.geartype import GearType, Port
from rigproof.rig.lanes import inner_lanes
from rigproof.rig.plan import Mix, PatchRow, Route
from rigproof.rig.ref import HOUSE, Numbers, PortRef
from rigproof.signal import Graph, build
from rigproof.signal.blocks import Block, Blocks, Taken
from rigproof.signal.blueprint import Blueprint, blueprint
from rigproof.signal.phantom import need_of, phantom_lines
from rigproof.signal.wiring import Wiring
from rigproof.wording.sentences import sentence


class Planned(msgspec.Struct, frozen=True):
    """The rig with every gap filled that can be filled, its graph, and the reasons."""

    rig: Rig
    graph: Graph
    reasons: tuple[Reason, ...]


def complete(rig: Rig, before: Sequence[Reason] = ()) -> Planned:
    """Plan sockets, channels, inner routes and ways out that the file does not state.

    `before`: what was planned already, and why; it goes ahead of the reasons found here.
    """
    reasons = list(before)
    rows = list(_with_sockets(rig, reasons))
    rig = rig.changed(patch=tuple(rows))
    wiring = Wiring(rig)
    graph = wiring.graph()
    arrivals = _Arrivals(rig, graph)
    rows = list(_with_channels(rig, arrivals, reasons))
    rows = list(_with_phantom(rig, graph, rows, reasons))
    mixes = tuple(_with_ways_out(rig, graph, reasons))
    rig = rig.changed(patch=tuple(rows), mixes=mixes)
    rig = rig.changed(routes=rig.file.routes + tuple(_channel_routes(rig, arrivals)))
    return Planned(rig, build(rig, wiring), tuple(reasons))


# Sockets


def _with_sockets(rig: Rig, reasons: list[Reason]) -> Iterator[PatchRow]:
    """The stated rows, and one for each source that has none, plugged where a socket is free."""
    new = [
        PatchRow(source=source.id, where=source.where)
        for source in _in_trade_order(s for s in rig.file.sources if s.id not in rig.rows)
    ]
    free = _Free(_free_sockets(rig), lambda: _leading_to_house(rig))

    def filled(row: PatchRow) -> PatchRow:
        if row.plug is not None or _needs_none(rig, row):
            return row
        return _plugged(rig.sources[row.source], row, free, reasons)

    # Stated rows choose first: a channel that people know finds the socket of its number free.
    yield from (filled(row) for row in rig.file.patch)
    yield from (filled(row) for row in new)


def _leading_to_house(rig: Rig) -> frozenset[str]:
    """Every lane from which a signal comes out at the house, whatever is plugged in."""
    graph = Wiring(rig).graph()
    return frozenset(graph.nodes[n].key for n in graph.feeding(graph.of_listener(HOUSE)))


def _needs_none(rig: Rig, row: PatchRow) -> bool:
    return rig.sources[row.source].start is not None


def _in_trade_order(sources: Iterator[Source]) -> list[Source]:
    return sorted(sources, key=lambda source: FAMILY_ORDER.index(source.family))


def _plugged(source: Source, row: PatchRow, free: "_Free", reasons: list[Reason]) -> PatchRow:
    wanted = row.channel.first if row.channel else None
    place = free.take(source.lanes, wanted, ours_only=source.private)
    if place is None:
        return row
    gear, bank, number = place
    last = number + source.lanes - 1
    text = f"{gear}.{bank}.{number}" + (f"-{last}" if last > number else "")
    same = wanted == number
    why = (
        sentence("the socket of the channel's number is free")
        if same
        else sentence("the next free socket")
    )
    if source.private:
        why += sentence(" that does not lead to the house")
    reasons.append(Reason(source.id, text, why))
    return msgspec.structs.replace(row, plug=PortRef(text))


_Place = tuple[str, str, int]  # a box, its bank of sockets, the number of one


class _Free:
    """The free sockets, nearest first. Each look begins where all before is known to be taken."""

    def __init__(
        self, places: Sequence[_Place], leading_to_house: Callable[[], frozenset[str]]
    ) -> None:
        self.places = places
        self.left = set(places)
        self.by_number: dict[int, list[_Place]] = {}
        for place in places:
            self.by_number.setdefault(place[2], []).append(place)
        self.first: dict[tuple[int, int, bool], int] = {}
        # Asked for only where something private has no socket: it takes a walk through the rig.
        self.leading_to_house = cache(leading_to_house)

    def take(self, lanes: int, wanted: int | None, *, ours_only: bool) -> _Place | None:
        """The socket of this number where it is free, else the first of free neighbours.

        Pairs begin on an odd number where they can: channels and buses pair up so, and one number
        all the way is then possible. `ours_only`: nothing that leads on to the house.
        """
        named = self.by_number.get(wanted or 0, ())
        place = next((p for p in named if self.run(p, lanes, ours_only)), None)
        for step in range(lanes, 0, -1):
            place = place or self.next(lanes, step, ours_only)
        if place is not None:
            gear, bank, number = place
            self.left -= {(gear, bank, number + n) for n in range(lanes)}
        return place

    def next(self, lanes: int, step: int, ours_only: bool) -> _Place | None:
        key = (lanes, step, ours_only)
        for at in range(self.first.get(key, 0), len(self.places)):
            place = self.places[at]
            if place[2] % step == 1 % step and self.run(place, lanes, ours_only):
                self.first[key] = at
                return place
        self.first[key] = len(self.places)
        return None

    def run(self, place: _Place, lanes: int, ours_only: bool) -> bool:
        gear, bank, number = place
        wanted = [(gear, bank, number + n) for n in range(lanes)]
        if not self.left.issuperset(wanted):
            return False
        return not ours_only or self.leading_to_house().isdisjoint(
            f"{gear}.{bank}.{n}" for gear, bank, n in wanted
        )


_PLUG_CLASSES = ("panel", "splitter", "stage-box", "mixer")


def _free_sockets(rig: Rig) -> list[_Place]:
    """Microphone sockets that nothing is plugged in and nobody holds open, nearest first."""
    taken = _taken_sockets(rig)
    found = []
    for class_ in _PLUG_CLASSES:
        for gear in rig.file.gear:
            type_ = rig.types[gear.type]
            if type_.class_ != class_:
                continue
            for port in type_.ports:
                if port.way == "in" and port.carries == "mic" and port.count > 1:
                    found += [
                        (gear.id, port.id, n)
                        for n in range(1, port.count + 1)
                        if f"{gear.id}.{port.id}.{n}" not in taken
                    ]
    return found


def _taken_sockets(rig: Rig) -> set[str]:
    refs = [row.plug for row in rig.file.patch]
    refs += [hold.sockets for hold in rig.file.holds]
    refs += [end for lead in rig.file.leads for end in (lead.from_, lead.to)]
    taken: set[str] = set()
    for ref in refs:
        if ref is None:
            continue
        type_ = rig.types[rig.gear[ref.gear].type] if ref.gear in rig.gear else None
        low, high = ref.numbers or (1, _count(type_, ref.bank))
        taken.update(f"{ref.gear}.{ref.bank}.{n}" for n in range(low, high + 1))
    return taken


def _count(type_: GearType | None, bank: str) -> int:
    return type_.banks[bank].count if type_ is not None and bank in type_.banks else 1


# Channels


def _with_channels(rig: Rig, at: "_Arrivals", reasons: list[Reason]) -> Iterator[PatchRow]:
    mixer = rig.mixer
    bank = next(rig.types[mixer.type].stages("channel"), None) if mixer else None
    if mixer is None or bank is None:
        yield from rig.file.patch
        return
    taken = {n for row in rig.file.patch for n in row.channel or ()}
    taken |= {n for hold in rig.file.holds for n in hold.channels or ()}
    order = {s.id: n for n, s in enumerate(_in_trade_order(iter(rig.file.sources)))}
    blocks = _ChannelBlocks(rig, mixer, at)
    planned: dict[str, Numbers] = {}
    for row in sorted(rig.file.patch, key=lambda row: order[row.source]):
        source = rig.sources[row.source]
        if row.channel is not None or row.source in planned or source.owner == "house":
            continue
        arrivals = at.of(row, mixer.id)
        if row.also and not any(arrivals):
            continue  # it goes to another mixer alone
        numbers = _free_numbers(arrivals, source, taken, blocks, bank.count)
        if numbers is None:
            continue
        planned[row.source] = numbers[0]
        blocks.claim(arrivals, numbers[0])
        taken.update(numbers[0])
        reasons.append(
            Reason(source.id, sentence("channel {number}", number=numbers[0]), numbers[1])
        )
    for row in rig.file.patch:
        if row.channel is None and row.source in planned:
            yield msgspec.structs.replace(row, channel=planned.pop(row.source))
        else:
            yield row


def _free_numbers(
    arrivals: Sequence[str | None],
    source: Source,
    taken: set[int],
    blocks: "_ChannelBlocks",
    most: int,
) -> tuple[Numbers, str] | None:
    """The channel or pair a source gets: its socket's number, else the next free one.

    A mixer that sets its channels in blocks is asked for what it can do, where there is such a
    channel; where there is none the source still gets a number, and a rule says what is wrong.
    """
    same = _number(arrivals[0]) if arrivals and arrivals[0] else 0
    pair = source.lanes == 2
    starts = range(1, most + 2 - source.lanes, 2 if pair else 1)
    order = [
        Numbers(number, number + source.lanes - 1)
        for number in chain([same] if same in starts else [], starts)
        if taken.isdisjoint(range(number, number + source.lanes))
    ]
    numbers = next((n for n in order if blocks.allow(arrivals, n)), None) or next(iter(order), None)
    if numbers is None:
        return None
    if numbers.first == same:
        return numbers, sentence("the number of its socket is free: one number all the way")
    free = (
        sentence("the next free odd and even pair") if pair else sentence("the next free channel")
    )
    if not same:
        return numbers, sentence("{free}; nothing brings it to the mixer yet", free=free)
    if pair and same not in starts:
        return numbers, sentence("{free}; its sockets begin with an even number", free=free)
    if numbers != order[0]:
        return numbers, sentence(
            "{free} that the mixer can set: it takes its channels in blocks", free=free
        )
    return numbers, sentence("{free}; its socket's number is taken", free=free)


class _ChannelBlocks:
    """What the channels of the band's mixer are asked to take, where it sets them in blocks."""

    def __init__(self, rig: Rig, mixer: Gear, at: "_Arrivals") -> None:
        self.plan = blueprint(rig.types[mixer.type])
        self.bank = next(rig.types[mixer.type].stages("channel"))
        self.blocks = Blocks(self.plan)
        self.claimed: dict[Block, Taken] = {}
        for row in rig.file.patch:
            if row.channel is not None:
                self.claim(at.of(row, mixer.id), row.channel)

    def _asked(
        self, arrivals: Iterable[str | None], numbers: Numbers
    ) -> Iterator[tuple[Block, Taken]]:
        for arrival, number in zip(arrivals, numbers, strict=False):
            channel = f"{self.bank.id}.{number}" if self.bank.count > 1 else self.bank.id
            if arrival is not None and channel in self.plan.index:
                yield from self.blocks.asked(self.plan.index[arrival], self.plan.index[channel])

    def allow(self, arrivals: Iterable[str | None], numbers: Numbers) -> bool:
        """Whether these channels can take these lanes beside what they take already.

        A block goes over as it is: the seventh of eight inputs is the seventh of eight channels.
        """
        return all(
            taken[2] == 0 and self.claimed.get(block, taken) == taken
            for block, taken in self._asked(arrivals, numbers)
        )

    def claim(self, arrivals: Iterable[str | None], numbers: Numbers) -> None:
        for block, taken in self._asked(arrivals, numbers):
            self.claimed.setdefault(block, taken)


def _number(lane: str) -> int:
    tail = lane.rpartition(".")[2]
    return int(tail) if tail.isdigit() else 1


# 48 V


def _with_phantom(
    rig: Rig, graph: Graph, rows: Sequence[PatchRow], reasons: list[Reason]
) -> Iterator[PatchRow]:
    """48 V on where a source needs it, the row says nothing, and an input of ours can feed it."""
    wanting = {
        row.source
        for row in rows
        if row.phantom is None and need_of(rig, rig.sources[row.source]) == "must"
    }
    lines = phantom_lines(graph, rig) if wanting else {}
    for row in rows:
        if row.source in wanting and lines[row.source].could_feed:
            reasons.append(
                Reason(row.source, sentence("48 V on"), sentence("it cannot work without"))
            )
            yield msgspec.structs.replace(row, phantom="on")
        else:
            yield row


# Routes from what arrives at the mixer to its channels


def _channel_routes(rig: Rig, at: "_Arrivals") -> Iterator[Route]:
    fed = {
        f"{route.to.gear}.{lane}"
        for route in rig.file.routes
        for lane in inner_lanes(
            rig.type_of(route.to.gear), route.to, entering=False, at=route.where
        )
    }
    for row in rig.file.patch:
        for mixer, channels in _places(rig, row):
            plan = blueprint(rig.type_of(mixer))
            bank = next(plan.type.stages("channel"), None)
            if bank is None:
                continue
            for number, arrival in zip(channels, at.of(row, mixer), strict=False):
                channel = f"{mixer}.{bank.id}.{number}"
                if number > bank.count or arrival is None or channel in fed:
                    continue
                if plan.index.get(f"{bank.id}.{number}") in plan.before:
                    continue  # wired for good
                fed.add(channel)
                yield Route(
                    from_=PortRef(f"{mixer}.{arrival}"), to=PortRef(channel), where=row.where
                )


def _places(rig: Rig, row: PatchRow) -> Iterator[tuple[str, Numbers]]:
    """The mixers that a source comes in on, and its channels there."""
    if row.channel is not None and rig.mixer is not None:
        yield rig.mixer.id, row.channel
    yield from ((one.on, one.channel) for one in row.also)


class _Arrivals:
    """For each lane of a source, the lane of a mixer where a channel may take it from."""

    def __init__(self, rig: Rig, graph: Graph) -> None:
        self.rig = rig
        self.graph = graph
        self._found: dict[tuple[str, str], list[str | None]] = {}

    def of(self, row: PatchRow, mixer: str) -> list[str | None]:
        """Those of the source of a row."""
        found = self._found.get((row.source, mixer))
        if found is None:
            plan = blueprint(self.rig.type_of(mixer))
            starts = self.graph.of_source(row.source)
            found = [_arrival(self.graph, plan, mixer, start) for start in starts]
            self._found[row.source, mixer] = found
        return found


def _arrival(graph: Graph, plan: Blueprint, mixer: str, start: int) -> str | None:
    """The nearest place; behind an insert where one is plugged in, for its socket parts the way."""
    inserts = any(port.carries == "insert" for port in plan.type.ports)
    first: str | None = None
    queue, seen = [start], {start}
    for node in queue:  # grows as it goes: the nearest arrival first
        gear, _, lane = graph.nodes[node].key.partition(".")
        if gear == mixer and plan.feeds_channels(lane):
            bank = graph.nodes[node].bank
            if not inserts or (isinstance(bank, Port) and bank.carries == "insert"):
                return lane
            first = first or lane
        for number in graph.leaving[node]:
            hop = graph.hops[number]
            if not hop.open and hop.end not in seen:
                seen.add(hop.end)
                queue.append(hop.end)
    return first


# Ways out of mixes


def _with_ways_out(rig: Rig, graph: Graph, reasons: list[Reason]) -> Iterator[Mix]:
    """Mixes with the mixer outputs that are wired to their listeners' ears."""
    mixer = rig.mixer
    for mix in rig.file.mixes:
        on_mixer = mixer is not None and mix.on in (None, mixer.id)
        if not on_mixer or mix.out is not None or mix.bus is None or not mix.listeners:
            yield mix
            continue
        out = _wired_outputs(rig, graph, mix)
        if out is None:
            yield mix
            continue
        reasons.append(
            Reason(mix.id, str(out), sentence("these outputs are wired to the listener's ears"))
        )
        yield msgspec.structs.replace(mix, out=out)


def _wired_outputs(rig: Rig, graph: Graph, mix: Mix) -> PortRef | None:
    """The mixer's outputs from which wires lead to the ears: its own, or lanes of a stage link."""
    mixer = rig.mixer
    assert mixer is not None
    assert mix.bus is not None
    ears = graph.of_listener(mix.listeners[0])
    lanes = sorted(
        (bank, int(number) if number else 0)
        for bank, number in (
            _split_number(graph.nodes[n].key)
            for n in graph.feeding(ears)
            if _is_output(graph, n, mixer.id)
        )
    )
    if not lanes or len({bank for bank, _ in lanes}) > 1:
        return None
    bank, numbers = lanes[0][0], [number for _, number in lanes]
    if numbers != list(range(numbers[0], numbers[0] + len(numbers))):
        return None
    # A feed for a personal mixer leads to its owner's ears by every lane: no mix leaves there.
    if len(numbers) > max(2, len(mix.bus)):
        return None
    last = f"-{numbers[-1]}" if len(numbers) > 1 else ""
    return PortRef(f"{bank}.{numbers[0]}{last}" if numbers[0] else bank)


def _split_number(key: str) -> tuple[str, str]:
    """`mixer.out.3` as what it is a lane of and its number; no number where it is the only one."""
    bank, _, number = key.rpartition(".")
    return (bank, number) if number.isdigit() else (key, "")


def _is_output(graph: Graph, number: int, mixer: str) -> bool:
    node = graph.nodes[number]
    if node.gear != mixer or not isinstance(node.bank, Port):
        return False
    return node.bank.way == "out" or (node.bank.way == "both" and ".tx" in node.key)
