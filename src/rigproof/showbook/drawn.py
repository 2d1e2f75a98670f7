"""Drawings as sheets: each on a page of its own, at its true size."""

from collections.abc import Sequence

from rigproof.showbook.blocks import Drawing as Shown
from rigproof.showbook.drawings.ink import Drawing
from rigproof.showbook.edition import Edition
from rigproof.showbook.papers import Sheet


def drawn_sheet(name: str, title: str, drawings: Sequence[Drawing], edition: Edition) -> Sheet:
    """These drawings as one sheet."""
    return Sheet(
        id=name,
        title=title,
        form="drawings",
        data={
            "drawings": [one.data() for one in drawings],
            "words": edition.words("drawing.marks", "drawing.note"),
        },
        blocks=tuple(
            Shown(
                svg=one.svg,
                alt=one.alt,
                caption=" \u00b7 ".join(
                    filter(None, (one.title, one.caption, *one.key, *one.notes))
                ),
                width_mm=one.width_mm,
            )
            for one in drawings
        ),
    )
