"""Everything in a rig that hisses, and how much at its own place.

Noise is A-weighted: a flat figure is converted as hiss, and one that does not say how it was read
is taken as it stands, which errs on the loud side.
"""

from collections.abc import Iterator
from typing import TYPE_CHECKING

import msgspec

from rigproof.physics.levels import v_to_dbu
from rigproof.physics.loading import seen_from_input_ohm
from rigproof.physics.microphones import microphone_dbu
from rigproof.physics.noise import EIN_OHM, amplifier_noise_dbu, input_noise_dbu
from rigproof.physics.weighting import a_to_flat_dbu, flat_to_a_dbu
from rigproof.rig.geartype import GearType, Port, Stage
from rigproof.rig.quantity import Quantity, weakest
from rigproof.rig.spread import spread_db
from rigproof.signal.graph import Node, planned
from rigproof.wording.sentences import sentence

if TYPE_CHECKING:
    from rigproof.signal.figures import Figures

Inputs = tuple[tuple[str, Quantity], ...]


class Noise(msgspec.Struct, frozen=True):
    """One thing that hisses: where, and how much there, A-weighted, in the unit of the place."""

    node: int
    level_db: float
    figure: Quantity
    name: str
    by: str = ""
    inputs: Inputs = ()
    known_off_db: float | None = None

    @property
    def off_db(self) -> float:
        """How far off it likely is: as far as is known, else by what its figure is worth."""
        if self.known_off_db is not None:
            return self.known_off_db
        return spread_db(self.figure.provenance)


