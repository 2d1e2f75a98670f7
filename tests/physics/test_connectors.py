from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import connectors

# Encyclopedia table of D-subminiature audio wirings, column "AES59 8-way connections":
# channel -> hot, cold, shield.
DB25 = {
    1: (24, 12, 25), 2: (10, 23, 11), 3: (21, 9, 22), 4: (7, 20, 8),
    5: (18, 6, 19), 6: (4, 17, 5), 7: (15, 3, 16), 8: (1, 14, 2),
}  # fmt: skip


@pytest.mark.published("IEC 60268-12 / AES14")
def test_xlr() -> None:
    assert dict(connectors.line_pins("xlr")) == {"1": "shield", "2": "hot", "3": "cold"}


@pytest.mark.published("mixer user guide, cable and connector page (maker withheld)")
def test_jacks() -> None:
    assert dict(connectors.line_pins("jack-trs")) == {
        "tip": "hot",
        "ring": "cold",
        "sleeve": "shield",
    }
    assert [connectors.phones_pins()[pole] for pole in ("tip", "ring")] == ["left", "right"]


@pytest.mark.published("AES59, eight-way analogue, as an encyclopedia prints it")
@pytest.mark.parametrize("channel", DB25)
def test_eight_channels_on_25_pins(channel: int) -> None:
    hot = connectors.db25_analogue_pin(channel, "hot")
    cold = connectors.db25_analogue_pin(channel, "cold")
    shield = connectors.db25_analogue_pin(channel, "shield")
    assert (hot, cold, shield) == DB25[channel]


def test_only_pin_13_is_free() -> None:
    legs: tuple[Literal["hot", "cold", "shield"], ...] = ("hot", "cold", "shield")
    used = [connectors.db25_analogue_pin(channel, leg) for channel in range(1, 9) for leg in legs]
    assert sorted(used) == [pin for pin in range(1, 26) if pin != 13]


@pytest.mark.published("ANSI/TIA-568, as a public cabling FAQ prints it")
def test_network_schemes() -> None:
    a = [connectors.network_pin(pin, "A") for pin in range(1, 9)]
    b = [connectors.network_pin(pin, "B") for pin in range(1, 9)]
    assert a[:3] == [(3, "white/green"), (3, "green"), (2, "white/orange")]
    assert b[:3] == [(2, "white/orange"), (2, "orange"), (3, "white/green")]
    assert (a[5], b[5]) == ((2, "orange"), (3, "green"))
    # The blue pair lies in the middle, upside down; the brown one last: alike in both.
    assert a[3:5] == b[3:5] == [(1, "blue"), (1, "white/blue")]
    assert a[6:] == b[6:] == [(4, "white/brown"), (4, "brown")]


@pytest.mark.published("ANSI/TIA-568: the schemes swap pairs 2 and 3")
@given(st.integers(1, 8))
def test_schemes_swap_two_pairs(pin: int) -> None:
    swap = {2: 3, 3: 2}
    pair, colour = connectors.network_pin(pin, "A")
    other, other_colour = connectors.network_pin(pin, "B")
    assert other == swap.get(pair, pair)
    assert ("/" in colour) == ("/" in other_colour)
