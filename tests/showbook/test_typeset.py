"""Data to pages: nothing typed by a user is markup, and the same data give the same bytes."""

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pypdfium2 as pdfium
import pytest

from rigproof.showbook import typeset
from rigproof.showbook.glyphs import STAND_IN
from rigproof.showbook.typeset import TypesettingError, pages_png, pages_svg, pdf

HERE = Path(__file__).parent
TEMPLATE = (HERE / "specimen.typ").read_bytes()
SPECIMEN: dict[str, object] = json.loads((HERE / "specimen.json").read_text(encoding="utf-8"))

PLAIN = b"""#import "/style.typ": *
#let d = json(bytes(sys.inputs.data))
#import "/frame.typ": bound, sheet-begin
#let says = (in_doubt: "Ask", call: "Ana", page: "Page", of: "of")
#show: bound.with((running: "Band", edition: "1", language: "en", says: says), d.name, "a4")
#sheet-begin(d.name)
#heading(level: 1, d.name)
#data-table(
  ((key: "n", title: "No.", kind: "number", width: 12mm),
   (key: "name", title: "Name", kind: "name"),
   (key: "name", title: "Again", kind: "small", width: 25mm)),
  ((group: d.name), (n: 1, name: d.name), (n: 2, name: "last row")),
)
#verdict("risk", d.name, body: d.name, pairs: ((d.name, d.name),), id: d.name)
"""


def words(made: bytes) -> str:
    document = pdfium.PdfDocument(made)
    return "\n".join(page.get_textpage().get_text_range() for page in document)


def letters_outside(made: bytes) -> Iterator[str]:
    """Characters whose ink leaves the page."""
    for page in pdfium.PdfDocument(made):
        width, height = page.get_size()
        text = page.get_textpage()
        for place in range(text.count_chars()):
            left, bottom, right, top = text.get_charbox(place)
            if left < -0.5 or bottom < -0.5 or right > width + 0.5 or top > height + 0.5:
                yield text.get_text_range(place, 1)


