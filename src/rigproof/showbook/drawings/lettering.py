"""How wide text is in the faces that the book is set in, and names cut to the room they have.

The typesetter draws the letters of a drawing, but it is told where each text stands; so the widths
are read here from the same font files, without opening them as fonts.
"""

import re
import struct
import unicodedata
from collections.abc import Iterator, Mapping
from functools import cache
from itertools import groupby
from typing import Literal

from rigproof.showbook.glyphs import FONT_DIR, STAND_IN, printable

Style = Literal["regular", "medium", "bold"]

_TEXT_FACE: Mapping[Style, str] = {
    "regular": "FiraSans-Regular.ttf",
    "medium": "FiraSans-Medium.ttf",
    "bold": "FiraSans-Bold.ttf",
}
TEXT_FAMILY = "Fira Sans"
# In the order in which the sheets fall back on them; they have one style each.
_OTHER_FACES = {
    "Noto Sans Symbols": "NotoSansSymbols-Subset.ttf",
    "Noto Sans Hebrew": "NotoSansHebrew-Regular.ttf",
    "Noto Sans Arabic": "NotoSansArabic-Regular.ttf",
    "Noto Sans JP": "NotoSansJP-Subset.ttf",
}
# Joined letters and marks may come out a little wider than the letters by themselves.
_SHAPING_RATIO = 1.06
# No drawing has room for more, and measuring 10,000 letters to cut them to 30 helps nobody.
_LETTERS_LOOKED_AT = 300
ELLIPSIS = "…"


def one_line(text: str) -> str:
    """A user's text as one line of letters that the fonts can print."""
    line = printable(" ".join(text[: 4 * _LETTERS_LOOKED_AT].split()))[:_LETTERS_LOOKED_AT]
    return line if line.isascii() else " ".join(printable("".join(_whole(line))).split())


# A drawing's text must be made of shapes that each stand for one letter. Where the typesetter joins
# letters, or builds one from a body and dots, it loses which letter that was, and refuses to make
# an accessible document at all. Running text of the sheets has no such limit.
_SHAPED = re.compile("[\uff61-\uff9f]+|[\ufb1d-\ufbff\ufe70-\ufefc]")  # joined, pointed, half wide
_NEVER_WHOLE = frozenset("\u0268\u2015")
# Arabic letters that the shipped face builds from two parts where they stand alone. The shape that
# ends a word is drawn whole and differs by a short stroke.
_APART_ALONE = frozenset(
    "\u0622\u0623\u0624\u0625\u0626\u0628\u0629\u062a\u062b\u062c\u062e\u0630\u0632\u0634\u0636\u0638\u063a"
    "\u0641\u0642\u0643\u0646\u064a\u0671\u0677\u0679\u067a\u067b\u067e\u067f\u0680\u0683\u0684\u0686\u0687"
    "\u0688\u068c\u068d\u068e\u0691\u0698\u06a4\u06a6\u06ad\u06af\u06b1\u06b3\u06bb\u06c0\u06c5\u06c6\u06c7"
    "\u06c8\u06c9\u06cb\u06d0\u06d3"
)


def _whole(line: str) -> Iterator[str]:
    """The letters in shapes that are drawn whole: no marks apart, Arabic as Unicode's joined forms.

    Applied to what it has made, it changes nothing.
    """
    line = _SHAPED.sub(lambda found: unicodedata.normalize("NFKC", found[0]), line)
    letters = [one for one in line if not unicodedata.category(one).startswith("M")]
    forms = _arabic_forms()
    for place, letter in enumerate(letters):
        if letter not in forms:
            lost = letter in _NEVER_WHOLE or (_is_arabic(letter) and letter.isalpha())
            yield STAND_IN if lost else letter
            continue
        shapes = forms[letter]
        before = forms.get(letters[place - 1], {}) if place else {}
        after = forms.get(letters[place + 1], {}) if place + 1 < len(letters) else {}
        from_before = "<initial>" in before and "<final>" in shapes
        to_after = "<final>" in after and "<initial>" in shapes
        wanted = {
            (False, False): "<final>" if letter in _APART_ALONE else "<isolated>",
            (False, True): "<initial>",
            (True, False): "<final>",
            (True, True): "<medial>",
        }[from_before, to_after]
        yield shapes.get(wanted, STAND_IN if letter in _APART_ALONE else shapes["<isolated>"])


def _is_arabic(letter: str) -> bool:
    return "\u0600" <= letter <= "\u08ff"


@cache
def _arabic_forms() -> Mapping[str, Mapping[str, str]]:
    """Letter -> its shapes by where it joins. Source: the Unicode character database."""
    found: dict[str, dict[str, str]] = {}
    for code in (*range(0xFB50, 0xFC00), *range(0xFE70, 0xFEFD)):
        where, _, letters = unicodedata.decomposition(chr(code)).partition(" ")
        if letters and " " not in letters:
            found.setdefault(chr(int(letters, 16)), {})[where] = chr(code)
    return found


