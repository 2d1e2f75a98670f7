"""Connectors as people say them. Names are those that the rig file uses: a family and a gender."""

from rigproof.wording.phrases import Language, phrase, subject
from rigproof.wording.sentences import keyed

# Letters whose names begin with a vowel: an XLR, but a USB. Longer words of capitals are spoken.
_VOWELS, _SPELLED = frozenset("aeiouAEIOU"), frozenset("AEFHILMNORSX")


def connector(name: str, language: Language = "en") -> str:
    """A connector in words, without an article; a name of no standard as it is.

    Derived: trade usage. Where pins or holes show, as XLR, people say male and female; else they
    say plug and socket.

    >>> connector("xlr-m"), connector("jack-trs-f"), connector("iec-c13")
    ('XLR male', 'three-pole jack socket', 'IEC C13')
    """
    key = f"connector.{name}"
    return phrase(language, key) if key in subject("connector") else name


def a_connector(name: str) -> str:
    """A connector in words with its article; other languages say it without.

    Derived: English usage.

    >>> a_connector("xlr-f"), a_connector("usb-b-m"), a_connector("rca-f")
    ('an XLR female', 'a USB B plug', 'a phono socket')
    """
    words = connector(name)
    first = words.partition(" ")[0]
    spelled = first.isupper() and 1 < len(first) < 4
    sounds = words[:1] in _SPELLED if spelled else words[:1] in _VOWELS
    said = f"{'an' if sounds else 'a'} {words}"
    key = f"connector.{name}"
    return keyed(said, key) if key in subject("connector") else said
