"""A section through the depth of the case, front at the left: what meets what between the rails."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from rigproof.physics import rackgrid
from rigproof.rack import Box, Elevation
from rigproof.rack.elevation import Hit
from rigproof.rig import Rig
from rigproof.showbook.drawings import ink
from rigproof.showbook.drawings.casegrid import (
    ROOM_ABOVE,
    ROOM_BELOW,
    Grid,
    castors,
    dimension,
)
from rigproof.showbook.drawings.lettering import fitted, width_mm
from rigproof.showbook.edition import Edition

_PANEL_MM = 3.0
_NO_LID_MM = 60.0  # room drawn before and behind rails where no lid is stated
_NO_DEPTH_MM = 160.0  # how far a box is drawn of which nobody knows the depth
_NUMBERS = 9.0  # on paper: the unit numbers at the left


@dataclass(frozen=True, slots=True)
class _Depths:
    """Where the depths of the case stand on paper: z runs backwards from the front rails."""

    grid: Grid
    front: float  # the front rails
    rail_to_rail_mm: float
    stated: bool

    def x(self, z_mm: float) -> float:
        return self.front + self.grid.mm(z_mm)

    def own(self, box: Box, z_mm: float) -> float:
        """A depth counted from the rails that a box hangs on."""
        return self.x(z_mm if box.seat.face == "front" else self.rail_to_rail_mm - z_mm)

    def span(self, box: Box, near_mm: float, far_mm: float) -> tuple[float, float]:
        """Left edge and width on paper of a part of a box."""
        one, other = self.own(box, near_mm), self.own(box, far_mm)
        return min(one, other), abs(other - one)


def section(rig: Rig, case: Elevation, edition: Edition, *, scale: int) -> ink.Drawing:
    """The case cut along its depth, with plugs, lids, bars and everything that clashes."""
    size = case.case
    deepest = max((box.depth_with_plugs_mm or _NO_DEPTH_MM for box in case.boxes), default=300.0)
    stated = size.rail_to_rail_mm is not None
    between = float(size.rail_to_rail_mm) if size.rail_to_rail_mm is not None else deepest + 40
    before = _NO_LID_MM if size.front_lid_mm is None else float(size.front_lid_mm)
    behind = _NO_LID_MM if size.rear_lid_mm is None else float(size.rear_lid_mm)
    before_drawn = max([before, *(box.front_plugs_mm for box in case.on("front"))])
    height = case.height_mm / scale + ROOM_ABOVE + ROOM_BELOW
    grid = Grid(scale, 0.0, height - ROOM_BELOW, size.units)
    depths = _Depths(grid, _NUMBERS + before_drawn / scale + 3.0, between, stated)
    right = depths.x(between + max(behind, _overshoot(case, between)))
    marks = [ink.group("case", _case_marks(case, grid, depths, (before, behind), edition))]
    for _, seats in groupby(case.boxes, key=lambda box: (box.seat.low, box.seat.face)):
        marks += [ink.group(f"box-{b.seat.gear.id}", _box(b, depths)) for b in seats]
    marks.append(ink.group("names", _names(case.boxes, depths, edition)))
    bars = [
        ink.rect(
            (depths.x(float(bar.from_front_mm)), grid.y(_top(bar.at_unit))),
            (grid.mm(20), grid.mm(rackgrid.UNIT_MM)),
            weight=ink.FIRM,
            fill="white",
        )
        for bar in rig.file.obstacles
    ]
    marks.append(ink.group("bars", bars))
    marks.append(ink.group("clashes", _clashes(case.hits, depths)))
    legend_left = right + 6.0
    marks.append(ink.group("list", _list(case, grid, legend_left, edition)))
    width = ink.PORTRAIT_MM[0]
    say = edition.say
    hits = len(case.hits)
    clash = say("rack.clashes", n=hits) if hits else say("rack.no_clash")
    notes = [] if stated else [say("rack.note_rails")]
    for key, lid in (
        ("rack.note_front_lid", size.front_lid_mm),
        ("rack.note_rear_lid", size.rear_lid_mm),
    ):
        if lid is None:
            notes.append(say(key))
    return ink.Drawing(
        ink.sheet(width, height, marks),
        width,
        height,
        say("rack.section_title"),
        say("rack.section_alt", scale=scale, clashes=clash),
        caption=say(
            "rack.section_caption",
            scale=scale,
            unit=say("rack.inches" if edition.measures == "imperial" else "rack.millimetres"),
        ),
        notes=tuple(notes),
        key=(
            say("rack.key_box"),
            say("rack.key_plugs"),
            say("rack.key_lid"),
            say("rack.key_clash"),
        ),
    )


def _top(unit: int) -> float:
    return rackgrid.opening_mm(unit)


def _overshoot(case: Elevation, between: float) -> float:
    """How far the deepest plug of a front box stands out behind the rear rails."""
    deep = [box.depth_with_plugs_mm or 0.0 for box in case.on("front")]
    rear = [box.front_plugs_mm for box in case.on("rear")]
    return max([0.0, *(depth - between for depth in deep), *rear])


def _case_marks(
    case: Elevation, grid: Grid, depths: _Depths, lids: tuple[float, float], edition: Edition
) -> Iterator[str]:
    say, (before, behind) = edition.say, lids
    front, rear = depths.x(0), depths.x(depths.rail_to_rail_mm)
    top, foot = grid.head - 5.0, grid.foot + 5.0
    for y in (top, foot):
        yield ink.line((front - 2, y), (rear + 2, y), weight=ink.HEAVY)
    yield ink.caps((front - grid.mm(before), top - 1.6), say("rack.front"))
    yield ink.caps((rear + grid.mm(behind), top - 1.6), say("rack.rear"), anchor="end")
    for x in (front, rear):
        if x == rear and not case.case.rear_rail:
            continue
        yield ink.line((x, top), (x, foot), weight=ink.FIRM)
    yield from castors(case, (front - 2, rear + 2), foot)
    for x, reach, stated, towards in (
        (front, before, case.case.front_lid_mm, -1),
        (rear, behind, case.case.rear_lid_mm, 1),
    ):
        if stated is None:
            continue
        edge = x + towards * grid.mm(reach)
        yield ink.polyline(
            ((x + towards * 2, top), (edge, top), (edge, foot), (x + towards * 2, foot)),
            dash=(2.4, 1.2),
        )
    for unit in range(1, grid.units + 1):
        y = grid.y(_top(unit) - rackgrid.UNIT_MM / 2)
        yield ink.text(
            (_NUMBERS - 4, ink.middle(y, ink.SMALL)), str(unit), size=ink.SMALL, anchor="middle"
        )
        for x in (front, rear):
            yield ink.line((x - 0.8, grid.y(_top(unit))), (x + 0.8, grid.y(_top(unit))))
    y = foot + 8.6
    if depths.stated:
        words = say("rack.rail_to_rail", depth=edition.small_figure(depths.rail_to_rail_mm))
        yield from dimension((front, y), (rear, y), words)
    y = foot + 13.6
    if case.case.front_lid_mm is not None:
        words = say("rack.lid", depth=edition.small_figure(before))
        yield from dimension((front - grid.mm(before), y), (front, y), words)
    if case.case.rear_lid_mm is not None:
        words = say("rack.lid", depth=edition.small_figure(behind))
        yield from dimension((rear, y), (rear + grid.mm(behind), y), words)


def _box(box: Box, depths: _Depths) -> Iterator[str]:
    grid = depths.grid
    high = grid.mm(box.height_mm)
    y = grid.y(box.y_mm + box.height_mm) - grid.mm(0.4)
    x, wide = depths.span(box, -_PANEL_MM, _PANEL_MM)
    yield ink.rect((x, y), (wide, high), weight=ink.THIN, fill=ink.INK)
    if box.depth_mm is None:
        if box.seat.type.class_ != "blank":
            yield from _unknown(box, depths, y, high)
        return
    inset = min(0.5, high / 8)
    x, wide = depths.span(box, 0, box.depth_mm)
    yield ink.rect((x, y + inset), (wide, high - 2 * inset), weight=ink.FIRM, fill="white")
    plugs = [(box.depth_mm, box.depth_mm + box.rear_plugs_mm), (-box.front_plugs_mm, -_PANEL_MM)]
    for near, far in plugs:
        if far - near > 1:
            x, wide = depths.span(box, near, far)
            corner = (x, y + high * 0.2)
            yield ink.rect(corner, (wide, high * 0.6), weight=ink.HAIR, dash=(0.5, 0.7))


def _unknown(box: Box, depths: _Depths, y: float, high: float) -> Iterator[str]:
    """A box of which nobody knows the depth ends in a broken line."""
    near, far = depths.own(box, 0), depths.own(box, _NO_DEPTH_MM)
    for edge in (y + 0.5, y + high - 0.5):
        yield ink.line((near, edge), (far, edge), weight=ink.FIRM, dash=(1.6, 1))
    step = 1.0 if far > near else -1.0
    middle = y + high / 2
    zigzag = (
        (far, y - 0.6),
        (far, middle - 1.6),
        (far + step, middle - 0.6),
        (far - step, middle + 0.6),
        (far, middle + 1.6),
        (far, y + high + 0.6),
    )
    yield ink.polyline(zigzag, weight=ink.THIN)


def _names(boxes: Sequence[Box], depths: _Depths, edition: Edition) -> Iterator[str]:
    """Each box's name in its own body; two beside each other share the line."""
    found = groupby(boxes, key=lambda box: (box.seat.low, box.seat.units, box.seat.face))
    for _, members in found:
        pair = list(members)
        box = max(pair, key=lambda one: one.depth_mm or 0)
        grid = depths.grid
        reach = _NO_DEPTH_MM if box.depth_mm is None else box.depth_mm
        x, wide = depths.span(box, 0, reach)
        y = ink.middle(grid.y(box.y_mm + box.height_mm / 2), ink.SMALL)
        if box.depth_mm is None:
            blank = box.seat.type.class_ == "blank"
            figures = "" if blank else edition.say("rack.depth_unknown")
        else:
            figures = edition.small_figure(box.depth_mm)
            if box.rear_plugs_mm:
                figures += f" + {edition.small_figure(box.rear_plugs_mm)}"
        room = wide - 3.4
        figures_wide = width_mm(figures, size_mm=ink.SMALL)
        names = [one.seat.name for one in pair]
        tags = [one.seat.gear.label or one.seat.name for one in pair]
        words = " | ".join(names)
        name_room = room - figures_wide - 2
        if width_mm(words, size_mm=ink.SMALL, style="medium") > name_room and len(pair) > 1:
            words = " | ".join(tags)
        start, end = x + 1.7, x + wide - 1.7
        if name_room > 8:
            yield ink.text((start, y), words, size=ink.SMALL, style="medium", within=name_room)
            yield ink.text((end, y), figures, size=ink.SMALL, anchor="end")
        else:
            short = fitted(tags[0], within_mm=room, size_mm=ink.SMALL, style="medium")
            yield ink.text(
                (x + wide / 2, y), short, size=ink.SMALL, style="medium", anchor="middle"
            )


