"""The leads that carry data, socket by socket, and the way a stream takes over them."""

from collections import deque
from collections.abc import Collection, Iterator, Mapping
from functools import cached_property

import msgspec

from rigproof.rig import Lead, Rig
from rigproof.rig.geartype import GearType, Second
from rigproof.rig.lanes import Socket, sockets
from rigproof.rig.ref import HOUSE

# What runs over a data lead; plain analogue, mains and radio sockets are not of this world.
DATA = frozenset({"link", "network", "control", "usb", "aes3", "optical", "coax", "word-clock"})
# Boxes that hand packets on from socket to socket.
HANDS_ON = frozenset({"switch", "router", "access-point"})
# ISO/IEC 11801 and ANSI/TIA-568: the longest copper channel, cords included.
COPPER_LONGEST_M = 100.0


class Link(msgspec.Struct, frozen=True):
    """One lead between one socket and another."""

    lead: Lead
    start: Socket  # where the file says `from`
    end: Socket

    @property
    def boxes(self) -> tuple[str, str]:
        return self.start.gear, self.end.gear

    @property
    def carries(self) -> frozenset[str]:
        """What the two sockets carry: one word where they agree."""
        return frozenset(s.port.carries for s in (self.start, self.end) if s.port is not None)


class Cabling(msgspec.Struct, frozen=True, dict=True):
    """All data leads of a rig."""

    links: tuple[Link, ...]
    types: Mapping[str, GearType]
    # Box -> what its second network socket does, where somebody says.
    seconds: Mapping[str, Second] = {}

    @cached_property
    def at(self) -> Mapping[str, tuple[Link, ...]]:
        """The links at each box, in the order of the file."""
        found: dict[str, list[Link]] = {}
        for link in self.links:
            for box in dict.fromkeys(link.boxes):
                found.setdefault(box, []).append(link)
        return {box: tuple(links) for box, links in found.items()}

    def socket_at(self, link: Link, box: str) -> Socket:
        """The end of a link that is in this box."""
        return link.start if link.start.gear == box else link.end

    def beyond(self, link: Link, box: str) -> Socket:
        """The end of a link that is not in this box."""
        return link.end if link.start.gear == box else link.start

    def packet_links(self, box: str) -> Iterator[Link]:
        """The links of a box over which packets of audio can leave it."""
        return (link for link in self.at.get(box, ()) if "network" in link.carries)

    def ways(self, start: str, end: str) -> tuple[tuple[Link, ...], ...]:
        """The way from box to box, and the second one where a redundant socket has its own."""
        redundant = {"redundant"} & {self.seconds.get(box) for box in (start, end)}
        sides = (0, 1) if redundant else (0,)
        found = (self.way(start, end, side) for side in sides)
        return tuple(way for way in found if way is not None)

    def on_side(self, link: Link, box: str, side: int) -> bool:
        """Whether a link of a box is on its first network (0), or on the redundant one (1)."""
        if self.seconds.get(box) != "redundant":
            return True
        port = self.socket_at(link, box).port
        return (port is not None and port.second is not None) == bool(side)

    def way(self, start: str, end: str, side: int = 0) -> tuple[Link, ...] | None:
        """The fewest leads from box to box that packets can take; None where there is no way.

        Exact: breadth first. Switches, routers and access points hand packets on, and so does a
        box whose second socket is said to. Where nobody says, so does any box with two wired
        network sockets, because many such boxes hold a small switch.
        """
        came: dict[str, Link | None] = {start: None}
        queue = deque([start])
        while queue:
            box = queue.popleft()
            if box == end:
                return self._back(box, came)
            if box != start and not self.hands_on(box):
                continue
            for link in self.packet_links(box):
                far = self.beyond(link, box).gear
                if box == start and not self.on_side(link, box, side):
                    continue
                if far == end and not self.on_side(link, far, side):
                    continue
                if far not in came:
                    came[far] = link
                    queue.append(far)
        return None

    def _back(self, box: str, came: Mapping[str, Link | None]) -> tuple[Link, ...]:
        path: list[Link] = []
        while (link := came[box]) is not None:
            path.append(link)
            box = self.beyond(link, box).gear
        return tuple(reversed(path))

    def hands_on(self, box: str) -> bool:
        """Whether packets that enter a box here can leave it there."""
        type_ = self.types.get(box)
        if type_ is None:
            return False
        if type_.class_ in HANDS_ON:
            return True
        if box in self.seconds:
            return self.seconds[box] == "through"
        return len({self.socket_at(link, box).key for link in self.packet_links(box)}) > 1

    def audio_through(self, box: str) -> tuple[Link, ...]:
        """The links of a switch that end in a box that sends or receives audio in packets."""
        return tuple(
            link
            for link in self.packet_links(box)
            if _has_lanes(self.beyond(link, box)) and self.beyond(link, box).gear != box
        )


def _has_lanes(socket: Socket) -> bool:
    port = socket.port
    return (
        port is not None
        and port.carries == "network"
        and (port.lanes_rx + port.lanes_tx > 0 or (port.way != "both"))
    )


Ways = tuple[tuple[Link, ...], ...]


def stream_ways(rig: Rig, cables: Cabling) -> Mapping[str, Ways]:
    """Stream -> the leads it takes, in order; twice where it also has a redundant way.

    A stream that ends at the house is left out: its last lead is the house's.
    """
    between: dict[tuple[str, str], Ways] = {}
    found: dict[str, Ways] = {}
    for stream in rig.file.streams:
        ends = (stream.from_.gear, stream.to.gear)
        if HOUSE not in ends:
            if ends not in between:
                between[ends] = cables.ways(*ends)
            found[stream.id] = between[ends]
    return found


def passed(way: tuple[Link, ...], ends: Collection[str]) -> frozenset[str]:
    """The boxes between the ends of a way, and its leads, by name."""
    boxes = {box for link in way for box in link.boxes} - set(ends)
    return frozenset(boxes | {link.lead.id for link in way})


def cabling(rig: Rig) -> Cabling:
    """The data leads of a rig, each socket with the socket it is joined to."""
    types = {gear.id: rig.types[gear.type] for gear in rig.file.gear}
    seconds = {
        gear.id: said
        for gear in rig.file.gear
        if (said := gear.second_socket or _second(types[gear.id])) is not None
    }
    links: list[Link] = []
    for lead in rig.file.leads:
        if not (
            _data(types, lead.from_.gear, lead.from_.bank)
            or _data(types, lead.to.gear, lead.to.bank)
        ):
            continue
        starts = sockets(types, lead.from_, lead.where)
        ends = sockets(types, lead.to, lead.where)
        links += [Link(lead, a, b) for a, b in zip(starts, ends, strict=False)]
    return Cabling(tuple(links), types, seconds)


def _second(type_: GearType) -> Second | None:
    return next((port.second for port in type_.ports if port.second is not None), None)


def _data(types: Mapping[str, GearType], gear: str, bank: str) -> bool:
    if gear == HOUSE:
        return False
    port = types[gear].banks[bank]
    return getattr(port, "carries", "") in DATA
