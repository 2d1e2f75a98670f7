"""What a command answers: rows for people, one object for programs, an exit code for scripts."""

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from rigproof import __version__
from rigproof.cli.terminal import Part, Row

CLEAN, FOUND, CANNOT_RUN = 0, 1, 2

# The form of the JSON answers; it changes when a reader of the old form would be misled.
FORM = 1


class Answer(NamedTuple):
    """The outcome of a command that ran."""

    code: int
    result: Mapping[str, Any]
    rows: tuple[Part, ...]


class Fault(NamedTuple):
    """One reason why a command could not run. Line 0: the file, or the request, as a whole."""

    says: str
    fix: str = ""
    file: str = ""
    line: int = 0
    column: int = 0

    def rows(self) -> Iterable[Row]:
        place = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        yield Row(self.says, lead=f"{place}: " if place else "", lead_tone="strong")
        for fix in self.fix.splitlines():
            yield Row(fix, indent=2)


class CannotRun(Exception):
    """A command cannot do what was asked; the user can put it right."""

    def __init__(self, *faults: Fault) -> None:
        super().__init__("; ".join(fault.says for fault in faults))
        self.faults = faults


def envelope(
    command: str, code: int, result: Mapping[str, Any] | None, faults: Iterable[Fault] = ()
) -> str:
    """The one object that every command prints under --json. Plain ASCII: fit for any pipe."""
    import json

    return json.dumps(
        {
            "rigproof": __version__,
            "form": FORM,
            "command": command,
            "exit": code,
            "result": result,
            "faults": [
                {
                    "file": fault.file,
                    "line": fault.line,
                    "column": fault.column,
                    "says": fault.says,
                    "fix": fault.fix,
                }
                for fault in faults
            ],
        },
        indent=1,
    )
