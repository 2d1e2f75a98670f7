"""The case as a fine line drawing for the cover: every box in its unit, every socket it has.

An ornament, and a true one: it is made from the same rectangles as the elevations, to scale. It
carries no words; the elevations do.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from rigproof.physics import rackgrid
from rigproof.rack import Box, Elevation, elevation
from rigproof.rig import Rig
from rigproof.rig.geartype import Port

INK = "#16202e"
_WALL_MM = 24.0  # of the case, drawn; its true thickness is not in the file
_LIP_MM = 16.0  # what of the rails shows beside the boxes
_CASTOR_MM = 74.0
_EAR_MM = 17.0

_BOLD, _LINE, _FINE = 3.2, 1.7, 1.0  # strokes, in millimetres of the case


@dataclass(frozen=True, slots=True)
class Engraving:
    """An SVG drawing with the size of what it shows."""

    svg: str
    width_mm: float
    height_mm: float
    boxes: int


def case_front(rig: Rig) -> Engraving | None:
    """The front of the case; None where the rig has no case to draw."""
    found = elevation(rig)
    if found is None:
        return None
    castors = _CASTOR_MM if found.case.castors else 0.0
    width = rackgrid.PANEL_WIDTH_MM + 2 * _WALL_MM
    height = found.height_mm + 2 * _WALL_MM
    boxes = [box for box in found.on("front") if box.seat.high <= found.case.units]
    parts = [*_shell(width, height, castors), *_rails(found)]
    for box in boxes:
        parts += _panel(box, found)
    body = "".join(parts)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-4 -4 {_n(width + 8)} '
        f'{_n(height + castors + 8)}" fill="none" stroke="{INK}" stroke-linejoin="round" '
        f'stroke-linecap="round">{body}</svg>'
    )
    return Engraving(svg, width + 8, height + castors + 8, len(boxes))


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _rect(
    x: float, y: float, w: float, h: float, *, pen: float, round_: float = 0, fill: str = "none"
) -> str:
    corner = f' rx="{_n(round_)}"' if round_ else ""
    return (
        f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(w)}" height="{_n(h)}"{corner} '
        f'stroke-width="{_n(pen)}" fill="{fill}"/>'
    )


def _disc(x: float, y: float, r: float, *, pen: float, fill: str = "none") -> str:
    return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(r)}" stroke-width="{_n(pen)}" fill="{fill}"/>'


def _path(d: str, *, pen: float) -> str:
    return f'<path d="{d}" stroke-width="{_n(pen)}"/>'


def _shell(width: float, height: float, castors: float) -> Iterator[str]:
    """The case: two edges, steel corners, latches at the sides, and what it rolls on."""
    yield _rect(0, 0, width, height, pen=_BOLD, round_=13)
    inner = _WALL_MM - 6
    yield _rect(inner, inner, width - 2 * inner, height - 2 * inner, pen=_LINE)
    leg = 46.0
    for x, sx in ((0.0, 1), (width, -1)):
        for y, sy in ((0.0, 1), (height, -1)):
            yield _path(
                f"M{_n(x + sx * leg)} {_n(y + sy * 2)} L{_n(x + sx * leg)} {_n(y + sy * 11)} "
                f"L{_n(x + sx * 11)} {_n(y + sy * 11)} L{_n(x + sx * 11)} {_n(y + sy * leg)} "
                f"L{_n(x + sx * 2)} {_n(y + sy * leg)}",
                pen=_LINE,
            )
            yield _disc(x + sx * 27, y + sy * 6.5, 1.8, pen=_FINE)
            yield _disc(x + sx * 6.5, y + sy * 27, 1.8, pen=_FINE)
    if castors:
        for x in (74.0, width - 74.0):
            yield _path(
                f"M{_n(x - 30)} {_n(height)} L{_n(x - 13)} {_n(height + 22)} "
                f"M{_n(x + 30)} {_n(height)} L{_n(x + 13)} {_n(height + 22)}",
                pen=_LINE,
            )
            yield _disc(x, height + castors / 2 + 8, castors / 2 - 9, pen=_BOLD)
            yield _disc(x, height + castors / 2 + 8, 6, pen=_LINE)


def _rails(found: Elevation) -> Iterator[str]:
    """Both rails with the three holes of every unit: where nothing hangs, they show."""
    top = _WALL_MM
    for x in (_WALL_MM, _WALL_MM + rackgrid.PANEL_WIDTH_MM - _LIP_MM):
        yield _rect(x, top, _LIP_MM, found.height_mm, pen=_FINE)
    gap = (rackgrid.PANEL_WIDTH_MM - rackgrid.HOLE_ROWS_MM) / 2
    holes = []
    for number in range(1, found.case.units * 3 + 1):
        y = top + found.height_mm - rackgrid.hole_height_mm(number)
        for x in (_WALL_MM + gap, _WALL_MM + rackgrid.PANEL_WIDTH_MM - gap):
            holes.append(f"M{_n(x - 3)} {_n(y - 3)}h6v6h-6z")
    yield _path("".join(holes), pen=_FINE)


def _panel(box: Box, found: Elevation) -> Iterator[str]:
    x = _WALL_MM + box.x_mm
    y = _WALL_MM + found.height_mm - box.y_mm - box.height_mm
    yield _rect(x, y, box.width_mm, box.height_mm, pen=_LINE, round_=2, fill="#ffffff")
    left_ear = box.seat.front_half != "right"
    right_ear = box.seat.front_half != "left"
    for at, present in ((x + 9, left_ear), (x + box.width_mm - 9, right_ear)):
        if present:
            for hole in (11.0, box.height_mm - 11.0):
                yield _rect(at - 5, y + hole - 3, 10, 6, pen=_FINE, round_=3)
    pad = _EAR_MM + 6
    inner_x = x + (pad if left_ear else 8)
    inner_w = box.width_mm - (pad if left_ear else 8) - (pad if right_ear else 8)
    yield from _face(box, inner_x, y, inner_w)


def _face(box: Box, x: float, y: float, w: float) -> Iterator[str]:
    """The front of one box: its sockets where it has any, else what its kind shows."""
    seat = box.seat
    ports = [port for port in seat.type.ports if port.face == "front"]
    rows = max(1, seat.units)
    kind = seat.type.class_
    if kind == "drawer":
        yield _rect(x + 4, y + 7, w - 8, box.height_mm - 14, pen=_FINE, round_=3)
        middle = y + box.height_mm / 2
        yield _rect(x + w / 2 - 46, middle - 7, 92, 14, pen=_LINE, round_=7)
        for at in (x + 26, x + w - 26):
            yield _disc(at, middle, 6, pen=_FINE)
            yield _path(f"M{_n(at)} {_n(middle - 3)}v6", pen=_FINE)
        return
    if kind == "mixer":
        side = box.height_mm - 22
        yield _rect(x + w - side * 1.55, y + 11, side * 1.5, side, pen=_LINE, round_=3)
        w -= side * 1.55 + 12
    sockets = [port for port in ports for _ in range(port.count)]
    if sockets:
        yield from _sockets(sockets, x, y, w, box.height_mm, rows)
        return
    if kind == "blank":
        return
    yield from _louvres(x, y, w, box.height_mm, rows)


def _sockets(
    ports: list[Port], x: float, y: float, w: float, height: float, rows: int
) -> Iterator[str]:
    """The sockets in even rows, as many as there are units; small ones where they are many."""
    across = -(-len(ports) // rows)
    pitch = min(26.5, w / across)
    scale = min(1.0, pitch / 24)
    row_height = height / rows
    start = x + (w - pitch * across) / 2 if len(ports) >= rows * 6 else x + 6
    for place, port in enumerate(ports):
        row, column = divmod(place, across)
        yield _socket(port, start + pitch * (column + 0.5), y + row_height * (row + 0.5), scale)


def _socket(port: Port, x: float, y: float, scale: float) -> str:
    name = port.connector
    if name.startswith(("xlr", "combo")):
        dots = "".join(
            _disc(x + dx * scale, y + dy * scale, 1.35 * scale, pen=_FINE, fill=INK)
            for dx, dy in ((-4.2, -1.4), (4.2, -1.4), (0, 4.2))
        )
        return _disc(x, y, 10.2 * scale, pen=_LINE) + _disc(x, y, 7.6 * scale, pen=_FINE) + dots
    if name.startswith("jack"):
        return _disc(x, y, 6.6 * scale, pen=_LINE) + _disc(x, y, 3 * scale, pen=_FINE)
    if name.startswith("mini"):
        return _disc(x, y, 3.6 * scale, pen=_FINE) + _disc(x, y, 1.4 * scale, pen=_FINE)
    if name.startswith(("rj45", "usb", "lc", "toslink")):
        half = 7.2 if name.startswith("rj45") else 5.0
        return _rect(
            x - half * scale, y - half * 0.8 * scale, 2 * half * scale, 1.6 * half * scale,
            pen=_LINE, round_=1,
        ) + _path(
            f"M{_n(x - half * 0.5 * scale)} {_n(y - half * 0.3 * scale)}h{_n(half * scale)}",
            pen=_FINE,
        )  # fmt: skip
    if port.carries == "mains":
        return _rect(x - 10 * scale, y - 7 * scale, 20 * scale, 14 * scale, pen=_LINE, round_=3)
    return _disc(x, y, 4.4 * scale, pen=_FINE) + _disc(x, y, 1.6 * scale, pen=_FINE)


def _louvres(x: float, y: float, w: float, height: float, rows: int) -> Iterator[str]:
    """A plain front: a lamp, and slots for air."""
    yield _disc(x + 10, y + height / 2, 3, pen=_FINE)
    slots = []
    count = int(w * 0.55 // 9)
    for row in range(rows):
        top = y + height / rows * row + 13
        for place in range(count):
            slots.append(f"M{_n(x + w - 8 - place * 9)} {_n(top)}v{_n(height / rows - 26)}")
    yield _path("".join(slots), pen=_FINE)
