"""What is wired whatever anybody sets: boxes, sources, leads, plugs, streams, radio, ears."""

import itertools
from collections.abc import Sequence

from rigproof.rig import Rig
from rigproof.rig.band import Person, Source
from rigproof.rig.equipment import Lead
from rigproof.rig.geartype import GearType, LeadBody, Port, Stage
from rigproof.rig.lanes import inner_lanes, sockets
from rigproof.rig.plan import PatchRow
from rigproof.rig.quantity import Quantity
from rigproof.rig.ref import HOUSE, PortRef
from rigproof.rig.where import Where
from rigproof.signal.blueprint import Blueprint, InnerHop, blueprint, total
from rigproof.signal.clocks import clock_leaders
from rigproof.signal.graph import Graph, Hop, Means, Node, graph_of
from rigproof.signal.plugs import (
    both_ways,
    ends_of,
    lane_pairs,
    lead_lanes,
    picked,
    plug_lanes,
    preamp_gains,
    start_lanes,
)


def mic_box(source: Source) -> str:
    """What the microphone of a source is called where gear needs a name."""
    return f"{source.id}/mic"


def di_box(source: Source) -> str:
    """What the DI of a source is called where gear needs a name."""
    return f"{source.id}/di"


class Wiring:
    """Nodes and hops as they grow. A plan adds its routes and sends to a copy of the lists."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        self.types: dict[str, GearType] = {g.id: rig.types[g.type] for g in rig.file.gear}
        self.nodes: list[Node] = []
        self.index: dict[str, int] = {}
        self.hops: list[Hop] = []
        self.leaders = clock_leaders(rig)
        self.ends: dict[str, tuple[int, ...]] = {}  # of each source, where the plug is
        self.ways = [(lead, *lead_lanes(self.types, lead)) for lead in rig.file.leads]
        self.set_gains = preamp_gains(rig, self.types, ends_of(self.ways))
        self.gained = {key.partition(".")[0] for key in self.set_gains}
        for gear, type_ in self.types.items():
            self.box(gear, type_)
        for source in rig.file.sources:
            self.source(source)
        for lead, out, into in self.ways:
            self.lead(lead, out, into)
        for row in rig.file.patch:
            self.plug(row)
        for stream in rig.file.streams:
            self.link(stream.from_, stream.to, "stream", stream.id, stream.latency_ms, stream.where)
        for radio in rig.file.radio:
            self.link(radio.from_, radio.to, "radio", radio.id, radio.delay_ms, radio.where)
        for person in rig.file.people:
            self.ears(person)

    def graph(self) -> Graph:
        return graph_of(self.nodes, self.index, self.hops, self.set_gains)

    def node(
        self, key: str, gear: str, bank: Port | Stage | None = None, digital: bool = False
    ) -> int:
        number = self.index.get(key)
        if number is None:
            number = self.index[key] = len(self.nodes)
            self.nodes.append(Node(key, gear, bank, digital))
        return number

    def house(self, key: str) -> int:
        return self.node(key, HOUSE)

    def lane(self, key: str) -> int:
        return self.house(key) if key.startswith(f"{HOUSE}.") else self.index[key]

    def box(self, gear: str, type_: GearType) -> None:
        plan = blueprint(type_)
        base = len(self.nodes)
        keys = [f"{gear}.{name}" for name in plan.names]
        self.index.update(zip(keys, itertools.count(base), strict=False))
        self.nodes += map(Node, keys, itertools.repeat(gear), plan.banks, plan.digital)
        needs = (gear,)
        leader = self.leaders.get(gear, "")
        gains = self.set_gains if gear in self.gained else {}
        self.hops += [
            Hop(
                base + step.start,
                base + step.end,
                "inside",
                False,
                inner_gain(step.hop, gains.get(keys[step.end])) if gains else step.hop.gain_db,
                None,
                step.hop.delay_ms,
                step.phantom,
                step.isolated,
                False,
                leader if step.digital else "",
                needs,
                step.works_off,
                step.at,
            )
            for step in plan.steps
        ]
        # All to all, through one place of its own: a full crossing would be thousands of hops.
        for number, choice in enumerate(plan.choices):
            cross = self.node(f"{gear}.?{number}", gear)
            self.hops += [
                Hop(base + start, cross, "choice", open=True, needs=needs)
                for start in choice.starts
            ]
            self.hops += [
                Hop(cross, base + end, "choice", open=True, needs=needs) for end in choice.ends
            ]

    def source(self, source: Source) -> None:
        starts = [
            self.node(f"source:{source.id}{_suffix(source, lane)}", "source")
            for lane in range(source.lanes)
        ]
        if source.mic is not None:
            starts = self.through(source, starts, mic_box(source), self.rig.types[source.mic])
        if source.di is not None:
            starts = self.through(source, starts, di_box(source), self.rig.types[source.di])
        if source.start is not None:
            out = [self.lane(key) for key in start_lanes(self.types, source.start, source.where)]
            for start, end in zip(starts, out, strict=False):
                self.hops.append(
                    Hop(start, end, "plug", phantom=True, works_off=True, at=source.where)
                )
            starts = out
        self.ends[source.id] = tuple(starts)

    def through(self, source: Source, starts: list[int], gear: str, type_: GearType) -> list[int]:
        """A microphone or DI that belongs to one source: one for both lanes, or one for each."""
        plan = blueprint(type_)
        entries, exits = _ways_through(plan)
        names = (
            [gear]
            if len(entries) >= len(starts)
            else [f"{gear}-{n + 1}" for n in range(len(starts))]
        )
        ends: list[int] = []
        for name in names:
            self.box(name, type_)
            ends.extend(self.index[f"{name}.{lane}"] for lane in exits)
        ins = [self.index[f"{name}.{lane}"] for name in names for lane in entries]
        for start, entry in zip(starts, ins, strict=False):
            self.hops.append(Hop(start, entry, "plug", works_off=True, at=source.where))
        return ends[: len(starts)]

    def plug(self, row: PatchRow) -> None:
        if row.plug is None:
            return
        entries = [self.lane(key) for key in plug_lanes(self.types, row)]
        for start, end in zip(self.ends[row.source], entries, strict=False):
            if start != end:
                self.hops.append(
                    Hop(
                        start,
                        end,
                        "plug",
                        phantom=True,
                        needs=(f"{row.source}/lead",),
                        works_off=True,
                        at=row.where,
                    )
                )

    def lead(self, lead: Lead, out: Sequence[str], into: Sequence[str]) -> None:
        body = self.rig.types[lead.type].lead
        self.leads(lead, body, out, into)
        both = both_ways(self.types, lead.from_) and both_ways(self.types, lead.to)
        if lead.back is None and not both:
            return
        starts = sockets(self.types, lead.from_, lead.where)
        if lead.back is not None:
            returns = sockets(self.types, lead.back, lead.where)
            self.leads(
                lead,
                body,
                picked(self.types, lead.back, returns, "tx"),
                picked(self.types, lead.from_, starts, "rx"),
            )
        else:
            ends = sockets(self.types, lead.to, lead.where)
            back_out = picked(self.types, lead.to, ends, "tx")
            back_in = picked(self.types, lead.from_, starts, "rx")
            self.leads(lead, body, back_out, back_in)

    def leads(
        self, lead: Lead, body: LeadBody | None, out: Sequence[str], into: Sequence[str]
    ) -> None:
        for start_key, end_key in lane_pairs(out, into):
            start, end = self.lane(start_key), self.lane(end_key)
            digital = self.nodes[start].digital and self.nodes[end].digital
            self.hops.append(
                Hop(
                    start,
                    end,
                    "lead",
                    gain_db=body.gain_db if body else None,
                    phantom=body is None or body.phantom == "passes",
                    inverts=body is not None and body.inverts,
                    clock=self.leaders.get(self.nodes[start].gear, "") if digital else "",
                    needs=(lead.id,),
                    works_off=True,
                    at=lead.where,
                )
            )

    def link(
        self,
        from_: PortRef,
        to: PortRef,
        means: Means,
        name: str,
        delay_ms: Quantity | None,
        at: Where,
    ) -> None:
        starts = self.far_lanes(from_, at, entering=False)
        ends = self.far_lanes(to, at, entering=True)
        for start, end in zip(starts, ends, strict=False):
            self.hops.append(
                Hop(
                    start,
                    end,
                    means,
                    delay_ms=delay_ms,
                    clock=self.leaders.get(from_.gear, "") if means == "stream" else "",
                    needs=(name,),
                    at=at,
                )
            )

    def far_lanes(self, ref: PortRef, at: Where, *, entering: bool) -> list[int]:
        """One end of a stream or radio link: lanes of a box, or of the house's desk."""
        if ref.gear == HOUSE:
            return [self.house(socket.key) for socket in sockets(self.types, ref, at)]
        lanes = inner_lanes(self.types[ref.gear], ref, entering=entering, at=at)
        return [self.index[f"{ref.gear}.{lane}"] for lane in lanes]

    def ears(self, person: Person) -> None:
        for kind, ref, count in (
            ("ear", person.ears.plug if person.ears else None, 2),
            ("wedge", person.wedge, 1),
        ):
            if ref is None or ref.gear == HOUSE:
                continue
            at = person.ears.where if person.ears and kind == "ear" else person.where
            lanes = [lane for s in sockets(self.types, ref, at) for lane in s.lanes("tx")]
            ends = [self.node(f"{kind}:{person.id}.{n + 1}", kind) for n in range(count)]
            for start, end in panned(lanes, [str(end) for end in ends]):
                self.hops.append(
                    Hop(self.index[start], int(end), "ear", needs=(f"{person.id}/{kind}",), at=at)
                )


