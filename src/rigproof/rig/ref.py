"""How a rig file names a socket, an inner stage, or a run of them.

`gear.bank`, then the number within the bank where it has several, `rx` or `tx` where one
connector carries both ways, and the lane where one connector carries several signals:
`mixer.in.3`, `split.iso.1-8`, `stage-box.link.tx.1-16`, `insert.pair.2.1`, `house.1-8`.
"""

import re
from collections.abc import Iterator
from typing import Any, ClassVar, Literal, Self

LONGEST = 160  # two words of an identifier's length and three ranges

Way = Literal["rx", "tx"]
HOUSE = "house"  # the far end of the tails: where the band's responsibility ends

_NUMBERS = r"[1-9][0-9]{0,3}(?:-[1-9][0-9]{0,3})?"
_WORD = r"[a-z0-9][a-z0-9-]*"
_INNER = rf"{_WORD}(?:\.{_NUMBERS})?(?:\.(?:rx|tx))?(?:\.{_NUMBERS})?"
# A dollar sign alone would let a last line break through.
PORT_PATTERN = rf"^(?:house\.{_NUMBERS}|(?!house\.){_WORD}\.{_INNER})$(?!\n)"
BANK_PATTERN = rf"^{_INNER}$(?!\n)"
_NUMBERS_ONLY = re.compile(rf"^{_NUMBERS}$(?!\n)")

Range = tuple[int, int]


def _range(text: str) -> Range:
    first, _, last = text.partition("-")
    low, high = int(first), int(last or first)
    if high < low:
        raise ValueError(f"a range that runs upwards: {high}-{low}")
    return low, high


class BankRef(str):
    """A run of lanes inside one gear type: `in`, `in.1-8`, `link.rx.1-16`."""

    __slots__ = ("bank", "lanes", "numbers", "way")

    pattern: ClassVar[str] = BANK_PATTERN
    expects: ClassVar[str] = "a bank of this type, such as in or in.1-8 or link.rx.1-16"

    bank: str
    numbers: Range | None
    way: Way | None
    lanes: Range | None

    def __new__(cls, text: str) -> Self:
        self = super().__new__(cls, text)
        self._read(text.split("."))
        return self

    def _read(self, parts: list[str]) -> None:
        self.bank, self.numbers, self.way, self.lanes = parts[0], None, None, None
        for part in parts[1:]:
            if part == "rx" or part == "tx":
                self.way = part  # type: ignore[assignment]
            elif self.numbers is None and self.way is None:
                self.numbers = _range(part)
            else:
                self.lanes = _range(part)

    def __reduce__(self) -> tuple[Any, ...]:
        return (type(self), (str(self),))

    @classmethod
    def stated(cls, value: object) -> Self:
        """The reference a file states.

        Raises:
            ValueError: saying what is expected.
        """
        if not isinstance(value, str) or len(value) > LONGEST or not re.match(cls.pattern, value):
            raise ValueError(cls.expects)
        return cls(value)

    @classmethod
    def schema(cls) -> dict[str, Any]:
        return {"type": "string", "maxLength": LONGEST, "pattern": cls.pattern}


class PortRef(BankRef):
    """A run of lanes of one piece of gear in the rig, or of the house's ends of the tails."""

    __slots__ = ("gear",)

    pattern: ClassVar[str] = PORT_PATTERN
    expects: ClassVar[str] = "a socket, such as split.in.3 or mixer.out.1-2"

    gear: str

    def _read(self, parts: list[str]) -> None:
        self.gear = parts[0]
        # The house has one unnamed bank: the numbered ends of the tails.
        super()._read(["", *parts[1:]] if self.gear == HOUSE else parts[1:])


class Numbers:
    """Channel, bus or slot numbers as people write them: `7` or `7-8`.

    No dataclass: the reader would take that for a map of keys.
    """

    __slots__ = ("first", "last")

    def __init__(self, first: int, last: int) -> None:
        self.first = first
        self.last = last

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Numbers) and (self.first, self.last) == (other.first, other.last)

    def __hash__(self) -> int:
        return hash((self.first, self.last))

    def __repr__(self) -> str:
        return f"Numbers({self.first}, {self.last})"

    def __iter__(self) -> Iterator[int]:
        return iter(range(self.first, self.last + 1))

    def __len__(self) -> int:
        return self.last - self.first + 1

    def __str__(self) -> str:
        return str(self.first) if self.first == self.last else f"{self.first}-{self.last}"

    @classmethod
    def stated(cls, value: object) -> Self:
        """The numbers a file states.

        Raises:
            ValueError: saying what is expected.
        """
        if isinstance(value, int) and not isinstance(value, bool) and 0 < value < 10_000:
            return cls(value, value)
        if not isinstance(value, str) or not _NUMBERS_ONLY.match(value):
            raise ValueError("a number such as 7, or a range such as 7-8")
        return cls(*_range(value))

    @classmethod
    def schema(cls) -> dict[str, Any]:
        return {
            "anyOf": [
                {"type": "integer", "minimum": 1, "maximum": 9999},
                {"type": "string", "pattern": _NUMBERS_ONLY.pattern},
            ]
        }
