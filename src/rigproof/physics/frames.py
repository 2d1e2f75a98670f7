"""Audio in packets: how much goes into one, how many there are, what they weigh on the wire."""

from math import floor

# IEEE 802.3: before and after each frame on the wire, and in it around what it carries.
PREAMBLE_BYTES = 8  # with the start-of-frame delimiter
GAP_BYTES = 12
HEADER_BYTES = 14
CHECK_BYTES = 4
TAG_BYTES = 4  # IEEE 802.1Q
LEAST_FRAME_BYTES = 64
LARGEST_PAYLOAD_BYTES = 1500

IP_BYTES = 20  # RFC 791, without options
UDP_BYTES = 8  # RFC 768
AUDIO_PAYLOAD_BYTES = 1440  # AES67: what fits beside the larger IPv6 header

REQUIRED_CHANNELS = 8  # AES67: what every receiver must take in one stream, from 1 up

# IEEE 1722 and IEC 61883-6: what a reserved stream of class A puts into a tagged frame.
RESERVED_HEADER_BYTES = 24 + 8
RESERVED_SAMPLE_BYTES = 4
RESERVED_PACKETS_HZ = 8000

CLOCK_EVENT_PORT = 319  # IEEE 1588-2008 Annex D
CLOCK_GENERAL_PORT = 320
CLOCK_GROUP = "224.0.1.129"
ANNOUNCE_PORT = 9875  # RFC 2974


def overhead_bytes(*, tags: int = 0) -> int:
    """What every packet costs on the wire beside what it carries.

    Preamble, header, tags, check sequence and gap. Source: IEEE 802.3, 802.1Q.

    >>> overhead_bytes(), overhead_bytes(tags=1)
    (38, 42)
    """
    return PREAMBLE_BYTES + HEADER_BYTES + tags * TAG_BYTES + CHECK_BYTES + GAP_BYTES


def frame_bytes(payload_bytes: int, *, tags: int = 0) -> int:
    """A frame with its check sequence; short ones are filled up to 64 bytes.

    Source: IEEE 802.3.

    >>> frame_bytes(1500, tags=1), frame_bytes(18)
    (1522, 64)
    """
    return max(payload_bytes + HEADER_BYTES + tags * TAG_BYTES + CHECK_BYTES, LEAST_FRAME_BYTES)


def on_wire_bytes(payload_bytes: int, *, tags: int = 0) -> int:
    """The time a frame takes on the wire, in bytes: with what stands before and after it.

    Source: IEEE 802.3.

    >>> on_wire_bytes(46)
    84
    """
    return PREAMBLE_BYTES + frame_bytes(payload_bytes, tags=tags) + GAP_BYTES


def most_frames_hz(*, link_bps: float, payload_bytes: int) -> float:
    """How many such frames a second a link can carry at most.

    Source: IEEE 802.3 line rate.

    >>> floor(most_frames_hz(link_bps=100e6, payload_bytes=1500))
    8127
    """
    return link_bps / (8 * on_wire_bytes(payload_bytes))


def rtp_header_bytes(*, contributors: int = 0) -> int:
    """The header before the audio of a packet.

    Source: RFC 3550 section 5.1.

    >>> rtp_header_bytes(), rtp_header_bytes(contributors=2)
    (12, 20)
    """
    return 12 + 4 * contributors


def packet_samples(*, rate_hz: float, packet_us: float) -> int:
    """Samples of one channel in a packet of a nominal time.

    Counted at 48 kHz or its multiple: at 44.1 kHz a packet holds as many and lasts longer.
    Source: AES67, packet times.

    >>> packet_samples(rate_hz=48000, packet_us=1000), packet_samples(rate_hz=44100, packet_us=1000)
    (48, 48)
    """
    nominal_hz = 48_000 * max(1, round(rate_hz / 48_000))
    return round(nominal_hz * packet_us / 1e6)


def packet_time_ms(*, samples: int, rate_hz: float) -> float:
    """How long the audio in a packet really lasts.

    Derived: samples over rate.

    >>> round(packet_time_ms(samples=48, rate_hz=44100), 4)
    1.0884
    """
    return 1000 * samples / rate_hz


