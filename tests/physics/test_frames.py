import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import frames


@pytest.mark.published("IEEE 802.3 clause 3 and 4; 802.1Q")
def test_overhead_and_largest_frames() -> None:
    assert frames.overhead_bytes() == 38
    assert frames.overhead_bytes(tags=1) == 42
    assert frames.frame_bytes(frames.LARGEST_PAYLOAD_BYTES, tags=1) == 1522
    assert frames.on_wire_bytes(1) == 84


@pytest.mark.published("IEEE 802.3 line rate, largest frames at 100 Mb/s")
def test_most_frames_a_second() -> None:
    found = frames.most_frames_hz(link_bps=1e8, payload_bytes=frames.LARGEST_PAYLOAD_BYTES)
    assert found == pytest.approx(8127, abs=1)


@pytest.mark.published("IEEE 802.3 frame with RFC 3550 payload: 1 channel of 24 bit, 6 samples")
def test_a_small_packet_is_no_longer_than_it_must_be() -> None:
    audio = frames.audio_bytes(channels=1, samples=6, sample_bytes=3)
    packet = audio + frames.rtp_header_bytes() + frames.UDP_BYTES + frames.IP_BYTES
    assert audio == 18
    assert frames.frame_bytes(packet) == 76


@pytest.mark.published("RFC 3550 section 5.1")
def test_rtp_header() -> None:
    assert frames.rtp_header_bytes() == 12
    assert frames.rtp_header_bytes(contributors=2) == 20


@pytest.mark.published("RFC 3190: 8 channels of 24 bit, 48 samples")
def test_audio_in_a_packet() -> None:
    assert frames.audio_bytes(channels=8, samples=48, sample_bytes=3) == 1152


@pytest.mark.published("RFC 3190, worked session description: 2 channels of 24 bit, 1 ms at 48 kHz")
def test_audio_of_a_described_session() -> None:
    samples = frames.packet_samples(rate_hz=48_000, packet_us=1000)
    assert frames.audio_bytes(channels=2, samples=samples, sample_bytes=3) == 288


@pytest.mark.published("AES67 packet times")
@pytest.mark.parametrize(
    ("packet_us", "printed"), [(125, 6), (250, 12), (333.33, 16), (1000, 48), (4000, 192)]
)
def test_samples_in_a_packet(packet_us: float, printed: int) -> None:
    assert frames.packet_samples(rate_hz=48_000, packet_us=packet_us) == printed


@pytest.mark.published("AES67: 48 samples per packet at 44.1 kHz too")
def test_true_packet_time_at_the_other_rate() -> None:
    samples = frames.packet_samples(rate_hz=44_100, packet_us=1000)
    assert frames.packet_time_ms(samples=samples, rate_hz=44_100) == pytest.approx(
        1.0884, abs=0.0001
    )


@pytest.mark.published("AES67, 1440 bytes of payload: most channels in a packet")
@pytest.mark.parametrize(
    ("samples", "sample_bytes", "printed"), [(6, 2, 120), (12, 3, 40), (16, 3, 30), (192, 3, 2)]
)
def test_most_channels(samples: int, sample_bytes: int, printed: int) -> None:
    assert frames.most_channels(samples=samples, sample_bytes=sample_bytes) == printed


@pytest.mark.published("IEEE 802.3 with RFC 791, 768, 3550, 3190 overheads")
@pytest.mark.parametrize(
    ("channels", "rate_hz", "samples", "printed_mbps"),
    [
        (8, 48_000, 48, 9.84),
        (1, 48_000, 48, 1.776),
        (2, 48_000, 6, 7.296),
        (4, 96_000, 96, 9.84),
        (8, 44_100, 48, 9.0405),
    ],
)
def test_stream(channels: int, rate_hz: float, samples: int, printed_mbps: float) -> None:
    found = frames.stream_mbps(channels=channels, sample_bytes=3, samples=samples, rate_hz=rate_hz)
    assert found == pytest.approx(printed_mbps, abs=0.0005)


@pytest.mark.published("media share of 75 % (IEEE 802.1Qav): 8-channel 1 ms streams on 100 Mb/s")
def test_streams_on_a_slow_link() -> None:
    found = frames.streams_within_count(stream_mbps=9.84, link_mbps=100, share_ratio=0.75)
    assert found == 7


@pytest.mark.published("RFC 1112 section 6.4")
@pytest.mark.parametrize(
    ("group", "printed"),
    [
        ("224.10.8.5", "01:00:5e:0a:08:05"),
        ("239.69.11.44", "01:00:5e:45:0b:2c"),
        ("239.255.255.255", "01:00:5e:7f:ff:ff"),
    ],
)
def test_group_address(group: str, printed: str) -> None:
    assert frames.group_address(group) == printed


@pytest.mark.published("RFC 1112: 5 bits are lost, 32 groups share an address")
def test_groups_that_share_an_address() -> None:
    groups = [f"{first}.{top}.1.2" for first in range(224, 240) for top in (10, 138)]
    assert len(groups) == 32
    assert len({frames.group_address(group) for group in groups}) == 1


@pytest.mark.published("RFC 2365")
def test_range_that_stays_inside() -> None:
    assert frames.stays_inside("239.69.11.44")


@pytest.mark.published("IEEE 1588-2008 Annex D; RFC 2974 section 3")
def test_well_known_ports() -> None:
    assert frames.CLOCK_EVENT_PORT == 319
    assert frames.CLOCK_GROUP == "224.0.1.129"
    assert frames.ANNOUNCE_PORT == 9875


@given(st.integers(1, 64), st.integers(1, 64), st.sampled_from([6, 12, 16, 48]))
def test_more_channels_never_weigh_less(channels: int, more: int, samples: int) -> None:
    def wire(n: int) -> float:
        return frames.stream_mbps(channels=n, sample_bytes=3, samples=samples, rate_hz=48_000)

    assert wire(channels) <= wire(channels + more)
    assert wire(channels) > channels * 24 * 48_000 / 1e6  # never below the bare audio
