import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import frames, hops, ip, poe
from tests.reference.rows import Calls, Row, assert_agrees, judged_by

TIMES = ("t1", "t2", "t3", "t4")


def _stored_us(row: Row) -> float:
    return hops.stored_path_us(
        switches=int(row["links"]) - 1,
        bits=row["bits"],
        link_bps=row["rate"],
        link_us=row["propagation"],
    )


def _cut_through_us(row: Row) -> float:
    return hops.cut_through_path_us(
        switches=int(row["links"]) - 1,
        bits=row["bits"],
        ahead_bits=row["lookahead"],
        link_bps=row["rate"],
        link_us=row["propagation"],
    )


def _times(row: Row) -> dict[str, float]:
    return {f"{name}_us": row[name] for name in TIMES}


CALLS: Calls = {
    ("network/latency", "one store-and-forward switch, *"): _stored_us,
    ("network/latency", "three store-and-forward switches, *"): _stored_us,
    ("network/latency", "three cut-through switches *"): _cut_through_us,
    ("network/latency", "store-and-forward time of *"): lambda row: hops.frame_us(
        frame_bytes=row["frame"], link_bps=row["rate"]
    ),
    ("network/latency", "worst wait behind one full-size frame *"): lambda row: hops.blocked_us(
        link_bps=row["rate"]
    ),
    ("network/latency", "four hops at *"): lambda row: hops.switches_us(
        switches=int(row["switches"]), frame_bytes=row["frame"], link_bps=row["rate"]
    ),
    ("network/eee", "worst EEE delay at 1 Gb/s *"): lambda row: hops.sleeping_us(
        speed="1 Gb/s", collect_us=row["wait"]
    ),
    ("network/eee", "EEE wake alone *"): lambda row: hops.packet_share_percent(
        delay_us=hops.wake_us("100 Mb/s"), packet_us=row["packet time"]
    ),
    ("network/dscp", "AF?? as a number"): lambda row: ip.assured_dscp(
        forwarding_class=int(row["class"]), drop=int(row["drop"])
    ),
    ("network/dscp", "CS7 as a number"): lambda row: ip.selector_dscp(int(row["class"])),
    ("network/dscp", "TOS byte for *"): lambda row: ip.tos_byte(int(row["DSCP"])),
    ("network/dscp", "AES67 default DSCP *"): lambda row: ip.MEDIA_DSCP,
    ("network/ptp", "PTP event message UDP port"): lambda row: frames.CLOCK_EVENT_PORT,
    ("network/ptp", "PTP primary multicast group"): lambda row: frames.CLOCK_GROUP,
    ("network/ptp", "offset from master"): lambda row: hops.clock_offset_us(**_times(row)),
    ("network/ptp", "mean path delay"): lambda row: hops.clock_delay_us(**_times(row)),
    ("network/ptp", "clock identity from *"): lambda row: ip.clock_identity(row.text("MAC")),
    ("network/sap", "SAP UDP port"): lambda row: frames.ANNOUNCE_PORT,
    ("network/sap", "announcement interval, *"): lambda row: ip.announce_interval_s(
        announcements=int(row["ads"]), size_bytes=row["size"], limit_bps=row["limit"]
    ),
    ("network/sap", "timeout for *"): lambda row: ip.announce_timeout_s(row["interval"]),
    ("network/poe", "class ?: power at the source port"): lambda row: poe.port_w(int(row["class"])),
    ("network/poe", "class ?: power guaranteed *"): lambda row: poe.device_w(int(row["class"])),
    ("network/poe", "cable loss allowance, class 3"): lambda row: poe.port_w(3) - poe.device_w(3),
    ("network/poe", "how many class ? devices *"): lambda row: poe.devices_count(
        budget_w=row["budget"], each_w=poe.port_w(int(row.case.split(" ")[3]))
    ),
}


@judged_by(CALLS, "systems.csv")
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@pytest.mark.published("IEEE 802.3af: 0.35 A in 20 ohm")
def test_what_a_cable_takes() -> None:
    lost = poe.cable_loss_w(current_a=0.35, loop_ohm=20)
    assert lost == pytest.approx(poe.port_w(3) - poe.device_w(3))


@pytest.mark.published("RFC 3246: EF is 46; RFC 2597: AF41 is the default of AES67")
def test_named_code_points() -> None:
    assert ip.EXPEDITED_DSCP == 46
    assert ip.assured_dscp(forwarding_class=4, drop=1) == ip.MEDIA_DSCP


@pytest.mark.published("RFC 2974: never more often than every 300 s, never gone within the hour")
@given(st.integers(1, 100), st.floats(100, 1024))
def test_announcements_have_floors(count: int, size: float) -> None:
    interval = ip.announce_interval_s(announcements=count, size_bytes=size)
    assert interval >= 300
    assert ip.announce_timeout_s(interval) >= max(3600, 10 * interval)
    # All announcers together stay within the limit.
    assert 8 * count * size / interval <= ip.ANNOUNCE_LIMIT_BPS * (1 + 1e-12)


@given(st.floats(0, 1e3), st.floats(0, 1e3), st.floats(-1e3, 1e3), st.floats(0, 1e4))
def test_the_exchange_finds_offset_and_delay(
    there: float, back: float, ahead: float, pause: float
) -> None:
    """Times as two clocks would stamp them, the follower's ahead of the leader's."""
    times = {
        "t1_us": 0.0,
        "t2_us": there + ahead,
        "t3_us": there + ahead + pause,
        "t4_us": there + pause + back,
    }
    asymmetry = (there - back) / 2
    assert hops.clock_offset_us(**times) == pytest.approx(ahead + asymmetry, abs=1e-6)
    assert hops.clock_delay_us(**times) == pytest.approx((there + back) / 2, abs=1e-6)


@given(st.integers(1, 12), st.integers(1, 1500), st.sampled_from([1e8, 1e9]))
def test_cutting_through_never_takes_longer(switches: int, payload: int, link_bps: float) -> None:
    bits = 8 * frames.frame_bytes(payload)
    stored = hops.stored_path_us(switches=switches, bits=bits, link_bps=link_bps, link_us=0.5)
    cut = hops.cut_through_path_us(
        switches=switches, bits=bits, ahead_bits=128, link_bps=link_bps, link_us=0.5
    )
    assert cut < stored
    every = hops.switches_us(switches=switches, frame_bytes=bits / 8, link_bps=link_bps)
    once = hops.frame_us(frame_bytes=bits / 8, link_bps=link_bps)
    assert stored == pytest.approx(every + once + 0.5 * (switches + 1))


def test_classes_grow() -> None:
    for power_class in range(9):
        assert poe.device_w(power_class) < poe.port_w(power_class)
    known = [poe.port_w(power_class) for power_class in range(1, 9)]
    assert known == sorted(known)


@given(st.integers(0, 500), st.integers(1, 90))
def test_the_budget_is_not_exceeded(budget: int, each: int) -> None:
    count = poe.devices_count(budget_w=budget / 10, each_w=each / 10)
    assert count * each <= budget < (count + 1) * each
