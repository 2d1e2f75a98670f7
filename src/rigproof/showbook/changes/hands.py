"""Pages in other people's hands: which of them are wrong now, and in whose."""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Literal

import msgspec

from rigproof.checks.verdict import Verdict
from rigproof.showbook.edition import READERS, Reader
from rigproof.showbook.papers import PAPERS, Order, Paper, Sheet

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
    for paper in PAPERS:
        if paper.id == THIS or (only and paper.id not in only):
            continue
        for reader in (one for one in READERS if one in paper.readers):
            edition = msgspec.structs.replace(order.edition, reader=reader)
            now = msgspec.structs.replace(
                order, edition=edition, people=(), venues=(), earlier=None
            )
            then = msgspec.structs.replace(now, verdict=before)
            differ = list(_compared(paper, then, now))
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


def _what(what: str) -> Literal["wrong", "new", "void"]:
    return "wrong" if what == "wrong" else "new" if what == "new" else "void"


def _compared(paper: Paper, then: Order, now: Order) -> Iterator[tuple[str, str, str]]:
    old, new = ({sheet.id: sheet for sheet in paper.sheets(order)} for order in (then, now))
    for name, sheet in new.items():
        if name not in old:
            yield name, sheet.title, "new"
        elif _content(old[name]) != _content(sheet):
            yield name, sheet.title, "wrong"
    for name, sheet in old.items():
        if name not in new:
            yield name, sheet.title, "void"


def _content(sheet: Sheet) -> tuple[object, ...]:
    return sheet.title, sheet.lead, sheet.blocks, dict(sheet.data)
