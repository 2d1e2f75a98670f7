"""What was measured of the rig as it was built: the files in `measured`, line by line.

A line is a channel of the band's mixer with its source and the socket it is plugged into. A file
holds one measurement of one day and is never written over, so that the next can be held against it.
"""

from collections.abc import Iterator, Sequence
from typing import Annotated, Literal

from msgspec import Meta

from rigproof.rig.entry import Entry, Label

MEASURED_FORM: Literal[1] = 1

# How a line was found: nothing wrong, something to look at, a fault. Figures of a faulty line
# count for nothing.
LineGrade = Literal["pass", "doubt", "fail"]
Kind = Literal["proof", "take", "tails"]

_Day = Annotated[str, Meta(pattern=r"^\d{4}-\d\d-\d\d$(?!\n)", max_length=10)]
_Text = Annotated[str, Meta(max_length=200)]
_Level = Annotated[float, Meta(ge=-400, le=100)]
_Gain = Annotated[float, Meta(ge=-400, le=400)]
_Late = Annotated[float, Meta(ge=-1_000_000, le=1_000_000)]
_Ratio = Annotated[float, Meta(ge=0, le=1_000)]
_Channel = Annotated[int, Meta(ge=1, le=256)]


class KeptLine(Entry, frozen=True, kw_only=True):
    """What one line measured. Levels are those of the channel: a sine of full scale is 0 dBFS.

    `through` and `taken_with`: the types of the boxes from the plug to the channel, and of the
    microphone or DI before it. `knobs_db`: how the knobs on the way stood together by the rig
    file. `noise_dba`: steady noise, A-weighted as hiss. Of a proof: `gain_db` and `delay_ms` hold
    the player's own; `way_ms` is the delay of the line alone, where a loop lead told the rest, and
    `way_db` its gain from dBu at the plug to dBFS at the channel, where the player's full scale was
    known. Of a take: `loudest_dbfs` is the level of its loudest three seconds.
    """

    channel: _Channel
    name: _Text = ""
    source: _Text = ""
    socket: _Text = ""
    grade: LineGrade = "pass"
    through: tuple[Label, ...] | None = None
    taken_with: _Text = ""
    knobs_db: _Gain | None = None
    gain_db: _Gain | None = None
    delay_ms: _Late | None = None
    way_ms: _Late | None = None
    way_db: _Gain | None = None
    upright: bool | None = None
    loudest_dbfs: _Level | None = None
    noise_dbfs: _Level | None = None
    noise_dba: _Level | None = None
    hum_dbfs: _Level | None = None
    distortion_ratio: _Ratio | None = None
    thirds_db: tuple[_Gain, ...] = ()

    @property
    def identity(self) -> tuple[int, str, str]:
        """What makes it the same line at another time."""
        return self.channel, self.source or self.name, self.socket


class KeptPair(Entry, frozen=True, kw_only=True):
    """Two channels of a take that carry the same thing: how late the second is, whether upright.

    `wired`: both sides of one source that no microphone takes, so nobody can move them apart.
    """

    channels: tuple[_Channel, _Channel]
    wired: bool = False
    likeness_ratio: _Ratio
    delay_ms: _Late
    upright: bool


class Kept(Entry, frozen=True, kw_only=True):
    """One measurement as it is kept: when, how, of which version of the rig, line by line.

    `venue`: of tails, the house at whose end they were measured. Their channels are the numbers
    that they wear, and what was measured of them is only held against what is kept of the same
    house: its inputs are in it.
    """

    form: Literal[1] = MEASURED_FORM
    kind: Kind = "proof"
    venue: _Text = ""
    date: _Day
    method: _Text
    rig: _Text
    lines: tuple[KeptLine, ...]
    pairs: tuple[KeptPair, ...] = ()


def newest(kept: Sequence[Kept]) -> Iterator[tuple[KeptLine, Kept]]:
    """The lines to the mixer without a fault, those of the newest measurement first."""
    for one in reversed(kept):
        for line in one.lines:
            if one.kind != "tails" and line.grade != "fail":
                yield line, one
