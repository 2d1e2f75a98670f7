"""From the words for a microphone or DI to a type of the gear library, where they name one.

Only a type's own name, in any language, or plain words such as "DI" or "condenser" are taken;
anything else, a maker's name above all, stays a note: nobody can tell what it is.
"""

from collections.abc import Mapping
from functools import cache

from rigproof.rigfile.intake.vocabulary import plain_words
from rigproof.rigfile.library import library_type, type_ids
from rigproof.wording.phrases import LANGUAGES, subject

_PLAIN: Mapping[str, str] = {
    "di": "di-passive",
    "di box": "di-passive",
    "passive di": "di-passive",
    "di passive": "di-passive",
    "di passiv": "di-passive",
    "passive di box": "di-passive",
    "active di": "di-active",
    "di active": "di-active",
    "aktive di": "di-active",
    "di aktiv": "di-active",
    "active di box": "di-active",
    "stereo di": "di-passive-stereo",
    "di stereo": "di-passive-stereo",
    "2 di": "di-passive-stereo",
    "2x di": "di-passive-stereo",
    "dynamic": "mic-instrument-dynamic",
    "dyn": "mic-instrument-dynamic",
    "dynamisch": "mic-instrument-dynamic",
    "condenser": "mic-small-condenser",
    "cond": "mic-small-condenser",
    "kondensator": "mic-small-condenser",
}


@cache
def _named() -> Mapping[str, str]:
    """Plain words -> type, for microphones and DI boxes of the library."""
    found: dict[str, str] = {}
    said = subject("types")
    for name in type_ids():
        if not name.startswith(("mic-", "di-")):
            continue
        names = [name, library_type(name).name]
        for language in LANGUAGES:
            words = said.get(f"types.{name}", {}).get(language, "")
            names += [words] if isinstance(words, str) else []
        for words in names:
            found.setdefault(_short(words), name)
    return found


def _short(words: str) -> str:
    return plain_words(words).replace("microphone", "mic").removeprefix("own ")


def type_of(words: str) -> str | None:
    """The type that these words name, or none.

    >>> type_of("DI"), type_of("Kick drum mic, dynamic, large"), type_of("the blue one")
    ('di-passive', 'mic-kick-dynamic', None)
    """
    short = _short(words)
    return _named().get(short) or (_PLAIN.get(short) if _PLAIN.get(short) in type_ids() else None)
