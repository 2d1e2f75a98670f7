"""The stage itself on paper: its scale, its edges, and the words that say which side is which."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rigproof.rig import Rig, Venue
from rigproof.rig.band import Position
from rigproof.showbook.drawings import ink
from rigproof.showbook.drawings.lettering import width_mm
from rigproof.showbook.drawings.placing import Area, Segment
from rigproof.showbook.edition import Edition

_SCALES = (20, 25, 40, 50, 60, 75, 100, 125, 150, 200, 250, 400, 500, 1000, 2000, 5000, 10000)
_MARGIN, _LITTLE_MARGIN = 34.0, 26.0  # at both sides, for labels and the words left and right
_ABOVE, _FRONT, BELOW = 8.0, 12.0, 12.5  # on paper: dimension; audience; scale bar and key
_APRON_M = 1.0  # drawn around the people where no stage is stated


@dataclass(frozen=True, slots=True)
class Stage:
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


def stage_for(
    rig: Rig, venue: Venue | None, people: Iterable[tuple[float, float]], width: float, foot: float
) -> Stage:
    """The stage as the venue states it, else the room that the band takes."""
    room_y = foot - _ABOVE - _FRONT
    places = [*people]
    if venue is not None and venue.stage_m is not None:
        wide, depth = (max(float(one), 0.5) for one in venue.stage_m)
        left, right, stated, margin = -wide / 2, wide / 2, True, _MARGIN
    else:
        places = places or [(-2.0, 2.5), (2.0, 2.5)]
        left = min(x for x, _ in places) - _APRON_M
        right = max(x for x, _ in places) + _APRON_M
        depth = max(1.0, max(y for _, y in places) + _APRON_M)
        stated, margin = False, _LITTLE_MARGIN
    # Who stands beside the stage, or a riser that reaches behind it, must be on the paper too.
    middle_m = (left + right) / 2
    aside = max((abs(x - middle_m) for x, _ in places), default=0.0) + 0.5
    back = max([depth, *(y + deep / 2 for (_, y), (_, deep) in on_risers(rig))])
    back = max([back, *(y + 0.3 for _, y in places)])
    needs = max(
        (right - left) * 1000 / (width - 2 * margin),
        2 * aside * 1000 / width,
        back * 1000 / room_y,
    )
    scale = next((one for one in _SCALES if one >= needs), _SCALES[-1])
    middle = (left + right) / 2 * 1000 / scale
    return Stage(scale, left, right, depth, stated, width / 2 - middle, foot - _FRONT)


def on_risers(rig: Rig) -> list[tuple[Position, tuple[float, float]]]:
    """Where the risers are, and their sizes."""
    return [
        (one.at_m, one.riser_m)
        for one in rig.file.people
        if one.on_stage and one.at_m is not None and one.riser_m is not None
    ]


def edges(area: Area) -> list[Segment]:
    """The four sides of a rectangle."""
    left, top, right, foot = area.x, area.y, area.x + area.width, area.y + area.height
    return [
        ((left, top), (right, top)),
        ((left, foot), (right, foot)),
        ((left, top), (left, foot)),
        ((right, top), (right, foot)),
    ]


def ground_marks(stage: Stage) -> Iterator[str]:
    """The stage: its front edge heavy, its middle dotted; broken where its size is not known."""
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


def frame_marks(rig: Rig, stage: Stage, edition: Edition) -> Iterator[str]:
    """The words that say which side is which, and the arrow to the audience."""
    area = stage.area
    foot, middle = area.y + area.height, area.x + area.width / 2
    say = edition.say
    words = say("stage-plot.audience")
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
    yield ink.caps((left, y), say("stage-plot.stage_right"), size=ink.TEXT, style="bold")
    yield ink.text((left, y + 3.2), say("stage-plot.performers_right"), size=ink.SMALL)
    words = say("stage-plot.stage_left")
    yield ink.caps((right, y), words, size=ink.TEXT, style="bold", anchor="end")
    words = say("stage-plot.performers_left")
    yield ink.text((right, y + 3.2), words, size=ink.SMALL, anchor="end")
    left, right = area.x, area.x + area.width
    wide_m, deep_m = stage.right_m - stage.left_m, stage.depth_m
    above = _dimension_height(rig, stage)
    if stage.stated:
        yield from _measure((left, above), (right, above), both(edition, wide_m))
        words = say("stage-plot.deep", size=both(edition, deep_m))
        yield ink.text((left + 1.4, foot - 1.6), words, size=ink.SMALL)
    else:
        yield ink.caps((area.x + 1.2, area.y - 1.4), say("stage-plot.upstage"))


def both(edition: Edition, *sides_m: float) -> str:
    """A size in metres and in feet and inches, the edition's own first: crews of both read it."""
    metric = f"{' × '.join(edition.number(one, 2) for one in sides_m)} m"
    feet = " × ".join(map(ink.feet, sides_m))
    return f"{feet} ({metric})" if edition.measures == "imperial" else f"{metric} ({feet})"


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


def _dimension_height(rig: Rig, stage: Stage) -> float:
    """Above the stage, and above a riser that reaches over its back edge."""
    backs = [stage.at((0.0, y + deep / 2))[1] for (_, y), (_, deep) in on_risers(rig)]
    return max(3.0, min([stage.area.y, *backs]) - 3.0)


def frame_areas(rig: Rig, stage: Stage) -> list[Area]:
    """What the words and measures around the stage take up."""
    area = stage.area
    foot = area.y + area.height
    side = 28.0 if area.width < 110 else 2.0
    above = _dimension_height(rig, stage)
    return [
        Area(area.x - 2, above - 2.2, area.width + 4, 4.4),
        Area(area.x - side, foot + 0.4, area.width + 2 * side, _FRONT),
        Area(area.x, foot - 4.4, 32.0, 4.4),
    ]


def scale_bar(stage: Stage, y: float) -> Iterator[str]:
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
