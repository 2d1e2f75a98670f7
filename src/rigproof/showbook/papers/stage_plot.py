"""The stage from above, to scale."""

from collections.abc import Iterator

from rigproof.checks.rule import View
from rigproof.rig import Venue
from rigproof.showbook.drawings import stage_plot
from rigproof.showbook.drawings.ink import Drawing
from rigproof.showbook.drawn import drawn_sheet
from rigproof.showbook.papers import Order, Sheet
from rigproof.showbook.papers.hand_off import hands, id_of, place_of


def sheets(order: Order) -> Iterator[Sheet]:
    """For a house the plan of its own stage; for the band that of the usual night.

    A show with other people on stage has a plan of its own.
    """
    title = order.say("stage-plot.title")
    usual = order.view
    if order.edition.reader == "house" or order.venues:
        for view, hand in hands(order):
            where = order.say("stage-plot.title_at", where=place_of(hand))
            drawing = _drawn(order, view, hand.venue)
            yield drawn_sheet(id_of("stage-plot", hand), where, [drawing], order.edition)
        return
    plots = [_drawn(order, usual, None)]
    for view in order.verdict.views[1:]:
        if view.show is not None and view.rig.file.people != usual.rig.file.people:
            plots.append(_drawn(order, view, view.rig.venues[view.show.venue]))
    yield drawn_sheet("stage-plot", title, plots, order.edition)


def _drawn(order: Order, view: View, venue: Venue | None) -> Drawing:
    return stage_plot(view, venue, order.edition)
