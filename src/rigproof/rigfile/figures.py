"""Figures of one gear type that cannot stand side by side: the type is refused.

What might be a slip of a data sheet is a rule's business (`checks.contradictions`); here is only
what nothing could be built like.
"""

from collections.abc import Iterator

from rigproof.rig import GearType
from rigproof.rig.geartype import Port, Power, Stage
from rigproof.rig.where import RigError


def figure_faults(type_: GearType) -> Iterator[RigError]:
    """Ranges whose ends are the wrong way round, and current without power."""
    if type_.power is not None:
        yield from _power_faults(type_, type_.power)
    for stage in type_.inside.stages:
        low, high = stage.gain_min_db, stage.gain_max_db
        if low is not None and high is not None and low > high:
            yield RigError(
                at=stage.where.of("gain_min_db"),
                says=f'the gain of "{stage.id}" in {type_.name} goes from {low:g} dB '
                f"(gain_min_db) to {high:g} dB (gain_max_db).",
                fix="The smaller figure belongs to gain_min_db.",
            )


# The largest mixers and routers take in and send out a thousand signals or so; a mixer's own
# library here has up to 600 lanes in all (from memory, no source). Rigs a hundred times the usual
# are still answered; what is far beyond is a slip of the keyboard, and would cost minutes and
# gigabytes before anybody saw it.
MOST_IN_A_BANK = 8192
MOST_IN_A_TYPE = 32_768
MOST_CROSSINGS = 65_536  # of a wire from every lane to every other: 256 by 256


def size_faults(type_: GearType) -> Iterator[RigError]:
    """More lanes than any box has."""
    total = 0
    banks: list[Port | Stage] = [*type_.ports, *type_.inside.stages]
    for bank in banks:
        lanes = _lanes_of(bank)
        total += lanes
        if lanes > MOST_IN_A_BANK:
            yield RigError(
                at=bank.where.of("count"),
                says=f'"{bank.id}" of {type_.name} has {lanes:,} lanes. The largest boxes have '
                "about a thousand of a kind.",
                fix=f"Look at count and lanes: together they may be up to {MOST_IN_A_BANK:,}.",
            )
    if total > MOST_IN_A_TYPE:
        yield RigError(
            at=type_.where.of("id"),
            says=f"{type_.name} has {total:,} lanes in all its sockets and stages. The largest "
            "boxes have a few thousand.",
            fix=f"Look at count and lanes: all together they may be up to {MOST_IN_A_TYPE:,}.",
        )
    sizes = {bank.id: _lanes_of(bank) for bank in banks}
    for wire in type_.inside.wires:
        crossings = sizes.get(wire.from_.bank, 0) * sizes.get(wire.to.bank, 0)
        if wire.pattern == "every" and crossings > MOST_CROSSINGS:
            yield RigError(
                at=wire.where.of("pattern"),
                says=f"every lane of {wire.from_} to every one of {wire.to} makes {crossings:,} "
                f"wires inside {type_.name}.",
                fix="What somebody may choose is no wire: write it under choices.",
            )


def _lanes_of(bank: Port | Stage) -> int:
    if isinstance(bank, Stage):
        return bank.count
    each = bank.lanes_rx + bank.lanes_tx if bank.way == "both" else bank.lanes
    return bank.count * each


def _power_faults(type_: GearType, power: Power) -> Iterator[RigError]:
    low, high = power.volts_min, power.volts_max
    if low is not None and high is not None and low > high:
        yield RigError(
            at=power.where.of("volts_min"),
            says=f"{type_.name} works from {low:g} V (volts_min) to {high:g} V (volts_max).",
            fix="The smaller figure belongs to volts_min; a supply for 230 V alone bears about "
            "207 to 253 V.",
        )
    most = power.watts_max if power.watts_max is not None else power.watts
    amps = power.amps_a
    if most is not None and float(most) == 0.0 and amps is not None and amps > 0:
        at = (high or 230) * amps
        yield RigError(
            at=power.where.of("watts_max" if power.watts_max is not None else "watts"),
            says=f"{type_.name} draws {amps:g} A (amps_a) and takes 0 W.",
            fix=f"{amps:g} A at {high or 230:g} V are up to {at:.0f} W: leave watts out or "
            "state what the plate beside the inlet says.",
        )
