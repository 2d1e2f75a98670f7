"""What the pocket book says of each source, person, box and lead, with the ways between them."""

from collections.abc import Iterator, Mapping, Sequence

import msgspec

from rigproof.patch import PatchLists
from rigproof.rig import Gear, Lead, Person, Source
from rigproof.rig.lanes import sockets
from rigproof.rig.ref import HOUSE, PortRef
from rigproof.showbook import naming
from rigproof.showbook.papers import Order
from rigproof.showbook.walk import count
from rigproof.signal import words
from rigproof.signal.graph import planned
from rigproof.signal.phantom import need_of
from rigproof.wording import ranges
from rigproof.wording.connectors import connector


class Link(msgspec.Struct, frozen=True):
    """A text that leads to another entry; plain where `to` is empty."""

    text: str
    to: str = ""


class Fact(msgspec.Struct, frozen=True):
    """A label and what stands behind it."""

    label: str
    links: tuple[Link, ...]


class Entry(msgspec.Struct, frozen=True):
    """One thing of the rig. `anchor` is the place that printed labels point to."""

    anchor: str
    name: str
    tag: str  # the short form on strips, tapes and flags
    facts: tuple[Fact, ...]


class Chapter(msgspec.Struct, frozen=True):
    anchor: str
    title: str
    entries: tuple[Entry, ...]


def chapters(order: Order) -> tuple[Chapter, ...]:
    """All entries of the usual night, kind by kind, in the order of the file."""
    book = _Book(order)
    file = order.rig.file
    found = (
        ("sources", [book.source(one) for one in file.sources]),
        ("people", [book.person(one) for one in file.people]),
        ("gear", [book.gear(one) for one in file.gear]),
        ("leads", [book.lead(one) for one in file.leads]),
    )
    return tuple(
        Chapter(name, order.say(f"pocket.{name}"), tuple(entries))
        for name, entries in found
        if entries
    )


