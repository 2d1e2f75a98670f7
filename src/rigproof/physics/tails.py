"""What a broken balanced line still brings to the input at its far end.

The line is solved as the small circuit that it is: an output with its source impedance and its
tie to ground, two conductors with their capacitances in front of the fault and behind it, and an
input with what it has between the conductors and from each of them to ground. What a fault does
depends on both ends, so no single figure holds for "one leg open".
"""

import math
from collections.abc import Sequence

import msgspec

from rigproof.physics.cable import MIC_CABLE_PF_PER_M

GOOD_JOINT_OHM: float = 0.1  # of a plug that holds
_TINY_S = 1e-15  # keeps a conductor that hangs in the air solvable
_TIED_OHM = 1e-3
_SILENT_DB = -200.0


class Sender(msgspec.Struct, frozen=True, kw_only=True):
    """An output. `centre_ohm`: from the middle of its voltage to ground; infinite where it floats.

    `reference_ohm`: from each leg to ground beside that, such as the 48 V resistors of our own
    preamp on the same line; `load_ohm`: what hangs between the legs there. `hot_share_ratio`: how
    much of the voltage stands on pin 2: half of it, or all where only the impedance is balanced.
    `winding_pf`: of a floating winding to ground.
    """

    source_ohm: float
    centre_ohm: float = math.inf
    reference_ohm: float = math.inf
    load_ohm: float = math.inf
    hot_share_ratio: float = 0.5
    winding_pf: float = 0.0


class Receiver(msgspec.Struct, frozen=True, kw_only=True):
    """An input. `across_ohm`: between the legs; `leg_ohm`: from each leg to ground."""

    across_ohm: float
    leg_ohm: float


class Fault(msgspec.Struct, frozen=True, kw_only=True):
    """What is wrong at one place of a line; nothing, as it stands here.

    Resistances in the legs (infinite: open), between them, and from each to the shield. The cable
    lies `before_m` in front of the fault and `behind_m` behind it.
    """

    pin2_ohm: float = GOOD_JOINT_OHM
    pin3_ohm: float = GOOD_JOINT_OHM
    across_ohm: float = math.inf
    pin2_shield_ohm: float = math.inf
    pin3_shield_ohm: float = math.inf
    before_m: float = 0.0
    behind_m: float = 10.0


class Received(msgspec.Struct, frozen=True):
    """What arrives against the same line whole. `upright`: the polarity is kept."""

    level_db: float
    upright: bool


WHOLE = Fault()


def received(*, frequency_hz: float, sender: Sender, receiver: Receiver, fault: Fault) -> Received:
    """The signal at a faulty line's input, against that of the same line without the fault.

    Derived: Kirchhoff's current law at five nodes. Assumes a cable with `MIC_CABLE_PF_PER_M`
    between its conductors and as much again from each to the shield, both ends on one ground.

    Half of it, where both ends are tied to ground:

    >>> line = Receiver(across_ohm=math.inf, leg_ohm=10_000)
    >>> tied = Sender(source_ohm=100, centre_ohm=0)
    >>> torn = Fault(pin3_ohm=math.inf)
    >>> got = received(frequency_hz=1000, sender=tied, receiver=line, fault=torn)
    >>> round(got.level_db, 1), got.upright
    (-6.1, True)
    """
    whole = msgspec.structs.replace(WHOLE, before_m=fault.before_m, behind_m=fault.behind_m)
    at = _across(frequency_hz, sender, receiver, fault, signal_v=1.0, ground_v=0.0)
    due = _across(frequency_hz, sender, receiver, whole, signal_v=1.0, ground_v=0.0)
    return Received(_ratio_db(abs(at / due)), (at / due).real >= 0)


def ground_noise_db(
    *, frequency_hz: float, sender: Sender, receiver: Receiver, fault: Fault
) -> float:
    """How much of a voltage between the grounds of both ends an input takes for signal.

    Derived: the same circuit, driven between the grounds alone. A whole line without tolerances
    would take none; with one leg open it is most of it: that is why such a line hums.

    >>> line = Receiver(across_ohm=math.inf, leg_ohm=10_000)
    >>> tied = Sender(source_ohm=100, centre_ohm=0)
    >>> open_leg = Fault(pin3_ohm=math.inf)
    >>> round(ground_noise_db(frequency_hz=50, sender=tied, receiver=line, fault=open_leg), 1)
    -0.0
    """
    return _ratio_db(abs(_across(frequency_hz, sender, receiver, fault, signal_v=0, ground_v=1)))