def _clashes(hits: Sequence[Hit], depths: _Depths) -> Iterator[str]:
    for place, hit in enumerate(hits, start=1):
        near, far = _clash_span(hit)
        x, wide = depths.span(hit.box, near, far)
        grid, box = depths.grid, hit.box
        y = grid.y(box.y_mm + box.height_mm)
        yield ink.hatched((x, y + 0.3), (max(wide, 0.8), grid.mm(box.height_mm) - 0.6))
        centre = (x + wide / 2, y + grid.mm(box.height_mm) / 2)
        yield _numbered(centre, place)


def _clash_span(hit: Hit) -> tuple[float, float]:
    """From where to where a clash reaches, in depth from the box's own rails."""
    if hit.against == "lid before":
        return -hit.needs_mm, -hit.has_mm
    if hit.against == "box" and hit.other is not None:
        other = hit.other.depth_mm or 0.0
        mine = hit.box.depth_mm or 0.0
        if hit.meets == "plugs":
            other += hit.other.rear_plugs_mm
            mine += hit.box.rear_plugs_mm
        return hit.has_mm - other, mine
    return hit.has_mm, hit.needs_mm


def _numbered(centre: ink.Place, place: int) -> str:
    figure = ink.text(
        (centre[0], ink.middle(centre[1], ink.SMALL)),
        str(place),
        size=ink.SMALL,
        style="bold",
        anchor="middle",
    )
    return ink.circle(centre, 1.8, weight=ink.THIN, fill="white") + figure


