"""The case to scale: front, rear and a section through its depth."""

from collections.abc import Iterator

from rigproof.showbook.drawings import elevations
from rigproof.showbook.drawn import drawn_sheet
from rigproof.showbook.papers import Order, Sheet


def sheets(order: Order) -> Iterator[Sheet]:
    """Three drawings on one scale."""
    drawings = elevations(order.view, order.edition)
    yield drawn_sheet("rack", order.say("rack.title"), drawings, order.edition)
