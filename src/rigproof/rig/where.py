"""Where a thing stands in the user's files, and what is wrong there."""


class Where:
    """A place in a file, counted from 1 as editors count; line 0 means the whole file.

    `keys` holds the places of the keys of a mapping.
    """

    __slots__ = ("column", "file", "keys", "line")

    def __init__(
        self,
        file: str = "",
        line: int = 0,
        column: int = 0,
        keys: dict[str, tuple[int, int]] | None = None,
    ) -> None:
        self.file = file
        self.line = line
        self.column = column
        self.keys = {} if keys is None else keys

    def of(self, key: str) -> "Where":
        """The place of one key of this entry, or of the entry itself where it is not written."""
        line, column = self.keys.get(key, (self.line, self.column))
        return Where(self.file, line, column)

    def __eq__(self, other: object) -> bool:
        # Two entries that say the same are equal wherever they stand.
        return isinstance(other, Where)

    def __hash__(self) -> int:
        return 0

    def __repr__(self) -> str:
        return f"Where({str(self)!r})"

    def __str__(self) -> str:
        if not self.line:
            return self.file or "(no file)"
        return f"{self.file}:{self.line}:{self.column}"


NOWHERE = Where()


class RigError(Exception):
    """One fault of the input: where it stands, what is wrong, what to do."""

    def __init__(self, *, at: Where, says: str, fix: str = "") -> None:
        super().__init__(says)
        self.at = at
        self.says = says
        self.fix = fix

    def __str__(self) -> str:
        return f"{self.at}: {self.says}" + (f"\n  {self.fix}" if self.fix else "")


class RigErrors(Exception):
    """All faults of the input, in file order: a file is read to its end before anyone complains."""

    def __init__(self, faults: list[RigError]) -> None:
        self.faults = tuple(
            sorted(faults, key=lambda f: (f.at.file, f.at.line, f.at.column, f.says))
        )
        super().__init__(str(self))

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)
