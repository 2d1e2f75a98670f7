"""The channel list and the line patch: as stated, and completed where the file leaves it out."""

from rigproof.patch.complete import Planned, Reason, complete

__all__ = ["Planned", "Reason", "complete"]
