"""Plan, check, draw, print and prove a band's own in-ear monitoring rig."""

__version__ = "0.1.0"
