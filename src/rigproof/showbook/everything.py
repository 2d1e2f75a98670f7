"""All papers of a rig for one reader in one go: book, single papers, labels, pocket book, lists.

What several of them show is made once; and what engines outside Python do, laying out drawings
and setting pages, goes on while the next paper is written.
"""

from collections.abc import Callable
from functools import cache

import msgspec

from rigproof.rig.collecting import no_collecting
from rigproof.showbook import layered
from rigproof.showbook.assembly import Book, begin_book
from rigproof.showbook.binding import Bound, begin_bound
from rigproof.showbook.exchange import listings
from rigproof.showbook.exchange.workbook import Workbook, workbook
from rigproof.showbook.labels import Asked, LabelSheets, begin_labels, every_label
from rigproof.showbook.labels.stock import plain_room_mm
from rigproof.showbook.papers import Order, for_reader
from rigproof.showbook.pocket import Pocket, pocket_book


class Everything(msgspec.Struct, frozen=True, kw_only=True):
    """What a reader may have. Book and labels are the band's alone; a rig may need no label.

    No paper: the rig has nothing for those of this reader.
    """

    book: Book | None
    papers: Bound | None
    labels: LabelSheets | None
    pocket: Pocket
    workbook: Workbook


@no_collecting()
def everything(order: Order) -> Everything:
    """All of it. The same order gives the same bytes, as each of them does by itself."""
    given = for_reader(order.edition.reader)
    # Begun before anything is written: drawings take longest to lay out.
    for paper in given:
        paper.sheets(order)
    book = cache(lambda: begin_book(order) if order.edition.private else None)
    labels = cache(lambda: _labels(order) if order.edition.private else None)
    if not layered.busy():
        book()  # its pages are set while the other sheets are made
    plain = [sheet for paper in given if not paper.drawn for sheet in paper.sheets(order)]
    lists = cache(lambda: workbook(order, listings(order), plain))
    # What needs no drawing is made while they are laid out; once they are, their pages go first.
    for make in (labels, lists):
        if layered.busy():
            make()
    bound_book = book()
    sheets = [sheet for paper in given for sheet in paper.sheets(order)]
    layered.rest()
    papers = begin_bound(order, sheets) if sheets else None
    printing = labels()
    written = lists()
    pocket = pocket_book(order)
    return Everything(
        book=bound_book and bound_book(),
        papers=papers and papers(),
        labels=printing and printing(),
        pocket=pocket,
        workbook=written,
    )


def _labels(order: Order) -> Callable[[], LabelSheets] | None:
    """Begin to print the labels that the band needs."""
    asked = Asked(edition=order.edition)
    longest = plain_room_mm(order.edition.size, flipped=True)[0]
    found = every_label(order.view, asked, longest)
    return begin_labels(order.rig, found, asked) if found else None
