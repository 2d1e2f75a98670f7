"""Colours that stand for numbers, and the letters that stand for colours."""

from collections.abc import Iterable

DIGIT_COLOURS = (
    "black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white",
)  # fmt: skip

_LETTERS = {
    "black": "BK", "brown": "BN", "red": "RD", "orange": "OG", "yellow": "YE",
    "green": "GN", "blue": "BU", "violet": "VT", "grey": "GY", "white": "WH",
    "pink": "PK", "gold": "GD", "turquoise": "TQ", "silver": "SR",
}  # fmt: skip


def number_colours(number: str) -> tuple[str, ...]:
    """The rings that stand for a number, one for each digit written.

    Source: IEC 60062 digit colours; their use on cables is a habit, common practice.

    >>> number_colours("27")
    ('red', 'violet')
    """
    return tuple(DIGIT_COLOURS[int(digit)] for digit in number)


def colour_letters(*colours: str) -> str:
    """The letter code of a core: one colour, or several on the same core.

    Source: IEC 60757.

    >>> colour_letters("red"), colour_letters("green", "yellow")
    ('RD', 'GNYE')
    """
    return "".join(_LETTERS[colour] for colour in colours)


def core_letters(cores: Iterable[tuple[str, ...]]) -> str:
    """The cores of a cable, joined as the standard prints them.

    Source: IEC 60757, examples.

    >>> core_letters([("brown",), ("blue",), ("green", "yellow")])
    'BN+BU+GNYE'
    """
    return "+".join(colour_letters(*core) for core in cores)
