"""The case and the stage as drawings for CAD programs: DXF at true size, one unit a millimetre.

What the rig file states is drawn as it is; what nobody states is not drawn. Each kind of thing has
a layer of its own, so that it can be hidden or printed alone.
"""

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from importlib import import_module
from io import StringIO
from itertools import groupby
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

from rigproof.checks.rule import View
from rigproof.physics import rackgrid
from rigproof.rack import Box, Elevation, elevation
from rigproof.rig import Rig, Venue
from rigproof.rig.band import Position
from rigproof.showbook.drawings.onstage import players, spot_sources, standing_gear
from rigproof.showbook.exchange.pictures import given, stages
from rigproof.showbook.papers import Order
from rigproof.wording.phrases import Language, phrase

if TYPE_CHECKING:
    from ezdxf.document import Drawing

_Face: TypeAlias = Literal["front", "rear"]

# Layer -> its colour by the number that every CAD program knows (7 is black on white).
_CASE_LAYERS = {
    "case": 7, "rails": 8, "holes": 8, "boxes": 7, "behind": 9, "plugs": 5, "lids": 8, "bars": 30,
    "clashes": 1, "free": 9, "names": 7, "measures": 8,
}  # fmt: skip
_STAGE_LAYERS = {
    "stage": 7, "risers": 8, "people": 7, "sources": 5, "gear": 30, "case": 7, "mains": 1,
    "names": 7, "measures": 8,
}  # fmt: skip
_BROKEN = frozenset({"behind", "plugs", "lids"})
_HOLE_MM = 3.5  # radius of a rail hole: 7 mm, common practice, no source
_NAME_ROOM_MM = 120.0  # for the name of a box of which nobody knows the depth
_PANEL_MM = 3.0  # how thick a front panel is drawn
_SMALL_MM, _NAME_MM = 9.0, 12.0  # letters on the case
_STAGE_LETTERS_MM = 70.0
_HEAD_MM, _SPOT_MM = 220.0, 60.0  # radius of a person and of a microphone alone on the stage
_LETTERS_MOST = 80
_WIDTH_OF_LETTER = 0.9  # of its height, on average: only to keep a name inside its box


def outlines(order: Order) -> Iterator[tuple[str, bytes]]:
    """Each drawing under the name of its file: the case from three sides, then the stages."""
    case = elevation(order.rig) if given(order, "rack") else None
    language = order.edition.language
    if case is not None:
        yield "case-front.dxf", _face(case, "front", language)
        yield "case-rear.dxf", _face(case, "rear", language)
        yield "case-section.dxf", _section(order.rig, case, language)
    for name, view, venue in stages(order):
        yield f"{name}.dxf", _stage(view, venue, language)


class _Sheet:
    """One drawing in the making: plain shapes on named layers, in millimetres."""

    def __init__(self, layers: dict[str, int]) -> None:
        from ezdxf import units
        from ezdxf.filemanagement import new

        with _without_clock():
            self.document: Drawing = new("R2010", units=units.MM)
        self.document.header["$MEASUREMENT"] = 1
        self.document.linetypes.add("BROKEN", [12.0, 8.0, -4.0], description="__ __ __")
        for name, colour in layers.items():
            line = "BROKEN" if name in _BROKEN else "Continuous"
            self.document.layers.add(name, color=colour, linetype=line)
        self.space: Any = self.document.modelspace()
        self.places = [(0.0, 0.0)]

    def rect(self, layer: str, left: float, low: float, width: float, height: float) -> None:
        right, high = left + width, low + height
        corners = [(left, low), (right, low), (right, high), (left, high)]
        self.places += corners
        self.space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})

    def line(self, layer: str, start: tuple[float, float], end: tuple[float, float]) -> None:
        self.places += start, end
        self.space.add_line(start, end, dxfattribs={"layer": layer})

    def circle(self, layer: str, centre: tuple[float, float], radius: float) -> None:
        x, y = centre
        self.places += (x - radius, y - radius), (x + radius, y + radius)
        self.space.add_circle(centre, radius, dxfattribs={"layer": layer})

    def text(
        self, layer: str, at: tuple[float, float], words: str, *, height: float, within: float = 0
    ) -> None:
        """A line of text with its middle here; cut where it would leave its box."""
        from ezdxf.enums import TextEntityAlignment

        most = int(within / (height * _WIDTH_OF_LETTER)) if within else _LETTERS_MOST
        shown = _one_line(words, max(4, most))
        if shown:
            text = self.space.add_text(shown, height=height, dxfattribs={"layer": layer})
            text.set_placement(at, align=TextEntityAlignment.MIDDLE_CENTER)
            (x, y), half = at, len(shown) * height * _WIDTH_OF_LETTER / 2
            self.places += (x - half, y - height), (x + half, y + height)

    def written(self) -> bytes:
        """The file. It says how far the drawing reaches: some readers scale it by that."""
        across, up = zip(*self.places, strict=True)
        self.space.reset_extents((min(across), min(up), 0), (max(across), max(up), 0))
        out = StringIO(newline="")
        with _without_clock():
            self.document.write(out)
        return out.getvalue().encode("utf-8", "replace")


