"""The channel list and the line patch: as stated, and completed where the file leaves it out."""

from rigproof.patch.complete import Planned, Reason, complete
from rigproof.patch.lists import ChannelRow, PatchLists, WalkStep

__all__ = ["ChannelRow", "PatchLists", "Planned", "Reason", "WalkStep", "complete"]
