"""Who gets mains from which outlet, in which order, and whether the plugs go together."""

from rigproof.mains.fit import Fit, fit
from rigproof.mains.outlets import (
    Outlet,
    Supply,
    facing,
    hungry,
    needs_mains,
    outlets,
    sequence,
    supplies,
)

__all__ = [
    "Fit",
    "Outlet",
    "Supply",
    "facing",
    "fit",
    "hungry",
    "needs_mains",
    "outlets",
    "sequence",
    "supplies",
]
