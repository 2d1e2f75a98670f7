"""Fill in what the file leaves out between the mixer and the ears, and say why.

Where a listener plugs in, which buses make a mix, and what is in the places of a personal-mixer
feed. Stated things are kept; nothing stated is moved to make room.
"""

from collections.abc import Iterator

import msgspec

from rigproof.mixes.slots import places
from rigproof.rig import Reason, Rig
from rigproof.rig.band import Ears, Family, Person, Source
from rigproof.rig.geartype import Port
from rigproof.rig.plan import Feed, Mix, Send, Slot
from rigproof.rig.ref import Numbers, PortRef
from rigproof.wording.sentences import sentence


def complete_mixes(rig: Rig) -> tuple[Rig, tuple[Reason, ...]]:
    """The rig with ears plugged in, mixes on buses and feeds filled, and the reasons."""
    reasons: list[Reason] = []
    people = tuple(_plugged(rig, reasons))
    rig = rig.changed(people=people)
    buses = _Buses(rig)
    feeds = tuple(_filled(rig, feed, buses, reasons) for feed in rig.file.feeds)
    mixes = tuple(_on_buses(rig, buses, reasons))
    return rig.changed(feeds=feeds, mixes=mixes), tuple(reasons)


# Where ears are plugged in


def _plugged(rig: Rig, reasons: list[Reason]) -> Iterator[Person]:
    free = _free_headphone_outputs(rig)
    for person in rig.file.people:
        if person.ears is None or person.ears.plug is not None:
            yield person
            continue
        own = _own_output(rig, person)
        plug = own or next(free, None)
        if plug is None:
            yield person
            continue
        why = (
            sentence("the box is this person's")
            if own
            else sentence("the next free headphone output")
        )
        reasons.append(Reason(person.id, str(plug), why))
        yield msgspec.structs.replace(person, ears=_with_plug(person.ears, plug))


def _with_plug(ears: Ears, plug: PortRef) -> Ears:
    return msgspec.structs.replace(ears, plug=plug)


def _own_output(rig: Rig, person: Person) -> PortRef | None:
    for gear in rig.file.gear:
        if gear.with_person != person.id:
            continue
        for port in rig.types[gear.type].ports:
            if port.way == "out" and port.carries == "phones":
                return PortRef(f"{gear.id}.{port.id}" + (".1" if port.count > 1 else ""))
    return None


def _free_headphone_outputs(rig: Rig) -> Iterator[PortRef]:
    taken = {str(p.ears.plug) for p in rig.file.people if p.ears and p.ears.plug}
    for gear in rig.file.gear:
        type_ = rig.types[gear.type]
        if type_.class_ != "headphone-amp":
            continue
        for port in type_.ports:
            if port.way == "out" and port.carries == "phones":
                for name in _each(gear.id, port):
                    if name not in taken:
                        yield PortRef(name)


def _each(gear: str, port: Port) -> list[str]:
    if port.count == 1:
        return [f"{gear}.{port.id}"]
    return [f"{gear}.{port.id}.{number}" for number in range(1, port.count + 1)]


# Buses


class _Buses:
    """The buses of the band's mixer that nobody has claimed yet."""

    def __init__(self, rig: Rig) -> None:
        mixer = rig.mixer
        bank = next(rig.types[mixer.type].stages("bus"), None) if mixer else None
        self.bank = bank
        self.mixer = mixer.id if mixer else ""
        self.free = set(range(1, bank.count + 1)) if bank else set()
        named = [m.bus for m in rig.file.mixes if not m.bank and m.on in (None, self.mixer)]
        slots = [s.bus for f in rig.file.feeds for s in f.slots if f.port.gear == self.mixer]
        for numbers in (*named, *slots):
            self.free -= set(numbers or ())

    def take(self, wide: int) -> Numbers | None:
        """The lowest free bus, or the lowest free odd and even pair."""
        for number in sorted(self.free):
            wanted = set(range(number, number + wide))
            if wanted <= self.free and (wide == 1 or number % 2):
                self.free -= wanted
                return Numbers(number, number + wide - 1)
        return None


def _on_buses(rig: Rig, buses: _Buses, reasons: list[Reason]) -> Iterator[Mix]:
    for mix in rig.file.mixes:
        yield _on_bus(_with_sends(rig, mix, buses, reasons), buses, reasons)
    served = {person for mix in rig.file.mixes for person in mix.listeners}
    for person in rig.file.people:
        if person.id in served or person.ears is None or person.ears.plug is None:
            continue
        mix = _everything(rig, person)
        reasons.append(
            Reason(
                person.id,
                sentence("mix {mix}", mix=mix.id),
                sentence("no mix is stated: everything, levels to be found"),
            )
        )
        yield _on_bus(mix, buses, reasons)


