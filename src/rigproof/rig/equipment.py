"""The boxes, the leads between them, the case they sit in and what feeds them."""

from typing import Annotated, Literal

from msgspec import Meta, field

from rigproof.rig.band import Position
from rigproof.rig.entry import (
    BagId,
    Entry,
    GearId,
    GearName,
    Label,
    LeadId,
    PersonName,
    Text,
    TypeName,
    VenueName,
)
from rigproof.rig.geartype import Face, Second
from rigproof.rig.quantity import (
    CubicMetresPerHour,
    Decibels,
    Euros,
    Hertz,
    Kilograms,
    Metres,
    Millimetres,
    Minutes,
    RatedAmperes,
    Volts,
)
from rigproof.rig.ref import PortRef

_OCTET = r"(?:25[0-5]|2[0-4][0-9]|1?[0-9]?[0-9])"
IPV4_PATTERN = rf"^(?:{_OCTET}\.){{3}}{_OCTET}$(?!\n)"
Address = Annotated[str, Meta(pattern=IPV4_PATTERN)]


class Gear(Entry, frozen=True, kw_only=True):
    """One box of the rig: in the case (`unit`), in a drawer or tray (`inside`), or outside."""

    id: GearId
    name: Text = ""
    label: Label = ""
    type: TypeName
    unit: Annotated[int, Meta(ge=1, le=60)] | None = None  # lowest unit it fills, from the bottom
    face: Literal["front", "rear"] = "front"  # which rails it hangs on
    half: Literal["left", "right"] | None = None
    inside: GearName | None = None
    place: Literal["case", "stage", "desk", "person", "with the house"] | None = None
    with_person: PersonName | None = None
    at_m: Position | None = None
    antenna_up_m: Metres | None = None  # how high its antenna stands above the floor
    owner: Literal["band", "house", "guest"] = "band"
    rear_support: bool = False
    second_socket: Second | None = None  # how it is set, where that is not as its type says
    address: Address | None = None
    netmask: Address | None = None
    firmware: Text = ""
    firmware_since: Text = ""  # the day it was put in
    since: Text = ""  # the day the box came into the rig
    memory_battery: Text = ""  # the day the cell that keeps its memory was put in
    serial: Text = ""
    price_eur: Euros | None = None
    weight_kg: Kilograms | None = None
    home: Text = ""  # where knobs and switches stand at the start of a show
    note: Text = ""

    @property
    def placed(
        self,
    ) -> Literal["case", "stage", "desk", "person", "with the house"] | None:
        if self.place is None and (self.unit is not None or self.inside is not None):
            return "case"
        return self.place


class Lead(Entry, frozen=True, kw_only=True):
    """A cable, a set of like cables, a multicore or an adapter; the signal enters at `from`."""

    id: LeadId
    type: TypeName
    from_: PortRef = field(name="from")
    to: PortRef
    back: PortRef | None = None  # the way back of an insert lead, where the signal returns from
    length_m: Metres | None = None
    loom: Text = ""
    label: Label = ""
    colour: Text = ""
    plugged: Literal["every show", "for good"] = "for good"
    route: Text = ""
    at_venues: tuple[VenueName, ...] = ()  # only laid there; everywhere when left out
    note: Text = ""


class Case(Entry, frozen=True, kw_only=True):
    id: GearId = "case"
    type: TypeName
    name: Text = ""
    patch_face: Face = "front"
    light: bool | None = None  # whether the socket panel can be read in the dark
    weight_kg: Kilograms | None = None  # empty
    in_use: Literal["closed", "open"] | None = None  # whether the lids are on while it plays
    airflow_m3_per_h: CubicMetresPerHour | None = None  # what its fans move through it
    lifted_by: Annotated[int, Meta(ge=0, le=8)] | None = None  # people; 0 where it only rolls
    at_m: Position | None = None
    note: Text = ""


class Setting(Entry, frozen=True, kw_only=True):
    """Where a knob inside a box stands: an amplifier, a line trim, a pack's volume."""

    at: PortRef
    gain_db: Decibels
    note: Text = ""


class MainsFeed(Entry, frozen=True, kw_only=True):
    """Which outlet feeds a box, and when it is switched on (1 first)."""

    gear: GearName
    outlet: PortRef
    step: Annotated[int, Meta(ge=1, le=99)] | None = None


class MainsPower(Entry, frozen=True, kw_only=True):
    volts_v: Volts | None = None
    frequency_hz: Hertz | None = None
    circuit_a: RatedAmperes | None = None
    lead_m: Metres | None = None  # from the venue's socket to the rack
    lead_type: TypeName | None = None
    bridge_min: Minutes | None = None  # how long the UPS shall last
    feeds: tuple[MainsFeed, ...] = ()


class Spare(Entry, frozen=True, kw_only=True):
    """What travels as a spare, and how many."""

    type: TypeName
    count: Annotated[int, Meta(ge=1, le=999)] = 1
    length_m: Metres | None = None
    note: Text = ""


# What a bag can hold all of, without a name for each.
Packed = Literal[
    "microphones",
    "DI boxes",
    "stands",
    "earphones",
    "stage gear",
    "stage leads",
    "tails",
    "mains leads",
    "spares",
    "consumables",
]


class Bag(Entry, frozen=True, kw_only=True):
    """A bag, box or drawer that travels, and what goes into it.

    `holds`: everything of these kinds; `gear`: boxes by name; `also`: what the file has no entry
    for, such as tools, a torch or a measuring tape.
    """

    id: BagId
    name: Text = ""
    inside: GearName | None = None  # a drawer of the case, where it is one
    holds: tuple[Packed, ...] = ()
    gear: tuple[GearName, ...] = ()
    also: tuple[Text, ...] = ()
    weight_kg: Kilograms | None = None  # empty
    carried_by: PersonName | None = None
    note: Text = ""


class Opening(Entry, frozen=True, kw_only=True):
    """An obstacle in the case: a bar, a handle, a board."""

    at_unit: Annotated[int, Meta(ge=1, le=60)]
    from_front_mm: Millimetres
    note: Text = ""
