"""What is at a socket: the source plugged there, the mix that comes out, or where its lead goes."""

from collections.abc import Iterator, Mapping
from functools import cached_property

import msgspec

from rigproof.checks.rule import View
from rigproof.patch import PatchLists
from rigproof.rig.band import Source
from rigproof.rig.equipment import Gear
from rigproof.rig.geartype import Port, Stage
from rigproof.rig.lanes import Socket, sockets
from rigproof.rig.plan import Feed, Mix
from rigproof.rig.ref import HOUSE, PortRef
from rigproof.rig.where import NOWHERE
from rigproof.showbook.edition import Edition
from rigproof.signal.graph import planned
from rigproof.signal.reach import flood


class Named(msgspec.Struct, frozen=True):
    """What stands at a place, in short and in full; nothing where nothing does."""

    short: str = ""
    full: str = ""
    source: Source | None = None


class Sockets(msgspec.Struct, frozen=True, dict=True):
    """All the answers for one night."""

    view: View
    edition: Edition

    def at(self, gear: Gear, port: Port, number: int) -> Named:
        """What is at one socket of a box."""
        socket = Socket(gear.id, port, number)
        return (
            self._plugged.get(socket.key)
            or self._listens.get(socket.key)
            or self._fed.get(socket.key)
            or self._mixed(socket)
            or self._arriving(socket)
            or self._joined.get(socket.key)
            or self._held.get(socket.key)
            or Named()
        )

    def slots(self, gear: Gear) -> Mapping[int, Named]:
        """The slots of a personal mixer."""
        feed = self._feed_of(gear)
        found: dict[int, Named] = {}
        for slot in feed.slots if feed else ():
            alone = self.view.rig.sources.get(slot.takes[0]) if len(slot.takes) == 1 else None
            full = slot.name or (alone.name if alone else "")
            short = slot.label or (alone.label if alone and full == alone.name else "")
            sides = ("",) if len(slot.slot) == 1 else (" L", " R")
            for number, side in zip(slot.slot, sides, strict=False):
                found[number] = Named(f"{short}{side}" if short else "", f"{full}{side}", alone)
        return found

    def channels(self, gear: Gear) -> Mapping[int, Named]:
        """The channels of the band's own mixer."""
        if self.view.rig.mixer != gear:
            return {}
        return {
            row.number: _lane(row.source, row.lane) if row.source else self._hold(row.held)
            for row in PatchLists(self.view.rig).channels
        }

    def buses(self, gear: Gear, stage: Stage) -> Mapping[int, Named]:
        """The mixes made on one bank of buses."""
        rig = self.view.rig
        first = next(rig.type_of(gear.id).stages("bus")).id
        own = rig.mixer.id if rig.mixer else ""
        found: dict[int, Named] = {}
        for mix in rig.file.mixes:
            if (mix.on or own) == gear.id and (mix.bank or first) == stage.id:
                for side, number in enumerate(mix.bus or ()):
                    found[number] = _side(mix, side)
        return found

    # --- by the key of a socket, from the surest to the last resort ---

    @cached_property
    def _plugged(self) -> Mapping[str, Named]:
        rig = self.view.rig
        found: dict[str, Named] = {}
        for row in rig.file.patch:
            source = rig.sources[row.source]
            for lane, socket in enumerate(self._sockets(row.plug)[: source.lanes]):
                found[socket.key] = _lane(source, lane)
        return found

    @cached_property
    def _listens(self) -> Mapping[str, Named]:
        """Whose earphones hang there."""
        return {
            socket.key: Named(full=person.name)
            for person in self.view.rig.file.people
            if person.ears is not None
            for socket in self._sockets(person.ears.plug)
        }

    @cached_property
    def _fed(self) -> Mapping[str, Named]:
        """What hangs on a mains outlet."""
        feeds = self.view.rig.file.power.feeds if self.view.rig.file.power else ()
        return {
            socket.key: self._box(feed.gear)
            for feed in feeds
            for socket in self._sockets(feed.outlet)
        }

    @cached_property
    def _joined(self) -> Mapping[str, Named]:
        """The box at the other end of the lead."""
        found: dict[str, Named] = {}
        for run in self.view.runs:
            for near, far in ((run.starts, run.ends), (run.ends, run.starts)):
                for place, socket in enumerate(near):
                    other = far[min(place * len(far) // len(near), len(far) - 1)]
                    several = other.port is None or other.port.count > 1
                    number = other.number if several else 0
                    found.setdefault(socket.key, self._box(other.gear, number))
        return found

    @cached_property
    def _held(self) -> Mapping[str, Named]:
        return {
            socket.key: self._hold(hold.why)
            for hold in self.view.rig.file.holds
            for socket in self._sockets(hold.sockets)
        }

    def _mixed(self, socket: Socket) -> Named | None:
        mixes, bits = self._mix_bits
        found = 0
        for node in self._nodes(socket):
            found |= bits[node]
        sides = [one for place, one in enumerate(mixes) if found >> place & 1]
        if len({mix.id for mix, _ in sides}) != 1:
            return None
        mix, side = sides[0]
        return _side(mix, side if len(sides) == 1 else None)

    @cached_property
    def _mix_bits(self) -> tuple[tuple[tuple[Mix, int], ...], tuple[int, ...]]:
        """Each side of each mix, and which of them arrive at each place."""
        graph = self.view.graph
        sides: list[tuple[Mix, int]] = []
        seeds: dict[int, int] = {}
        for mix in self.view.rig.file.mixes:
            for side, key in enumerate(self._made_at(mix)):
                if key in graph.index:
                    node = graph.index[key]
                    seeds[node] = seeds.get(node, 0) | 1 << len(sides)
                    sides.append((mix, side if mix.stereo else 0))
        return tuple(sides), flood(graph, seeds, through=planned)

    def _made_at(self, mix: Mix) -> Iterator[str]:
        """The buses of a mix; where it has none, what it leaves by."""
        rig = self.view.rig
        mixer = mix.on or (rig.mixer.id if rig.mixer else None)
        if mix.bus is None or mixer is None:
            yield from self._lane_keys(mix.out)
            return
        bank = mix.bank or next((stage.id for stage in rig.type_of(mixer).stages("bus")), "")
        yield from (f"{mixer}.{bank}.{number}" for number in mix.bus)

    def _arriving(self, socket: Socket) -> Named | None:
        found = self.view.lanes.at(self._nodes(socket))
        sources = {name for name, _ in found}
        if len(sources) != 1:
            return None
        source = self.view.rig.sources[found[0][0]]
        if len(found) == 1:
            return _lane(source, found[0][1] - 1)
        return Named(source.label, source.name, source)

    def _nodes(self, socket: Socket) -> list[int]:
        index = self.view.graph.index
        keys = (*socket.lanes("rx"), *socket.lanes("tx"))
        return [index[key] for key in keys if key in index]

    def _lane_keys(self, ref: PortRef | None) -> Iterator[str]:
        """The lanes that a reference names, as the graph calls them."""
        found = self._sockets(ref)
        if ref is None or not found:
            return
        lanes = [lane for socket in found for lane in socket.lanes(ref.way or "tx")]
        if ref.lanes is not None and len(found) == 1:
            lanes = lanes[ref.lanes[0] - 1 : ref.lanes[1]]
        yield from lanes

    def _feed_of(self, gear: Gear) -> Feed | None:
        """The feed that arrives at a personal mixer; the only one where there is but one."""
        feeds = self.view.rig.file.feeds
        if len(feeds) < 2:
            return feeds[0] if feeds else None
        graph = self.view.graph
        ports = [p for p in self.view.rig.type_of(gear.id).ports if p.way != "out" and p.lanes > 1]
        own = [node for port in ports for node in self._nodes(Socket(gear.id, port, 1))]
        for feed in feeds:
            starts = [graph.index[k] for k in self._lane_keys(feed.port) if k in graph.index]
            reached = flood(graph, dict.fromkeys(starts, 1), through=planned)
            if any(reached[node] for node in own):
                return feed
        return None

    def _box(self, gear: str, number: int = 0) -> Named:
        if gear == HOUSE:
            return Named(
                self.edition.say("labels.house_short", n=number),
                self.edition.say("labels.house_line", n=number),
            )
        label, which = self.view.rig.gear[gear].label, f" {number}" if number else ""
        return Named(label and f"{label}{which}", f"{self.view.rig.box_names[gear]}{which}")

    def _hold(self, why: str) -> Named:
        if not why:
            return Named()
        return Named(self.edition.say("labels.held"), self.edition.say("labels.held_for", why=why))

    def _sockets(self, ref: PortRef | None) -> tuple[Socket, ...]:
        return sockets(self.view.rig.gear_types, ref, NOWHERE) if ref is not None else ()


def _lane(source: Source, lane: int) -> Named:
    full = source.lane_names[lane]
    short = source.label and f"{source.label}{full.removeprefix(source.name)}"
    return Named(short, full, source)


def _side(mix: Mix, side: int | None) -> Named:
    mark = ("", " L", " R")[0 if side is None or not mix.stereo else min(side, 1) + 1]
    name = mix.name or mix.id
    return Named(f"{mix.label}{mark}" if mix.label else "", f"{name}{mark}")
