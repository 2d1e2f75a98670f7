"""The stage from above, to scale."""

from collections.abc import Iterator

from rigproof.checks.rule import View
from rigproof.rig import Venue
from rigproof.showbook.drawings import stage_plot
from rigproof.showbook.drawings.ink import Drawing
from rigproof.showbook.drawn import drawn_sheet
from rigproof.showbook.papers import Order, Sheet


def sheets(order: Order) -> Iterator[Sheet]:
    """For a house the plan of its own stage; for the band that of the usual night.

    A show with other people on stage has a plan of its own.
    """
    title = order.say("stage-plot.title")
    usual = order.view
    if order.edition.reader == "house" or order.venues:
        for view in order.verdict.views:
            for hand in view.hand_offs:
                if order.venues and hand.venue.id not in order.venues:
                    continue
                name = hand.show.id if hand.show else hand.venue.id
                drawing = _drawn(order, view, hand.venue)
                yield drawn_sheet(f"stage-plot-{name}", title, [drawing], order.edition)
        return
    plots = [_drawn(order, usual, None)]
    for view in order.verdict.views[1:]:
        if view.show is not None and view.rig.file.people != usual.rig.file.people:
            plots.append(_drawn(order, view, view.rig.venues[view.show.venue]))
    yield drawn_sheet("stage-plot", title, plots, order.edition)


def _drawn(order: Order, view: View, venue: Venue | None) -> Drawing:
    return stage_plot(view, venue, order.edition)
