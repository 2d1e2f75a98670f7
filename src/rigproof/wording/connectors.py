"""Connectors as people say them. Names are those that the rig file uses: a family and a gender."""

from rigproof.wording.phrases import Language, phrase, subject

# Where pins or holes show, as XLR, people say male and female; else they say plug and socket.
_SEXED = frozenset({"xlr", "xlr4", "xlr5"})
# Named by their standard, gender and all: IEC 60320 counts plugs and sockets through.
_WHOLE = frozenset({"cee-7-3", "cee-7-7", "cee-7-16", "capsule", "air", "bare"})
# Letters whose names begin with a vowel: an XLR, but a USB. Longer words of capitals are spoken.
_VOWELS, _SPELLED = frozenset("aeiouAEIOU"), frozenset("AEFHILMNORSX")


def connector(name: str, language: Language = "en") -> str:
    """A connector in words, without an article; a name of no standard as it is.

    Derived: trade usage.

    >>> connector("xlr-m"), connector("jack-trs-f"), connector("iec-c13")
    ('XLR male', 'three-pole jack socket', 'IEC C13')
    >>> connector("jack-trs-f", "de")
    'Klinke dreipolig (Buchse)'
    """
    if name in _WHOLE:
        return phrase(language, f"connectors.{name}")
    if name.startswith("iec-"):
        return name.replace("-", " ").upper()
    family, _, gender = name.rpartition("-")
    if gender not in {"m", "f"} or f"connectors.{family}" not in subject("connectors"):
        return name
    ends = ("male", "female") if family in _SEXED else ("plug", "socket")
    end = ends[0] if gender == "m" else ends[1]
    return phrase(
        language, f"connectors.{end}", family=phrase(language, f"connectors.{family}")
    )


def a_connector(name: str) -> str:
    """A connector in English words with its article.

    Derived: English usage.

    >>> a_connector("xlr-f"), a_connector("usb-b-m"), a_connector("rca-f")
    ('an XLR female', 'a USB B plug', 'a phono socket')
    """
    words = connector(name)
    first = words.partition(" ")[0]
    spelled = first.isupper() and 1 < len(first) < 4
    sounds = words[:1] in _SPELLED if spelled else words[:1] in _VOWELS
    return f"{'an' if sounds else 'a'} {words}"
