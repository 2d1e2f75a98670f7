"""The words that people put into input lists, in English and German, and what they mean.

Common practice, no source. Our own headings, in every language, are among them.
"""

import json
import re
import unicodedata
from collections.abc import Mapping, Sequence
from functools import cache, lru_cache
from pathlib import Path
from typing import Literal, get_args

from rigproof.rig.band import Family
from rigproof.wording.phrases import LANGUAGES, phrase

Field = Literal[
    "number",
    "source",
    "pair",
    "label",
    "player",
    "mic",
    "whose",
    "phantom",
    "stand",
    "line",
    "socket",
    "alternative",
    "note",
]
FIELDS: tuple[Field, ...] = get_args(Field)


@cache
def _read() -> Mapping[str, object]:
    path = Path(__file__).with_name("vocabulary.json")
    found: Mapping[str, object] = json.loads(path.read_text(encoding="utf-8"))
    return found


@lru_cache(maxsize=4096)
def plain_words(text: str) -> str:
    """A heading or a name without capitals, signs and doubled spaces.

    >>> plain_words("  Mic. / DI:  "), plain_words("Kanal-Nr.")
    ('mic di', 'kanal nr')
    """
    folded = unicodedata.normalize("NFKC", text[:200]).casefold()
    return " ".join(re.sub(r"[^\w#+]+", " ", folded).replace("_", " ").replace("+", " ").split())


@cache
def headings() -> Mapping[str, Field]:
    """Plain words -> the field that a column under exactly these words holds."""
    found: dict[str, Field] = {}
    stated = _read()["headings"]
    assert isinstance(stated, dict)
    for field in FIELDS:
        own = [plain_words(phrase(language, f"exchange.{field}")) for language in LANGUAGES]
        for words in (*own, *stated[field]):
            found.setdefault(words, field)
    return found


@cache
def words_of(kind: str) -> frozenset[str]:
    """The words of one kind: either, other, free, yes, no, never, left, right and the like."""
    stated = _read()[kind]
    assert isinstance(stated, list)
    return frozenset(stated)


def owner_of(text: str) -> str | None:
    """Who brings a thing: band, house or guest; none where the words say something else.

    >>> owner_of("Haus"), owner_of("Jo's cousin")
    ('house', None)
    """
    words = plain_words(text)
    for owner, kind in (("band", "own"), ("house", "house"), ("guest", "guest")):
        if words in words_of(kind):
            return owner
    return None


@cache
def _families() -> Sequence[tuple[str, Family]]:
    stated = _read()["families"]
    assert isinstance(stated, dict)
    pairs = [(word, family) for family, words in stated.items() for word in words]
    # The longest words first: a bass drum is no bass.
    return sorted(pairs, key=lambda pair: (-len(pair[0]), pair[0]))


@lru_cache(maxsize=4096)
def family_of(name: str) -> Family | None:
    """What kind of sound a name means, if its words tell.

    >>> family_of("Bass drum in"), family_of("E-Git Jo"), family_of("Thing 3")
    ('drums', 'guitar', None)
    """
    words = f" {re.sub(r'[0-9]+', ' ', plain_words(name))} "
    words = f" {' '.join(words.split())} "
    return next((family for word, family in _families() if f" {word} " in words), None)
