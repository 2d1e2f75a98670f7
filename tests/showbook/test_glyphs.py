"""What the shipped fonts can print, against the fonts themselves read by fontTools."""

import unicodedata
from functools import cache
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from rigproof.showbook.glyphs import (
    FONT_DIR,
    STAND_IN,
    as_printed,
    printable,
    printable_ranges,
    unprintable,
)

# No picture of their own, or none that people agree on; see `tools/fonts.py`.
WITHOUT_PICTURE = {"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"}


@cache
def mapped(path: Path) -> frozenset[int]:
    with TTFont(path) as font:
        return frozenset(font.getBestCmap())


def test_the_table_says_what_the_fonts_say() -> None:
    in_fonts = {code for path in FONT_DIR.glob("*.ttf") for code in mapped(path)}
    drawn = {code for code in in_fonts if unicodedata.category(chr(code)) not in WITHOUT_PICTURE}
    in_table = {code for low, high in printable_ranges() for code in range(low, high + 1)}
    assert in_table == drawn


def test_the_styles_of_the_text_face_hold_the_same_characters() -> None:
    styles = sorted(FONT_DIR.glob("FiraSans-*.ttf"))
    assert len(styles) == 4
    assert {mapped(path) for path in styles} == {mapped(styles[0])}


def test_figures_of_the_text_face_are_of_one_width_where_asked() -> None:
    for path in FONT_DIR.glob("FiraSans-*.ttf"):
        with TTFont(path) as font:
            tags = {record.FeatureTag for record in font["GSUB"].table.FeatureList.FeatureRecord}
            assert "tnum" in tags


def test_every_face_has_its_licence_beside_it() -> None:
    for path in FONT_DIR.glob("*.ttf"):
        licence = FONT_DIR / f"{path.stem.partition('-')[0]}-OFL.txt"
        assert "SIL Open Font License, Version 1.1" in licence.read_text(encoding="utf-8")


def test_the_fonts_stay_small() -> None:
    assert sum(path.stat().st_size for path in FONT_DIR.iterdir()) < 4_000_000


@pytest.mark.parametrize(
    "text",
    [
        "Kick in",
        "ÅØßþŁőşțĦŋ Đặng Ýr",
        "Σωτηρία",
        "Жанна Їжак",
        "עדי",
        "سلمى",
        "太鼓 ギター",
        "e\u0301 n\u0303",
        "→ ← ↑ ↓ ↔ ± × ≤ ≥ ≈ Ω µ ° − – — … · • ½ ♯ ♭ ✓ ■ ▲ ●",
        "a\u200bb c\u200dd e\ufe0f",
        "tab\tand\u2028line",
    ],
)
def test_what_can_be_printed(text: str) -> None:
    assert unprintable(text) == ()
    assert STAND_IN not in printable(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a\x00b\x07", ("U+0000 control character", "U+0007 control character")),
        ("\ud800", ("U+D800 half of a character",)),
        ("🎸 solo 🎸", ("U+1F3B8 GUITAR",)),
        ("\ue000", ("U+E000 private character",)),
        ("한", ("U+D55C HANGUL SYLLABLE HAN",)),
    ],
)
def test_what_cannot(text: str, said: tuple[str, ...]) -> None:
    assert unprintable(text) == said
    assert unprintable(printable(text)) == ()


def test_marks_that_turn_the_writing_round_are_left_out() -> None:
    assert printable("\u202eevil\u202c \u2066x\u2069") == "evil x"


@pytest.mark.published("Unicode Standard Annex #15, section 1.1: A + combining ring = U+00C5")
def test_letters_typed_apart_are_joined() -> None:
    assert printable("A\u030a") == "\u00c5"


@pytest.mark.parametrize(
    "text",
    ["Ana Ørn", "F♯ – 50 %", "e\u0301", "\u202eevil", "Beat 🥁", "a\ufe0f", "\ud800", "שלום"],
)
def test_what_is_said_to_print_as_it_is_does(text: str) -> None:
    assert as_printed(text) == (printable(text) == text)
