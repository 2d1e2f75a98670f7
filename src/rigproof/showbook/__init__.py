"""The papers of a rig: sheets, drawings, and the show book that binds them."""

from rigproof.showbook.assembly import Book, Paper, book

__all__ = ["Book", "Paper", "book"]
