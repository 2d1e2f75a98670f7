"""What each hop does to a level, and what each place adds in noise and bears at most.

Analogue places are counted in dBu, digital ones in dBFS, ears in dB SPL; a converter and an
earphone change the unit. All noise is A-weighted: a flat figure is converted as hiss, and one that
does not say how it was read is taken as it stands, which errs on the loud side.
"""

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from math import log10
from typing import Literal

import msgspec

from rigproof.physics.cable import cable_loss_db
from rigproof.physics.headphones import sensitivity_spl_per_v
from rigproof.physics.levels import dbu_to_dbv
from rigproof.physics.loading import (
    loading_loss_db,
    parallel_ohm,
    seen_from_input_ohm,
    stepped_db,
)
from rigproof.physics.microphones import microphone_dbu
from rigproof.rig import Rig
from rigproof.rig.band import Source
from rigproof.rig.geartype import Earphone, Port, Stage
from rigproof.rig.lanes import inner_lanes
from rigproof.rig.quantity import Provenance, Quantity, weakest
from rigproof.rig.ref import HOUSE
from rigproof.rig.spread import spread_db, spread_ratio
from rigproof.signal.clips import clip_at
from rigproof.signal.graph import Graph, Hop, Node, planned
from rigproof.signal.lines import Lines, named
from rigproof.signal.noises import Inputs as Inputs
from rigproof.signal.noises import Noise as Noise
from rigproof.signal.noises import Noises
from rigproof.signal.plugs import lead_ends
from rigproof.signal.readings import GainReading, Readings
from rigproof.wording.sentences import sentence

# A send or a knob that nobody wrote down is taken to stand at 0 dB.
UNWRITTEN_DB = Quantity(0, "assumed")
ZERO_DBU_DBV = Quantity(dbu_to_dbv(0.0), "measured")  # by definition
# A knob set to a figure lands that near it: the width of a mark on its scale.
KNOB_OFF_DB = 0.5
_LEAST_LOSS_DB = 0.005  # what a cable takes below this is no line in a sum
CABLE_HZ = 10_000.0  # where a long cable's loss is told; below it takes less

Unit = Literal["dBu", "dBFS", "dB SPL"]


_WIRED = frozenset({"inside", "stream", "route", "send"})
_PLUGGED = frozenset({"plug", "lead", "ear"})
_WITH_GAIN = frozenset({"preamp", "amplifier", "converter"})


class Part(msgspec.Struct, frozen=True):
    """One figure that goes into a hop: what it is, its value in dB, and the figure it is from.

    `off_db`: how far off it may likely be. `by`: the formula that made it, of `inputs`.
    """

    name: str
    value_db: float
    figure: Quantity
    off_db: float = 0.0
    by: str = ""
    inputs: Inputs = ()
    knob: bool = False


class Step(msgspec.Struct, frozen=True):
    """What one hop does. `missing`: the figures without which nobody can say.

    `left_out`: what is not known and not counted, where the rest still tells the level.
    """

    parts: tuple[Part, ...] = ()
    missing: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    gain_db: float = 0.0
    off_db: float = 0.0

    @classmethod
    def of(
        cls,
        parts: Sequence[Part],
        missing: Sequence[str] = (),
        left_out: Sequence[str] = (),
    ) -> "Step":
        """The step that these parts make; their errors as a root sum of squares."""
        gain_db = off_db = 0.0
        for part in parts:
            gain_db += part.value_db
            off_db += part.off_db * part.off_db
        return cls(tuple(parts), tuple(missing), tuple(left_out), gain_db, off_db**0.5)


NOTHING = Step()


