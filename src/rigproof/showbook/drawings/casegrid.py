"""The grid of a case on paper, and the marks that its three views share."""

from collections.abc import Iterator
from dataclasses import dataclass

from rigproof.physics import rackgrid
from rigproof.rack import Elevation
from rigproof.showbook.drawings import ink
from rigproof.showbook.drawings.lettering import width_mm

# On paper, around the opening: walls, castors and the dimension under them.
ROOM_ABOVE = 9.0
ROOM_BELOW = 21.0


@dataclass(frozen=True, slots=True)
class Grid:
    """Where the units of a case stand on paper."""

    scale: int
    left: float  # of the panels
    foot: float  # lower edge of unit 1
    units: int

    def mm(self, true_mm: float) -> float:
        """A true length on paper."""
        return true_mm / self.scale

    def y(self, height_mm: float) -> float:
        return self.foot - height_mm / self.scale

    @property
    def head(self) -> float:
        return self.y(rackgrid.opening_mm(self.units))


def castors(case: Elevation, span: tuple[float, float], foot: float) -> Iterator[str]:
    """Wheels under the case, drawn short: their height is not in the file."""
    if not case.case.castors:
        return
    for x in (span[0] + 9, span[1] - 9):
        yield ink.polyline(((x - 3, foot), (x - 1.6, foot + 1.6), (x + 1.6, foot + 1.6)))
        yield ink.line((x + 1.6, foot + 1.6), (x + 3, foot))
        yield ink.circle((x, foot + 3.2), 2.6, weight=ink.FIRM)
        yield ink.dot((x, foot + 3.2), 0.4)


def dimension(start: ink.Place, end: ink.Place, words: str) -> Iterator[str]:
    """A measured length, level, with its figure on a gap in the middle of the line."""
    (x1, y), (x2, _) = start, end
    wide = width_mm(words, size_mm=ink.SMALL) + 2.4
    middle = (x1 + x2) / 2
    if wide < x2 - x1 - 4:
        yield ink.line((x1, y), (middle - wide / 2, y), weight=ink.HAIR)
        yield ink.line((middle + wide / 2, y), (x2, y), weight=ink.HAIR)
    else:
        yield ink.line((x1, y), (x2, y), weight=ink.HAIR)
        y -= 2.2
    for x in (x1, x2):
        yield ink.line((x - 0.7, start[1] + 0.7), (x + 0.7, start[1] - 0.7), weight=ink.FIRM)
        yield ink.line((x, start[1] - 1.6), (x, start[1] + 1.6), weight=ink.HAIR)
    yield ink.text((middle, ink.middle(y, ink.SMALL)), words, size=ink.SMALL, anchor="middle")