def runs(text: str, style: Style = "medium") -> Iterator[tuple[str, str]]:
    """The text in pieces, each with the family that holds its letters."""
    if text and text.isascii():
        yield TEXT_FAMILY, text
        return
    for family, letters in groupby(text, key=lambda letter: _family(letter, style)):
        yield family, "".join(letters)


def width_mm(text: str, *, size_mm: float, style: Style = "medium", spaced_em: float = 0) -> float:
    """How wide one line comes out. `spaced_em` is added to each letter."""
    return size_mm * (sum(map(_widths_em(style).__getitem__, text)) + spaced_em * len(text))


def fitted(text: str, *, within_mm: float, size_mm: float, style: Style = "medium") -> str:
    """One line of a user's text, cut with an ellipsis where it is too long.

    >>> fitted("Accordion", within_mm=9, size_mm=2.5)
    'Accor…'
    """
    line = one_line(text)
    if width_mm(line, size_mm=size_mm, style=style) <= within_mm:
        return line
    room_mm = within_mm - width_mm(ELLIPSIS, size_mm=size_mm, style=style)
    kept = 0
    widths_em = _widths_em(style)
    for letter in line:
        room_mm -= size_mm * widths_em[letter]
        if room_mm < 0:
            break
        kept += 1
    cut = line[:kept].rstrip()
    return cut + ELLIPSIS if cut else ""


@cache
def _family(letter: str, style: Style) -> str:
    code = ord(letter)
    if code in _advances(_TEXT_FACE[style]):
        return TEXT_FAMILY
    return next(
        (family for family, file in _OTHER_FACES.items() if code in _advances(file)), TEXT_FAMILY
    )


class _Widths(dict[str, float]):
    """The advances of letters in one style, each read when it is asked for."""

    def __init__(self, style: Style) -> None:
        self._style = style

    def __missing__(self, letter: str) -> float:
        self[letter] = found = _advance_em(letter, self._style)
        return found


@cache
def _widths_em(style: Style) -> _Widths:
    return _Widths(style)


def _advance_em(letter: str, style: Style) -> float:
    family = _family(letter, style)
    if family == TEXT_FAMILY:
        return _advances(_TEXT_FACE[style]).get(ord(letter), 0.6)
    return _advances(_OTHER_FACES[family])[ord(letter)] * _SHAPING_RATIO


@cache
def _advances(file: str) -> Mapping[int, float]:
    """Code point -> advance in em, from the tables cmap, hhea and hmtx. Source: OpenType 1.9."""
    data = (FONT_DIR / file).read_bytes()
    (count,) = struct.unpack_from(">H", data, 4)
    tables: dict[bytes, int] = {}
    for place in range(count):
        name, _, offset, _ = struct.unpack_from(">4sIII", data, 12 + 16 * place)
        tables[name] = offset
    (em,) = struct.unpack_from(">H", data, tables[b"head"] + 18)
    (measured,) = struct.unpack_from(">H", data, tables[b"hhea"] + 34)
    # Pairs of advance and bearing; the glyphs after the last pair share its advance.
    advances = struct.unpack_from(f">{2 * measured}H", data, tables[b"hmtx"])[::2]
    return {
        code: advances[min(glyph, measured - 1)] / em
        for code, glyph in _characters(data, tables[b"cmap"])
        if glyph
    }


def _characters(data: bytes, cmap: int) -> Iterator[tuple[int, int]]:
    """Code points and their glyphs from the fullest Unicode map of a font."""
    (count,) = struct.unpack_from(">H", data, cmap + 2)
    maps: dict[int, int] = {}
    for place in range(count):
        platform, _, offset = struct.unpack_from(">HHI", data, cmap + 4 + 8 * place)
        (form,) = struct.unpack_from(">H", data, cmap + offset)
        if platform in {0, 3} and form in {4, 12}:
            maps[form] = cmap + offset
    if 12 in maps:
        (groups,) = struct.unpack_from(">I", data, maps[12] + 12)
        for place in range(groups):
            first, last, glyph = struct.unpack_from(">III", data, maps[12] + 16 + 12 * place)
            yield from ((code, glyph + code - first) for code in range(first, last + 1))
        return
    yield from _segments(data, maps[4])


def _segments(data: bytes, start: int) -> Iterator[tuple[int, int]]:
    (doubled,) = struct.unpack_from(">H", data, start + 6)
    segments = doubled // 2
    lasts, firsts, deltas, offsets = (
        struct.unpack_from(f">{segments}H", data, start + at)
        for at in (14, 16 + doubled, 16 + 2 * doubled, 16 + 3 * doubled)
    )
    for place in range(segments):
        for code in range(firsts[place], lasts[place] + 1):
            if code == 0xFFFF:
                continue
            glyph = code
            if offsets[place]:
                at = start + 16 + 3 * doubled + 2 * place + offsets[place]
                (glyph,) = struct.unpack_from(">H", data, at + 2 * (code - firsts[place]))
                if not glyph:
                    continue
            yield code, (glyph + deltas[place]) % 0x10000
