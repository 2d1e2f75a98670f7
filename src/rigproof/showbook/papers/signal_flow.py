"""The way of the signal from the sources to the mixer, and on to ears and house."""

from collections.abc import Iterator

from rigproof.showbook.drawings import begin_signal_flow, flow
from rigproof.showbook.drawn import drawn_sheet
from rigproof.showbook.papers import Order, Sheet


def sheets(order: Order) -> Iterator[Sheet]:
    """All its drawings. They are laid out from this call on, while others do something else."""
    drawings = begin_signal_flow(order.view, order.cache, order.edition)

    def made() -> Iterator[Sheet]:
        title = order.say("signal-flow.title")
        yield drawn_sheet("signal-flow", title, drawings(), order.edition)

    return made()


def undrawn(order: Order) -> object:
    """All that its drawings show but for where it stands: what is the same is drawn the same."""
    return flow.unplaced_flow(order.view, order.edition)