def _ratio_db(ratio: float) -> float:
    return max(_SILENT_DB, 20 * math.log10(ratio)) if ratio > 0 else _SILENT_DB


# The nodes: pins 2 and 3 at the sender, the middle of its voltage, pins 2 and 3 at the receiver.
_HOT, _COLD, _MIDDLE, _FAR_HOT, _FAR_COLD = range(5)


def _across(
    frequency_hz: float,
    sender: Sender,
    receiver: Receiver,
    fault: Fault,
    *,
    signal_v: float,
    ground_v: float,
) -> complex:
    """The voltage between the legs at the input."""
    circuit = _Circuit(2j * math.pi * frequency_hz * 1e-12)
    half_s = 2 / sender.source_ohm
    circuit.joined(_HOT, _MIDDLE, half_s)
    circuit.joined(_COLD, _MIDDLE, half_s)
    hot_v, cold_v = sender.hot_share_ratio * signal_v, (sender.hot_share_ratio - 1) * signal_v
    circuit.driven(_HOT, half_s * hot_v)
    circuit.driven(_COLD, half_s * cold_v)
    circuit.driven(_MIDDLE, -half_s * (hot_v + cold_v))
    middle_s = 1 / max(sender.centre_ohm, _TIED_OHM) + circuit.of_pf(sender.winding_pf) + _TINY_S
    for node, to_ground_s in (
        (_MIDDLE, middle_s),
        (_HOT, 1 / sender.reference_ohm),
        (_COLD, 1 / sender.reference_ohm),
    ):
        circuit.earthed(node, to_ground_s)
        circuit.driven(node, to_ground_s * ground_v)
    circuit.joined(_HOT, _COLD, 1 / sender.load_ohm)
    for legs, length_m in (
        ((_HOT, _COLD), fault.before_m),
        ((_FAR_HOT, _FAR_COLD), fault.behind_m),
    ):
        cable_s = circuit.of_pf(MIC_CABLE_PF_PER_M * length_m)
        circuit.joined(*legs, cable_s)
        for leg in legs:
            circuit.earthed(leg, cable_s)
    circuit.joined(_HOT, _FAR_HOT, 1 / fault.pin2_ohm + _TINY_S)
    circuit.joined(_COLD, _FAR_COLD, 1 / fault.pin3_ohm + _TINY_S)
    circuit.joined(_FAR_HOT, _FAR_COLD, 1 / receiver.across_ohm + 1 / fault.across_ohm)
    for leg, shield_ohm in ((_FAR_HOT, fault.pin2_shield_ohm), (_FAR_COLD, fault.pin3_shield_ohm)):
        circuit.earthed(leg, 1 / receiver.leg_ohm + 1 / shield_ohm)
    voltages = circuit.solved()
    return voltages[_FAR_HOT] - voltages[_FAR_COLD]


class _Circuit:
    """Admittances between nodes and to ground, and the currents driven into the nodes."""

    def __init__(self, per_pf_s: complex) -> None:
        self.per_pf_s = per_pf_s
        self.rows: list[list[complex]] = [[0j] * 6 for _ in range(5)]

    def of_pf(self, capacitance_pf: float) -> complex:
        return self.per_pf_s * capacitance_pf

    def joined(self, one: int, other: int, admittance_s: complex) -> None:
        self.earthed(one, admittance_s)
        self.earthed(other, admittance_s)
        self.rows[one][other] -= admittance_s
        self.rows[other][one] -= admittance_s

    def earthed(self, node: int, admittance_s: complex) -> None:
        self.rows[node][node] += admittance_s

    def driven(self, node: int, current_a: complex) -> None:
        self.rows[node][5] += current_a

    def solved(self) -> Sequence[complex]:
        """The voltages of the nodes, by elimination with the greatest pivot."""
        rows = [list(row) for row in self.rows]
        for step in range(5):
            best = max(range(step, 5), key=lambda place: abs(rows[place][step]))
            rows[step], rows[best] = rows[best], rows[step]
            for place in range(5):
                if place != step:
                    share = rows[place][step] / rows[step][step]
                    rows[place] = [
                        one - share * other
                        for one, other in zip(rows[place], rows[step], strict=True)
                    ]
        return [rows[node][5] / rows[node][node] for node in range(5)]
