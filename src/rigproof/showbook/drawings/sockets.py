"""The sockets of one face of a box, as rows of marks of true size and true number.

A rig file says how many sockets of which kind are on which face; it does not say where on that
face. The rows are in the order of the gear type, and the drawing says so.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from rigproof.rig.geartype import GearType
from rigproof.showbook.drawings import ink
from rigproof.showbook.drawings.lettering import width_mm
from rigproof.showbook.edition import Edition

Shape = Literal["round", "pins", "locked", "block", "outlet", "dotted"]

# Shape and outer size in millimetres as the sockets stand in a panel. From memory: drawings of
# usual chassis parts; a few millimetres either way do not matter at 1:5.
_KINDS: dict[str, tuple[Shape, float, float]] = {
    "xlr": ("round", 24, 24),
    "xlr4": ("round", 24, 24),
    "xlr5": ("round", 24, 24),
    "combo": ("round", 24, 24),
    "jack-ts": ("dotted", 14, 14),
    "jack-trs": ("dotted", 14, 14),
    "mini-trs": ("dotted", 9, 9),
    "mini-ts": ("dotted", 9, 9),
    "mini-trrs": ("dotted", 9, 9),
    "rca": ("dotted", 11, 11),
    "db25": ("block", 53, 13),
    "multipin": ("block", 60, 22),
    "rj45": ("block", 16, 14),
    "rj45-lock": ("locked", 24, 24),
    "bnc": ("dotted", 14, 14),
    "antenna": ("dotted", 12, 12),
    "toslink": ("block", 10, 10),
    "lc": ("block", 14, 12),
    "usb-a": ("block", 14, 7),
    "usb-b": ("block", 12, 11),
    "usb-c": ("block", 10, 4),
    "din5": ("round", 16, 16),
    "speaker-twist": ("locked", 24, 24),
    "iec-c13": ("outlet", 28, 21),
    "iec-c14": ("outlet", 28, 21),
    "iec-c19": ("outlet", 34, 25),
    "iec-c20": ("outlet", 34, 25),
    "iec-c7": ("block", 19, 9),
    "iec-c8": ("block", 19, 9),
    "iec-c5": ("outlet", 18, 14),
    "iec-c6": ("outlet", 18, 14),
    "mains-twist": ("locked", 24, 24),
    "cee-7-3": ("round", 44, 44),
    "cee-7-7": ("round", 37, 37),
    "cee-7-16": ("block", 36, 14),
    "bs-1363": ("outlet", 46, 44),
    "nema-5-15": ("outlet", 34, 28),
    "dc": ("dotted", 9, 9),
}
_NO_SOCKET = frozenset({"air", "capsule", "bare"})
_OTHER: tuple[Shape, float, float] = ("block", 14, 10)

_GAP = 0.7  # on paper, between two sockets
_CAPTION = 2.7  # the height of a bank's caption on paper
_BETWEEN = 3.2  # between two banks of a row


@dataclass(frozen=True, slots=True)
class Bank:
    """Like sockets of one face, with what they are called."""

    name: str
    connector: str
    count: int

    @property
    def caption(self) -> str:
        return f"{self.name} 1-{self.count}" if self.count > 1 else self.name


@dataclass(frozen=True, slots=True)
class _Row:
    """A line of sockets of one bank, sizes on paper."""

    bank: Bank
    first: int
    last: int
    socket: ink.Place
    shape: Shape

    @property
    def caption(self) -> str:
        if self.bank.count == 1:
            return self.bank.name
        return f"{self.bank.name} {self.first}-{self.last}"

    @property
    def pitch(self) -> float:
        return self.socket[0] + _GAP

    @property
    def width(self) -> float:
        words = width_mm(self.caption, size_mm=ink.SMALL)
        return max((self.last - self.first + 1) * self.pitch - _GAP, words)


def banks_of(type_: GearType, face: str, edition: Edition) -> tuple[Bank, ...]:
    """The sockets that a type has on one of its faces, its mains inlet last."""
    banks = [
        Bank(port.name or port.id.replace("-", " "), port.connector, port.count)
        for port in type_.ports
        if port.face == face and port.connector not in _NO_SOCKET
    ]
    power = type_.power
    if face == "rear" and power and power.inlet:
        # With a supply in the lead the inlet of the box is not the one that the figures name.
        inlet = "dc-f" if power.external_supply else power.inlet
        key = "rack.mains_in" if inlet != "dc-f" else "rack.supply"
        banks.append(Bank(edition.say(key), inlet, 1))
    return tuple(banks)


def drawn(
    banks: Sequence[Bank], corner: ink.Place, size: ink.Place, *, scale: float
) -> tuple[str, ...]:
    """All sockets of a face within a rectangle on paper.

    True size where they fit; where a face is too crowded, smaller rather than fewer.
    """
    for shrink in (1.0, 0.85, 0.7, 0.55, 0.4, 0.3):
        rows = _rows(banks, size[0], scale * shrink)
        heights = [_height(row) for row in rows]
        if sum(heights) <= size[1]:
            break
    marks: list[str] = []
    spare = max(0.0, size[1] - sum(heights)) / (len(rows) + 1)
    y = corner[1] + spare
    for row, height in zip(rows, heights, strict=True):
        free = size[0] - sum(piece.width for piece in row)
        gap = min(9.0, free / max(1, len(row)))
        x = corner[0] + max(0.0, (free - gap * (len(row) - 1)) / 2)
        for piece in row:
            marks += _piece(piece, (x, y), height)
            x += piece.width + gap
        y += height + spare
    return tuple(marks)


def _height(row: Sequence[_Row]) -> float:
    return _CAPTION + max(piece.socket[1] for piece in row)


def _rows(banks: Sequence[Bank], width: float, scale: float) -> list[list[_Row]]:
    rows: list[list[_Row]] = []
    free = 0.0
    for bank in banks:
        for piece in _pieces(bank, width, scale):
            if not rows or piece.width + _BETWEEN > free:
                rows.append([])
                free = width + _BETWEEN
            rows[-1].append(piece)
            free -= piece.width + _BETWEEN
    return rows


def _pieces(bank: Bank, width: float, scale: float) -> Iterator[_Row]:
    kind = bank.connector.removesuffix("-m").removesuffix("-f")
    shape, wide, high = _KINDS.get(kind, _OTHER)
    if bank.connector.endswith("-m") and shape == "round":
        shape = "pins"
    socket = (wide * scale, high * scale)
    most = max(1, int((width + _GAP) / (socket[0] + _GAP)))
    # 12 on a line that holds 10 are drawn as 6 and 6.
    lines = -(-bank.count // most)
    each = -(-bank.count // lines)
    for first in range(1, bank.count + 1, each):
        yield _Row(bank, first, min(first + each - 1, bank.count), socket, shape)


def _piece(row: _Row, corner: ink.Place, height: float) -> Iterator[str]:
    x, y = corner
    count = row.last - row.first + 1
    start = x + (row.width - (count * row.pitch - _GAP)) / 2
    centre_y = y + _CAPTION + (height - _CAPTION) / 2
    yield ink.text(
        (x + row.width / 2, y + _CAPTION - 0.75), row.caption, size=ink.SMALL, anchor="middle"
    )
    for place in range(count):
        centre = (start + row.pitch * place + row.socket[0] / 2, centre_y)
        yield from socket_mark(row.shape, centre, row.socket)
        figure = str(row.first + place)
        wide = width_mm(figure, size_mm=ink.SMALL)
        if count > 1 and row.shape in {"round", "pins"} and wide + 1.0 < row.socket[0]:
            yield ink.text(
                (centre[0], ink.middle(centre[1], ink.SMALL)),
                figure,
                size=ink.SMALL,
                anchor="middle",
            )


def socket_mark(shape: Shape, centre: ink.Place, size: ink.Place) -> Iterator[str]:
    """One socket."""
    (x, y), (w, h) = centre, size
    corner = (x - w / 2, y - h / 2)
    if shape in {"round", "pins"}:
        yield ink.circle(centre, w / 2, weight=ink.FIRM if shape == "pins" else ink.HAIR)
    elif shape == "dotted":
        yield ink.circle(centre, w / 2, weight=ink.HAIR)
        yield ink.dot(centre, min(0.35, w / 6))
    elif shape == "locked":
        yield ink.circle(centre, w / 2, weight=ink.HAIR)
        yield ink.rect((x - w * 0.26, y - h * 0.22), (w * 0.52, h * 0.44), weight=ink.HAIR)
    elif shape == "outlet":
        cut = w * 0.16
        left, top, right, foot = corner[0], corner[1], corner[0] + w, corner[1] + h
        outline = (
            (left, foot),
            (left, top + cut),
            (left + cut, top),
            (right - cut, top),
            (right, top + cut),
            (right, foot),
        )
        yield ink.polyline(outline, weight=ink.HAIR, closed=True)
        for pin in (-0.24, 0.0, 0.24):
            up = -0.12 * h if pin == 0 else 0.06 * h
            yield ink.line(
                (x + pin * w, y + up - 0.13 * h), (x + pin * w, y + up + 0.13 * h), weight=ink.HAIR
            )
    else:
        yield ink.rect(corner, size, weight=ink.HAIR)
        yield ink.line(
            (corner[0] + w * 0.25, corner[1] + h * 0.7),
            (corner[0] + w * 0.75, corner[1] + h * 0.7),
            weight=ink.HAIR,
        )
