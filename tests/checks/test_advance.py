"""What a house was told, asked and answered."""

import pytest

from rigproof.checks.verdict import check
from rigproof.rigfile.load import parse
from tests.checks.looking import says

CLUB = """
rig: {name: Example, version: "4", date: 2027-04-01}
venues:
  - id: club
    name: The Cellar
    desk: {takes: tails, lines_free: 20, lines_tested: true, phantom: "off", talkback: true,
           side: stage left, distance_m: 6}
    changeover_min: 20
shows:
  - {id: past, name: Past, date: 2027-03-01, venue: club}
  - {id: may, name: May, date: 2027-05-08, venue: club, MORE}
"""


def club(more: str = "name: May") -> str:
    return CLUB.replace("name: May, date", "date").replace("MORE", more)


@pytest.mark.parametrize(
    ("sent", "rules"),
    [
        ("name: May", ["advance.not-sent"]),
        ('name: May, sent: [{date: 2027-04-12, version: "4"}]', []),
        ('name: May, sent: [{date: 2027-04-12, version: "3"}]', ["advance.old-version-sent"]),
        ("name: May, sent: [{date: 2027-03-12}]", ["advance.old-version-sent"]),
        ("name: May, sent: [{date: 2027-04-02}]", []),
        ('name: May, sent: [{date: 2027-05-02, version: "4"}]', ["advance.sent-late"]),
    ],
)
def test_what_was_sent(sent: str, rules: list[str]) -> None:
    """The show that is past asks for nothing any more."""
    told = [
        rule
        for rule in ("advance.not-sent", "advance.old-version-sent", "advance.sent-late")
        if says(rule, club(sent))
    ]
    assert told == rules


def test_a_house_without_a_desk_is_sent_nothing() -> None:
    assert says("advance.not-sent", club().replace("takes: tails", "takes: mixed")) == []


def test_an_answer_counts_for_its_date_and_both_are_told() -> None:
    text = club("name: May, answers: {lines_free: 12, talkback: true, phantom: 'on'}")
    assert says("advance.answer-differs", text) == [
        "For May on 2027-05-08, free lines: 12, and the entry of The Cellar says 20; "
        "48 V: on, and the entry of The Cellar says off."
    ]
    rig = parse(f"format: 1\n{text}".encode())
    assert rig.venues["club"].desk.lines_free == 20
    assert rig.for_show(rig.file.shows[1]).venues["club"].desk.lines_free == 12
    assert rig.for_show(rig.file.shows[0]).venues["club"].desk.lines_free == 20


def test_what_was_unknown_is_answered_not_contradicted() -> None:
    text = club("name: May, answers: {phantom: 'on', changeover_min: 15}")
    text = text.replace('phantom: "off"', "phantom: unknown").replace(
        "    changeover_min: 20\n", ""
    )
    assert says("advance.answer-differs", text) == []


def open_questions(text: str) -> list[tuple[str, str]]:
    found = check(parse(f"format: 1\n{text}".encode())).findings
    return [(f.show, f.says) for f in found if f.rule == "advance.open-questions"]


def test_open_questions_are_asked_once_and_an_answer_closes_them() -> None:
    asked = [("", "Still to ask at The Cellar: whether 48 V is on.")]
    text = club().replace('phantom: "off"', "phantom: unknown")
    assert open_questions(text) == asked
    # One date is answered, the other is not.
    one = text.replace("venue: club, name: May", "venue: club, name: May, answers: {phantom: 'on'}")
    assert open_questions(one) == asked
    both = one.replace(
        "2027-03-01, venue: club", "2027-03-01, venue: club, answers: {phantom: 'off'}"
    )
    assert open_questions(both) == []


def test_mains_are_asked_for_where_something_needs_them() -> None:
    text = club() + "gear: [{id: mixer, type: mixer-rack-24}]\n"
    assert open_questions(text) == [
        ("", "Still to ask at The Cellar: which mains circuits there are.")
    ]
