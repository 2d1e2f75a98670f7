"""The whole signal flow on one large sheet, where the book has it in pieces."""

from collections.abc import Iterator

from rigproof.showbook.drawings import begin_whole_flow, flow
from rigproof.showbook.drawn import drawn_sheet
from rigproof.showbook.papers import Order, Sheet


def sheets(order: Order) -> Iterator[Sheet]:
    """One sheet of paper, or as few as hold it in letters that can be read.

    It is laid out from this call on, while others do something else.
    """
    drawings = begin_whole_flow(order.view, order.cache, order.edition)

    def made() -> Iterator[Sheet]:
        title = order.say("whole-flow.title")
        yield drawn_sheet("whole-flow", title, drawings(), order.edition)

    return made()


def undrawn(order: Order) -> object:
    """All that its drawings show but for where it stands: what is the same is drawn the same."""
    return flow.unplaced_whole(order.view, order.edition)
