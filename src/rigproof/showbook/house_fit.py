"""Whether a hand-off page surely fits its sheet at full size.

Measuring a page before it is set takes the typesetter longer than setting the rest of the book.
So it is first reckoned from the lengths of its texts, on the long side; only what may not fit is
measured, and shrunk where it must be.
"""

from collections.abc import Mapping, Sequence
from textwrap import wrap
from unicodedata import east_asian_width

from rigproof.showbook.edition import Size

# Height left under the title, and what one of each takes, in millimetres at the template's sizes.
_ROOM_MM: Mapping[str, float] = {"a4": 222.0, "letter": 208.0}
_ROW_MM, _MORE_MM = 4.8, 2.6  # a row of one line, and each further line of it
_HEAD_MM = 6.0
_LINE_MM, _PARAGRAPH_MM, _SECTION_MM = 3.5, 0.4, 5.2
_CAUTION_MM = 9.0

# Letters in a line of each column, counted short against an average text.
_NAME, _MICROPHONE, _ASIDE = 22, 32, 37
WIDE_MM: Mapping[Size, float] = {"a4": 172.0, "letter": 175.9}  # within the margins of `style.typ`
_COLUMN_MM = 60.0  # of a crowded page before it is shrunk
_NARROW = 15  # letters of a name there
_BESIDE_MOST = 60  # rows of a page whose table stands beside what is said
_BENEATH_MOST = 8


def placed(page: Mapping[str, object], title: str, paper: Size) -> dict[str, object]:
    """The page with what the template needs to keep it one page: see the three forms there."""
    rows = page["rows"]
    assert isinstance(rows, Sequence)
    if len(rows) > _BESIDE_MOST:
        return {**page, "form": "crowded", **_crowded(page, paper)}
    form = "beside" if len(rows) > _BENEATH_MOST else "beneath"
    return {**page, "form": form, "measure": not surely_fits(page, title, paper)}


def _crowded(page: Mapping[str, object], paper: Size) -> dict[str, float]:
    """Columns of names, and how much the whole is shrunk: the fewest columns that hold it all.

    More columns need a smaller scale and hold their square more, so some number does.
    """
    rows, sections = page["rows"], page["sections"]
    assert isinstance(rows, Sequence)
    assert isinstance(sections, Sequence)
    wide_mm, room_mm = WIDE_MM[paper], _ROOM_MM[paper] * 0.92
    rows_mm = sum(_ROW_MM + (_lines(_words(row), _NARROW) - 1) * _MORE_MM for row in rows)
    columns = 3
    while True:
        shrunk = min(1.0, wide_mm / (columns * _COLUMN_MM))
        tallest_mm = rows_mm / columns + 2 * (_ROW_MM + _MORE_MM) + _HEAD_MM
        each = -(-len(sections) // columns)
        said_mm = max(
            (_aside_mm(sections[at : at + each]) for at in range(0, len(sections), each)),
            default=0.0,
        )
        if (tallest_mm + said_mm) * shrunk <= room_mm:
            return {"columns": columns, "shrunk": shrunk, "wide_mm": wide_mm / shrunk}
        columns += 1


def _words(row: Mapping[str, object]) -> str:
    return str(row["note"] if row["status"] == "held" else row["name"])


def surely_fits(page: Mapping[str, object], title: str, paper: Size) -> bool:
    """True only where both columns end well above the foot of the sheet."""
    rows, sections = page["rows"], page["sections"]
    assert isinstance(rows, Sequence)
    assert isinstance(sections, Sequence)
    if len(rows) > _BESIDE_MOST or _letters(title) > 45:
        return False
    room_mm = _ROOM_MM[paper]
    if len(rows) <= _BENEATH_MOST:  # what is said stands under the table, in two wide columns
        return _table_mm(rows) + _aside_mm(sections) <= room_mm
    return _table_mm(rows) <= room_mm and _aside_mm(sections) <= room_mm


def _table_mm(rows: Sequence[Mapping[str, object]]) -> float:
    height_mm = _HEAD_MM
    for row in rows:
        words = f"{row['microphone']}, {row['stand']}"
        lines = max(_lines(str(row["name"]), _NAME), _lines(words, _MICROPHONE))
        if row["status"] in {"held", "spare"}:
            lines = _lines(str(row["note"]), _NAME + _MICROPHONE)
        height_mm += _ROW_MM + (lines - 1) * _MORE_MM
    return height_mm


def _aside_mm(sections: Sequence[Mapping[str, object]]) -> float:
    height_mm = 0.0
    for section in sections:
        texts = section["lines"]
        assert isinstance(texts, Sequence)
        height_mm += _SECTION_MM + (_CAUTION_MM if section["caution"] else 0)
        for one in texts:
            height_mm += _lines(one["said"], _ASIDE) * _LINE_MM + _PARAGRAPH_MM
    return height_mm


def _lines(text: str, letters: int) -> int:
    wide = _letters(text) - len(text)
    return max(1, len(wrap(text, letters)) + -(-wide // letters))


def _letters(text: str) -> int:
    if text.isascii():
        return len(text)
    return sum(2 if east_asian_width(letter) in "WF" else 1 for letter in text)
