"""The mains by country: what a venue's sockets have where nobody has asked yet.

What the sockets have on the night only a meter says. Countries whose regions differ (Brazil, Saudi
Arabia) and those that no tour was thought of for are left out.
"""

from collections.abc import Mapping
from types import MappingProxyType

import msgspec


class Mains(msgspec.Struct, frozen=True, kw_only=True):
    """The nominal volts and hertz of a country's sockets."""

    voltage_v: float
    frequency_hz: float


# ISO 3166-1 codes by nominal volts and hertz; Japan has 50 Hz in the east and 60 in the west.
_GROUPS: tuple[tuple[float, float, str], ...] = (
    (
        230,
        50,
        "AD AL AM AT AU BA BE BG BY CH CY CZ DE DK EE ES FI FR GB GE GR HR HU IE IL IN IS IT JE LI "
        "LK LT LU LV MC MD ME MK MT NG NL NO NZ PK PL PT RO RS RU SE SG SI SK SM TH TN TR UA ZA",
    ),
    (240, 50, "KE MY"),
    (220, 50, "AR CL CN EG HK MA UY VN"),
    (220, 60, "KR PE PH"),
    (127, 60, "MX"),
    (120, 60, "CA CR CU DO EC GT HN NI PA PR SV US VE"),
    (110, 60, "CO TW"),
    (100, 50, "JP"),
)
_BY_CODE: Mapping[str, Mains] = MappingProxyType(
    {
        code: Mains(voltage_v=volts, frequency_hz=hertz)
        for volts, hertz, codes in _GROUPS
        for code in codes.split()
    }
)


def mains_of(country: str) -> Mains | None:
    """The mains of a country by its two letters (ISO 3166-1); None for others.

    Source: IEC 60038 and each country's own choice from it, from memory.

    >>> mains_of("us").voltage_v, mains_of("DE").voltage_v, mains_of("XA")
    (120, 230, None)
    """
    return _BY_CODE.get(country.strip().upper())
