"""What keeps a rig going: tests, firmware, copies, home positions, spares, the log."""

import pytest

from tests.checks.looking import findings, says

SHOWS = """
venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
shows:
  - {id: a, name: First, date: 2027-04-17, venue: hall}
  - {id: b, name: Second, date: 2027-06-26, venue: hall}
"""
PAIR = """
gear: [{id: mixer, name: Mixer, type: mixer-rack-24}, {id: box, name: Box, type: stage-box-16x8}]
leads: [{id: link, type: lead-network-locking, from: box.link, to: mixer.link, label: LINK}]
"""


@pytest.mark.parametrize(
    ("tested", "told"),
    [
        ("", ["Nobody wrote with which firmware Mixer and Box were tried together."]),
        (
            'tested: {date: 2027-03-01, firmware: [{gear: mixer, version: "2"}]}',
            ["Nobody wrote with which firmware Box was tried together with the rest."],
        ),
        (
            'tested: {date: 2027-03-01, firmware: [{gear: mixer, version: "2"},'
            ' {gear: box, version: "1"}]}',
            [],
        ),
    ],
)
def test_which_firmware_was_tried_together(tested: str, told: list[str]) -> None:
    assert says("firmware.set-not-recorded", f"{PAIR}{tested}{SHOWS}") == told


def test_boxes_that_exchange_nothing_in_digits_need_no_set() -> None:
    alone = "gear: [{id: mixer, type: mixer-rack-24}, {id: amp, type: headphone-amp-4}]\n"
    assert says("firmware.set-not-recorded", alone + SHOWS) == []


def test_an_unreadable_day_is_told_as_such_and_judged_by_nobody() -> None:
    text = "gear: [{id: amp, name: Amp, type: headphone-amp-4, since: May}]\ntested: {date: 3.5.27}"
    assert says("test.came-later", text) == []
    assert says("paper.date-unreadable", text) == [
        'The day Amp came reads "May", which cannot be compared.',
        'The day of the test reads "3.5.27", which cannot be compared.',
    ]


@pytest.mark.parametrize(
    ("about", "tested", "told"),
    [
        ("", "", 1),
        ("", "tested: {date: 2027-04-17}", 0),
        ("", "tested: {date: 2027-04-18}", 1),  # after the first show
        ("rig: {name: E, date: 2027-05-01}", "tested: {date: 2027-04-18}", 0),  # that one is past
        ("rig: {name: E, date: 2027-07-01}", "", 0),  # nothing lies ahead
    ],
)
def test_the_next_show_is_the_one_to_be_ready_for(about: str, tested: str, told: int) -> None:
    text = f"{about}\ngear: [{{id: mixer, type: mixer-rack-24}}]\n{tested}{SHOWS}"
    assert len(says("test.none-before-show", text)) == told


def test_a_mixer_without_digits_has_nothing_to_copy() -> None:
    text = "gear: [{id: m, type: TYPE}]\n" + SHOWS
    assert len(says("backup.too-few", text.replace("TYPE", "mixer-rack-24"))) == 1
    assert says("backup.too-few", text.replace("TYPE", "headphone-amp-4")) == []


def test_only_the_computer_that_plays_needs_copies_and_quiet() -> None:
    text = """
sources: [{id: click, name: Click, family: click, from: playback.out.1}]
gear:
  - {id: playback, type: interface-8x8}
  - {id: laptop, name: Player, type: laptop}
  - {id: other, name: Office, type: laptop}
leads: [{id: usb, type: lead-usb-c-c, from: laptop.usb.1, to: playback.usb}]
"""
    assert says("backup.too-few", text + SHOWS) == ["What is set in Player is kept nowhere else."]
    assert [said.partition(" plays")[0] for said in says("home.player-not-quiet", text)] == [
        "Player"
    ]


def test_the_newest_copy_is_held_against_the_rig() -> None:
    text = """
rig: {name: E, date: 2027-05-01}
gear: [{id: m, name: Mixer, type: mixer-rack-24}]
backups: [{of: m, kept: a, date: 2027-01-01}, {of: m, kept: b, date: LAST}]
"""
    assert says("backup.older-than-rig", text.replace("LAST", "2027-05-01")) == []
    assert says("backup.older-than-rig", text.replace("LAST", "2027-04-30")) == [
        "The newest copy of what is set in Mixer is of 2027-04-30; this version of the rig is of "
        "2027-05-01."
    ]


