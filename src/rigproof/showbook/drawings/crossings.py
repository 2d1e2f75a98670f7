"""What each recorded channel holds of each played line, as a table of squares, figures and dots."""

from collections.abc import Iterator, Sequence

from rigproof.linecheck.comparing import CROSSTALK_DB, LineResult
from rigproof.linecheck.responses import HEARD_DB
from rigproof.showbook.drawings import ink
from rigproof.showbook.drawings.ink import Drawing
from rigproof.showbook.edition import Edition

_LEFT = 30.0  # for the names of the channels
_ABOVE = 9.0
_WIDEST = 141.0
_CELL = 5.0
_WITH_NAMES = 3.0  # cells lower than this hold neither a name nor a figure
_LEAST_DOT = 0.25


def crossings(lines: Sequence[LineResult], edition: Edition) -> Drawing:
    """The whole table; its cells shrink where there are many lines."""
    played = max(
        (n for one in lines for n in (one.line.number, one.found or 0, *_others(one))), default=1
    )
    tall = ink.PORTRAIT_MM[1] - _ABOVE - 2
    cell = min(_CELL, _WIDEST / played, tall / max(1, len(lines)))
    width, height = _LEFT + played * cell + 1, _ABOVE + len(lines) * cell + 1
    floor, limit = f"{-HEARD_DB:.0f}", f"{-CROSSTALK_DB[0]:.0f}"
    return Drawing(
        svg=ink.sheet(width, height, _marks(lines, played, cell, edition)),
        width_mm=width,
        height_mm=height,
        title=edition.say("proof.matrix"),
        alt=edition.say("proof.matrix_alt"),
        caption=edition.say("proof.matrix_caption", floor=floor, limit=limit),
    )


def _others(line: LineResult) -> Iterator[int]:
    return (other for other, _ in line.crosstalk)


def _marks(
    lines: Sequence[LineResult], played: int, cell: float, edition: Edition
) -> Iterator[str]:
    named = cell >= _WITH_NAMES
    size = min(ink.SMALL, cell * 0.8)
    yield ink.caps((_LEFT, 2.6), edition.say("proof.played"))
    yield ink.caps((0, _ABOVE - 1.4), edition.say("proof.recorded"))
    for number in range(1, played + 1):
        if named or number % 4 == 1:
            x = _LEFT + (number - 0.5) * cell
            yield ink.text((x, _ABOVE - 1.4), str(number), size=ink.SMALL, anchor="middle")
    for place, one in enumerate(lines):
        y = _ABOVE + place * cell
        number = one.line.number
        base = ink.middle(y + cell / 2, ink.SMALL)
        if named or place % 4 == 0:
            yield ink.text((4.6, base), str(number), size=ink.SMALL, anchor="end")
        if named:
            yield ink.text((5.6, base), one.line.name, size=ink.SMALL, within=_LEFT - 7)
        yield ink.line((_LEFT, y), (_LEFT + played * cell, y), weight=ink.HAIR)
        # Where the channel's own line belongs; what rules the channel stands there or elsewhere.
        yield ink.rect((_LEFT + (number - 1) * cell, y), (cell, cell), weight=ink.THIN)
        if one.found is not None:
            x = _LEFT + (one.found - 1) * cell
            inset = cell * 0.14
            corners = ((inset, inset), (cell - inset, inset))
            lower = ((cell - inset, cell - inset), (inset, cell - inset))
            yield ink.solid((x + dx, y + dy) for dx, dy in (*corners, *lower))
        for other, level_db in one.crosstalk:
            middle = (_LEFT + (other - 0.5) * cell, y + cell / 2)
            if level_db > CROSSTALK_DB[0] and named:
                yield ink.text(
                    (middle[0], ink.middle(middle[1], size)),
                    f"{-level_db:.0f}",
                    size=size,
                    style="bold",
                    anchor="middle",
                )
            else:
                loud = max(0.0, (level_db - HEARD_DB) / (CROSSTALK_DB[0] - HEARD_DB))
                yield ink.dot(middle, max(_LEAST_DOT, min(1.0, loud) * cell * 0.3))
    foot = _ABOVE + len(lines) * cell
    yield ink.line((_LEFT, foot), (_LEFT + played * cell, foot), weight=ink.HAIR)
