"""Pages in other people's hands: which of them are wrong now, and in whose."""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Literal

import msgspec

from rigproof.checks.verdict import Verdict
from rigproof.showbook.edition import READERS, Reader
from rigproof.showbook.papers import PAPERS, Order, Paper

THIS = "changes"  # the sheet that tells it cannot be compared with itself


class Page(msgspec.Struct, frozen=True):
    """One sheet that some readers hold and that now says something else, or is new, or is void."""

    paper: str
    sheet: str
    title: str
    what: Literal["wrong", "new", "void"]
    readers: tuple[Reader, ...]


def pages(before: Verdict, order: Order, only: Sequence[str] = ()) -> tuple[Page, ...]:
    """Every sheet whose content differs. The version and date at its head do not count."""
    found: dict[tuple[str, str, str, str], list[Reader]] = {}
    orders = {reader: _orders(before, order, reader) for reader in READERS}
    papers = [one for one in PAPERS if one.id != THIS and (not only or one.id in only)]
    for paper in papers:
        for reader in (one for one in READERS if one in paper.readers):
            differ = list(_compared(paper, *orders[reader]))
            for sheet, title, what in differ:
                found.setdefault((paper.id, sheet, title, what), []).append(reader)
            if reader == "band" and not differ:
                break  # others read nothing that the band does not
    titles = Counter(title for _, title in {(sheet, title) for _, sheet, title, _ in found})
    return tuple(
        Page(
            paper,
            sheet,
            title if titles[title] == 1 else f"{title} ({sheet})",
            _what(what),
            tuple(readers),
        )
        for (paper, sheet, title, what), readers in found.items()
    )


def _orders(before: Verdict, order: Order, reader: Reader) -> tuple[Order, Order]:
    """All that a reader held then, and all of it now."""
    edition = msgspec.structs.replace(order.edition, reader=reader)
    now = msgspec.structs.replace(order, edition=edition, people=(), venues=(), earlier=None)
    return msgspec.structs.replace(now, verdict=before), now


def _what(what: str) -> Literal["wrong", "new", "void"]:
    return "wrong" if what == "wrong" else "new" if what == "new" else "void"


def _compared(paper: Paper, then: Order, now: Order) -> Iterator[tuple[str, str, str]]:
    old, new = paper.contents(then), paper.contents(now)
    for name, (title, content) in new.items():
        if name not in old:
            yield name, title, "new"
        elif old[name] != (title, content):
            yield name, title, "wrong"
    for name, (title, _) in old.items():
        if name not in new:
            yield name, title, "void"