@pytest.mark.parametrize(("put_in", "years"), [("2022-06-27", None), ("2022-06-26", 5)])
def test_a_cell_is_as_old_as_at_the_last_show(put_in: str, years: int | None) -> None:
    text = f"gear: [{{id: m, type: mixer-rack-24, memory_battery: {put_in}}}]\n{SHOWS}"
    assert [f.found for f in findings("backup.memory-cell-old", text)] == (
        [] if years is None else [years]
    )


def test_a_knob_that_is_set_down_needs_no_other_words() -> None:
    text = "gear: [{id: amp, name: Amp, type: headphone-amp-4}]\nSET" + SHOWS
    assert len(says("home.not-written", text.replace("SET", ""))) == 1
    set_down = "settings: [{at: amp.amp.1-2, gain_db: -20}]"
    assert says("home.not-written", text.replace("SET", set_down)) == []


def test_fan_outs_need_no_spare_of_their_kind_and_lengths_need_be_known() -> None:
    text = """
gear: [{id: split, type: splitter-transformer-8}, {id: box, type: stage-box-16x8}]
leads:
  - {id: t, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8, plugged: every show, length_m: 10}
  - {id: x, type: lead-xlr, from: box.out.1, to: house.9, plugged: every show, length_m: 20}
spares: [SPARES]
"""  # noqa: E501 (an entry reads better whole)
    short = "{type: lead-xlr, length_m: 10}"
    assert says("spare.no-lead", text.replace("SPARES", short)) == []
    assert len(says("spare.lead-too-short", text.replace("SPARES", short))) == 1
    for enough in (f"{short}, {{type: lead-xlr, length_m: 20}}", f"{short}, {{type: lead-xlr}}"):
        assert says("spare.lead-too-short", text.replace("SPARES", enough)) == []


def test_batteries_are_asked_for_what_runs_on_them() -> None:
    text = """
gear:
  - {id: pack, name: Pack, type: pack-wireless}
  - {id: wired, name: Wired, type: pack-wired-passive}
  - {id: theirs, name: Theirs, type: pack-wireless, owner: house}
consumables: [{what: tape, count: 1}]
"""
    assert says("consumable.no-batteries", text) == ["No batteries are listed for Pack."]


@pytest.mark.parametrize(
    ("log", "late"),
    [
        ("{date: 2026-01-01, what: leads, next: 2027-06-26}", 0),
        ("{date: 2026-01-01, what: leads, next: 2027-06-25}", 1),
        (
            "{date: 2027-01-01, what: LEADS, next: 2028-01-01},"
            " {date: 2026-01-01, what: leads, next: 2027-01-01}",
            0,
        ),
        ("{date: 2026-01-01, what: leads}", 0),
    ],
)
def test_the_last_look_counts(log: str, late: int) -> None:
    assert len(says("log.look-due", f"log: [{log}]\n{SHOWS}")) == late


def test_serial_numbers_are_asked_once_the_list_has_begun() -> None:
    text = """
gear:
  - {id: a, name: Mixer, type: mixer-rack-24, serial: A1}
  - {id: b, name: Amp, type: headphone-amp-4}
  - {id: c, name: Split, type: splitter-transformer-8}
  - {id: d, name: Theirs, type: headphone-amp-4, owner: house}
"""
    assert says("log.serials-incomplete", text) == ["1 box has a serial number here; Amp has none."]
    assert says("log.serials-incomplete", text.replace(", serial: A1", "")) == []


def test_a_measurement_of_another_rig_is_named() -> None:
    text = """\
sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: 110}]
gear: [{id: mixer, name: Mixer, type: mixer-rack-12}]
patch: [{source: voice, plug: mixer.in.1, channel: 1, gain_db: 30}]
--- # measured/take-2027-03-01.json
{"form": 1, "kind": "take", "date": "2027-03-01", "method": "a take", "rig": "The blue case 3",
 "lines": [{"channel": 1, "source": "choir", "socket": "mixer.in.1", "loudest_dbfs": -20}]}
"""
    assert says("figures.measured-before", text) == [
        "Of measured/take-2027-03-01.json no line is one of this rig: it was measured on "
        "2027-03-01 of The blue case 3."
    ]
