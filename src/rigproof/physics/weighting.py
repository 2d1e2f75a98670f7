"""Frequency weightings, and what they make of noise.

Noise is stated flat or A-weighted. One becomes the other only through the noise's spectrum: hiss
is close to white and reads 2 dB lower with A; hum reads 30 dB lower, so a hum-laden output looks
far better A-weighted than it sounds on its own. The conversions here are for hiss.
"""

from functools import cache
from typing import Literal

from rigproof.physics._arrays import Floats, log10

# Poles in Hz, IEC 61672-1:2013 annex E.
_POLES = (20.598997, 107.65265, 737.86223, 12194.217)
_F1, _F2, _F3, _F4 = (pole * pole for pole in _POLES)

Spectrum = Literal["white", "pink"]


def a_weighting_db(frequency_hz: Floats) -> Floats:
    """How much the A curve takes from or gives to a tone.

    Source: IEC 61672-1:2013, formula of annex E; 0 dB at 1 kHz.

    >>> round(a_weighting_db(100), 1)
    -19.1
    """
    return _a_db(frequency_hz) - _a_db(1000.0)


def c_weighting_db(frequency_hz: Floats) -> Floats:
    """How much the C curve takes from a tone.

    Source: IEC 61672-1:2013, formula of annex E; 0 dB at 1 kHz.

    >>> round(c_weighting_db(16000), 1)
    -8.6
    """
    return _c_db(frequency_hz) - _c_db(1000.0)


def _c_db(frequency_hz: Floats) -> Floats:
    f2 = frequency_hz * frequency_hz
    return 20 * log10(_F4 * f2 / ((f2 + _F1) * (f2 + _F4)))


def _a_db(frequency_hz: Floats) -> Floats:
    return 10 * log10(_a_power(frequency_hz))


def _a_power(frequency_hz: Floats) -> Floats:
    """What the A curve leaves of the power of a tone, not yet set to 1 at 1 kHz."""
    f2 = frequency_hz * frequency_hz
    c = _F4 * f2 / ((f2 + _F1) * (f2 + _F4))
    return c * c * (f2 * f2 / ((f2 + _F2) * (f2 + _F3)))


@cache
def a_weighted_noise_db(
    *, spectrum: Spectrum = "white", lowest_hz: float = 20.0, highest_hz: float = 20_000.0
) -> float:
    """What A-weighting takes from a noise as a whole, against the same noise read flat.

    10 lg(integral of S A / integral of S) over the band, S = power density. White is the hiss of
    resistors and converters. Source: IEC 61672-1:2013, formula of annex E, integrated (Simpson).

    >>> round(a_weighted_noise_db(), 2)
    -2.05
    """
    steps, power_of_f = 2000, 1 if spectrum == "white" else 0
    whole_ratio = weighted_ratio = 0.0
    for step in range(steps + 1):
        # Even steps in the logarithm of the frequency: df = f d(ln f).
        frequency_hz = lowest_hz * (highest_hz / lowest_hz) ** (step / steps)
        weight = 1 if step in (0, steps) else 4 if step % 2 else 2
        density = weight * frequency_hz**power_of_f
        whole_ratio += density
        weighted_ratio += density * _a_power(frequency_hz)
    return 10 * log10(weighted_ratio / whole_ratio / _a_power(1000.0))


def flat_to_a_dbu(flat_dbu: Floats) -> Floats:
    """A-weighted level of a hiss that was stated flat, 20 Hz to 20 kHz.

    Derived: white noise through the A curve. Assumes hiss: hum in the flat figure makes the true
    A-weighted one lower, so this errs on the loud side.

    >>> round(flat_to_a_dbu(-90), 1)
    -92.0
    """
    return flat_dbu + a_weighted_noise_db()


def a_to_flat_dbu(weighted_dbu: Floats) -> Floats:
    """Flat level, 20 Hz to 20 kHz, of a hiss that was stated A-weighted.

    Derived: white noise through the A curve, turned round. Assumes hiss: whatever hum the A curve
    hid stays hidden, so the true flat figure can only be higher.

    >>> round(a_to_flat_dbu(-92), 1)
    -90.0
    """
    return weighted_dbu - a_weighted_noise_db()
