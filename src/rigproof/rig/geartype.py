"""Gear types: what a box is, from its sockets to its inside.

A type states its ports, its inner stages, the wires that are always there and the routes that
somebody may choose. Ports and stages are banks of lanes; a lane carries one signal.
"""

from collections.abc import Iterator
from functools import cached_property
from typing import Annotated, Literal

from msgspec import Meta, field

from rigproof.rig.connectors import Connector
from rigproof.rig.entry import Entry, Id, Text, TypeId
from rigproof.rig.quantity import (
    Amperes,
    Celsius,
    Decibels,
    EarOhms,
    EarSensitivity,
    Euros,
    Hertz,
    Isolation,
    Kilograms,
    KilogramsPerMetre,
    LevelDbu,
    Megahertz,
    Metres,
    Microvolts,
    Milliamperes,
    Millimetres,
    Milliseconds,
    Ohms,
    OhmsPerMetre,
    PanCentre,
    PicofaradsPerMetre,
    PowerFactor,
    Provenance,
    RatedAmperes,
    RatedMilliamperes,
    Seconds,
    Sensitivity,
    SoundLevel,
    SquareMillimetres,
    TurnsRatio,
    Volts,
    WattHours,
    Watts,
)
from rigproof.rig.ref import BankRef

GearClass = Literal[
    "microphone",
    "di",
    "stage-box",
    "splitter",
    "panel",
    "mixer",
    "interface",
    "converter",
    "processor",
    "network-card",
    "switch",
    "router",
    "access-point",
    "hub",
    "personal-mixer",
    "headphone-amp",
    "transmitter",
    "receiver",
    "pack",
    "earphone",
    "loudspeaker",
    "instrument",
    "computer",
    "recorder",
    "control",
    "power-strip",
    "conditioner",
    "sequencer",
    "ups",
    "case",
    "drawer",
    "blank",
    "shelf",
    "stand",
    "lead",
    "adapter",
    "light",
    "other",
]

Face = Literal["front", "rear", "top", "side"]
# The level class or protocol family of a connector: what may be joined without harm.
Carries = Literal[
    "mic",  # an input that takes microphones, or a microphone's output
    "line",
    "instrument",  # high impedance, unbalanced
    "insert",
    "phones",
    "speaker",
    "aes3",
    "optical",
    "coax",
    "word-clock",
    "link",  # many channels point to point between two boxes of one kind
    "network",  # audio in packets through switches
    "control",
    "usb",
    "rf",
    "midi",
    "switch",
    "mains",
    "dc",
]
Second = Literal["redundant", "through"]
Phantom = Literal["none", "per-input", "global", "always"]
Need = Literal["must", "tolerates", "never"]
# How a noise figure was read: over the plain audio band, or through the A filter.
Weighting = Literal["flat", "a"]


class Port(Entry, frozen=True, kw_only=True):
    """A bank of like connectors on one face. `lanes`: signals in each connector."""

    id: Id
    name: Text = ""
    count: Annotated[int, Meta(ge=1, le=9999)] = 1
    lanes: Annotated[int, Meta(ge=1, le=1024)] = 1
    lanes_rx: Annotated[int, Meta(ge=0, le=1024)] = 0
    lanes_tx: Annotated[int, Meta(ge=0, le=1024)] = 0
    way: Literal["in", "out", "both"]
    connector: Connector
    face: Face = "rear"
    carries: Carries
    protocol: Text = ""  # both ends of a link must speak the same
    balanced: bool | None = None
    impedance_ohm: Ohms | None = None
    level_dbu: LevelDbu | None = None
    max_level_dbu: LevelDbu | None = None
    max_ma: RatedMilliamperes | None = None  # the most current of an output, into few ohms
    noise_dbu: LevelDbu | None = None
    noise_uv: Microvolts | None = None
    noise_weighting: Weighting | None = None
    phantom: Phantom = "none"  # what this input can feed back up the line
    phantom_need: Need | None = None  # what this output's box wants from the line
    label_chars: Annotated[int, Meta(ge=1, le=64)] | None = None
    pitch_mm: Millimetres | None = None  # from one connector's middle to the next in its row
    rows: Annotated[int, Meta(ge=1, le=16)] | None = None  # that the connectors stand in
    poe_watts: Watts | None = None
    second: Second | None = None  # network socket: for a network of its own, or for a box behind
    speed_mbps: Annotated[int, Meta(ge=1)] | None = None


