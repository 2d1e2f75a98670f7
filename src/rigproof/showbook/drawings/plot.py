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
from rigproof.showbook.drawings.ground import (
    BELOW,
    Stage,
    both,
    edges,
    frame_areas,
    frame_marks,
    ground_marks,
    scale_bar,
    stage_for,
)
from rigproof.showbook.drawings.lettering import fitted
from rigproof.showbook.drawings.onstage import (
    Line,
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
from rigproof.showbook.edition import ENGLISH, Edition

_ROW = 3.1
_NAMED_MOST = 8  # in one note
_ROWS_MOST = 6  # of people whose place nobody states


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


def stage_plot(view: View, venue: Venue | None = None, edition: Edition = ENGLISH) -> ink.Drawing:
    """The plan of the stage at a venue, or as the band usually stands."""
    rig = view.rig
    width, height = ink.LANDSCAPE_MM
    band = players(rig, edition)
    lost = [one for one in band if one.person.at_m is None]
    rows = min(_ROWS_MOST, -(-len(lost) // 2))
    foot = height - BELOW - rows * _ROW - (3.0 if rows else 0.0)
    stage = stage_for(rig, venue, _places(rig, venue), width, foot)
    things = [
        *(_person(stage, one, edition) for one in band if one.person.at_m is not None),
        *(_gear(rig, stage, gear, edition) for gear in standing_gear(rig)),
        *_spots(rig, stage),
        *_case(rig, stage, venue, edition),
        *_hand_off(view, stage, venue, edition),
        *_circuits(stage, venue, edition),
    ]
    # Words of the frame keep their places; everything else goes around them.
    taken = [area for thing in things for area in thing.taken]
    taken += frame_areas(rig, stage)
    put = place(
        [Wanted(thing.name, *thing.at, thing.reach, _sizes(thing.card)) for thing in things],
        bounds=Area(0, 0, width, foot - 1.0),
        taken=taken,
        lines=[line for thing in things for line in thing.lines] + edges(stage.area),
    )
    marks = [ink.group("stage", ground_marks(stage))]
    # The line of the hand-off runs under everything that it meets.
    drawn = sorted(things, key=lambda thing: thing.name != "hand-off")
    marks += [ink.group(thing.name, thing.marks) for thing in drawn]
    marks += [_label(thing, put[thing.name]) for thing in things if thing.name in put]
    marks.append(ink.group("frame", frame_marks(rig, stage, edition)))
    marks.append(ink.group("without-place", _without_place(lost, foot + 1.0, rows, edition)))
    marks.append(ink.group("scale", scale_bar(stage, height - 5.0)))
    marks.append(ink.group("key", key_marks((0.0, height - 1.2), width, edition)))
    return ink.Drawing(
        ink.sheet(width, height, marks),
        width,
        height,
        edition.say("stage-plot.title_at", where=_short(venue.name or venue.id))
        if venue
        else edition.say("stage-plot.title"),
        _alt(band, stage, edition),
        caption=_caption(stage, venue, edition),
        notes=_notes(rig, stage, venue, lost, [t for t in things if t.name not in put], edition),
    )


def _some(names: Sequence[str], edition: Edition) -> str:
    """The names as a sentence has them; of very many, the first and how many more."""
    if len(names) <= _NAMED_MOST:
        return edition.listed(names)
    first = ", ".join(names[:_NAMED_MOST])
    return edition.say("stage-plot.some", names=first, count=len(names) - _NAMED_MOST)


def _short(text: str) -> str:
    return fitted(text, within_mm=60, size_mm=ink.TEXT)


def _sizes(card: Card) -> tuple[tuple[float, float], ...]:
    return tuple(card_size(card, form) for form in range(3))


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


# ---- what stands there -----------------------------------------------------------------------


def _person(stage: Stage, player: Player, edition: Edition) -> _Thing:
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
        lines += edges(Area(x - size[0] / 2, y - size[1] / 2, *size))
        notes += (edition.say("stage-plot.riser", size=both(edition, wide, deep)),)
    marks += [
        # From above: shoulders, head, and the nose towards the audience.
        ink.ellipse((x, y - 0.5), (3.1, 1.3), weight=ink.THIN),
        ink.dot((x, y), 1.2),
        ink.line((x, y + 1.0), (x, y + 2.3), weight=ink.FIRM),
    ]
    channels = _channels(player.lines, edition)
    card = Card(person.name or person.id, person.plays, player.lines, notes, channels)
    body = Area(x - 3.5, y - 1.8, 7.0, 4.4)
    name = f"person-{person.id}"
    return _Thing(name, (x, y), 3.2, card, (body,), tuple(marks), tuple(lines))


def _channels(lines: Sequence[Line], edition: Edition) -> str:
    known = [line.channel for line in lines if line.channel != "–"]
    return edition.say("stage-plot.channels", numbers=", ".join(known)) if known else ""


def _gear(rig: Rig, stage: Stage, gear: Gear, edition: Edition) -> _Thing:
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
        notes = (edition.say("stage-plot.wants_outlet"),)
    words = rig.box_names[gear.id]
    card = Card(gear.label or words, words if gear.label else "", (), notes, plain=True)
    body = Area(x - wide / 2, y - max(deep, 2.6) / 2, wide + outlet, max(deep, 2.6))
    return _Thing(f"gear-{gear.id}", (x, y), max(wide, deep) / 2, card, (body,), tuple(marks))


def _outlet(centre: ink.Place) -> Iterator[str]:
    """A mains point: a circle with two holes."""
    x, y = centre
    yield ink.circle(centre, 1.3, weight=ink.FIRM, fill="white")
    yield ink.dot((x - 0.5, y), 0.26)
    yield ink.dot((x + 0.5, y), 0.26)


def _spots(rig: Rig, stage: Stage) -> Iterator[_Thing]:
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


def _case(rig: Rig, stage: Stage, venue: Venue | None, edition: Edition) -> Iterator[_Thing]:
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
    if abs(at_m[0]) < 0.05:
        side = edition.say("stage-plot.in_the_middle")
    else:
        side = edition.say("paper.stage_left" if at_m[0] > 0 else "paper.stage_right")
    inside = inside_the_case(rig)
    card = Card(
        case.name or edition.say("stage-plot.case"),
        edition.say("stage-plot.the_rack", side=side),
        inside,
        (mains_words(rig, venue, edition),),
        _channels(inside, edition),
    )
    body = Area(left - 3.6, top, wide + 3.6, deep)
    yield _Thing("case", (x, y), max(wide, deep) / 2, card, (body,), marks)


def _hand_off(view: View, stage: Stage, venue: Venue | None, edition: Edition) -> Iterator[_Thing]:
    """A broken line from the case to the side where the house takes over.

    It says where to, not which way: a lead that crosses the stage is drawn along its back.
    """
    at_m = _case_place(view.rig, venue)
    words = hand_off_words(view.rig, view.graph, venue, edition)
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
    if side:
        to_box = edition.say(
            "stage-plot.to_house_box", side=edition.say(f"paper.{side.replace(' ', '_')}")
        )
        words = (to_box, *words)
    bodies = tuple(_strip(one, other) for one, other in pairwise(way))
    reach = 1.6 if way else 5.0
    yield _Thing(
        "hand-off",
        tip,
        reach,
        Card(edition.say("stage-plot.hand_off"), "", (), words),
        bodies,
        marks,
    )


def _strip(one: ink.Place, other: ink.Place) -> Area:
    """The room of a level or upright line."""
    (x1, y1), (x2, y2) = one, other
    return Area(min(x1, x2) - 0.5, min(y1, y2) - 0.5, abs(x2 - x1) + 1, abs(y2 - y1) + 1)


def _circuits(stage: Stage, venue: Venue | None, edition: Edition) -> Iterator[_Thing]:
    for circuit in venue.circuits if venue else ():
        if circuit.at_m is None:
            continue
        x, y = stage.at(circuit.at_m)
        words = edition.say("stage-plot.house_circuit")
        if circuit.amps_a:
            words += f", {edition.number(circuit.amps_a)} A"
        shared = (
            (edition.say("stage-plot.shared_with", who=circuit.shared_with),)
            if circuit.shared_with
            else ()
        )
        card = Card(circuit.id, words, (), shared, plain=True)
        body = Area(x - 1.6, y - 1.6, 3.2, 3.2)
        yield _Thing(f"circuit-{circuit.id}", (x, y), 1.6, card, (body,), (*_outlet((x, y)),))


def _label(thing: _Thing, put: Put) -> str:
    marks = [ink.line(*put.leader, weight=ink.HAIR)] if put.leader else []
    marks += card_marks(thing.card, put.form, (put.area.x, put.area.y))
    return ink.group(f"label-{thing.name}", marks)


def _without_place(
    lost: Sequence[Player], top: float, rows: int, edition: Edition
) -> Iterator[str]:
    if not lost:
        return
    width = ink.LANDSCAPE_MM[0]
    yield ink.caps((0, top + 2.0), edition.say("stage-plot.not_stated"))
    column = width / 2
    for place_, one in enumerate(lost[: rows * 2]):
        x, y = column * (place_ % 2), top + 2.2 + _ROW * (place_ // 2 + 1)
        lines = ", ".join(f"{line.channel} {line.word}" for line in one.lines)
        words = "; ".join(part for part in (one.person.plays, lines, one.hears) if part)
        name = one.person.name or one.person.id
        yield ink.text((x, y), name, size=ink.TEXT, style="bold", within=30)
        yield ink.text((x + 32, y), words, size=ink.SMALL, within=column - 36)


# ---- in words --------------------------------------------------------------------------------


def _caption(stage: Stage, venue: Venue | None, edition: Edition) -> str:
    said = edition.say("stage-plot.caption", scale=stage.scale)
    return said if venue else f"{said} {edition.say('stage-plot.caption_any')}"


def _notes(
    rig: Rig,
    stage: Stage,
    venue: Venue | None,
    lost: Sequence[Player],
    unlabelled: Sequence[_Thing],
    edition: Edition,
) -> tuple[str, ...]:
    say, notes = edition.say, list[str]()
    if venue is not None and not stage.stated:
        notes.append(say("stage-plot.note_size"))
    sources = [
        f"{line.channel} {_short(line.word)}"
        + (f" ({_short(line.source.stand)})" if line.source.stand else "")
        for line in lost_sources(rig)
    ]
    if sources:
        notes.append(say("stage-plot.note_sources", names=_some(sources, edition)))
    if _case_place(rig, venue) is None:
        notes.append(say("stage-plot.note_case"))
    if venue is not None and venue.desk.side is None:
        notes.append(say("stage-plot.note_side"))
    loose = [c for c in venue.circuits if c.at_m is None] if venue else []
    if loose:
        words = [f"{c.id} {edition.number(c.amps_a)} A" if c.amps_a else c.id for c in loose]
        notes.append(say("stage-plot.note_circuits", names=_some(words, edition)))
    off = [_short(p.name or p.id) for p in rig.file.people if not p.on_stage]
    if off:
        notes.append(say("stage-plot.note_off", names=_some(off, edition)))
    standing = [one for one in rig.file.people if one.on_stage] + list(standing_gear(rig))
    outside = [
        _short(one.name or one.id)
        for one in standing
        if stage.stated and one.at_m is not None and _outside(stage, one.at_m)
    ]
    if outside:
        notes.append(say("stage-plot.note_outside", names=_some(outside, edition)))
    if len(lost) > 2 * _ROWS_MOST:
        notes.append(say("stage-plot.note_more", n=len(lost) - 2 * _ROWS_MOST))
    if unlabelled:
        names = [_short(thing.card.title or thing.name) for thing in unlabelled]
        notes.append(say("stage-plot.note_no_room", names=_some(names, edition)))
    return tuple(notes)


def _outside(stage: Stage, at_m: Position) -> bool:
    x, y = at_m
    return not (stage.left_m <= x <= stage.right_m and 0 <= y <= stage.depth_m)


def _alt(band: Sequence[Player], stage: Stage, edition: Edition) -> str:
    placed = [one.person for one in band if one.person.at_m is not None]
    placed.sort(key=lambda person: (person.at_m or (0, 0), person.id))
    names = [_short(person.name or person.id) for person in placed]
    size = (
        edition.say(
            "stage-plot.alt_stage",
            wide=edition.length(stage.right_m - stage.left_m),
            deep=edition.length(stage.depth_m),
        )
        if stage.stated
        else edition.say("stage-plot.alt_room")
    )
    if not names:
        return edition.say("stage-plot.alt_nobody", stage=size)
    return edition.say("stage-plot.alt", stage=size, names=edition.listed(names))
