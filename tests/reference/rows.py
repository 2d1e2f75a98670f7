"""Rows of figures that others printed: read from the tables beside this file, judged one by one.

Each subject's test holds a table from the name of a case (`*` stands for anything) to the call
that should give the row's figure. A row gives its own inputs, so no figure is typed twice.
"""

import csv
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase
from pathlib import Path

import pytest

_NUMBER = re.compile(r"(?P<number>-?\d+(?:\.\d+)?(?:e\d+)?)(?:/(?P<below>\d+))? ?(?P<unit>.*)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    topic: str
    case: str
    inputs: str
    expected: str
    unit: str
    tolerance: float
    source: str

    def items(self) -> Iterator[tuple[str, str]]:
        for part in self.inputs.split("; "):
            name, _, value = part.partition("=")
            yield name, value

    def text(self, name: str) -> str:
        return dict(self.items())[name]

    def __getitem__(self, name: str) -> float:
        """The number that an input of the row starts with."""
        return _number(self.text(name))

    def listed(self) -> list[float]:
        """The numbers of an input that is a list: only its first has a name."""
        return [_number(value or name) for name, value in self.items()]

    def all(self, start: str) -> list[float]:
        """The numbers of all inputs whose names start so."""
        return [_number(value) for name, value in self.items() if name.startswith(start)]

    def numbers(self, name: str) -> list[float]:
        """The numbers of an input whose value is a list: `0,40,70 cm`."""
        return [_number(value) for value in self.text(name).split(",")]

    def unit_of(self, name: str) -> str:
        found = _NUMBER.fullmatch(self.text(name))
        assert found
        return found["unit"]


def _number(text: str) -> float:
    found = _NUMBER.fullmatch(text)
    assert found, text
    return float(found["number"]) / float(found["below"] or 1)


Call = Callable[[Row], float | str]
Calls = Mapping[tuple[str, str], Call]


def read(table: str) -> list[Row]:
    path = Path(__file__).with_name(table)
    with path.open(encoding="utf-8", newline="") as lines:
        return [
            Row(**{**row, "tolerance": _allowed(row["tolerance"], row["expected"])})  # type: ignore[arg-type]
            for row in csv.DictReader(lines)
        ]


def _allowed(tolerance: str, expected: str) -> float:
    """How far off a figure may be: `0.05`, `abs:0.05`, `rel:0.5%` of what is expected, `exact`."""
    kind, _, value = tolerance.rpartition(":")
    if value == "exact":
        return 0.0
    if kind == "rel":
        return abs(float(expected)) * float(value.removesuffix("%")) / 100
    assert kind in ("abs", ""), tolerance
    return float(value)


def matching(calls: Calls, row: Row) -> list[Call]:
    return [
        call
        for (topic, case), call in calls.items()
        if topic == row.topic and fnmatchcase(row.case, case)
    ]


def judged_by(calls: Calls, table: str = "audio.csv") -> pytest.MarkDecorator:
    """Runs a test of (row, call) on every row of the table that one of the calls is for."""
    pairs = [(row, call) for row in read(table) for call in matching(calls, row)]
    return pytest.mark.parametrize(
        ("row", "call"),
        [
            pytest.param(row, call, id=row.case, marks=pytest.mark.published(row.source))
            for row, call in pairs
        ],
    )


def assert_agrees(row: Row, found: float | str) -> None:
    """A figure within the row's tolerance; a row with none is a constant or a word, and exact."""
    try:
        printed = float(row.expected)
    except ValueError:
        assert found == row.expected
    else:
        assert float(found) == pytest.approx(printed, abs=row.tolerance + 1e-9, rel=0)
