"""What one date adds to the findings of every night is told, and nothing is told twice."""

import pytest

from rigproof.checks.graver import names, says_more
from rigproof.checks.rule import Finding
from rigproof.checks.verdict import check
from rigproof.rigfile.load import parse

HOUSE = """\
format: 1
rig: {name: Two dates}
people: [{id: ana, name: Ana}]
sources:
  - {id: kick, name: Kick, family: drums, drop: 1}
  - {id: voice, name: Voice, family: voices, player: ana, drop: 9}
gear: [{id: split, type: splitter-transformer-8}]
patch:
  - {source: kick, plug: split.in.1}
  - {source: voice, plug: split.in.2}
leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}]
venues: [{id: bar, name: The bar, desk: {takes: tails, lines_free: 1}}]
shows:
  - id: may
    date: 2027-05-01
    venue: bar
    SHOW
"""


def lines_told(show: str) -> list[tuple[str, str]]:
    found = check(parse(HOUSE.replace("SHOW", show).encode())).findings
    return [(f.show, f.says) for f in found if f.rule == "handoff.too-few-lines"]


USUAL = ("", "The bar has 1 free line and the band brings 2: Kick would go.")


def test_the_same_is_told_once() -> None:
    assert lines_told("note: as always") == [USUAL]
    assert lines_told("patch: [{source: kick, plug: split.in.3}]") == [USUAL]


def test_a_graver_figure_is_told_of_its_date() -> None:
    guest = """sources: [{id: horn, name: Horn, family: brass, drop: 2}]
    patch: [{source: horn, plug: split.in.3}]"""
    more = "The bar has 1 free line and the band brings 3: Kick and Horn would go."
    assert lines_told(guest) == [USUAL, ("may", more)]


def test_a_milder_one_about_the_same_is_not() -> None:
    assert lines_told("answers: {lines_free: 1}") == [USUAL]
    assert lines_told("without: [kick]") == [USUAL]


def test_another_name_is_told_though_the_figure_is_the_same() -> None:
    guest = """without: [kick]
    sources: [{id: horn, name: Horn, family: brass, drop: 2}]
    patch: [{source: horn, plug: split.in.3}]"""
    other = "The bar has 1 free line and the band brings 2: Horn would go."
    assert lines_told(guest) == [USUAL, ("may", other)]


RIG = parse(
    b"format: 1\nrig: {name: Names}\npeople:\n"
    + b"".join(b"  - {id: p%d, name: Person %d}\n" % (n, n) for n in range(10))
)


def finding(says: str, *, found: float | None = None, limit: float | None = None) -> Finding:
    return Finding(at=RIG.about.where, says=says, found=found, limit=limit, unit="kg")


@pytest.mark.parametrize(
    ("usual", "tonight", "more"),
    [
        # Above a limit, more is worse; below one, less is.
        (finding("A.", found=80.9, limit=33), finding("B.", found=81.1, limit=33), False),
        (finding("A.", found=80.9, limit=33), finding("B.", found=90, limit=33), True),
        (finding("A.", found=5, limit=7), finding("B.", found=3, limit=7), True),
        (finding("A.", found=3, limit=7), finding("B.", found=5, limit=7), False),
        # The limit moves as well: what counts is how far beyond it the figure lies.
        (finding("A.", found=27, limit=20), finding("B.", found=27, limit=16), True),
        (finding("A.", found=2), finding("B.", found=9), False),
        # A long row of names is cut: one that shows now may have been among the rest.
        (finding("Person 1 and 3 more."), finding("Person 2 and 2 more."), False),
        (finding("Person 1 and 3 more."), finding("Person 1 and 4 more."), True),
        (finding("Person 1 and Person 2."), finding("Person 2."), False),
        (finding("Person 1."), finding("Person 3."), True),
    ],
)
def test_what_counts_as_more(usual: Finding, tonight: Finding, *, more: bool) -> None:
    assert says_more(tonight, [usual], names(RIG)) is more
    assert not says_more(usual, [usual], names(RIG))
