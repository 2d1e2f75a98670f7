"""Electrical lines: an output, every input that hangs on it, and the cable between.

A line runs through plugs, leads, panels, passive splits and transformers, in whatever direction
they lie, and ends at anything that drives or loads it. Through a transformer that states its turns
an impedance is seen by their square; one that states none is taken as 1:1. A pad parts two lines:
what hangs behind it is not seen before it. Cables count as if no transformer lay between.
"""

from collections.abc import Mapping, Sequence
from functools import cached_property

import msgspec

from rigproof.physics.loading import transformer_leg_ohm
from rigproof.rig import Rig
from rigproof.rig.equipment import Lead
from rigproof.rig.geartype import Port, Stage
from rigproof.rig.quantity import Quantity, weakest
from rigproof.rig.ref import HOUSE
from rigproof.signal.graph import Graph, Hop, Node

# What hangs on a line at the house's end when nobody has said: a usual microphone input.
# Common practice, no source.
HOUSE_INPUT_OHM = Quantity(2000, "assumed")
# A wire inside a passive box that takes more than this is a pad and not a transformer's loss.
_PAD_DB = -3.0
_METAL = frozenset({"ear", "plug", "lead", "inside"})  # ways that a current can take


class Load(msgspec.Struct, frozen=True):
    """One input, earphone or other output that hangs on a line."""

    node: int
    ohm: Quantity


class Line(msgspec.Struct, frozen=True):
    """All that is joined electrically. `unknown`: inputs whose impedance nobody states.

    `turns`: by how much more or fewer turns a place lies beyond the first one, where any do.
    """

    places: tuple[int, ...]
    drivers: tuple[Load, ...]
    loads: tuple[Load, ...]
    cables_pf: Quantity | None
    unknown: tuple[int, ...]
    turns: Mapping[int, float] = {}

    def seen(self, place: int, other: Load) -> Quantity:
        """What hangs at another place of the line, as it is seen from this one."""
        ratio = self.turns.get(other.node, 1.0) / self.turns.get(place, 1.0)
        if ratio == 1.0:
            return other.ohm
        ohm = transformer_leg_ohm(
            primary_ohm=0.0, secondary_ohm=0.0, input_ohm=float(other.ohm), turns_ratio=ratio
        )
        return Quantity(float(ohm), other.ohm.provenance)

    def against(self, driver: int) -> tuple[Quantity, ...]:
        """What an output of this line works into: the loads, and other outputs beside it."""
        others = (other for other in self.drivers if other.node != driver)
        return tuple(self.seen(driver, other) for other in (*self.loads, *others))

    def beside(self, node: int) -> tuple[Quantity, ...]:
        """What hangs on the line beside one of its inputs, without the outputs."""
        return tuple(self.seen(node, load) for load in self.loads if load.node != node)


