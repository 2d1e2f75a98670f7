"""Pads: resistors that take level away, before an input or after a noisy amplifier.

Every pad here is one network: resistance in series, one across, resistance in series again. A
balanced pad (H, or U without the second pair) has half of each series resistance in either leg;
the formulas take both legs together, which is the T or L pad with the same effect.
"""

import math

from rigproof.physics._arrays import Floats, exp10, log10
from rigproof.physics.loading import parallel_ohm


def t_pad_ohm(*, attenuation_db: float, line_ohm: float) -> tuple[float, float]:
    """The two series resistors (each) and the one across, of a pad matched to a line both ways.

    k = 10^(A/20); series = Z (k-1)/(k+1); across = 2 Z k/(k^2-1).
    Source: symmetrical T attenuator, electronics textbooks.

    >>> [round(ohm, 2) for ohm in t_pad_ohm(attenuation_db=10, line_ohm=50)]
    [25.97, 35.14]
    """
    k = math.pow(10, attenuation_db / 20)
    return line_ohm * (k - 1) / (k + 1), 2 * line_ohm * k / (k * k - 1)


def h_pad_ohm(*, attenuation_db: float, line_ohm: float) -> tuple[float, float]:
    """The four series resistors (each) and the one across, of a balanced matched pad.

    Derived: the T pad with its series resistors shared between the legs.

    >>> [round(ohm, 1) for ohm in h_pad_ohm(attenuation_db=20, line_ohm=600)]
    [245.5, 121.2]
    """
    series_ohm, shunt_ohm = t_pad_ohm(attenuation_db=attenuation_db, line_ohm=line_ohm)
    return series_ohm / 2, shunt_ohm


def u_pad_leg_ohm(*, attenuation_db: Floats, shunt_ohm: Floats) -> Floats:
    """The series resistor in each leg of a balanced pad with one resistor across its output.

    R_across (k-1) / 2, k = 10^(A/20). Source: balanced L (U) pad, worked example.
    Assumes a source of no impedance and an open output; `pad_loss_db` gives the loaded figure.

    >>> u_pad_leg_ohm(attenuation_db=20, shunt_ohm=150)
    675.0
    """
    return shunt_ohm * (exp10(attenuation_db / 20) - 1) / 2


def pad_loss_db(
    *,
    source_ohm: Floats,
    series_ohm: Floats,
    shunt_ohm: Floats,
    far_series_ohm: Floats,
    input_ohm: Floats,
) -> Floats:
    """Level at the input behind a pad, against the open source (never above 0).

    Series resistances are the sum of both legs. Derived: two voltage dividers.

    >>> round(pad_loss_db(source_ohm=0, series_ohm=1360, shunt_ohm=150, far_series_ohm=0,
    ...     input_ohm=1500), 2)
    -20.81
    """
    # Conductances, so that an open input (infinite) is a case like any other.
    far_s = 1 / (far_series_ohm + input_ohm)
    at_shunt_ratio = 1 + (source_ohm + series_ohm) * (1 / shunt_ohm + far_s)
    at_input_ratio = 1 + far_series_ohm / input_ohm
    return -20 * log10(at_shunt_ratio * at_input_ratio)


def pad_input_ohm(
    *, series_ohm: Floats, shunt_ohm: Floats, far_series_ohm: Floats, input_ohm: Floats
) -> Floats:
    """What a source sees of a pad with an input behind it.

    Derived: series and parallel resistances.

    >>> pad_input_ohm(series_ohm=1360, shunt_ohm=150, far_series_ohm=0, input_ohm=float("inf"))
    1510.0
    """
    return series_ohm + parallel_ohm([shunt_ohm, far_series_ohm + input_ohm])


def pad_output_ohm(
    *, source_ohm: Floats, series_ohm: Floats, shunt_ohm: Floats, far_series_ohm: Floats
) -> Floats:
    """What an input sees of a pad with a source before it: the source of its thermal noise.

    Derived: series and parallel resistances (Thevenin).

    >>> round(pad_output_ohm(source_ohm=100, series_ohm=1360, shunt_ohm=150, far_series_ohm=0), 1)
    136.0
    """
    return far_series_ohm + parallel_ohm([shunt_ohm, source_ohm + series_ohm])
