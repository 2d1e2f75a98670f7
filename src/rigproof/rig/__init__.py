"""The model of a rig: immutable data, no text, no formulas."""

from collections import Counter
from collections.abc import Mapping
from functools import cached_property
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from rigproof.rig.band import Group, Hearing, Person, Source
from rigproof.rig.entry import Entry, GearName, PersonName, Text
from rigproof.rig.equipment import Bag, Case, Gear, Lead, MainsPower, Opening, Setting, Spare
from rigproof.rig.geartype import GearType
from rigproof.rig.measured import Kept
from rigproof.rig.night import file_of_night
from rigproof.rig.outside import Show, Venue
from rigproof.rig.plan import (
    Clock,
    Control,
    Feed,
    Hold,
    Mix,
    OnMixer,
    PatchRow,
    RadioLink,
    Route,
    Scene,
    Stream,
    Talk,
)
from rigproof.rig.quantity import Provenance
from rigproof.rig.ref import Numbers
from rigproof.rig.upkeep import Backup, Consumable, LogEntry, Tested
from rigproof.rig.where import NOWHERE, RigError, RigErrors, Where

FORMAT = 1


class Contact(Entry, frozen=True, kw_only=True):
    name: Text
    phone: Text = ""
    mail: Text = ""


class About(Entry, frozen=True, kw_only=True):
    """The head of every sheet."""

    name: Annotated[str, Meta(min_length=1, max_length=200)]
    band: Text = ""
    version: Text = ""
    date: Text = ""
    valid_until: Text = ""
    replaces: Text = ""
    contact: Contact | None = None
    patch_owner: PersonName | None = None
    gain_owner: PersonName | None = None  # who alone turns the preamps once the line check is done
    mixer: GearName | None = None  # the band's own; the only mixer of the rig when left out
    figures: Provenance = "assumed"
    pocket_book: Text = ""  # the address under which the band keeps its pocket book, if any
    note: Text = ""


class RigFile(Entry, frozen=True, kw_only=True):
    """A rig as its file states it."""

    format: Literal[1]
    rig: About
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
    radio: tuple[RadioLink, ...] = ()
    talk: tuple[Talk, ...] = ()
    control: Control | None = None
    hearing: Hearing | None = None
    power: MainsPower | None = None
    case: Case | None = None
    obstacles: tuple[Opening, ...] = ()
    spares: tuple[Spare, ...] = ()
    consumables: tuple[Consumable, ...] = ()
    bags: tuple[Bag, ...] = ()
    tested: Tested | None = None
    backups: tuple[Backup, ...] = ()
    scenes: tuple[Scene, ...] = ()
    log: tuple[LogEntry, ...] = ()
    venues: tuple[Venue, ...] = ()
    shows: tuple[Show, ...] = ()


class GearFile(Entry, frozen=True, kw_only=True):
    """A file of gear types: the library's and the user's have the same form."""

    format: Literal[1]
    types: tuple[GearType, ...]


class Reason(msgspec.Struct, frozen=True):
    """One thing that was planned because the file leaves it out: for what, what, and why so."""

    subject: str
    planned: str
    because: str


class Rig(msgspec.Struct, frozen=True, dict=True):
    """A rig file together with the gear types it uses, and the look-ups everyone needs.

    `measured`: what was measured of it, the oldest first.
    """

    file: RigFile
    types: Mapping[str, GearType]
    path: str = ""  # the folder it was read from, for messages only
    measured: tuple[Kept, ...] = ()

    @property
    def about(self) -> About:
        return self.file.rig

    @cached_property
    def people(self) -> Mapping[str, Person]:
        return {person.id: person for person in self.file.people}

    @cached_property
    def sources(self) -> Mapping[str, Source]:
        return {source.id: source for source in self.file.sources}

    @cached_property
    def groups(self) -> Mapping[str, Group]:
        return {group.id: group for group in self.file.groups}

    @cached_property
    def gear(self) -> Mapping[str, Gear]:
        return {gear.id: gear for gear in self.file.gear}

    @cached_property
    def mixes(self) -> Mapping[str, Mix]:
        return {mix.id: mix for mix in self.file.mixes}

    @cached_property
    def venues(self) -> Mapping[str, Venue]:
        return {venue.id: venue for venue in self.file.venues}

    @cached_property
    def rows(self) -> Mapping[str, PatchRow]:
        """The first patch row of each source; doubles are a rule's business."""
        found: dict[str, PatchRow] = {}
        for row in self.file.patch:
            found.setdefault(row.source, row)
        return found

    @cached_property
    def gear_types(self) -> Mapping[str, GearType]:
        """The type of each box, by the box's name."""
        return {gear.id: self.types[gear.type] for gear in self.file.gear}

    @cached_property
    def box_names(self) -> Mapping[str, str]:
        """What each box is called: by its name, else by what it is, its type before the comma.

        Where that could be another box, the word that the file calls it by follows.
        """
        named = [
            (gear, gear.name or self.types[gear.type].name.partition(",")[0])
            for gear in self.file.gear
        ]
        often = Counter(name for _, name in named)
        return {
            gear.id: name if gear.name or often[name] == 1 else f"{name} ({gear.id})"
            for gear, name in named
        }

    def type_of(self, gear_id: str) -> GearType:
        return self.types[self.gear[gear_id].type]

    @cached_property
    def mixer(self) -> Gear | None:
        """The band's own mixer: the named one, or the only one."""
        if self.about.mixer is not None:
            return self.gear.get(self.about.mixer)
        mixers = [g for g in self.file.gear if self.types[g.type].class_ == "mixer"]
        return mixers[0] if len(mixers) == 1 else None

    def channel_of(self, source: str, mixer: str) -> Numbers | None:
        """Where a source comes in on one of the mixers; None where it has no place there."""
        row = self.rows.get(source)
        if row is None:
            return None
        there = next((one.channel for one in row.also if one.on == mixer), None)
        if there is not None:
            return there
        return row.channel if self.mixer is None or self.mixer.id == mixer else None

    def changed(self, **parts: tuple[object, ...]) -> "Rig":
        """This rig with some of its lists replaced; itself where nothing differs."""
        if all(getattr(self.file, name) == value for name, value in parts.items()):
            return self
        file = msgspec.structs.replace(self.file, **parts)
        return Rig(file, self.types, self.path, self.measured)

    def members(self, name: str) -> tuple[str, ...]:
        """The sources a source or group name stands for."""
        group = self.groups.get(name)
        return tuple(group.sources) if group else (name,)

    def for_show(self, show: Show) -> "Rig":
        """The rig of one date: without those who are missing, with what comes along.

        Sources of missing people stay at home with them; what names a missing thing goes too.
        """
        return Rig(file_of_night(self.file, show), self.types, self.path, self.measured)


__all__ = [
    "FORMAT",
    "NOWHERE",
    "About",
    "Backup",
    "Bag",
    "Case",
    "Clock",
    "Consumable",
    "Contact",
    "Control",
    "Feed",
    "Gear",
    "GearFile",
    "GearType",
    "Group",
    "Hearing",
    "Hold",
    "Kept",
    "Lead",
    "LogEntry",
    "MainsPower",
    "Mix",
    "OnMixer",
    "Opening",
    "PatchRow",
    "Person",
    "RadioLink",
    "Reason",
    "Rig",
    "RigError",
    "RigErrors",
    "RigFile",
    "Route",
    "Scene",
    "Setting",
    "Show",
    "Source",
    "Spare",
    "Stream",
    "Talk",
    "Tested",
    "Venue",
    "Where",
]
