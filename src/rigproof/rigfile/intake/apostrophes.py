"""The apostrophe that keeps a spreadsheet from taking a text for a formula, put on and taken off.

Source: the signs are those that the public advice on formula injection into CSV lists; that
spreadsheets show a text behind a leading apostrophe is common practice.
"""

import re

# = + - @ and their wide forms; tab and line ends as well where they begin a field.
_SIGNS = r"=+\-@\uff1d\uff0b\uff0d\uff20"
# A field begins at the start of a text, and for a reader who splits elsewhere also behind these.
_BEGINS = r'(?:^|(?<=[;\t|"\r\n]))'
_DANGER = re.compile(rf"{_BEGINS}(?='*[{_SIGNS}])|^(?='*[\t\r\n])")
_GUARDED = re.compile(rf"{_BEGINS}'(?='*[{_SIGNS}])|^'(?='*[\t\r\n])")


def defused(text: str) -> str:
    """A text that no spreadsheet takes for a formula.

    >>> defused("=1+1"), defused("'=x"), defused("Kick"), defused("a;-b")
    ("'=1+1", "''=x", 'Kick', "a;'-b")
    """
    return _DANGER.sub("'", text)


def restored(text: str) -> str:
    """The text that `defused` was given.

    >>> restored("'=1+1"), restored("'n' roll")
    ('=1+1', "'n' roll")
    """
    return _GUARDED.sub("", text)
