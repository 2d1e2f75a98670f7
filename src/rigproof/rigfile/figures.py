"""Figures of one gear type that cannot stand side by side: the type is refused.

What might be a slip of a data sheet is a rule's business (`checks.contradictions`); here is only
what nothing could be built like.
"""

from collections.abc import Iterator

from rigproof.rig import GearType
from rigproof.rig.geartype import Power
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
