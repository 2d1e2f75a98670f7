"""The case: what sits in which units, how deep, how heavy, and the leads that run from it."""

from rigproof.rack.carrying import Carry, carry, people_for
from rigproof.rack.elevation import Box, Elevation, elevation
from rigproof.rack.leadruns import Cut, CutList, Way, cut_list, lead_ways
from rigproof.rack.mass import Mass, Stand, Weights, stand, weights
from rigproof.rack.occupancy import Clash, Seat, clashes, free_units, homeless, seats
from rigproof.rack.weight import Balance, balance

__all__ = [
    "Balance",
    "Box",
    "Carry",
    "Clash",
    "Cut",
    "CutList",
    "Elevation",
    "Mass",
    "Seat",
    "Stand",
    "Way",
    "Weights",
    "balance",
    "carry",
    "clashes",
    "cut_list",
    "elevation",
    "free_units",
    "homeless",
    "lead_ways",
    "people_for",
    "seats",
    "stand",
    "weights",
]
