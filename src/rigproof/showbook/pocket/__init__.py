"""The pocket book: a whole rig in one file that a phone opens with no network and no program.

Everything is in the file: styles, letters for the drawings, a script for search and ticks that
nobody needs in order to read. It calls nothing, wherever it is opened.
"""

from rigproof.showbook.pocket.binding import Pocket, pocket_book

__all__ = ["Pocket", "pocket_book"]
