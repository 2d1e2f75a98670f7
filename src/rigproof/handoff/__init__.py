"""What the house gets, venue by venue."""

from rigproof.handoff.lines import HandOff, HouseLine, hand_off, hand_offs

__all__ = ["HandOff", "HouseLine", "hand_off", "hand_offs"]
