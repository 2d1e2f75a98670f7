"""The exponential sine sweep: how fast it rises, and where its distortion lands.

A sweep whose pitch rises by equal steps in equal times lets one division tell a chain's linear
response and each order of its distortion apart: order n arrives ahead of the linear response.
"""

from math import exp, log, log10


def growth_s(*, duration_s: float, low_hz: float, high_hz: float) -> float:
    """The time in which the sweep's frequency grows by the factor e.

    Source: Farina 2000, "Simultaneous measurement of impulse response and distortion with a
    swept-sine technique": L = T / ln(f2 / f1).

    >>> round(growth_s(duration_s=10, low_hz=20, high_hz=20_000), 4)
    1.4476
    """
    return duration_s / log(high_hz / low_hz)


def synchronized_growth_s(*, duration_s: float, low_hz: float, high_hz: float) -> float:
    """The nearest growth at which every harmonic of the sweep keeps its phase.

    Source: Novak, Lotton, Simon 2015, "Synchronized swept-sine": L = round(f1 T / ln(f2/f1)) / f1.

    >>> round(synchronized_growth_s(duration_s=10, low_hz=20, high_hz=20_000), 4)
    1.45
    """
    return round(low_hz * growth_s(duration_s=duration_s, low_hz=low_hz, high_hz=high_hz)) / low_hz


def swept_s(*, growth_s: float, low_hz: float, high_hz: float) -> float:
    """How long a sweep of this growth takes from its lowest to its highest frequency.

    Derived: Farina's L = T / ln(f2 / f1), solved for T.

    >>> round(swept_s(growth_s=1.4, low_hz=20, high_hz=20_000), 3)
    9.671
    """
    return growth_s * log(high_hz / low_hz)


def frequency_hz(*, at_s: float, growth_s: float, low_hz: float) -> float:
    """The frequency that sounds a time after the start.

    Source: Farina 2000: f(t) = f1 exp(t / L).

    >>> round(frequency_hz(at_s=5.663, growth_s=1.4476, low_hz=20))
    1000
    """
    return low_hz * exp(at_s / growth_s)


def passing_s(*, at_hz: float, growth_s: float, low_hz: float) -> float:
    """The time after the start at which the sweep passes a frequency.

    Derived: Farina's f(t) = f1 exp(t / L), solved for t.

    >>> round(passing_s(at_hz=1000, growth_s=1.4476, low_hz=20), 3)
    5.663
    """
    return growth_s * log(at_hz / low_hz)


def harmonic_advance_s(*, harmonic: int, growth_s: float) -> float:
    """How far ahead of the linear response the response of an order of distortion arrives.

    Source: Farina 2000: L ln(n).

    >>> round(harmonic_advance_s(harmonic=3, growth_s=1.4476), 4)
    1.5904
    """
    return growth_s * log(harmonic)


def inverse_envelope_db(*, low_hz: float, high_hz: float) -> float:
    """How much the envelope of the inverse filter falls over the sweep: 6 dB an octave.

    Source: Farina 2000: the time-reversed sweep with the envelope exp(-t / L), 20 lg(f2 / f1).

    >>> inverse_envelope_db(low_hz=20, high_hz=20_000)
    60.0
    """
    return 20 * log10(high_hz / low_hz)
