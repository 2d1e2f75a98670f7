"""Prepare the fonts that the show book ships, and list what they can print.

Run by whoever changes a font, never by the program:

    python tools/fonts.py japanese NotoSansJP-Regular.ttf      # the face as published
    python tools/fonts.py symbols NotoSansSymbols-Regular.ttf
    python tools/fonts.py ranges                               # after any change in the font folder
    python tools/fonts.py latin                                # the text face for the pocket book

All need fontTools. What they write is committed.
"""

import sys
import unicodedata
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

FONT_DIR = Path(__file__).resolve().parent.parent / "src/rigproof/showbook/fonts"

# Arrows, technical signs, shapes, ticks, musical signs: what a sheet or a band name may hold and
# the text face lacks.
_SYMBOL_BLOCKS = (
    (0x2010, 0x206F),
    (0x2070, 0x209F),
    (0x20A0, 0x20CF),
    (0x2100, 0x218F),
    (0x2190, 0x21FF),
    (0x2200, 0x22FF),
    (0x2300, 0x23FF),
    (0x2460, 0x24FF),
    (0x25A0, 0x25FF),
    (0x2600, 0x26FF),
    (0x2700, 0x27BF),
)
_JAPANESE_BLOCKS = ((0x3000, 0x30FF), (0xFF01, 0xFFE6))


def japanese_and_symbols() -> set[int]:
    """Kana, full-width forms, the 2,965 kanji of JIS X 0208 level 1, and symbols.

    Level 1 is rows 16 to 47 of that standard; EUC-JP writes row r, cell c as r+0xA0, c+0xA0.
    """
    wanted = {
        code for low, high in _SYMBOL_BLOCKS + _JAPANESE_BLOCKS for code in range(low, high + 1)
    }
    for row in range(16, 48):
        for cell in range(1, 95):
            try:
                wanted.add(ord(bytes((row + 0xA0, cell + 0xA0)).decode("euc_jp")))
            except UnicodeDecodeError:  # row 47 ends early
                continue
    return wanted


def symbols() -> set[int]:
    """Symbols at the width of Latin text; the Japanese face has them too, but square."""
    return {code for low, high in _SYMBOL_BLOCKS[3:] for code in range(low, high + 1)}


def write_subset(published: Path, wanted: set[int], name: str) -> Path:
    options = subset.Options()
    options.layout_features = ["ccmp", "locl", "mark", "mkmk"]
    options.hinting = False
    options.name_IDs = ["*"]
    options.recalc_timestamp = False
    font = subset.load_font(str(published), options)
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=wanted)
    cutter.subset(font)
    target = FONT_DIR / name
    subset.save_font(font, str(target), options)
    return target


# Latin with its accents, the signs of running text, and what drawings put beside their words.
_LATIN_BLOCKS = (
    (0x20, 0x17F),
    (0x218, 0x21B),
    (0x2010, 0x2044),
    (0x2190, 0x2193),
    (0x2212, 0x2212),
)


def write_latin() -> list[Path]:
    """The faces of the drawings cut down to Latin, small enough to ride inside a file."""
    wanted = {code for low, high in _LATIN_BLOCKS for code in range(low, high + 1)}
    options = subset.Options()
    options.flavor = "woff"
    options.hinting = False
    options.layout_features = ["ccmp", "locl", "mark", "mkmk", "kern", "tnum", "lnum"]
    options.name_IDs = ["*"]
    options.recalc_timestamp = False
    written = []
    for style in ("Regular", "Medium", "Bold"):
        font = subset.load_font(str(FONT_DIR / f"FiraSans-{style}.ttf"), options)
        cutter = subset.Subsetter(options)
        cutter.populate(unicodes=wanted)
        cutter.subset(font)
        target = FONT_DIR / f"FiraSans-{style}-Latin.woff"
        subset.save_font(font, str(target), options)
        written.append(target)
    return written


def printable_ranges(folder: Path) -> list[tuple[int, int]]:
    """Every code point that at least one shipped face maps, as closed ranges.

    A name must come out whatever style a sheet sets it in. It does, because the four styles of
    the text face map the same characters (a test holds them to it) and the other faces have one
    style, which the typesetter takes whatever is asked.
    """
    codes: set[int] = set()
    for path in sorted(folder.glob("*.ttf")):
        with TTFont(path) as font:
            codes |= set(font.getBestCmap())
    ranges: list[tuple[int, int]] = []
    for code in sorted(codes):
        # Fonts map controls and private characters too; they have no agreed picture, and a tagged
        # PDF may not hold them.
        if unicodedata.category(chr(code)) in {
            "Cc",
            "Cf",
            "Cn",
            "Co",
            "Cs",
            "Zl",
            "Zp",
        }:
            continue
        if ranges and ranges[-1][1] == code - 1:
            ranges[-1] = (ranges[-1][0], code)
        else:
            ranges.append((code, code))
    return ranges


def write_ranges() -> Path:
    lines = [
        f"{low:04X}" if low == high else f"{low:04X}-{high:04X}"
        for low, high in printable_ranges(FONT_DIR)
    ]
    target = FONT_DIR / "printable.txt"
    target.write_text("\n".join(lines) + "\n", encoding="ascii")
    return target


def main(arguments: list[str]) -> int:
    match arguments:
        case ["japanese", published]:
            print(write_subset(Path(published), japanese_and_symbols(), "NotoSansJP-Subset.ttf"))
        case ["symbols", published]:
            print(write_subset(Path(published), symbols(), "NotoSansSymbols-Subset.ttf"))
        case ["latin"]:
            for written in write_latin():
                print(written)
        case ["ranges"]:
            print(write_ranges())
        case _:
            print(__doc__)
            return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
