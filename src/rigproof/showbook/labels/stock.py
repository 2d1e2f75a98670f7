"""Sheets of labels by their dimensions, and where each label comes to lie on the paper.

Plain paper is cut along crop marks. Of label sheets only dimensions are known here: how large the
labels are, how many stand beside and below each other, and where the first one begins.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Generic, TypeVar

import msgspec

from rigproof.showbook.edition import Size

# ISO 216 A4; ANSI/ASME Y14.1 size A.
PAPER_MM: Mapping[Size, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
WAYS_OF_A_PIECE = 8  # tails, looms and most boxes count in eights

# On plain paper: what a printer leaves white, the lines at head and foot, and room for the crop
# marks between two labels.
_SIDE_MM, _HEAD_MM, _FOOT_MM, _APART_MM = 12.0, 20.0, 17.0, 6.0

Kept = TypeVar("Kept")


class StockError(ValueError):
    """A label sheet that cannot be, in words for the user."""


class Stock(msgspec.Struct, frozen=True, kw_only=True):
    """A sheet of labels: their size, their number, the first one's corner, the gaps between."""

    paper: Size = "a4"
    width_mm: float
    height_mm: float
    columns: int
    rows: int
    left_mm: float
    top_mm: float
    gap_x_mm: float = 0
    gap_y_mm: float = 0

    @property
    def places(self) -> int:
        return self.columns * self.rows

    def corner(self, place: int) -> tuple[float, float]:
        """The upper left corner of a label, counted from 0 along the rows."""
        row, column = divmod(place, self.columns)
        return (
            self.left_mm + column * (self.width_mm + self.gap_x_mm),
            self.top_mm + row * (self.height_mm + self.gap_y_mm),
        )


class _Grid(msgspec.Struct, frozen=True):
    paper: Size
    columns: int
    rows: int
    gap_x_mm: float = 0
    gap_y_mm: float = 0


# Usual sheets, from memory, named after the label's width and height in millimetres.
PRESETS: Mapping[str, _Grid] = {
    "70x37": _Grid("a4", 3, 8),
    "70x42.3": _Grid("a4", 3, 7),
    "105x37": _Grid("a4", 2, 8),
    "105x57": _Grid("a4", 2, 5),
    "63.5x38.1": _Grid("a4", 3, 7, 2.5),
    "99.1x38.1": _Grid("a4", 2, 7, 2.5),
    "48.5x25.4": _Grid("a4", 4, 10),
    "66.7x25.4": _Grid("letter", 3, 10, 3.2),
    "101.6x50.8": _Grid("letter", 2, 5, 4.8),
}


def stock(
    size: str,
    *,
    paper: Size,
    grid: tuple[int, int] | None = None,
    margins_mm: tuple[float, float] | None = None,
    gaps_mm: tuple[float, float] | None = None,
) -> Stock:
    """A label sheet from what is known of it; what is not stated is centred on the paper.

    `size` is width x height in millimetres; columns and rows may be left out for a usual size.

    Raises:
        StockError: the labels do not fit on the paper, or nobody says how many there are.

    >>> stock("70x37", paper="a4").corner(4)
    (70.0, 37.5)
    """
    width, height = pair(size)
    usual = PRESETS.get(f"{width:g}x{height:g}")
    if grid is not None:
        columns, rows = grid
    elif usual is not None:
        columns, rows, paper = usual.columns, usual.rows, usual.paper
    else:
        raise StockError(
            f"how many labels of {width:g} x {height:g} mm a sheet holds is not known: "
            f"say --grid COLUMNSxROWS. Known without: {', '.join(PRESETS)}."
        )
    usual_gaps = (usual.gap_x_mm, usual.gap_y_mm) if usual is not None and grid is None else (0, 0)
    gap_x, gap_y = gaps_mm or usual_gaps
    taken = (columns * (width + gap_x) - gap_x, rows * (height + gap_y) - gap_y)
    whole = PAPER_MM[paper]
    left, top = margins_mm or tuple((w - t) / 2 for w, t in zip(whole, taken, strict=True))
    if (
        min(width, height, columns, rows) <= 0
        or min(gap_x, gap_y, left, top) < 0
        or left + taken[0] > whole[0] + 0.05
        or top + taken[1] > whole[1] + 0.05
    ):
        raise StockError(
            f"{columns} x {rows} labels of {width:g} x {height:g} mm need "
            f"{max(left, 0) + taken[0]:g} x {max(top, 0) + taken[1]:g} mm with their margins and "
            f"gaps; the paper has {whole[0]:g} x {whole[1]:g} mm."
        )
    return Stock(
        paper=paper,
        width_mm=width,
        height_mm=height,
        columns=columns,
        rows=rows,
        left_mm=round(left, 3),
        top_mm=round(top, 3),
        gap_x_mm=gap_x,
        gap_y_mm=gap_y,
    )


