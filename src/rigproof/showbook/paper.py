"""What paper cannot hold: names too long for a line, letters that no shipped font has.

Both are put right before the pages are set, and both are told: a name that was cut or that shows
boxes is a mistake on stage unless somebody hears of it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from rigproof.showbook.glyphs import unprintable

# Longest text by the key it stands under: what its place holds in a few lines.
_SHORT = 72
_NAMES: Mapping[str, int] = {"player": 28, "label": 24, "source": 56, "running": 40, "groups": 100}
_LONG: Mapping[str, int] = {
    "says": 500,
    "lead": 400,
    "fix": 400,
    "way": 600,
    "because": 400,
    "note": 220,
    "text": 500,
    "said": 1600,  # lists of line numbers, of which none may be missing
    "names": 400,
    "alt": 2000,
    "caption": 400,
    "notes": 400,
    "key": 200,
    "sentence": 200,
    "also": 600,  # whose ears change
    "gone": 900,  # sockets that stay free on a night, of which none may be missing
}
_DRAWN = frozenset({"svg"})  # whoever draws cuts its own names
_OURS = "words"  # phrases of the catalogue, with no name of a user in them


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


class Noticed(NamedTuple):
    """What was noticed in some of the data, by text: names, and the sentences that repeat them."""

    cuts: dict[str, Cut]
    boxes: dict[str, Unprintable]
    cuts_in_sentences: dict[str, Cut]
    boxes_in_sentences: dict[str, Unprintable]


def fitted(data: object) -> Fitted:
    """Cut what is too long, and note what cannot be printed, each text once."""
    made, noticed = fit(data)
    return Fitted(made, *told([noticed]))


def fit(data: object) -> tuple[object, Noticed]:
    """The same for a part of what is printed; `told` says what was noticed in all of them."""
    found = Noticed({}, {}, {}, {})
    return _fit(data, "", found), found


def told(parts: Iterable[Noticed]) -> tuple[tuple[Cut, ...], tuple[Unprintable, ...]]:
    """What to tell of some parts, each text once.

    Sentences repeat the names in them: they are only named where no name tells the same.
    """
    found = Noticed({}, {}, {}, {})
    for part in parts:
        # What was noticed again stays where it was noticed first.
        found.cuts.update(part.cuts)
        found.boxes.update(part.boxes)
        found.cuts_in_sentences.update(part.cuts_in_sentences)
        found.boxes_in_sentences.update(part.boxes_in_sentences)
    letters = {letter for one in found.boxes.values() for letter in one.characters}
    boxes = {
        text: one
        for text, one in found.boxes_in_sentences.items()
        if not letters.issuperset(one.characters)
    }
    return (
        tuple((found.cuts or found.cuts_in_sentences).values()),
        (*found.boxes.values(), *boxes.values()),
    )


# The plain ones first: to ask for the others takes as long as all the rest.
_MAPPINGS, _SEQUENCES = (dict, Mapping), (list, tuple, Sequence)


def _fit(value: object, key: str, found: Noticed) -> object:
    if isinstance(value, str):
        return value if key in _DRAWN else _text(value, key, found)
    if value is None or isinstance(value, bool | float | int):
        return value
    if isinstance(value, _MAPPINGS):
        if key == _OURS:
            return value
        return {name: _fit(one, name, found) for name, one in value.items()}
    if isinstance(value, _SEQUENCES):
        return [_fit(one, key, found) for one in value]
    return value


def _text(text: str, key: str, found: Noticed) -> str:
    sentence = key in _LONG
    most = _LONG[key] if sentence else _NAMES.get(key, _SHORT)
    if len(text) > most:
        cuts = found.cuts_in_sentences if sentence else found.cuts
        cuts.setdefault(text, Cut(text[:40], len(text)))
        text = _cut(text, most)
    if not text.isascii() and (missing := unprintable(text)):
        boxes = found.boxes_in_sentences if sentence else found.boxes
        boxes.setdefault(text, Unprintable(text, missing))
    return text


def _cut(text: str, most: int) -> str:
    """Left and right of a pair stay apart: a short last word is kept."""
    last = text[-4:].rpartition(" ")
    end = f" {last[2]}" if last[1] and len(last[2]) < 3 else ""
    return f"{text[: most - 1 - len(end)].rstrip()}…{end}"