class _Book:
    """What several entries need to know of each other."""

    def __init__(self, order: Order) -> None:
        self.order = order
        self.say = order.say
        self.rig = order.rig
        self.view = order.view
        self.hears = self._hears()
        self.plugs = self._plugs()
        self.carried = self._carried()
        self.at_house = self._at_house()
        self.feeds = {
            feed.gear: outlet.key for outlet in self.view.outlets for feed in outlet.feeds
        }

    def _hears(self) -> Mapping[str, Sequence[str]]:
        """Person -> the sources in those ears."""
        arriving, graph = self.view.arriving, self.view.graph
        return {name: arriving.at(graph.of_listener(name)) for name in self.rig.people}

    def _plugs(self) -> Mapping[str, Sequence[str]]:
        """Source -> the sockets that somebody plugs it into."""
        found: dict[str, list[str]] = {}
        for step in PatchLists(self.rig).walk:
            found.setdefault(step.source.id, []).append(step.socket)
        return found

    def _carried(self) -> Mapping[str, Sequence[str]]:
        """Lead -> the sources that pass through it on a usual night."""
        found: dict[str, int] = {}
        arriving, graph = self.view.arriving, self.view.graph
        for hop in graph.hops:
            if planned(hop):
                for need in hop.needs:
                    found[need] = found.get(need, 0) | arriving.bits[hop.start]
        return {need: arriving.named(mask) for need, mask in found.items()}

    def _at_house(self) -> Mapping[str, Sequence[tuple[str, str]]]:
        """Source -> each venue with the lines it has there."""
        found: dict[str, list[tuple[str, str]]] = {}
        for hand in self.view.hand_offs:
            lines: dict[str, list[int]] = {}
            for line in hand.used:
                if line.source is not None:
                    lines.setdefault(line.source.id, []).append(line.house_number or line.number)
            for source, numbers in lines.items():
                found.setdefault(source, []).append((hand.venue.name, ranges(numbers)))
        return found

    # ---- the four kinds ---------------------------------------------------------------------

    def source(self, source: Source) -> Entry:
        row = self.rig.rows.get(source.id)
        channel = ranges(row.channel) if row and row.channel else ""
        phantom = need_of(self.rig, source)
        heard_by = [name for name, sources in self.hears.items() if source.id in sources]
        facts = (
            self._fact("channel", channel),
            self._fact("stage_line", row.line if row else ""),
            self._places("plug", self.plugs.get(source.id, ())),
            self._fact("microphone", naming.microphone(self.rig, source, self.order.edition)),
            self._fact("stand", source.stand),
            self._fact("phantom", self.say(f"pocket.phantom_{phantom}") if phantom else ""),
            self._people("player", [source.player] if source.player else []),
            self._people("heard_by", heard_by),
            *(
                self._fact("at_house", self.say("pocket.line_at", venue=venue, lines=numbers))
                for venue, numbers in self.at_house.get(source.id, ())
            ),
            self._fact("private", self.say("pocket.never_house") if source.private else ""),
            self._fact("alternative", source.alternative),
            self._fact("note", source.note),
            self._fact("patch_note", self._own(row.note if row else "")),
        )
        return _entry(f"source-{source.id}", source.name, source.label, facts)

    def person(self, person: Person) -> Entry:
        mixes = [mix for mix in self.rig.file.mixes if person.id in mix.listeners]
        own = [one.id for one in self.rig.file.sources if one.player == person.id]
        boxes = [one.id for one in self.rig.file.gear if one.with_person == person.id]
        ears = person.ears
        facts = (
            self._fact("plays", person.plays),
            self._places("ears_at", [str(ears.plug)] if ears and ears.plug else ()),
            self._fact("earphones", self._type(ears.earphones) if ears and ears.earphones else ""),
            *(self._fact("mix", mix.name or mix.id) for mix in mixes),
            self._sources("own", own),
            self._sources("hears", self.hears.get(person.id, ())),
            self._boxes("boxes", boxes),
            self._fact("phone", person.phone if self.order.edition.private else ""),
            self._fact("note", self._own(person.note)),
        )
        return _entry(f"person-{person.id}", person.name, "", facts)

    def gear(self, gear: Gear) -> Entry:
        private = self.order.edition.private
        leads = [
            lead.id
            for lead in self.rig.file.leads
            if gear.id in {ref.gear for ref in (lead.from_, lead.to, lead.back) if ref is not None}
        ]
        plugged = [
            name
            for name, places in self.plugs.items()
            if any(PortRef(place).gear == gear.id for place in places)
        ]
        unit = self.say("pocket.unit", n=gear.unit, face=gear.face) if gear.unit else ""
        outlet = self.feeds.get(gear.id)
        facts = (
            self._fact("type", self._type(gear.type)),
            self._fact("place", unit or self._place_of(gear)),
            self._boxes("inside", [gear.inside] if gear.inside else []),
            self._people("with", [gear.with_person] if gear.with_person else []),
            self._fact("home", gear.home),
            self._places("outlet", [outlet] if outlet else ()),
            self._fact("address", gear.address or ""),
            self._fact("firmware", gear.firmware),
            self._fact("serial", gear.serial if private else ""),
            self._sources("plugged_here", plugged),
            self._leads("leads_here", leads),
            self._fact("note", self._own(gear.note)),
        )
        return _entry(f"gear-{gear.id}", gear.name or gear.id, gear.label, facts)

    def lead(self, lead: Lead) -> Entry:
        number = count(self.rig, lead)
        length = self.order.edition.length(lead.length_m) if lead.length_m is not None else ""
        venues = [self.rig.venues[name].name for name in lead.at_venues if name in self.rig.venues]
        facts = (
            self._fact("type", self._type(lead.type)),
            self._fact("count", str(number) if number > 1 else ""),
            self._places("from", [str(lead.from_)], self._end(lead, lead.from_)),
            self._places("to", [str(lead.to)], self._end(lead, lead.to)),
            self._places("back", [str(lead.back)] if lead.back else ()),
            self._fact("length", length),
            self._fact("colour", lead.colour),
            self._fact("loom", lead.loom),
            self._fact("route", lead.route),
            self._fact("plugged", self.say(f"pocket.{lead.plugged.replace(' ', '_')}")),
            self._fact("only_at", self.order.edition.listed(venues)),
            self._sources("carries", self.carried.get(lead.id, ())),
            self._fact("note", self._own(lead.note)),
        )
        return _entry(
            f"lead-{lead.id}",
            words.box(self.rig, lead.id, self.order.edition.language),
            lead.label,
            facts,
        )

    # ---- facts ------------------------------------------------------------------------------

    def _own(self, note: str) -> str:
        """A note, which is for the band alone."""
        return note if self.order.edition.private else ""

    def _fact(self, key: str, text: str) -> Fact:
        return Fact(self.say(f"pocket.{key}"), (Link(text),) if text else ())

    def _linked(self, key: str, links: Iterator[Link]) -> Fact:
        return Fact(self.say(f"pocket.{key}"), tuple(links))

    def _people(self, key: str, names: Sequence[str]) -> Fact:
        people = self.rig.people
        return self._linked(
            key, (Link(people[n].name, f"person-{n}") for n in names if n in people)
        )

    def _sources(self, key: str, names: Sequence[str]) -> Fact:
        sources = self.rig.sources
        return self._linked(
            key, (Link(sources[n].name, f"source-{n}") for n in names if n in sources)
        )

    def _boxes(self, key: str, names: Sequence[str]) -> Fact:
        return self._linked(
            key, (Link(self.order.edition.tell(words.box(self.rig, n)), f"gear-{n}") for n in names)
        )

    def _leads(self, key: str, names: Sequence[str]) -> Fact:
        labels = {lead.id: lead.label or lead.id for lead in self.rig.file.leads}
        return self._linked(key, (Link(labels[n], f"lead-{n}") for n in names))

    def _places(self, key: str, places: Sequence[str], end: str = "") -> Fact:
        return self._linked(key, (self._place(place, end) for place in places))

    def _place(self, place: str, end: str) -> Link:
        gear = PortRef(place).gear
        text = words.place(self.rig, place, self.order.edition.language) + (
            f" ({end})" if end else ""
        )
        return Link(text, f"gear-{gear}" if gear in self.rig.gear and gear != HOUSE else "")

    def _end(self, lead: Lead, ref: PortRef) -> str:
        """What the lead ends in there: the connector of the lead itself."""
        body = self.rig.types[lead.type].lead
        if body is None:
            return ""
        found = sockets(self.rig.gear_types, ref, lead.where)
        if not found:
            return ""
        end = body.a if ref is lead.from_ else body.b
        return connector(end.connector, self.order.edition.language)

    def _place_of(self, gear: Gear) -> str:
        if gear.placed is None:
            return ""
        return self.say(f"paper.place_{gear.placed.replace(' ', '_')}")

    def _type(self, name: str) -> str:
        known = name in self.rig.types
        return naming.type_name(self.rig, name, self.order.edition) if known else name


def _entry(anchor: str, name: str, tag: str, facts: Sequence[Fact]) -> Entry:
    return Entry(
        anchor, name, tag if tag != name else "", tuple(fact for fact in facts if fact.links)
    )
