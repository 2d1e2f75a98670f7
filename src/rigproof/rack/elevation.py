"""The case as three drawings share it: rectangles in millimetres.

x runs from the left edge of the front panels, seen from the front; y up from the lower edge of
unit 1; z backwards from the front rails. A rear view is the same numbers mirrored.
"""

from typing import Literal

import msgspec

from rigproof.physics import rackgrid
from rigproof.rack.occupancy import Seat, back_to_back, free_units, seats
from rigproof.rig import Opening, Rig
from rigproof.rig.geartype import CaseSize
from rigproof.rig.quantity import Provenance, Quantity, weakest

# How a lid, a bar or another box is met: by the box itself, or only by its plugs.
Meets = Literal["box", "plugs"]


class Box(msgspec.Struct, frozen=True):
    """One box in the case. `None` where the file and the type do not say how deep it is."""

    seat: Seat
    x_mm: float
    width_mm: float
    y_mm: float
    height_mm: float
    depth_mm: float | None  # behind its own rails
    front_plugs_mm: float  # before its panel; nothing stated counts as nothing
    rear_plugs_mm: float  # behind it, plugs with their bend
    provenance: Provenance

    @property
    def depth_with_plugs_mm(self) -> float | None:
        """From its rails to the last plug behind it."""
        return None if self.depth_mm is None else self.depth_mm + self.rear_plugs_mm


class Hit(msgspec.Struct, frozen=True):
    """Something in the way of a box, and by how much it is missed or overlapped."""

    box: Box
    against: Literal["lid before", "case behind", "bar", "box"]
    meets: Meets
    needs_mm: float
    has_mm: float
    other: Box | None = None
    bar: Opening | None = None

    @property
    def short_mm(self) -> float:
        return self.needs_mm - self.has_mm


class Elevation(msgspec.Struct, frozen=True):
    """Everything three views need, and what hits what."""

    case: CaseSize
    boxes: tuple[Box, ...]
    free_front: tuple[int, ...]
    free_rear: tuple[int, ...]
    hits: tuple[Hit, ...]
    unknown_depth: tuple[Box, ...]

    @property
    def height_mm(self) -> float:
        return rackgrid.opening_mm(self.case.units)

    def on(self, face: Literal["front", "rear"]) -> tuple[Box, ...]:
        return tuple(box for box in self.boxes if box.seat.face == face)


def elevation(rig: Rig) -> Elevation | None:
    """The case of a rig with everything in it; None where the rig has no case."""
    case = rig.file.case
    size = rig.types[case.type].case if case else None
    if size is None:
        return None
    found = seats(rig)
    boxes = {seat.gear.id: _box(seat) for seat in found}
    hits = [hit for box in boxes.values() for hit in _walls(box, size, rig.file.obstacles)]
    for pair in back_to_back(found):
        hit = _between(boxes[pair.one.gear.id], boxes[pair.other.gear.id], size)
        if hit is not None:
            hits.append(hit)
    return Elevation(
        size,
        tuple(boxes.values()),
        free_units(rig, "front"),
        free_units(rig, "rear"),
        tuple(hits),
        tuple(box for box in boxes.values() if box.depth_mm is None and _has_depth(box.seat)),
    )


def _has_depth(seat: Seat) -> bool:
    return seat.type.class_ != "blank"


def _box(seat: Seat) -> Box:
    half = rackgrid.PANEL_WIDTH_MM / 2
    width_mm = half if seat.half else rackgrid.PANEL_WIDTH_MM
    stated = [q for q in (seat.depth_mm, seat.plugs_front_mm, seat.plugs_rear_mm) if q is not None]
    return Box(
        seat,
        x_mm=half if seat.front_half == "right" else 0.0,
        width_mm=width_mm,
        y_mm=rackgrid.opening_mm(seat.low - 1),
        height_mm=rackgrid.panel_height_mm(seat.units),
        depth_mm=_number(seat.depth_mm),
        front_plugs_mm=_number(seat.plugs_front_mm) or 0.0,
        rear_plugs_mm=_number(seat.plugs_rear_mm) or 0.0,
        provenance=weakest(*stated) if stated else "assumed",
    )


def _number(figure: Quantity | None) -> float | None:
    return None if figure is None else float(figure)


def _walls(box: Box, case: CaseSize, bars: tuple[Opening, ...]) -> list[Hit]:
    """What of the case itself is in the way of one box."""
    hits: list[Hit] = []
    rear = box.seat.face == "rear"
    before, behind = case.front_lid_mm, case.rear_lid_mm
    if rear:
        before, behind = behind, before
    if before is not None and box.front_plugs_mm > before:
        hits.append(Hit(box, "lid before", "plugs", box.front_plugs_mm, float(before)))
    if box.depth_mm is None or case.rail_to_rail_mm is None:
        return hits
    if behind is not None:
        room_mm = case.rail_to_rail_mm + behind
        hit = _reach(box, "case behind", room_mm)
        hits += [hit] if hit else []
    for bar in bars:
        if box.seat.low <= bar.at_unit <= box.seat.high:
            room_mm = case.rail_to_rail_mm - bar.from_front_mm if rear else bar.from_front_mm
            hit = _reach(box, "bar", room_mm, bar)
            hits += [hit] if hit else []
    return hits


def _reach(
    box: Box, against: Literal["case behind", "bar"], room_mm: float, bar: Opening | None = None
) -> Hit | None:
    """Whether a box, or its plugs, reach further back than there is room."""
    assert box.depth_mm is not None
    if box.depth_mm > room_mm:
        return Hit(box, against, "box", box.depth_mm, float(room_mm), bar=bar)
    with_plugs_mm = box.depth_mm + box.rear_plugs_mm
    if with_plugs_mm > room_mm:
        return Hit(box, against, "plugs", with_plugs_mm, float(room_mm), bar=bar)
    return None


def _between(front: Box, rear: Box, case: CaseSize) -> Hit | None:
    """Whether two boxes back to back want more than there is between the rails."""
    if front.depth_mm is None or rear.depth_mm is None or case.rail_to_rail_mm is None:
        return None
    has_mm = float(case.rail_to_rail_mm)
    bare_mm = front.depth_mm + rear.depth_mm
    with_plugs_mm = bare_mm + front.rear_plugs_mm + rear.rear_plugs_mm
    if bare_mm > has_mm:
        return Hit(front, "box", "box", bare_mm, has_mm, rear)
    if with_plugs_mm > has_mm:
        return Hit(front, "box", "plugs", with_plugs_mm, has_mm, rear)
    return None
