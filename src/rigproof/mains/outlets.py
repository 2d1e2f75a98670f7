"""The outlets of the rig by face, the boxes on them, and the order of switching on."""

from collections.abc import Sequence
from typing import Literal

import msgspec

from rigproof.rig import Gear, GearType, Rig
from rigproof.rig.connectors import Connector
from rigproof.rig.equipment import MainsFeed
from rigproof.rig.geartype import Face
from rigproof.rig.lanes import sockets
from rigproof.rig.quantity import Quantity, Watts, weakest
from rigproof.rig.ref import HOUSE

# Where a hand finds an outlet: on a panel of the closed rack, or among the boxes inside it.
Reached = Literal["front", "rear", "inside", "outside the case"]


class Outlet(msgspec.Struct, frozen=True):
    """One outlet, and the boxes the file hangs on it (more than one is a fault)."""

    gear: str
    bank: str
    key: str  # power.outlet.3
    connector: Connector
    reached: Reached
    feeds: tuple[MainsFeed, ...] = ()

    @property
    def free(self) -> bool:
        return not self.feeds


class Supply(msgspec.Struct, frozen=True):
    """The way of the mains to one box: the strips it comes through, the venue's end first."""

    gear: str
    through: tuple[str, ...]
    feed: MainsFeed | None  # None: plugged straight into the venue
    ring: bool = False  # the strips feed one another in a circle


def reached(gear: Gear, face: Face) -> Reached:
    """Where the sockets on a face of a box are found: its panel looks out, its back looks in."""
    if gear.unit is None:
        return "outside the case" if gear.placed != "case" else "inside"
    return gear.face if face == "front" else "inside"


def outlets(rig: Rig) -> tuple[Outlet, ...]:
    """Every mains outlet of the rig, in the order of the file."""
    hung = _hung(rig)
    found: list[Outlet] = []
    for gear in rig.file.gear:
        for port in rig.types[gear.type].ports:
            if port.carries != "mains" or port.way != "out":
                continue
            for number in range(1, port.count + 1):
                key = f"{gear.id}.{port.id}" + (f".{number}" if port.count > 1 else "")
                found.append(
                    Outlet(
                        gear.id,
                        port.id,
                        key,
                        port.connector,
                        reached(gear, port.face),
                        tuple(hung.get(key, ())),
                    )
                )
    return tuple(found)


def _hung(rig: Rig) -> dict[str, list[MainsFeed]]:
    types = {gear.id: rig.types[gear.type] for gear in rig.file.gear}
    found: dict[str, list[MainsFeed]] = {}
    for feed in feeds(rig):
        if feed.outlet.gear == HOUSE or feed.outlet.gear not in types:
            continue  # a wall socket, or a strip that stays at home for this show
        for socket in sockets(types, feed.outlet, feed.where)[:1]:
            found.setdefault(socket.key, []).append(feed)
    return found


def feeds(rig: Rig) -> Sequence[MainsFeed]:
    """What the file says about who hangs where, as far as the box is in the rig."""
    power = rig.file.power
    return [feed for feed in power.feeds if feed.gear in rig.gear] if power else []


def needs_mains(type_: GearType) -> bool:
    """Whether a box must be plugged into the mains to work, itself or its external supply."""
    return type_.power is not None and type_.power.by == "mains"


def hungry(rig: Rig) -> tuple[Gear, ...]:
    """The band's boxes that need mains and travel in the case, strips apart."""
    return tuple(
        gear
        for gear in rig.file.gear
        if gear.owner == "band"
        and gear.placed == "case"
        and needs_mains(rig.types[gear.type])
        and not gives_mains(rig.types[gear.type])
    )


def gives_mains(type_: GearType) -> bool:
    """Whether other boxes can be plugged into this one."""
    return any(port.carries == "mains" and port.way == "out" for port in type_.ports)


def supplies(rig: Rig) -> tuple[Supply, ...]:
    """How the mains comes to each box that needs it and is hung somewhere, and to each strip."""
    by_gear: dict[str, MainsFeed] = {}
    for feed in feeds(rig):
        by_gear.setdefault(feed.gear, feed)
    found: list[Supply] = []
    for gear in rig.file.gear:
        own = by_gear.get(gear.id)
        if own is None and not gives_mains(rig.types[gear.type]):
            continue
        chain: list[str] = []
        upstream = own
        ring = False
        while upstream is not None and upstream.outlet.gear != HOUSE:
            strip = upstream.outlet.gear
            if strip in chain or strip == gear.id:
                ring = True
                break
            chain.append(strip)
            upstream = by_gear.get(strip)
        found.append(Supply(gear.id, tuple(reversed(chain)), own, ring))
    return tuple(found)


class Step(msgspec.Struct, frozen=True):
    """The boxes that are switched on together."""

    step: int
    gear: tuple[str, ...]


def sequence(rig: Rig) -> tuple[Step, ...]:
    """The order of switching on, as far as the file states it."""
    steps: dict[int, list[str]] = {}
    for feed in feeds(rig):
        if feed.step is not None:
            steps.setdefault(feed.step, []).append(feed.gear)
    return tuple(Step(step, tuple(steps[step])) for step in sorted(steps))


Figure = Literal["watts", "watts_max"]


def watts_known(rig: Rig, figure: Figure = "watts") -> tuple[Watts, tuple[Gear, ...]]:
    """The sum of what is known of the boxes in the case, and the boxes that say nothing."""
    known: list[Quantity] = []
    silent: list[Gear] = []
    for gear in hungry(rig):
        power = rig.types[gear.type].power
        value = getattr(power, figure) if power else None
        if value is None:
            silent.append(gear)
        else:
            known.append(value)
    return Watts(sum(known), weakest(*known)), tuple(silent)
