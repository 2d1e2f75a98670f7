"""From the name of a socket to the connectors and lanes it stands for.

A connector is `gear.bank.3`; a lane is one signal in it: `gear.bank.3`, `gear.link.rx.17`,
`gear.fan.2.5`. Numbers that say nothing (the only one of its kind) are left out.
"""

from collections.abc import Iterator, Mapping
from difflib import get_close_matches

import msgspec

from rigproof.rig.geartype import GearType, Port, Stage
from rigproof.rig.ref import HOUSE, BankRef, PortRef, Range
from rigproof.rig.where import RigError, Where


class Socket(msgspec.Struct, frozen=True):
    """One connector of one box: its bank, its number, and the lanes in and out of the box."""

    gear: str
    port: Port | None  # None: an end of the tails at the house
    number: int

    @property
    def key(self) -> str:
        if self.port is None:
            return f"{HOUSE}.{self.number}"
        return f"{self.gear}.{_connector_name(self.port, self.number)}"

    def lanes(self, way: str) -> tuple[str, ...]:
        """The lanes that enter the box here (`rx`) or leave it (`tx`)."""
        if self.port is None:
            return (f"{HOUSE}.{self.number}",)  # a tail, or a line the house sends back
        return tuple(f"{self.gear}.{name}" for name in _port_lanes(self.port, self.number, way))


def _connector_name(bank: Port | Stage, number: int) -> str:
    return f"{bank.id}.{number}" if bank.count > 1 else bank.id


def _port_lanes(port: Port, number: int, way: str) -> tuple[str, ...]:
    name = _connector_name(port, number)
    if port.way == "both":
        count = port.lanes_rx if way == "rx" else port.lanes_tx
        return tuple(f"{name}.{way}.{lane}" for lane in range(1, count + 1))
    if (way == "rx") != (port.way == "in"):
        return ()
    if port.lanes == 1:
        return (name,)
    return tuple(f"{name}.{lane}" for lane in range(1, port.lanes + 1))


def _bank_lanes(bank: Port | Stage, number: int, way: str) -> tuple[str, ...]:
    if isinstance(bank, Stage):
        return (_connector_name(bank, number),)
    return _port_lanes(bank, number, way)


def _take(names: tuple[str, ...], wanted: Range | None, ref: BankRef, at: Where) -> tuple[str, ...]:
    if wanted is None:
        return names
    low, high = wanted
    if high > len(names):
        raise RigError(
            at=at,
            says=f'"{ref}" asks for number {high}, and there are {len(names)}.',
            fix="Look up the box's type for what it has.",
        )
    return names[low - 1 : high]


def bank_of(type_: GearType, ref: BankRef, at: Where) -> Port | Stage:
    """The bank a reference names, or a fault with the nearest right name."""
    bank = type_.banks.get(ref.bank)
    if bank is None:
        near = get_close_matches(ref.bank, type_.banks, n=1)
        has = ", ".join(type_.banks) or "no sockets at all"
        raise RigError(
            at=at,
            says=f'"{ref}": {type_.name} has nothing called "{ref.bank}".',
            fix=f'Did you mean "{near[0]}"?' if near else f"It has: {has}.",
        )
    return bank


def _numbers(bank: Port | Stage, ref: BankRef, at: Where) -> tuple[range, Range | None]:
    """The connectors a reference picks from a bank, and the lanes within each."""
    numbers, lanes = ref.numbers, ref.lanes
    single = (
        bank.count == 1
        and isinstance(bank, Port)
        and max(bank.lanes, bank.lanes_rx, bank.lanes_tx) > 1
    )
    if single and numbers is not None and lanes is None:
        numbers, lanes = None, numbers  # one connector: its number goes without saying
    low, high = numbers or (1, bank.count)
    if high > bank.count:
        raise RigError(
            at=at,
            says=f'"{ref}" asks for number {high}, and "{ref.bank}" has {bank.count}.',
            fix=f"Use 1 to {bank.count}." if bank.count > 1 else "It is the only one: no number.",
        )
    return range(low, high + 1), lanes


def inner_lanes(type_: GearType, ref: BankRef, *, entering: bool, at: Where) -> tuple[str, ...]:
    """The lanes of a type that a wire, choice or route starts from or (`entering=False`) goes to.

    From inside a box, what a port receives is where signals start, what it sends is where they end.

    Raises:
        RigError: the type has no such bank, number or lane.
    """
    bank = bank_of(type_, ref, at)
    way = ref.way or ("rx" if entering else "tx")
    numbers, lanes = _numbers(bank, ref, at)
    found: list[str] = []
    for number in numbers:
        found.extend(_take(_bank_lanes(bank, number, way), lanes, ref, at))
    if not found:
        flow = "bring a signal in" if entering else "take a signal out"
        raise RigError(
            at=at,
            says=f'"{ref}" does not {flow}.',
            fix="Name the port at the other side.",
        )
    return tuple(found)


def sockets(types_of: Mapping[str, GearType], ref: PortRef, at: Where) -> tuple[Socket, ...]:
    """The connectors a reference stands for, in order.

    Raises:
        RigError: no such gear, bank or number, or an inner stage that nothing can be plugged in.
    """
    if ref.gear == HOUSE:
        low, high = ref.numbers or (1, 1)
        return tuple(Socket(HOUSE, None, number) for number in range(low, high + 1))
    type_ = types_of.get(ref.gear)
    if type_ is None:
        near = get_close_matches(ref.gear, types_of, n=1)
        raise RigError(
            at=at,
            says=f'no gear is called "{ref.gear}".',
            fix=f'Did you mean "{near[0]}"?' if near else f"This rig has: {', '.join(types_of)}.",
        )
    bank = bank_of(type_, ref, at)
    if isinstance(bank, Stage):
        raise RigError(
            at=at,
            says=f'"{ref}" is inside {type_.name}: nothing can be plugged in there.',
            fix="Sockets of this box: " + ", ".join(p.id for p in type_.ports) + ".",
        )
    numbers, _ = _numbers(bank, ref, at)
    return tuple(Socket(ref.gear, bank, number) for number in numbers)


def lane_range(ref: PortRef, type_: GearType) -> Range | None:
    """The lanes within one connector that a reference picks, where it picks any."""
    bank = type_.banks[ref.bank]
    return _numbers(bank, ref, Where())[1]


def all_lanes(type_: GearType) -> Iterator[tuple[str, Port | Stage]]:
    """Every lane of a type with the bank it belongs to, in the order of the type."""
    for bank in type_.banks.values():
        ways = ("rx", "tx") if isinstance(bank, Port) else ("rx",)
        for number in range(1, bank.count + 1):
            for way in ways:
                for lane in _bank_lanes(bank, number, way):
                    yield lane, bank
