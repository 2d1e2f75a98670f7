"""Which boxes must share one clock, who leads, and whether a follower can hear its leader."""

from collections.abc import Iterator, Mapping
from functools import cached_property

import msgspec

from rigproof.network.cabling import HANDS_ON, Cabling, Link, cabling
from rigproof.rig import Clock, Rig
from rigproof.rig.geartype import ClockAbility
from rigproof.rig.lanes import Socket
from rigproof.rig.ref import HOUSE

# What carries samples, and with them a clock. Control leads and plain computers carry none.
CLOCKED = frozenset({"link", "network", "usb", "aes3", "optical", "coax", "word-clock"})
# Boxes without a clock of their own that pass what arrives to their other sockets.
PASSES = HANDS_ON | {"hub", "panel", "splitter", "adapter"}


class Domain(msgspec.Struct, frozen=True, dict=True):
    """Boxes whose samples meet, so that one clock must lead them all."""

    boxes: tuple[str, ...]  # in the order of the file
    clocks: Mapping[str, Clock]  # what the file says of them
    abilities: Mapping[str, ClockAbility]
    by_network: bool  # packets join at least two of them: leadership is elected

    @cached_property
    def heads(self) -> tuple[str, ...]:
        """Who leads: by its own entry, or because others follow a box that says nothing."""
        followed = {c.follows for c in self.clocks.values() if c.follows is not None}
        return tuple(
            box
            for box in self.boxes
            if (box in self.clocks and self.clocks[box].follows is None)
            or (box not in self.clocks and box in followed)
        )

    @property
    def could_lead(self) -> tuple[str, ...]:
        return tuple(box for box in self.boxes if self.abilities[box].leads)

    @property
    def unstated(self) -> tuple[str, ...]:
        """Boxes that could lead and of which nothing is said."""
        return tuple(
            box
            for box in self.boxes
            if box not in self.clocks and box not in self.heads and self.abilities[box].leads
        )


class Ways(msgspec.Struct, frozen=True, dict=True):
    """The one-lead steps that a clock takes: from box to box, and in and out of switches and hubs.

    A place is a box, or a switch or hub for one protocol (`switch|network audio`).
    """

    steps: tuple[tuple[str, str], ...]  # sender, receiver
    binding: tuple[tuple[str, str], ...]  # those where no rate converter stands at the receiver
    by_network: frozenset[str]

    @cached_property
    def reaches(self) -> Mapping[str, tuple[str, ...]]:
        found: dict[str, list[str]] = {}
        for sender, receiver in self.steps:
            found.setdefault(sender, []).append(receiver)
        return {place: tuple(receivers) for place, receivers in found.items()}

    def heard_at(self, leader: str) -> frozenset[str]:
        """Every box that a leader's clock can arrive at, over as many boxes as it takes."""
        seen, queue = {leader}, [leader]
        while queue:
            for near in self.reaches.get(queue.pop(), ()):
                if near not in seen:
                    seen.add(near)
                    queue.append(near)
        return frozenset(seen)


def digital_ways(rig: Rig, cables: Cabling | None = None) -> Ways:
    """The ways that clocks can take in this rig."""
    cables = cables or cabling(rig)
    steps: list[tuple[str, str]] = []
    binding: list[tuple[str, str]] = []
    by_network: set[str] = set()
    for sender, receiver, packets in (*_over_leads(cables), *_over_streams(rig)):
        steps.append((sender, receiver))
        type_ = cables.types.get(receiver)
        if type_ is None or type_.clock is None or not type_.clock.converts:
            binding.append((sender, receiver))
            if packets:
                by_network |= {sender, receiver}
    return Ways(tuple(steps), tuple(binding), frozenset(by_network))


