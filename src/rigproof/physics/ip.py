"""Priorities of packets, names of clocks, and how long it takes until a stream is announced."""

EXPEDITED_DSCP: int = 46  # EF, RFC 3246
MEDIA_DSCP: int = 34  # AF41: AES67's default for audio

LEAST_INTERVAL_S: float = 300.0  # RFC 2974 section 3.1
ANNOUNCE_LIMIT_BPS: float = 4000.0
LEAST_TIMEOUT_S: float = 3600.0  # RFC 2974 section 4


def assured_dscp(*, forwarding_class: int, drop: int) -> int:
    """The code point of an assured-forwarding class, AFxy.

    8 x + 2 y. Source: RFC 2597.

    >>> assured_dscp(forwarding_class=4, drop=1)
    34
    """
    return 8 * forwarding_class + 2 * drop


def selector_dscp(selector: int) -> int:
    """The code point of a class selector, CSx.

    8 x. Source: RFC 2474.

    >>> selector_dscp(7)
    56
    """
    return 8 * selector


def tos_byte(dscp: int) -> int:
    """A code point as the whole byte that some switches and scripts ask for.

    4 times it. Source: RFC 2474.

    >>> tos_byte(EXPEDITED_DSCP)
    184
    """
    return 4 * dscp


def clock_identity(mac: str) -> str:
    """The identity that a clock makes from its Ethernet address.

    FF-FE in the middle. Source: IEEE 1588, EUI-64.

    >>> clock_identity("00-11-22-33-44-55")
    '00-11-22-FF-FE-33-44-55'
    """
    parts = mac.replace(":", "-").upper().split("-")
    return "-".join([*parts[:3], "FF", "FE", *parts[3:]])


def announce_interval_s(
    *, announcements: int, size_bytes: float, limit_bps: float = ANNOUNCE_LIMIT_BPS
) -> float:
    """How often a stream is announced: how long a receiver that was just switched on may wait.

    max(300 s, 8 n size / limit). Source: RFC 2974 section 3.1; an announcer then strays by up to
    a third to either side.

    >>> announce_interval_s(announcements=20, size_bytes=500)
    300.0
    """
    return max(LEAST_INTERVAL_S, 8 * announcements * size_bytes / limit_bps)


def announce_timeout_s(interval_s: float) -> float:
    """After how long without an announcement a stream is struck off the lists.

    max(1 h, 10 intervals). Source: RFC 2974 section 4.

    >>> announce_timeout_s(300.0)
    3600.0
    """
    return max(LEAST_TIMEOUT_S, 10 * interval_s)
