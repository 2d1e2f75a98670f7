"""What the inside of a gear type adds to the graph; worked out once for each type."""

from collections.abc import Iterable, Mapping
from functools import cached_property

import msgspec

from rigproof.rig.geartype import Choice, GearType, Port, Stage, Wire
from rigproof.rig.lanes import all_lanes, inner_lanes
from rigproof.rig.quantity import Quantity, weakest
from rigproof.rig.where import NOWHERE, Where

_DIGITAL_PORTS = {"link", "network", "usb", "aes3", "optical", "coax"}
_DIGITAL_STAGES = {"channel", "bus", "slot", "sum", "processor", "limiter"}


class InnerHop(msgspec.Struct, frozen=True):
    """A wire of a type, between lanes by their local number."""

    start: int
    end: int
    wire: Wire
    gain_db: Quantity | None
    delay_ms: Quantity | None


class InnerStep(msgspec.Struct, frozen=True):
    """A wire of a type as the graph wants to know it."""

    start: int
    end: int
    hop: InnerHop
    phantom: bool
    isolated: bool
    digital: bool
    works_off: bool
    at: Where


class InnerChoice(msgspec.Struct, frozen=True):
    """A choice of a type, between lanes by their local number."""

    starts: tuple[int, ...]
    ends: tuple[int, ...]
    choice: Choice


class WayIn(msgspec.Struct, frozen=True):
    """Between which lanes, by their local number, a routing is really set, and what it costs."""

    start: int
    end: int
    gain_db: Quantity | None
    delay_ms: Quantity | None


class Blueprint(msgspec.Struct, frozen=True, dict=True):
    """Lanes with their banks, wires and choices of one gear type."""

    type: GearType
    names: tuple[str, ...]
    banks: tuple[Port | Stage, ...]
    digital: tuple[bool, ...]
    index: dict[str, int]
    hops: tuple[InnerHop, ...]
    choices: tuple[InnerChoice, ...]
    _ways: dict[tuple[str, str], WayIn] = msgspec.field(default_factory=dict)

    def way(self, start: str, end: str) -> WayIn:
        """Where the routing from one lane to another is set.

        An output stands for the choice before it, an input for what the choice takes from it.
        """
        found = self._ways.get((start, end))
        if found is None:
            first = self.choice_after(start, self.banks[self.index[end]].id) or start
            last = self.choice_before(end) or end
            first = self.choice_after(start, self.banks[self.index[last]].id) or first
            choice = self.choice_for(first, last)
            stage = self.banks[self.index[last]]
            found = self._ways[start, end] = WayIn(
                self.index[first],
                self.index[last],
                choice.gain_db if choice else None,
                self._delay_of(stage, choice),
            )
        return found

    def _delay_of(self, stage: Port | Stage, choice: Choice | None) -> Quantity | None:
        """What a choice costs together with the stage behind it; alike for all their lanes."""
        alike = id(stage), id(choice)
        if alike not in self._delays:
            self._delays[alike] = total(
                stage.delay_ms if isinstance(stage, Stage) else None,
                choice.delay_ms if choice else None,
            )
        return self._delays[alike]

    @cached_property
    def _delays(self) -> dict[tuple[int, int], Quantity | None]:
        return {}

    @cached_property
    def _chosen(self) -> frozenset[int]:
        return frozenset(end for choice in self.choices for end in choice.ends)

    @cached_property
    def _offered(self) -> Mapping[str, frozenset[int]]:
        """Bank -> the lanes that a choice for it may take from."""
        found: dict[str, set[int]] = {}
        for choice in self.choices:
            for bank in {self.banks[end].id for end in choice.ends}:
                found.setdefault(bank, set()).update(choice.starts)
        return {bank: frozenset(starts) for bank, starts in found.items()}

    def feeds_channels(self, lane: str) -> bool:
        """Whether a channel may take its signal from here."""
        return self.index.get(lane) in self._channel_inputs

    @cached_property
    def _channel_inputs(self) -> frozenset[int]:
        banks = {stage.id for stage in self.type.stages("channel")}
        return frozenset(start for bank in banks for start in self._offered.get(bank, ()))

    def choice_before(self, lane: str) -> str | None:
        """The lane upstream of this one where somebody chooses what goes there.

        The wires before an output are fixed (a converter, a driver); the choice is made earlier.
        """
        if lane not in self._before:
            self._before[lane] = self._first(lane, self._chosen, forward=False)
        return self._before[lane]

    def choice_after(self, lane: str, bank: str) -> str | None:
        """The lane downstream of this one that the choice for a bank may take from."""
        if (lane, bank) not in self._after:
            offered = self._offered.get(bank, frozenset())
            self._after[lane, bank] = self._first(lane, offered, forward=True)
        return self._after[lane, bank]

    @cached_property
    def _before(self) -> dict[str, str | None]:
        return {}

    @cached_property
    def _after(self) -> dict[tuple[str, str], str | None]:
        return {}

    @cached_property
    def after(self) -> Mapping[int, tuple[int, ...]]:
        """The lanes that wires lead to from each lane."""
        return _neighbours((hop.start, hop.end) for hop in self.hops)

    @cached_property
    def ahead(self) -> Mapping[str, tuple[tuple[str, bool], ...]]:
        """Lane -> the lanes that wires lead to from there, and whether a preamp stands there."""
        names, banks = self.names, self.banks
        return {
            names[start]: tuple(
                (names[end], isinstance(bank := banks[end], Stage) and bank.kind == "preamp")
                for end in ends
            )
            for start, ends in self.after.items()
        }

    @cached_property
    def before(self) -> Mapping[int, tuple[int, ...]]:
        return _neighbours((hop.end, hop.start) for hop in self.hops)

    def _first(self, lane: str, wanted: frozenset[int], *, forward: bool) -> str | None:
        around = self.after if forward else self.before
        queue = [self.index[lane]]
        seen = set(queue)
        for node in queue:  # grows as it goes: breadth first
            if node in wanted:
                return self.names[node]
            for far in around.get(node, ()):
                if far not in seen:
                    seen.add(far)
                    queue.append(far)
        return None

    def choice_for(self, start: str, end: str) -> Choice | None:
        """The choice that lets somebody route one lane to another, if the box has one."""
        return self.choice_between(self.index.get(start, -1), self.index.get(end, -1))

    def choice_between(self, start: int, end: int) -> Choice | None:
        """The same of lanes by their local number."""
        from_here, to_there = self._bits
        both = from_here.get(start, 0) & to_there.get(end, 0)
        return self.choices[(both & -both).bit_length() - 1].choice if both else None

    @cached_property
    def _bits(self) -> tuple[Mapping[int, int], Mapping[int, int]]:
        """Lane -> the choices that may take from it, and that give to it; a bit for each."""
        starts: dict[int, int] = {}
        ends: dict[int, int] = {}
        for number, choice in enumerate(self.choices):
            for found, lanes in ((starts, choice.starts), (ends, choice.ends)):
                for lane in lanes:
                    found[lane] = found.get(lane, 0) | 1 << number
        return starts, ends

    @cached_property
    def steps(self) -> tuple["InnerStep", ...]:
        """The wires as every box of the type has them, one lane each."""
        return tuple(
            InnerStep(
                hop.start,
                hop.end,
                hop,
                hop.wire.phantom == "passes",
                hop.wire.isolated,
                self.digital[hop.start] and self.digital[hop.end],
                hop.wire.when_off == "passes" or (hop.wire.when_off is None and self.type.passive),
                hop.wire.where,
            )
            for hop in self.hops
        )