StageKind = Literal[
    "capsule",
    "preamp",
    "converter",
    "channel",
    "bus",
    "slot",
    "sum",
    "processor",
    "limiter",
    "amplifier",
    "transformer",
    "ear",
]


class Stage(Entry, frozen=True, kw_only=True):
    """A bank of like inner stages, one lane each."""

    id: Id
    name: Text = ""
    kind: StageKind
    count: Annotated[int, Meta(ge=1, le=9999)] = 1
    pairs: bool = False  # stereo linking by odd/even pairs
    gain_db: Decibels | None = None
    gain_min_db: Decibels | None = None
    gain_max_db: Decibels | None = None
    delay_ms: Milliseconds | None = None
    ein_dbu: LevelDbu | None = None
    noise_dbu: LevelDbu | None = None
    noise_weighting: Weighting | None = None  # of ein_dbu or noise_dbu
    max_level_dbu: LevelDbu | None = None
    full_scale_dbu: LevelDbu | None = None
    turns_ratio: TurnsRatio | None = None  # secondary over primary; a transformer is 1:1 without
    pan_centre_db: PanCentre | None = None  # what a pan to these buses takes in the middle
    label_chars: Annotated[int, Meta(ge=1, le=64)] | None = None
    pitch_mm: Millimetres | None = None  # of its faders, knobs or keys, middle to middle
    rows: Annotated[int, Meta(ge=1, le=16)] | None = None


class Wire(Entry, frozen=True, kw_only=True):
    """A connection that is always there. `every`: each lane reaches each lane (a sum)."""

    from_: BankRef = field(name="from")
    to: BankRef
    pattern: Literal["straight", "every"] = "straight"
    gain_db: Decibels | None = None
    delay_ms: Milliseconds | None = None
    phantom: Literal["passes", "blocks"] = "blocks"
    isolated: bool = False  # by transformer: no shared earth, no 48 V
    when_off: Literal["passes", "silent"] | None = None  # default: passive boxes pass


class Choice(Entry, frozen=True, kw_only=True):
    """A routing that somebody may set: any of these lanes to each of those, in blocks."""

    from_: Annotated[tuple[BankRef, ...], Meta(min_length=1)] = field(name="from")
    to: BankRef
    block: Annotated[int, Meta(ge=1, le=128)] = 1
    adds: bool = False  # several may be sent to one: a mix
    gain_db: Decibels | None = None
    delay_ms: Milliseconds | None = None


class Inside(Entry, frozen=True, kw_only=True):
    stages: tuple[Stage, ...] = ()
    wires: tuple[Wire, ...] = ()
    choices: tuple[Choice, ...] = ()


class Size(Entry, frozen=True, kw_only=True):
    units: Annotated[int, Meta(ge=1, le=60)] | None = None
    rack_width: Literal["full", "half"] = "full"
    width_mm: Millimetres | None = None
    height_mm: Millimetres | None = None
    depth_mm: Millimetres | None = None  # behind the front panel, without plugs
    plugs_front_mm: Millimetres | None = None  # what plugs and knobs add before the panel
    plugs_rear_mm: Millimetres | None = None  # what plugs and their bend add behind
    free_above_units: Annotated[int, Meta(ge=0, le=4)] = 0


class Power(Entry, frozen=True, kw_only=True):
    inlet: Connector | None = None
    by: Literal["mains", "poe", "usb", "phantom", "battery", "dc"] = "mains"
    external_supply: bool = False
    volts_min: Volts | None = None
    volts_max: Volts | None = None
    watts: Watts | None = None
    watts_max: Watts | None = None
    amps_a: Amperes | None = None  # the most, as the plate beside the inlet prints it
    power_factor: PowerFactor | None = None
    phantom_ma: Milliamperes | None = None  # drawn from 48 V through both 6.8 kohm
    poe_budget_watts: Watts | None = None  # what a switch or hub can give in all
    battery_wh: WattHours | None = None
    rating_a: RatedAmperes | None = None  # what may pass through a strip, filter, sequencer or UPS
    inrush_a: Amperes | None = None
    leakage_ma: Milliamperes | None = None
    boot_s: Seconds | None = None


class ClockAbility(Entry, frozen=True, kw_only=True):
    """What this box can do about sample rate. `converts`: inputs may run on another clock."""

    leads: bool = True
    follows: bool = True
    rates_hz: Annotated[tuple[Hertz, ...], Meta(min_length=1)]
    converts: bool = False


