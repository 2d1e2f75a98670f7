"""The pocket book as one HTML file: its parts, its look and its script put together."""

import re
from base64 import b64encode
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigproof.showbook.edition import head
from rigproof.showbook.glyphs import FONT_DIR
from rigproof.showbook.papers import Order, Sheet, for_reader
from rigproof.showbook.pocket.entries import chapters
from rigproof.showbook.remembered import Remembered

if TYPE_CHECKING:
    from collections.abc import Callable

    import jinja2
    from markupsafe import Markup

HERE = Path(__file__).parent
TEMPLATE, SHEET = "pocket.html.j2", "sheet.html.j2"
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


def pocket_book(order: Order) -> Pocket:
    """The pocket book of a rig for one reader. The same order gives the same bytes."""
    sheets = tuple(
        sheet for paper in for_reader(order.edition.reader) for sheet in paper.sheets(order)
    )
    top = head(order.rig, order.edition)
    says = top["says"]
    assert isinstance(says, dict)
    # All that is shown with a sheet and is not of the sheet itself: words of the edition.
    words = {name: says[name] for name in ("caution", "left_out", "worth")}
    words["top"] = order.say("pocket.top")
    html = _template(TEMPLATE).render(
        head=top,
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
        sheets=[(sheet.id, order.edition.tell(sheet.title)) for sheet in sheets],
        sections=[
            _section({"says": words, "sheet": _shown(sheet)}, order.edition.letters)
            for sheet in sheets
        ],
        key=f"{order.rig.about.name} {order.rig.about.version}",
    )
    return Pocket(html, sheets)


def _shown(sheet: Sheet) -> dict[str, object]:
    """What the pocket book shows of a sheet."""
    return {
        "id": sheet.id,
        "title": sheet.title,
        "lead": sheet.lead,
        "blocks": sheet.blocks,
    }


def _set_section(data: Mapping[str, Any]) -> "Markup":
    from markupsafe import Markup

    # The template has escaped what is not of its own.
    return Markup(
        _template(SHEET).render(
            sheet=data["sheet"],
            says=data["says"],
            said=_saying(data["says"]["worth"]),
            rows=_rows(data["says"]["worth"]),
            own_names=lambda svg, place: _own_names(svg, place.replace("/", "-")),
        )
    )


_section = Remembered(_set_section, len)


# A table has thousands of cells. Each by the template's own loops costs three times as much.
def _saying(worths: Mapping[str, str]) -> "Callable[[Mapping[str, str]], Markup]":
    """How a cell is written: what it says, and in small type what a figure in it is worth."""
    from markupsafe import Markup

    def said(cell: Mapping[str, str]) -> Markup:
        text = _plain(cell.get("v") or cell.get("note") or "")
        worth = cell.get("p", "")
        if worth:
            text = f'{text} <small class="worth">{_plain(worths.get(worth, worth))}</small>'
        return Markup(text)

    return said


_MARKUP = re.compile("[&<>'\"]")


def _plain(text: str) -> str:
    """A text as one on a page: what would be markup is not."""
    from markupsafe import escape

    return str(escape(text)) if _MARKUP.search(text) else text


def _rows(worths: Mapping[str, str]) -> "Callable[[Mapping[str, Any], str], Markup]":
    """How the rows of a table are written: cells to read, to tick and to write in."""
    from markupsafe import Markup

    said = _saying(worths)

    def rows(table: Mapping[str, Any], key: str) -> Markup:
        columns, wide, key = table["columns"], len(table["columns"]), _plain(key)
        looks = [column["look"] for column in columns]
        titles = [_plain(column["title"]) for column in columns]
        groups: dict[int, list[str]] = {}
        for start, name in table["groups"]:
            groups.setdefault(start, []).append(name)
        lines = []
        for at, row in enumerate(table["rows"]):
            for name in groups.get(at, ()):
                name = _plain(name)
                lines.append(
                    f'<tr class="group"><th colspan="{wide}" scope="rowgroup">{name}</th></tr>\n'
                )
            lines.append("<tr>")
            for place, (look, cell) in enumerate(zip(looks, row, strict=True)):
                if look not in {"tick", "write"}:
                    lines.append(f'<td class="{look}">{said(cell)}</td>\n')
                    continue
                named = _plain(_row_name(table, row))
                kept = f'data-key="{key}/{at}/{place}" aria-label="{titles[place]}: {named}"'
                lines.append(
                    f'<td class="tick"><label><input type="checkbox" {kept}></label></td>\n'
                    if look == "tick"
                    else f'<td class="write"><input type="text" {kept}></td>\n'
                )
            lines.append("</tr>\n")
        return Markup("".join(lines))

    return rows


def _row_name(table: Mapping[str, Any], row: Sequence[Mapping[str, str]]) -> str:
    """A row as somebody who hears it read out tells it from the others."""
    named = (
        cell.get("v") or cell.get("note") or ""
        for column, cell in zip(table["columns"], row, strict=True)
        if column["look"] in {"number", "name", "words"}
    )
    return " ".join(named).strip()


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
def _template(name: str) -> "jinja2.Template":
    return _environment().get_template(name)


@cache
def _environment() -> "jinja2.Environment":
    import jinja2

    return jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
