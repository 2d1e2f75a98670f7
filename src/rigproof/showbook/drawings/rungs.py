"""One way of a signal as a picture of its levels: where it stands at each place, and between what.

A row for each place, from the source down. Across it, all on one scale of decibels: the noise, the
level with its likely range, the peak, and what the place bears. A converter or an earphone changes
what levels are counted in, not what they are worth: the picture takes that out, so that a signal
which nothing touches runs straight down, and the figures stand beside it in their own units.
"""

from collections.abc import Iterator, Sequence

import msgspec

from rigproof.rig import Rig
from rigproof.showbook.drawings import ink
from rigproof.showbook.drawings.ink import Drawing
from rigproof.signal.figures import Part
from rigproof.signal.ladder import Ladder, Rung
from rigproof.signal.words import place

WIDTH_MM = 172.0
_ROW_MM = 8.4
_HEAD_MM = 13.0
_FOOT_MM = 11.5
_NAME_MM = 58.0  # for the place and what happens there
_SCALE_MM = (60.0, 122.0)  # from where to where levels are drawn
_FIGURES_MM = (140.0, 149.5, 161.0, 172.0)  # right edges: level, peak, room, noise
_STEP_DB = 20.0  # between two of the dashed lines
_MARGIN_DB = 4.0
# Parts of a hop that change the unit and not the signal.
_UNITS = frozenset({"dBu to 0 dBFS", "0 dBFS to dBu", "earphone at 1 V", "dBu to dBV"})


class _Place(msgspec.Struct, frozen=True):
    """One rung, and by how much its figures are moved to stand on the common scale."""

    rung: Rung
    shift_db: float


def level_picture(rig: Rig, way: Ladder, title: str) -> Drawing:
    """The ladder of one way, at its true size on paper."""
    places = _placed(way.rungs)
    low_db, high_db = _span(places)
    height = _HEAD_MM + _ROW_MM * len(places) + _FOOT_MM
    marks = [
        *_head(title, way.crest_db),
        *_grid(low_db, high_db, len(places)),
        *_course(places, low_db, high_db),
        *(
            mark
            for number, one in enumerate(places)
            for mark in (*_row(rig, number, one), *_across(number, one, low_db, high_db))
        ),
        *_foot(height),
    ]
    return Drawing(
        svg=ink.sheet(WIDTH_MM, height, marks),
        width_mm=WIDTH_MM,
        height_mm=height,
        title=title,
        alt=_in_words(rig, way, title),
    )


def _placed(rungs: Sequence[Rung]) -> list[_Place]:
    found: list[_Place] = []
    shift_db = 0.0
    for rung in rungs:
        shift_db -= sum(part.value_db for part in rung.step.parts if part.name in _UNITS)
        found.append(_Place(rung, shift_db))
    return found


def _span(places: Sequence[_Place]) -> tuple[float, float]:
    """The lowest and the highest that is drawn."""
    drawn = [
        value + one.shift_db
        for one in places
        for value in (
            *((one.rung.level.low_db, one.rung.level.high_db) if one.rung.level else ()),
            *((one.rung.noise.value_db,) if one.rung.noise else ()),
            one.rung.peak_db,
            one.rung.clip,
        )
        if value is not None
    ] or [0.0]
    return min(drawn) - _MARGIN_DB, max(drawn) + _MARGIN_DB


def _x(db: float, low_db: float, high_db: float) -> float:
    left, right = _SCALE_MM
    return left + (db - low_db) / (high_db - low_db) * (right - left)


def _y(number: int) -> float:
    """The middle of a row."""
    return _HEAD_MM + _ROW_MM * (number + 0.5)


def _head(title: str, crest_db: float) -> Iterator[str]:
    yield ink.text((0, 4.2), title, size=ink.NAME, style="bold", within=WIDTH_MM)
    y = _HEAD_MM - 1.6
    yield ink.caps((0, y), "place, and what happens")
    yield ink.caps((_SCALE_MM[0], y), f"noise, level, peak ({crest_db:g} dB), limit")
    for right, words in zip(_FIGURES_MM, ("level", "peak", "room", "noise"), strict=True):
        yield ink.caps((right, y), words, anchor="end")
    yield ink.line((0, _HEAD_MM), (WIDTH_MM, _HEAD_MM), weight=ink.FIRM)