def pair(text: str, sign: str = "x") -> tuple[float, float]:
    """Two lengths as people write them: 70x37.

    Raises:
        StockError: it is no pair of numbers.

    >>> pair("63.5x38,1")
    (63.5, 38.1)
    """
    parts = text.lower().replace("mm", "").split(sign)
    try:
        first, second = (float(part.strip().replace(",", ".")) for part in parts)
    except ValueError as error:
        raise StockError(f'"{text}" is not two numbers like 70{sign}37.') from error
    if not all(abs(number) < 10_000 for number in (first, second)):
        raise StockError(f'"{text}" is not two lengths in millimetres.')
    return first, second


class Put(msgspec.Struct, Generic[Kept], frozen=True):
    """A label and the corner it lies at."""

    label: Kept
    x_mm: float
    y_mm: float


class Page(msgspec.Struct, Generic[Kept], frozen=True):
    """One page of labels. `flipped`: the paper lies on its long side."""

    flipped: bool
    puts: tuple[Put[Kept], ...]


def plain_room_mm(paper: Size, *, flipped: bool) -> tuple[float, float]:
    """What plain paper has for labels: its width and its height."""
    width, height = PAPER_MM[paper][::-1] if flipped else PAPER_MM[paper]
    return width - 2 * _SIDE_MM, height - _HEAD_MM - _FOOT_MM


def plain_sheets(
    labels: Sequence[tuple[Kept, float, float]],
    paper: Size,
    *,
    flipped: bool,
    caption_mm: float = 0,
) -> Iterator[Page[Kept]]:
    """Labels with their widths and heights row by row on plain paper, in the order given.

    `caption_mm`: what is left above each label for a line outside the cut.
    """
    room_x, room_y = plain_room_mm(paper, flipped=flipped)
    puts: list[Put[Kept]] = []
    x, y, tallest = 0.0, 0.0, 0.0
    for label, width, height in labels:
        if x > 0 and x + width > room_x + 1e-6:
            x, y, tallest = 0.0, y + tallest + _APART_MM + caption_mm, 0.0
        if y > 0 and y + height + caption_mm > room_y + 1e-6:
            yield Page(flipped, tuple(puts))
            puts, x, y, tallest = [], 0.0, 0.0, 0.0
        puts.append(Put(label, _SIDE_MM + x, _HEAD_MM + caption_mm + y))
        x += width + _APART_MM
        tallest = max(tallest, height)
    if puts:
        yield Page(flipped, tuple(puts))


def on_stock(labels: Sequence[Kept], sheet: Stock, first: int) -> Iterator[Page[Kept]]:
    """Labels on a label sheet, one for each place; `first` is the first free place, from 1."""
    puts: list[Put[Kept]] = []
    place = first - 1
    for label in labels:
        if place == sheet.places:
            yield Page(flipped=False, puts=tuple(puts))
            puts, place = [], 0
        puts.append(Put(label, *sheet.corner(place)))
        place += 1
    if puts:
        yield Page(flipped=False, puts=tuple(puts))
