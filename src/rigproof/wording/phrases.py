"""The one catalogue of what papers say, with all languages side by side.

A phrase is asked for by its key, `subject.what`; the files are named after the subjects. A phrase
may hold places for names and figures, in braces, and it may come as two: for one, and for any
other number, told apart by the value `n`.
"""

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Literal, get_args

Language = Literal["en", "de"]
LANGUAGES: tuple[Language, ...] = get_args(Language)
FOLDER = Path(__file__).parent / "phrases"

Said = str | list[str]


def phrase(language: Language, key: str, /, **values: object) -> str:
    """A phrase of the catalogue in a language, its places filled.

    Values are put in as they are, and braces in them are nothing special.
    Derived: wording only.

    Raises:
        KeyError: the catalogue has no such phrase, or a value for one of its places is missing.

    >>> phrase("de", "paper.page_of", page=2, pages=7)
    'Seite 2 von 7'
    """
    said = subject(key.partition(".")[0])[key][language]
    if not isinstance(said, str):
        said = said[0 if values["n"] == 1 else 1]
    return said.format_map(values) if values else said


@cache
def subject(name: str) -> Mapping[str, Mapping[str, Said]]:
    """All phrases of one subject: key -> language -> what is said."""
    found: dict[str, dict[str, Said]] = json.loads((FOLDER / f"{name}.json").read_bytes())
    return found


def subjects() -> tuple[str, ...]:
    """The subjects that the catalogue has."""
    return tuple(sorted(path.stem for path in FOLDER.glob("*.json")))
