"""The port graph of a rig, and every path through it."""

from rigproof.signal.build import build
from rigproof.signal.graph import Graph, Hop, Node

__all__ = ["Graph", "Hop", "Node", "build"]
