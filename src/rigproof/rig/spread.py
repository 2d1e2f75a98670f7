"""How far a figure may be off, by where it comes from, and figures with their likely range.

One table for the whole project, so that two sheets never give one figure two ranges. The widths
are common practice, no source, and chosen for what each word usually hides: a wattmeter or scale
reads within 3 %; a data sheet rounds and speaks of the model, not of this box; a typical figure
stands for a whole kind of box; an assumed one was not looked at at all.
"""

from collections.abc import Iterable, Mapping
from types import MappingProxyType

import msgspec

from rigproof.rig.quantity import PROVENANCES, Provenance, Quantity

# Lowest and highest as multiples of the figure: for watts, amperes, kilograms, metres.
_RATIO: Mapping[Provenance, tuple[float, float]] = MappingProxyType(
    {
        "measured": (0.97, 1.03),
        "datasheet": (0.9, 1.1),
        "typical": (0.75, 1.35),
        "assumed": (0.5, 2.0),
    }
)
# To either side, for levels, noise and sensitivities.
_DB: Mapping[Provenance, float] = MappingProxyType(
    {"measured": 0.5, "datasheet": 1.5, "typical": 4.0, "assumed": 6.0}
)


def spread_ratio(provenance: Provenance) -> tuple[float, float]:
    """The lowest and highest a figure likely is, as multiples of it."""
    return _RATIO[provenance]


def spread_db(provenance: Provenance) -> float:
    """How far a level likely is off, to either side."""
    return _DB[provenance]


def weaker(*provenances: Provenance) -> Provenance:
    """What derives from several figures is no better than the weakest of them."""
    return max(provenances, key=PROVENANCES.index, default="measured")


class Likely(msgspec.Struct, frozen=True):
    """A figure with the range it likely lies in, and the weakest of where it comes from."""

    low: float
    value: float
    high: float
    provenance: Provenance

    def times(self, factor: Quantity | float) -> "Likely":
        """Scaled by a factor; a factor with a provenance of its own can weaken it."""
        by = float(factor)
        provenance = self.provenance
        if isinstance(factor, Quantity) and factor.provenance != provenance:
            provenance = weaker(provenance, factor.provenance)
        return Likely(self.low * by, self.value * by, self.high * by, provenance)


NOTHING = Likely(0.0, 0.0, 0.0, "measured")


def likely(figure: Quantity) -> Likely:
    """A stated figure with its range."""
    low, high = spread_ratio(figure.provenance)
    value = float(figure)
    return Likely(value * low, value, value * high, figure.provenance)


def total(parts: Iterable[Likely]) -> Likely:
    """A sum. Low ends add to the low end: boxes of one maker err to the same side."""
    low = value = high = 0.0
    provenances: set[Provenance] = set()
    for part in parts:
        low += part.low
        value += part.value
        high += part.high
        provenances.add(part.provenance)
    return Likely(low, value, high, weaker(*provenances))