class Noises:
    """The noises of a rig by place, each worked out once when it is asked for."""

    def __init__(self, figures: "Figures") -> None:
        self.figures = figures
        self.graph = figures.graph
        self.rig = figures.rig
        self._found: dict[int, tuple[Noise, ...]] = {}
        self._stated: dict[int, tuple[Noise, ...]] = {}
        self._unstated: dict[int, str] = {}
        self._alike: dict[tuple[int, str], tuple[Noise, ...]] = {}  # by bank and unit

    def keep(self, known: "Noises", moved: frozenset[int]) -> None:
        """Take over what is known of the places whose knobs did not move."""
        self._stated = {n: noises for n, noises in known._stated.items() if n not in moved}
        if not self.rig.measured:  # else a knob moves all that a reading turns
            self._found = {n: noises for n, noises in known._found.items() if n not in moved}

    def all(self) -> Iterator[Noise]:
        """Everything that hisses, in the order of the graph."""
        quiet: dict[int, bool] = {id(None): True}  # by bank; most banks are
        for number, node in enumerate(self.graph.nodes):
            bank = id(node.bank)
            if bank not in quiet:
                quiet[bank] = node.bank is None or _states_none(node.bank)
            if not quiet[bank]:
                yield from self.at(number)

    def at(self, number: int) -> tuple[Noise, ...]:
        """What hisses at a place."""
        found = self._found.get(number)
        if found is None:
            found = self.stated(number)
            reading = self.figures.readings.turned.get(number) if found else None
            if reading is not None and reading.turn_db is not None:
                found = tuple(
                    _turned(one, reading.turn_db, reading.read_dba, reading.off_db) for one in found
                )
            self._found[number] = found
        return found

    def stated(self, number: int) -> tuple[Noise, ...]:
        """What hisses at a place by its figures."""
        found = self._stated.get(number)
        if found is None:
            found = self._stated[number] = self._by_figures(number, self.graph.nodes[number])
        return found

    def _by_figures(self, number: int, node: Node) -> tuple[Noise, ...]:
        bank = node.bank
        if bank is None or _states_none(bank):
            return ()
        if isinstance(bank, Stage) and bank.ein_dbu is not None:  # with the source it really has
            return tuple(self._noises(number, node))
        key = id(bank), self.figures.unit(number)
        alike = self._alike.get(key)
        if alike is None:
            alike = self._alike[key] = tuple(self._noises(number, node))
        return tuple([msgspec.structs.replace(noise, node=number) for noise in alike])

    def _noises(self, number: int, node: Node) -> Iterator[Noise]:
        bank = node.bank
        if isinstance(bank, Port):
            yield from _port_noise(number, bank)
        elif isinstance(bank, Stage):
            if bank.kind == "capsule":
                yield from _capsule_noise(number, self._type_at(node))
            yield from self._stage_noise(number, bank)

    def _type_at(self, node: Node) -> GearType | None:
        """The type of the box a place belongs to, also of a source's own microphone or DI."""
        if node.gear in self.rig.gear:
            return self.rig.type_of(node.gear)
        owner, _, part = node.gear.partition("/")
        source = self.rig.sources.get(owner)
        name = (source.di if part.startswith("di") else source.mic) if source else None
        return self.rig.types.get(name) if name else None

    def _stage_noise(self, number: int, stage: Stage) -> Iterator[Noise]:
        if stage.ein_dbu is not None:
            yield from self._preamp_noise(number, stage, stage.ein_dbu)
        elif stage.noise_dbu is not None:
            level = _a_weighted(stage.noise_dbu, stage.noise_weighting)
            inputs: Inputs = (("noise_dbu", stage.noise_dbu),)
            if self.figures.unit(number) == "dBFS":
                if stage.full_scale_dbu is None:
                    return
                level -= stage.full_scale_dbu
                inputs += (("full_scale_dbu", stage.full_scale_dbu),)
            by = _weighting(stage.noise_weighting)
            yield Noise(
                number,
                level,
                stage.noise_dbu,
                sentence("{kind} noise", kind=sentence(stage.kind)),
                by,
                inputs,
            )

    def _preamp_noise(self, number: int, stage: Stage, ein: Quantity) -> Iterator[Noise]:
        """A preamp's own noise and that of the source it really has, times its gain.

        Data sheets state equivalent input noise with 150 ohm at the input. A source whose noise is
        stated has its own place in the sums; then only the preamp's part counts here.
        """
        gain_db = self._gain_into(number)
        if gain_db is None:
            return
        flat_dbu = a_to_flat_dbu(float(ein)) if stage.noise_weighting == "a" else float(ein)
        own_dbu = amplifier_noise_dbu(ein_dbu=flat_dbu, stated_ohm=EIN_OHM)
        seen = self._seen_ohm(number)
        inputs: Inputs = (("ein_dbu", ein), ("gain_db", gain_db))
        name = "input noise and gain"
        if seen is None or own_dbu < flat_dbu - 20:
            here_dbu = flat_dbu  # as stated: nothing to convert it to, or by
        elif self._source_hisses(number):
            here_dbu, name = own_dbu, "own noise and gain"
        else:
            here_dbu = input_noise_dbu(amplifier_dbu=own_dbu, source_ohm=float(seen))
            inputs += (("source_ohm", seen),)
        if stage.noise_weighting is not None:
            here_dbu = flat_to_a_dbu(here_dbu)
        yield Noise(number, here_dbu + gain_db, ein, name, "noise.input_noise_dbu", inputs)

    def _input_of(self, number: int) -> int | None:
        """The socket before a preamp."""
        for hop_number in self.graph.entering[number]:
            hop = self.graph.hops[hop_number]
            if planned(hop) and isinstance(self.graph.nodes[hop.start].bank, Port):
                return hop.start
        return None

    def _seen_ohm(self, number: int) -> Quantity | None:
        """The resistance a preamp looks back into; None where nothing known drives it."""
        socket = self._input_of(number)
        if socket is None:
            return None
        line = self.figures.lines.line(socket)
        if not line.drivers:
            return None
        others = [*line.beside(socket), *(line.seen(socket, d) for d in line.drivers[1:])]
        first = line.seen(socket, line.drivers[0])
        seen = seen_from_input_ohm(source_ohm=float(first), others_ohm=map(float, others))
        return Quantity(seen, weakest(first, *others))

    def _source_hisses(self, number: int) -> bool:
        """Whether what drives a preamp has a noise figure of its own."""
        socket = self._input_of(number)
        drivers = self.figures.lines.line(socket).drivers if socket is not None else ()
        return any(self._states_noise(driver.node) for driver in drivers)

    def _states_noise(self, number: int) -> bool:
        node = self.graph.nodes[number]
        if not isinstance(node.bank, Port):
            return False
        if node.bank.noise_dbu is not None or node.bank.noise_uv is not None:
            return True
        type_ = self._type_at(node)
        return bool(type_ and type_.microphone and type_.microphone.self_noise_dba is not None)

    def _gain_into(self, number: int) -> Quantity | None:
        """The gain of a preamp, where it is known, without the loss before its socket."""
        for hop in self.graph.entering[number]:
            step = self.figures.step(hop)
            if planned(self.graph.hops[hop]) and not step.missing:
                return Quantity(step.gain_db, weakest(*(part.figure for part in step.parts)))
        return None

    def unstated(self, number: int) -> str:
        """The noise figure that a place should have and nobody states; empty where none is due."""
        found = self._unstated.get(number)
        if found is None:
            found = self._unstated[number] = self._not_stated(number)
        return found

    def all_unstated(self) -> Iterator[tuple[int, str]]:
        """Each place of which a noise is due that nobody states, with that noise."""
        due: dict[int, bool] = {id(None): False}  # by bank; at most banks none is
        for number, node in enumerate(self.graph.nodes):
            bank = id(node.bank)
            if bank not in due:
                due[bank] = node.bank is not None and _may_hiss(node.bank)
            if due[bank] and not self._found.get(number) and (noise := self.unstated(number)):
                yield number, noise

    def _not_stated(self, number: int) -> str:
        node = self.graph.nodes[number]
        bank = node.bank
        if bank is None or not _may_hiss(bank) or self.at(number):
            return ""
        if number in self.figures.readings.turned:
            return ""  # what hisses here was measured with the rest of its line
        if isinstance(bank, Stage):
            adc = bank.kind == "converter" and self.figures.unit(number) == "dBFS"
            type_ = self._type_at(node) if bank.kind == "capsule" else None
            condenser = type_ and type_.microphone and type_.microphone.kind == "condenser"
            due = (bank.kind == "preamp" and bank.ein_dbu is None) or adc or condenser
        else:
            type_ = self._type_at(node)
            due = not node.digital and not (type_ and (type_.passive or type_.microphone))
        return sentence("the noise of {key}", key=node.key) if due else ""


