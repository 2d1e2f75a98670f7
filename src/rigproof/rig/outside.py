"""Venues, and the shows played in them."""

from typing import Annotated, Literal

from msgspec import Meta

from rigproof.rig.band import Group, Person, Position, Source
from rigproof.rig.connectors import Connector
from rigproof.rig.entry import (
    AnyName,
    Entry,
    GearName,
    Id,
    ShowId,
    SourceName,
    Text,
    VenueId,
    VenueName,
)
from rigproof.rig.equipment import Gear, Lead, MainsPower, Setting
from rigproof.rig.plan import (
    Clock,
    Feed,
    Hold,
    Mix,
    PatchRow,
    RadioLink,
    Route,
    Stream,
    Talk,
)
from rigproof.rig.quantity import (
    Celsius,
    Hertz,
    Metres,
    Minutes,
    Percent,
    RatedAmperes,
    RatedMilliamperes,
    SquareMillimetres,
    Volts,
    Watts,
)
from rigproof.rig.ref import Numbers

# What the venue's desk can take from us.
Takes = Literal["tails", "link", "network", "mixed", "nothing"]
Side = Literal["stage left", "stage right", "upstage", "front of house"]


class Circuit(Entry, frozen=True, kw_only=True):
    id: Id
    socket: Connector | None = None
    amps_a: RatedAmperes | None = None
    breaker: Literal["B", "C", "D"] | None = None  # its curve
    residual_ma: RatedMilliamperes | None = None  # what its residual-current device is made for
    feeder_m: Metres | None = None  # the house's own cable up to this socket
    feeder_mm2: SquareMillimetres | None = None
    shared_with: Text = ""
    feeds: tuple[GearName, ...] = ()  # the case, and boxes outside it, that are plugged in here
    at_m: Position | None = None


class Desk(Entry, frozen=True, kw_only=True):
    """The house's side of the hand-off."""

    takes: Takes
    also_tails: tuple[Numbers, ...] = ()  # ends of our tails plugged beside a network, link or mix
    only_desk: bool = True  # one desk mixes house and stage
    lines: Annotated[int, Meta(ge=0, le=512)] | None = None
    lines_free: Annotated[int, Meta(ge=0, le=512)] | None = None
    lines_tested: bool | None = None  # whether the house says that somebody tried each of them
    connector: Connector | None = None  # of the house box's inputs
    protocol: Text = ""
    phantom: Literal["on", "off", "unknown"] = "unknown"
    side: Side | None = None
    distance_m: Metres | None = None  # from our case to the house box, along the floor
    talkback: bool | None = None
    mixes_offered: Annotated[int, Meta(ge=0, le=64)] | None = None
    own_split: bool = False  # the house insists on its own splitter
    mono: bool | None = None  # the hall gets one sum of left and right
    order: tuple[SourceName, ...] = ()  # the house's own line order, where it has one


class Venue(Entry, frozen=True, kw_only=True):
    id: VenueId
    name: Text
    kind: Text = ""
    country: Text = ""  # two letters (ISO 3166-1): its mains counts where volts_v is left out
    stage_m: tuple[Metres, Metres] | None = None
    case_at_m: Position | None = None
    desk: Desk
    volts_v: Volts | None = None
    volts_tolerance_percent: Percent | None = None  # below and above; the usual one if left out
    frequency_hz: Hertz | None = None
    generator_w: Watts | None = None  # what the generator gives, where one feeds the stage
    air_degc: Celsius | None = None  # how warm it gets where the case stands
    circuits: tuple[Circuit, ...] = ()
    changeover_min: Minutes | None = None
    contact: Text = ""
    phone: Text = ""
    note: Text = ""


class Sent(Entry, frozen=True, kw_only=True):
    """The papers went to the house: when, and which version."""

    date: Text
    version: Text = ""
    to: Text = ""
    note: Text = ""


class Answers(Entry, frozen=True, kw_only=True):
    """What the house answered for this date; it counts instead of what its venue says."""

    date: Text = ""
    by: Text = ""
    lines_free: Annotated[int, Meta(ge=0, le=512)] | None = None
    lines_tested: bool | None = None
    phantom: Literal["on", "off"] | None = None
    talkback: bool | None = None
    mixes_offered: Annotated[int, Meta(ge=0, le=64)] | None = None
    side: Side | None = None
    distance_m: Metres | None = None
    changeover_min: Minutes | None = None
    note: Text = ""


class Show(Entry, frozen=True, kw_only=True):
    """One date: the venue, who is missing, who and what comes along."""

    id: ShowId
    name: Text = ""
    date: Text
    venue: VenueName
    sent: tuple[Sent, ...] = ()
    answers: Answers | None = None
    without: tuple[AnyName, ...] = ()  # people, sources or gear that stay at home
    people: tuple[Person, ...] = ()
    sources: tuple[Source, ...] = ()
    groups: tuple[Group, ...] = ()
    gear: tuple[Gear, ...] = ()
    leads: tuple[Lead, ...] = ()
    patch: tuple[PatchRow, ...] = ()
    holds: tuple[Hold, ...] = ()
    routes: tuple[Route, ...] = ()
    mixes: tuple[Mix, ...] = ()
    feeds: tuple[Feed, ...] = ()
    settings: tuple[Setting, ...] = ()
    streams: tuple[Stream, ...] = ()
    clocks: tuple[Clock, ...] = ()
    radio: tuple[RadioLink, ...] = ()  # of the usual name: tonight's frequency instead
    talk: tuple[Talk, ...] = ()
    power: MainsPower | None = None  # what is stated here counts instead; feeds come on top
    note: Text = ""
