"""The show book: all papers of a rig, in the order people need them, as one PDF."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from rigproof.checks.rule import View
from rigproof.checks.verdict import Verdict
from rigproof.showbook import (
    cover,
    hearing,
    house_page,
    input_list,
    judged,
    numbers,
    typeset,
    walk,
)
from rigproof.showbook.drawings import begin_signal_flow, elevations, stage_plot
from rigproof.showbook.edition import Edition, head
from rigproof.showbook.house_fit import Paper, placed
from rigproof.showbook.paper import Cut, Unprintable, fitted

_PAPERS: Mapping[Paper, str] = {"a4": "a4", "letter": "us-letter"}
TEMPLATE = "book.typ"


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


def book(verdict: Verdict, *, paper: Paper = "a4", cache: Path | None = None) -> Book:
    """The show book of a judged rig: what a night needs.

    `cache` is a folder for drawings that take long to lay out. The same rig gives the same bytes.
    """
    return _bound(book_data(verdict, _none, paper=paper, cache=cache))


def book_with_numbers(verdict: Verdict, *, paper: Paper = "a4", cache: Path | None = None) -> Book:
    """The show book with the pages of figures bound in: what building and tuning need."""
    return _bound(book_data(verdict, numbers.chapters, paper=paper, cache=cache))


Chapters = Callable[[View], Sequence[Mapping[str, object]]]
Printed = tuple[Mapping[str, object], tuple[Cut, ...], tuple[Unprintable, ...]]


def _none(_view: View) -> Sequence[Mapping[str, object]]:
    return ()


def _bound(printed: Printed) -> Book:
    data, cut, unprintable = printed
    return Book(typeset.pdf(TEMPLATE, data), unprintable, cut)


def book_data(
    verdict: Verdict, chapters: Chapters, *, paper: Paper = "a4", cache: Path | None = None
) -> Printed:
    """What the template prints; `chapters` makes the pages of figures."""
    usual, shows = verdict.view, verdict.views[1:]
    rig = usual.rig
    flow = begin_signal_flow(usual, cache)  # takes longest: all else is made meanwhile
    parts: dict[str, object] = {
        "head": head(rig, Edition()),
        "cover": cover.page(verdict),
        "drawings": {},
        "inputs": input_list.page(usual, shows),
        "walk": walk.page(usual, shows),
        "hearing": hearing.page(usual, shows),
        "houses": [placed(page, paper) for page in house_page.pages(verdict.views)],
        "numbers": list(chapters(usual)),
        "findings": judged.findings(rig, verdict),
        "planned": judged.planned(verdict),
        # Names that stand in drawings only, so that their letters are looked at too.
        "drawn": [gear.name for gear in rig.file.gear],
    }
    parts["drawings"] = {
        "plots": _plots(verdict),
        "elevations": [one.data() for one in elevations(usual)],
        "flow": [one.data() for one in flow()],
    }
    made = fitted(parts)
    assert isinstance(made.data, dict)
    unseen = judged.unseen(rig, verdict, made.cut, made.unprintable)
    return (
        {**made.data, "unseen": unseen, "paper": _PAPERS[paper]},
        made.cut,
        made.unprintable,
    )


def _plots(verdict: Verdict) -> list[object]:
    """The stage of the usual rig, and that of each show with other people on it."""
    usual = verdict.view
    plots: list[object] = [stage_plot(usual).data()]
    for view in verdict.views[1:]:
        if view.show is not None and view.rig.file.people != usual.rig.file.people:
            plots.append(stage_plot(view, view.rig.venues[view.show.venue]).data())
    return plots
