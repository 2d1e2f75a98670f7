"""Every label of one night, in the order in which somebody goes round the rig with them."""

from collections.abc import Iterator

from rigproof.checks.rule import View
from rigproof.showbook.labels.cards import cards
from rigproof.showbook.labels.content import Asked, Label
from rigproof.showbook.labels.plugs import flags
from rigproof.showbook.labels.rows import legends, strips


def every_label(view: View, asked: Asked, longest_mm: float) -> tuple[Label, ...]:
    """The labels asked for; rows in pieces of at most this length."""
    return tuple(_labels(view, asked, longest_mm))


def _labels(view: View, asked: Asked, longest_mm: float) -> Iterator[Label]:
    if "strips" in asked.kinds:
        yield from strips(view, asked, longest_mm)
    if "legends" in asked.kinds:
        yield from legends(view, asked, longest_mm)
    if "flags" in asked.kinds:
        yield from flags(view, asked)
    if "cards" in asked.kinds:
        yield from cards(view, asked)
