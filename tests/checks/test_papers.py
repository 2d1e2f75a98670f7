import pytest

from tests.checks.looking import findings, says

SHOWS = """
rig: {{name: Example, valid_until: {until}}}
venues: [{{id: hall, name: Hall, desk: {{takes: nothing}}}}]
shows:
  - {{id: a, name: First, date: 2027-04-17, venue: hall}}
  - {{id: b, name: Second, date: 2027-06-26, venue: hall}}
"""


@pytest.mark.parametrize(
    ("until", "late"),
    [
        ("2027-06-26", []),
        ("2027-06-25", ["Second"]),
        ("2027-01-01", ["First", "Second"]),
        ("next summer", []),
    ],
)
def test_expiry_is_held_against_the_shows(until: str, late: list[str]) -> None:
    found = says("paper.expired", SHOWS.format(until=until))
    assert [sentence.split(" is on ")[0] for sentence in found] == late


def test_unreadable_dates_are_told_each() -> None:
    text = SHOWS.format(until="next summer").replace("2027-04-17", "17.4.27")
    assert says("paper.date-unreadable", text) == [
        'The last day of the papers reads "next summer", which cannot be compared.',
        'The date of First reads "17.4.27", which cannot be compared.',
    ]


def test_only_the_last_who_leads_the_band_is_missed() -> None:
    text = """
people:
  - {id: ada, name: Ada, leads_band: true}
  - {id: ben, name: Ben, leads_band: true}
venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
shows: [{id: s, name: Dance, date: 2027-04-17, venue: hall, without: [WHO]}]
"""
    assert says("show.person-away-but-needed", text.replace("WHO", "ada")) == []
    assert len(says("show.person-away-but-needed", text.replace("WHO", "ada, ben"))) == 2


def test_each_job_of_the_one_who_is_away_is_named() -> None:
    text = """
rig: {name: Example, patch_owner: ada, gain_owner: ada}
people: [{id: ada, name: Ada}]
venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
shows: [{id: s, name: Dance, date: 2027-04-17, venue: hall, without: [ada]}]
"""
    assert says("show.person-away-but-needed", text) == [
        "Ada owns the patch and alone turns the gain and is away at Dance."
    ]


def test_a_contact_that_cannot_be_reached() -> None:
    text = "rig: {name: Example, contact: {name: Ada}}\n"
    assert says("paper.no-contact", text) == ["Ada can be asked, but has no phone and no mail."]


def test_a_passive_rack_asks_no_venue_for_volts() -> None:
    text = """
gear: [{id: split, type: splitter-transformer-8, unit: 1}]
venues: [{id: club, name: The Cellar, desk: {takes: nothing}}]
"""
    assert findings("missing.figure", text) == []
