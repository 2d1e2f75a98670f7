"""Strips and panel legends: what stands at every socket, fader, knob and key of every box.

Sockets are taken to be numbered along the rows, from left to right as one looks at the face: a
gear type does not say otherwise, and the key to the labels says so.
"""

from collections.abc import Iterator, Mapping, Sequence

import msgspec

from rigproof.checks.rule import View
from rigproof.physics.rackgrid import PANEL_WIDTH_MM
from rigproof.rig.equipment import Gear
from rigproof.rig.geartype import Port, Stage
from rigproof.showbook.labels import colouring, pitch
from rigproof.showbook.labels.content import Asked, Cell, Strip
from rigproof.showbook.labels.sockets import Named, Sockets
from rigproof.showbook.labels.stock import WAYS_OF_A_PIECE

_NO_ROW = frozenset({"air", "capsule", "bare"})


class _Row(msgspec.Struct, frozen=True):
    """One row of one bank of a box, not yet cut into pieces."""

    gear: Gear
    bank: Port | Stage
    name: str
    spacing: pitch.Spacing
    number: int
    cells: tuple[Cell, ...]

    @property
    def on_panel(self) -> bool:
        """Whether the row stands on a panel as wide as the rack."""
        return isinstance(self.bank, Port) and self.gear.unit is not None and not self.gear.half


def strips(view: View, asked: Asked, longest_mm: float) -> Iterator[Strip]:
    """Every row in pieces that fit on a sheet."""
    for row in _rows(view, asked):
        ways = _ways(longest_mm / row.spacing.pitch_mm)
        for start in range(0, len(row.cells), ways):
            cells = tuple(map(_in_short, row.cells[start : start + ways]))
            yield _piece(view, row, cells, start)


def _in_short(cell: Cell) -> Cell:
    """What a strip has room for: the short form alone, so that a longer name changes nothing."""
    return msgspec.structs.replace(cell, full=cell.short or cell.full)


def legends(view: View, asked: Asked, longest_mm: float) -> Iterator[Strip]:
    """The rows of rack panels with what the panel has at both sides of them."""
    for row in _rows(view, asked):
        if not row.on_panel:
            continue
        beside_mm = (PANEL_WIDTH_MM - row.spacing.pitch_mm * len(row.cells)) / 2
        beside_mm = max(0.0, round(beside_mm, 3))
        ways = _even_ways(len(row.cells), row.spacing.pitch_mm, beside_mm, longest_mm)
        for start in range(0, len(row.cells), ways):
            cells = row.cells[start : start + ways]
            piece = _piece(view, row, cells, start)
            yield msgspec.structs.replace(
                piece,
                id=f"legend{piece.id.removeprefix('strip')}",
                legend=True,
                left_mm=beside_mm if start == 0 else 0.0,
                right_mm=beside_mm if start + ways >= len(row.cells) else 0.0,
            )


def _ways(room: float) -> int:
    """How many places one piece holds: eight, sixteen and so on where as many fit."""
    fit = max(1, int(room + 1e-6))
    return fit - fit % WAYS_OF_A_PIECE if fit >= WAYS_OF_A_PIECE else fit


def _even_ways(places: int, pitch_mm: float, beside_mm: float, longest_mm: float) -> int:
    """How many places each piece of a legend holds, so that its pieces come out nearly alike."""
    for pieces in range(1, places + 1):
        ways = -(-places // pieces)
        ends = 2 if pieces == 1 else 1
        if ways * pitch_mm + ends * beside_mm <= longest_mm + 1e-6:
            return ways
    return 1


def _piece(view: View, row: _Row, cells: tuple[Cell, ...], start: int) -> Strip:
    return Strip(
        id=f"strip-{row.gear.id}-{row.bank.id}-{row.number}-{start + 1}",
        gear=row.gear.id,
        box=view.rig.box_names[row.gear.id],
        bank=row.name,
        row=row.number,
        rows=row.spacing.rows,
        pitch_mm=row.spacing.pitch_mm,
        pitch_from=row.spacing.provenance,
        cells=cells,
        chars=row.bank.label_chars,
    )


def _rows(view: View, asked: Asked) -> Iterator[_Row]:
    found = Sockets(view, asked.edition)
    for gear in view.rig.file.gear:
        if asked.about and gear.id not in asked.about:
            continue
        type_ = view.rig.types[gear.type]
        for port in type_.ports:
            if port.count > 1 and port.connector not in _NO_ROW:
                names = tuple(found.at(gear, port, n) for n in range(1, port.count + 1))
                yield from _in_rows(view, asked, gear, port, pitch.of_port(port), names)
        for stage in type_.inside.stages:
            spacing = pitch.of_stage(stage)
            if spacing is not None and stage.count > 1:
                names = _on_stage(found, gear, stage)
                yield from _in_rows(view, asked, gear, stage, spacing, names)


def _on_stage(found: Sockets, gear: Gear, stage: Stage) -> tuple[Named, ...]:
    by_number: Mapping[int, Named] = {}
    if stage.kind == "slot":
        by_number = found.slots(gear)
    elif stage.kind == "channel":
        by_number = found.channels(gear)
    elif stage.kind == "bus":
        by_number = found.buses(gear, stage)
    return tuple(by_number.get(number, Named()) for number in range(1, stage.count + 1))


def _in_rows(
    view: View,
    asked: Asked,
    gear: Gear,
    bank: Port | Stage,
    spacing: pitch.Spacing,
    names: Sequence[Named],
) -> Iterator[_Row]:
    """The rows of a bank, as far as anything stands in them."""
    if not any(one.full for one in names):
        return
    each = -(-len(names) // spacing.rows)
    for number, start in enumerate(range(0, len(names), each), 1):
        cells = tuple(
            Cell(
                str(place),
                one.short,
                one.full,
                colouring.of_source(asked.scheme, view.rig, one.source, place),
            )
            for place, one in enumerate(names[start : start + each], start + 1)
        )
        if any(cell.full for cell in cells):
            name = bank.name or bank.id.replace("-", " ")
            yield _Row(gear, bank, name, spacing, number, cells)
