"""The channel list and the line patch: as stated, and completed where the file leaves it out."""

from rigproof.patch.complete import Planned, complete
from rigproof.patch.lists import ChannelRow, PatchLists, WalkStep

__all__ = ["ChannelRow", "PatchLists", "Planned", "WalkStep", "complete"]
