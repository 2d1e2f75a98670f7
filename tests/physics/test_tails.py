"""A broken balanced line: the solved circuit against dividers worked out by hand."""

import math

import pytest

from rigproof.linecheck.tailends import (
    FED_DB,
    HALF_DB,
    SHORT_FROM_DB,
    THIN_DB_AN_OCTAVE,
    THIN_FROM_DB,
)
from rigproof.physics.cable import MIC_CABLE_PF_PER_M
from rigproof.physics.tails import Fault, Receiver, Sender, ground_noise_db, received
from tests.linecheck.house_end import (
    DIRECT,
    DRIVEN,
    HALF_DRIVEN,
    ISOLATED,
    LINE_IN,
    MIC_IN,
    ON_SHIELD,
    OPEN_2,
    OPEN_3,
    OPEN_AT_HOUSE,
    SHORT,
)


def under_db(sender: Sender, receiver: Receiver, fault: Fault, hz: float = 1000) -> float:
    return -received(frequency_hz=hz, sender=sender, receiver=receiver, fault=fault).level_db


def db(ratio: float) -> float:
    return 20 * math.log10(ratio)


def test_one_leg_of_two_is_half() -> None:
    """Common practice, no source: an open leg costs 6 dB. So it does, between grounded ends."""
    near = Fault(pin3_ohm=math.inf, behind_m=0)
    assert under_db(DRIVEN, LINE_IN, near) == pytest.approx(db(2), abs=0.05)


def test_an_input_with_feed_resistors_by_hand() -> None:
    """The open leg hangs on the live one through the input, and on ground through its resistor."""
    tied = Sender(source_ohm=1e-3, centre_ohm=0)
    left = 0.5 * MIC_IN.across_ohm / (MIC_IN.across_ohm + MIC_IN.leg_ohm)
    open_leg = Fault(pin2_ohm=math.inf, behind_m=0)
    assert under_db(tied, MIC_IN, open_leg) == pytest.approx(-db(left), abs=0.05)


def test_a_floating_line_by_hand() -> None:
    """Only the capacitance of the live leg to the shield closes the circuit: 6 dB an octave."""
    floating = Sender(source_ohm=1e-3)
    fault = Fault(pin3_ohm=math.inf, before_m=10, behind_m=0)
    farad = MIC_CABLE_PF_PER_M * 10 * 1e-12
    for hz in (100, 1000):
        # The voltage drives through the input's two legs in a row, 10 kohm to ground at the live
        # one, and back by the capacitance of the open conductor to the shield.
        back = 1 / (2j * math.pi * hz * farad)
        live = 1 / (1 / LINE_IN.leg_ohm + 2j * math.pi * hz * farad)
        expected = abs(live / (live + back))
        assert under_db(floating, LINE_IN, fault, hz) == pytest.approx(-db(expected), abs=0.1)
    rise = under_db(floating, LINE_IN, fault, 100) - under_db(floating, LINE_IN, fault, 200)
    assert rise == pytest.approx(db(2), abs=0.1)


def test_a_short_by_hand() -> None:
    """A divider of the source and half an ohm."""
    expected = SHORT.across_ohm / (DRIVEN.source_ohm + SHORT.across_ohm)
    whole = 20_000 / (20_000 + DRIVEN.source_ohm)
    assert under_db(DRIVEN, LINE_IN, SHORT) == pytest.approx(-db(expected / whole), abs=0.05)


def test_which_pin_is_open_the_sound_does_not_tell() -> None:
    for sender in (DRIVEN, ISOLATED, DIRECT):
        both = [
            received(frequency_hz=1000, sender=sender, receiver=MIC_IN, fault=fault)
            for fault in (OPEN_2, OPEN_3)
        ]
        assert both[0].level_db == pytest.approx(both[1].level_db, abs=0.01)
        assert both[0].upright
        assert both[1].upright


def test_what_a_level_hides() -> None:
    """A leg on the shield of a floating line, and pin 3 open where only pin 2 is driven."""
    assert abs(under_db(ISOLATED, LINE_IN, ON_SHIELD)) < 0.3
    assert abs(under_db(HALF_DRIVEN, LINE_IN, OPEN_3)) < 0.3
    assert under_db(HALF_DRIVEN, LINE_IN, OPEN_2) > 100


def test_an_open_leg_takes_the_noise_between_the_grounds_for_signal() -> None:
    whole = ground_noise_db(frequency_hz=50, sender=DRIVEN, receiver=LINE_IN, fault=Fault())
    torn = ground_noise_db(frequency_hz=50, sender=DRIVEN, receiver=LINE_IN, fault=OPEN_3)
    assert whole < -100
    assert torn > -1


@pytest.mark.parametrize(
    ("sender", "receiver", "fault", "face"),
    [
        (DRIVEN, LINE_IN, OPEN_3, "half"),
        (DRIVEN, LINE_IN, ON_SHIELD, "half"),
        (DRIVEN, MIC_IN, ON_SHIELD, "half"),
        (DIRECT, LINE_IN, OPEN_2, "half"),
        (DRIVEN, MIC_IN, OPEN_3, "fed"),
        (DIRECT, MIC_IN, OPEN_2, "fed"),
        (ISOLATED, LINE_IN, OPEN_3, "thin"),
        (ISOLATED, LINE_IN, OPEN_AT_HOUSE, "thin"),
        (ISOLATED, MIC_IN, OPEN_AT_HOUSE, "thin"),
        (DRIVEN, LINE_IN, SHORT, "short"),
        (DIRECT, MIC_IN, SHORT, "short"),
        (ISOLATED, LINE_IN, SHORT, "short"),
    ],
)
def test_the_faces_of_a_fault(sender: Sender, receiver: Receiver, fault: Fault, face: str) -> None:
    """What the judgement of tails goes by is what the circuits of usual boxes do."""
    level = under_db(sender, receiver, fault)
    slope = under_db(sender, receiver, fault, 500) - level
    if face == "thin":
        assert slope > THIN_DB_AN_OCTAVE
        assert level > THIN_FROM_DB
        return
    assert slope < 1
    if face == "short":
        assert level > SHORT_FROM_DB
    else:
        low, high = HALF_DB if face == "half" else FED_DB
        assert low < level < high
