"""A rig to its graph: what is wired, and what the plan routes, sends and mixes on top."""

from collections.abc import Iterator, Mapping, Sequence
from math import isinf

from rigproof.physics.panning import pan_db
from rigproof.rig import Rig
from rigproof.rig.geartype import GearType, Stage
from rigproof.rig.lanes import inner_lanes
from rigproof.rig.plan import Feed, Mix, Send, Slot
from rigproof.rig.quantity import Quantity, weakest
from rigproof.rig.ref import Numbers, PortRef
from rigproof.rig.where import NOWHERE, Where
from rigproof.signal.blueprint import Blueprint, blueprint
from rigproof.signal.graph import Graph, Hop, Means, graph_of
from rigproof.signal.wiring import Wiring, panned


def build(rig: Rig, wiring: Wiring | None = None) -> Graph:
    """The graph of a rig as it stands; what is left out of the file is simply not there.

    `wiring` saves work where the same rig's wires are known and only routes were added.
    """
    return _Plan(rig, wiring or Wiring(rig)).graph()


# The inside of a box, its first place, its name as what a hop needs, and who leads its clock.
_Box = tuple[Blueprint, int, tuple[str, ...], str]


class _Plan:
    def __init__(self, rig: Rig, wiring: Wiring) -> None:
        self.rig = rig
        self.types = wiring.types
        self.nodes = wiring.nodes
        self.index = wiring.index
        self.leaders = wiring.leaders
        self.hops = list(wiring.hops)
        self.preamp_gains = wiring.set_gains
        self.boxes: dict[str, _Box] = {}

    def graph(self) -> Graph:
        for route in self.rig.file.routes:
            self.route(route.from_, route.to, route.gain_db, route.where)
        for feed in self.rig.file.feeds:
            self.feed(feed)
        for mix in self.rig.file.mixes:
            self.mix(mix)
        self.unwritten_personal_mixes()
        return graph_of(self.nodes, self.index, self.hops, self.preamp_gains)

    def route(self, from_: PortRef, to: PortRef, gain_db: Quantity | None, at: Where) -> None:
        type_ = self.types[from_.gear]
        starts = inner_lanes(type_, from_, entering=True, at=at)
        ends = inner_lanes(self.types[to.gear], to, entering=False, at=at)
        for start, end in zip(starts, ends, strict=False):
            self.set(from_.gear, start, end, "route", gain_db, at)

    def box(self, gear: str) -> _Box:
        found = self.boxes.get(gear)
        if found is None:
            plan = blueprint(self.types[gear])
            base = self.index[f"{gear}.{plan.names[0]}"]
            leader = self.leaders.get(gear, "")
            found = self.boxes[gear] = plan, base, (gear,), leader
        return found

    def set(
        self,
        gear: str,
        start: str,
        end: str,
        means: Means,
        gain_db: Quantity | None,
        at: Where,
        pan_db: Quantity | None = None,
    ) -> None:
        """One lane routed to another inside a box; an output stands for the choice before it."""
        if pan_db is not None and isinf(pan_db):
            return  # panned hard to the other side: nothing goes here
        plan, base, needs, leader = self.box(gear)
        way = plan.way(start, end)
        a, b = base + way.start, base + way.end
        if a == b:
            return  # wired for good: there is nothing to set
        digital = self.nodes[a].digital and self.nodes[b].digital
        self.hops.append(
            Hop(
                a,
                b,
                means,
                False,
                way.gain_db if gain_db is None else gain_db,
                pan_db,
                way.delay_ms,
                clock=leader if digital else "",
                needs=needs,
                at=at,
            )
        )

    def feed(self, feed: Feed) -> None:
        gear = feed.port.gear
        lanes = inner_lanes(self.types[gear], feed.port, entering=False, at=feed.where)
        for slot in feed.slots:
            into = [lanes[number - 1] for number in slot.slot if number <= len(lanes)]
            buses = bus_lanes(self.types[gear], slot.bus, "") if slot.bus else []
            if buses:
                sources = dict.fromkeys(s for name in slot.takes for s in self.rig.members(name))
                for name in sources:
                    self.send(gear, name, buses, None, slot.where)
                for bus, lane in zip(_spread(buses, into), into, strict=False):
                    self.set(gear, bus, lane, "route", None, slot.where)
            else:
                self.straight(gear, slot, into)

    def straight(self, gear: str, slot: Slot, into: Sequence[str]) -> None:
        """Channels to slots without a bus between: one lane each, in order."""
        channels = [lane for name in slot.takes for lane in self.channels(gear, name)]
        for channel, lane in zip(channels, into, strict=False):
            self.set(gear, channel, lane, "route", None, slot.where)

    def channels(self, gear: str, name: str) -> Iterator[str]:
        """The channel lanes of the sources a name stands for, where they sit on this mixer."""
        bank = next(self.types[gear].stages("channel"), None)
        if bank is None:
            return
        for source in self.rig.members(name):
            for number in self.rig.channel_of(source, gear) or ():
                if number <= bank.count:
                    yield f"{bank.id}.{number}" if bank.count > 1 else bank.id

    def mix(self, mix: Mix) -> None:
        gear = mix.on or (self.rig.mixer.id if self.rig.mixer else None)
        if gear is None:
            return
        if self.types[gear].class_ == "personal-mixer":
            self.personal_mix(gear, mix)
            return
        buses = bus_lanes(self.types[gear], mix.bus, mix.bank) if mix.bus or mix.bank else []
        for name, send in sends_by_source(self.rig, mix).items() if buses else ():
            self.send(gear, name, buses, send.level_db, send.where, send.pan)
        if mix.out is not None and mix.out.gear == gear and buses:
            type_ = self.types[mix.out.gear]
            outs = inner_lanes(type_, mix.out, entering=False, at=mix.where.of("out"))
            for bus, lane in zip(_spread(buses, outs), outs, strict=False):
                self.set(gear, bus, lane, "route", None, mix.where.of("out"))

    def send(
        self,
        gear: str,
        name: str,
        buses: Sequence[str],
        level_db: Quantity | None,
        at: Where,
        pan: Quantity | None = None,
    ) -> None:
        channels = list(self.channels(gear, name))
        sides = self.sides(gear, channels, buses, pan)
        for channel, bus in panned(channels, buses):
            self.set(gear, channel, bus, "send", level_db, at, sides.get(bus))

    def sides(
        self, gear: str, lanes: Sequence[str], ends: Sequence[str], pan: Quantity | None
    ) -> Mapping[str, Quantity]:
        """What a pan leaves on each of two sides; one that nobody wrote down is in the middle.

        Nothing where there are not two, or where it takes nothing.
        """
        if len(ends) != 2:
            return {}
        bank = self.types[gear].banks.get(ends[0].partition(".")[0])
        stated = bank.pan_centre_db if isinstance(bank, Stage) and len(lanes) == 1 else None
        # Nothing lost is the loud side; and a pair has a balance, whatever the law of a pan.
        centre = Quantity(0, "assumed") if stated is None else stated
        if pan is None and not centre:
            return {}
        turn = Quantity(0, "assumed") if pan is None else pan
        return {
            end: Quantity(
                pan_db(toward_ratio=side * turn, centre_db=float(centre)), weakest(turn, centre)
            )
            for end, side in zip(ends, (-1, 1), strict=True)
        }

    def personal_mix(self, gear: str, mix: Mix) -> None:
        slots = next(self.types[gear].stages("slot"), None)
        sums = next(self.types[gear].stages("sum"), None)
        if slots is None or sums is None:
            return
        out = _all_lanes(sums)
        for send in mix.sends:
            lanes = [f"{slots.id}.{n}" for n in send.slot or () if n <= slots.count]
            sides = self.sides(gear, lanes, out, send.pan)
            for lane, end in panned(lanes, out):
                self.set(gear, lane, end, "send", send.level_db, send.where, sides.get(end))

    def unwritten_personal_mixes(self) -> None:
        """A personal mixer whose knobs nobody wrote down lets every filled slot through."""
        written = {mix.on for mix in self.rig.file.mixes if mix.sends}
        every = {
            number for feed in self.rig.file.feeds for slot in feed.slots for number in slot.slot
        }
        pairs = {s.slot.first for f in self.rig.file.feeds for s in f.slots if len(s.slot) == 2}
        for gear, type_ in self.types.items():
            slots = next(type_.stages("slot"), None)
            sums = next(type_.stages("sum"), None)
            if gear in written or type_.class_ != "personal-mixer" or not slots or not sums:
                continue
            out = [
                f"{sums.id}.{n}" if sums.count > 1 else sums.id for n in range(1, sums.count + 1)
            ]
            for number in sorted(every):
                if number > slots.count or number - 1 in pairs:
                    continue
                numbers = (number, number + 1) if number in pairs else (number,)
                lanes = [f"{slots.id}.{n}" for n in numbers if n <= slots.count]
                for lane, end in panned(lanes, out):
                    self.set(gear, lane, end, "send", None, NOWHERE)


def sends_by_source(rig: Rig, mix: Mix) -> dict[str, Send]:
    """The one send of each source, the last mention winning.

    A source named after its group refines the level: a mixer has one knob for it.
    """
    return {
        source: send
        for send in mix.sends
        if send.from_ is not None
        for source in rig.members(send.from_)
    }


def bus_lanes(type_: GearType, numbers: Numbers | None, bank: str) -> list[str]:
    """The lanes of some buses of a mixer: of its first bank of buses, or of the named one."""
    banks = [stage for stage in type_.stages("bus") if not bank or stage.id == bank]
    if not banks:
        return []
    stage = banks[0]
    wanted = list(numbers) if numbers is not None else list(range(1, stage.count + 1))
    return [f"{stage.id}.{n}" if stage.count > 1 else stage.id for n in wanted if n <= stage.count]


def _all_lanes(stage: Stage) -> list[str]:
    return [f"{stage.id}.{n}" for n in range(1, stage.count + 1)] if stage.count > 1 else [stage.id]


def _spread(buses: Sequence[str], outs: Sequence[str]) -> Sequence[str]:
    """A mono bus feeds both lanes of a stereo way out."""
    return [buses[0]] * len(outs) if len(buses) == 1 and len(outs) > 1 else buses
