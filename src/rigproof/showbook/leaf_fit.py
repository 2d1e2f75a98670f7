"""Which way of setting a person's leaf surely holds it on one side, and which surely does not.

To measure a leaf costs as much as to set it, and its layouts are not kept for the next version. So
its height is reckoned here, line by line as `blocks.typ` sets it; only where the reckoning is too
near the foot of the sheet to be sure does the typesetter measure.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import pairwise
from math import ceil
from typing import Any, NamedTuple

from rigproof.showbook.drawings.lettering import Style, width_mm
from rigproof.showbook.edition import Size
from rigproof.showbook.house_fit import WIDE_MM

_MM_PER_PT = 25.4 / 72
_CAP_EM = 0.689  # how high a line of the face is
# Of a page without its margins, as `style.typ` has them.
_HIGH_MM: Mapping[Size, float] = {"a4": 249.0, "letter": 234.4}
_TITLE_MM, _UNDER_LEAD_MM = 16.0, 5.5
_TEXT_PT = 9.2
_GAP_MM = 0.9 * _TEXT_PT * _MM_PER_PT
# Reckoned and set heights differ by less; a page that is reckoned nearer to its foot is measured.
_SURE = 0.03
_NEAR_MM = 0.4  # a text that just fits a column is taken to need another line

Block = Mapping[str, Any]


class _Look(NamedTuple):
    """One way of setting a leaf, as `_leaves` in `blocks.typ` has it."""

    card_pt: float
    room_mm: float
    table_pt: float
    air_mm: float
    caution_mm: float
    over_mm: float


_LOOKS = (
    _Look(9.2, 1.5, 8.4, 0.9, 3.0, 3.8),
    _Look(9.2, 0.8, 8.4, 0.8, 2.0, 3.4),
    _Look(8.4, 1.0, 8.0, 0.8, 1.6, 3.0),
    _Look(7.8, 0.8, 7.8, 0.6, 1.4, 2.2),
)


class _Tall(NamedTuple):
    """A block: its height, and its distance to what stands over and under it, where it states one.

    Of two that are stated the longer counts, and one that is stated before one that is not.
    """

    high_mm: float
    above_mm: float = 0.0
    below_mm: float = 0.0


def closeness(blocks: Sequence[Block], size: Size, lead: str) -> list[int]:
    """How each side of a leaf is set, by the place of its way in `_leaves`; nothing if unsure.

    One figure: all on one side. Three: the fold that opens, by its place, then front and back.
    `lead`: the sentence under the title, where there is one.
    """
    front_mm = _HIGH_MM[size] - _TITLE_MM
    if lead:
        front_mm -= _text_mm(_lines(lead, 10, WIDE_MM[size]), 10, 0.58) + _UNDER_LEAD_MM
    leaf = _Leaf(blocks, WIDE_MM[size])
    whole = leaf.widest(0, len(blocks), front_mm)
    if whole is not None:
        return [whole]
    end = len(blocks)
    for fold in (place for place in reversed(range(end)) if blocks[place]["kind"] == "fold"):
        if leaf.height_mm(0, end, len(_LOOKS) - 1) < front_mm * (1 + _SURE):
            return []  # it might be held all the same
        end = fold
        front = leaf.widest(0, fold, front_mm)
        if front is not None:
            back = leaf.widest(fold, len(blocks), _HIGH_MM[size])
            return [] if back is None else [fold, front, back]
    return []


class _Leaf:
    """The blocks of a leaf and how high each is, set in each of the ways that was asked about."""

    def __init__(self, blocks: Sequence[Block], wide_mm: float) -> None:
        self._blocks, self._wide_mm = blocks, wide_mm
        self._talls: dict[int, list[_Tall | None]] = {}

    def widest(self, start: int, end: int, room_mm: float) -> int | None:
        """The widest way that surely holds these blocks."""
        most_mm = room_mm * (1 - _SURE)
        ways = range(len(_LOOKS))
        return next((way for way in ways if self.height_mm(start, end, way) <= most_mm), None)

    def height_mm(self, start: int, end: int, way: int) -> float:
        """How high these blocks come out."""
        if way not in self._talls:
            self._talls[way] = [
                None if block["kind"] == "fold" else _tall(block, _LOOKS[way], way, self._wide_mm)
                for block in self._blocks
            ]
        tall = [one for one in self._talls[way][start:end] if one is not None]
        gaps = sum(max(one.below_mm, other.above_mm) or _GAP_MM for one, other in pairwise(tall))
        return sum(one.high_mm for one in tall) + gaps


def _tall(block: Block, look: _Look, place: int, wide_mm: float) -> _Tall:
    match block["kind"]:
        case "heading":
            return _Tall(_text_mm(1, 9.6, 0), look.over_mm, 1.5)
        case "say":
            lines = _lines(block["text"], look.card_pt, wide_mm)
            return _Tall(
                _text_mm(lines, look.card_pt, 0.58), 0.6 * look.over_mm, 0.6 * look.over_mm
            )
        case "run":
            return _Tall(_text_mm(_lines(block["said"], 7.8, wide_mm), 7.8, 0.5), 1.6, 2.0)
        case "left-out":
            # Our own word before it takes about three centimetres.
            lines = _lines(block["text"], 7.4, wide_mm - 30)
            return _Tall(1.6 + _text_mm(lines, 7.4, 0.58), 3.0, 2.0)
        case "caution":
            lines = _lines(block["text"], look.card_pt, wide_mm - 10.4)
            high_mm = _text_mm(1, 10, 0) + min(2.8, look.caution_mm + 0.6) + 2 * look.caution_mm
            high_mm += _text_mm(lines, look.card_pt, 0.58)
            return _Tall(high_mm, 2 + look.caution_mm, 2 + look.caution_mm)
        case "facts":
            return _Tall(_facts_mm(block, wide_mm), 2.5, 3.5)
        case "items":
            return _Tall(_items_mm(block, wide_mm), 2.4, 2.8)
        case "remedies":
            return _Tall(_remedies_mm(block, look, wide_mm))
        case "table":
            by_hand = any(column["look"] in ("tick", "write") for column in block["columns"])
            if block["roomy"] and (by_hand or place < 2):
                return _Tall(_roomy_mm(block, wide_mm, many=place > 0))
            if block["halves"] and len(block["rows"]) >= 5:
                middle = ceil(len(block["rows"]) / 2)
                high_mm = max(
                    _table_mm(block, rows, look, (wide_mm - 5) / 2)
                    for rows in (block["rows"][:middle], block["rows"][middle:])
                )
                return _Tall(high_mm)
            return _Tall(_table_mm(block, block["rows"], look, wide_mm))
        case _:
            return _Tall(float("nan"), 0, 0)  # never sure of what is not known here


def _text_mm(lines: int, size_pt: float, leading_em: float) -> float:
    """A paragraph of so many lines."""
    return size_pt * _MM_PER_PT * (lines * _CAP_EM + (lines - 1) * leading_em)


def _lines(text: str, size_pt: float, wide_mm: float, style: Style = "medium") -> int:
    """How many lines a text takes: each holds as many words as it can."""
    size_mm = size_pt * _MM_PER_PT
    space_mm = width_mm(" ", size_mm=size_mm, style=style)
    lines, left_mm = 1, wide_mm
    for word in text.split():
        word_mm = size_mm * _wide_em(word, style)
        if word_mm > left_mm and left_mm < wide_mm:
            lines, left_mm = lines + 1, wide_mm
        left_mm -= word_mm + space_mm
    return lines


@lru_cache(4096)
def _wide_em(word: str, style: Style) -> float:
    """The same words stand in every way of setting a leaf, and on most leaves."""
    return width_mm(word, size_mm=1, style=style)


def _facts_mm(block: Block, wide_mm: float) -> float:
    count = max(1, len(block["rows"]))
    room_mm = (wide_mm - 3 * (count - 1)) / count - 3
    gap_mm = 0.5 * _TEXT_PT * _MM_PER_PT
    high_mm = 0.0
    for fact in block["rows"]:
        # The large figures are of another face, which is narrower.
        one_mm = _text_mm(_lines(fact["label"].upper(), 7.3, room_mm, "bold"), 6.7, 0.4) + gap_mm
        one_mm += _text_mm(_lines(fact["value"], 16, room_mm), 17, 0.4)
        if fact["note"]:
            one_mm += gap_mm + _text_mm(_lines(fact["note"], 7.6, room_mm), 7.6, 0.4)
        high_mm = max(high_mm, one_mm)
    return high_mm + 1


def _items_mm(block: Block, wide_mm: float) -> float:
    texts = [_said(one) for one in block["rows"]]
    short = block["before"] != "dash" and len(texts) > 2 and all(len(one) < 74 for one in texts)
    room_mm = (wide_mm - 4) / 2 - 6 if short else wide_mm - 6
    high = [max(3.0, _text_mm(_lines(one, _TEXT_PT, room_mm), _TEXT_PT, 0.58)) for one in texts]
    rows = [max(high[n : n + 2]) for n in range(0, len(high), 2)] if short else high
    return sum(rows) + 2.1 * (len(rows) - 1)


def _remedies_mm(block: Block, look: _Look, wide_mm: float) -> float:
    size_mm = look.card_pt * _MM_PER_PT
    high_mm = _text_mm(1, 6.7, 0) + 2 * look.room_mm
    for row in block["rows"]:
        lines, left_mm = 1, wide_mm - 26 - 3.4
        full_mm = left_mm
        for number, step in enumerate(row["steps"], 1):
            words = _said(step).split(" ")
            words[0] = f"{number}\u00a0{words[0]}"
            for at, word in enumerate(words):
                word_mm = size_mm * _wide_em(word, "medium")
                if word_mm > left_mm and left_mm < full_mm:
                    lines, left_mm = lines + 1, full_mm
                after_mm = 0.265 if at < len(words) - 1 else 0.9
                left_mm -= word_mm + after_mm * size_mm
        sign = _lines(row["sign"], look.card_pt, 26 - 3.4, "bold")
        high_mm += _text_mm(max(sign, lines), look.card_pt, 0.46) + 2 * look.room_mm
    return high_mm


def _said(cell: Mapping[str, Any]) -> str:
    text = cell.get("v") or cell.get("note") or ""
    return f"{text} {cell['p']}" if cell.get("p") else str(text)


def _roomy_mm(block: Block, wide_mm: float, *, many: bool) -> float:
    count = len(block["rows"])
    many = many or count > 24
    air_mm = 0.66 if count > 60 else 0.42 if count > 34 else 0.78 if many else 1.45
    text_pt, leading_em = (8.5, 0.45) if many else (_TEXT_PT, 0.58)
    own_pt = {"number": 11.0, "small": 7.6}
    sizes = [own_pt.get(column["look"], text_pt) for column in block["columns"]]
    rooms = _columns_mm(block, block["rows"], sizes, 6.7, wide_mm, 1.7)
    high_mm = _head_mm(block, rooms, 6.7, leading_em) + 3.1
    for row in block["rows"]:
        high_mm += _row_mm(block, row, rooms, sizes, leading_em) + 2 * air_mm
    return high_mm + len(block["groups"]) * (0.95 * text_pt * _MM_PER_PT + 4.7)


def _table_mm(block: Block, rows: Sequence[Any], look: _Look, wide_mm: float) -> float:
    sizes = [look.table_pt] * len(block["columns"])
    rooms = _columns_mm(block, rows, sizes, 6.2, wide_mm, 1.1)
    high_mm = _head_mm(block, rooms, 6.2, 0.4) + 2 * look.air_mm
    for row in (*rows, *([block["foot"]] if block["foot"] else [])):
        high_mm += _row_mm(block, row, rooms, sizes, 0.4) + 2 * look.air_mm
    return high_mm + len(block["groups"]) * (0.95 * look.table_pt * _MM_PER_PT + 3.1)


def _columns_mm(
    block: Block,
    rows: Sequence[Any],
    sizes: Sequence[float],
    head_pt: float,
    wide_mm: float,
    inset_mm: float,
) -> list[float]:
    """The room for words in each column: what its texts need, or its share of what is left."""
    rooms = []
    for place, column in enumerate(block["columns"]):
        if column["fr"]:
            rooms.append(0.0)
            continue
        size_mm, style = sizes[place] * _MM_PER_PT, _style(column)
        texts = (_said(row[place]) for row in rows)
        widest_mm = max((width_mm(t, size_mm=size_mm, style=style) for t in texts), default=0.0)
        rooms.append(max(widest_mm, _head_words_mm(column, head_pt)))
    shares = sum(column["fr"] for column in block["columns"])
    left_mm = wide_mm - sum(rooms) - 2 * inset_mm * len(rooms)
    return [
        left_mm * column["fr"] / shares - _NEAR_MM if column["fr"] else room
        for column, room in zip(block["columns"], rooms, strict=True)
    ]


def _style(column: Mapping[str, Any]) -> Style:
    return "bold" if column["look"] in {"number", "name"} else "medium"


def _head_words_mm(column: Mapping[str, Any], head_pt: float) -> float:
    """How wide what stands over a column is."""
    said = f"{column['title']} {column['unit']}".strip().upper()
    return width_mm(said, size_mm=head_pt * _MM_PER_PT, style="bold", spaced_em=0.09)


def _head_mm(block: Block, rooms: Sequence[float], head_pt: float, leading_em: float) -> float:
    lines = 1
    for column, room in zip(block["columns"], rooms, strict=True):
        wide_mm = _head_words_mm(column, head_pt)
        if wide_mm > room + 0.05 and " " in column["title"]:
            lines = max(lines, ceil(wide_mm / room))
    return _text_mm(lines, head_pt, leading_em)


def _row_mm(
    block: Block,
    row: Sequence[Mapping[str, Any]],
    rooms: Sequence[float],
    sizes: Sequence[float],
    leading_em: float,
) -> float:
    return max(
        _text_mm(_lines(_said(cell), size, room + 0.05, _style(column)), size, leading_em)
        for cell, column, room, size in zip(row, block["columns"], rooms, sizes, strict=True)
    )
