"""A person's leaf is set as it was reckoned, and takes the sides that were reckoned."""

import re
from pathlib import Path

import msgspec
import pypdfium2
import pytest

import rigproof
from rigproof.checks.verdict import check
from rigproof.rigfile.load import load
from rigproof.showbook import leaf_fit
from rigproof.showbook.binding import bound, ready
from rigproof.showbook.blocks import Fold
from rigproof.showbook.edition import Edition
from rigproof.showbook.papers import PAPERS, Order

DEMO = Path(rigproof.__file__).parent / "demo"


@pytest.mark.parametrize("edition", [Edition(), Edition(language="de", size="letter")])
def test_a_leaf_takes_the_sides_that_were_reckoned(edition: Edition) -> None:
    order = Order(verdict=check(load(DEMO)), edition=edition)
    sheets = [
        sheet
        for paper in PAPERS
        if paper.id in {"person", "monitor-sheet", "network", "commissioning"}
        for sheet in paper.sheets(order)
        if any(isinstance(block, Fold) for block in sheet.blocks)
    ]
    ways = [msgspec.json.decode(ready(one, edition).written.text)["ways"] for one in sheets]
    document = pypdfium2.PdfDocument(bound(order, sheets).pdf)
    texts = [page.get_textpage().get_text_range() for page in document]
    sides = [int(found[1]) for text in texts if (found := re.search(r"\b1 (?:of|von) (\d)", text))]
    # Few are too near the foot of the page for reckoning.
    assert sum(map(bool, ways)) >= 0.7 * len(sheets)
    for way, taken in zip(ways, sides, strict=True):
        assert not way or taken == (len(way) + 1) // 2


def test_of_what_is_not_known_nothing_is_sure() -> None:
    assert leaf_fit.closeness([{"kind": "something new"}, {"kind": "fold"}], "a4", "") == []
