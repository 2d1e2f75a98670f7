"""Single papers bound into one PDF: each sheet counts its own pages, to be handed out apart."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from rigproof.rig import About
from rigproof.showbook import leaf_fit, typeset
from rigproof.showbook.blocks import Fold
from rigproof.showbook.edition import Edition, Size, head_of
from rigproof.showbook.paper import Cut, Noticed, Unprintable, fit, told
from rigproof.showbook.papers import Order, Sheet
from rigproof.showbook.remembered import Remembered, told_plainly

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


class Ready(NamedTuple):
    """A sheet as the typesetter takes it, and what was noticed in it."""

    written: typeset.Written
    noticed: Noticed


def _begin(about: About, edition: Edition, sheets: Sequence[Sheet]) -> Callable[[], Bound]:
    top, noticed = fit(
        {
            "head": head_of(about, edition),
            "title": edition.say("paper.set", band=about.band or about.name),
            "paper": SHEET_SIZES[edition.size],
        }
    )
    assert isinstance(top, dict)
    made = [ready(sheet, edition) for sheet in sheets]
    pages = typeset.begin(TEMPLATE, {**top, "sheets": [one.written for one in made]})
    cut, unprintable = told([noticed, *(one.noticed for one in made)])
    return lambda: Bound(pages(), unprintable, cut)


def ready(sheet: Sheet, edition: Edition) -> Ready:
    """A sheet with its texts cut to what paper holds."""
    said = set_out(sheet)
    if any(isinstance(block, Fold) for block in sheet.blocks):
        said["size"] = edition.size
    return ready_data(said, edition.letters if sheet.form == "blocks" else told_plainly)


def set_out(sheet: Sheet) -> dict[str, object]:
    """A sheet as the templates take it: its blocks, or the data of its own form."""
    plain = sheet.form == "blocks"
    return {
        "title": str(sheet.title),
        "lead": str(sheet.lead),
        "flipped": sheet.flipped,
        "form": sheet.form,
        "data": {} if plain else sheet.data,
        "blocks": sheet.blocks if plain else (),
    }


def _made_ready(said: dict[str, Any]) -> Ready:
    size = said.pop("size", None)
    made, noticed = fit(said)
    if size is not None:
        assert isinstance(made, dict)
        # A short lead stands beside the title, as `forms.typ` has it.
        beside = 2 * len(made["title"]) + len(made["lead"]) < 90
        lead = "" if beside else made["lead"]
        made["ways"] = leaf_fit.closeness(made["blocks"], size, lead)
    return Ready(typeset.written(made), noticed)


ready_data = Remembered(_made_ready, lambda one: len(one.written.text))
"""The same of a sheet that is set out already."""
