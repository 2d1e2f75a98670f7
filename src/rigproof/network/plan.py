"""A plan of addresses: a rare range of the rig's own, fixed numbers by kind, nothing doubled.

The range is made from the names of the band and the rig, so that it stays the same and two bands
in one building hardly share one. What the file states is kept where it can be.
"""

import zlib
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

import msgspec

from rigproof.network.addresses import COMMON_RANGES, USUAL_NETMASK, addressed, subnet
from rigproof.network.cabling import HANDS_ON, Cabling, cabling
from rigproof.rig import Gear, Rig
from rigproof.rig.geartype import GearType
from rigproof.rig.ref import HOUSE
from rigproof.wording.sentences import sentence

# Where each kind starts counting, so that a tired reader finds the mixer under one number at any
# gig. Common practice, no source.
_FIRST: Mapping[str, int] = {
    "router": 1,
    "switch": 2,
    "access-point": 6,
    "mixer": 10,
    "stage-box": 15,
    "network-card": 20,
    "converter": 30,
    "interface": 40,
    "receiver": 50,
    "transmitter": 60,
    "processor": 70,
    "computer": 90,
}
_REST = 80
LEASED = (100, 199)  # what the router hands out to phones and tablets


class Planned(msgspec.Struct, frozen=True):
    """One box: the address it has, the one proposed, and whether that is a change."""

    gear: Gear
    stated: str | None
    proposed: str

    @property
    def changed(self) -> bool:
        return self.stated != self.proposed


class Network(msgspec.Struct, frozen=True):
    """Boxes that packets join, in one range."""

    range: str  # the part that all share: 10.47.3.
    netmask: str
    because: str  # why this range
    boxes: tuple[Planned, ...]
    leased: tuple[str, str] | None  # first and last that a router hands out; None without one


def address_plan(rig: Rig, cables: Cabling | None = None) -> tuple[Network, ...]:
    """A range and an address for every box with a network or control socket, part by part."""
    cables = cables or cabling(rig)
    taken: set[str] = set()
    found: list[Network] = []
    for boxes in _parts(rig, cables):
        network = _planned(rig, boxes, taken)
        taken.add(network.range)
        found.append(network)
    return tuple(found)


def _parts(rig: Rig, cables: Cabling) -> Iterator[list[Gear]]:
    """The boxes that want an address, by what packets join; loose ones by themselves."""
    part: dict[str, int] = {}
    for number, start in enumerate(gear.id for gear in rig.file.gear):
        queue = [start]
        while queue:
            here = queue.pop()
            if here in part or here == HOUSE:
                continue
            part[here] = number
            queue += [
                cables.beyond(link, here).gear
                for link in cables.at.get(here, ())
                if link.carries & {"network", "control"}
            ]
    groups: dict[int, list[Gear]] = {}
    for gear in rig.file.gear:
        if gear.address is not None or _wants(rig.types[gear.type]):
            groups.setdefault(part[gear.id], []).append(gear)
    yield from groups.values()


def _wants(type_: GearType) -> bool:
    """Whether a box can be reached by packets; a plain switch cannot."""
    if type_.class_ == "switch":
        return bool(type_.igmp)
    if type_.class_ in HANDS_ON:
        return True
    return any(
        (port.carries == "control" and port.connector != "air")
        or (port.carries == "network" and port.lanes_rx + port.lanes_tx > 0)
        for port in type_.ports
    )


def _planned(rig: Rig, boxes: Sequence[Gear], taken: set[str]) -> Network:
    kept = _kept_range(rig, boxes)
    if kept is not None and kept not in taken:
        start, because = kept, sentence("the range the file states")
    else:
        start = _own_range(rig, taken)
        common = any(
            gear.address is not None and gear.address.startswith(COMMON_RANGES) for gear in boxes
        )
        because = (
            sentence("most routers come with the present one")
            if common
            else sentence("nothing usable is stated")
        )
    used: set[int] = set()
    numbers: dict[str, int] = {}
    for gear in boxes:  # stated last numbers stay, also in a new range
        if gear.address is not None:
            last = int(gear.address.rpartition(".")[2])
            if 0 < last < 255 and last not in used and not LEASED[0] <= last <= LEASED[1]:
                numbers[gear.id] = last
                used.add(last)
    for gear in boxes:
        if gear.id not in numbers:
            numbers[gear.id] = _free(rig.types[gear.type].class_, used)
            used.add(numbers[gear.id])
    router = any(rig.types[gear.type].class_ == "router" for gear in boxes)
    leased = (f"{start}{LEASED[0]}", f"{start}{LEASED[1]}") if router else None
    return Network(
        start,
        USUAL_NETMASK,
        because,
        tuple(Planned(gear, gear.address, f"{start}{numbers[gear.id]}") for gear in boxes),
        leased,
    )


def _free(class_: str, used: set[int]) -> int:
    """The first free number from where its kind starts; from the bottom when all above is full."""
    outside = [n for n in range(1, 255) if not LEASED[0] <= n <= LEASED[1]]
    first = _FIRST.get(class_, _REST)
    return next(n for n in [*(n for n in outside if n >= first), *outside] if n not in used)


def _kept_range(rig: Rig, boxes: Sequence[Gear]) -> str | None:
    """The range that most of these boxes state, unless half the world uses it."""
    ids = {gear.id for gear in boxes}
    stated = Counter(
        subnet(one.address, USUAL_NETMASK).rpartition(".")[0] + "."
        for one in addressed(rig)
        if one.gear.id in ids
    )
    if not stated:
        return None
    start = min(stated, key=lambda name: (-stated[name], name))
    return None if start in COMMON_RANGES else start


def _own_range(rig: Rig, taken: set[str]) -> str:
    """A private range (RFC 1918) that the names of band and rig make; the next one if taken."""
    seed = zlib.crc32(f"{rig.about.band}/{rig.about.name}".encode())
    for step in range(256):
        start = f"10.{16 + (seed >> 8) % 224}.{1 + (seed + step) % 254}."
        if start not in taken:
            return start
    raise AssertionError("more networks than ranges")