@contextmanager
def _without_clock() -> Iterator[None]:
    """No time and no random mark in the file: the same rig gives the same bytes."""
    options: Any = import_module("ezdxf").options
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _one_line(text: str, most: int) -> str:
    """A user's text as a text of the file: none of its signs does anything.

    In this format %% begins a sign, ^ a control character, and a backslash with U+ or M+ a letter
    by its number.
    """
    line = " ".join(
        "".join(sign if sign.isprintable() else " " for sign in text[: 4 * most]).split()
    )
    line = line if len(line) <= most else line[: most - 1].rstrip() + "\u2026"
    line = line.replace("%%", "%%%%%%").replace("^", "^ ")
    return re.sub(r"\\(?=[UuMm]\+)", "\uff3c", line)


# --- the case -----------------------------------------------------------------------------------


def _face(case: Elevation, face: _Face, language: Language) -> bytes:
    """The case from one side: x from the left edge of the panels, y up from unit 1."""
    sheet = _Sheet(_CASE_LAYERS)
    wide, high = rackgrid.PANEL_WIDTH_MM, case.height_mm
    sheet.rect("case", 0, 0, wide, high)
    _rails(sheet, case)
    near, far = case.on(face), case.on("rear" if face == "front" else "front")
    if face == "rear":
        for box in far:
            sheet.rect("behind", *_panel(box, face))
    for box in near:
        left, low, width, height = _panel(box, face)
        sheet.rect("boxes", left, low, width, height)
        middle = (left + width / 2, low + height / 2)
        sheet.text("names", middle, _name(box), height=_NAME_MM, within=width - 40)
    taken = {unit for box in near for unit in range(box.seat.low, box.seat.high + 1)}
    for unit in case.free_front if face == "front" else case.free_rear:
        if unit not in taken:
            y = rackgrid.opening_mm(unit) - rackgrid.UNIT_MM / 2
            sheet.text("free", (wide / 2, y), phrase(language, "exchange.free"), height=_SMALL_MM)
    _numbers(sheet, case, -20.0)
    _outside(sheet, case, (wide / 2, -30.0), language)
    return sheet.written()


def _panel(box: Box, face: _Face) -> tuple[float, float, float, float]:
    left = box.x_mm
    if face == "rear":
        left = rackgrid.PANEL_WIDTH_MM - box.x_mm - box.width_mm
    return left, box.y_mm, box.width_mm, box.height_mm


def _name(box: Box) -> str:
    label = box.seat.gear.label
    return f"{label}: {box.seat.name}" if label and label != box.seat.name else box.seat.name


def _rails(sheet: _Sheet, case: Elevation) -> None:
    wide = rackgrid.PANEL_WIDTH_MM
    reach = (wide - rackgrid.OPENING_WIDTH_MM) / 2
    row = (wide - rackgrid.HOLE_ROWS_MM) / 2
    for left, x in ((0.0, row), (wide - reach, wide - row)):
        sheet.rect("rails", left, 0, reach, case.height_mm)
        for hole in range(1, 3 * case.case.units + 1):
            sheet.circle("holes", (x, rackgrid.hole_height_mm(hole)), _HOLE_MM)


