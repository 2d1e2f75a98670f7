"""What a venue offers, and whether the rack may hang on it: amperes, residual current, rush."""

import math
from typing import Literal

import msgspec

from rigproof.mains.load import Load
from rigproof.physics import countries, mains, ratings, supply
from rigproof.rig import Gear, Rig, Venue
from rigproof.rig.connectors import Connector
from rigproof.rig.outside import Circuit
from rigproof.rig.quantity import Celsius, Milliamperes, Quantity, RatedAmperes, Volts, Watts
from rigproof.rig.where import Where
from rigproof.wording.sentences import sentence

# Below it, the mains is that of North America or Japan: the 80 % rule counts, 5 % tolerance.
LOW_VOLTS = 140.0
LOW_TOLERANCE_PERCENT = 5.0  # ANSI C84.1, range A, from memory
# Socket outlets that anybody may use hang on one: IEC 60364-4-41 (up to 32 A), BS 7671 411.3.3.
USUAL_RESIDUAL = Milliamperes(30, "assumed")
# What stands in most buildings' boards for sockets. Common practice, no source.
USUAL_CURVE: Literal["B"] = "B"
USUAL_AIR = Celsius(25, "assumed")

# What the plug of a strip or box may pass, where its type states no rating_a.
_INLET_A: dict[Connector, tuple[float, float]] = {  # IEC; North American
    "iec-c14": (ratings.coupler_a("C13"), ratings.coupler_a("C13", region="north-american")),
    "iec-c20": (ratings.coupler_a("C19"), ratings.coupler_a("C19", region="north-american")),
    "iec-c8": (ratings.coupler_a("C7"), ratings.coupler_a("C7")),
    "iec-c6": (ratings.coupler_a("C5"), ratings.coupler_a("C5")),
    "cee-7-7": (ratings.plug_a("cee-7-7"),) * 2,
    "cee-7-16": (ratings.plug_a("cee-7-16"),) * 2,
    "bs-1363-m": (ratings.plug_a("bs-1363"),) * 2,
    "nema-5-15-m": (ratings.plug_a("nema-5-15"),) * 2,
}


class Place(msgspec.Struct, frozen=True):
    """A mains supply that the rack is plugged in: a venue's, or the usual one of the file."""

    name: str  # in words: at The Cellar; where it usually stands
    at: Where
    volts_v: Volts | None
    amps_a: RatedAmperes | None  # of the best circuit that states one; it is the one to ask for
    circuit: Circuit | None
    venue: Venue | None

    @property
    def curve(self) -> Literal["B", "C", "D"]:
        stated = self.circuit.breaker if self.circuit else None
        return stated or USUAL_CURVE

    @property
    def residual_ma(self) -> Milliamperes:
        stated = self.circuit.residual_ma if self.circuit else None
        return stated if stated is not None else USUAL_RESIDUAL

    @property
    def air_degc(self) -> Celsius:
        stated = self.venue.air_degc if self.venue else None
        return stated if stated is not None else USUAL_AIR

    @property
    def continuous_only(self) -> bool:
        """Whether the 80 % rule for loads of three hours and more counts here."""
        return self.volts_v is not None and self.volts_v < LOW_VOLTS

    @property
    def usable_a(self) -> Quantity | None:
        """What the circuit may carry all evening."""
        if self.amps_a is None:
            return None
        share = mains.CONTINUOUS_SHARE_RATIO if self.continuous_only else 1.0
        return Quantity(self.amps_a * share, self.amps_a.provenance)

    @property
    def tolerance_percent(self) -> Quantity:
        stated = self.venue.volts_tolerance_percent if self.venue else None
        if stated is not None:
            return stated
        usual = LOW_TOLERANCE_PERCENT if self.continuous_only else mains.SUPPLY_TOLERANCE_PERCENT
        return Quantity(usual, "assumed")

    def generator_w(self) -> Watts | None:
        """What is left of the venue's generator in the warmth that the venue states."""
        stated = self.venue.generator_w if self.venue else None
        if stated is None:
            return None
        left = supply.generator_w(
            rated_w=float(stated), altitude_m=0.0, ambient_degc=float(self.air_degc)
        )
        return Watts(left, stated.provenance)


def usual_place(rig: Rig) -> Place | None:
    """The supply that the rig's own power section describes."""
    power = rig.file.power
    if power is None or (power.volts_v is None and power.circuit_a is None):
        return None
    return Place(
        sentence("where it usually stands"), power.where, power.volts_v, power.circuit_a, None, None
    )


def place_of(venue: Venue) -> Place:
    """What a venue offers: of its circuits the strongest, the first of equals."""
    stated = [circuit for circuit in venue.circuits if circuit.amps_a is not None]
    best = max(stated, key=lambda c: float(c.amps_a or 0), default=None)
    circuit = best or (venue.circuits[0] if venue.circuits else None)
    at = circuit.where if circuit else venue.where
    amps = circuit.amps_a if circuit else None
    return Place(
        sentence("at {venue}", venue=venue.name), at, volts_of(venue), amps, circuit, venue
    )


def volts_of(venue: Venue) -> Volts | None:
    """The volts of a venue: as stated, else those of its country, if that is known."""
    if venue.volts_v is not None:
        return venue.volts_v
    usual = countries.mains_of(venue.country)
    return Volts(usual.voltage_v, "typical") if usual is not None else None


def inlet_a(rig: Rig, gear: Gear, *, volts_v: float) -> Quantity | None:
    """What a strip or box may pass: its own figure, else that of its inlet or plug."""
    power = rig.types[gear.type].power
    if power is None:
        return None
    if power.rating_a is not None:
        return power.rating_a
    rated = _INLET_A.get(power.inlet) if power.inlet else None
    if rated is None:
        return None
    return Quantity(rated[1] if volts_v < LOW_VOLTS else rated[0], "datasheet")


class Residual(msgspec.Struct, frozen=True):
    """Earth leakage against a residual-current device. It may trip from `may_trip_ma` on."""

    rated_ma: Milliamperes
    budget_ma: float  # what should hang on it: 30 %
    may_trip_ma: float  # half of the rating
    surely_trips_ma: float


def residual(place: Place) -> Residual:
    """The bounds of the device that a place has, or is likely to have."""
    rated = place.residual_ma
    return Residual(
        rated,
        float(ratings.leakage_budget_ma(float(rated))),
        rated * ratings.NO_TRIP_RATIO,
        float(rated),
    )


class Rush(msgspec.Struct, frozen=True):
    """A rush of current against a breaker: peaks, so its instant trip counts at the crest."""

    peak_a: float
    may_trip_a: float
    surely_trips_a: float
    rated_a: Quantity
    curve: str


def rush(place: Place, *, peak_a: float) -> Rush | None:
    """A rush at a place; None where nothing says what the circuit is rated for."""
    if place.amps_a is None:
        return None
    low_a, high_a = ratings.instant_trip_a(curve=place.curve, rated_a=float(place.amps_a))
    crest = math.sqrt(2)
    return Rush(peak_a, low_a * crest, high_a * crest, place.amps_a, place.curve)


def spare_a(place: Place, load: Load) -> float | None:
    """What the circuit has left beside the rack at its most; below 0 there is too little."""
    usable = place.usable_a
    if usable is None or place.volts_v is None:
        return None
    return float(usable) - load.most_a(float(place.volts_v)).value