class Figures:
    """All electrical figures of a rig, by hop and by node; worked out on demand and kept."""

    def __init__(self, graph: Graph, rig: Rig) -> None:
        self.graph = graph
        self.rig = rig
        self.lines = Lines(graph, rig)
        self.settings = settings_of(rig)
        self._steps: dict[int, Step] = {}
        self._sends: dict[tuple[int, int], Step] = {}  # by the identity of what a hop holds
        self._units: dict[int, Unit] = {}
        self._bares: dict[tuple[int, bool, int, bool], bool] = {}  # by the banks of the two ends
        self._losses: dict[tuple[object, ...], tuple[object, tuple[Part, ...]]] = {}

    def turned(self, graph: Graph, rig: Rig, moved: frozenset[int]) -> "Figures":
        """The figures with the knobs at some places turned; the rest is known already."""
        found = Figures(graph, rig)
        found.lines = self.lines
        found._units = self._units
        found._bares, found._losses = self._bares, self._losses
        entering = {number for node in moved for number in graph.entering[node]}
        found._steps = {n: step for n, step in self._steps.items() if n not in entering}
        found._hissing.keep(self._hissing, moved)
        found.__dict__["onward"] = self.onward
        return found

    # Places

    def unit(self, number: int) -> Unit:
        """What levels are counted in at a place."""
        node = self.graph.nodes[number]
        if node.bank is not None and not (
            isinstance(node.bank, Stage) and node.bank.kind == "converter"
        ):
            return "dBFS" if node.digital else "dBu"
        found = self._units.get(number)
        if found is None:
            found = self._units[number] = self._unit(number)
        return found

    def _unit(self, number: int) -> Unit:
        node = self.graph.nodes[number]
        if node.kind in {"ear", "wedge"}:
            return "dB SPL"
        if node.kind == "converter":
            return "dBFS" if self._is_adc(number) else "dBu"
        if node.gear == HOUSE:  # the far end of a stream is as digital as where it comes from
            hops = (self.graph.hops[hop] for hop in self.graph.entering[number])
            return "dBFS" if any(self.graph.nodes[h.start].digital for h in hops) else "dBu"
        return "dBu"

    def _is_adc(self, number: int) -> bool:
        hops = (self.graph.hops[hop] for hop in self.graph.entering[number])
        return any(planned(hop) and not self.graph.nodes[hop.start].digital for hop in hops)

    # Hops

    def step(self, number: int) -> Step:
        """What the hop of this number does to a level, with what was measured of its line."""
        return self._as_measured(number) if number in self._gains else self.stated_step(number)

    def stated_step(self, number: int) -> Step:
        """The same by the figures alone."""
        found = self._steps.get(number)
        if found is None:
            found = self._steps[number] = self._step(self.graph.hops[number])
        return found

    @cached_property
    def _gains(self) -> Mapping[int, GainReading]:
        """The hops into channels whose lines were measured."""
        return self.readings.gains

    def _as_measured(self, number: int) -> Step:
        reading = self._gains[number]
        part = Part("as measured", reading.apart_db, reading.way_db)
        step = Step.of((*self.stated_step(number).parts, part))
        return msgspec.structs.replace(step, off_db=reading.off_db)

    @cached_property
    def acting(self) -> Mapping[int, Step]:
        """The hops, of what is wired and set, that do something to a level; most are wires."""
        found: dict[int, Step] = {}
        steps = self._steps
        for number, hop in enumerate(self.graph.hops):
            if not hop.open:
                step = steps.get(number)
                if step is None:
                    step = steps[number] = self._step(hop)
                if step is not NOTHING:
                    found[number] = step
        found |= {number: self._as_measured(number) for number in self._gains}
        return found

    @cached_property
    def ratios(self) -> Sequence[float]:
        """The voltage gain of each hop; 0 where a figure is missing."""
        found = [1.0] * len(self.graph.hops)
        for number, step in self.acting.items():
            if step.missing:
                found[number] = 0.0
            elif step.parts:
                found[number] = 10 ** (step.gain_db / 20)
        return found

    def step_of(self, hop: Hop) -> Step:
        """What a hop does to a level."""
        return self.step(self.graph.number_of(hop))

    def _step(self, hop: Hop) -> Step:
        nodes, means = self.graph.nodes, hop.means
        start, end = nodes[hop.start], nodes[hop.end]
        if means in _WIRED:
            if (means == "send" or hop.gain_db is None) and self._bare(start, end):
                return self._sent(hop.gain_db, hop.pan_db) if means == "send" else NOTHING
        elif means == "lead" and hop.gain_db is None and start.digital and end.digital:
            return NOTHING
        stage = end.bank if isinstance(end.bank, Stage) else None
        parts: list[Part] = []
        missing: list[str] = []
        left_out: list[str] = []
        self._gain(hop, end, stage, parts, missing)
        if means in _PLUGGED:
            self._loading(hop, parts, left_out)
        if means == "ear":
            self._earphone(end, parts, missing)
        else:
            self._conversion(hop, stage, parts, missing)
        if not (parts or missing or left_out):
            return NOTHING
        return Step.of(parts, missing, left_out)

    def _sent(self, gain: Quantity | None, pan: Quantity | None) -> Step:
        """A send to a bus; all lanes of one stand at the same figure."""
        key = id(gain), id(pan)
        found = self._sends.get(key)
        if found is None:
            found = self._sends[key] = Step.of(tuple(_send_parts(gain, pan)))
        return found

    def _bare(self, start: Node, end: Node) -> bool:
        """Whether nothing lies between two places of a box; most of a rig's hops are such wires."""
        banks = id(start.bank), start.digital, id(end.bank), end.digital
        bare = self._bares.get(banks)
        if bare is None:
            bare = self._bares[banks] = _bare(start, end)
        return bare and (end.key not in self.settings or isinstance(end.bank, Port))

    def _gain(
        self, hop: Hop, end: Node, stage: Stage | None, parts: list[Part], missing: list[str]
    ) -> None:
        """What is set, switched or built in between two places: sends, routes, pads, knobs."""
        gain = hop.gain_db
        if hop.means == "send":
            parts += _send_parts(gain, hop.pan_db)
            gain = None
        elif hop.means == "radio" and gain is None:
            parts.append(Part("radio link, not stated", 0.0, UNWRITTEN_DB, _off(UNWRITTEN_DB)))
        if stage is None:
            if gain is not None:
                parts.append(Part("gain", gain, gain, _off(gain)))
            return
        if stage.turns_ratio is not None:
            turns, by = stage.turns_ratio, "loading.stepped_db"
            stepped = stepped_db(turns)
            off = abs(stepped) * (spread_ratio(turns.provenance)[1] - 1)
            parts.append(Part("turns", stepped, turns, off, by, (("turns_ratio", turns),)))
        own = stage.gain_db
        inner = hop.means == "inside"  # there the stage's own gain is in the hop's
        patched = self.graph.preamp_gains.get(end.key)
        if stage.kind == "preamp" and inner and gain is not None and patched is not None:
            wire_db = gain - patched  # a row goes before a setting
            if wire_db:
                parts.append(Part("gain before it", wire_db, gain, _off(gain)))
            parts.append(_knob("preamp gain", patched))
            return
        setting = self.settings.get(end.key)
        if gain is not None and inner and own is not None and setting is not None:
            rest = Quantity(gain - own, gain.provenance)
            if rest:
                parts.append(Part("gain before it", rest, rest, _off(rest)))
        elif gain is not None:
            name = sentence("{kind} gain", kind=sentence(stage.kind)) if inner else "route"
            parts.append(Part(name, gain, gain, _off(gain)))
        if own is not None and not inner and setting is None:
            parts.append(
                Part(sentence("{kind} gain", kind=sentence(stage.kind)), own, own, _off(own))
            )
        if setting is not None:
            parts.append(_knob("setting", setting))
        elif own is None:
            self._unset(end, stage, parts, missing)

    def _unset(self, end: Node, stage: Stage, parts: list[Part], missing: list[str]) -> None:
        """A knob that nobody wrote down; a preamp's is never guessed."""
        if stage.kind == "preamp":
            missing.append(sentence("the gain of {key}", key=end.key))
        elif stage.gain_max_db is not None:
            low = stage.gain_min_db if stage.gain_min_db is not None else stage.gain_max_db
            value = Quantity(min(max(0.0, low), stage.gain_max_db), "assumed")
            parts.append(Part("knob, not written", value, value, _off(value), knob=True))
        elif stage.kind == "amplifier":
            parts.append(Part("gain, not stated", 0.0, UNWRITTEN_DB, _off(UNWRITTEN_DB)))

    @cached_property
    def onward(self) -> Mapping[str, list[str]]:
        """Lane -> the lanes that leads carry it to."""
        return lead_ends(self.rig, self.rig.gear_types)

    def _loading(self, hop: Hop, parts: list[Part], left_out: list[str]) -> None:
        """What an output loses into all that hangs on it, once, on the way out of it."""
        source_ohm = self.lines.driver_ohm(hop.start)
        if source_ohm is None:
            return
        line = self.lines.line(hop.start)
        loads = line.against(hop.start)
        left_out += [
            sentence("the impedance of {key}", key=self.graph.nodes[n].key) for n in line.unknown
        ]
        cables = line.cables_pf
        # Most lines of a rig are made of the same few boxes: by the very figures of their types.
        alike = (
            id(source_ohm),
            *map(id, loads),
            None if cables is None else (float(cables), cables.provenance),
        )
        known = self._losses.get(alike)
        if known is None:
            lost = tuple(_lost(source_ohm, loads, cables))
            known = self._losses[alike] = (source_ohm, loads), lost
        parts += known[1]

    def _conversion(
        self, hop: Hop, stage: Stage | None, parts: list[Part], missing: list[str]
    ) -> None:
        before, after = self.unit(hop.start), self.unit(hop.end)
        if before == after:
            return
        full = stage.full_scale_dbu if stage else None
        if full is None:
            missing.append(sentence("the full scale of {key}", key=self.graph.nodes[hop.end].key))
        elif before == "dBFS":
            parts.append(Part("0 dBFS to dBu", full, full, _off(full)))
        else:
            parts.append(Part("dBu to 0 dBFS", -full, full, _off(full)))

    def _earphone(self, end: Node, parts: list[Part], missing: list[str]) -> None:
        person = named(end)
        earphone = self.earphone(person) if end.kind == "ear" else None
        sensitivity = sensitivity_of(earphone) if earphone else None
        if earphone is None or sensitivity is None:
            what = "earphones" if end.kind == "ear" else "wedge"
            missing.append(
                sentence(
                    "the sensitivity of the {what} of {person}", what=sentence(what), person=person
                )
            )
            return
        by = ""
        inputs: Inputs = ()
        if earphone.sensitivity_db_v is None and earphone.sensitivity_db_mw is not None:
            by = "headphones.sensitivity_spl_per_v"
            inputs = (
                ("sensitivity_spl_per_mw", earphone.sensitivity_db_mw),
                ("impedance_ohm", earphone.impedance_ohm or Quantity(0)),
            )
        parts.append(
            Part("earphone at 1 V", sensitivity, sensitivity, _off(sensitivity), by, inputs)
        )
        parts.append(Part("dBu to dBV", ZERO_DBU_DBV, ZERO_DBU_DBV, 0.0, "levels.dbu_to_dbv"))

    def earphone(self, person: str) -> Earphone | None:
        """The earphones of a person, as their type has them."""
        ears = self.rig.people[person].ears if person in self.rig.people else None
        type_ = self.rig.types.get(ears.earphones) if ears and ears.earphones else None
        return type_.earphone if type_ else None

    def highest_gain_db(self, number: int) -> float:
        """The gain of a hop with its knob at the stop."""
        stop, kept = self.at_stop(number)
        if stop is None:
            return self.step(number).gain_db
        return sum(part.value_db for part in kept) + stop

    def at_stop(self, number: int) -> tuple[Quantity | None, tuple[Part, ...]]:
        """Where the knob of a hop has its stop, and what else the hop does; None without one."""
        bank = self.graph.nodes[self.graph.hops[number].end].bank
        parts = self.step(number).parts
        if not isinstance(bank, Stage) or bank.kind not in {"amplifier", "preamp"}:
            return None, parts
        if bank.gain_max_db is None:
            return None, parts
        kept = tuple(p for p in parts if not p.knob and p.name != f"{bank.kind} gain")
        return max(bank.gain_max_db, bank.gain_db or bank.gain_max_db), kept

    @cached_property
    def readings(self) -> Readings:
        """What was measured at the channels."""
        return Readings(self)

    # Sources

    def source_dbu(self, source: Source) -> Quantity | None:
        """The level a source sends into its first socket; None where figures are missing.

        What was measured goes before what is stated, unless that was measured too.
        """
        reading = self.readings.levels.get(source.id)
        return self.stated_dbu(source) if reading is None else reading.sent_dbu

    def stated_dbu(self, source: Source) -> Quantity | None:
        """The level of a source as the file and the gear types have it."""
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

    def source_off_db(self, source: Source) -> float:
        """How far off the level of a source may likely be, where it starts."""
        reading = self.readings.levels.get(source.id)
        if reading is not None:
            return self.readings.worth_at_source(reading)[0]
        return self.stated_off_db(source)

    def stated_off_db(self, source: Source) -> float:
        """How far off the level of a source may likely be as it is stated."""
        if source.level_dbu is not None:
            return spread_db(source.level_dbu.provenance)
        type_ = self.rig.types.get(source.mic) if source.mic else None
        microphone = type_.microphone if type_ else None
        parts = (source.spl_db, microphone.sensitivity_mv_pa if microphone else None)
        return float(sum(spread_db(p.provenance) ** 2 for p in parts if p is not None) ** 0.5)

    # Noise

    @cached_property
    def noises(self) -> tuple[Noise, ...]:
        """Everything that hisses, in the order of the graph."""
        return tuple(self._hissing.all())

    @cached_property
    def _hissing(self) -> Noises:
        return Noises(self)

    def noises_at(self, number: int) -> tuple[Noise, ...]:
        """What hisses at a place."""
        return self._hissing.at(number)

    def stated_noises(self, number: int) -> tuple[Noise, ...]:
        """What hisses at a place by the figures alone, whatever was measured."""
        return self._hissing.stated(number)

    def unstated_noise(self, number: int) -> str:
        """The noise figure that a place should have and nobody states; empty where none is due."""
        return self._hissing.unstated(number)

    @cached_property
    def unstated_noises(self) -> Mapping[int, str]:
        """The noise figures that places should have and nobody states."""
        return dict(self._hissing.all_unstated())

    # Limits

    @cached_property
    def clips_db(self) -> Sequence[float | None]:
        """What each place bears, as a plain number."""
        found: list[float | None] = []
        last: Node | None = None
        for number, node in enumerate(self.graph.nodes):
            # Alike for all lanes of a bank, save of a converter, whose unit is one of its place.
            if last is None or node.bank is not last.bank or node.digital is not last.digital:
                clip = self.clip_db(number)
                found.append(None if clip is None else float(clip))
                last = None if node.kind == "converter" else node
            else:
                found.append(found[-1])
            if isinstance(node.bank, Port) and node.bank.max_ma is not None:
                last = None  # hangs on what is plugged in
        return found

    def clip_db(self, number: int) -> Quantity | None:
        """The highest RMS level of a sine that passes a place, in the unit of the place."""
        found = clip_at(self, number)
        return None if found is None else found.figure