class Microphone(Entry, frozen=True, kw_only=True):
    kind: Literal["dynamic", "condenser", "ribbon", "boundary", "contact"] = "dynamic"
    pattern: Text = ""
    sensitivity_mv_pa: Sensitivity | None = None
    max_spl_db: SoundLevel | None = None
    self_noise_dba: SoundLevel | None = None


class Earphone(Entry, frozen=True, kw_only=True):
    """Per ear. Sensitivity by power or by voltage, as the data sheet has it."""

    sensitivity_db_mw: EarSensitivity | None = None
    sensitivity_db_v: EarSensitivity | None = None
    impedance_ohm: EarOhms | None = None
    isolation_db: Isolation | None = None
    max_spl_db: SoundLevel | None = None


class LeadEnd(Entry, frozen=True, kw_only=True):
    """One end of a lead: how many connectors of which kind. End a takes the signal in."""

    connector: Connector
    count: Annotated[int, Meta(ge=1, le=128)] = 1
    lanes: Annotated[int, Meta(ge=1, le=128)] = 1


class LeadBody(Entry, frozen=True, kw_only=True):
    """What a cable, multicore, fan-out or adapter is."""

    a: LeadEnd
    b: LeadEnd
    conductors: Literal["balanced", "unbalanced", "pair", "fibre", "mains", "coaxial", "radio"] = (
        "balanced"
    )
    stock_m: tuple[Metres, ...] = ()
    diameter_mm: Millimetres | None = None
    capacitance_pf_per_m: PicofaradsPerMetre | None = None
    resistance_ohm_per_m: OhmsPerMetre | None = None
    area_mm2: SquareMillimetres | None = None
    weight_kg_per_m: KilogramsPerMetre | None = None
    price_eur_per_m: Euros | None = None
    loss_db_per_100_m: Decibels | None = None  # of an antenna lead
    loss_at_mhz: Megahertz | None = None  # the frequency that its loss is stated for
    shielded: bool | None = None
    category: Literal["3", "5", "5e", "6", "6a", "7", "8"] | None = None  # of a network lead
    phantom: Literal["passes", "blocks"] = "passes"
    inverts: bool = False
    gain_db: Decibels | None = None
    longest_m: Metres | None = None


class CaseSize(Entry, frozen=True, kw_only=True):
    units: Annotated[int, Meta(ge=1, le=60)]
    rail_to_rail_mm: Millimetres | None = None  # front rail to rear rail
    front_lid_mm: Millimetres | None = None  # free depth before the front rail, lid on
    rear_lid_mm: Millimetres | None = None
    rear_rail: bool = True
    castors: Annotated[int, Meta(ge=0, le=12)] = 0
    castor_kg: Kilograms | None = None  # what each of them is made for
    castors_across_mm: Millimetres | None = None  # centre to centre, side by side
    castors_along_mm: Millimetres | None = None  # and front to rear
    height_mm: Millimetres | None = None
    width_mm: Millimetres | None = None
    depth_mm: Millimetres | None = None


class GearType(Entry, frozen=True, kw_only=True, dict=True):
    """One kind of box, microphone, earphone, cable or case."""

    id: TypeId
    name: Annotated[str, Meta(min_length=1, max_length=200)]
    class_: GearClass = field(name="class")
    figures: Provenance = "assumed"  # where the plain numbers of this entry come from
    note: Text = ""
    size: Size | None = None
    weight_kg: Kilograms | None = None
    price_eur: Euros | None = None
    power: Power | None = None
    clock: ClockAbility | None = None
    ports: tuple[Port, ...] = ()
    inside: Inside = field(default_factory=Inside)
    microphone: Microphone | None = None
    earphone: Earphone | None = None
    lead: LeadBody | None = None
    case: CaseSize | None = None
    igmp: bool | None = None  # a switch that filters multicast
    energy_saving: Literal["off", "on", "can be turned off"] | None = None
    knobs: tuple[Text, ...] = ()  # knobs and slide switches that a bump on the road can move
    warmest_degc: Celsius | None = None  # of the air around it, by its data sheet

    @cached_property
    def banks(self) -> dict[str, "Port | Stage"]:
        found: dict[str, Port | Stage] = {port.id: port for port in self.ports}
        found.update({stage.id: stage for stage in self.inside.stages})
        return found

    @property
    def passive(self) -> bool:
        return self.power is None or self.power.by == "phantom"

    def stages(self, kind: StageKind) -> Iterator[Stage]:
        return (stage for stage in self.inside.stages if stage.kind == kind)
