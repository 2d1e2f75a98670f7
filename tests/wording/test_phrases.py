"""The catalogue of phrases: every language says the same, and each phrase is asked for."""

import re
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest

import rigproof
from rigproof.wording.phrases import LANGUAGES, Said, phrase, subject, subjects

SOURCE = Path(rigproof.__file__).parent
KEYS = [(name, key) for name in subjects() for key in subject(name)]
ASKED = re.compile(r"""["']((?:[a-z0-9-]|\{[^"'{}]*\})+\.(?:[a-z0-9_-]|\{[^"'{}]*\})+)["']""")


def forms(said: Said) -> list[str]:
    return [said] if isinstance(said, str) else said


def places(said: Said) -> set[str]:
    return {name for form in forms(said) for _, name, _, _ in Formatter().parse(form) if name}


@pytest.mark.parametrize(("name", "key"), KEYS)
def test_every_language_says_it_with_the_same_places(name: str, key: str) -> None:
    languages = subject(name)[key]
    assert key.partition(".")[0] == name
    assert tuple(languages) == LANGUAGES
    assert len({frozenset(places(said)) for said in languages.values()}) == 1
    for said in languages.values():
        assert all(form.strip() == form and form for form in forms(said))
        if not isinstance(said, str):
            assert len(said) == 2  # told apart by `n`, whether that is said or not


def asked_for() -> Iterator[re.Pattern[str]]:
    """The keys in the program's texts; what stands in braces may be anything.

    A text of nothing but braces and a full stop names a socket or a file, and would fit any key.
    """
    for path in SOURCE.rglob("*.py"):
        for key in ASKED.findall(path.read_text(encoding="utf-8")):
            literal = re.split(r"\{[^}]*\}", key)
            if not any(map(str.isalpha, "".join(literal))):
                continue
            yield re.compile("[a-z0-9_-]+".join(map(re.escape, literal)))


def test_nothing_is_said_in_vain() -> None:
    asked = list(asked_for())
    unused = [key for _, key in KEYS if not any(one.fullmatch(key) for one in asked)]
    assert unused == []


@pytest.mark.parametrize("braces", ["{0}", "{name}", "{", "}}", "{name.__class__}"])
def test_braces_in_a_name_are_letters(braces: str) -> None:
    said = phrase("en", "line-check.title_at", where=braces)
    assert said == f"Line check: {braces}"


def test_one_and_many() -> None:
    one, many = (phrase("de", "line-check.takes", n=n, low="0", high="1") for n in (1, 2))
    assert one.startswith("1 Leitung zu")
    assert many.startswith("2 Leitungen zu")
