"""What each hop does to a level, and what each place adds in noise and bears at most.

Analogue places are counted in dBu, digital ones in dBFS, ears in dB SPL; a converter and an
earphone change the unit. All noise is A-weighted: a flat figure is converted as hiss. Resistive
loads only; a cable's capacitance is left to the rules about long leads.
"""

from collections.abc import Iterator, Mapping
from functools import cached_property
from math import log10

import msgspec

from rigproof.physics.headphones import sensitivity_spl_per_v
from rigproof.physics.levels import dbu_to_dbv, v_to_dbu
from rigproof.physics.loading import loading_loss_db
from rigproof.physics.microphones import microphone_dbu
from rigproof.physics.weighting import flat_to_a_dbu
from rigproof.rig import Rig
from rigproof.rig.band import Source
from rigproof.rig.geartype import Earphone, GearType, Port, Stage
from rigproof.rig.lanes import inner_lanes
from rigproof.rig.quantity import Quantity, weakest
from rigproof.rig.ref import HOUSE
from rigproof.signal.graph import Graph, Hop, Node, planned

# What hangs on a line at the house's end when nobody has said: a usual microphone input.
# Common practice, no source.
HOUSE_INPUT_OHM = Quantity(2000, "assumed")
# A send or a knob that nobody wrote down is taken to stand at 0 dB.
UNWRITTEN_DB = Quantity(0, "assumed")


class Part(msgspec.Struct, frozen=True):
    """One figure that goes into a hop: what it is, its value in dB, and the figure it is from."""

    name: str
    value_db: float
    figure: Quantity


class Step(msgspec.Struct, frozen=True):
    """What one hop does. `missing`: the figures without which nobody can say."""

    parts: tuple[Part, ...]
    missing: tuple[str, ...] = ()

    @property
    def gain_db(self) -> float:
        return sum(part.value_db for part in self.parts)


class Noise(msgspec.Struct, frozen=True):
    """One thing that hisses: where, and how much there, A-weighted, in the unit of the place."""

    node: int
    level_db: float
    figure: Quantity
    name: str


