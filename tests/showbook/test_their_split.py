"""A house that brings its own split, and ears that are not on the radio: as the sheets tell it."""

from rigproof.checks.rule import look
from rigproof.rig import Rig
from rigproof.showbook import house_page
from rigproof.showbook.drawings.onstage import hears, line_of
from rigproof.showbook.edition import ENGLISH
from tests.bands import stated

RIG = """
people:
  - {{id: ann, name: Ann, ears: {{plug: belt.phones, earphones: earphones-dual}}}}
  - {{id: bo, name: Bo, ears: {{plug: radio.phones, earphones: earphones-dual}}}}
sources:
  - {{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic}}
  - {{id: over, name: Overheads, family: drums, stereo: true, mic: mic-small-condenser}}
  - {{id: voice, name: Voice, family: voices, player: ann, mic: mic-headworn}}
gear:
  - {{id: split, type: splitter-passive-16}}
  - {{id: mixer, type: mixer-rack-16}}
  - {{id: pack, type: wireless-bodypack, place: person, with_person: ann}}
  - {{id: receiver, type: receiver-mic}}
  - {{id: belt, name: Belt, type: pack-wired, place: person, with_person: ann}}
  - {{id: radio, name: Radio, type: pack-wireless, place: person, with_person: bo}}
radio: [{{id: voice-radio, from: pack.rf, to: receiver.rf}}]
leads:
  - {{id: ours, type: lead-xlr, from: split.direct.1-16, to: mixer.in.1-16}}
  - {{id: receiver-split, type: lead-xlr, from: receiver.out, to: split.in.6}}
  - {{id: tails, type: tails-xlr-8, from: split.second.1-8, to: house.1-8, length_m: 10}}
patch:
  - {{source: kick, plug: split.in.1, channel: 1}}
  - {{source: over, plug: split.in.3-4, channel: 3-4}}
  - {{source: voice, plug: pack.in, channel: 6}}
venues: [{{id: field, name: Field, desk: {{takes: tails, lines: 24, own_split: {own}}}}}]
"""


def rig_at(own: str) -> Rig:
    return stated(RIG.format(own=own))


def page_at(own: str) -> dict[str, object]:
    view = look(rig_at(own))
    return house_page.page(view, view.hand_offs[0], [], ENGLISH)


def sections(own: str) -> dict[str, str]:
    page = page_at(own)
    found = page["sections"]
    assert isinstance(found, list)
    return {s["title"]: " ".join(line["said"] for line in s["lines"]) for s in found}


# "I bring my own split. Which pages change, and does my order map to yours without re-plugging?"
# Common practice, no source: what a self-contained band is asked.
def test_their_split_first_then_ours_by_our_numbers() -> None:
    said = sections("true")

    assert "Your split comes first: our lines 1, 3-4 go into it" in said["We hand over"]
    assert "3 plugs, XLR male, each labelled with our number" in said["We hand over"]
    assert "Nothing is re-plugged on our side" in said["We hand over"]
    assert "8-way" not in said["We hand over"]  # no tails are handed over for these


def test_what_begins_in_our_case_still_comes_by_our_tail() -> None:
    said = sections("true")

    assert "Not through your split: 6 (Voice)" in said["We hand over"]
    assert "Silent with the rack: 6 (Voice)" in said["If our rack dies"]
    assert "Still there: 1, 3-4" in said["If our rack dies"]


def test_48_v_hangs_on_which_output_of_their_split_we_get() -> None:
    assert "If you give us isolated outputs, you feed" in sections("true")["48 V"]
    assert "isolated outputs" not in sections("false")["48 V"]


def test_without_their_split_the_tails_are_handed_over() -> None:
    said = sections("false")

    assert "8-way" in said["We hand over"]
    assert "Your split" not in " ".join(said.values())


def test_both_columns_of_numbers_map_one_to_one() -> None:
    page = page_at("true")
    rows = page["rows"]
    assert isinstance(rows, list)
    used = [(row["number"], row["theirs"]) for row in rows if row["status"] == "use"]

    assert used == [(1, "1"), (3, "2"), (4, "3"), (6, "4")]


def test_a_belt_pack_on_a_lead_is_not_on_the_radio() -> None:
    rig = rig_at("false")

    assert hears(rig, rig.people["ann"], ENGLISH) == "ears by lead, Belt"
    assert hears(rig, rig.people["bo"], ENGLISH) == "ears by radio, Radio"


def test_a_microphone_on_a_transmitter_is_drawn_as_wireless() -> None:
    rig = rig_at("false")

    assert line_of(rig, rig.sources["voice"]).mark == "wireless"
    assert line_of(rig, rig.sources["kick"]).mark == "microphone"
