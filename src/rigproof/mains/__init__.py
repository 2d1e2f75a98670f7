"""Mains: outlets and plugs, amperes, volts at the end of the chain, order, battery, heat."""

from rigproof.mains.battery import Bridge, bridges
from rigproof.mains.circuit import (
    Place,
    Residual,
    Rush,
    inlet_a,
    place_of,
    residual,
    rush,
    spare_a,
    usual_place,
    volts_of,
)
from rigproof.mains.fit import Fit, fit
from rigproof.mains.heat import Warmth, warmth
from rigproof.mains.load import (
    BoxLoad,
    Load,
    Start,
    StripLoad,
    plate_w,
    rack_load,
    starts,
    strip_loads,
)
from rigproof.mains.outlets import (
    Outlet,
    Supply,
    gives_mains,
    hungry,
    needs_mains,
    outlets,
    reached,
    sequence,
    supplies,
)
from rigproof.mains.sag import AtBox, Cable, Sag, sag

__all__ = [
    "AtBox",
    "BoxLoad",
    "Bridge",
    "Cable",
    "Fit",
    "Load",
    "Outlet",
    "Place",
    "Residual",
    "Rush",
    "Sag",
    "Start",
    "StripLoad",
    "Supply",
    "Warmth",
    "bridges",
    "fit",
    "gives_mains",
    "hungry",
    "inlet_a",
    "needs_mains",
    "outlets",
    "place_of",
    "plate_w",
    "rack_load",
    "reached",
    "residual",
    "rush",
    "sag",
    "sequence",
    "spare_a",
    "starts",
    "strip_loads",
    "supplies",
    "usual_place",
    "volts_of",
    "warmth",
]
