"""Everything that two versions of a rig differ in, from the entries of the file to the papers."""

from collections.abc import Sequence

import msgspec

from rigproof.checks.rule import Finding
from rigproof.checks.verdict import Verdict, only_in
from rigproof.rigfile.differences import Difference, differences
from rigproof.showbook.changes import hands, moves
from rigproof.showbook.changes.hands import Page
from rigproof.showbook.changes.moves import Figure, Night
from rigproof.showbook.edition import Edition
from rigproof.showbook.labels import Asked, Label, Reprint, every_label, reprint
from rigproof.showbook.labels.stock import plain_room_mm
from rigproof.showbook.papers import Order


class Changes(msgspec.Struct, frozen=True):
    """Two verdicts side by side, and what came of it."""

    before: Verdict
    after: Verdict
    entries: tuple[Difference, ...]
    nights: tuple[Night, ...]
    kept: int  # numbers and sockets of the usual night that stay as people know them
    figures: tuple[Figure, ...]
    new: tuple[Finding, ...]
    gone: tuple[Finding, ...]
    pages: tuple[Page, ...]
    labels: Reprint

    def __bool__(self) -> bool:
        parts = (self.entries, self.nights, self.figures, self.new, self.gone, self.pages)
        return any(parts) or bool(self.labels.to_print or self.labels.gone)

    @property
    def same_version(self) -> bool:
        """Whether both call themselves the same, so that nobody can tell which is which."""
        old, new = self.before.view.stated.about, self.after.view.stated.about
        return bool(self) and (old.version, old.date) == (new.version, new.date)

    @property
    def moved(self) -> bool:
        """Whether a number that somebody has learnt is another now."""
        return any(night.moves for night in self.nights)


def changes(before: Verdict, order: Order, papers: Sequence[str] = ()) -> Changes:
    """What came of an earlier verdict in the rig of an order.

    `papers`: only these papers are compared; all where none is named.
    """
    after = order.verdict
    entries = differences(before.view.stated, after.view.stated)
    renamed = {
        section: {e.before: e.id for e in entries if e.section == section and e.what == "renamed"}
        for section in ("sources", "gear", "venues", "shows")
    }
    return Changes(
        before=before,
        after=after,
        entries=entries,
        nights=moves.nights(before, after, renamed),
        kept=moves.kept(before, after, renamed),
        figures=moves.figures(before, after),
        new=only_in(after, before),
        gone=only_in(before, after),
        pages=hands.pages(before, order, papers),
        labels=_labels(before, after, order.edition),
    )


def _labels(before: Verdict, after: Verdict, edition: Edition) -> Reprint:
    return reprint(_every_night(before, edition), _every_night(after, edition))


def _every_night(verdict: Verdict, edition: Edition) -> tuple[Label, ...]:
    """The labels of a usual night, and what a show brings along: its leads, its guests' cards.

    What a show has otherwise on a strip is printed for that show.
    """
    longest = plain_room_mm(edition.size, flipped=True)[0]
    asked = Asked(edition=edition)
    found: dict[str, Label] = {}
    for view in verdict.views:
        for label in every_label(view, asked, longest):
            found.setdefault(label.id, label)
    return tuple(found.values())
