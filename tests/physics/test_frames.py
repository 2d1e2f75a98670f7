import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import frames
from tests.reference.rows import Calls, Row, assert_agrees, judged_by


def _padded(row: Row) -> float:
    """A packet of the row's audio, with the headers that the row counts around it."""
    headers = frames.rtp_header_bytes() + frames.UDP_BYTES + frames.IP_BYTES
    assert headers == row["IP+UDP+RTP"]
    return frames.frame_bytes(int(row["audio"]) + headers)


def _stream(row: Row) -> dict[str, int]:
    return {
        "channels": int(row["channels"]),
        "sample_bytes": int(row["bytes per sample"]),
        "samples": int(row["samples"]),
    }


def _stream_mbps(row: Row) -> float:
    return frames.stream_mbps(**_stream(row), rate_hz=row["fs"])


def _frame(row: Row) -> float:
    headers = frames.rtp_header_bytes() + frames.UDP_BYTES + frames.IP_BYTES
    return frames.frame_bytes(frames.audio_bytes(**_stream(row)) + headers)


def _described_audio(row: Row) -> float:
    """Rate, channels and packet time out of the session description that the row holds."""
    said = row.text("sdp")
    rate, channels = re.search(r"L24/(\d+)/(\d+)", said).groups()  # type: ignore[union-attr]
    packet_ms = re.search(r"a=ptime:(\d+)", said)[1]  # type: ignore[index]
    samples = frames.packet_samples(rate_hz=float(rate), packet_us=1000 * float(packet_ms))
    return frames.audio_bytes(channels=int(channels), samples=samples, sample_bytes=3)


def _packet_samples(row: Row) -> float:
    return frames.packet_samples(rate_hz=row["fs"], packet_us=row["packet time"])


CALLS: Calls = {
    ("network/frame", "untagged overhead *"): lambda row: frames.overhead_bytes(),
    ("network/frame", "VLAN-tagged overhead *"): lambda row: frames.overhead_bytes(tags=1),
    ("network/frame", "largest tagged frame *"): lambda row: frames.frame_bytes(
        int(row["payload"]), tags=1
    ),
    ("network/frame", "smallest frame slot *"): lambda row: frames.on_wire_bytes(1),
    ("network/frame", "packets per second, *"): lambda row: frames.most_frames_hz(
        link_bps=row["rate"], payload_bytes=frames.LARGEST_PAYLOAD_BYTES
    ),
    ("network/frame", "padding: *"): _padded,
    ("network/rtp", "RTP fixed header"): lambda row: frames.rtp_header_bytes(),
    ("network/rtp", "RTP header with two *"): lambda row: frames.rtp_header_bytes(
        contributors=int(row["CSRC"])
    ),
    ("network/rtp", "L24 payload: *"): lambda row: frames.audio_bytes(**_stream(row)),
    ("network/aes67", "samples per packet *"): _packet_samples,
    ("network/aes67", "true packet time *"): lambda row: frames.packet_time_ms(
        samples=int(row["samples"]), rate_hz=row["fs"]
    ),
    ("network/aes67", "most *channels in one packet, *"): lambda row: frames.most_channels(
        samples=int(row["samples"]), sample_bytes=int(row["bytes per sample"])
    ),
    ("network/aes67", "required (not possible) *"): lambda row: frames.REQUIRED_CHANNELS,
    ("network/bandwidth", "* samples per packet: wire rate"): _stream_mbps,
    ("network/bandwidth", "8 ch 48 kHz L24 1 ms: *"): _frame,
    # The row gives two rates; its case says of which stream.
    ("network/bandwidth", "payload share *"): lambda row: frames.audio_share_percent(
        channels=8, sample_bytes=3, samples=48
    ),
    ("network/bandwidth", "how many 8-channel *"): lambda row: frames.streams_within_count(
        stream_mbps=row["stream"], link_mbps=100, share_ratio=row["budget"] / 100
    ),
    ("network/bandwidth", "AVB class A stream, *"): lambda row: frames.reserved_stream_mbps(
        channels=int(row.case.split(" ")[-2]), samples=int(row["samples per packet"])
    ),
    ("network/multicast", "Ethernet address of *"): lambda row: frames.group_address(
        row.text("group")
    ),
    ("network/multicast", "IPv4 groups that share *"): lambda row: len(_sharing()),
    ("network/multicast", "is 239.69.11.44 inside *"): lambda row: (
        "yes" if frames.stays_inside(row.text("group")) else "no"
    ),
    ("network/sdp", "audio bytes per packet *"): _described_audio,
}


def _sharing() -> list[str]:
    """The groups that end on 10.1.2 or 138.1.2 and share one address."""
    groups = [f"{first}.{top}.1.2" for first in range(224, 240) for top in (10, 138)]
    assert len({frames.group_address(group) for group in groups}) == 1
    return groups


@judged_by(CALLS, "systems.csv")
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@pytest.mark.published("AES67 packet times: 250 us and 4 ms")
@pytest.mark.parametrize(("packet_us", "printed"), [(250, 12), (4000, 192)])
def test_other_packet_times(packet_us: float, printed: int) -> None:
    assert frames.packet_samples(rate_hz=48_000, packet_us=packet_us) == printed


@pytest.mark.published("AES67: 48 samples per packet at 44.1 kHz too")
def test_samples_at_the_other_rate() -> None:
    assert frames.packet_samples(rate_hz=44_100, packet_us=1000) == 48


@pytest.mark.published("IEEE 1588-2008 Annex D")
def test_the_other_clock_port() -> None:
    assert frames.CLOCK_GENERAL_PORT == 320


@given(st.integers(1, 64), st.integers(1, 64), st.sampled_from([6, 12, 16, 48]))
def test_more_channels_never_weigh_less(channels: int, more: int, samples: int) -> None:
    def wire(n: int) -> float:
        return frames.stream_mbps(channels=n, sample_bytes=3, samples=samples, rate_hz=48_000)

    assert wire(channels) <= wire(channels + more)
    assert wire(channels) > channels * 24 * 48_000 / 1e6  # never below the bare audio
