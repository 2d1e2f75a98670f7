"""Who goes where: patch, inner routes, mixes, feeds, streams, clocks and radio."""

from typing import Annotated, Literal

from msgspec import Meta, field

from rigproof.rig.entry import (
    Entry,
    FeedId,
    GearName,
    Label,
    MixId,
    PersonName,
    RadioId,
    SceneId,
    SourceName,
    SourceOrGroup,
    StreamId,
    Text,
)
from rigproof.rig.quantity import (
    Decibels,
    Hertz,
    LevelDbm,
    Megahertz,
    Metres,
    Milliseconds,
    Pan,
    SoundLevel,
)
from rigproof.rig.ref import Numbers, PortRef

Recalled = Literal[
    "mutes", "levels", "effects", "names", "house mix", "ears", "gain", "48 V", "patch"
]


class OnMixer(Entry, frozen=True, kw_only=True):
    """The channel of a source on another mixer of the rig: a small one for keyboards, a spare."""

    on: GearName
    channel: Numbers
    phantom: Literal["on", "off"] | None = None  # at that mixer's input
    gain_db: Decibels | None = None


class PatchRow(Entry, frozen=True, kw_only=True):
    """One source: the socket it is plugged in every night, and its channel on the band's mixer.

    `also`: its channels on other mixers, each with numbers of its own. A source that goes to
    another mixer alone has no `channel`.
    """

    source: SourceName
    plug: PortRef | None = None
    channel: Numbers | None = None
    line: Text = ""  # how the stage calls the line: D-1
    learnt: Numbers | None = None  # the channel it has on papers that other people hold
    phantom: Literal["on", "off"] | None = None  # at the band's own input
    gain_db: Decibels | None = None
    also: tuple[OnMixer, ...] = ()
    lead: Text = ""
    note: Text = ""


class Hold(Entry, frozen=True, kw_only=True):
    """Channels, sockets or house lines kept open on purpose, and for what."""

    channels: Numbers | None = None
    sockets: PortRef | None = None
    lines: Numbers | None = None
    why: Annotated[str, Meta(min_length=1, max_length=500)]


class Route(Entry, frozen=True, kw_only=True):
    """A routing set inside one box, lane by lane."""

    from_: PortRef = field(name="from")
    to: PortRef
    gain_db: Decibels | None = None
    note: Text = ""


class Send(Entry, frozen=True, kw_only=True):
    """How much of a source, a group or a feed slot is in a mix."""

    from_: SourceOrGroup | None = field(default=None, name="from")
    slot: Numbers | None = None
    level_db: Decibels | None = None
    pan: Pan | None = None


class Mix(Entry, frozen=True, kw_only=True):
    """What one or several people hear, or a mix that leaves for the house or a recorder.

    A mix is made on the buses of a mixer (`bus`), or on a personal mixer (`on`) from its slots.
    """

    id: MixId
    name: Text = ""
    label: Label = ""
    listeners: tuple[PersonName, ...] = ()
    purpose: Literal["ears", "wedge", "house", "recording", "group", "effect", "spare"] = "ears"
    stereo: bool = False
    on: GearName | None = None  # by default the band's mixer
    bus: Numbers | None = None
    bank: Text = ""  # which bank of buses; the mixer's first when left out
    out: PortRef | None = None
    sends: tuple[Send, ...] = ()
    limiter_dbu: Decibels | None = None
    target_db: SoundLevel | None = None
    note: Text = ""


class Slot(Entry, frozen=True, kw_only=True):
    """One place, or a stereo pair of places, in a personal-mixer feed."""

    slot: Numbers
    name: Text = ""
    label: Label = ""
    takes: tuple[SourceOrGroup, ...] = ()
    bus: Numbers | None = None  # made by these buses; straight from the channel when left out
    note: Text = ""


class Feed(Entry, frozen=True, kw_only=True):
    """A feed for personal mixers: the slots are the lanes of one sending port."""

    id: FeedId
    name: Text = ""
    port: PortRef
    slots: tuple[Slot, ...] = ()


class Stream(Entry, frozen=True, kw_only=True):
    """Audio in packets from one box to another, lane by lane."""

    id: StreamId
    name: Text = ""
    from_: PortRef = field(name="from")
    to: PortRef
    latency_ms: Milliseconds | None = None
    group: Text = ""


class Clock(Entry, frozen=True, kw_only=True):
    """Who leads and who follows, at which rate."""

    gear: GearName
    follows: GearName | None = None  # leads when left out
    over: Text = ""  # the link or input that carries the clock
    rate_hz: Hertz
    pinned: bool = False  # leadership is set by preference, not left to an election


class RadioLink(Entry, frozen=True, kw_only=True):
    id: RadioId
    from_: PortRef = field(name="from")
    to: PortRef
    frequency_mhz: Megahertz | None = None
    delay_ms: Milliseconds | None = None
    note: Text = ""


class Control(Entry, frozen=True, kw_only=True):
    """How the rig is operated."""

    band: Literal["2.4 GHz", "5 GHz", "6 GHz"] | None = None
    access_point: GearName | None = None
    network_name: Text = ""
    password: Text = ""  # of the Wi-Fi; on papers for the band alone
    wired_fallback: bool | None = None
    channel: Annotated[int, Meta(ge=1, le=233)] | None = None
    farthest_m: Metres | None = None  # from the access point to whoever controls
    through_audience: bool | None = None  # whether people stand between the two
    antenna_up_m: Metres | None = None  # above the floor of the audience
    power_dbm: LevelDbm | None = None  # EIRP of the weaker end, mostly the tablet's
    works_without: Text = ""
    kill: Text = ""  # what makes all silent when no app and no button obeys, and who does it
    join_tried: Text = ""  # the day somebody tried to get on the Wi-Fi without its password
    separate_from_audio: bool | None = None


class Talk(Entry, frozen=True, kw_only=True):
    """The way back: which people and which desk can speak to which ears."""

    from_: SourceName = field(name="from")
    to: tuple[PersonName, ...] = ()
    switch: Literal["momentary", "latching", "none"] | None = None


class Scene(Entry, frozen=True, kw_only=True):
    """A stored set of settings that somebody or a cue calls up in the show."""

    id: SceneId
    name: Text = ""
    gear: GearName | None = None  # the band's mixer when left out
    recalls: tuple[Recalled, ...] = ()
    why: Text = ""  # where it is meant to touch gain, 48 V, the patch or the ears
    mutes: tuple[SourceOrGroup, ...] = ()
    starts_show: bool = False  # called up before the first song
    rehearsed: Text = ""  # the day it was last called up with the band playing
