"""Streams, ways and power over leads by hand."""

import pytest

from rigproof.network.feeding import budgets
from rigproof.network.traffic import crossings, flows, packet_time_us, socket_loads
from tests.bands import stated

TWO = """
gear:
  - {{id: a, type: card-network-audio-64}}
  - {{id: b, type: card-network-audio-64}}
  - {{id: other, type: access-point}}
  - {{id: s, type: {switch}}}
leads:
  - {{id: la, type: lead-network-locking-plain, from: a.net, to: s.port.1, length_m: 10}}
  - {{id: lb, type: lead-network-locking-plain, from: b.net, to: s.port.2, length_m: 20}}
  - {{id: lo, type: lead-network-plain, from: other.port, to: s.port.3, length_m: 5}}
streams:
  - {{id: there, from: a.net.tx.1-{out}, to: b.net.rx.1-{out}, latency_ms: {latency}}}
"""


def two(switch: str = "switch-8-managed", out: int = 8, latency: float = 3) -> str:
    return TWO.format(switch=switch, out=out, latency=latency)


@pytest.mark.published("AES67 arithmetic: 8 channels of L24 in 48-sample packets are 9.84 Mb/s")
def test_a_stream_of_eight() -> None:
    (flow,) = flows(stated(two()))
    assert (flow.channels, flow.flows, flow.packets_hz) == (8, 1, 1000)
    assert flow.mbps == pytest.approx(9.84, abs=0.005)


def test_more_channels_are_more_flows() -> None:
    (flow,) = flows(stated(two(out=20)))
    assert (flow.channels, flow.flows) == (20, 3)
    (eight,) = flows(stated(two(out=8)))
    (four,) = flows(stated(two(out=4)))
    assert flow.mbps == pytest.approx(2 * eight.mbps + four.mbps)


@pytest.mark.parametrize(
    ("latency", "packet"), [(10, 1000), (3, 1000), (2, 333), (1, 333), (0.75, 250), (0.2, 125)]
)
def test_three_packets_fit_into_the_latency(latency: float, packet: float) -> None:
    assert packet_time_us(latency) == packet


@pytest.mark.published("RFC 4541: without snooping, multicast goes to all ports")
def test_who_gets_the_stream() -> None:
    for switch, filters in (("switch-8-managed", True), ("switch-8-plain", False)):
        rig = stated(two(switch))
        loads = {load.socket: load for load in socket_loads(rig, flows(rig))}
        (flow,) = flows(rig)
        assert loads["a.net"].carries_mbps == flow.mbps
        assert loads["s.port.2"].carries_mbps == flow.mbps
        towards = loads["s.port.3"]
        assert towards.filtered_mbps == 0
        assert towards.flooded_mbps == flow.mbps
        assert towards.carries_mbps == (0 if filters else flow.mbps)


@pytest.mark.published("IEEE 802.3: one switch stores a frame and may wait for one of 1538 bytes")
def test_a_crossing_by_hand() -> None:
    rig = stated(two())
    (crossing,) = crossings(rig, flows(rig))
    payload = 8 * 48 * 3 + 12 + 8 + 20
    frame, wire = payload + 18, payload + 38
    by_hand_us = 1000 + 8 * wire / 1e3 + 8 * frame / 1e3 + 8 * 1538 / 1e3 + 30 * 0.005
    assert crossing.switches == 1
    assert crossing.needs_ms == pytest.approx(by_hand_us / 1000)
    assert crossing.fits
    assert crossing.sleeping_ms == 0


def test_a_sleeping_switch_adds_its_waking() -> None:
    rig = stated(two("switch-5-saving"))
    (crossing,) = crossings(rig, flows(rig))
    assert crossing.sleeping_ms == pytest.approx(2 * 17 / 1000)


POE = """
gear:
  - {id: hub, type: hub-16}
  - {id: pm, type: personal-mixer-16}
leads: [{id: l, type: lead-network-locking, from: hub.out.1, to: pm.feed, length_m: 50}]
"""


@pytest.mark.published("IEEE 802.3af: I2 R with 20 ohm for 100 m; 8 W at 48 V through 50 m")
def test_power_at_the_socket() -> None:
    (budget,) = budgets(stated(POE))
    (fed,) = budget.fed
    assert fed.takes_w is not None
    assert fed.takes_w.value == pytest.approx(8 + (8 / 48) ** 2 * 10)
    assert (float(fed.gives_w), float(budget.budget_w or 0)) == (10, 80)
