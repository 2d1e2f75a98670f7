"""Who gets mains from which outlet, in which order, and whether the plugs go together."""

from rigproof.mains.fit import Fit, fit
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

__all__ = [
    "Fit",
    "Outlet",
    "Supply",
    "fit",
    "gives_mains",
    "hungry",
    "needs_mains",
    "outlets",
    "reached",
    "sequence",
    "supplies",
]