class Figures:
    """All electrical figures of a rig, by hop and by node; worked out on demand and kept."""

    def __init__(self, graph: Graph, rig: Rig) -> None:
        self.graph = graph
        self.rig = rig
        self.settings = dict(_settings(rig))
        self._steps: dict[int, Step] = {}

    # Hops

    def step(self, number: int) -> Step:
        """What the hop of this number does to a level."""
        found = self._steps.get(number)
        if found is None:
            found = self._steps[number] = self._step(self.graph.hops[number])
        return found

    def _step(self, hop: Hop) -> Step:
        start, end = self.graph.nodes[hop.start], self.graph.nodes[hop.end]
        parts: list[Part] = []
        missing: list[str] = []
        if hop.gain_db is not None:
            parts.append(Part(_gain_name(hop, end), hop.gain_db, hop.gain_db))
        elif hop.means == "send":
            parts.append(Part("send, not written", UNWRITTEN_DB, UNWRITTEN_DB))
        elif isinstance(end.bank, Stage):
            self._knob(end, end.bank, parts, missing)
        if hop.means in {"plug", "lead"}:
            parts += self._loading(hop)
        if isinstance(end.bank, Stage) and end.bank.kind == "converter":
            self._conversion(hop, start, end.bank, parts, missing)
        if hop.means == "ear":
            self._earphone(start, end, parts, missing)
        return Step(tuple(parts), tuple(missing))

    def _knob(self, node: Node, stage: Stage, parts: list[Part], missing: list[str]) -> None:
        setting = self.settings.get(node.key)
        if setting is not None:
            parts.append(Part("setting", setting, setting))
        elif stage.kind == "preamp" and stage.gain_max_db is not None:
            missing.append(f"the gain of {node.key}")
        elif stage.gain_max_db is not None:
            low = stage.gain_min_db if stage.gain_min_db is not None else stage.gain_max_db
            value = Quantity(min(max(0.0, low), stage.gain_max_db), "assumed")
            parts.append(Part("knob, not written", value, value))

    def _loading(self, hop: Hop) -> Iterator[Part]:
        source_ohm = self._output_ohm(hop.start)
        if source_ohm is None:
            return
        loads = self._loads.get(hop.start)
        if loads is None:
            loads = self._loads[hop.start] = tuple(self._loads_of(hop.start))
        if loads:
            loss = loading_loss_db(source_ohm=float(source_ohm), input_ohm=map(float, loads))
            figure = Quantity(loss, weakest(source_ohm, *loads))
            parts = Part(f"loaded by {len(loads)}", loss, figure)
            yield parts

    @cached_property
    def _loads(self) -> dict[int, tuple[Quantity, ...]]:
        return {}

    def _output_ohm(self, number: int) -> Quantity | None:
        node = self.graph.nodes[number]
        if isinstance(node.bank, Port) and node.bank.way == "out":
            return node.bank.impedance_ohm
        if node.kind == "source":
            return self.rig.sources[_named(node)].impedance_ohm
        return None

    def _loads_of(self, driver: int) -> Iterator[Quantity]:
        """The inputs that hang in parallel on an output, through splits and panels.

        A transformer leg is taken as 1:1: the input behind it counts as it is.
        """
        queue, seen = [driver], {driver}
        for number in queue:
            for hop_number in self.graph.leaving[number]:
                hop = self.graph.hops[hop_number]
                if hop.open or hop.end in seen or not self._conducts(hop):
                    continue
                seen.add(hop.end)
                node = self.graph.nodes[hop.end]
                if node.gear == HOUSE:
                    yield HOUSE_INPUT_OHM
                elif isinstance(node.bank, Port) and node.bank.impedance_ohm is not None:
                    yield node.bank.impedance_ohm
                else:
                    queue.append(hop.end)

    def _conducts(self, hop: Hop) -> bool:
        if hop.means in {"plug", "lead"}:
            return not self.graph.nodes[hop.end].digital
        return hop.means == "inside" and hop.works_off

    def _conversion(
        self, hop: Hop, start: Node, stage: Stage, parts: list[Part], missing: list[str]
    ) -> None:
        full = stage.full_scale_dbu
        if full is None:
            missing.append(f"the full scale of {self.graph.nodes[hop.end].key}")
        elif start.digital:
            parts.append(Part("0 dBFS to dBu", full, full))
        else:
            parts.append(Part("dBu to 0 dBFS", -full, full))

    def _earphone(self, start: Node, end: Node, parts: list[Part], missing: list[str]) -> None:
        earphone = self.earphone(_named(end))
        sensitivity = sensitivity_of(earphone) if earphone else None
        if earphone is None or sensitivity is None:
            missing.append(f"the sensitivity of the earphones of {_named(end)}")
            return
        parts.append(Part("earphone, dB SPL for 1 V", sensitivity, sensitivity))
        parts.append(Part("dBu to dBV", dbu_to_dbv(0.0), Quantity(dbu_to_dbv(0.0), "measured")))
        output = start.bank.impedance_ohm if isinstance(start.bank, Port) else None
        if output is not None and earphone.impedance_ohm is not None:
            loss = -20 * log10(1 + output / earphone.impedance_ohm)
            figure = Quantity(loss, weakest(output, earphone.impedance_ohm))
            parts.append(Part("into the earphone", loss, figure))

    def earphone(self, person: str) -> Earphone | None:
        """The earphones of a person, as their type has them."""
        ears = self.rig.people[person].ears if person in self.rig.people else None
        type_ = self.rig.types.get(ears.earphones) if ears and ears.earphones else None
        return type_.earphone if type_ else None

    def highest_gain_db(self, number: int) -> float:
        """The gain of a hop with its knob at the stop."""
        hop = self.graph.hops[number]
        bank = self.graph.nodes[hop.end].bank
        step = self.step(number)
        knob = isinstance(bank, Stage) and bank.kind in {"amplifier", "preamp"}
        if knob and isinstance(bank, Stage) and bank.gain_max_db is not None:
            kept = sum(p.value_db for p in step.parts if p.name.startswith("loaded"))
            return kept + bank.gain_max_db
        return step.gain_db

    # Sources

    def source_dbu(self, source: Source) -> Quantity | None:
        """The level a source sends into its first socket; None where figures are missing."""
        if source.level_dbu is not None:
            return source.level_dbu
        type_ = self.rig.types.get(source.mic) if source.mic else None
        microphone = type_.microphone if type_ else None
        if microphone is None or microphone.sensitivity_mv_pa is None or source.spl_db is None:
            return None
        level = microphone_dbu(
            level_spl=float(source.spl_db),
            sensitivity_mv_per_pa=float(microphone.sensitivity_mv_pa),
        )
        return Quantity(level, weakest(source.spl_db, microphone.sensitivity_mv_pa))

    # Noise

    @cached_property
    def noises(self) -> tuple[Noise, ...]:
        """Everything that hisses, in the order of the graph."""
        return tuple(self._noises())

    def _noises(self) -> Iterator[Noise]:
        microphones = self._microphones()
        for number, node in enumerate(self.graph.nodes):
            bank = node.bank
            if isinstance(bank, Port):
                yield from self._port_noise(number, bank)
            elif isinstance(bank, Stage):
                if bank.kind == "capsule" and node.gear in microphones:
                    yield from _capsule_noise(number, microphones[node.gear])
                yield from self._stage_noise(number, bank)

    def _microphones(self) -> Mapping[str, GearType]:
        """The microphones that belong to sources, by the name the graph gives them."""
        found = {}
        for source in self.rig.file.sources:
            if source.mic is not None:
                for name in (f"{source.id}/mic", f"{source.id}/mic-1", f"{source.id}/mic-2"):
                    found[name] = self.rig.types[source.mic]
        return found

    def _port_noise(self, number: int, port: Port) -> Iterator[Noise]:
        if port.way != "out":
            return
        if port.noise_dbu is not None:
            level = _a_weighted(port.noise_dbu, port.noise_weighting)
            yield Noise(number, level, port.noise_dbu, "output noise")
        elif port.noise_uv is not None and port.noise_uv > 0:
            level = _a_weighted(v_to_dbu(port.noise_uv * 1e-6), port.noise_weighting)
            yield Noise(number, level, port.noise_uv, "output noise")

    def _stage_noise(self, number: int, stage: Stage) -> Iterator[Noise]:
        if stage.ein_dbu is not None:
            gain_db = self._gain_into(number)
            if gain_db is not None:
                level = _a_weighted(stage.ein_dbu, stage.noise_weighting) + gain_db
                yield Noise(number, level, stage.ein_dbu, "input noise and gain")
        elif stage.noise_dbu is not None:
            level = _a_weighted(stage.noise_dbu, stage.noise_weighting)
            if stage.kind == "converter" and self._is_adc(number):
                if stage.full_scale_dbu is None:
                    return
                level -= stage.full_scale_dbu
            yield Noise(number, level, stage.noise_dbu, f"{stage.kind} noise")

    def _gain_into(self, number: int) -> float | None:
        """The gain of a preamp, where it is known."""
        for hop in self.graph.entering[number]:
            step = self.step(hop)
            if not self.graph.hops[hop].open and not step.missing:
                return step.gain_db
        return None

    def _is_adc(self, number: int) -> bool:
        hops = (self.graph.hops[hop] for hop in self.graph.entering[number])
        return any(planned(hop) and not self.graph.nodes[hop.start].digital for hop in hops)

    # Limits

    def clip_db(self, number: int) -> Quantity | None:
        """The highest RMS level of a sine that passes a place, in the unit of the place."""
        bank = self.graph.nodes[number].bank
        if isinstance(bank, Port):
            return bank.max_level_dbu if not self.graph.nodes[number].digital else None
        if isinstance(bank, Stage) and bank.kind == "converter" and bank.full_scale_dbu is not None:
            full = bank.full_scale_dbu
            return Quantity(0.0 if self._is_adc(number) else full, full.provenance)
        return bank.max_level_dbu if isinstance(bank, Stage) else None