_AGAINST = {
    "lid before": "rack.against_lid",
    "case behind": "rack.against_rear_lid",
    "bar": "rack.against_bar",
}


def _list(case: Elevation, grid: Grid, left: float, edition: Edition) -> Iterator[str]:
    """What clashes, in words, beside the section."""
    right = ink.PORTRAIT_MM[0]
    y = grid.head
    if case.hits:
        yield ink.caps((left, y), edition.say("rack.what_clashes"))
        y += 1.4
        yield ink.line((left, y), (right, y), weight=ink.HAIR)
    most = int((grid.foot - y) / 7.4)
    for place, hit in enumerate(case.hits[:most], start=1):
        y += 4.2
        against = (
            hit.other.seat.name if hit.other is not None else edition.say(_AGAINST[hit.against])
        )
        yield _numbered((left + 1.8, y - 0.8), place)
        key = "rack.its_plugs" if hit.meets == "plugs" else "rack.its_body"
        words = edition.say(key, box=hit.box.seat.name)
        yield ink.text(
            (left + 4.6, y), words, size=ink.SMALL, style="medium", within=right - left - 4.6
        )
        y += 3.2
        figures = edition.say("rack.short", short=edition.small(hit.short_mm), against=against)
        yield ink.text((left + 4.6, y), figures, size=ink.SMALL, within=right - left - 4.6)
    if len(case.hits) > most:
        words = edition.say("rack.more", count=len(case.hits) - most)
        yield ink.text((left, y + 4), words, size=ink.SMALL)
