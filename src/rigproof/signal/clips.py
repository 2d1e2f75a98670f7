"""What each place of a rig bears at most, in the unit of the place.

An output's volts give out first, or its current: into earphones of few ohms a headphone amplifier
runs out of current long before it reaches the level that its data sheet states for many.
"""

from typing import TYPE_CHECKING

import msgspec

from rigproof.physics.headphones import current_limited_dbu
from rigproof.physics.loading import parallel_ohm
from rigproof.rig.geartype import Port, Stage
from rigproof.rig.quantity import Quantity, weakest
from rigproof.signal.noises import Inputs

if TYPE_CHECKING:
    from rigproof.signal.figures import Figures

_BY_CURRENT = "headphones.current_limited_dbu"


class Clip(msgspec.Struct, frozen=True):
    """The highest RMS level of a sine that passes a place, and the formula that made it, if any."""

    figure: Quantity
    by: str = ""
    inputs: Inputs = ()


def clip_at(figures: "Figures", number: int) -> Clip | None:
    """What a place bears; None where no figure is stated."""
    node = figures.graph.nodes[number]
    bank = node.bank
    if isinstance(bank, Port):
        # Lines between boxes count in whole numbers; inside a box there is room above.
        if node.digital:
            return Clip(Quantity(0.0, "typical"))
        by_volts = None if bank.max_level_dbu is None else Clip(bank.max_level_dbu)
        by_current = _by_current(figures, number, bank)
        found = [clip for clip in (by_volts, by_current) if clip is not None]
        return min(found, key=lambda clip: clip.figure, default=None)
    if not isinstance(bank, Stage):
        return None
    full = bank.full_scale_dbu
    if full is not None and bank.kind == "converter":
        zero = figures.unit(number) == "dBFS"
        return Clip(Quantity(0.0 if zero else full, full.provenance))
    return None if bank.max_level_dbu is None else Clip(bank.max_level_dbu)


def _by_current(figures: "Figures", number: int, port: Port) -> Clip | None:
    """The open level at which an output gives all its current into what hangs on it."""
    if port.max_ma is None or port.impedance_ohm is None:
        return None
    loads = figures.lines.line(number).against(number)
    if not loads:
        return None
    load_ohm = Quantity(parallel_ohm(map(float, loads)), weakest(*loads))
    level = current_limited_dbu(
        highest_ma=float(port.max_ma),
        output_ohm=float(port.impedance_ohm),
        impedance_ohm=float(load_ohm),
    )
    figure = Quantity(level, weakest(port.max_ma, port.impedance_ohm, load_ohm))
    inputs: Inputs = (
        ("highest_ma", port.max_ma),
        ("output_ohm", port.impedance_ohm),
        ("impedance_ohm", load_ohm),
    )
    return Clip(figure, _BY_CURRENT, inputs)