def _numbers(sheet: _Sheet, case: Elevation, x: float) -> None:
    for unit in range(1, case.case.units + 1):
        y = rackgrid.opening_mm(unit) - rackgrid.UNIT_MM / 2
        sheet.text("measures", (x, y), str(unit), height=_SMALL_MM)


def _outside(sheet: _Sheet, case: Elevation, at: tuple[float, float], language: Language) -> None:
    size = case.case
    stated = [one for one in (size.width_mm, size.height_mm, size.depth_mm) if one is not None]
    if len(stated) == 3:
        sides = " \u00d7 ".join(f"{float(one):g}" for one in stated)
        words = phrase(language, "exchange.outside", sides=sides)
        sheet.text("measures", at, words, height=_SMALL_MM)


def _section(rig: Rig, case: Elevation, language: Language) -> bytes:
    """The case cut along its depth: x backwards from the front rails, y up from unit 1."""
    sheet = _Sheet(_CASE_LAYERS)
    size, high = case.case, case.height_mm
    deep = None if size.rail_to_rail_mm is None else float(size.rail_to_rail_mm)
    sheet.line("rails", (0, 0), (0, high))
    if deep is not None:
        sheet.line("case", (0, 0), (deep, 0))
        sheet.line("case", (0, high), (deep, high))
        sheet.line("rails", (deep, 0), (deep, high))
        words = phrase(language, "exchange.rail_to_rail", length=f"{deep:g}")
        sheet.text("measures", (deep / 2, -30), words, height=_SMALL_MM)
        if size.rear_lid_mm is not None:
            sheet.rect("lids", deep, 0, float(size.rear_lid_mm), high)
    if size.front_lid_mm is not None:
        sheet.rect("lids", -float(size.front_lid_mm), 0, float(size.front_lid_mm), high)
    for bar in rig.file.obstacles:
        low = rackgrid.opening_mm(bar.at_unit - 1)
        sheet.rect("bars", float(bar.from_front_mm), low, 20, rackgrid.UNIT_MM)
    for _, alike in groupby(case.boxes, key=lambda box: (box.seat.low, box.seat.face)):
        boxes = list(alike)
        if boxes[0].seat.face == "rear" and deep is None:
            continue  # nobody knows where the rails they hang on are
        for box in boxes:
            _cut(sheet, box, deep or 0.0)
        # Two beside each other hide one another: they share the line of text.
        box = max(boxes, key=lambda one: one.depth_mm or 0.0)
        reach = box.depth_mm or _NAME_ROOM_MM
        middle = (_depth(box, reach / 2, deep or 0.0), box.y_mm + box.height_mm / 2)
        if len(boxes) > 1:
            words = " | ".join(one.seat.gear.label or one.seat.name for one in boxes)
        else:
            words = _name(box)
        sheet.text("names", middle, words, height=_SMALL_MM, within=reach - 6)
    for hit in case.hits:
        if hit.box.seat.face == "rear" and deep is None:
            continue
        near, far = sorted(_depth(hit.box, z, deep or 0.0) for z in (hit.has_mm, hit.needs_mm))
        if hit.against == "lid before":
            near, far = sorted(_depth(hit.box, -z, deep or 0.0) for z in (hit.has_mm, hit.needs_mm))
        sheet.rect("clashes", near, hit.box.y_mm, far - near, hit.box.height_mm)
    _numbers(sheet, case, -float(size.front_lid_mm or 0) - 25.0)
    return sheet.written()


def _depth(box: Box, z_mm: float, deep: float) -> float:
    """A depth behind the rails that a box hangs on, counted from the front rails."""
    return z_mm if box.seat.face == "front" else deep - z_mm


def _cut(sheet: _Sheet, box: Box, deep: float) -> None:
    """A box from the side; of one whose depth nobody states, only its panel."""

    def span(layer: str, near: float, far: float) -> None:
        left, right = sorted((_depth(box, near, deep), _depth(box, far, deep)))
        sheet.rect(layer, left, box.y_mm, right - left, box.height_mm)

    span("boxes", -_PANEL_MM, 0.0)
    if box.depth_mm:
        span("boxes", 0.0, box.depth_mm)
        if box.rear_plugs_mm:
            span("plugs", box.depth_mm, box.depth_mm + box.rear_plugs_mm)
    if box.front_plugs_mm > _PANEL_MM:
        span("plugs", -box.front_plugs_mm, -_PANEL_MM)


