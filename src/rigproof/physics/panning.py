"""What a pan takes of a sound on each of two sides.

`toward_ratio` says how far a knob is turned to the side that is asked for: -1 fully away, 0 to the
middle, 1 fully there.
"""

from math import cos, inf, log10, pi

CONSTANT_POWER_DB = -20 * log10(cos(pi / 4))  # what the sine law takes in the middle: 3.01 dB


def pan_db(*, toward_ratio: float, centre_db: float) -> float:
    """What one side gets of a mono sound that is panned over two.

    (centre / 3.01) x 20 log10(sin((toward + 1) pi / 4)).
    Source: sine and cosine law, textbooks of sound recording, from memory. Makers take 3, 4.5 or
    6 dB in the middle: at 3 the powers of both sides always add to one, at 6 the voltages do. Where
    the middle takes nothing the near side stays and only the far one falls: a balance.

    >>> round(pan_db(toward_ratio=0, centre_db=3.0103), 2), pan_db(toward_ratio=1, centre_db=3)
    (-3.01, 0.0)
    """
    if centre_db <= 0:
        return balance_db(toward_ratio=toward_ratio)
    if toward_ratio <= -1:
        return -inf
    return _one_side_db(toward_ratio) * centre_db / CONSTANT_POWER_DB


def balance_db(*, toward_ratio: float) -> float:
    """What one side of a pair keeps when its balance is turned.

    min(0, 20 log10(sqrt(2) sin((toward + 1) pi / 4))): nothing is lost on the side it is turned to.
    Derived: the sine law, held at what it is in the middle.

    >>> round(balance_db(toward_ratio=-0.5), 2), balance_db(toward_ratio=0.5)
    (-5.33, 0.0)
    """
    if toward_ratio >= 0:
        return 0.0
    if toward_ratio <= -1:
        return -inf
    return min(0.0, _one_side_db(toward_ratio) + CONSTANT_POWER_DB)


def _one_side_db(toward_ratio: float) -> float:
    return 0.0 if toward_ratio >= 1 else 20 * log10(cos((1 - toward_ratio) * pi / 4))
