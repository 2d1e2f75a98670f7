"""Texts that can be said again in another language: a sentence, and what stands in its places.

Where a rule or a plan speaks, nobody knows yet who will read it. It speaks English, and what it
says keeps how it was made; a paper in another language has it said again. The catalogue has such
sentences by their English, in files named after the module that says them: a sentence that it does
not have stays as it is.
"""

import json
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from rigproof.wording.phrases import Language, phrase, subject

if TYPE_CHECKING:
    from rigproof.wording.measures import Measures

FOLDER = Path(__file__).parent / "sentences"

DECIMAL_SIGN: Mapping[Language, str] = {"en": ".", "de": ","}
_OPENING = "{opening}"


class Told(str):
    """A text that knows its sentence and the values in it, and is its English meanwhile."""

    __slots__ = ("english", "values")
    english: str
    values: Mapping[str, object]

    def __add__(self, other: str) -> str:
        return sentence("{first}{second}", first=self, second=other)

    def __radd__(self, other: str) -> str:
        return sentence("{first}{second}", first=other, second=self)


class Keyed(str):
    """A text that the catalogue of phrases has under a key, in English meanwhile."""

    __slots__ = ("key",)
    key: str


class Figure(str):
    """A figure in letters, whose decimal sign is a matter of the language."""

    __slots__ = ()


def sentence(english: str, /, **values: object) -> str:
    """A sentence with its places filled; without values it may hold any braces.

    What was told already stays as it is.

    Derived: wording only.

    >>> said_in("de", sentence("{who} plays {number:.1f} dB too loud.", who="Ana", number=2.5))
    'Ana plays 2,5 dB too loud.'
    """
    if isinstance(english, Told):
        return english
    text = Told(english.format_map(values) if values else english)
    text.english = english
    text.values = values
    return text


def keyed(english: str, key: str) -> str:
    """A text with its key in the catalogue of phrases.

    Derived: wording only.

    >>> said_in("de", keyed("an XLR male", "connector.xlr-m"))
    'XLR männlich'
    """
    text = Keyed(english)
    text.key = key
    return text


def joined(by: str, texts: Iterable[str]) -> str:
    """Texts in a row, each of which may be said again.

    Derived: wording only.

    >>> joined("; ", ["one", "two"])
    'one; two'
    """
    row = list(texts)
    if len(row) < 2:
        return row[0] if row else ""
    names = [f"text{number}" for number in range(len(row))]
    return sentence(by.join(f"{{{name}}}" for name in names), **dict(zip(names, row, strict=True)))


def opening(text: str) -> str:
    """Words at the start of a sentence; names in them keep their own capitals.

    Derived: English usage.

    >>> opening("the mix Ana")
    'The mix Ana'
    """
    large = text[:1].upper() + text[1:]
    if not isinstance(text, Told):
        return large
    made = Told(large)
    made.english, made.values = _OPENING, {"opening": text}
    return made


def said_in(language: Language, text: str, measures: "Measures" = "metric") -> str:
    """A text in a language and in measures, as plain letters; what was not told so, as it is.

    Derived: wording only.

    >>> said_in("de", Figure("2.5")), said_in("de", "2.5")
    ('2,5', '2.5')
    """
    if isinstance(text, Figure):
        return text.replace(".", DECIMAL_SIGN[language])
    if language == "en" and measures == "metric":
        return str(text)
    if isinstance(text, Keyed):
        return _by_key(language, text) if language != "en" else str(text)
    if not isinstance(text, Told):
        return str(text)
    pattern = text.english
    if language != "en":
        pattern = sentences(language).get(pattern, pattern)
    # Loaded only here: English and metres, which is most of what is said, do without.
    if not text.values:
        if measures == "metric":
            return pattern
        from rigproof.wording.measures import written_imperial

        return written_imperial(pattern, DECIMAL_SIGN[language])
    from rigproof.wording.filling import filled

    said = filled(language, pattern, text.values, measures)
    return said[:1].upper() + said[1:] if pattern == _OPENING else said


def _by_key(language: Language, text: Keyed) -> str:
    """The phrase, or its part before a comma where only that was told; of somebody's own, it."""
    said = subject(text.key.partition(".")[0]).get(text.key)
    if said is None or str(said["en"]).partition(",")[0] not in text:
        return str(text)
    found = phrase(language, text.key)
    return found if "," in text else found.partition(",")[0]


@cache
def sentences(language: Language) -> Mapping[str, str]:
    """All sentences that the catalogue has in a language, by their English."""
    found: dict[str, str] = {}
    for path in sorted(FOLDER.glob("*.json")):
        for english, others in json.loads(path.read_bytes()).items():
            if language in others:
                found[english] = others[language]
    return found
