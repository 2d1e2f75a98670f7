"""What changed between two versions of a rig: for the band, the house and whoever stands in."""

from rigproof.showbook.changes.between import Changes, changes
from rigproof.showbook.changes.hands import Page
from rigproof.showbook.changes.moves import Figure, HouseLines, Move, Night
from rigproof.showbook.changes.said import entry_name, headline, section_name, told

__all__ = [
    "Changes",
    "Figure",
    "HouseLines",
    "Move",
    "Night",
    "Page",
    "changes",
    "entry_name",
    "headline",
    "section_name",
    "told",
]
