"""A loom as the bench wants it: the trunk, where each branch leaves it, every end with its tape.

In the case the trunk is to scale: its branches leave at the heights of the boxes, because the
elevation knows those. How far a socket lies across its panel is not in the file, so what is left
of each lead for its two ends is told as a figure. Outside the case the trunk is drawn short.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from rigproof.showbook.drawings import ink
from rigproof.showbook.drawings.lettering import width_mm

WIDTH = ink.PORTRAIT_MM[0]
_TRUNK_X = WIDTH / 2
_BRACKET = 26.0  # from the trunk to where the ends of a branch fan out
_END = 8.0  # from the bracket to a connector
_ROW = 4.1
_HEAD = 8.2  # name of the box and kind of its plugs, over its ends
_GAP = 4.0
_MARGIN = 5.0
# ISO 5455: 1:2, 1:5, 1:10.
_SCALES = (2, 5, 10)
_LONGEST = 60.0  # of the trunk on paper, where the ends beside it need no more
_BREAK = 10.0  # half the gap in a trunk that is not to scale, where its length stands


@dataclass(frozen=True, slots=True)
class Branch:
    """The ends of a loom at one box. `height_mm` is where it leaves the trunk, if known."""

    box: str
    what: str  # how many of which connector
    ends: tuple[str, ...]  # what stands on the tape of each
    pins: bool  # whether the connectors have pins, not holes
    height_mm: float | None


@dataclass(frozen=True, slots=True)
class Loom:
    """Branches where signals enter it and where they leave; `trunk` is its length in words."""

    name: str
    starts: tuple[Branch, ...]
    ends: tuple[Branch, ...]
    trunk: str


@dataclass(frozen=True, slots=True)
class Words:
    """What the drawing says itself, in the language of the paper."""

    not_to_scale: str
    scale: str
    length: Callable[[float], str]  # of so many millimetres


def loom(one: Loom, words: Words) -> ink.Drawing:
    """One loom, its branches left and right of an upright trunk."""
    branches = (*one.starts, *one.ends)
    heights = [b.height_mm for b in branches if b.height_mm is not None]
    to_scale = len(heights) == len(branches) and max(heights) > min(heights)
    tall = max(_stack(one.starts), _stack(one.ends))
    if to_scale:
        span = max(heights) - min(heights)
        scale = next((s for s in _SCALES if span / s <= max(_LONGEST, tall + 20)), _SCALES[-1])
        long = span / scale
    else:
        scale, long = 0, 0.0
    height = max(tall, long) + 2 * _MARGIN + 4
    top = (height - long) / 2
    levels = {
        id(b): top + (max(heights) - b.height_mm) / scale
        if to_scale and b.height_mm is not None
        else height / 2
        for b in branches
    }
    marks = [
        ink.group(name, _side(branches, side, levels, height, scale))
        for name, branches, side in (("starts", one.starts, -1), ("ends", one.ends, 1))
    ]
    marks.append(ink.group("trunk", _trunk(one, words, levels, top, long, scale)))
    said = words.scale.format(scale=scale) if scale else words.not_to_scale
    alt = f"{one.name}. " + "; ".join(
        f"{b.box}: {b.what}: {', '.join(b.ends)}" for b in (*one.starts, *one.ends)
    )
    return ink.Drawing(ink.sheet(WIDTH, height, marks), WIDTH, height, one.name, alt, caption=said)


def _tall(branch: Branch) -> float:
    return _HEAD + _ROW * len(branch.ends)


def _stack(branches: Sequence[Branch]) -> float:
    return sum(map(_tall, branches)) + _GAP * max(0, len(branches) - 1)


def _trunk(
    one: Loom, words: Words, levels: dict[int, float], top: float, long: float, scale: int
) -> Iterator[str]:
    if not scale:
        for side in (-1, 1):
            inner = (_TRUNK_X + side * _BREAK, top)
            yield ink.line((_TRUNK_X + side * _BRACKET, top), inner, weight=3 * ink.HEAVY)
            yield ink.line(
                (inner[0] - 0.9, top + 2.4), (inner[0] + 0.9, top - 2.4), weight=ink.FIRM
            )
        at = (_TRUNK_X, ink.middle(top, ink.NAME))
        yield ink.text(at, one.trunk, size=ink.NAME, style="bold", anchor="middle")
        return
    foot = top + long
    yield ink.line((_TRUNK_X, top), (_TRUNK_X, foot), weight=3 * ink.HEAVY)
    points = sorted({round(y, 3) for y in levels.values()})
    for y in points:
        yield ink.dot((_TRUNK_X, y), 1.3)
    for upper, lower in pairwise(points):
        if lower - upper < 3.4:
            continue
        length = words.length((lower - upper) * scale)
        middle = (upper + lower) / 2
        wide = width_mm(length, size_mm=ink.SMALL, style="bold")
        corner = (_TRUNK_X + 1.6, middle - 1.4)
        yield ink.rect(corner, (wide + 1.4, 2.8), weight=0, fill="white")
        at = (_TRUNK_X + 2.2, ink.middle(middle, ink.SMALL))
        yield ink.text(at, length, size=ink.SMALL, style="bold")


def _side(
    branches: Sequence[Branch], side: int, levels: dict[int, float], height: float, scale: int
) -> Iterator[str]:
    """The branches of one side, kept in the order of their heights and apart from each other."""
    ordered = sorted(branches, key=lambda b: (levels[id(b)], b.box))
    y = (height - _stack(ordered)) / 2
    for branch in ordered:
        yield from _branch(branch, side, levels[id(branch)] if scale else None, y)
        y += _tall(branch) + _GAP


def _branch(branch: Branch, side: int, level: float | None, top: float) -> Iterator[str]:
    bracket = _TRUNK_X + side * _BRACKET
    end = bracket + side * _END
    first = top + _HEAD + _ROW / 2
    rows = [first + _ROW * n for n in range(len(branch.ends))]
    middle = (rows[0] + rows[-1]) / 2
    # A trunk that is not to scale runs level, and meets each bracket where it stands.
    if level is not None:
        yield ink.line((_TRUNK_X, level), (bracket, middle), weight=ink.HEAVY)
    yield ink.line((bracket, rows[0]), (bracket, rows[-1]), weight=ink.FIRM)
    anchor: ink.Anchor = "end" if side < 0 else "start"
    room = WIDTH / 2 - _BRACKET
    yield ink.text(
        (end, top + 3.0), branch.box, size=ink.NAME, style="bold", anchor=anchor, within=room
    )
    yield ink.text((end, top + 6.4), branch.what, size=ink.SMALL, anchor=anchor, within=room)
    for y, words in zip(rows, branch.ends, strict=True):
        yield ink.line((bracket, y), (end - side * 1.1, y), weight=ink.THIN)
        weight = ink.HEAVY if branch.pins else ink.HAIR
        yield ink.circle((end, y), 1.1, weight=weight, fill="white")
        yield ink.text(
            (end + side * 2.2, ink.middle(y, ink.TEXT)),
            words,
            size=ink.TEXT,
            anchor=anchor,
            within=room - _END - 3,
        )
