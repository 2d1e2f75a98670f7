"""What the name of a source says beside the name: left or right, both, or one to three."""

import re
from typing import Literal

import msgspec

from rigproof.rigfile.intake.vocabulary import plain_words, words_of

Side = Literal["", "first", "second", "both"]
_LAST = re.compile(
    r"^(?P<stem>.*\S)[\s._\-\u2013(\[]+(?P<side>[^\W\d_]{1,6}\.?(?: right| left)?)[)\]]?$"
)
_BOTH = re.compile(
    r"^(?P<stem>.*\S)[\s._\-\u2013(\[]+(?:l\s*[/+&\-]\s*r|lr|stereo|st\.?|li\s*[/+&\-]\s*re)[)\]]?$",
    re.IGNORECASE,
)
_RUN = re.compile(r"^(?P<stem>.*\S)\s*\b(?P<first>[0-9]{1,2})\s*[-/\u2013]\s*(?P<last>[0-9]{1,2})$")
_MOST_AT_ONCE = 16
_LONGEST = 120  # of a name that is taken apart


class Said(msgspec.Struct, frozen=True, kw_only=True):
    """A name taken apart. `whole`: as it stood; `way`: left and right, or sides of the stage."""

    name: str
    whole: str
    side: Side = ""
    way: Literal["", "ears", "stage"] = ""
    stereo: bool = False
    several: tuple[str, ...] = ()
    pair_used: bool = False  # the column of pairs said so

    def begins(self, other: "Said") -> bool:
        """Whether the other is the second side of what this one is the first of."""
        return (
            self.side == "first"
            and other.side == "second"
            and self.way == other.way
            and self.name.casefold().split() == other.name.casefold().split()
        )


def said_by(name: str, pair: str, *, stated: bool) -> Said:
    """What a name and the column of pairs say.

    `stated`: there is such a column, so where it is empty the name means what it says.

    >>> said_by("OH L", "", stated=False).side, said_by("Keys L/R", "", stated=False).side
    ('first', 'both')
    >>> said_by("Vox 1-3", "", stated=False).several
    ('Vox 1', 'Vox 2', 'Vox 3')
    """
    if stated or pair:
        return _stated(name, pair)
    if len(name) > _LONGEST:
        return Said(name=name, whole=name)
    both = _BOTH.match(name)
    if both:
        return Said(name=both["stem"].rstrip(" -_(["), whole=name, side="both")
    last = _LAST.match(name)
    if last:
        side, way = _side(last["side"])
        if side:
            return Said(name=last["stem"].rstrip(" -_(["), whole=name, side=side, way=way)
    run = _RUN.match(name)
    if run:
        first, end = int(run["first"]), int(run["last"])
        if 0 < first < end < first + _MOST_AT_ONCE:
            several = tuple(f"{run['stem']} {number}" for number in range(first, end + 1))
            return Said(name=name, whole=name, several=several)
    return Said(name=name, whole=name)


def _side(word: str) -> tuple[Side, Literal["", "ears", "stage"]]:
    plain = plain_words(word)
    if plain in words_of("left"):
        return "first", "ears"
    if plain in words_of("right"):
        return "second", "ears"
    if plain in words_of("stage_right"):
        return "first", "stage"
    return ("second", "stage") if plain in words_of("stage_left") else ("", "")


def is_side(word: str) -> bool:
    """Whether a cell of the column of pairs names one side."""
    return _side(word)[0] != ""


def _stated(name: str, pair: str) -> Said:
    """A pair by its own column: a side in each row, or a word that says that it is one."""
    if not pair:
        return Said(name=name, whole=name)
    side, way = _side(pair)
    if side:
        stem, _, end = name.rpartition(" ")
        same = stem and _side(end) == (side, way)
        return Said(name=stem if same else name, whole=name, side=side, way=way, pair_used=True)
    plain = plain_words(pair)
    if plain in {"stereo", "st", "l r", "lr"} | words_of("yes"):
        both = _BOTH.match(name) if len(name) <= _LONGEST else None
        stem = both["stem"].rstrip(" -_([") if both else name
        return Said(name=stem, whole=name, side="both", pair_used=True)
    mono = plain in {"mono", "m"} | words_of("no")
    return Said(name=name, whole=name, pair_used=mono)
