"""Wireless packs and microphones on the air: who mixes with whom, how near, what coax takes.

Products of two and three carriers, of third and fifth order. They arise where transmitters stand
close: in their own output stages and in the receivers. How strong they are depends on distances
and filters that no file knows, so a hit is a reason to move, not a proof of trouble. Which
frequencies and powers may be used is a matter of the law of the place.
"""

import math
from itertools import pairwise
from typing import Literal

import msgspec

from rigproof.physics import intermod, radio
from rigproof.rig import RadioLink, Rig
from rigproof.rig.geartype import LeadBody, Port
from rigproof.rig.lanes import sockets
from rigproof.rig.quantity import Decibels, Megahertz, Metres, Provenance, weakest
from rigproof.rig.ref import HOUSE
from rigproof.rig.spread import spread_ratio

Order = Literal[3, 5]
_MOST_FOR_SPARE = 24

# EN 300 422: channels of 200 kHz for microphones and ears. From memory.
CHANNEL_MHZ = 0.2
GUARD_MHZ = CHANNEL_MHZ / 2
# How near two carriers may stand. Common practice, no source: receivers want two channels.
SPACING_MHZ = 2 * CHANNEL_MHZ
# Half of the power is gone. Common practice, no source.
MOST_COAX_DB = 3.0
THIRD = intermod.THIRD_OF_TWO + intermod.THIRD_OF_THREE
# There are n cubed products of three carriers: up to so many carriers each kind is counted.
_KINDS: tuple[tuple[Order, int, tuple[intermod.Weights, ...]], ...] = (
    (3, 100, intermod.THIRD_OF_TWO),
    (3, 40, intermod.THIRD_OF_THREE),
    (5, 40, intermod.FIFTH_OF_TWO),
    (5, 16, intermod.FIFTH_OF_THREE),
)


class Carrier(msgspec.Struct, frozen=True):
    """One planned frequency and the link that uses it."""

    link: RadioLink
    mhz: float


class Meeting(msgspec.Struct, frozen=True):
    """A mixing product that falls on a carrier: made by whom, hitting whom, how far off."""

    order: Order
    makers: tuple[Carrier, ...]
    weights: tuple[int, ...]
    at_mhz: float
    hits: Carrier
    off_mhz: float

    @property
    def formula(self) -> str:
        """`2 x 825.1 - 823.2`, for people."""
        words = ""
        for weight, maker in zip(self.weights, self.makers, strict=True):
            sign = "-" if weight < 0 else "+"
            times = f"{abs(weight)} x " if abs(weight) > 1 else ""
            first = f"{sign} " if words or weight < 0 else ""
            words += f"{' ' if words else ''}{first}{times}{maker.mhz:g}"
        return words


class Near(msgspec.Struct, frozen=True):
    """Two carriers that stand closer than receivers can tell apart."""

    one: Carrier
    other: Carrier
    spacing_mhz: float


class CoaxRun(msgspec.Struct, frozen=True):
    """One lead to an antenna; None where its type or length does not say."""

    lead_id: str
    name: str
    at_mhz: float | None
    length_m: Metres | None
    stated_db: Decibels | None  # per 100 m, at the frequency that its type states
    stated_mhz: Megahertz | None
    per_100_m_db: float | None  # at that frequency
    loss_db: float | None

    @property
    def provenance(self) -> Provenance:
        stated = (self.stated_db, self.length_m)
        return weakest(*(figure for figure in stated if figure is not None))

    @property
    def likely_db(self) -> tuple[float, float] | None:
        """The loss where the figure of the type errs by what it is worth."""
        if self.loss_db is None or self.stated_db is None or self.per_100_m_db is None:
            return None
        cable = self.per_100_m_db * float(self.length_m or 0.0) / 100
        low, high = spread_ratio(self.stated_db.provenance)
        return self.loss_db + (low - 1) * cable, self.loss_db + (high - 1) * cable


class Air(msgspec.Struct, frozen=True):
    """Everything on the air that the file plans."""

    carriers: tuple[Carrier, ...]  # lowest first
    unknown: tuple[str, ...]  # links without a frequency, and receivers nobody sends to
    meetings: tuple[Meeting, ...]
    near: tuple[Near, ...]
    all_counted: bool  # False: of so many carriers, some kinds of products were left out


def carriers_of(rig: Rig) -> tuple[Carrier, ...]:
    """The frequencies in use, lowest first."""
    found = [
        Carrier(link, float(link.frequency_mhz))
        for link in rig.file.radio
        if link.frequency_mhz is not None
    ]
    return tuple(sorted(found, key=lambda carrier: (carrier.mhz, carrier.link.id)))


def air(rig: Rig) -> Air:
    """Who meets whom on the air."""
    carriers = carriers_of(rig)
    return Air(
        carriers,
        _unknown(rig),
        meetings(carriers),
        neighbours(carriers),
        len(carriers) <= min(most for _, most, _ in _KINDS),
    )


