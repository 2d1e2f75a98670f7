"""Fills the places of a sentence in a language other than the one it was told in."""

from collections.abc import Mapping
from string import Formatter

from rigproof.wording.phrases import Language
from rigproof.wording.sentences import DECIMAL_SIGN, said_in


def filled(language: Language, pattern: str, values: Mapping[str, object]) -> str:
    """A sentence with its places filled: texts said in its language, figures with its sign.

    Derived: wording only.

    >>> filled("de", "{level_db:.1f} dB", {"level_db": 2.5})
    '2,5 dB'
    """
    return _Filler(language).vformat(pattern, (), values)


class _Filler(Formatter):
    def __init__(self, language: Language) -> None:
        self.language: Language = language

    def format_field(self, value: object, format_spec: str) -> str:
        if isinstance(value, str):
            return said_in(self.language, value)
        text = format(value, format_spec)
        return text.replace(".", DECIMAL_SIGN[self.language]) if isinstance(value, float) else text