def audio_bytes(*, channels: int, samples: int, sample_bytes: int) -> int:
    """The audio in one packet.

    Source: RFC 3190 (24 bit: 3 bytes a sample).

    >>> audio_bytes(channels=8, samples=48, sample_bytes=3)
    1152
    """
    return channels * samples * sample_bytes


def most_channels(*, samples: int, sample_bytes: int) -> int:
    """How many channels one packet can hold.

    Source: AES67 (1440 bytes of audio at most).

    >>> most_channels(samples=6, sample_bytes=2)
    120
    """
    return AUDIO_PAYLOAD_BYTES // (samples * sample_bytes)


def stream_mbps(*, channels: int, sample_bytes: int, samples: int, rate_hz: float) -> float:
    """What a stream takes on the wire, everything included.

    Audio, RTP, UDP and IP headers and the frame around them, rate over samples times a second.
    Source: IEEE 802.3, RFC 791, 768, 3550, 3190.

    >>> round(stream_mbps(channels=8, sample_bytes=3, samples=48, rate_hz=48000), 2)
    9.84
    """
    audio = audio_bytes(channels=channels, samples=samples, sample_bytes=sample_bytes)
    packet = audio + rtp_header_bytes() + UDP_BYTES + IP_BYTES
    return 8 * on_wire_bytes(packet) * rate_hz / samples / 1e6


def audio_share_percent(*, channels: int, sample_bytes: int, samples: int) -> float:
    """How much of what a stream takes on the wire is audio. Small packets are mostly headers.

    Derived: ratio.

    >>> round(audio_share_percent(channels=8, sample_bytes=3, samples=48), 2)
    93.66
    """
    audio = audio_bytes(channels=channels, samples=samples, sample_bytes=sample_bytes)
    packet = audio + rtp_header_bytes() + UDP_BYTES + IP_BYTES
    return 100 * audio / on_wire_bytes(packet)


def reserved_stream_mbps(*, channels: int, samples: int = 6) -> float:
    """What a stream of reserved bandwidth takes on the wire, class A at 48 kHz: 6 samples a packet.

    Source: IEEE 1722 / IEC 61883-6, 4 bytes a sample, 8000 tagged frames a second.

    >>> round(reserved_stream_mbps(channels=8), 2)
    17.02
    """
    audio = audio_bytes(channels=channels, samples=samples, sample_bytes=RESERVED_SAMPLE_BYTES)
    wire = on_wire_bytes(audio + RESERVED_HEADER_BYTES, tags=1)
    return 8 * wire * RESERVED_PACKETS_HZ / 1e6


def streams_within_count(*, stream_mbps: float, link_mbps: float, share_ratio: float) -> int:
    """How many equal streams fit into a share of a link.

    Derived: whole streams only. The usual share for media is 0.75 (IEEE 802.1Qav).

    >>> streams_within_count(stream_mbps=9.84, link_mbps=100, share_ratio=0.75)
    7
    """
    from fractions import Fraction  # costs start-up, and few rigs ask

    # Exact fractions: a share that fits to the bit must not be lost to rounding.
    share = Fraction(str(link_mbps)) * Fraction(str(share_ratio))
    return floor(share / Fraction(str(stream_mbps)))


def group_address(group: str) -> str:
    """The Ethernet address that carries an IPv4 multicast group.

    The low 23 bits of the group after 01:00:5e, so 32 groups share each address.
    Source: RFC 1112 section 6.4.

    >>> group_address("239.69.11.44")
    '01:00:5e:45:0b:2c'
    """
    _, second, third, fourth = (int(part) for part in group.split("."))
    return f"01:00:5e:{second & 0x7F:02x}:{third:02x}:{fourth:02x}"


def stays_inside(group: str) -> bool:
    """Whether a multicast group is of the range that is not meant to leave one's own network.

    239.0.0.0/8. Source: RFC 2365.

    >>> stays_inside("239.69.11.44"), stays_inside("224.0.1.129")
    (True, False)
    """
    return group.split(".")[0] == "239"
