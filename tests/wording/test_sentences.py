"""What is said before its reader is known: every sentence is in the catalogue, and fits it."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest

from rigproof.wording.phrases import LANGUAGES
from rigproof.wording.sentences import FOLDER, Figure, keyed, said_in, sentence, sentences
from tests.wording.said import SOURCE, all_sentences, texts

FILES = sorted(FOLDER.glob("*.json"))
OTHERS = [language for language in LANGUAGES if language != "en"]
# What still speaks English in every language. A new rule may stand here; the list only shrinks.
WITHOUT_GERMAN: frozenset[str] = frozenset()


def entries() -> Iterator[tuple[str, str, dict[str, str]]]:
    for path in FILES:
        for english, others in json.loads(path.read_text(encoding="utf-8")).items():
            yield path.stem, english, others


def places(text: str) -> set[str]:
    """The places of a sentence; none where it holds braces of a rig file."""
    try:
        return {name for _, name, _, _ in Formatter().parse(text) if name}
    except ValueError:
        return set()


def test_all_that_is_said_has_its_german() -> None:
    german = sentences("de")
    said = {english for module in all_sentences().values() for english in module}
    assert said - german.keys() == WITHOUT_GERMAN


def test_other_languages_fill_no_place_that_english_lacks() -> None:
    for name, english, others in entries():
        assert list(others) == OTHERS, (name, english)
        for said in others.values():
            assert places(said) <= places(english), (name, english)
            assert said.strip(), (name, english)
            # An end that joins the next sentence joins it in every language.
            assert said.endswith(" ") == english.endswith(" "), (name, english)


def test_no_sentence_stands_twice() -> None:
    found = [english for _, english, _ in entries()]
    assert sorted(found) == sorted(set(found))


def test_nothing_is_in_the_catalogue_that_nobody_says() -> None:
    """Some are chosen by a name: those stand in the text of a module, whole or in pieces."""
    said = {english for module in all_sentences().values() for english in module}
    said |= {"{names} and {last}", "the patch", "the ears"}  # put together from parts
    said |= {"stage link", "personal-mixer feed"}  # as the gear library calls its protocols
    text = re.sub(r'"\s+f?"', "", "\n".join(texts().values()))
    unsaid = [e for _, e, _ in entries() if e not in said and f'"{e}"' not in text]
    assert unsaid == []


@pytest.mark.parametrize("braces", ["{0}", "{name}", "{", "}}", "{name.__class__}"])
def test_braces_in_a_name_are_letters(braces: str) -> None:
    told = sentence("{who}, wedge", who=braces)
    assert told == f"{braces}, wedge"
    assert said_in("de", told) == f"{braces}, Bodenmonitor"


def test_a_text_of_the_user_is_said_as_it_is() -> None:
    """Even where it is a word that the catalogue knows."""
    assert said_in("de", "left") == "left"
    assert said_in("de", sentence("left")) == "links"
    assert said_in("de", sentence("{who}, wedge", who="left")) == "left, Bodenmonitor"


def test_texts_within_texts_are_said_again_too() -> None:
    place = sentence("the house, line {numbers}", numbers=Figure("3.5"))
    told = sentence("{bank} receiving", bank=place) + "; " + keyed("an XLR male", "connector.xlr-m")
    assert told == "the house, line 3.5 receiving; an XLR male"
    assert said_in("de", told) == "Haus, Leitung 3,5 Empfang; XLR männlich"
    assert said_in("en", told) == told
    assert type(said_in("en", told)) is str


def test_a_sentence_nobody_has_put_into_german_stays() -> None:
    assert said_in("de", sentence("{n:.1f} unheard-of things", n=1.5)) == "1,5 unheard-of things"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_file_is_named_after_what_says_it(path: Path) -> None:
    """So that whoever changes a sentence finds its other languages."""
    module = path.stem.replace("-", "/")
    assert (SOURCE / f"{module}.py").exists() or (SOURCE / module / "__init__.py").exists()
