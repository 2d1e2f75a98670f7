"""The drawings of a rig as files of their own: at their size on paper, in millimetres."""

import re
from collections.abc import Callable, Iterator

from rigproof.checks.rule import View
from rigproof.rig import Venue
from rigproof.showbook.drawings import Drawing, begin_signal_flow, elevations, stage_plot
from rigproof.showbook.drawings.ink import escaped
from rigproof.showbook.papers import Order, for_reader

# No XML file can hold these, not even as a reference.
_NO_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_FACES = ("front", "rear", "section")


def stages(order: Order) -> Iterator[tuple[str, View, Venue | None]]:
    """The stages to draw: the usual one and those of shows with other people; a house its own."""
    if not given(order, "stage-plot"):
        return
    if order.edition.reader == "house" or order.venues:
        for view in order.verdict.views:
            for hand in view.hand_offs:
                if not order.venues or hand.venue.id in order.venues:
                    name = view.show.id if view.show else hand.venue.id
                    yield f"stage-plot-{name}", view, hand.venue
        return
    yield "stage-plot", order.view, None
    for view in order.verdict.views[1:]:
        show = view.show
        if show is not None and view.rig.file.people != order.rig.file.people:
            yield f"stage-plot-{show.id}", view, view.rig.venues[show.venue]


def given(order: Order, paper: str) -> bool:
    """Whether the reader may have the paper that shows the same."""
    return paper in {one.id for one in for_reader(order.edition.reader)}


def pictures(order: Order) -> Iterator[tuple[str, bytes]]:
    """Each drawing under the name of its file."""
    flow: Callable[[], tuple[Drawing, ...]] = tuple
    if given(order, "signal-flow"):  # takes longest: the others are made meanwhile
        flow = begin_signal_flow(order.view, order.cache, order.edition)
    for name, view, venue in stages(order):
        yield f"{name}.svg", svg_file(stage_plot(view, venue, order.edition))
    if given(order, "rack") and order.rig.file.case is not None:
        for name, drawing in zip(_FACES, elevations(order.view, order.edition), strict=True):
            yield f"case-{name}.svg", svg_file(drawing)
    for number, drawing in enumerate(flow(), 1):
        yield f"signal-flow-{number}.svg", svg_file(drawing)


def svg_file(drawing: Drawing) -> bytes:
    """With what it shows in words inside, for whoever hears it read out."""
    head, bracket, rest = drawing.svg.partition(">")
    title, alt = (escaped(_NO_XML.sub("\ufffd", text)) for text in (drawing.title, drawing.alt))
    words = f"<title>{title}</title><desc>{alt}</desc>"
    start = '<?xml version="1.0" encoding="UTF-8"?>'
    return f'{start}\n{head} role="img"{bracket}{words}{rest}\n'.encode()