def inner_gain(inner: InnerHop, patched: Quantity | None) -> Quantity | None:
    """The gain of a wire and of the stage behind it; a patch row sets that of a preamp."""
    if patched is None:
        return inner.gain_db
    return patched if inner.wire.gain_db is None else total(inner.wire.gain_db, patched)


def _suffix(source: Source, lane: int) -> str:
    return f".{lane + 1}" if source.stereo else ""


def _ways_through(plan: Blueprint) -> tuple[list[str], list[str]]:
    """Where sound enters a microphone or DI, and the main outputs where it leaves."""
    capsules = [
        name
        for name, bank in zip(plan.names, plan.banks, strict=True)
        if isinstance(bank, Stage) and bank.kind == "capsule"
    ]
    inputs = [
        name
        for name, bank in zip(plan.names, plan.banks, strict=True)
        if isinstance(bank, Port) and bank.way == "in"
    ]
    entries = capsules or inputs
    outs = [
        name
        for name, bank in zip(plan.names, plan.banks, strict=True)
        if isinstance(bank, Port) and bank.way == "out" and bank.carries in {"mic", "line"}
    ]
    return entries, outs


def panned(lanes: Sequence[str], ends: Sequence[str]) -> list[tuple[str, str]]:
    """Mono to both sides, a pair side by side, a pair into mono summed."""
    if len(lanes) == 1 or len(ends) == 1:
        return [(lane, end) for lane in lanes for end in ends]
    return list(zip(lanes, ends, strict=False))
