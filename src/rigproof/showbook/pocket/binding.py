"""The pocket book as one HTML file: its parts, its look and its script put together."""

import re
from base64 import b64encode
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from rigproof.showbook.edition import head
from rigproof.showbook.glyphs import FONT_DIR
from rigproof.showbook.papers import Order, Sheet, for_reader
from rigproof.showbook.pocket.entries import chapters

if TYPE_CHECKING:
    import jinja2

HERE = Path(__file__).parent
TEMPLATE = "pocket.html.j2"
# The letters of the drawings stand where they were measured, so the face goes along.
_FACES = {400: "FiraSans-Regular-Latin.woff", 500: "FiraSans-Medium-Latin.woff"}
_BOLD = {700: "FiraSans-Bold-Latin.woff"}


@dataclass(frozen=True, slots=True)
class Pocket:
    """A pocket book, and the sheets that are bound in it."""

    html: str
    sheets: tuple[Sheet, ...]

    @property
    def data(self) -> bytes:
        return self.html.encode("utf-8")


def pocket_book(order: Order, cache: Path | None = None) -> Pocket:
    """The pocket book of a rig for one reader. The same order gives the same bytes.

    `cache` is a folder for drawings that take long to lay out.
    """
    order = msgspec.structs.replace(order, cache=cache or order.cache)
    sheets = tuple(
        sheet for paper in for_reader(order.edition.reader) for sheet in paper.sheets(order)
    )
    html = _template().render(
        head=head(order.rig, order.edition),
        about=order.rig.about,
        note=order.rig.about.note if order.edition.private else "",
        lang=order.edition.language,
        say=order.say,
        tell=order.edition.tell,
        css=(HERE / "pocket.css").read_text(encoding="utf-8"),
        script=(HERE / "pocket.js").read_text(encoding="utf-8"),
        faces=_faces(),
        phone=_dialled(order),
        findings=order.verdict.findings if order.edition.private else (),
        chapters=chapters(order),
        sheets=[msgspec.to_builtins(sheet, enc_hook=order.edition.letters) for sheet in sheets],
        own_names=lambda svg, place: _own_names(svg, place.replace("/", "-")),
        key=f"{order.rig.about.name} {order.rig.about.version}",
    )
    return Pocket(html, sheets)


# A name in a drawing counts for the whole page. User text holds no bare quotation mark there.
_NAMED = re.compile(r'( id="|url\(#|href="#)')


def _own_names(svg: str, prefix: str) -> str:
    """A drawing whose inner names are its own on a page that holds several."""
    return _NAMED.sub(rf"\g<1>{prefix}-", svg)


def _dialled(order: Order) -> str:
    """The contact's number as a telephone dials it; empty where there is none."""
    contact = order.rig.about.contact
    number = contact.phone if contact else ""
    dialled = "".join(sign for sign in number if sign.isascii() and (sign.isdigit() or sign == "+"))
    return dialled if dialled.strip("+") else ""


@cache
def _faces() -> list[tuple[int, str]]:
    """Weight and face of the drawings' letters, as text that fits into a style sheet."""
    return [
        (weight, b64encode((FONT_DIR / name).read_bytes()).decode("ascii"))
        for weight, name in (_FACES | _BOLD).items()
    ]


@cache
def _template() -> "jinja2.Template":
    import jinja2

    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(TEMPLATE)
