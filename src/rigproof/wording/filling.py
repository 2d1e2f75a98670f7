"""Fills the places of a sentence in another language or other measures than it was told in."""

from collections.abc import Mapping
from string import Formatter

from rigproof.wording.measures import Measures, imperial
from rigproof.wording.phrases import Language
from rigproof.wording.sentences import DECIMAL_SIGN, said_in


def filled(
    language: Language,
    pattern: str,
    values: Mapping[str, object],
    measures: Measures = "metric",
) -> str:
    """A sentence with its places filled: texts said in its language, figures with its sign.

    Derived: wording only.

    >>> filled("de", "{level_db:.1f} dB", {"level_db": 2.5})
    '2,5 dB'
    >>> filled("de", "{length_m:g} m", {"length_m": 10}, "imperial")
    '32,8 ft'
    """
    if measures == "imperial":
        pattern, values = imperial(pattern, values, DECIMAL_SIGN[language])
    return _Filler(language, measures).vformat(pattern, (), values)


class _Filler(Formatter):
    def __init__(self, language: Language, measures: Measures) -> None:
        self.language: Language = language
        self.measures: Measures = measures

    def format_field(self, value: object, format_spec: str) -> str:
        if isinstance(value, str):
            return said_in(self.language, value, self.measures)
        text = format(value, format_spec)
        return text.replace(".", DECIMAL_SIGN[self.language]) if isinstance(value, float) else text
