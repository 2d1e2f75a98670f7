"""Lists, plurals and quantities as people read them."""

from collections.abc import Iterable


def listed(words: Iterable[str], last: str = "and") -> str:
    """Words in a row as a sentence has them.

    Derived: English usage.

    >>> listed(["kick", "snare", "hat"])
    'kick, snare and hat'
    """
    row = list(words)
    if len(row) < 2:
        return "".join(row)
    return f"{', '.join(row[:-1])} {last} {row[-1]}"


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun.

    Derived: English usage.

    >>> counted(1, "finding"), counted(3, "box", "boxes")
    ('1 finding', '3 boxes')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


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
