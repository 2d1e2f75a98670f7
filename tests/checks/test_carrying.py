"""Weight, leads, streams and radio through the rules."""

import pytest

from tests.checks.looking import findings, says

CASE = """
case: {type: case-20-castors%s}
gear: [{id: ups, type: ups-rack-1500, unit: %s}, {id: mixer, type: mixer-rack-32, unit: %s}]
"""


def test_what_only_rolls_is_not_lifted() -> None:
    assert says("weight.too-heavy-to-lift", CASE % (", lifted_by: 0", 1, 3)) == []
    (two,) = findings("weight.too-heavy-to-lift", CASE % ("", 1, 3))
    assert two.found == pytest.approx(35 + 24 + 11.5)
    assert "safe" not in two.says + two.fix


@pytest.mark.published("HSE L23: three lift half of the sum of their guideline weights")
def test_more_people_are_told_where_they_are_enough() -> None:
    text = "case: {type: case-8}\ngear: [{id: ups, type: ups-rack-1500, unit: 1}]\n"
    (found,) = findings("weight.too-heavy-to-lift", text)
    assert found.says.endswith("3 people would be within it.")
    assert says("weight.too-heavy-to-lift", text.replace("case-8", "case-8, lifted_by: 3")) == []


def test_a_weight_that_is_not_known_makes_it_at_least_so_heavy() -> None:
    text = CASE % ("", 1, 3) + "leads: []\n"
    assert "without" not in says("weight.too-heavy-to-lift", text)[0]


STAGE = """
case: {type: case-12, at_m: [5, 3]}
gear:
  - {id: hub, type: hub-16, unit: 1}
  - {id: pm, type: personal-mixer-16, place: stage, at_m: [%s, 1]}
leads:
  - {id: l, type: lead-network-locking, from: hub.out.1, to: pm.feed, length_m: 10}
"""


@pytest.mark.parametrize(("x", "judged"), [(-1.5, 0), (-1.6, 1)])
def test_a_lead_at_its_bound(x: float, judged: int) -> None:
    """6.5 m across, 2 m along, 1.5 m up and down: 10 m to the centimetre."""
    assert len(findings("lead.too-short-for-the-way", STAGE % x)) == judged


def test_boxes_of_the_case_need_no_way() -> None:
    text = """
case: {type: case-12}
gear: [{id: hub, type: hub-16, unit: 1}, {id: mixer, type: mixer-rack-24, unit: 2}]
leads: [{id: l, type: lead-network-locking, from: mixer.feed, to: hub.feed, length_m: 0.5}]
"""
    assert says("lead.too-short-for-the-way", text) == []


def test_a_stream_to_the_house_counts_at_its_sender() -> None:
    text = """
gear: [{id: box, type: converter-line-2-network}]
streams: [{id: s, from: box.net.tx.1-2, to: house.1-2, latency_ms: 1}]
"""
    assert says("network.bandwidth", text) == []


def test_a_socket_of_ten_watts_and_a_box_of_more() -> None:
    text = """
gear: [{id: hub, type: hub-16}, {id: ap, type: access-point-poe}]
leads: [{id: l, type: lead-network-locking, from: hub.out.1, to: ap.port, length_m: 5}]
"""
    (found,) = findings("network.poe-over-budget", text)
    assert found.limit == 10


PACKS = """
gear:
  - {id: t1, type: transmitter-ears}
  - {id: t2, type: transmitter-ears}
  - {id: p1, type: pack-wireless}
  - {id: p2, type: pack-wireless}
  - {id: hand, type: wireless-handheld}
  - {id: rx, type: receiver-mic-dual}
sources: [{id: v, name: Voice, family: voices, from: rx.out.1}]
radio:
  - {id: a, from: t1.rf, to: p1.rf, frequency_mhz: 824.0}
  - {id: b, from: t2.rf, to: p2.rf, frequency_mhz: %s}
  - {id: voice, from: hand.rf, to: rx.rf.1%s}
"""


@pytest.mark.published("third-order product: 2 x 824.0 - 823.0 = 825.0 MHz")
def test_the_microphone_mixes_with_the_ears() -> None:
    (found,) = findings("radio.intermodulation", PACKS % (825.0, ", frequency_mhz: 823.0"))[:1]
    assert "2 x 824 - " in found.says
    assert found.found == 0
    assert says("radio.frequency-unknown", PACKS % (825.0, ", frequency_mhz: 823.0")) == []


def test_a_microphone_without_a_frequency_is_asked_for() -> None:
    (unknown,) = findings("radio.frequency-unknown", PACKS % (825.0, ""))
    assert unknown.severity == "unknown"
    assert "voice" in unknown.says


@pytest.mark.parametrize(("b", "judged"), [(824.4, 0), (824.3, 1)])
def test_spacing_at_its_bound(b: float, judged: int) -> None:
    assert len(findings("radio.spacing", PACKS % (b, ""))) == judged


CONTROL = """
gear: [{id: router, type: router-wifi}]
control: {band: 5 GHz, access_point: router, wired_fallback: true, farthest_m: %s%s}
"""


@pytest.mark.published("Friis at 5220 MHz: 15 + 2 - 20 lg(4 pi d f / c) = -67 dBm at 72.4 m")
@pytest.mark.parametrize(("metres", "judged"), [(72, 0), (73, 1)])
def test_the_reach_in_free_space(metres: float, judged: int) -> None:
    assert len(findings("radio.wifi-weak", CONTROL % (metres, ""))) == judged


def test_an_antenna_of_unknown_height_is_asked_for() -> None:
    (found,) = findings("radio.audience-in-the-way", CONTROL % (20, ", through_audience: true"))
    assert found.severity == "unknown"
    assert "antenna_up_m" in found.says
