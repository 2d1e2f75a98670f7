"""Single papers bound into one PDF: each sheet counts its own pages, to be handed out apart."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import msgspec

from rigproof.rig import About
from rigproof.showbook import typeset
from rigproof.showbook.edition import Edition, Size, head_of
from rigproof.showbook.paper import Cut, Unprintable, fitted
from rigproof.showbook.papers import Order, Sheet

TEMPLATE = "papers.typ"
SHEET_SIZES: dict[Size, str] = {"a4": "a4", "letter": "us-letter"}


@dataclass(frozen=True, slots=True)
class Bound:
    """Papers as a PDF, and what paper could not hold of them."""

    pdf: bytes
    unprintable: tuple[Unprintable, ...]
    cut: tuple[Cut, ...]


def bound(order: Order, sheets: Sequence[Sheet]) -> Bound:
    """These sheets in this order, as the edition asks for them."""
    return begin_bound(order, sheets)()


def begin_bound(order: Order, sheets: Sequence[Sheet]) -> Callable[[], Bound]:
    """Begin to set these sheets; call what is returned to have them."""
    return _begin(order.rig.about, order.edition, sheets)


def bound_of(about: About, edition: Edition, sheets: Sequence[Sheet]) -> Bound:
    """Sheets of a rig of which no more is known than what it says of itself."""
    return _begin(about, edition, sheets)()


def _begin(about: About, edition: Edition, sheets: Sequence[Sheet]) -> Callable[[], Bound]:
    made = fitted(
        {
            "head": head_of(about, edition),
            "title": edition.say("paper.set", band=about.band or about.name),
            "paper": SHEET_SIZES[edition.size],
            "sheets": [set_out(sheet, edition) for sheet in sheets],
        }
    )
    assert isinstance(made.data, dict)
    pages = typeset.begin(TEMPLATE, made.data)
    return lambda: Bound(pages(), made.unprintable, made.cut)


def set_out(sheet: Sheet, edition: Edition) -> dict[str, object]:
    """A sheet as the templates take it: its blocks, or the data of its own form."""
    plain = sheet.form == "blocks"
    return {
        "title": sheet.title,
        "lead": sheet.lead,
        "flipped": sheet.flipped,
        "form": sheet.form,
        "data": {} if plain else sheet.data,
        "blocks": msgspec.to_builtins(sheet.blocks, enc_hook=edition.letters) if plain else [],
    }