HOSTILE = [
    '#eval("x")',
    "*bold* _thin_",
    "$x^2$",
    "`code` ```raw```",
    '#read("/etc/passwd")',
    "<label>",
    "@ref",
    "= Heading",
    "\\ # [x] {y}",
    "//c /* d */",
    '#import "@preview/x:1.0.0"',
    '\'; DROP TABLE "rigs" --',
    "&lt;b&gt;",
    "- list",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_a_name_is_printed_as_it_is_typed(name: str) -> None:
    made = pdf(PLAIN, {"name": name})
    assert re.sub(r"\s", "", words(made)).count(re.sub(r"\s", "", name)) >= 8


@pytest.mark.parametrize(
    "name",
    [
        "x" * 3_000,
        "word " * 800,
        "שלום עולם abc 123",
        "مرحبا بالعالم 123",
        "\u202eevil",
        "e\u0301\u0301\u0301\u0301",
        "Z\u0351\u036b\u0343\u036a\u0302a\u0321\u034a",
        "🥁🎸",
        "\x00\x07\x1b[31m\x7f",
        "\ud800",
        "\u0301",
        " ",
        "\u200b",
        "line\nline\r\nline\u2028line",
    ],
)
def test_the_page_holds_whatever_the_name(name: str) -> None:
    made = pdf(PLAIN, {"name": name})
    assert list(letters_outside(made)) == []
    assert "lastrow" in words(made).replace(" ", "")


LONG_WORDS = [
    "Kondensatormikrofonstativklemmenhalterung",
    "Donaudampfschifffahrtsgesellschaftskapitänsmützenhalter",
    "Fehlerstromschutzschalterprüfprotokoll",
    "Kleinmembran-Kondensatormikrofonstativklemme",
    "x" * 120,
]


@pytest.mark.parametrize("name", LONG_WORDS)
def test_a_long_word_breaks_and_is_copied_as_it_was_typed(name: str) -> None:
    """No invisible sign stands between its letters: a search for it finds it."""
    read = words(pdf(PLAIN, {"name": f"siehe {name} dort"}))
    assert re.sub(r"[ \r\n]", "", read).count(name) >= 5
    assert not re.search("[\u00ad\u200b-\u200f\u2060\ufeff\ufffc]", read)


def test_what_no_font_holds_leaves_a_box_and_nothing_else_is_lost() -> None:
    assert f"Beat {STAND_IN}" in words(pdf(PLAIN, {"name": "Beat 🥁"}))


def test_templates_never_read_data_as_markup() -> None:
    for path in typeset.TEMPLATE_DIR.rglob("*.typ"):
        text = re.sub(r"//.*", "", path.read_text(encoding="utf-8"))
        assert not re.search(r"\beval\b|@preview|#?\bplugin\(", text), path.name


def test_the_same_data_give_the_same_bytes_in_a_new_process(tmp_path: Path) -> None:
    script = (
        "import sys, json, pathlib; here = pathlib.Path(sys.argv[1])\n"
        "from rigproof.showbook.typeset import pdf\n"
        "data = json.loads((here / 'specimen.json').read_text(encoding='utf-8'))\n"
        "made = pdf((here / 'specimen.typ').read_bytes(), dict(reversed(data.items())))\n"
        "pathlib.Path(sys.argv[2]).write_bytes(made)"
    )
    out = tmp_path / "other.pdf"
    subprocess.run([sys.executable, "-c", script, str(HERE), str(out)], check=True)
    pdf(TEMPLATE, {**SPECIMEN, "band": "Another"})
    assert out.read_bytes() == pdf(TEMPLATE, SPECIMEN)


def test_the_pdf_is_tagged_and_says_so() -> None:
    made = pdf(TEMPLATE, SPECIMEN)
    assert b"pdfuaid:part" in made
    assert pdfium.PdfDocument(made).is_tagged()


@pytest.mark.parametrize(
    ("paper", "flipped", "size_mm"),
    [
        pytest.param("a4", False, (210, 297), marks=pytest.mark.published("ISO 216, A4")),
        pytest.param("a4", True, (297, 210), marks=pytest.mark.published("ISO 216, A4")),
        pytest.param(
            "us-letter",
            False,
            (215.9, 279.4),
            marks=pytest.mark.published("ANSI/ASME Y14.1, size A: 8.5 x 11 in"),
        ),
        pytest.param("a3", True, (420, 297), marks=pytest.mark.published("ISO 216, A3")),
    ],
)
def test_papers(paper: str, flipped: bool, size_mm: tuple[float, float]) -> None:
    made = pdf(TEMPLATE, {**SPECIMEN, "paper": paper, "flipped": flipped})
    size_pt = pdfium.PdfDocument(made)[0].get_size()
    assert [side * 25.4 / 72 for side in size_pt] == pytest.approx(size_mm, abs=0.05)
    assert list(letters_outside(made)) == []


def test_the_head_of_a_table_comes_again_on_the_next_page() -> None:
    rows = [{"group": "Voices"}, *({"n": n, "name": f"voice {n}"} for n in range(1, 90))]
    made = pdf(TEMPLATE, {**SPECIMEN, "rows": rows})
    pages = [page.get_textpage().get_text_range() for page in pdfium.PdfDocument(made)]
    with_rows = [page for page in pages if re.search(r"voice \d+", page) and "PLUG INTO" in page]
    assert len(with_rows) >= 3
    assert all("Voices" in page for page in with_rows)


def test_previews_show_every_page() -> None:
    count = len(pdfium.PdfDocument(pdf(TEMPLATE, SPECIMEN)))
    pictures = pages_png(TEMPLATE, SPECIMEN, dots_per_inch=40)
    drawings = pages_svg(TEMPLATE, SPECIMEN)
    assert len(pictures) == len(drawings) == count
    assert all(one.startswith(b"\x89PNG") for one in pictures)
    assert all(one.startswith("<svg") for one in drawings)


@pytest.mark.parametrize(
    ("template", "data", "says"),
    [
        ("missing.typ", {}, "no such sheet"),
        ("../pyproject.toml", {}, "no such sheet"),
        (b"#nothing()", {}, "unknown variable: nothing"),
        (b'#read("../../../../etc/passwd")', {}, "could not be set"),
        (b"x", {"level": float("nan")}, "data.level is nan"),
        (b"x", {"rows": [object()]}, r"data.rows\[0\] is a object"),
    ],
)
def test_failures_are_one_clear_error(
    template: str | bytes, data: dict[str, object], says: str
) -> None:
    with pytest.raises(TypesettingError, match=says):
        pdf(template, data)
