"""What the capacitance of a long cable takes from the top of the band.

Only the source's resistance and the capacitance between the conductors count: the inductance of
an audio cable matters above the band.
"""

import math

from rigproof.physics._arrays import Floats, log10

# 25 pF per foot: microphone cable as a cable guide prints it. Star quad has about double.
MIC_CABLE_PF_PER_M: float = 82.0
INSTRUMENT_CABLE_PF_PER_M: float = 100.0


def cable_pf(*, length_m: Floats, capacitance_pf_per_m: Floats) -> Floats:
    """Capacitance of a cable of this length. Cables in a split hang in parallel: add them.

    Derived: capacitance grows with length.

    >>> cable_pf(length_m=100, capacitance_pf_per_m=82)
    8200
    """
    return length_m * capacitance_pf_per_m


def corner_hz(*, source_ohm: Floats, capacitance_pf: Floats) -> Floats:
    """The frequency at which a cable on this source has taken 3 dB.

    1 / (2 pi R C). Source: first-order low pass; R is source and load in parallel.

    >>> round(corner_hz(source_ohm=150, capacitance_pf=8200) / 1000, 1)
    129.4
    """
    return 1e12 / (2 * math.pi * source_ohm * capacitance_pf)


def cable_loss_db(*, frequency_hz: Floats, source_ohm: Floats, capacitance_pf: Floats) -> Floats:
    """Level change at one frequency through a cable on this source (never above 0).

    -10 lg(1 + (f/fc)^2). Source: first-order low pass.

    >>> round(cable_loss_db(frequency_hz=20000, source_ohm=150, capacitance_pf=8200), 2)
    -0.1
    """
    relative_ratio = frequency_hz / corner_hz(source_ohm=source_ohm, capacitance_pf=capacitance_pf)
    return -10 * log10(1 + relative_ratio * relative_ratio)
