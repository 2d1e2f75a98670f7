"""What was measured on the ways that are shown: when, how, and whether it counts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from rigproof.cli.terminal import Row

if TYPE_CHECKING:
    from rigproof.checks.rule import View
    from rigproof.signal.ladder import Ladder
    from rigproof.signal.readings import Stood


def measured_data(view: View, ladders: Sequence[Ladder]) -> list[dict[str, Any]]:
    """The measured figures on some ways, for programs."""
    return [
        {
            "place": place,
            "what": one.what,
            "value": one.now,
            "unit": one.unit,
            "read": float(one.read),
            "date": one.read.date,
            "method": one.read.note,
            "counts": one.counts,
        }
        for place, one in _stood(view, ladders)
    ]


def measured_rows(view: View, ladders: Sequence[Ladder]) -> Iterator[Row]:
    """The same for people."""
    from rigproof.signal.words import place

    for at, one in _stood(view, ladders):
        decimals = 2 if one.unit == "ms" else 1
        counts = "" if one.counts else "; it does not count, rigproof check says why"
        yield Row(
            f"{one.what} at {place(view.rig, at)}, {one.now:.{decimals}f} {one.unit}, on "
            f"{one.read.date} by {one.read.note}{counts}.",
            lead="Measured: ",
            lead_tone="faint",
        )


def _stood(view: View, ladders: Sequence[Ladder]) -> Iterator[tuple[str, Stood]]:
    nodes = {rung.node: rung.place for ladder in ladders for rung in ladder.rungs}
    for node, place in nodes.items():
        for one in view.figures.readings.at(node):
            yield place, one
