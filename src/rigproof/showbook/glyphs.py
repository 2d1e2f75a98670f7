"""Which characters the shipped fonts can print.

The typesetter draws an empty box for a character that no font has and says nothing. A name that
comes out as boxes is a mistake on stage, so it is looked for before the page is set.

The table `fonts/printable.txt` is written by `tools/fonts.py`; reading it costs less than opening
the fonts.
"""

import re
import unicodedata
from bisect import bisect
from collections.abc import Iterator
from functools import cache
from pathlib import Path

FONT_DIR = Path(__file__).parent / "fonts"

STAND_IN = "□"
"""What is printed in place of a character that cannot be."""

# Joiners, marks of direction and variation selectors: they steer the shaping of their neighbours
# and have no picture of their own, so no font needs to hold them.
_INVISIBLE = ((0x00AD, 0x00AD), (0x061C, 0x061C), (0x200B, 0x200F), (0x2060, 0x2060))
_VARIATION_SELECTORS = "\ufe00-\ufe0f"
_BYTE_ORDER_MARK = "\ufeff"
# Embeddings, overrides and isolates reach past the name that holds them and would turn round the
# text beside it. The letters of a right-to-left script find their direction without them.
_DIRECTION_CHANGES = "\u202a-\u202e\u2066-\u2069"

_DROPPED = re.compile(f"[{_DIRECTION_CHANGES}{_VARIATION_SELECTORS}{_BYTE_ORDER_MARK}]")
_OTHER_SPACES = re.compile("[\t\r\v\f\x85\u2028\u2029]+")


@cache
def printable_ranges() -> tuple[tuple[int, int], ...]:
    """The code points that the shipped fonts map, as closed ranges in rising order."""

    def read() -> Iterator[tuple[int, int]]:
        for line in (FONT_DIR / "printable.txt").read_text(encoding="ascii").split():
            low, _, high = line.partition("-")
            yield int(low, 16), int(high or low, 16)

    return tuple(read())


@cache
def _kept() -> tuple[tuple[int, int], ...]:
    """What stays in a text: letters with a picture, and what steers them."""
    return tuple(sorted((*printable_ranges(), *_INVISIBLE, (0x0A, 0x0A))))


@cache
def _is_kept(letter: str) -> bool:
    code = ord(letter)
    place = bisect(_kept(), (code, 0x110000)) - 1
    return place >= 0 and code <= _kept()[place][1]


def _plain(text: str) -> bool:
    """Whether there is nothing to look for: most texts are of letters that every font has."""
    return text.isascii() and text.isprintable()


def _prepared(text: str) -> str:
    # Composed form: a letter and its accent typed apart (as some systems store file names) are
    # one well-drawn character in the font.
    composed = text if text.isascii() else _DROPPED.sub("", unicodedata.normalize("NFC", text))
    return _OTHER_SPACES.sub(" ", composed)


def unprintable(text: str) -> tuple[str, ...]:
    """The characters of a text that no shipped font holds, each once, as a person can look it up.

    >>> unprintable("Übung 太鼓 F♯")
    ()
    >>> unprintable("Beat 🥁🥁")
    ('U+1F941 DRUM WITH DRUMSTICKS',)
    """
    if _plain(text):
        return ()
    letters = dict.fromkeys(_prepared(text))
    return tuple(f"U+{ord(one):04X} {_spoken(one)}" for one in letters if not _is_kept(one))


def _spoken(character: str) -> str:
    match unicodedata.category(character):
        case "Cc":
            return "control character"
        case "Cs":
            return "half of a character"
        case "Co":
            return "private character"
        case _:
            return unicodedata.name(character, "unnamed character")


def as_printed(text: str) -> bool:
    """Whether `printable` would leave each letter of a text as it is, spaces and breaks apart.

    For a text as long as a document it is cheaper to ask this once than to rewrite all its parts.
    """
    return text.isascii() or (
        _DROPPED.search(text) is None
        and all(map(_is_kept, set(text)))
        and unicodedata.is_normalized("NFC", text)
    )


def printable(text: str) -> str:
    """The text as the book sets it: composed, on plain spaces, with a box for what no font holds.

    >>> printable("Beat 🥁")
    'Beat □'
    """
    if _plain(text):
        return text
    prepared = _prepared(text)
    missing = {ord(one): STAND_IN for one in set(prepared) if not _is_kept(one)}
    return prepared.translate(missing) if missing else prepared
