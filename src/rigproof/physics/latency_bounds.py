"""How late players stand their own sound, as it was found and printed.

Listeners differ: in the one formal study critical listeners asked for half or less of what
others did not notice, and the same player stood twenty times as much on another instrument. A
bound is where complaints begin, not where playing ends.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

Instrument = Literal["saxophone", "voice", "guitar", "drums", "bass", "keyboard"]
Monitor = Literal["in-ear", "wedge"]
Grade = Literal["good", "fair"]

# Lester & Boley 2007, table 1: up to here critical listeners still graded the monitoring good or
# fair (lower limit of 85 % confidence). From memory, not read: in-ear voice, in-ear drums good,
# in-ear bass fair; with wedges saxophone and keyboard, guitar good, drums fair.
_BOUNDS: Mapping[tuple[Monitor, Grade], Mapping[Instrument, float]] = MappingProxyType(
    {
        ("in-ear", "good"): {
            "saxophone": 0.0, "voice": 1.0, "guitar": 4.5, "drums": 8.0, "bass": 4.5,
            "keyboard": 27.0,
        },
        ("in-ear", "fair"): {
            "saxophone": 3.0, "voice": 6.5, "guitar": 14.5, "drums": 24.5, "bass": 25.0,
            "keyboard": 43.0,
        },
        ("wedge", "good"): {
            "saxophone": 1.5, "voice": 10.0, "guitar": 6.5, "drums": 9.0, "bass": 8.0,
            "keyboard": 22.0,
        },
        ("wedge", "fair"): {
            "saxophone": 10.0, "voice": 26.0, "guitar": 16.0, "drums": 25.0, "bass": 30.0,
            "keyboard": 42.0,
        },
    }
)  # fmt: skip

LONGEST_ACCEPTED_MS: float = 42.0  # Lester & Boley 2007, abstract: the most patient case
SHORTEST_TESTED_MS: float = 1.4  # Lester & Boley 2007: their apparatus; nothing is known below it
DRY_VOICE_MS: float = 7.0  # Marentakis et al. 2012: singers, dry in-ear sound, no more colour
SINGER_CEILING_MS: float = 5.0  # training text of a console maker, chapter 5.5

# Wallach, Newman and Rosenzweig 1949: up to here two sounds are heard as one.
FUSED_CLICKS_MS: float = 5.0
FUSED_SPEECH_MS: float = 40.0


def latency_bound_ms(*, instrument: Instrument, monitor: Monitor, grade: Grade) -> float:
    """Up to which delay of the own instrument critical listeners graded the monitoring so.

    Source: Lester & Boley 2007, AES 123rd Convention, paper 7198, table 1.

    >>> latency_bound_ms(instrument="drums", monitor="in-ear", grade="fair")
    24.5
    """
    return _BOUNDS[monitor, grade][instrument]


def echo_ms(*, sharp: bool) -> float:
    """The delay from which a second, equally loud sound is heard apart from the first.

    Source: Wallach, Newman and Rosenzweig 1949: 1 to 5 ms for clicks, up to 40 ms for speech or
    piano. Below it the two are heard as one, and as a comb.

    >>> echo_ms(sharp=False)
    40.0
    """
    return FUSED_CLICKS_MS if sharp else FUSED_SPEECH_MS
