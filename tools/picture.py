"""Make the picture of the show book that the front page of the project shows.

    python tools/picture.py [FILE.png]

The cover of the demo's book beside two of its pages, in the few greys that print and screens
keep. The same demo gives the same picture.
"""

import io
import sys
from pathlib import Path

import pypdfium2
from PIL import Image, ImageFilter

import rigproof
from rigproof.checks.verdict import check
from rigproof.rigfile.load import load
from rigproof.showbook import numbers
from rigproof.showbook.assembly import book_data
from rigproof.showbook.papers import Order
from rigproof.showbook.typeset import pages_png, pdf

DEMO = Path(rigproof.__file__).parent / "demo"
PICTURE = Path(__file__).resolve().parent.parent / "docs/pictures/show-book.png"

WIDTH = 1400
TABLE = 236  # the grey of the table that the pages lie on
GREYS = 32
INSIDE = ("Stage plot", "Level ladders")  # chapters whose first pages stand beside the cover


def main(arguments: list[str]) -> int:
    data, _, _ = book_data(Order(verdict=check(load(DEMO))), numbers.chapters)
    pages = [
        Image.open(io.BytesIO(page)).convert("L")
        for page in pages_png("book.typ", data, dots_per_inch=110)
    ]
    cover, inside = pages[0], [pages[number - 1] for number in first_pages(data)]
    picture = laid_out(cover, inside)
    target = Path(arguments[0]) if arguments else PICTURE
    target.parent.mkdir(parents=True, exist_ok=True)
    step = 255 / (GREYS - 1)
    picture.point(lambda grey: round(round(grey / step) * step)).save(target, optimize=True)
    return 0


def first_pages(data: object) -> list[int]:
    """Where the chapters begin, as the book's own PDF has it."""
    assert isinstance(data, dict)
    document = pypdfium2.PdfDocument(pdf("book.typ", data))
    heads = [" ".join(page.get_textpage().get_text_range().split())[:90] for page in document]
    return [
        next(n for n, head in enumerate(heads, start=1) if n > 1 and f" {name} " in head)
        for name in INSIDE
    ]


def laid_out(cover: Image.Image, inside: list[Image.Image]) -> Image.Image:
    """The cover at the left in full; the others at its right, each with a soft shadow."""
    gap = 36
    high = cover.height
    wide, tall = inside
    beside = int((WIDTH * cover.height / high) * 0.62)
    first = wide.resize(
        (beside, round(wide.height * beside / wide.width)), Image.Resampling.LANCZOS
    )
    rest = high - first.height - gap
    second = tall.resize(
        (beside, round(tall.height * beside / tall.width)), Image.Resampling.LANCZOS
    )
    second = second.crop((0, 0, beside, rest))
    sheet = Image.new("L", (cover.width + beside + 3 * gap, high + 2 * gap), TABLE)
    for page, at in (
        (cover, (gap, gap)),
        (first, (cover.width + 2 * gap, gap)),
        (second, (cover.width + 2 * gap, gap + first.height + gap)),
    ):
        put(sheet, page, at)
    return sheet.resize(
        (WIDTH, round(sheet.height * WIDTH / sheet.width)), Image.Resampling.LANCZOS
    )


def put(sheet: Image.Image, page: Image.Image, at: tuple[int, int]) -> None:
    """A page with the shadow of a sheet of paper."""
    shadow = Image.new("L", sheet.size, 0)
    x, y = at
    shadow.paste(70, (x + 4, y + 6, x + page.width + 4, y + page.height + 6))
    shadow = shadow.filter(ImageFilter.GaussianBlur(9))
    sheet.paste(Image.new("L", sheet.size, 90), (0, 0), shadow)
    sheet.paste(page, at)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
