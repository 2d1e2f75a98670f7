"""What listening to a recording brings to light, and the figures it stands on."""

from typing import Literal, get_args

import msgspec

from rigproof.linecheck.comparing import GRADES, Grade
from rigproof.linecheck.silence import Hum

Kind = Literal[
    "silent",
    "dead",
    "intermittent",
    "low",
    "hot",
    "clipped",
    "dc",
    "click",
    "gap",
    "hum",
    "hiss",
    "polarity",
    "delay",
    "sides",
    "unequal",
    "same",
    "comb",
    "crosstalk",
    "clock",
    "pitch",
    "late",
    "short",
    "swapped",
    "unreadable",
]
KINDS: tuple[Kind, ...] = get_args(Kind)
MOST_TIMES = 20


class Noticed(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that a recording shows. Channels are those of the recording, from 1.

    `sure_ratio`: how sure it is, from 0 to 1. `others`: further channels it concerns. `times_s`:
    where in the recording, the first of them at most.
    """

    channel: int
    kind: Kind
    grade: Grade
    value: float
    unit: str
    limit: float
    says: str
    sure_ratio: float
    others: tuple[int, ...] = ()
    times_s: tuple[float, ...] = ()


class Loudness(msgspec.Struct, frozen=True, kw_only=True):
    """Programme loudness; minus infinity where nothing is loud enough to count."""

    integrated_lufs: float
    most_momentary_lufs: float
    most_short_term_lufs: float
    range_lu: float


class Levels(msgspec.Struct, frozen=True, kw_only=True):
    """The levels of one channel. A sine of full scale has a level of 0 dBFS, as in AES17.

    `floor_dbfs`: what is left in the quietest twentieth of the time. `loudest_dbfs`: the loudest
    three seconds. `level_dbfs` over time is `levels_dbfs`, one for each `level_step_s` of the take.
    """

    peak_dbfs: float
    level_dbfs: float
    floor_dbfs: float
    crest_db: float
    dynamic_db: float
    dc_ratio: float
    loudest_dbfs: float
    levels_dbfs: tuple[float, ...]


class ChannelSound(Levels, frozen=True, kw_only=True):
    """All figures of one channel.

    `hiss_dbfs`: steady noise from 4 to 12 kHz; None where there is none that can be told from
    sound.
    """

    number: int
    name: str
    family: str
    true_peak_dbtp: float
    level_dba: float
    loudness: Loudness
    thirds_dbfs: tuple[float, ...]
    hiss_dbfs: float | None = None
    hum: Hum | None = None


class Related(msgspec.Struct, frozen=True, kw_only=True):
    """Two channels that carry the same thing at least in part.

    `likeness_ratio`: their mean coherence, 1 where one follows from the other. `delay_ms`: how
    much later the second is.
    """

    one: int
    other: int
    likeness_ratio: float
    delay_ms: float
    upright: bool
    level_db: float  # of the second over the first


class Heard(msgspec.Struct, frozen=True, kw_only=True):
    """All that a recording told. `whole`: whether it was read to its end."""

    length_s: float
    read_s: float
    rate_hz: int
    whole: bool
    said: tuple[str, ...]
    level_step_s: float
    channels: tuple[ChannelSound, ...]
    related: tuple[Related, ...]
    findings: tuple[Noticed, ...]
    not_looked: tuple[str, ...]

    @property
    def grade(self) -> Grade:
        return max((one.grade for one in self.findings), key=GRADES.index, default="pass")
