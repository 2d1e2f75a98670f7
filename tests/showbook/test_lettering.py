"""Widths as the fonts have them, and names cut to their room."""

import pytest
from fontTools.ttLib import TTFont

from rigproof.showbook.drawings import lettering
from rigproof.showbook.glyphs import FONT_DIR


@pytest.mark.parametrize(
    ("style", "file"),
    [("regular", "Regular"), ("medium", "Medium"), ("bold", "Bold")],
)
def test_widths_are_those_of_the_font(style: lettering.Style, file: str) -> None:
    with TTFont(FONT_DIR / f"FiraSans-{file}.ttf") as font:
        glyphs, advances, em = font.getBestCmap(), font["hmtx"], font["head"].unitsPerEm
        for words in ("Kick in", "Wärmflasche", "0123456789-–…"):
            wide = sum(advances[glyphs[ord(letter)]][0] for letter in words) / em
            found = lettering.width_mm(words, size_mm=1, style=style)
            assert found == pytest.approx(wide, abs=1e-9)


@pytest.mark.parametrize(
    "file", ["NotoSansJP-Subset", "NotoSansHebrew-Regular", "NotoSansSymbols-Subset"]
)
def test_the_other_faces_are_read_whole(file: str) -> None:
    with TTFont(FONT_DIR / f"{file}.ttf") as font:
        em, advances = font["head"].unitsPerEm, font["hmtx"]
        expected = {code: advances[name][0] / em for code, name in font.getBestCmap().items()}
    assert lettering._advances(f"{file}.ttf") == pytest.approx(expected)


@pytest.mark.parametrize("name", ["Kick", "w" * 10_000, "太鼓" * 50, "a b c d e f g", ""])
@pytest.mark.parametrize("within", [0.5, 4.0, 18.0])
def test_a_name_is_cut_to_its_room(name: str, within: float) -> None:
    cut = lettering.fitted(name, within_mm=within, size_mm=2.3)
    assert lettering.width_mm(cut, size_mm=2.3) <= within + 1e-9
    assert cut == name or cut == "" or cut.endswith("…")