def _bare(start: Node, end: Node) -> bool:
    """Whether nothing is done to a level between the banks of two places, whatever is not set."""
    if start.digital is not end.digital:
        return False
    if isinstance(start.bank, Stage) and start.bank.kind == "converter":
        return False
    if isinstance(end.bank, Port):
        return start.bank is not None
    stage = end.bank
    if stage is None or stage.turns_ratio is not None or stage.kind in _WITH_GAIN:
        return False
    return stage.gain_db is None and stage.gain_max_db is None


def _lost(
    source_ohm: Quantity, loads: Sequence[Quantity], cables: Quantity | None
) -> Iterator[Part]:
    """What an output loses into its loads, and into the cables between."""
    if loads:
        loss = loading_loss_db(source_ohm=float(source_ohm), input_ohm=map(float, loads))
        figure = Quantity(loss, weakest(source_ohm, *loads))
        load_ohm = Quantity(parallel_ohm(map(float, loads)), weakest(*loads))
        inputs: Inputs = (("source_ohm", source_ohm), ("input_ohm", load_ohm))
        inputs += tuple((sentence("load {n}", n=n), ohm) for n, ohm in enumerate(loads, 1)) * (
            len(loads) > 1
        )
        off = _ratio_off(loss, figure.provenance)
        yield Part(
            sentence("loaded by {loads}", loads=len(loads)),
            loss,
            figure,
            off,
            "loading.loading_loss_db",
            inputs,
        )
    if cables is not None:
        seen = Quantity(
            seen_from_input_ohm(source_ohm=float(source_ohm), others_ohm=map(float, loads)),
            weakest(source_ohm, *loads),
        )
        loss = cable_loss_db(frequency_hz=CABLE_HZ, source_ohm=seen, capacitance_pf=float(cables))
        if loss > -_LEAST_LOSS_DB:
            return
        figure = Quantity(loss, weakest(seen, cables))
        off = _ratio_off(loss, figure.provenance, times=2)
        inputs = (("source_ohm", seen), ("capacitance_pf", cables))
        yield Part("cable, at 10 kHz", loss, figure, off, "cable.cable_loss_db", inputs)


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


