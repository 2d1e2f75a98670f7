"""Sheets by their rows, and what was understood of them."""

from typing import Any

from rigproof.rig import Rig
from rigproof.rigfile.intake.cells import Grid, Value
from rigproof.rigfile.intake.entering import new_rig
from rigproof.rigfile.intake.sources import Fate, Input, Understood
from rigproof.rigfile.load import parse


def grid(*rows: list[Value | None], **odd: Any) -> Grid:
    """A sheet by its rows, the first one row 1; None is an empty cell."""
    cells = {
        (number, column): value
        for number, row in enumerate(rows, 1)
        for column, value in enumerate(row, 1)
        if value is not None
    }
    return Grid(name="Sheet", cells=cells, **odd)


def one(found: Understood, name: str) -> Input:
    return next(source for source in found.inputs if source.name == name)


def fate(found: Understood, cell: str) -> Fate:
    return next(one for one in found.fates if one.cell == cell)


def rig_of(found: Understood) -> Rig:
    return parse(new_rig(found, file="list.xlsx", schema="./rig.schema.json").encode())
