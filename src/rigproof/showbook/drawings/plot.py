"""The stage from above, to scale, the audience at the foot of the sheet.

The performer faces the audience: stage left is at the right of the sheet. Both are written on the
plan, because this is what gets mixed up.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from rigproof.checks.rule import View
from rigproof.rig import Gear, Rig, Venue
from rigproof.rig.band import Position
from rigproof.showbook.drawings import ink
from rigproof.showbook.drawings.cards import Card, card_marks, card_size, key_marks
from rigproof.showbook.drawings.lettering import fitted, width_mm
from rigproof.showbook.drawings.onstage import (
    Player,
    hand_off_words,
    inside_the_case,
    lost_sources,
    mains_words,
    players,
    spot_sources,
    standing_gear,
    wants_mains,
)
from rigproof.showbook.drawings.placing import Area, Put, Segment, Wanted, place
from rigproof.wording import counted, listed

_SCALES = (20, 25, 40, 50, 60, 75, 100, 125, 150, 200, 250, 400, 500, 1000, 2000, 5000, 10000)
_MARGIN, _LITTLE_MARGIN = 34.0, 26.0  # at both sides, for labels and the words left and right
_ABOVE, _FRONT, _BELOW = 8.0, 12.0, 12.5  # on paper: dimension; audience; scale bar and key
_APRON_M = 1.0  # drawn around the people where no stage is stated
_ROW = 3.1
_ROWS_MOST = 6  # of people whose place nobody states


@dataclass(frozen=True, slots=True)
class _Stage:
    """The stage on paper. x_m runs to the right: towards stage left."""

    scale: int
    left_m: float
    right_m: float
    depth_m: float
    stated: bool
    centre: float  # on paper, of the middle of the front edge
    edge: float  # on paper, of the front edge

    def at(self, position: Position | tuple[float, float]) -> ink.Place:
        return (
            self.centre + position[0] * 1000 / self.scale,
            self.edge - position[1] * 1000 / self.scale,
        )

    def mm(self, metres: float) -> float:
        return metres * 1000 / self.scale

    @property
    def area(self) -> Area:
        x, y = self.at((self.left_m, self.depth_m))
        return Area(x, y, self.mm(self.right_m - self.left_m), self.mm(self.depth_m))


@dataclass(frozen=True, slots=True)
class _Thing:
    """Something with a place on the plan and a card beside it."""

    name: str
    at: ink.Place
    reach: float
    card: Card
    taken: tuple[Area, ...]
    marks: tuple[str, ...]
    lines: tuple[Segment, ...] = ()  # had better not be covered


def stage_plot(view: View, venue: Venue | None = None) -> ink.Drawing:
    """The plan of the stage at a venue, or as the band usually stands."""
    rig = view.rig
    width, height = ink.LANDSCAPE_MM
    band = players(rig)
    lost = [one for one in band if one.person.at_m is None]
    rows = min(_ROWS_MOST, -(-len(lost) // 2))
    foot = height - _BELOW - rows * _ROW - (3.0 if rows else 0.0)
    stage = _stage(rig, venue, width, foot)
    things = [
        *(_person(stage, one) for one in band if one.person.at_m is not None),
        *(_gear(rig, stage, gear) for gear in standing_gear(rig)),
        *_spots(rig, stage),
        *_case(rig, stage, venue),
        *_hand_off(view, stage, venue),
        *_circuits(stage, venue),
    ]
    # Words of the frame keep their places; everything else goes around them.
    taken = [area for thing in things for area in thing.taken]
    taken += _frame_areas(rig, stage)
    put = place(
        [
            Wanted(thing.name, *thing.at, thing.reach, _sizes(thing.card))
            for thing in things
        ],
        bounds=Area(0, 0, width, foot - 1.0),
        taken=taken,
        lines=[line for thing in things for line in thing.lines] + _edges(stage.area),
    )
    marks = [ink.group("stage", _stage_marks(rig, stage))]
    # The line of the hand-off runs under everything that it meets.
    drawn = sorted(things, key=lambda thing: thing.name != "hand-off")
    marks += [ink.group(thing.name, thing.marks) for thing in drawn]
    marks += [_label(thing, put[thing.name]) for thing in things if thing.name in put]
    marks.append(ink.group("frame", _frame(rig, stage)))
    marks.append(ink.group("without-place", _without_place(lost, foot + 1.0, rows)))
    marks.append(ink.group("scale", _scale_bar(stage, height - 5.0)))
    marks.append(ink.group("key", key_marks((0.0, height - 1.2), width)))
    return ink.Drawing(
        ink.sheet(width, height, marks),
        width,
        height,
        f"Stage plot: {_short(venue.name or venue.id)}" if venue else "Stage plot",
        _alt(band, stage),
        caption=_caption(stage, venue),
        notes=_notes(rig, stage, venue, lost, [t for t in things if t.name not in put]),
    )


def _short(text: str) -> str:
    return fitted(text, within_mm=90, size_mm=ink.TEXT)


def _stage(rig: Rig, venue: Venue | None, width: float, foot: float) -> _Stage:
    """The stage as the venue states it, else the room that the band takes."""
    room_y = foot - _ABOVE - _FRONT
    if venue is not None and venue.stage_m is not None:
        wide, depth = (max(float(one), 0.5) for one in venue.stage_m)
        left, right, stated, margin = -wide / 2, wide / 2, True, _MARGIN
    else:
        places = [*_places(rig, venue)] or [(-2.0, 2.5), (2.0, 2.5)]
        left = min(x for x, _ in places) - _APRON_M
        right = max(x for x, _ in places) + _APRON_M
        depth = max(1.0, max(y for _, y in places) + _APRON_M)
        stated, margin = False, _LITTLE_MARGIN
    back = max([depth, *(y + deep / 2 for (_, y), (_, deep) in _on_risers(rig))])
    needs = max((right - left) * 1000 / (width - 2 * margin), back * 1000 / room_y)
    scale = next((one for one in _SCALES if one >= needs), _SCALES[-1])
    middle = (left + right) / 2 * 1000 / scale
    return _Stage(scale, left, right, depth, stated, width / 2 - middle, foot - _FRONT)


def _on_risers(rig: Rig) -> list[tuple[Position, tuple[float, float]]]:
    """Where the risers are, and their sizes."""
    return [
        (one.at_m, one.riser_m)
        for one in rig.file.people
        if one.on_stage and one.at_m is not None and one.riser_m is not None
    ]


def _places(rig: Rig, venue: Venue | None) -> Iterator[tuple[float, float]]:
    for person in rig.file.people:
        if person.at_m is not None and person.on_stage:
            yield person.at_m
            if person.riser_m is not None:
                x, y = person.at_m
                yield x - person.riser_m[0] / 2, y
                yield x + person.riser_m[0] / 2, y + person.riser_m[1] / 2
    for gear in standing_gear(rig):
        if gear.at_m is not None:
            yield gear.at_m
    for line in spot_sources(rig):
        if line.source.at_m is not None:
            yield line.source.at_m
    place_of_case = _case_place(rig, venue)
    if place_of_case is not None:
        yield place_of_case


def _edges(area: Area) -> list[Segment]:
    left, top, right, foot = area.x, area.y, area.x + area.width, area.y + area.height
    return [
        ((left, top), (right, top)),
        ((left, foot), (right, foot)),
        ((left, top), (left, foot)),
        ((right, top), (right, foot)),
    ]


def _sizes(card: Card) -> tuple[tuple[float, float], ...]:
    return tuple(card_size(card, form) for form in range(3))


# ---- what stands there -----------------------------------------------------------------------


def _person(stage: _Stage, player: Player) -> _Thing:
    person = player.person
    assert person.at_m is not None
    x, y = stage.at(person.at_m)
    marks: list[str] = []
    notes: tuple[str, ...] = (player.hears,) if player.hears else ()
    lines: list[Segment] = []
    if person.riser_m is not None:
        wide, deep = (float(one) for one in person.riser_m)
        size = (stage.mm(wide), stage.mm(deep))
        marks.append(ink.rect((x - size[0] / 2, y - size[1] / 2), size, weight=ink.FIRM))
        lines += _edges(Area(x - size[0] / 2, y - size[1] / 2, *size))
        notes += (f"riser {wide:g} × {deep:g} m ({ink.feet(wide)} × {ink.feet(deep)})",)
    marks += [
        # From above: shoulders, head, and the nose towards the audience.
        ink.ellipse((x, y - 0.5), (3.1, 1.3), weight=ink.THIN),
        ink.dot((x, y), 1.2),
        ink.line((x, y + 1.0), (x, y + 2.3), weight=ink.FIRM),
    ]
    card = Card(person.name or person.id, person.plays, player.lines, notes)
    body = Area(x - 3.5, y - 1.8, 7.0, 4.4)
    name = f"person-{person.id}"
    return _Thing(name, (x, y), 3.2, card, (body,), tuple(marks), tuple(lines))


def _gear(rig: Rig, stage: _Stage, gear: Gear) -> _Thing:
    assert gear.at_m is not None
    x, y = stage.at(gear.at_m)
    type_ = rig.types[gear.type]
    size = type_.size
    wide = max(2.4, stage.mm(float(size.width_mm or 300) / 1000) if size else 2.4)
    deep = max(1.8, stage.mm(float(size.depth_mm or 200) / 1000) if size else 1.8)
    marks = [ink.rect((x - wide / 2, y - deep / 2), (wide, deep), fill="white")]
    if type_.class_ == "loudspeaker":
        half, low = wide / 2, deep / 2
        outline = (
            (x - half, y - low), (x + half, y - low), (x + half * 0.6, y + low),
            (x - half * 0.6, y + low),
        )  # fmt: skip
        marks = [ink.polyline(outline, closed=True, fill="white", weight=ink.FIRM)]
    elif type_.class_ == "personal-mixer":
        marks += [
            ink.line((x + step * wide, y - deep * 0.3), (x + step * wide, y + deep * 0.3))
            for step in (-0.25, 0.0, 0.25)
        ]
    notes: tuple[str, ...] = ()
    outlet = 0.0
    if wants_mains(rig, gear):
        marks += [*_outlet((x + wide / 2 + 1.5, y))]
        outlet = 3.0
        notes = ("wants a mains outlet",)
    words = gear.name or type_.name
    card = Card(gear.label or words, words if gear.label else "", (), notes, plain=True)
    body = Area(x - wide / 2, y - max(deep, 2.6) / 2, wide + outlet, max(deep, 2.6))
    return _Thing(f"gear-{gear.id}", (x, y), max(wide, deep) / 2, card, (body,), tuple(marks))


def _outlet(centre: ink.Place) -> Iterator[str]:
    """A mains point: a circle with two holes."""
    x, y = centre
    yield ink.circle(centre, 1.3, weight=ink.FIRM, fill="white")
    yield ink.dot((x - 0.5, y), 0.26)
    yield ink.dot((x + 0.5, y), 0.26)


def _spots(rig: Rig, stage: _Stage) -> Iterator[_Thing]:
    for line in spot_sources(rig):
        assert line.source.at_m is not None
        x, y = stage.at(line.source.at_m)
        card = Card("", "", (line,), (), plain=True)
        body = Area(x - 1, y - 1, 2, 2)
        marks = (ink.circle((x, y), 0.8, weight=ink.FIRM), ink.dot((x, y), 0.25))
        yield _Thing(f"source-{line.source.id}", (x, y), 1.0, card, (body,), marks)


def _case_place(rig: Rig, venue: Venue | None) -> Position | None:
    if venue is not None and venue.case_at_m is not None:
        return venue.case_at_m
    return rig.file.case.at_m if rig.file.case else None


def _case(rig: Rig, stage: _Stage, venue: Venue | None) -> Iterator[_Thing]:
    case, at_m = rig.file.case, _case_place(rig, venue)
    if case is None or at_m is None:
        return
    x, y = stage.at(at_m)
    size = rig.types[case.type].case
    wide = max(4.0, stage.mm(float(size.width_mm or 560) / 1000) if size else 4.0)
    deep = max(4.0, stage.mm(float(size.depth_mm or 600) / 1000) if size else 4.0)
    left, top = x - wide / 2, y - deep / 2
    marks = (
        ink.rect((left, top), (wide, deep), weight=ink.HEAVY, fill="white"),
        ink.line((left, top), (left + wide, top + deep), weight=ink.HAIR),
        ink.line((left, top + deep), (left + wide, top), weight=ink.HAIR),
        *_outlet((left - 2.2, y)),
    )
    side = "in the middle" if at_m[0] == 0 else ("stage left" if at_m[0] > 0 else "stage right")
    card = Card(
        case.name or "Case",
        f"the rack, {side}",
        inside_the_case(rig),
        (mains_words(rig, venue),),
    )
    body = Area(left - 3.6, top, wide + 3.6, deep)
    yield _Thing("case", (x, y), max(wide, deep) / 2, card, (body,), marks)


def _hand_off(view: View, stage: _Stage, venue: Venue | None) -> Iterator[_Thing]:
    """A broken line from the case to the side where the house takes over.

    It says where to, not which way: a lead that crosses the stage is drawn along its back.
    """
    at_m = _case_place(view.rig, venue)
    words = hand_off_words(view.rig, view.graph, venue)
    side = venue.desk.side if venue else None
    area = stage.area
    if at_m is None and side is None:
        return
    left, right = area.x, area.x + area.width
    x, y = stage.at(at_m) if at_m is not None else (area.x + area.width / 2, area.y + 6)
    way: list[ink.Place] = []
    match side:
        case "stage left" | "stage right":
            tip_x = max(right, x) + 6 if side == "stage left" else min(left, x) - 6
            over = abs(tip_x - x) > area.width / 2
            run = area.y + 3.0 if over else min(max(y + 4.0, area.y + 3), area.y + area.height)
            way = [(x + 2.0, y), (x + 2.0, run), (tip_x, run)]
            head = ink.arrow(way[-1], "right" if side == "stage left" else "left")
        case "upstage":
            way = [(x + 2.0, y), (x + 2.0, area.y - 4.0)]
            head = ink.arrow(way[-1], "up")
        case "front of house":
            way = [(x + 2.0, y), (x + 2.0, area.y + area.height + 6.0)]
            head = ink.arrow(way[-1], "down")
        case _:
            way, head = [], ""
    if at_m is None:
        way = way[-2:]
    tip = way[-1] if way else (x, y)
    marks = (ink.polyline(way, weight=ink.FIRM, dash=(2.2, 0.9)), head) if way else ()
    lines = ((f"to the house box, {side}",) if side else ()) + words
    bodies = tuple(_strip(one, other) for one, other in pairwise(way))
    reach = 1.6 if way else 5.0
    yield _Thing("hand-off", tip, reach, Card("Hand-off", "", (), lines), bodies, marks)


def _strip(one: ink.Place, other: ink.Place) -> Area:
    """The room of a level or upright line."""
    (x1, y1), (x2, y2) = one, other
    return Area(min(x1, x2) - 0.5, min(y1, y2) - 0.5, abs(x2 - x1) + 1, abs(y2 - y1) + 1)


def _circuits(stage: _Stage, venue: Venue | None) -> Iterator[_Thing]:
    for circuit in venue.circuits if venue else ():
        if circuit.at_m is None:
            continue
        x, y = stage.at(circuit.at_m)
        words = "house circuit" + (f", {circuit.amps_a:g} A" if circuit.amps_a else "")
        shared = (f"shared with {circuit.shared_with}",) if circuit.shared_with else ()
        card = Card(circuit.id, words, (), shared, plain=True)
        body = Area(x - 1.6, y - 1.6, 3.2, 3.2)
        yield _Thing(f"circuit-{circuit.id}", (x, y), 1.6, card, (body,), (*_outlet((x, y)),))


def _label(thing: _Thing, put: Put) -> str:
    marks = [ink.line(*put.leader, weight=ink.HAIR)] if put.leader else []
    marks += card_marks(thing.card, put.form, (put.area.x, put.area.y))
    return ink.group(f"label-{thing.name}", marks)


# ---- the stage itself ------------------------------------------------------------------------


def _stage_marks(rig: Rig, stage: _Stage) -> Iterator[str]:
    area = stage.area
    dash = () if stage.stated else (3.0, 1.2)
    yield ink.rect((area.x, area.y), (area.width, area.height), weight=ink.FIRM, dash=dash)
    foot = area.y + area.height
    if stage.stated:
        yield ink.line((area.x, foot), (area.x + area.width, foot), weight=1.1)
    if stage.left_m < 0 < stage.right_m:
        yield ink.line(
            (stage.centre, area.y),
            (stage.centre, foot),
            weight=ink.HAIR,
            dash=(5, 1.2, 0.8, 1.2),
        )


def _frame(rig: Rig, stage: _Stage) -> Iterator[str]:
    """The words that say which side is which, and the arrow to the audience."""
    area = stage.area
    foot, middle = area.y + area.height, area.x + area.width / 2
    words = "audience"
    wide = ink.caps_width(words, ink.HEAD, 0.3)
    y = foot + 8.0
    yield ink.caps((middle - wide / 2, y), words, size=ink.HEAD, spaced_em=0.3)
    for side in (-1, 1):
        x = middle + side * (wide / 2 + 7)
        yield ink.solid(((x - 1.1, foot + 2.2), (x + 1.1, foot + 2.2), (x + 1.1, foot + 6.2),
                         (x + 2.8, foot + 6.2), (x, foot + 9.8), (x - 2.8, foot + 6.2),
                         (x - 1.1, foot + 6.2)))  # fmt: skip
    y = foot + 4.4
    left, right = area.x, area.x + area.width
    if area.width < 110:  # the words would run into the arrows
        left, right = left - 26.0, right + 26.0
    yield ink.caps((left, y), "stage right", size=ink.TEXT, style="bold")
    yield ink.text((left, y + 3.2), "the performer's right", size=ink.SMALL)
    yield ink.caps((right, y), "stage left", size=ink.TEXT, style="bold", anchor="end")
    yield ink.text((right, y + 3.2), "the performer's left", size=ink.SMALL, anchor="end")
    left, right = area.x, area.x + area.width
    wide_m, deep_m = stage.right_m - stage.left_m, stage.depth_m
    above = _dimension_height(rig, stage)
    if stage.stated:
        words = f"{wide_m:g} m ({ink.feet(wide_m)})"
        yield from _measure((left, above), (right, above), words)
        words = f"{deep_m:g} m ({ink.feet(deep_m)}) deep"
        yield ink.text((left + 1.4, foot - 1.6), words, size=ink.SMALL)
    else:
        yield ink.caps((area.x + 1.2, area.y - 1.4), "upstage")


def _measure(start: ink.Place, end: ink.Place, words: str) -> Iterator[str]:
    (x1, y), (x2, _) = start, end
    wide = width_mm(words, size_mm=ink.SMALL) + 3
    middle = (x1 + x2) / 2
    yield ink.line((x1, y), (middle - wide / 2, y), weight=ink.HAIR)
    yield ink.line((middle + wide / 2, y), (x2, y), weight=ink.HAIR)
    for x in (x1, x2):
        yield ink.line((x - 0.7, y + 0.7), (x + 0.7, y - 0.7), weight=ink.FIRM)
        yield ink.line((x, y - 1.4), (x, y + 1.4), weight=ink.HAIR)
    yield ink.text((middle, ink.middle(y, ink.SMALL)), words, size=ink.SMALL, anchor="middle")


def _dimension_height(rig: Rig, stage: _Stage) -> float:
    """Above the stage, and above a riser that reaches over its back edge."""
    backs = [stage.at((0.0, y + deep / 2))[1] for (_, y), (_, deep) in _on_risers(rig)]
    return max(3.0, min([stage.area.y, *backs]) - 3.0)


def _frame_areas(rig: Rig, stage: _Stage) -> list[Area]:
    area = stage.area
    foot = area.y + area.height
    side = 28.0 if area.width < 110 else 2.0
    above = _dimension_height(rig, stage)
    return [
        Area(area.x - 2, above - 2.2, area.width + 4, 4.4),
        Area(area.x - side, foot + 0.4, area.width + 2 * side, _FRONT),
        Area(area.x, foot - 4.4, 32.0, 4.4),
    ]


def _without_place(lost: Sequence[Player], top: float, rows: int) -> Iterator[str]:
    if not lost:
        return
    width = ink.LANDSCAPE_MM[0]
    yield ink.caps((0, top + 2.0), "place on stage not stated")
    column = width / 2
    for place_, one in enumerate(lost[: rows * 2]):
        x, y = column * (place_ % 2), top + 2.2 + _ROW * (place_ // 2 + 1)
        lines = ", ".join(f"{line.channel} {line.word}" for line in one.lines)
        words = "; ".join(part for part in (one.person.plays, lines, one.hears) if part)
        name = one.person.name or one.person.id
        yield ink.text((x, y), name, size=ink.TEXT, style="bold", within=30)
        yield ink.text((x + 32, y), words, size=ink.SMALL, within=column - 36)


def _scale_bar(stage: _Stage, y: float) -> Iterator[str]:
    """Metres above the bar, feet below it."""
    step = next(one for one in (1, 2, 5, 10, 20, 50, 100, 200) if stage.mm(one) >= 12)
    unit, x0 = stage.mm(step), 0.2
    parts = 4 if 4 * unit <= 70 else 2
    yield ink.rect((x0, y), (parts * unit, 0.9), weight=ink.THIN)
    for part in range(0, parts, 2):
        yield ink.rect((x0 + part * unit, y), (unit, 0.9), weight=ink.THIN, fill=ink.INK)
    for part in range(parts + 1):
        words = f"{part * step} m" if part == parts else str(part * step)
        anchor: ink.Anchor = "middle" if part else "start"
        yield ink.text((x0 + part * unit, y - 0.9), words, size=ink.SMALL, anchor=anchor)
    for part in range(parts // 2 + 1):
        feet = part * 5 * step
        x = x0 + stage.mm(feet * 0.3048)
        yield ink.line((x, y + 0.9), (x, y + 1.7), weight=ink.THIN)
        words = f"{feet} ft" if part == parts // 2 else str(feet)
        anchor = "middle" if part else "start"
        yield ink.text((x, y + 3.7), words, size=ink.SMALL, anchor=anchor)


# ---- in words --------------------------------------------------------------------------------


def _caption(stage: _Stage, venue: Venue | None) -> str:
    said = f"Scale 1:{stage.scale}, seen from above. Heads stand where the rig file says."
    if venue is None:
        said += " Drawn for no particular stage: the broken line is the room that the band takes."
    return said


def _notes(
    rig: Rig,
    stage: _Stage,
    venue: Venue | None,
    lost: Sequence[Player],
    unlabelled: Sequence[_Thing],
) -> tuple[str, ...]:
    notes: list[str] = []
    if venue is not None and not stage.stated:
        notes.append("The size of this stage is not stated (stage_m).")
    sources = [
        f"{line.channel} {_short(line.word)}"
        + (f" ({_short(line.source.stand)})" if line.source.stand else "")
        for line in lost_sources(rig)
    ]
    if sources:
        notes.append(f"Place not stated: {listed(sources)}.")
    if _case_place(rig, venue) is None:
        notes.append("Where the case stands is not stated.")
    if venue is not None and venue.desk.side is None:
        notes.append("At which side the house box is is not stated.")
    loose = [c for c in venue.circuits if c.at_m is None] if venue else []
    if loose:
        words = [f"{c.id} {c.amps_a:g} A" if c.amps_a else c.id for c in loose]
        notes.append(f"House circuits, place not stated: {listed(words)}.")
    off = [_short(p.name or p.id) for p in rig.file.people if not p.on_stage]
    if off:
        notes.append(f"Not on stage: {listed(off)}.")
    outside = [
        _short(one.name or one.id)
        for one in rig.file.people
        if stage.stated and one.on_stage and one.at_m is not None and _outside(stage, one.at_m)
    ]
    if outside:
        notes.append(f"Stands outside this stage: {listed(outside)}.")
    if len(lost) > 2 * _ROWS_MOST:
        notes.append(f"And {counted(len(lost) - 2 * _ROWS_MOST, 'person', 'people')} more "
                     "without a place.")
    if unlabelled:
        names = [_short(thing.card.title or thing.name) for thing in unlabelled]
        notes.append(f"No room on the plan for the label of: {listed(names)}.")
    return tuple(notes)


def _outside(stage: _Stage, at_m: Position) -> bool:
    x, y = at_m
    return not (stage.left_m <= x <= stage.right_m and 0 <= y <= stage.depth_m)


def _alt(band: Sequence[Player], stage: _Stage) -> str:
    placed = [one.person for one in band if one.person.at_m is not None]
    placed.sort(key=lambda person: (person.at_m or (0, 0), person.id))
    names = [_short(person.name or person.id) for person in placed]
    size = (
        f"a stage {stage.right_m - stage.left_m:g} by {stage.depth_m:g} metres"
        if stage.stated
        else "the band's room"
    )
    if not names:
        return f"Plan of {size}; nobody's place is stated."
    return f"Plan of {size}; from stage right to stage left: {listed(names)}."
