"""The papers of a rig: sheets, drawings, and the show book that binds them."""

from rigproof.showbook.assembly import Book, book
from rigproof.showbook.house_fit import Paper

__all__ = ["Book", "Paper", "book"]
