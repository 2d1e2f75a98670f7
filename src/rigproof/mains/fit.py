"""Whether an outlet and an inlet go together: by its own cord, or by a lead that is sold."""

from functools import cache
from typing import Literal

from rigproof.rig.connectors import Connector, mate

Fit = Literal["direct", "lead", "none"]

# Which ends a bought mains lead has: a plug for the outlet, a connector for the inlet. The
# couplers are those of IEC 60320; which combinations the trade sells is common practice.
_PLUGS: tuple[Connector, ...] = ("cee-7-7", "bs-1363-m", "nema-5-15-m", "iec-c14")
_ENDS: tuple[Connector, ...] = ("iec-c13", "iec-c5", "iec-c7", "iec-c19", "mains-twist-f")
_LEADS: frozenset[tuple[Connector, Connector]] = frozenset(
    (plug, end) for plug in _PLUGS for end in _ENDS
) | {
    ("cee-7-16", "iec-c7"),
    ("iec-c20", "iec-c19"),
    ("iec-c20", "iec-c13"),
    ("mains-twist-m", "mains-twist-f"),
}


def fit(outlet: Connector, inlet: Connector) -> Fit:
    """How an outlet and a box's inlet, or the plug on its own cord, can be joined."""
    return _fit(outlet, inlet)


@cache
def _fit(outlet: Connector, inlet: Connector) -> Fit:
    for plug, end in sorted(_LEADS):
        if mate(outlet, plug).fits and mate(end, inlet).fits:
            return "lead"
    return "direct" if mate(outlet, inlet).fits else "none"
