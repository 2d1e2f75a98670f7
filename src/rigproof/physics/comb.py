"""What happens when a sound meets a late copy of itself: in an ear, or at a desk.

The singer hears the voice through bone and through the earphone; a source that reaches one ear by
two paths of unequal delay does the same. Some frequencies add, others cancel.
"""

import math

from rigproof.physics._arrays import Floats, cos, exp10, log10, not_below_0


def notch_hz(*, delay_ms: Floats, number: int = 1) -> Floats:
    """Frequency of a notch, counted from the lowest, where a sound meets its late copy.

    (2n - 1) / (2 tau). Source: comb filter, acoustics textbooks. Assumes equal polarity.

    >>> notch_hz(delay_ms=2)
    250.0
    """
    return (2 * number - 1) * 1000 / (2 * delay_ms)


def inverted_notch_hz(*, delay_ms: Floats, number: int = 1) -> Floats:
    """Frequency of a notch above 0 Hz where the late copy is upside down; the bass goes as well.

    n / tau. Source: comb filter, acoustics textbooks: notches and peaks change places.

    >>> inverted_notch_hz(delay_ms=2)
    500.0
    """
    return number * 1000 / delay_ms


def notch_delay_ms(frequency_hz: Floats) -> Floats:
    """The delay that puts the first notch at a frequency.

    1 / (2 f). Derived: `notch_hz`, turned round.

    >>> notch_delay_ms(1000)
    0.5
    """
    return 1000 / (2 * frequency_hz)


def comb_db(*, frequency_hz: Floats, delay_ms: Floats, copy_db: Floats) -> Floats:
    """Level at one frequency of a sound with its late copy, against the sound alone.

    20 lg sqrt(1 + g^2 + 2 g cos(2 pi f tau)). Source: comb filter, acoustics textbooks.
    `copy_db` is the copy's level against the first.

    >>> round(comb_db(frequency_hz=250, delay_ms=1, copy_db=0), 2)
    3.01
    """
    copy_ratio = exp10(copy_db / 20)
    turn_ratio = cos(2 * math.pi / 1000 * frequency_hz * delay_ms)
    # Rounding can leave a hair below 0 in a notch between equals.
    squared_ratio = not_below_0(1 + copy_ratio * copy_ratio + 2 * copy_ratio * turn_ratio)
    return 10 * log10(squared_ratio)


def comb_peak_db(copy_db: Floats) -> Floats:
    """How far the peaks of a comb rise.

    20 lg(1 + g). Source: comb filter, acoustics textbooks.

    >>> round(comb_peak_db(-6), 2)
    3.53
    """
    return 20 * log10(1 + exp10(copy_db / 20))


def comb_notch_db(copy_db: Floats) -> Floats:
    """How deep the notches of a comb fall: without end when both are equally loud.

    20 lg |1 - g|. Source: comb filter, acoustics textbooks.

    >>> round(comb_notch_db(-10), 2)
    -3.3
    """
    return 20 * log10(abs(1 - exp10(copy_db / 20)))
