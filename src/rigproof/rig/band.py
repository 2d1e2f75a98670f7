"""The people and everything that makes sound."""

from typing import Annotated, Literal

from msgspec import Meta, field

from rigproof.rig.connectors import Connector
from rigproof.rig.entry import (
    Entry,
    GroupId,
    Label,
    PersonId,
    PersonName,
    SourceId,
    SourceName,
    Text,
    TypeName,
)
from rigproof.rig.geartype import Need
from rigproof.rig.quantity import Coordinate, Hours, LevelDbu, Metres, Ohms, SoundLevel
from rigproof.rig.ref import PortRef

Family = Literal[
    "drums",
    "percussion",
    "bass",
    "guitar",
    "keys",
    "strings",
    "winds",
    "brass",
    "voices",
    "electronics",
    "playback",
    "click",
    "cue",
    "talk",
    "ambience",
    "other",
]
FAMILY_ORDER: tuple[Family, ...] = (
    "drums",
    "percussion",
    "bass",
    "guitar",
    "keys",
    "strings",
    "winds",
    "brass",
    "electronics",
    "other",
    "voices",
    "playback",
    "click",
    "cue",
    "talk",
    "ambience",
)
# Common practice, no source: click, spoken cues, band talk and audience microphones are for
# ears; everything else is for the audience too.
PRIVATE_FAMILIES: frozenset[Family] = frozenset({"click", "cue", "talk", "ambience"})

Audience = Literal["private", "house", "both"]
# Performer's right to left and downstage to upstage, in metres from the middle of the front edge.
Position = tuple[Coordinate, Coordinate]


class Ears(Entry, frozen=True, kw_only=True):
    """What one person hears through."""

    plug: PortRef | None = None  # the socket the earphones hang on
    earphones: TypeName | None = None
    one_ear: bool = False


class Person(Entry, frozen=True, kw_only=True):
    id: PersonId
    name: Text
    plays: Text = ""
    part: Family | Literal["md", "engineer", "operator", "dancer", "guest"] = "other"
    at_m: Position | None = None  # x towards stage left, y upstage
    riser_m: tuple[Metres, Metres] | None = None
    ears: Ears | None = None
    wedge: PortRef | None = None
    hours_per_week_h: Hours | None = None
    on_stage: bool = True
    leads_band: bool = False  # gives cues and talks to all
    phone: Text = ""
    note: Text = ""


# How much sound may be counted as a day's or a week's; `mixes.exposure` says what each one is.
DayCriterion = Literal["85/3", "90/5", "eu-lower", "eu-upper", "eu-limit"]
WeekCriterion = Literal["80/40h", "75/40h", "85/3", "90/5", "eu-lower", "eu-upper", "eu-limit"]


class Hearing(Entry, frozen=True, kw_only=True):
    """By which criterion the band goes: that of the law of its place, or a stricter one."""

    day: DayCriterion | None = None  # of a rehearsal or a show; 85/3 when left out
    week: WeekCriterion | None = None  # 80/40h when left out
    note: Text = ""


class Source(Entry, frozen=True, kw_only=True):
    """One sound, mono or a stereo pair. It starts at a microphone, a DI, a line or a gear port."""

    id: SourceId
    name: Text
    label: Label = ""  # the short form for strips and tapes
    family: Family
    player: PersonName | None = None
    stereo: bool = False
    pair: Literal["left-right", "stage-right-left"] = "left-right"
    bears_mono: bool | None = None  # whether both sides added to one still sound as they should
    mic: TypeName | None = None
    di: TypeName | None = None
    connector: Connector | None = None  # of a line source, at the instrument
    start: PortRef | None = field(default=None, name="from")  # a port of gear in the rig
    audience: Audience | None = None  # by default from the family
    owner: Literal["band", "house", "guest"] = "band"
    plugged: Literal["every show", "for good"] = "every show"
    balanced: bool | None = None
    phantom: Need | None = None  # by default from the microphone or DI
    level_dbu: LevelDbu | None = None
    spl_db: SoundLevel | None = None
    impedance_ohm: Ohms | None = None
    at_m: Position | None = None
    stand: Text = ""
    talk_switch: Literal["momentary", "latching", "none"] | None = None
    alternative: Text = ""
    drop: Annotated[int, Meta(ge=1)] | None = None  # 1 goes first when lines are short
    note: Text = ""

    @property
    def lanes(self) -> int:
        return 2 if self.stereo else 1

    @property
    def private(self) -> bool:
        return self.heard_by == "private"

    @property
    def heard_by(self) -> Audience:
        if self.audience is not None:
            return self.audience
        return "private" if self.family in PRIVATE_FAMILIES else "both"

    @property
    def lane_names(self) -> tuple[str, ...]:
        """The name of each lane as an input list prints it: two rows for a pair."""
        if not self.stereo:
            return (self.name,)
        left, right = ("L", "R") if self.pair == "left-right" else ("SR", "SL")
        return (f"{self.name} {left}", f"{self.name} {right}")


class Group(Entry, frozen=True, kw_only=True):
    """Sources that are asked for together."""

    id: GroupId
    name: Text = ""
    sources: Annotated[tuple[SourceName, ...], Meta(min_length=1)]
