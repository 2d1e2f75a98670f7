"""Every connector of the model has words, no two the same, and each article is the right one."""

import pytest

from rigproof.rig.connectors import CONNECTORS
from rigproof.wording.connectors import a_connector, connector
from rigproof.wording.phrases import LANGUAGES, Language


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_connector_has_words_of_its_own(language: Language) -> None:
    told = {name: connector(name, language) for name in CONNECTORS}
    assert len(set(told.values())) == len(told)
    assert [name for name, words in told.items() if words == name] == []
    assert [words for words in told.values() if words.endswith((" m", " f"))] == []


@pytest.mark.published("English usage: the article goes by the sound, not the letter; from memory")
@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("xlr-m", "an XLR male"),
        ("xlr4-f", "a four-pin XLR female"),
        ("antenna-f", "an antenna socket"),
        ("usb-c-m", "a USB C plug"),
        ("nema-5-15-m", "a NEMA 5-15 mains plug"),
        ("iec-c13", "an IEC C13"),
        ("dc-m", "a DC supply plug"),
        ("toslink-m", "an optical audio plug"),
        ("bs-1363-f", "a BS 1363 mains socket"),
    ],
)
def test_articles(name: str, words: str) -> None:
    assert a_connector(name) == words
