"""Lists, plurals and quantities as people read them."""

import re
from collections.abc import Iterable

from rigproof.wording.sentences import Figure, joined, sentence
from rigproof.wording.sentences import opening as opening

_FEW = 6  # names in one sentence
_NUMBER = re.compile(r"\d+")


def listed(words: Iterable[str], last: str = "and") -> str:
    """Words in a row as a sentence has them.

    Derived: English usage.

    >>> listed(["kick", "snare", "hat"])
    'kick, snare and hat'
    """
    row = list(words)
    if len(row) < 2:
        return joined("", row)
    return sentence(f"{{names}} {last} {{last}}", names=joined(", ", row[:-1]), last=row[-1])


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun.

    Derived: English usage.

    >>> counted(1, "finding"), counted(3, "box", "boxes")
    ('1 finding', '3 boxes')
    """
    return sentence(f"{{n}} {noun(number, one, many)}", n=number)


def noun(number: int, one: str, many: str = "") -> str:
    """The noun that goes with a number, without the number.

    Derived: English usage.

    >>> noun(1, "source"), noun(2, "person", "people")
    ('source', 'people')
    """
    return sentence(one if number == 1 else many or one + "s")


def in_order(words: Iterable[str]) -> list[str]:
    """Words by the alphabet, and the numbers in them as one counts.

    Derived: English usage.

    >>> in_order(["in.10", "in.2", "amp"])
    ['amp', 'in.2', 'in.10']
    """
    return sorted(words, key=lambda word: [_NUMBER.sub(_wide, word), word])


def _wide(digits: re.Match[str]) -> str:
    return digits[0].rjust(20, "0")


def some(names: Iterable[str]) -> str:
    """Names in a row, each once; the rest of a long row only counted.

    Derived: English usage; more than six names in one sentence and nobody reads to its end.

    >>> some("abcdefgh")
    'a, b, c, d, e and 3 more'
    """
    row = list(dict.fromkeys(names))
    if len(row) <= _FEW:
        return listed(row)
    return sentence(
        "{names} and {count} more", names=joined(", ", row[: _FEW - 1]), count=len(row) - _FEW + 1
    )


def rounded(value: float, *, unlike: float | None = None) -> str:
    """A figure to one decimal, or to as many as tell it from another that stands beside it.

    Derived: wording only.

    >>> rounded(812.345), rounded(12.4), rounded(100.04, unlike=100)
    ('812.3', '12.4', '100.04')
    """
    for decimals in (1, 2, 3, 4):
        text = _plain(value, decimals)
        if unlike is None or value == unlike or text != _plain(unlike, decimals):
            break
    return Figure(text)


def give_or_take(value: float | None, off: float) -> str:
    """A figure to a tenth and how far off it likely is, either way; unknown as a question mark.

    Derived: the usual way to write a width.

    >>> give_or_take(3.72, 4.06), give_or_take(None, 0)
    ('3.7 ±4.1', '?')
    """
    return "?" if value is None else f"{value:.1f} ±{off:.1f}"


def _plain(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def ranges(numbers: Iterable[int]) -> str:
    """Numbers as runs, the way socket rows are read out.

    Derived: English usage.

    >>> ranges([1, 2, 3, 7, 9, 10])
    '1-3, 7, 9-10'
    """
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(str(low) if low == high else f"{low}-{high}" for low, high in runs)
