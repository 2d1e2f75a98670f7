"""The papers of a rig: sheets, drawings, and the show book that binds them."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rigproof.showbook.assembly import Book, book, book_with_numbers

__all__ = ["Book", "book", "book_with_numbers"]


def __getattr__(name: str) -> object:
    """Fetch the book when it is asked for: whoever wakes the layout engine first needs no more."""
    if name in {"Book", "book", "book_with_numbers"}:
        from rigproof.showbook import assembly

        return getattr(assembly, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
