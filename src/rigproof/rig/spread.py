"""How far a figure may be off, by where it comes from.

One table for the whole house. Half-widths within which the true value lies more often than not;
from memory of data sheets against measurements, no source.
"""

from collections.abc import Mapping

from rigproof.rig.quantity import Provenance

_SPREAD_DB: Mapping[Provenance, float] = {
    "measured": 0.5,
    "datasheet": 1.5,
    "typical": 3.0,
    "assumed": 6.0,
}
_SPREAD_RATIO: Mapping[Provenance, float] = {
    "measured": 0.03,
    "datasheet": 0.10,
    "typical": 0.25,
    "assumed": 0.50,
}


def spread_db(provenance: Provenance) -> float:
    """Of a level, gain, sensitivity or noise, in dB."""
    return _SPREAD_DB[provenance]


def spread_ratio(provenance: Provenance) -> float:
    """Of a power, weight, length or current, as a share of it."""
    return _SPREAD_RATIO[provenance]