def _with_sends(rig: Rig, mix: Mix, buses: _Buses, reasons: list[Reason]) -> Mix:
    """A mix for somebody's ears of which the file says only that it is there."""
    listener = rig.people.get(mix.listeners[0]) if mix.listeners else None
    if mix.sends or listener is None or mix.on not in (None, buses.mixer):
        return mix
    sends = tuple(Send(from_=source.id) for source in _for_ears(rig, listener))
    if not sends:
        return mix
    reasons.append(
        Reason(mix.id, "sends", sentence("none is stated: everything, levels to be found"))
    )
    return msgspec.structs.replace(mix, sends=sends)


def _on_bus(mix: Mix, buses: _Buses, reasons: list[Reason]) -> Mix:
    if mix.bus is not None or mix.bank or mix.on not in (None, buses.mixer) or not buses.bank:
        return mix
    wide = 2 if mix.stereo else 1
    numbers = buses.take(wide)
    why = (
        sentence("the next free odd and even pair") if wide == 2 else sentence("the next free bus")
    )
    if numbers is None and wide == 2:
        numbers, why = buses.take(1), sentence("no pair is free: one bus, mono")
    if numbers is None:
        return mix
    reasons.append(Reason(mix.id, sentence("bus {numbers}", numbers=numbers), why))
    return msgspec.structs.replace(mix, bus=numbers)


def _everything(rig: Rig, person: Person) -> Mix:
    plug = person.ears.plug if person.ears else None
    gear = plug.gear if plug is not None else ""
    personal = gear in rig.gear and rig.type_of(gear).class_ == "personal-mixer"
    sends = () if personal else tuple(Send(from_=s.id) for s in _for_ears(rig, person))
    return Mix(
        id=f"mix-{person.id}",
        name=person.name,
        listeners=(person.id,),
        stereo=True,
        on=gear if personal else None,
        sends=sends,
    )


def _for_ears(rig: Rig, person: Person) -> Iterator[Source]:
    """What goes to ears: everything but the person's own talk."""
    for source in rig.file.sources:
        if source.heard_by == "house":
            continue
        if source.family == "talk" and source.player == person.id:
            continue
        yield source


# Feeds


# In which order families are put on one knob when places run out, the one that hurts least first.
_GROUPED_FIRST: tuple[Family, ...] = (
    "ambience",
    "percussion",
    "brass",
    "winds",
    "strings",
    "electronics",
    "other",
    "drums",
    "guitar",
    "voices",
    "keys",
    "playback",
    "talk",
    "cue",
    "bass",
    "click",
)


class _Lot(msgspec.Struct):
    name: str
    sources: list[Source]
    grouped: bool

    @property
    def wide(self) -> int:
        return 2 if any(s.stereo for s in self.sources) or self.kit else 1

    @property
    def kit(self) -> bool:
        # Common practice, no source: a drum kit travels as one stereo pair its player balances.
        return self.grouped and self.sources[0].family == "drums"


def _filled(rig: Rig, feed: Feed, buses: _Buses, reasons: list[Reason]) -> Feed:
    """A feed whose slots nobody stated: a place each, families together where places run out."""
    if feed.slots:
        return feed
    room = places(rig, feed)
    lots = [
        _Lot(source.name, [source], False)
        for source in rig.file.sources
        if source.heard_by != "house" and source.id in rig.rows
    ]
    for family in _GROUPED_FIRST:
        if sum(lot.wide for lot in lots) <= room:
            break
        lots = _together(lots, family)
    slots: list[Slot] = []
    # Pairs first, so that each starts on an odd place.
    for lot in sorted(lots, key=lambda lot: lot.wide != 2):
        number = sum(len(slot.slot) for slot in slots) + 1
        if number + lot.wide - 1 > room:
            reasons.append(
                Reason(
                    feed.id,
                    sentence("without {lot}", lot=lot.name),
                    sentence("its {room} places are full", room=room),
                )
            )
            continue
        bus = buses.take(lot.wide) if lot.grouped else None
        why = (
            sentence("one knob for {sources}: places are few", sources=len(lot.sources))
            if lot.grouped
            else sentence("its own knob")
        )
        numbers = Numbers(number, number + lot.wide - 1)
        reasons.append(
            Reason(feed.id, sentence("slot {numbers}: {lot}", numbers=numbers, lot=lot.name), why)
        )
        slots.append(
            Slot(slot=numbers, name=lot.name, takes=tuple(s.id for s in lot.sources), bus=bus)
        )
    return msgspec.structs.replace(feed, slots=tuple(slots))


def _together(lots: list[_Lot], family: Family) -> list[_Lot]:
    members = [lot for lot in lots if lot.sources[0].family == family]
    if len(members) < 2:
        return lots
    joined = _Lot(family.capitalize(), [s for lot in members for s in lot.sources], True)
    place = lots.index(members[0])
    rest = [lot for lot in lots if lot not in members]
    return [*rest[:place], joined, *rest[place:]]