def _turned(noise: Noise, turn_db: float, read_dba: Quantity, off_db: float) -> Noise:
    """A noise on a line that was measured: its share of that, as its figures have it."""
    return Noise(
        noise.node,
        noise.level_db + turn_db,
        read_dba,
        sentence("{name}, as measured", name=noise.name),
        "",
        (
            ("by_figures", Quantity(noise.level_db, noise.figure.provenance)),
            ("turned_to_measured", Quantity(turn_db, "measured", read_dba.date, read_dba.note)),
        ),
        off_db,
    )


def _may_hiss(bank: Port | Stage) -> bool:
    """Whether a noise is due from a bank at all."""
    if isinstance(bank, Port):
        return bank.way == "out" and bank.carries != "rf" and bank.impedance_ohm is not None
    return bank.kind in {"preamp", "converter", "capsule"}


def _states_none(bank: Port | Stage) -> bool:
    """Whether nothing at a bank hisses by its figures; most banks are such."""
    if isinstance(bank, Port):
        return bank.way != "out" or (bank.noise_dbu is None and bank.noise_uv is None)
    return bank.kind != "capsule" and bank.ein_dbu is None and bank.noise_dbu is None


def _port_noise(number: int, port: Port) -> Iterator[Noise]:
    if port.way != "out":
        return
    by = _weighting(port.noise_weighting)
    if port.noise_dbu is not None:
        level = _a_weighted(port.noise_dbu, port.noise_weighting)
        inputs: Inputs = (("noise_dbu", port.noise_dbu),)
        yield Noise(number, level, port.noise_dbu, "output noise", by, inputs)
    elif port.noise_uv is not None and port.noise_uv > 0:
        level = _a_weighted(v_to_dbu(port.noise_uv * 1e-6), port.noise_weighting)
        inputs = (("noise_uv", port.noise_uv),)
        yield Noise(number, level, port.noise_uv, "output noise", by, inputs)


def _capsule_noise(number: int, type_: GearType | None) -> Iterator[Noise]:
    microphone = type_.microphone if type_ else None
    if microphone is None or microphone.self_noise_dba is None:
        return
    if microphone.sensitivity_mv_pa is not None:
        level = microphone_dbu(
            level_spl=float(microphone.self_noise_dba),
            sensitivity_mv_per_pa=float(microphone.sensitivity_mv_pa),
        )
        inputs = (
            ("level_spl", microphone.self_noise_dba),
            ("sensitivity_mv_per_pa", microphone.sensitivity_mv_pa),
        )
        by = "microphones.microphone_dbu"
        yield Noise(number, level, microphone.self_noise_dba, "microphone's own noise", by, inputs)


def _a_weighted(level_dbu: float, weighting: str | None) -> float:
    return float(flat_to_a_dbu(float(level_dbu))) if weighting == "flat" else float(level_dbu)


def _weighting(weighting: str | None) -> str:
    return "weighting.flat_to_a_dbu" if weighting == "flat" else ""
