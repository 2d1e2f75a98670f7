"""Who gets mains from which outlet, in which order, and whether the plugs go together."""

from rigproof.mains.fit import Fit, fit
from rigproof.mains.outlets import (
    Outlet,
    Supply,
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
    "hungry",
    "needs_mains",
    "outlets",
    "reached",
    "sequence",
    "supplies",
]
