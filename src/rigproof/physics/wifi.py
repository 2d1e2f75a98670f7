"""Where the channels of a Wi-Fi control link lie, and which of them touch.

Which channels and powers are allowed, and where radar must be listened for, differs by country.
"""

from collections.abc import Iterable
from typing import Literal

Band = Literal["2.4 GHz", "5 GHz", "6 GHz"]

_START_MHZ: dict[Band, float] = {"2.4 GHz": 2407.0, "5 GHz": 5000.0, "6 GHz": 5950.0}
STEP_MHZ: float = 5.0
OLD_WIDTH_MHZ: float = 22.0  # IEEE 802.11b
WIDTH_MHZ: float = 20.0


def centre_mhz(channel: int, *, band: Band) -> float:
    """Middle of a 20 MHz channel.

    Start of the band and 5 MHz for each number; channel 14 stands apart. Source: IEEE 802.11.

    >>> centre_mhz(6, band="2.4 GHz"), centre_mhz(14, band="2.4 GHz")
    (2437.0, 2484.0)
    """
    if band == "2.4 GHz" and channel == 14:
        return 2484.0
    return _START_MHZ[band] + STEP_MHZ * channel


def joined_centre_mhz(channels: Iterable[int], *, band: Band = "5 GHz") -> float:
    """Middle of several channels that are used as one.

    The mean of its parts. Source: IEEE 802.11, channel bonding.

    >>> joined_centre_mhz([44, 48])
    5230.0
    """
    centres = [centre_mhz(channel, band=band) for channel in channels]
    return sum(centres) / len(centres)


def edges_mhz(centre_mhz: float, *, width_mhz: float = WIDTH_MHZ) -> tuple[float, float]:
    """Lower and upper edge of a channel.

    Derived: half the width to either side.

    >>> edges_mhz(2412, width_mhz=22)
    (2401.0, 2423.0)
    """
    return centre_mhz - width_mhz / 2, centre_mhz + width_mhz / 2


def gap_mhz(*, first_mhz: float, second_mhz: float, width_mhz: float = WIDTH_MHZ) -> float:
    """What lies free between two channels; below 0 they overlap by so much.

    Derived: distance of the middles less one width.

    >>> gap_mhz(first_mhz=2412, second_mhz=2437, width_mhz=22)
    3
    """
    return abs(second_mhz - first_mhz) - width_mhz