def domains(rig: Rig, ways: Ways | None = None) -> tuple[Domain, ...]:
    """Every set of two boxes or more whose samples meet without a rate converter between.

    Exact: the connected parts of the digital links, by merging each link's two ends.
    """
    ways = ways or digital_ways(rig)
    abilities = {
        gear.id: ability
        for gear in rig.file.gear
        if (ability := rig.types[gear.type].clock) is not None
    }
    part = {place: place for pair in ways.binding for place in pair}
    part.update({box: box for box in abilities})
    for sender, receiver in ways.binding:
        part[_root(part, sender)] = _root(part, receiver)
    members: dict[str, list[str]] = {}
    for box in abilities:
        members.setdefault(_root(part, box), []).append(box)
    clocks = follows(rig)
    return tuple(
        Domain(
            tuple(boxes),
            {box: clocks[box] for box in boxes if box in clocks},
            {box: abilities[box] for box in boxes},
            len(ways.by_network.intersection(boxes)) > 1,
        )
        for boxes in members.values()
        if len(boxes) > 1
    )


def _root(part: dict[str, str], box: str) -> str:
    while part[box] != box:
        part[box] = part[part[box]]
        box = part[box]
    return box


def follows(rig: Rig) -> Mapping[str, Clock]:
    """The first clock entry of each box."""
    found: dict[str, Clock] = {}
    for clock in rig.file.clocks:
        found.setdefault(clock.gear, clock)
    return found


def ring(clocks: Mapping[str, Clock], start: str) -> tuple[str, ...]:
    """The boxes that follow one another in a circle, where following from here leads into one.

    The circle starts with its alphabetically first box, so that each is told once.
    """
    seen = [start]
    while (entry := clocks.get(seen[-1])) is not None and entry.follows is not None:
        if entry.follows in seen:
            circle = seen[seen.index(entry.follows) :]
            first = circle.index(min(circle))
            return (*circle[first:], *circle[:first])
        seen.append(entry.follows)
    return ()


# Who sends samples to whom


def _over_leads(cables: Cabling) -> Iterator[tuple[str, str, bool]]:
    """Sender, receiver, and whether in packets, for each lead and each way it works."""
    worlds = {world for link in cables.links for world in _worlds(link)}
    for link in cables.links:
        for start, end in ((link.start, link.end), (link.end, link.start)):
            if not (_sends(start) and _receives(end)):
                continue
            for world in sorted(worlds):
                sender, receiver = _place(cables, start, world), _place(cables, end, world)
                if sender is not None and receiver is not None and sender != receiver:
                    yield sender, receiver, world != _WIRE


_WIRE = "wire"  # everything that is no packet


def _worlds(link: Link) -> Iterator[str]:
    for socket in (link.start, link.end):
        if socket.port is not None and socket.port.carries in CLOCKED:
            yield _world(socket)


def _world(socket: Socket) -> str:
    """Packets meet packets of the same protocol; a computer's plain network socket has none."""
    assert socket.port is not None
    return socket.port.protocol if socket.port.carries == "network" else _WIRE


def _place(cables: Cabling, socket: Socket, world: str) -> str | None:
    """The place of a socket in a world: its box, or the part of a switch or hub that serves it."""
    type_ = cables.types[socket.gear]
    if type_.clock is None and type_.class_ in PASSES:
        return f"{socket.gear}|{world}" if (world == _WIRE) != _packets(socket) else None
    own = _world(socket)
    return socket.gear if own and own == world and type_.clock is not None else None


def _packets(socket: Socket) -> bool:
    return socket.port is not None and socket.port.carries == "network"


def _sends(socket: Socket) -> bool:
    port = socket.port
    return port is not None and port.carries in CLOCKED and port.way != "in"


def _receives(socket: Socket) -> bool:
    port = socket.port
    return port is not None and port.carries in CLOCKED and port.way != "out"


def _over_streams(rig: Rig) -> Iterator[tuple[str, str, bool]]:
    for stream in rig.file.streams:
        if HOUSE not in (stream.from_.gear, stream.to.gear):
            # A packet clock runs both ways: who leads is elected, not set by the audio's way.
            yield stream.from_.gear, stream.to.gear, True
            yield stream.to.gear, stream.from_.gear, True
