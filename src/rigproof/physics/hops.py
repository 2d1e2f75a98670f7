"""How long a packet takes over links and switches, and what a link's clock makes of it.

Queues are left out but for the one frame that is already on the wire: what else shares a port is
a matter of load and of priorities.
"""

from typing import Literal

from rigproof.physics._arrays import Floats
from rigproof.physics.frames import LARGEST_PAYLOAD_BYTES, on_wire_bytes

Speed = Literal["100 Mb/s", "1 Gb/s"]

# IEEE 802.3az: how long a sleeping link takes to wake; implementers round 16.5 us up to 17.
_WAKE_US: dict[Speed, float] = {"100 Mb/s": 30.0, "1 Gb/s": 17.0}
COPPER_US_PER_M: float = 0.005  # two thirds of the speed of light


def bits_us(*, bits: Floats, link_bps: Floats) -> Floats:
    """Time that so many bits take to pass a point of a link.

    Derived: bits over rate.

    >>> bits_us(bits=5000, link_bps=1e9)
    5.0
    """
    return bits * 1e6 / link_bps


def frame_us(*, frame_bytes: Floats, link_bps: Floats) -> Floats:
    """Time that a frame takes: what one switch adds that must have all of it before it sends.

    Source: IEEE 802.3 line rate, without preamble and gap.

    >>> frame_us(frame_bytes=1210, link_bps=100e6)
    96.8
    """
    return bits_us(bits=8 * frame_bytes, link_bps=link_bps)


def switches_us(*, switches: int, frame_bytes: Floats, link_bps: Floats) -> Floats:
    """What store-and-forward switches in a row add to a frame.

    Derived: a whole frame each. Their own thinking time is on their data sheets.

    >>> switches_us(switches=4, frame_bytes=1210, link_bps=100e6)
    387.2
    """
    return switches * frame_us(frame_bytes=frame_bytes, link_bps=link_bps)


def stored_path_us(*, switches: int, bits: Floats, link_bps: Floats, link_us: Floats) -> Floats:
    """Sender to receiver through switches that store each frame whole, on links alike.

    (n + 1) (bits / rate + propagation). Source: textbook of computer networks, store and forward.

    >>> stored_path_us(switches=3, bits=5000, link_bps=1e9, link_us=10)
    60.0
    """
    return (switches + 1) * (bits_us(bits=bits, link_bps=link_bps) + link_us)


def cut_through_path_us(
    *, switches: int, bits: Floats, ahead_bits: Floats, link_bps: Floats, link_us: Floats
) -> Floats:
    """Sender to receiver through switches that send on as soon as they have read the head.

    Source: textbook of computer networks, cut-through.

    >>> round(cut_through_path_us(switches=3, bits=5000, ahead_bits=128, link_bps=1e9,
    ...     link_us=10), 3)
    45.384
    """
    ahead_us = switches * bits_us(bits=ahead_bits, link_bps=link_bps)
    return (switches + 1) * link_us + bits_us(bits=bits, link_bps=link_bps) + ahead_us


def blocked_us(*, link_bps: float, payload_bytes: int = LARGEST_PAYLOAD_BYTES) -> float:
    """The longest wait behind a frame that has just begun, even with the highest priority.

    Source: IEEE 802.3; strict priority does not interrupt a frame.

    >>> round(blocked_us(link_bps=100e6), 2)
    123.04
    """
    return frame_us(frame_bytes=on_wire_bytes(payload_bytes), link_bps=link_bps)


def wake_us(speed: Speed) -> float:
    """How long a link that sleeps to save energy takes to wake.

    Source: IEEE 802.3az.

    >>> wake_us("1 Gb/s")
    17.0
    """
    return _WAKE_US[speed]


def sleeping_us(*, speed: Speed, collect_us: float = 0.0) -> float:
    """The most that a sleeping link adds: what a port waits to collect frames, then the waking.

    Source: IEEE 802.3az implementation note.

    >>> sleeping_us(speed="1 Gb/s", collect_us=48)
    65.0
    """
    return collect_us + wake_us(speed)


def packet_share_percent(*, delay_us: Floats, packet_us: Floats) -> Floats:
    """A delay against the time of one packet: what it eats of a receiver's waiting time.

    Derived: ratio.

    >>> packet_share_percent(delay_us=30, packet_us=125)
    24.0
    """
    return 100 * delay_us / packet_us


def clock_offset_us(*, t1_us: Floats, t2_us: Floats, t3_us: Floats, t4_us: Floats) -> Floats:
    """How far a follower's clock is ahead of its leader's, from the four times of an exchange.

    ((t2 - t1) - (t4 - t3)) / 2. Source: IEEE 1588 delay request and response. A way that takes
    longer in one direction than in the other is mistaken for half the difference.

    >>> clock_offset_us(t1_us=100, t2_us=118, t3_us=150, t4_us=156)
    6.0
    """
    return ((t2_us - t1_us) - (t4_us - t3_us)) / 2


def clock_delay_us(*, t1_us: Floats, t2_us: Floats, t3_us: Floats, t4_us: Floats) -> Floats:
    """Mean delay between leader and follower, from the same four times.

    ((t2 - t1) + (t4 - t3)) / 2. Source: IEEE 1588.

    >>> clock_delay_us(t1_us=100, t2_us=118, t3_us=150, t4_us=156)
    12.0
    """
    return ((t2_us - t1_us) + (t4_us - t3_us)) / 2