def meetings(carriers: tuple[Carrier, ...]) -> tuple[Meeting, ...]:
    """Each product that falls within the guard of a carrier that did not make it.

    Of very many carriers not all kinds are counted: see `_KINDS`.
    """
    values = [carrier.mhz for carrier in carriers]
    found: list[Meeting] = []
    for order, most, forms in _KINDS:
        if len(carriers) > most:
            continue
        for hit in intermod.hits(values, forms, guard_mhz=GUARD_MHZ):
            if hit.carrier in hit.product.carriers:
                continue  # it sits on its own maker's channel, as the maker itself does
            found.append(
                Meeting(
                    order,
                    tuple(carriers[place] for place in hit.product.carriers),
                    hit.product.weights,
                    hit.product.at_mhz,
                    carriers[hit.carrier],
                    hit.off_mhz,
                )
            )
    return tuple(found)


def neighbours(carriers: tuple[Carrier, ...]) -> tuple[Near, ...]:
    """Carriers next to each other, lowest first, that stand too close."""
    return tuple(
        Near(one, other, round(other.mhz - one.mhz, 6))
        for one, other in pairwise(carriers)
        if other.mhz - one.mhz < SPACING_MHZ - 1e-9
    )


def spare_mhz(carriers: tuple[Carrier, ...]) -> float | None:
    """The lowest step of the raster that one more carrier could take, third order looked at.

    Between the outer carriers: whether one may go beyond them only a licence can say.
    """
    values = [carrier.mhz for carrier in carriers]
    if not 2 <= len(values) <= _MOST_FOR_SPARE:
        return None
    step = CHANNEL_MHZ / 2
    before = _met(values)
    for number in range(1, math.ceil((values[-1] - values[0]) / step)):
        candidate = round(values[0] + number * step, 6)
        apart = all(abs(candidate - one) >= SPACING_MHZ - 1e-9 for one in values)
        if apart and _met([*values, candidate]) <= before:
            return candidate
    return None


def _met(values: list[float]) -> int:
    """How many third-order products fall on carriers that did not make them."""
    return sum(
        hit.carrier not in hit.product.carriers
        for hit in intermod.hits(values, THIRD, guard_mhz=GUARD_MHZ)
    )


def _unknown(rig: Rig) -> tuple[str, ...]:
    """Links without a frequency, and sockets of receivers for which no link is planned."""
    named = [link.id for link in rig.file.radio if link.frequency_mhz is None]
    types = rig.gear_types
    used = {
        socket.key
        for link in rig.file.radio
        for ref in (link.from_, link.to)
        if ref.gear != HOUSE
        for socket in sockets(types, ref, link.where)
    }
    for gear in rig.file.gear:
        type_ = types[gear.id]
        if type_.class_ not in {"receiver", "transmitter"}:
            continue
        for port in type_.ports:
            if port.carries != "rf" or not _on_air(port, type_.class_):
                continue
            for number in range(1, port.count + 1):
                key = f"{gear.id}.{port.id}" + (f".{number}" if port.count > 1 else "")
                if key not in used and _in_use(rig, gear.id, number, port.count):
                    named.append(key)
    return tuple(named)


def _on_air(port: Port, class_: str) -> bool:
    """A receiver's air, a transmitter's output; not the sockets for its antennas."""
    return port.connector == "air" if class_ == "receiver" else port.way == "out"


def _in_use(rig: Rig, gear: str, number: int, count: int) -> bool:
    """Whether a source starts at this channel of a receiver, or any link leaves the transmitter."""
    if rig.type_of(gear).class_ != "receiver":
        return False  # a channel of a transmitter that nobody listens to is off
    for source in rig.file.sources:
        start = source.start
        if start is not None and start.gear == gear:
            low, high = start.numbers or (1, count)
            if low <= number <= high:
                return True
    return False


def coax_runs(rig: Rig) -> tuple[CoaxRun, ...]:
    """What each lead to an antenna takes, at the highest frequency that is planned."""
    carriers = carriers_of(rig)
    mhz = carriers[-1].mhz if carriers else None
    found: list[CoaxRun] = []
    for lead in rig.file.leads:
        body = rig.types[lead.type].lead
        ends = (lead.from_.gear, lead.to.gear)
        if body is None or body.conductors != "coaxial":
            continue
        if any(_to_antenna(rig, end) for end in ends):
            per_100_m = _per_100_m_db(body, mhz)
            loss = _coax_db(lead.length_m, per_100_m)
            name = lead.label or lead.id
            found.append(
                CoaxRun(
                    lead.id,
                    name,
                    mhz,
                    lead.length_m,
                    body.loss_db_per_100_m,
                    body.loss_at_mhz,
                    per_100_m,
                    loss,
                )
            )
    return tuple(found)


def _per_100_m_db(body: LeadBody, mhz: float | None) -> float | None:
    """The loss of so much coax; it grows with the root of the frequency."""
    if mhz is None or body.loss_db_per_100_m is None or body.loss_at_mhz is None:
        return None
    return float(body.loss_db_per_100_m * math.sqrt(mhz / body.loss_at_mhz))


def _coax_db(length: Metres | None, per_100_m_db: float | None) -> float | None:
    """Loss with a plug at each end."""
    if length is None or per_100_m_db is None:
        return None
    return float(
        radio.coax_db(length_m=float(length), loss_db_per_100_m=per_100_m_db, connectors=2)
    )


def _to_antenna(rig: Rig, gear: str) -> bool:
    """Whether this end is one of the boxes that have to do with the packs' radio."""
    if gear == HOUSE or gear not in rig.gear:
        return False
    type_ = rig.type_of(gear)
    if type_.class_ in {"router", "access-point"}:
        return False
    return any(port.carries == "rf" for port in type_.ports)
