"""One formula for one number and for many: floats stay floats, numpy arrays stay arrays.

A caller gives all figures of a call as floats, or all that vary as arrays of one shape. numpy is
only imported once an array arrives, and then the caller has it already: a single figure must not
cost the time that the import takes.
"""

import math
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Floats = TypeVar("Floats", float, "NDArray[np.float64]")


def log10(x: Floats) -> Floats:
    """Decimal logarithm; minus infinity at nothing, so that silence is a level too."""
    if isinstance(x, (int, float)):
        return math.log10(x) if x else -math.inf
    import numpy as np

    with np.errstate(divide="ignore"):
        return np.log10(x)


def power(x: Floats, exponent: float) -> Floats:
    """A power of something above 0. The plain operator is typed as if it could turn complex."""
    if isinstance(x, (int, float)):
        return math.pow(x, exponent)
    return x**exponent


def exp10(x: Floats) -> Floats:
    """Ten to the power of x."""
    if isinstance(x, (int, float)):
        return math.pow(10.0, x)
    return 10.0**x


def exp2(x: Floats) -> Floats:
    """Two to the power of x."""
    if isinstance(x, (int, float)):
        return math.pow(2.0, x)
    return 2.0**x


def exp(x: Floats) -> Floats:
    """The exponential function."""
    if isinstance(x, (int, float)):
        return math.exp(x)
    import numpy as np

    return np.exp(x)


def cos(x: Floats) -> Floats:
    """Cosine of an angle in radians."""
    if isinstance(x, (int, float)):
        return math.cos(x)
    import numpy as np

    return np.cos(x)


def least(x: Floats, y: Floats) -> Floats:
    """The smaller of two, one by one."""
    if isinstance(x + y, (int, float)):
        return min(x, y)
    import numpy as np

    return np.minimum(x, y)


def not_below_0(x: Floats) -> Floats:
    """What is above 0, and 0 for the rest."""
    if isinstance(x, (int, float)):
        return max(x, 0.0)
    import numpy as np

    return np.maximum(x, 0.0)


def added(many: list[Floats]) -> Floats:
    """The sum of at least one."""
    total = many[0]
    for one in many[1:]:
        total = total + one
    return total