class Lines:
    """The lines of a rig, each found once, when it is asked for."""

    def __init__(self, graph: Graph, rig: Rig) -> None:
        self.graph = graph
        self.rig = rig
        self._found: dict[int, Line] = {}

    def line(self, node: int) -> Line:
        """The line that a place belongs to."""
        found = self._found.get(node)
        if found is None:
            found = self._line(node)
            for place in found.places:
                self._found[place] = found
        return found

    def driver_ohm(self, node: int) -> Quantity | None:
        """The impedance of an output, or of a source that is plugged in somewhere."""
        source = self._starts.get(node)
        if source is not None and self.rig.sources[source].impedance_ohm is not None:
            return self.rig.sources[source].impedance_ohm
        bank = self.graph.nodes[node].bank
        return bank.impedance_ohm if isinstance(bank, Port) and bank.way == "out" else None

    @cached_property
    def _starts(self) -> dict[int, str]:
        """Where each source that has no microphone becomes electrical: its socket, or itself."""
        found: dict[int, str] = {}
        for source in self.rig.file.sources:
            if source.mic is not None:
                continue
            for node in self.graph.of_source(source.id):
                found[self._beginning(node) if source.start is not None else node] = source.id
        return found

    def _beginning(self, node: int) -> int:
        """The output that a source comes out of stands for it; an input is driven by it."""
        for number in self.graph.leaving[node]:
            end = self.graph.nodes[self.graph.hops[number].end]
            if end.gear == HOUSE or (isinstance(end.bank, Port) and end.bank.way == "out"):
                return self.graph.hops[number].end
        return node

    def _line(self, first: int) -> Line:
        graph = self.graph
        queue, seen = [first], {first}
        leads: set[int] = set()
        turns: dict[int, float] = {}  # of the places behind a transformer that states them
        for node in queue:
            for number, far in self._joined.get(node, ()):
                hop = graph.hops[number]
                if hop.means == "lead":
                    leads.add(number)
                if far not in seen:
                    seen.add(far)
                    queue.append(far)
                    ratio = _turns_of(graph.nodes[hop.end])
                    step = turns.get(node, 1.0) * (ratio if far == hop.end else 1 / ratio)
                    if step != 1.0:
                        turns[far] = step
        drivers, loads, unknown = [], [], []
        for node in queue:
            ohm = self.driver_ohm(node)
            if ohm is not None:
                drivers.append(Load(node, ohm))
                continue
            is_load, load_ohm = self._load(node)
            if load_ohm is not None:
                loads.append(Load(node, load_ohm))
            elif is_load:
                unknown.append(node)
        return Line(
            tuple(queue),
            tuple(drivers),
            tuple(loads),
            self._capacitance(leads),
            tuple(unknown),
            turns,
        )

    def _load(self, number: int) -> tuple[bool, Quantity | None]:
        """Whether a place loads its line, and with what."""
        node = self.graph.nodes[number]
        if node.kind == "ear":
            ears = self.rig.people[named(node)].ears
            type_ = self.rig.types.get(ears.earphones) if ears and ears.earphones else None
            earphone = type_.earphone if type_ else None
            return True, earphone.impedance_ohm if earphone else None
        if node.gear == HOUSE:
            return True, HOUSE_INPUT_OHM
        if not isinstance(node.bank, Port) or node.bank.way != "in":
            return False, None
        through = any(self.graph.hops[n].start == number for n, _ in self._joined.get(number, ()))
        return not through, node.bank.impedance_ohm

    def _capacitance(self, leads: set[int]) -> Quantity | None:
        """Of all cables of a line, side by side; None where no length or no figure is known."""
        known: list[Quantity] = []
        for number in sorted(leads):
            lead = self._leads.get(self.graph.hops[number].needs[0])
            body = self.rig.types[lead.type].lead if lead else None
            if lead and body and lead.length_m and body.capacitance_pf_per_m:
                value = float(lead.length_m) * float(body.capacitance_pf_per_m)
                known.append(Quantity(value, weakest(lead.length_m, body.capacitance_pf_per_m)))
        return Quantity(sum(known), weakest(*known)) if known else None

    @cached_property
    def _leads(self) -> dict[str, Lead]:
        return {lead.id: lead for lead in self.rig.file.leads}

    @cached_property
    def _joined(self) -> Mapping[int, Sequence[tuple[int, int]]]:
        """Place -> the hops that a current can take from it, those onward first, and their ends."""
        onward: dict[int, list[tuple[int, int]]] = {}
        back: dict[int, list[tuple[int, int]]] = {}
        for number, hop in enumerate(self.graph.hops):
            if not hop.open and hop.means in _METAL and self._conducts(hop):
                onward.setdefault(hop.start, []).append((number, hop.end))
                back.setdefault(hop.end, []).append((number, hop.start))
        for node, hops in back.items():
            onward.setdefault(node, []).extend(hops)
        return onward

    def _conducts(self, hop: Hop) -> bool:
        nodes = self.graph.nodes
        start, end = nodes[hop.start], nodes[hop.end]
        if start.digital or end.digital:
            return False
        if hop.means == "ear":
            return end.kind == "ear"
        if hop.means == "plug":
            # Sound enters a microphone; a source that begins at an output is that output.
            return not isinstance(end.bank, Stage) and hop.end not in self._starts
        if hop.means == "lead":
            return hop.gain_db is None
        if not hop.works_off or self.driver_ohm(hop.end) is not None:
            return False
        if hop.gain_db is not None and hop.gain_db < _PAD_DB:
            return False
        return _passes(start) and _passes(end) and not _stated_load(start, end)


def _turns_of(node: Node) -> float:
    """By what the way into a place steps the voltage."""
    stage = node.bank
    stated = stage.turns_ratio if isinstance(stage, Stage) else None
    return 1.0 if stated is None else float(stated)


def _passes(node: Node) -> bool:
    return isinstance(node.bank, Port) or node.kind == "transformer"


def _stated_load(start: Node, end: Node) -> bool:
    """The impedance stated for an input holds for all behind it but the socket it is looped to."""
    stated = isinstance(start.bank, Port) and start.bank.impedance_ohm is not None
    return stated and not isinstance(end.bank, Port)


def named(node: Node) -> str:
    """The person of an ear, the source of a source node."""
    return node.key.partition(":")[2].partition(".")[0]
