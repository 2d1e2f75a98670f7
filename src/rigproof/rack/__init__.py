"""The case: what sits in which units, how deep, and what is in its way."""

from rigproof.rack.elevation import Box, Elevation, elevation
from rigproof.rack.occupancy import Clash, Seat, clashes, free_units, homeless, seats
from rigproof.rack.weight import Balance, balance

__all__ = [
    "Balance",
    "Box",
    "Clash",
    "Elevation",
    "Seat",
    "balance",
    "clashes",
    "elevation",
    "free_units",
    "homeless",
    "seats",
]
