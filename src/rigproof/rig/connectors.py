"""Connectors by their open-standard names, and what mates with what.

A name is a family and a gender: `xlr-m` has the pins, `xlr-f` the holes; a jack plug is
`jack-trs-m`, the socket that takes it `jack-trs-f`.
"""

from typing import Literal, get_args

import msgspec

ConnectorName = Literal[
    "xlr-m", "xlr-f",
    "xlr4-m", "xlr4-f",
    "xlr5-m", "xlr5-f",
    "combo-f",
    "jack-ts-m", "jack-ts-f",
    "jack-trs-m", "jack-trs-f",
    "mini-trs-m", "mini-trs-f",
    "mini-ts-m",
    "mini-trrs-m", "mini-trrs-f",
    "rca-m", "rca-f",
    "db25-m", "db25-f",
    "multipin-m", "multipin-f",
    "rj45-m", "rj45-f",
    "rj45-lock-m", "rj45-lock-f",
    "bnc-m", "bnc-f",
    "toslink-m", "toslink-f",
    "lc-m", "lc-f",
    "usb-a-m", "usb-a-f",
    "usb-b-m", "usb-b-f",
    "usb-c-m", "usb-c-f",
    "din5-m", "din5-f",
    "antenna-m", "antenna-f",
    "speaker-twist-m", "speaker-twist-f",
    "iec-c14", "iec-c13",
    "iec-c8", "iec-c7",
    "iec-c6", "iec-c5",
    "iec-c20", "iec-c19",
    "mains-twist-m", "mains-twist-f",
    "cee-7-7", "cee-7-16", "cee-7-3",
    "bs-1363-m", "bs-1363-f",
    "nema-5-15-m", "nema-5-15-f",
    "dc-m", "dc-f",
    "capsule", "air", "bare",
]  # fmt: skip
Connector = ConnectorName

CONNECTORS: tuple[ConnectorName, ...] = get_args(ConnectorName)


class Mate(msgspec.Struct, frozen=True):
    """Whether two connectors go together. `harm`: they go in but do the wrong thing."""

    fits: bool
    harm: str = ""


# Socket -> plugs it takes as meant. Only unlike genders can stand here.
_TAKES: dict[str, tuple[str, ...]] = {
    "xlr-f": ("xlr-m",),
    "xlr4-f": ("xlr4-m",),
    "xlr5-f": ("xlr5-m",),
    "combo-f": ("xlr-m", "jack-trs-m", "jack-ts-m"),
    "jack-ts-f": ("jack-ts-m",),
    "jack-trs-f": ("jack-trs-m", "jack-ts-m"),
    "mini-trs-f": ("mini-trs-m",),
    "mini-trrs-f": ("mini-trrs-m", "mini-trs-m"),
    "rca-f": ("rca-m",),
    "db25-f": ("db25-m",),
    "multipin-f": ("multipin-m",),
    "rj45-f": ("rj45-m",),
    "rj45-lock-f": ("rj45-lock-m", "rj45-m"),
    "bnc-f": ("bnc-m",),
    "toslink-f": ("toslink-m",),
    "lc-f": ("lc-m",),
    "usb-a-f": ("usb-a-m",),
    "usb-b-f": ("usb-b-m",),
    "usb-c-f": ("usb-c-m",),
    "din5-f": ("din5-m",),
    "antenna-f": ("antenna-m",),
    "speaker-twist-f": ("speaker-twist-m",),
    "iec-c13": ("iec-c14",),
    "iec-c7": ("iec-c8",),
    "iec-c5": ("iec-c6",),
    "iec-c19": ("iec-c20",),
    "mains-twist-f": ("mains-twist-m",),
    "cee-7-3": ("cee-7-7", "cee-7-16"),
    "bs-1363-f": ("bs-1363-m",),
    "nema-5-15-f": ("nema-5-15-m",),
    "dc-f": ("dc-m",),
}

# Goes in, and should not: socket, plug -> what happens.
_HARM: dict[tuple[str, str], str] = {
    ("jack-trs-f", "jack-ts-m"): "a two-pole plug joins ring and sleeve of the socket",
    ("combo-f", "jack-ts-m"): "a two-pole plug makes the input unbalanced",
    ("mini-trs-f", "mini-trrs-m"): "a four-pole plug may join the wrong poles",
    ("mini-trs-f", "mini-ts-m"): "a two-pole plug joins ring and sleeve of the socket",
    ("mini-trrs-f", "mini-ts-m"): "a two-pole plug joins ring and sleeve of the socket",
}


def mate(one: str, other: str) -> Mate:
    """Whether two connectors plug together, whichever way round they are given."""
    for socket, plug in ((one, other), (other, one)):
        harm = _HARM.get((socket, plug), "")
        if harm:
            return Mate(fits=True, harm=harm)
        if plug in _TAKES.get(socket, ()):
            return Mate(fits=True)
    return Mate(fits=False)


def same_family(one: str, other: str) -> bool:
    """Whether only the gender keeps two connectors apart: a turn-round would do."""
    return one == other or one[:-1] == other[:-1]
