"""Which pin of a connector carries what."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

_XLR = {"1": "shield", "2": "hot", "3": "cold"}
_TIP_RING_SLEEVE = {"tip": "hot", "ring": "cold", "sleeve": "shield"}
_TIP_SLEEVE = {"tip": "hot", "sleeve": "shield"}
_STEREO = {"tip": "left", "ring": "right", "sleeve": "return"}
_INSERT = {"tip": "send", "ring": "return", "sleeve": "ground"}

PINS: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "xlr": _XLR,  # IEC 60268-12, AES14
        "jack-trs": _TIP_RING_SLEEVE,
        "jack-ts": _TIP_SLEEVE,
        "mini-trs": _STEREO,
        "rca": {"pin": "hot", "shell": "shield"},
    }
)

# ANSI/TIA-568: pair and colour of each pin; B swaps the orange and the green pair.
_A = (
    (3, "white/green"), (3, "green"), (2, "white/orange"), (1, "blue"),
    (1, "white/blue"), (2, "orange"), (4, "white/brown"), (4, "brown"),
)  # fmt: skip
_B = (
    (2, "white/orange"), (2, "orange"), (3, "white/green"), (1, "blue"),
    (1, "white/blue"), (3, "green"), (4, "white/brown"), (4, "brown"),
)  # fmt: skip


def line_pins(family: str) -> Mapping[str, str]:
    """The pins of a one-line connector, by the family of its name.

    Source: IEC 60268-12 and AES14 for xlr; common practice for the jacks.

    >>> line_pins("xlr")["2"]
    'hot'
    """
    return PINS[family]


def phones_pins() -> Mapping[str, str]:
    """The poles of a headphone plug, large or small.

    Source: common practice, as makers' manuals print it.

    >>> phones_pins()["ring"]
    'right'
    """
    return _STEREO


def insert_pins() -> Mapping[str, str]:
    """The poles of an insert lead's one plug; the form in which the tip sends.

    Source: common practice, as makers' manuals print it; the other form, tip return, exists too.

    >>> insert_pins()["tip"]
    'send'
    """
    return _INSERT


def db25_analogue_pin(channel: int, leg: Literal["hot", "cold", "shield"]) -> int:
    """The pin of one leg of one of eight balanced channels in a 25-pin connector.

    The eight triples run from pin 24/12/25 downwards, odd and even channels in turn; 13 is free.
    Source: AES59, eight-way analogue.

    >>> [db25_analogue_pin(1, leg) for leg in ("hot", "cold", "shield")]
    [24, 12, 25]
    """
    # Two channels share a run of three columns; the upper row has pins 1-13, the lower 14-25.
    pairs, second = divmod(channel - 1, 2)
    step = 3 * pairs
    if second:
        return {"hot": 10, "cold": 23, "shield": 11}[leg] - step
    return {"hot": 24, "cold": 12, "shield": 25}[leg] - step


def network_pin(pin: int, scheme: Literal["A", "B"]) -> tuple[int, str]:
    """Pair and colour at a pin of a network connector.

    Source: ANSI/TIA-568, schemes T568A and T568B.

    >>> network_pin(1, "B")
    (2, 'white/orange')
    """
    return (_A if scheme == "A" else _B)[pin - 1]
