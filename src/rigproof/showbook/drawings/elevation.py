"""The case to scale: its front, its rear and a section through its depth.

All three stand on the same grid of units and at the same scale, so a height read in one is the
same height in the others.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rigproof.checks.rule import View
from rigproof.physics import rackgrid
from rigproof.rack import Box, Elevation, elevation
from rigproof.rack.occupancy import homeless
from rigproof.rig import Rig
from rigproof.rig.geartype import Face
from rigproof.showbook.drawings import ink
from rigproof.showbook.drawings.casegrid import (
    ROOM_ABOVE,
    ROOM_BELOW,
    Grid,
    castors,
    dimension,
)
from rigproof.showbook.drawings.lettering import fitted, width_mm
from rigproof.showbook.drawings.section import section
from rigproof.showbook.drawings.sockets import Bank, banks_of, drawn
from rigproof.showbook.edition import ENGLISH, Edition
from rigproof.wording import ranges

# ISO 5455 lists 1:2, 1:5, 1:10, 1:20; 1:2 is too wide for any page of the book.
_SCALES = (5, 10, 20)
_NAMES = 56.0  # on paper: the column of names beside the case
_WALL_MM = 38.0  # where the case does not state its outer size

_OTHER_SIDE: Mapping[Face, Face] = {"front": "rear", "rear": "front"}


def elevations(view: View, edition: Edition = ENGLISH) -> tuple[ink.Drawing, ...]:
    """Front, rear and section of the case; one sheet that says so where there is none."""
    rig = view.rig
    case = elevation(rig)
    if case is None:
        return (_no_case(rig, edition),)
    scale = _scale(case)
    notes = _notes(rig, case, edition)
    return (
        _face_view(rig, case, "front", scale, notes, edition),
        _face_view(rig, case, "rear", scale, notes, edition),
        section(rig, case, edition, scale=scale),
    )


def _scale(case: Elevation) -> int:
    height = ink.PORTRAIT_MM[1] - ROOM_ABOVE - ROOM_BELOW
    return next((s for s in _SCALES if case.height_mm / s <= height), 50)


def _notes(rig: Rig, case: Elevation, edition: Edition) -> tuple[str, ...]:
    notes = [edition.say("rack.note_sockets")]
    lost = [_name(rig.box_names[gear.id]) for gear in homeless(rig)]
    if lost:
        notes.append(edition.say("rack.note_lost", names=edition.listed(lost)))
    if case.case.width_mm is None:
        notes.append(edition.say("rack.note_walls"))
    return tuple(notes)


def _name(text: str) -> str:
    return fitted(text, within_mm=60, size_mm=ink.SMALL)


def _face_view(
    rig: Rig,
    case: Elevation,
    face: Face,
    scale: int,
    notes: tuple[str, ...],
    edition: Edition,
) -> ink.Drawing:
    width, outer = ink.PORTRAIT_MM[0], _outer_mm(case) / scale
    wall = (outer - rackgrid.PANEL_WIDTH_MM / scale) / 2
    height = case.height_mm / scale + ROOM_ABOVE + ROOM_BELOW
    grid = Grid(scale, wall + 1.0, height - ROOM_BELOW, case.case.units)
    near = case.on("front" if face == "front" else "rear")
    far = case.on("rear" if face == "front" else "front")
    hidden = {unit for box in near for unit in range(box.seat.low, box.seat.high + 1)}
    free = case.free_front if face == "front" else case.free_rear
    marks = [ink.group("case", _case_marks(case, grid, outer, wall, edition))]
    marks += [ink.group("rails", _rail_marks(grid))]
    marks += [ink.group("free", _free_marks(grid, free, far if face == "rear" else (), edition))]
    names = _Names(grid.left + grid.mm(rackgrid.PANEL_WIDTH_MM) + wall + 3.5, width)
    written: list[tuple[Box, tuple[str, str]]] = []
    if face == "rear":
        # What hangs on the front rails shows its back between the rear rails.
        for box in far:
            covered = set(range(box.seat.low, box.seat.high + 1)) <= hidden
            marks.append(
                ink.group(
                    f"back-{box.seat.gear.id}", _back(rig, box, grid, edition, covered=covered)
                )
            )
            if not covered:
                written.append((box, _words(box, face, edition)))
    for box in near:
        marks.append(ink.group(f"box-{box.seat.gear.id}", _panel(box, grid, face, edition)))
        written.append((box, _words(box, face, edition)))
    marks.append(ink.group("names", names.marks(written, grid)))
    key = ["rack.key_holes", "rack.key_pins"]
    if face == "rear":
        notes = (edition.say("rack.note_behind"), *notes)
        key.append("rack.key_behind")
    boxes = [_name(box.seat.name) for box in sorted(near, key=lambda box: -box.seat.low)]
    alt = edition.say(
        "rack.alt",
        scale=scale,
        units=case.case.units,
        names=edition.listed(boxes) if boxes else edition.say("rack.nothing_hangs"),
        free=ranges(free) or edition.say("rack.none"),
    )
    return ink.Drawing(
        ink.sheet(width, height, marks),
        width,
        height,
        edition.say("rack.front_title" if face == "front" else "rack.rear_title"),
        alt,
        caption=edition.say("rack.caption", scale=scale),
        notes=notes,
        key=tuple(map(edition.say, key)),
    )


def _outer_mm(case: Elevation) -> float:
    stated = case.case.width_mm
    least = rackgrid.PANEL_WIDTH_MM + 2 * _WALL_MM
    return least if stated is None else max(float(stated), rackgrid.PANEL_WIDTH_MM + 20)


def _case_marks(
    case: Elevation, grid: Grid, outer: float, wall: float, edition: Edition
) -> Iterator[str]:
    left, top, foot = grid.left - wall, grid.head - 5.0, grid.foot + 5.0
    yield ink.rect((left, top), (outer, foot - top), weight=ink.HEAVY, round_mm=1.2)
    yield from castors(case, (left, left + outer), foot)
    for unit in range(1, grid.units + 1):
        y = ink.middle(grid.y(rackgrid.opening_mm(unit) - rackgrid.UNIT_MM / 2), ink.SMALL)
        yield ink.text((grid.left - wall / 2, y), str(unit), size=ink.SMALL, anchor="middle")
    size = case.case
    if size.width_mm is not None:
        y = foot + 10.0
        words = edition.say("rack.outside", width=edition.small(size.width_mm))
        if size.height_mm is not None:
            high = edition.small(size.height_mm)
            words = edition.say("rack.outside_high", said=words, height=high)
        if size.depth_mm is not None:
            deep = edition.small(size.depth_mm)
            words = edition.say("rack.outside_deep", said=words, depth=deep)
        yield from dimension((left, y), (left + outer, y), words)


def _rail_marks(grid: Grid) -> Iterator[str]:
    """The two rails with three holes in each unit, as wide as the panels reach over the opening."""
    top, foot = grid.head, grid.foot
    reach = (rackgrid.PANEL_WIDTH_MM - rackgrid.OPENING_WIDTH_MM) / 2
    holes = (rackgrid.PANEL_WIDTH_MM - rackgrid.HOLE_ROWS_MM) / 2
    for edge, towards in ((0.0, 1), (rackgrid.PANEL_WIDTH_MM, -1)):
        outside = grid.left + grid.mm(edge)
        inside = outside + towards * grid.mm(reach)
        row = outside + towards * grid.mm(holes)
        yield ink.rect((min(outside, inside), top), (abs(inside - outside), foot - top))
        for hole in range(1, 3 * grid.units + 1):
            yield ink.circle(
                (row, grid.y(rackgrid.hole_height_mm(hole))), grid.mm(3.2), weight=ink.HAIR
            )


def _free_marks(
    grid: Grid, free: Sequence[int], far: Sequence[Box], edition: Edition
) -> Iterator[str]:
    """The word in each free unit; a unit that shows the back of a box needs none."""
    seen = {unit for box in far for unit in range(box.seat.low, box.seat.high + 1)}
    middle = grid.left + grid.mm(rackgrid.PANEL_WIDTH_MM / 2)
    reach = grid.mm(rackgrid.OPENING_WIDTH_MM / 2)
    for unit in free:
        if unit in seen:
            continue
        for height in (rackgrid.opening_mm(unit - 1), rackgrid.opening_mm(unit)):
            y = grid.y(height)
            yield ink.line((middle - reach, y), (middle + reach, y), weight=ink.HAIR, dash=(1, 1))
        y = ink.middle(grid.y(rackgrid.opening_mm(unit) - rackgrid.UNIT_MM / 2), ink.SMALL)
        yield ink.caps((middle, y), edition.say("rack.free"), anchor="middle")


def _panel(box: Box, grid: Grid, face: Face, edition: Edition) -> Iterator[str]:
    """A front panel on the near rails, with its screws and sockets."""
    corner, size = _rectangle(box, grid, mirrored=face == "rear")
    yield ink.rect(corner, size, weight=ink.FIRM, fill="white")
    ear = grid.mm((rackgrid.PANEL_WIDTH_MM - rackgrid.HOLE_ROWS_MM) / 2)
    half = box.width_mm < rackgrid.PANEL_WIDTH_MM
    x_left, x_right = corner[0], corner[0] + size[0]
    on_left = not half or x_left < grid.left + 0.1
    on_right = not half or not on_left
    first, last = 3 * (box.seat.low - 1) + 1, 3 * box.seat.high
    for hole in (first, last):
        y = grid.y(rackgrid.hole_height_mm(hole))
        for x, there in ((x_left + ear, on_left), (x_right - ear, on_right)):
            if there:
                yield ink.circle((x, y), grid.mm(4), weight=ink.HAIR)
    type_ = box.seat.type
    inset = grid.mm(20)
    inner = (corner[0] + inset, corner[1] + 0.2), (size[0] - 2 * inset, size[1] - 0.4)
    if type_.class_ == "drawer":
        yield from _drawer(corner, size, grid)
    elif type_.class_ == "blank":
        yield ink.line(corner, (corner[0] + size[0], corner[1] + size[1]), weight=ink.HAIR)
    else:
        yield from _named_sockets(box, banks_of(type_, "front", edition), *inner, grid.scale)


def _named_sockets(
    box: Box, banks: Sequence[Bank], corner: ink.Place, size: ink.Place, scale: int
) -> Iterator[str]:
    """A face with its sockets. One without any bears its name; half a panel bears its label."""
    seat = box.seat
    if not banks:
        words = seat.gear.label if seat.half and seat.gear.label else seat.name
        at = (corner[0] + size[0] / 2, ink.middle(corner[1] + size[1] / 2, ink.TEXT))
        yield ink.text(at, words, style="medium", anchor="middle", within=size[0])
        return
    if seat.half and seat.gear.label:
        label = fitted(seat.gear.label, within_mm=8, size_mm=ink.SMALL, style="bold")
        room = width_mm(label, size_mm=ink.SMALL, style="bold") + 1.2
        at = (corner[0] + 0.4, ink.middle(corner[1] + size[1] / 2, ink.SMALL))
        yield ink.text(at, label, size=ink.SMALL, style="bold")
        corner, size = (corner[0] + room, corner[1]), (size[0] - room, size[1])
    yield from drawn(banks, corner, size, scale=1 / scale)


def _drawer(corner: ink.Place, size: ink.Place, grid: Grid) -> Iterator[str]:
    inset = grid.mm(22)
    yield ink.rect(
        (corner[0] + inset, corner[1] + 1), (size[0] - 2 * inset, size[1] - 2), weight=ink.HAIR
    )
    middle = (corner[0] + size[0] / 2, corner[1] + size[1] / 2)
    yield ink.rect((middle[0] - 6, middle[1] - 1), (12, 2), weight=ink.HAIR, round_mm=1)


def _back(rig: Rig, box: Box, grid: Grid, edition: Edition, *, covered: bool) -> Iterator[str]:
    """The back of a box that hangs on the far rails, with what rides in it."""
    corner, size = _rectangle(box, grid, mirrored=True)
    # Bodies stand between the rails; two halves leave a gap between them.
    inset, gap = grid.mm(20), grid.mm(6)
    at_left = corner[0] < grid.left + 0.1
    at_right = corner[0] + size[0] > grid.left + grid.mm(rackgrid.PANEL_WIDTH_MM) - 0.1
    left, right = (inset if at_left else gap), (inset if at_right else gap)
    corner, size = (corner[0] + left, corner[1]), (size[0] - left - right, size[1])
    if covered:
        yield ink.rect(corner, size, weight=ink.HAIR, dash=(1.2, 0.8))
        return
    yield ink.rect(corner, size, weight=ink.THIN, fill="white")
    banks = [*banks_of(box.seat.type, "rear", edition)]
    for rider in box.seat.riders:
        if rig.types[rider.type].class_ == "network-card":
            banks += banks_of(rig.types[rider.type], "rear", edition)[1:]
    inner = (corner[0] + 0.6, corner[1] + 0.2), (size[0] - 1.2, size[1] - 0.4)
    yield from _named_sockets(box, banks, *inner, grid.scale)


def _rectangle(box: Box, grid: Grid, *, mirrored: bool) -> tuple[ink.Place, ink.Place]:
    x_mm = box.x_mm
    if mirrored:
        x_mm = rackgrid.PANEL_WIDTH_MM - box.x_mm - box.width_mm
    play = rackgrid.opening_mm(box.seat.units) - box.height_mm
    size = (grid.mm(box.width_mm), grid.mm(box.height_mm))
    return (grid.left + grid.mm(x_mm), grid.y(box.y_mm + box.height_mm + play / 2)), size


def _words(box: Box, face: Face, edition: Edition) -> tuple[str, str]:
    """Name and figures of a box as they stand beside the case."""
    seat, say = box.seat, edition.say
    half = seat.front_half
    if half and face == "rear":
        half = "right" if half == "left" else "left"  # as the reader of this view sees it
    units = ranges(range(seat.low, seat.high + 1))
    place = say("rack.units" if seat.high > seat.low else "rack.unit", units=units)
    if half:
        place = f"{place} {say(f'rack.{half}')}"
    if box.depth_mm is None:
        depth = say("rack.depth_unknown")
    elif box.rear_plugs_mm:
        depth = say(
            "rack.deep_plugs",
            depth=edition.small(box.depth_mm),
            plugs=edition.small_figure(box.rear_plugs_mm),
        )
    else:
        depth = say("rack.deep", depth=edition.small(box.depth_mm))
    return seat.name, f"{place}, {depth}"


@dataclass(frozen=True, slots=True)
class _Names:
    """The column of names: each at the height of its box, two lines, pushed apart where needed."""

    left: float
    right: float

    def marks(self, written: Sequence[tuple[Box, tuple[str, str]]], grid: Grid) -> Iterator[str]:
        pitch = 6.4
        wanted = sorted(
            written,
            key=lambda one: (-one[0].y_mm - one[0].height_mm / 2, one[0].x_mm, one[0].seat.gear.id),
        )
        places = _pushed_apart(
            [grid.y(box.y_mm + box.height_mm / 2) for box, _ in wanted],
            pitch=pitch,
            low=grid.head - 2.0,
            high=grid.foot + 6.0,
        )
        for (box, (name, figures)), y in zip(wanted, places, strict=True):
            true = grid.y(box.y_mm + box.height_mm / 2)
            edge = self.left - 2.6
            yield ink.polyline(
                ((edge - 0.8, true), (edge, true), (edge + 1.4, y), (self.left - 0.6, y)),
                weight=ink.HAIR,
            )
            yield from self._entry(box, name, figures, y)

    def _entry(self, box: Box, name: str, figures: str, y: float) -> Iterator[str]:
        x = self.left
        label = fitted(box.seat.gear.label, within_mm=14, size_mm=ink.SMALL, style="bold")
        if label:
            wide = width_mm(label, size_mm=ink.SMALL, style="bold") + 1.8
            yield ink.rect((x, y - 3.0), (wide, 3.0), weight=ink.HAIR)
            yield ink.text(
                (x + wide / 2, y - 0.75), label, size=ink.SMALL, style="bold", anchor="middle"
            )
            x += wide + 1.2
        room = self.right - x
        yield ink.text((x, y - 0.6), name, size=ink.TEXT, style="medium", within=room)
        yield ink.text((self.left, y + 2.3), figures, size=ink.SMALL, within=self.right - self.left)


def _pushed_apart(
    wanted: Sequence[float], *, pitch: float, low: float, high: float
) -> tuple[float, ...]:
    """Heights as near as possible to those wanted, none closer than `pitch`, in the same order.

    Least squares: with the pitch taken off, the heights must only not fall, and neighbours that
    would are pooled at their mean (isotonic regression).
    """
    pools: list[tuple[float, int]] = []
    for place, y in enumerate(wanted):
        pools.append((y - pitch * place, 1))
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            (mean, many), (other, more) = pools[-2:]
            pools[-2:] = [((mean * many + other * more) / (many + more), many + more)]
    last = pitch * (len(wanted) - 1)
    levels = [min(max(mean, low), high - last) for mean, many in pools for _ in range(many)]
    return tuple(level + pitch * place for place, level in enumerate(levels))


def _no_case(rig: Rig, edition: Edition) -> ink.Drawing:
    width, height = ink.PORTRAIT_MM[0], 60.0
    words, fix = edition.say("rack.no_case"), edition.say("rack.no_case_fix")
    marks = [
        ink.rect((40, 4), (92, 40), weight=ink.FIRM, dash=(3, 1.6), round_mm=1.2),
        ink.text((86, 25), words, size=ink.HEAD, style="medium", anchor="middle"),
        ink.text((86, 54), fix, size=ink.TEXT, anchor="middle"),
    ]
    lost = [_name(rig.box_names[gear.id]) for gear in homeless(rig)]
    notes = (edition.say("rack.note_lost", names=edition.listed(lost)),) if lost else ()
    return ink.Drawing(
        ink.sheet(width, height, marks),
        width,
        height,
        edition.say("rack.the_case"),
        f"{words} {fix}",
        notes=notes,
    )