def _grid(low_db: float, high_db: float, rows: int) -> Iterator[str]:
    """Dashed lines a step apart; only distances can be read off them, levels stand in figures."""
    first = -(-low_db // _STEP_DB)
    at_db = first * _STEP_DB
    foot = _HEAD_MM + _ROW_MM * rows
    while at_db < high_db:
        x = _x(at_db, low_db, high_db)
        yield ink.line((x, _HEAD_MM), (x, foot), weight=ink.HAIR, dash=(0.5, 1.1))
        at_db += _STEP_DB


def _course(places: Sequence[_Place], low_db: float, high_db: float) -> Iterator[str]:
    """The level from row to row; it ends where a figure is missing."""
    points = []
    for number, one in enumerate(places):
        if one.rung.level is None:
            break
        points.append((_x(one.rung.level.value_db + one.shift_db, low_db, high_db), _y(number)))
    if len(points) > 1:
        yield ink.polyline(points, weight=ink.THIN)


def _across(number: int, one: _Place, low_db: float, high_db: float) -> Iterator[str]:
    """What stands at one place."""
    rung, y = one.rung, _y(number)

    def x(db: float) -> float:
        return _x(db + one.shift_db, low_db, high_db)

    if rung.noise is not None:
        end = rung.peak_db if rung.peak_db is not None else rung.noise.value_db
        yield ink.line((x(rung.noise.value_db), y), (x(end), y), weight=ink.HAIR)
        yield ink.line((x(rung.noise.value_db), y - 1.1), (x(rung.noise.value_db), y + 1.1))
    if rung.level is not None:
        low, high = x(rung.level.low_db), x(rung.level.high_db)
        yield ink.rect((low, y - 0.9), (high - low, 1.8), weight=ink.HAIR)
        yield ink.dot((x(rung.level.value_db), y), 0.75)
    if rung.peak_db is not None:
        yield ink.arrow((x(rung.peak_db), y), "right")
    if rung.clip is not None:
        yield ink.line(
            (x(rung.clip), y - 0.42 * _ROW_MM), (x(rung.clip), y + 0.42 * _ROW_MM), weight=ink.HEAVY
        )


def _row(rig: Rig, number: int, one: _Place) -> Iterator[str]:
    """The place in words, and its figures in their own unit with what they are worth."""
    rung, y = one.rung, _y(number)
    yield ink.text((0, y - 0.4), f"{number}", size=ink.SMALL)
    yield ink.text((4.6, y - 0.4), place(rig, rung.place), size=ink.TEXT, within=_NAME_MM - 4.6)
    happens = "; ".join(map(_part, rung.step.parts))
    if rung.missing:
        happens = f"not stated: {', '.join(rung.missing)}"
    yield ink.text((4.6, y + 2.9), happens, size=ink.SMALL, within=_NAME_MM - 4.6)
    level, noise = rung.level, rung.noise
    for right, words in zip(
        _FIGURES_MM,
        (
            f"{level.value_db:.1f}{level.provenance[:1]} {rung.unit}" if level else "",
            "" if rung.peak_db is None else f"{rung.peak_db:.1f}",
            ""
            if rung.headroom_db is None or rung.clip is None
            else f"{rung.headroom_db:.1f}{rung.clip.provenance[:1]}",
            f"{noise.value_db:.1f}{noise.provenance[:1]}" if noise else "",
        ),
        strict=True,
    ):
        yield ink.text((right, ink.middle(y, ink.TEXT)), words, anchor="end")
    foot = _HEAD_MM + _ROW_MM * (number + 1)
    yield ink.line((0, foot), (WIDTH_MM, foot), weight=ink.HAIR)


def _part(part: Part) -> str:
    return f"{part.name} {part.value_db:+.1f}{part.figure.provenance[:1]}"


_FOOT = (
    "Dot: level, in a box as wide as it likely errs. Arrow: peak. Tick: noise, A-weighted. "
    "Bar: what the place bears.",
    "Dashed lines are 20 dB apart; a change of unit alone does not move the dot. "
    "A letter says what a figure is worth:",
    "m measured, d from a data sheet, t typical, a assumed; of the room, what the place bears.",
)


def _foot(height: float) -> Iterator[str]:
    for number, words in enumerate(reversed(_FOOT)):
        y = height - 1.6 - 3.2 * number
        yield ink.text((0, y), words, size=ink.SMALL, within=WIDTH_MM)


def _in_words(rig: Rig, way: Ladder, title: str) -> str:
    first = way.first_to_clip
    clips = (
        f" Clips first: {place(rig, first.place)}, {first.headroom_db:.1f} dB of room."
        if first is not None and first.headroom_db is not None
        else ""
    )
    return f"{title}. {len(way.rungs)} places from the source down.{clips}"
