"""What paper cannot hold: names too long for a line, letters that no shipped font has.

Both are put right before the pages are set, and both are told: a name that was cut or that shows
boxes is a mistake on stage unless somebody hears of it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rigproof.showbook.glyphs import unprintable

# Longest text by the key it stands under; a line of a table holds no more, and the rest of a text
# of this length is never what somebody looks for.
_SHORT = 72
_LONG: Mapping[str, int] = {
    "says": 600,
    "fix": 400,
    "way": 600,
    "because": 400,
    "note": 220,
    "text": 600,
    "names": 400,
    "alt": 2000,
    "caption": 400,
    "notes": 400,
    "key": 200,
    "sentence": 200,
}
_DRAWN = frozenset({"svg"})  # whoever draws cuts its own names


@dataclass(frozen=True, slots=True)
class Unprintable:
    """A text with letters that come out as boxes, and what those letters are."""

    text: str
    characters: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Cut:
    """A text that was too long for its place."""

    begins: str
    characters: int


@dataclass(frozen=True, slots=True)
class Fitted:
    """Page data that paper can hold, and what had to be done for it."""

    data: object
    cut: tuple[Cut, ...]
    unprintable: tuple[Unprintable, ...]


def fitted(data: object) -> Fitted:
    """Cut what is too long, and note what cannot be printed, each text once."""
    cuts: dict[str, Cut] = {}
    boxes: dict[str, Unprintable] = {}
    return Fitted(_fit(data, "", cuts, boxes), tuple(cuts.values()), tuple(boxes.values()))


def _fit(value: object, key: str, cuts: dict[str, Cut], boxes: dict[str, Unprintable]) -> object:
    if isinstance(value, str):
        return value if key in _DRAWN else _text(value, key, cuts, boxes)
    if isinstance(value, Mapping):
        return {name: _fit(one, name, cuts, boxes) for name, one in value.items()}
    if isinstance(value, Sequence):
        return [_fit(one, key, cuts, boxes) for one in value]
    return value


def _text(text: str, key: str, cuts: dict[str, Cut], boxes: dict[str, Unprintable]) -> str:
    most = _LONG.get(key, _SHORT)
    if len(text) > most:
        cuts.setdefault(text, Cut(text[:40], len(text)))
        text = text[: most - 1].rstrip() + "…"
    if not text.isascii() and (missing := unprintable(text)):
        boxes.setdefault(text, Unprintable(text, missing))
    return text