def _off(figure: Quantity) -> float:
    return spread_db(figure.provenance)


def _ratio_off(loss_db: float, provenance: Provenance, *, times: int = 1) -> float:
    """What an error of the impedances makes of a loss: a small loss cannot be far off."""
    return abs(
        -20 * log10(1 + (10 ** (-loss_db / 20) - 1) * spread_ratio(provenance)[1] ** times)
        - loss_db
    )


def _knob(name: str, figure: Quantity) -> Part:
    """Something set to a figure that is written down; a digital send is exact."""
    off = 0.0 if name == "send" else KNOB_OFF_DB
    return Part(name, figure, figure, off, knob=name != "send")


def _send_parts(gain: Quantity | None, pan: Quantity | None) -> Iterator[Part]:
    yield _knob("send", gain) if gain is not None else _unwritten("send")
    if pan is not None:
        yield Part("pan", pan, pan)


def _unwritten(what: str) -> Part:
    return Part(
        sentence("{what}, not written", what=sentence(what)), 0.0, UNWRITTEN_DB, _off(UNWRITTEN_DB)
    )


def settings_of(rig: Rig) -> dict[str, Quantity]:
    """Every place whose knob is written down, lane by lane; of two settings the later one."""
    return dict(_settings(rig))


def _settings(rig: Rig) -> Iterator[tuple[str, Quantity]]:
    for setting in rig.file.settings:
        if setting.at.gear not in rig.gear:
            continue  # the box stays at home tonight
        type_ = rig.type_of(setting.at.gear)
        for lane in inner_lanes(type_, setting.at, entering=True, at=setting.where):
            yield f"{setting.at.gear}.{lane}", setting.gain_db
