from tests.checks.looking import says

TWO_ON_A_SWITCH = """
gear:
  - {id: card, name: Card, type: card-network-audio-32}
  - {id: rec, name: Recorder, type: recorder-32}
  - {id: switch, type: switch-8-managed}
leads:
  - {id: a, type: lead-network-locking-plain, from: card.net, to: switch.port.1}
  - {id: b, type: lead-network-locking-plain, from: rec.net, to: switch.port.2}
"""


def test_a_stage_box_that_cannot_lead_needs_no_entry() -> None:
    """One box that can lead, one that only follows: nothing is left to say."""
    text = """
gear:
  - {id: mixer, type: mixer-rack-24}
  - {id: box, type: stage-box-16x8}
leads: [{id: l, type: lead-network-locking, from: box.link, to: mixer.link}]
"""
    assert says("clock.unstated", text) == []
    assert says("clock.no-leader", text) == []


def test_boxes_on_one_switch_share_a_clock_without_a_stream() -> None:
    assert says("clock.unstated", TWO_ON_A_SWITCH) == [
        "Card and Recorder are joined digitally, and the file does not say which of them leads "
        "the clock."
    ]
    both = TWO_ON_A_SWITCH + "clocks: [{gear: card, rate_hz: 48000}, {gear: rec, rate_hz: 48000}]\n"
    assert says("clock.two-leaders", both) == [
        "Card and Recorder each lead their own clock, and their samples meet."
    ]


def test_one_entry_too_few_names_the_forgotten_box() -> None:
    text = TWO_ON_A_SWITCH + "clocks: [{gear: card, rate_hz: 48000, pinned: true}]\n"
    assert says("clock.unstated", text) == [
        "Recorder is joined to a clocked part of the rig, and the file does not say whose clock "
        "to follow."
    ]


def test_a_followed_box_without_an_entry_leads() -> None:
    text = TWO_ON_A_SWITCH + "clocks: [{gear: rec, follows: card, rate_hz: 48000}]\n"
    assert says("clock.unstated", text) == []
    assert says("clock.two-leaders", text) == []
    assert len(says("clock.not-pinned", text)) == 1


def test_two_clocks_that_never_meet_are_two_clocks() -> None:
    text = """
gear:
  - {id: mixer, type: mixer-rack-24}
  - {id: playback, type: interface-8x8}
leads: [{id: a, type: lead-jack-trs-xlr, from: playback.out.1-2, to: mixer.in.1-2}]
clocks: [{gear: mixer, rate_hz: 48000}, {gear: playback, rate_hz: 44100}]
"""
    assert says("clock.two-leaders", text) == []
    assert says("clock.rates-differ", text) == []


def test_following_somebody_outside_leaves_the_part_without_a_leader() -> None:
    text = TWO_ON_A_SWITCH.replace("gear:", "gear:\n  - {id: far, name: Far, type: mixer-rack-24}")
    text += """clocks:
  - {gear: card, follows: far, rate_hz: 48000}
  - {gear: rec, follows: card, rate_hz: 48000}
"""
    assert says("clock.no-leader", text) == [
        "Nobody leads the clock of Card and Recorder: Card follows Far, which is not joined to "
        "them."
    ]
    assert says("clock.leader-not-heard", text) == [
        "Card shall follow the clock of Far, and no link leads from there to it."
    ]


def test_a_ring_is_told_once_and_not_also_as_missing_leader() -> None:
    text = (
        TWO_ON_A_SWITCH
        + """clocks:
  - {gear: card, follows: rec, rate_hz: 48000}
  - {gear: rec, follows: card, rate_hz: 48000}
"""
    )
    assert says("clock.ring", text) == [
        "Card and Recorder follow each other's clock in a ring: nobody leads."
    ]
    assert says("clock.no-leader", text) == []
    own = TWO_ON_A_SWITCH + "clocks: [{gear: card, follows: card, rate_hz: 48000}]\n"
    assert says("clock.ring", own) == ["Card follows its own clock."]


def test_an_analogue_box_has_no_clock() -> None:
    text = """
gear: [{id: split, name: Split, type: splitter-transformer-8}]
clocks: [{gear: split, rate_hz: 48000}]
"""
    assert says("clock.beyond-ability", text) == [
        "Split has no clock of its own, and is told to lead."
    ]
