"""The way to one pair of ears, read from the ear backwards: box by box, and what joins them."""

from collections.abc import Iterator

import msgspec

from rigproof.checks.rule import View
from rigproof.mains import supplies
from rigproof.rig import Gear, Rig
from rigproof.rig.equipment import Lead, Setting
from rigproof.rig.geartype import Port, Stage
from rigproof.rig.lanes import sockets
from rigproof.rig.plan import RadioLink
from rigproof.rig.ref import HOUSE, PortRef
from rigproof.signal.graph import Hop


class Station(msgspec.Struct, frozen=True):
    """One box on the way, and what brings the sound into it: a lead, a radio link, or neither."""

    gear: Gear
    lead: Lead | None = None
    radio: RadioLink | None = None


class EarWay(msgspec.Struct, frozen=True):
    """The boxes from the ear back to the mixer, and the lanes that the sound passes in them."""

    stations: tuple[Station, ...]
    keys: frozenset[str]

    def of(self, *classes: str, rig: Rig) -> Station | None:
        """The first box of one of these kinds, nearest to the ear."""
        return next((s for s in self.stations if rig.types[s.gear.type].class_ in classes), None)

    def knobs(self, rig: Rig) -> Iterator[Setting]:
        """What the file says about knobs on this way, nearest to the ear first."""
        order = [station.gear.id for station in self.stations]
        on_way = [one for one in rig.file.settings if self._passes(rig, one.at)]
        yield from sorted(on_way, key=lambda one: order.index(one.at.gear))

    def _passes(self, rig: Rig, at: PortRef) -> bool:
        if at.gear not in {station.gear.id for station in self.stations}:
            return False
        bank = rig.type_of(at.gear).banks.get(at.bank)
        count = bank.count if bank is not None else 1
        low, high = at.numbers or (1, count)
        base = f"{at.gear}.{at.bank}"
        keys = {base} if count == 1 else {f"{base}.{n}" for n in range(low, high + 1)}
        return bool(keys & self.keys)


def ear_way(view: View, person: str, source: str = "") -> EarWay | None:
    """The way that a source takes to a person's ear; None where they hear nothing.

    Without a source one that they hear is taken, their own if they hear it.
    """
    ends = view.graph.of_listener(person)
    heard = view.arriving.at(ends) if ends else ()
    wanted = [source] if source else sorted(heard, key=lambda s: not _own(view.rig, s, person))
    if not wanted or wanted[0] not in heard:
        return None
    for end in ends:
        path = view.graph.shortest(view.graph.of_source(wanted[0]), {end})
        if path is not None:
            return EarWay(tuple(_stations(view, path)), _keys(view, path))
    return None


def _own(rig: Rig, source: str, person: str) -> bool:
    return rig.sources[source].player == person


def _keys(view: View, path: tuple[Hop, ...]) -> frozenset[str]:
    return frozenset(view.graph.nodes[hop.end].key for hop in path)


def _stations(view: View, path: tuple[Hop, ...]) -> Iterator[Station]:
    """From the ear back to the band's mixer, or as far as there are boxes of the rig."""
    rig = view.rig
    leads = {lead.id: lead for lead in rig.file.leads}
    radios = {radio.id: radio for radio in rig.file.radio}
    mixer = rig.mixer.id if rig.mixer else ""
    box = ""
    lead: Lead | None = None
    radio: RadioLink | None = None
    for hop in reversed(path):
        here = view.graph.nodes[hop.end].gear
        if here in rig.gear:
            box = here
        if view.graph.nodes[hop.start].gear == box or box == "":
            continue
        name = hop.needs[0] if hop.needs else ""
        lead, radio = leads.get(name), radios.get(name)
        yield Station(rig.gear[box], lead, radio)
        if box == mixer:
            return
        box = ""
    if box:
        yield Station(rig.gear[box])


def joint(lead: Lead, gear: str) -> tuple[PortRef, PortRef]:
    """The ends of a lead, the one in this box first."""
    return (lead.to, lead.from_) if lead.to.gear == gear else (lead.from_, lead.to)


def carriers(rig: Rig, at: PortRef) -> tuple[RadioLink, ...]:
    """The radio links that end where a receiver's output begins: one number, one channel."""
    return tuple(
        link for link in rig.file.radio if (link.to.gear, link.to.numbers) == (at.gear, at.numbers)
    )


def knob_at(rig: Rig, at: PortRef) -> str:
    """Where a person finds a knob: the socket behind the stage that a setting names, if one is.

    Two lanes in one stereo socket are that socket: `amp.amp.3-4` is the knob of `amp.phones.2`.
    """
    type_ = rig.type_of(at.gear)
    stage = type_.banks.get(at.bank)
    ports = [
        port
        for wire in type_.inside.wires
        if wire.from_.bank == at.bank and isinstance(port := type_.banks.get(wire.to.bank), Port)
    ]
    if not isinstance(stage, Stage) or len(ports) != 1 or ports[0].way != "out":
        return str(at)
    port = ports[0]
    if stage.count != port.count * port.lanes:
        return str(at)
    low, high = at.numbers or (1, stage.count)
    first, last = (low - 1) // port.lanes + 1, (high - 1) // port.lanes + 1
    if port.count == 1:
        return f"{at.gear}.{port.id}"
    return f"{at.gear}.{port.id}.{first}" + (f"-{last}" if last > first else "")


def root_strip(rig: Rig, gear: str) -> str:
    """The strip or conditioner that the mains comes into, on the way to a box."""
    return next((s.through[0] for s in supplies(rig) if s.gear == gear and s.through), "")


def outlet_of(rig: Rig, gear: str) -> PortRef | None:
    """Where a box is plugged into the mains."""
    power = rig.file.power
    feeds = power.feeds if power else ()
    return next((f.outlet for f in feeds if f.gear == gear and f.outlet.gear != HOUSE), None)


def free_sockets(rig: Rig, gear: str, bank: str) -> tuple[str, ...]:
    """The sockets of a bank that no lead of the rig is plugged into."""
    port = rig.type_of(gear).banks.get(bank)
    if not isinstance(port, Port):
        return ()
    taken = {
        socket.key
        for lead in rig.file.leads
        for ref in (lead.from_, lead.to)
        if ref.gear == gear
        for socket in sockets(rig.gear_types, ref, lead.where)
    }
    every = sockets(rig.gear_types, PortRef(f"{gear}.{bank}"), rig.gear[gear].where)
    return tuple(socket.key for socket in every if socket.key not in taken)