def _neighbours(pairs: Iterable[tuple[int, int]]) -> Mapping[int, tuple[int, ...]]:
    found: dict[int, list[int]] = {}
    for near, far in pairs:
        found.setdefault(near, []).append(far)
    return {near: tuple(fars) for near, fars in found.items()}


_MADE: dict[int, Blueprint] = {}


def blueprint(type_: GearType) -> Blueprint:
    """The blueprint of a type, made at most once for each type object."""
    made = _MADE.get(id(type_))
    if made is None or made.type is not type_:
        made = _MADE[id(type_)] = _blueprint(type_)
    return made


def _blueprint(type_: GearType) -> Blueprint:
    lanes = list(all_lanes(type_))
    index = {name: number for number, (name, _) in enumerate(lanes)}
    hops: list[InnerHop] = []
    for wire in type_.inside.wires:
        starts = inner_lanes(type_, wire.from_, entering=True, at=wire.where)
        ends = inner_lanes(type_, wire.to, entering=False, at=wire.where)
        pairs = (
            zip(starts, ends, strict=False)
            if wire.pattern == "straight"
            else ((start, end) for start in starts for end in ends)
        )
        for start, end in pairs:
            bank = lanes[index[end]][1]
            stage = bank if isinstance(bank, Stage) else None
            hops.append(
                InnerHop(
                    index[start],
                    index[end],
                    wire,
                    total(wire.gain_db, stage.gain_db if stage else None),
                    total(wire.delay_ms, stage.delay_ms if stage else None),
                )
            )
    choices = [
        InnerChoice(
            tuple(
                index[lane]
                for ref in choice.from_
                for lane in inner_lanes(type_, ref, entering=True, at=NOWHERE)
            ),
            tuple(index[n] for n in inner_lanes(type_, choice.to, entering=False, at=NOWHERE)),
            choice,
        )
        for choice in type_.inside.choices
    ]
    digital = _digital_banks(type_)
    return Blueprint(
        type_,
        tuple(name for name, _ in lanes),
        tuple(bank for _, bank in lanes),
        tuple(bank.id in digital for _, bank in lanes),
        index,
        tuple(hops),
        tuple(choices),
    )


def _digital_banks(type_: GearType) -> frozenset[str]:
    """The banks that carry numbers: by what they are, or by what feeds them inside the box.

    A personal mixer has no clock of its own to state, and its slots take a digital feed as it is.
    """
    steps = [(wire.from_.bank, wire.to.bank) for wire in type_.inside.wires]
    steps += [(ref.bank, c.to.bank) for c in type_.inside.choices for ref in c.from_]
    found = {bank.id for bank in type_.banks.values() if _digital(type_, bank)}
    kinds = {s.id for s in type_.inside.stages if s.kind in _DIGITAL_STAGES}
    more = True
    while more:
        more = False
        for start, end in steps:
            if end in kinds and end not in found and start in found:
                found.add(end)
                more = True
    return frozenset(found)


def _digital(type_: GearType, bank: Port | Stage) -> bool:
    if isinstance(bank, Port):
        return bank.carries in _DIGITAL_PORTS
    if bank.kind == "converter":
        return True
    return bank.kind in _DIGITAL_STAGES and type_.clock is not None


def total(*parts: Quantity | None) -> Quantity | None:
    """The sum of the figures that are known; None when none is."""
    known = [part for part in parts if part is not None]
    return Quantity(sum(known), weakest(*known)) if known else None
