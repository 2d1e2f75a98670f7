"""Response of each line as a small curve in a box of its own: thirty tell apart at one look."""

from collections.abc import Iterator, Sequence
from math import log10

from rigproof.linecheck.comparing import RESPONSE_DB, LineResult
from rigproof.linecheck.responses import THIRDS_HZ
from rigproof.showbook.drawings import ink
from rigproof.showbook.drawings.ink import Drawing
from rigproof.showbook.edition import Edition

COLUMNS = 6
_BOX = (26.6, 15.0)
_PITCH = (29.0, 20.6)
_NAME = 3.4  # above a box
_UNDER = 3.6  # for the figures of the axis
_TOP_DB, _FOOT_DB = 12.0, -24.0
# At the ends of the sweep a figure says more of the method than of the line.
DRAWN_HZ = (38.0, 17_000.0)
_TICKS_HZ = (100.0, 1000.0, 10_000.0)
_TICK_WORDS = ("100", "1k", "10k")
ROWS = 9  # what a page of A4 or Letter holds


def curves(lines: Sequence[LineResult], edition: Edition) -> Iterator[Drawing]:
    """As many drawings as it takes, each of one page at most."""
    measured = [line for line in lines if line.thirds_db and not line.covered]
    most = COLUMNS * ROWS
    for begin in range(0, len(measured), most):
        part = measured[begin : begin + most]
        rows = -(-len(part) // COLUMNS)
        width, height = COLUMNS * _PITCH[0] - 2, rows * _PITCH[1] + _UNDER
        marks = [
            mark
            for place, line in enumerate(part)
            for mark in _box(
                line,
                ((place % COLUMNS) * _PITCH[0], (place // COLUMNS) * _PITCH[1] + _NAME),
                last=place + COLUMNS >= len(part),
            )
        ]
        yield Drawing(
            svg=ink.sheet(width, height, marks),
            width_mm=width,
            height_mm=height,
            title=edition.say("proof.curves"),
            alt=edition.say("proof.curves_alt", n=len(part)),
            caption=edition.say("proof.curves_caption", limit=f"{RESPONSE_DB[0]:.0f}"),
        )


def _box(line: LineResult, corner: ink.Place, *, last: bool) -> Iterator[str]:
    x, y = corner
    wide, tall = _BOX
    number = str(line.line.number)
    name = f"{number} {line.line.name}".strip()
    bad = line.grade != "pass"
    yield ink.text((x, y - 1), name, size=ink.SMALL, style="bold" if bad else "medium", within=wide)
    yield ink.rect(corner, _BOX, weight=ink.FIRM if bad else ink.HAIR)
    for tick_hz, words in zip(_TICKS_HZ, _TICK_WORDS, strict=True):
        at = x + _across(tick_hz) * wide
        yield ink.line((at, y + tall), (at, y + tall - 1), weight=ink.HAIR)
        if last:
            yield ink.text((at, y + tall + 2.9), words, size=ink.SMALL, anchor="middle")
    for limit_db in (RESPONSE_DB[0], -RESPONSE_DB[0]):
        level = y + _down(limit_db) * tall
        yield ink.line((x, level), (x + wide, level), weight=ink.HAIR, dash=(0.6, 0.9))
    points = [
        (x + _across(hz) * wide, y + _down(min(_TOP_DB, max(_FOOT_DB, level_db))) * tall)
        for hz, level_db in zip(THIRDS_HZ, line.thirds_db, strict=False)
        if DRAWN_HZ[0] < hz < DRAWN_HZ[1]
    ]
    yield ink.polyline(points, weight=ink.FIRM)


def _across(hz: float) -> float:
    """Where a frequency stands between the edges."""
    low, high = map(log10, DRAWN_HZ)
    return (log10(hz) - low) / (high - low)


def _down(level_db: float) -> float:
    return (_TOP_DB - level_db) / (_TOP_DB - _FOOT_DB)