def sensitivity_of(earphone: Earphone) -> Quantity | None:
    """DB SPL at 1 V, from whichever sensitivity the data sheet gives."""
    if earphone.sensitivity_db_v is not None:
        return earphone.sensitivity_db_v
    if earphone.sensitivity_db_mw is None or earphone.impedance_ohm is None:
        return None
    value = sensitivity_spl_per_v(
        sensitivity_spl_per_mw=float(earphone.sensitivity_db_mw),
        impedance_ohm=float(earphone.impedance_ohm),
    )
    return Quantity(value, weakest(earphone.sensitivity_db_mw, earphone.impedance_ohm))


def _capsule_noise(number: int, type_: GearType) -> Iterator[Noise]:
    microphone = type_.microphone
    if microphone is None or microphone.self_noise_dba is None:
        return
    if microphone.sensitivity_mv_pa is not None:
        level = microphone_dbu(
            level_spl=float(microphone.self_noise_dba),
            sensitivity_mv_per_pa=float(microphone.sensitivity_mv_pa),
        )
        yield Noise(number, level, microphone.self_noise_dba, "microphone's own noise")


def _settings(rig: Rig) -> Iterator[tuple[str, Quantity]]:
    """Every place whose knob is written down, lane by lane."""
    for setting in rig.file.settings:
        type_ = rig.type_of(setting.at.gear)
        for lane in inner_lanes(type_, setting.at, entering=True, at=setting.where):
            yield f"{setting.at.gear}.{lane}", setting.gain_db


def _a_weighted(level_dbu: float, weighting: str | None) -> float:
    return float(level_dbu) if weighting == "a" else float(flat_to_a_dbu(float(level_dbu)))


def _gain_name(hop: Hop, end: Node) -> str:
    if hop.means == "send":
        return "send"
    return f"{end.bank.kind} gain" if isinstance(end.bank, Stage) else "gain"


def _named(node: Node) -> str:
    """The person of an ear, the source of a source node."""
    return node.key.partition(":")[2].partition(".")[0]
