"""The drawings of the show book: the stage from above, the case to scale, the way of the signal.

Each is made from a view of the completed rig and its graph, in millimetres on paper, and is set on
a page of its own by `drawings.typ`. They share one ink (`ink`), one way to measure and cut names
(`lettering`) and nothing else.
"""

from rigproof.showbook.drawings.elevation import elevations
from rigproof.showbook.drawings.flow import (
    begin_signal_flow,
    begin_whole_flow,
    signal_flow,
    whole_flow,
)
from rigproof.showbook.drawings.ink import Drawing
from rigproof.showbook.drawings.plot import stage_plot

__all__ = [
    "Drawing",
    "begin_signal_flow",
    "begin_whole_flow",
    "elevations",
    "signal_flow",
    "stage_plot",
    "whole_flow",
]