# --- the stage ----------------------------------------------------------------------------------


def _stage(view: View, venue: Venue | None, language: Language) -> bytes:
    """From above: x to stage left from the middle of the front edge, y upstage from that edge."""
    sheet = _Sheet(_STAGE_LAYERS)
    rig = view.rig
    if venue is not None and venue.stage_m is not None:
        wide, deep = (float(one) * 1000 for one in venue.stage_m)
        sheet.rect("stage", -wide / 2, 0, wide, deep)
        sides = f"{venue.stage_m[0]:g} \u00d7 {venue.stage_m[1]:g} m"
        sheet.text("measures", (0, deep + 200), sides, height=_STAGE_LETTERS_MM)
    for player in players(rig):
        person = player.person
        if person.at_m is None:
            continue
        x, y = _true(person.at_m)
        if person.riser_m is not None:
            wide, deep = (float(one) * 1000 for one in person.riser_m)
            sheet.rect("risers", x - wide / 2, y - deep / 2, wide, deep)
        sheet.circle("people", (x, y), _HEAD_MM)
        sheet.line("people", (x, y), (x, y - _HEAD_MM))  # the nose points at the audience
        channels = (f"{line.channel} {line.word}" for line in player.lines)
        _under(sheet, (x, y - _HEAD_MM), [person.name or person.id, person.plays, *channels])
    for gear in standing_gear(rig):
        assert gear.at_m is not None
        x, y = _true(gear.at_m)
        size = rig.types[gear.type].size
        if size is not None and size.width_mm is not None and size.depth_mm is not None:
            wide, deep = float(size.width_mm), float(size.depth_mm)
            sheet.rect("gear", x - wide / 2, y - deep / 2, wide, deep)
        else:  # its size is not stated: a cross where it stands
            sheet.line("gear", (x - 80, y), (x + 80, y))
            sheet.line("gear", (x, y - 80), (x, y + 80))
        _under(sheet, (x, y - 150), [rig.box_names[gear.id]])
    for line in spot_sources(rig):
        assert line.source.at_m is not None
        x, y = _true(line.source.at_m)
        sheet.circle("sources", (x, y), _SPOT_MM)
        _under(sheet, (x, y - _SPOT_MM), [f"{line.channel} {line.word}"])
    _case_on_stage(sheet, rig, venue)
    for circuit in venue.circuits if venue is not None else ():
        if circuit.at_m is not None:
            sheet.circle("mains", _true(circuit.at_m), _SPOT_MM)
            x, y = _true(circuit.at_m)
            _under(sheet, (x, y - _SPOT_MM), [circuit.id])
    words = phrase(language, "exchange.audience")
    sheet.text("measures", (0, -300), words, height=_STAGE_LETTERS_MM)
    return sheet.written()


def _true(at_m: Position) -> tuple[float, float]:
    return float(at_m[0]) * 1000, float(at_m[1]) * 1000


def _under(sheet: _Sheet, at: tuple[float, float], lines: Sequence[str]) -> None:
    """Lines of text one under the other, below a place."""
    for number, words in enumerate((line for line in lines if line), 1):
        y = at[1] - number * _STAGE_LETTERS_MM * 1.4
        sheet.text("names", (at[0], y), words, height=_STAGE_LETTERS_MM)


def _case_on_stage(sheet: _Sheet, rig: Rig, venue: Venue | None) -> None:
    case = rig.file.case
    at_m = venue.case_at_m if venue is not None and venue.case_at_m is not None else None
    at_m = at_m or (case.at_m if case is not None else None)
    if case is None or at_m is None:
        return
    x, y = _true(at_m)
    size = rig.types[case.type].case
    if size is not None and size.width_mm is not None and size.depth_mm is not None:
        wide, deep = float(size.width_mm), float(size.depth_mm)
        sheet.rect("case", x - wide / 2, y - deep / 2, wide, deep)
    else:
        sheet.circle("case", (x, y), _HEAD_MM)
    _under(sheet, (x, y - 300), [case.name or "Case"])
