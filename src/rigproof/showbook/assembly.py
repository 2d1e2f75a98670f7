"""The show book: all papers of a rig, in the order people need them, as one PDF."""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from rigproof.checks.rule import View
from rigproof.checks.verdict import Verdict
from rigproof.showbook import cover, judged, numbers, typeset
from rigproof.showbook.binding import SHEET_SIZES, ready, ready_data, set_out
from rigproof.showbook.edition import ENGLISH, Edition, head
from rigproof.showbook.paper import Cut, Unprintable, fit, told
from rigproof.showbook.papers import PAPERS, Order, Sheet

TEMPLATE = "book.typ"
# The papers that a night needs, in the order in which they are bound.
BOUND = (
    "stage-plot",
    "input-list",
    "patch",
    "read-back",
    "hearing",
    "rack",
    "signal-flow",
    "hand-off",
)


@dataclass(frozen=True, slots=True)
class Book:
    """A show book, and what paper could not hold of it."""

    pdf: bytes
    unprintable: tuple[Unprintable, ...]
    cut: tuple[Cut, ...]

    @property
    def pages(self) -> int:
        """As the root of the file's page tree has it."""
        found = re.search(rb"/Type/Pages/Count (\d+)", self.pdf)
        return int(found[1]) if found else 0


def book(verdict: Verdict, edition: Edition = ENGLISH, *, cache: Path | None = None) -> Book:
    """The show book of a judged rig: what a night needs.

    `cache` is a folder for drawings that take long to lay out. The same rig gives the same bytes.
    """
    return begin_book(Order(verdict=verdict, edition=edition, cache=cache))()


def book_with_numbers(
    verdict: Verdict, edition: Edition = ENGLISH, *, cache: Path | None = None
) -> Book:
    """The show book with the pages of figures bound in: what building and tuning need."""
    return begin_book(Order(verdict=verdict, edition=edition, cache=cache), numbers.chapters)()


Chapters = Callable[[View, Edition], Sequence[Mapping[str, object]]]
Printed = tuple[Mapping[str, object], tuple[Cut, ...], tuple[Unprintable, ...]]


def _none(_view: View, _edition: Edition) -> Sequence[Mapping[str, object]]:
    return ()


def begin_book(order: Order, chapters: Chapters = _none) -> Callable[[], Book]:
    """Begin to set the show book; call what is returned to have it."""
    data, cut, unprintable = book_data(order, chapters)
    pages = typeset.begin(TEMPLATE, data)
    return lambda: Book(pages(), unprintable, cut)


def book_data(order: Order, chapters: Chapters) -> Printed:
    """What the template prints; `chapters` makes the pages of figures."""
    verdict, edition, rig = order.verdict, order.edition, order.rig
    known = {paper.id: paper for paper in PAPERS}
    # All are begun before any is made: drawings are laid out while the rest is written.
    begun = [known[name].sheets(order) for name in BOUND]
    second = chapters(verdict.view, edition)
    top, noticed = fit(
        {
            "head": head(rig, edition),
            "title": edition.say("cover.show_book_of", band=rig.about.band or rig.about.name),
            "cover": cover.page(verdict, edition),
        }
    )
    assert isinstance(top, dict)
    made = [ready(sheet, edition) for sheets in begun for sheet in sheets]
    made += [
        ready_data({**chapter, "form": "blocks", "flipped": False, "data": {}})
        for chapter in second
    ]
    made += [ready(sheet, edition) for sheet in _judged(order)]
    # Names that stand in drawings only, so that their letters are looked at too.
    _, drawn = fit([str(gear.name) for gear in rig.file.gear])
    cut, unprintable = told([noticed, *(one.noticed for one in made), drawn])
    unseen = Sheet(
        id="unseen",
        title=edition.say("unseen.title"),
        form="unseen",
        data=judged.unseen(rig, verdict, edition, cut, unprintable),
    )
    data = {
        **top,
        "sheets": [*(one.written for one in made), typeset.written(set_out(unseen))],
        "second": [chapter["title"] for chapter in second],
        "paper": SHEET_SIZES[edition.size],
    }
    return data, cut, unprintable


def _judged(order: Order) -> Iterator[Sheet]:
    """What was found, and what was planned where the file says nothing."""
    verdict, edition = order.verdict, order.edition
    yield Sheet(
        id="findings",
        title=edition.say("findings.title"),
        form="findings",
        data=judged.findings(order.rig, verdict, edition),
    )
    if verdict.view.plan.reasons:
        yield Sheet(
            id="planned",
            title=edition.say("findings.planned"),
            lead=edition.say("findings.planned_lead"),
            form="planned",
            data=judged.planned(verdict, edition),
        )
