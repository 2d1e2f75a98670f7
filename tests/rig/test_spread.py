"""The widths of a likely range, as the page on numbers prints them."""

import re
from itertools import pairwise

from rigproof.rig.quantity import PROVENANCES
from rigproof.rig.spread import spread_db, spread_ratio
from tests.bands import ROOT


def test_the_page_on_numbers_prints_the_widths_that_count() -> None:
    page = (ROOT / "docs" / "numbers.md").read_text("utf-8")
    rows = re.findall(
        r"^\| `(\w+)` \|.*\| ([\d.]+) to ([\d.]+) \| ([\d.]+) \|$", page, re.MULTILINE
    )
    printed = {kind: ((float(low), float(high)), float(db)) for kind, low, high, db in rows}
    assert printed == {kind: (spread_ratio(kind), spread_db(kind)) for kind in PROVENANCES}


def test_what_is_known_worse_errs_more() -> None:
    widths = [(spread_ratio(kind), spread_db(kind)) for kind in PROVENANCES]
    for ((low, high), db), ((lower, higher), more_db) in pairwise(widths):
        assert lower < low < 1 < high < higher
        assert db < more_db
