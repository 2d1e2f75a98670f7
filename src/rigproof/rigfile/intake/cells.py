"""A sheet of cells as it was found: what stands where, and what is odd about it."""

from collections.abc import Mapping
from typing import TypeAlias

import msgspec

Place: TypeAlias = tuple[int, int]  # row and column, both from 1
Value: TypeAlias = str | int | float | bool
Area: TypeAlias = tuple[int, int, int, int]  # first row and column, last row and column

# More is no input list, and a hostile file must not cost hours.
MOST_ROWS, MOST_COLUMNS, MOST_CELLS = 20_000, 256, 400_000


class Unreadable(ValueError):
    """A file that is no table we can read: what is wrong, and what to do."""

    def __init__(self, says: str, fix: str) -> None:
        super().__init__(says)
        self.says = says
        self.fix = fix


class Grid(msgspec.Struct, frozen=True, kw_only=True):
    """One sheet. `cells` holds what is not empty; texts are as they stand, spaces and all.

    `reckoned`: formulas behind cells; where no value is stored, the cell holds the formula.
    `unstored`: those of them. `remarks`: what a person should know about how it was read.
    """

    name: str
    cells: Mapping[Place, Value]
    merged: tuple[Area, ...] = ()
    hidden_rows: frozenset[int] = frozenset()
    hidden: bool = False
    reckoned: frozenset[Place] = frozenset()
    unstored: frozenset[Place] = frozenset()
    remarks: tuple[str, ...] = ()

    @property
    def rows(self) -> tuple[int, ...]:
        """The rows that hold anything, from the top."""
        return tuple(sorted({row for row, _ in self.cells}))

    @property
    def columns(self) -> tuple[int, ...]:
        """The columns that hold anything, from the left."""
        return tuple(sorted({column for _, column in self.cells}))


def letters(column: int) -> str:
    """The name of a column.

    >>> letters(1), letters(28)
    ('A', 'AB')
    """
    name = ""
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def column_of(name: str) -> int | None:
    """The column that such a name means, or none.

    >>> column_of("ab"), column_of("A1")
    (28, None)
    """
    if not (name.isascii() and name.isalpha() and len(name) <= 3):
        return None
    number = 0
    for letter in name.upper():
        number = number * 26 + ord(letter) - ord("A") + 1
    return number


def at(place: Place) -> str:
    """The name of a cell.

    >>> at((7, 3))
    'C7'
    """
    return f"{letters(place[1])}{place[0]}"


def shown(value: Value) -> str:
    """A value as its cell shows it.

    >>> shown(7.0), shown(True), shown(2.5)
    ('7', 'TRUE', '2.5')
    """
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    return str(value)


def area_of(text: str) -> Area | None:
    """The area that a reference such as B2:D5 means, or none."""
    first, _, last = text.replace("$", "").partition(":")
    one, other = place_of(first), place_of(last or first)
    return (*one, *other) if one and other else None


def place_of(text: str) -> Place | None:
    """The place that a cell's name means, or none."""
    name = text.rstrip("0123456789")
    column, digits = column_of(name), text[len(name) :]
    if column is None or not digits or len(digits) > 7:
        return None
    return int(digits), column
