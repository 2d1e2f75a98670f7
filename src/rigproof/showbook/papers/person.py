"""One page for each person: where I plug, what is in my ears, who hears me, what I carry."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property

import msgspec

from rigproof.checks.rule import View
from rigproof.mixes import Listening, SlotUse, slot_uses
from rigproof.rig import Lead, Person, Rig, Source
from rigproof.rig.plan import PatchRow
from rigproof.rig.quantity import Quantity
from rigproof.rig.ref import HOUSE
from rigproof.showbook import naming
from rigproof.showbook.blocks import (
    Block,
    Cell,
    caution,
    cell,
    column,
    fold,
    halves,
    heading,
    remark,
    roomy,
    run,
    say,
    table,
    ticks,
)
from rigproof.showbook.ear_way import EarWay, carriers, ear_way, joint, knob_at
from rigproof.showbook.holdings import boxes_of
from rigproof.showbook.papers import Order, Sheet
from rigproof.showbook.papers.trouble import trouble
from rigproof.signal import words


class Place(msgspec.Struct, frozen=True, dict=True):
    """One person on one night, as the page reads it."""

    order: Order
    view: View
    person: Person

    @property
    def rig(self) -> Rig:
        return self.view.rig

    @cached_property
    def sources(self) -> tuple[Source, ...]:
        """What this person plays, in the order of the patch."""
        order = {row.source: place for place, row in enumerate(self.rig.file.patch)}
        mine = [source for source in self.rig.file.sources if source.player == self.person.id]
        return tuple(sorted(mine, key=lambda source: order.get(source.id, len(order))))

    @cached_property
    def way(self) -> EarWay | None:
        return ear_way(self.view, self.person.id)

    @property
    def everybody(self) -> tuple[Listening, ...]:
        return self.view.listenings

    @property
    def listening(self) -> Listening:
        return next(one for one in self.everybody if one.person == self.person.id)

    @cached_property
    def leads(self) -> tuple[Lead, ...]:
        """The leads of every show that end at a box of this person."""
        return tuple(
            lead
            for lead in self.rig.file.leads
            if lead.plugged == "every show"
            and any(
                end != HOUSE and self.rig.gear[end].with_person == self.person.id
                for end in (lead.from_.gear, lead.to.gear)
            )
        )

    def say(self, key: str, /, **values: object) -> str:
        return self.order.say(key, **values)

    def place(self, ref: object) -> str:
        """A socket in the words of the page."""
        return words.place(self.rig, str(ref), self.order.edition.language)

    def level(self, level_db: float) -> str:
        return self.order.edition.number(level_db)


def sheets(order: Order) -> Iterator[Sheet]:
    """A page for each person as a rule, and one more for a show where they plug otherwise."""
    usual = {one.person.id: _doing(one) for one in _places(order, order.view)}
    for view in order.verdict.views:
        if view.show is not None and order.venues and view.show.venue not in order.venues:
            continue
        for place in _places(order, view):
            person = place.person
            if order.people and person.id not in order.people:
                continue
            if view.show is not None and usual.get(person.id) == _doing(place):
                continue
            yield _sheet(place)


def _places(order: Order, view: View) -> Iterator[Place]:
    return (Place(order, view, person) for person in view.rig.file.people)


def _doing(place: Place) -> tuple[Block, ...]:
    return (*_plugging(place), *_ears(place))


def _sheet(place: Place) -> Sheet:
    show, person = place.view.show, place.person
    name = person.name
    title = (
        place.say("person.title_at", name=name, show=show.name or show.date)
        if show
        else place.say("person.title_of", name=name)
    )
    lead = [place.say("person.plays", what=person.plays)] if person.plays else []
    if place.order.edition.reader == "deputy":
        lead.append(place.say("person.deputy"))
    return Sheet(
        id=f"person-{person.id}" + (f"-{show.id}" if show else ""),
        title=title,
        lead=" ".join(lead),
        blocks=(
            *_doing(place),
            # What hands and ears need on stage shares a side as long as it can.
            fold(),
            *trouble(place.order, place.view, person, place.way),
            *_hearing(place),
            fold(),
            *_heard(place),
            *_carrying(place),
        ),
    )


# Where I plug


def _plugging(place: Place) -> Iterator[Block]:
    yield heading(place.say("person.where_i_plug"))
    rows = [*_own_lines(place), *_own_leads(place), *_earphones(place)]
    if not rows:
        yield say(place.say("person.nothing_to_plug"))
        return
    yield roomy(
        [
            column(place.say("person.number"), 0, look="number"),
            column(place.say("person.sound"), 1.4, look="name"),
            column(place.say("person.by"), 2.4, look="small"),
            column(place.say("person.into"), 2),
            column(place.say("person.tape"), 1),
            column(place.say("person.channel"), 0, look="figures"),
        ],
        [[cell(str(number)), *row] for number, row in enumerate(rows, start=1)],
    )


def _own_lines(place: Place) -> Iterator[list[Cell]]:
    for source in place.sources:
        row = place.rig.rows.get(source.id)
        yield [
            remark(source.name),
            remark(_with(place, source, row)),
            remark(place.place(row.plug) if row and row.plug else place.say("person.wired")),
            remark(_tape(source)),
            cell(str(row.channel) if row and row.channel else ""),
        ]


def _with(place: Place, source: Source, row: PatchRow | None) -> str:
    """The microphone, the DI or the transmitter, and the lead where the file names it."""
    if source.start is not None and source.start.gear in place.rig.gear:
        for link in carriers(place.rig, source.start):
            mhz = place.order.edition.number(link.frequency_mhz or 0.0, 3)
            box = words.box(place.rig, link.from_.gear)
            return place.say("person.from_radio", box=box, mhz=mhz)
        return place.say("person.from_box", box=place.place(source.start))
    said = naming.microphone(place.rig, source, place.order.edition)
    return ", ".join(part for part in (said, row.lead if row else "") if part)


def _tape(source: Source) -> str:
    if not source.label or not source.stereo:
        return source.label
    return ", ".join(f"{source.label} {name.rpartition(' ')[2]}" for name in source.lane_names)


def _own_leads(place: Place) -> Iterator[list[Cell]]:
    for lead in place.leads:
        near, far = joint(lead, _mine(place, lead))
        kind = naming.type_name(place.rig, lead.type, place.order.edition)
        yield [
            remark(words.box(place.rig, near.gear)),
            remark(place.say("person.lead_row", lead=kind, far=place.place(far))),
            remark(place.place(near)),
            remark(lead.label or lead.id),
            cell(""),
        ]


def _mine(place: Place, lead: Lead) -> str:
    box = place.rig.gear.get(lead.to.gear)
    return lead.to.gear if box and box.with_person == place.person.id else lead.from_.gear


def _earphones(place: Place) -> Iterator[list[Cell]]:
    ears = place.person.ears
    if ears is None or ears.plug is None:
        return
    kind = (
        naming.type_name(place.rig, ears.earphones, place.order.edition) if ears.earphones else ""
    )
    yield [
        remark(place.say("person.my_earphones")),
        remark(kind),
        remark(place.place(ears.plug)),
        cell(""),
        cell(""),
    ]


# In my ears


def _ears(place: Place) -> Iterator[Block]:
    yield heading(place.say("person.my_ears"))
    heard, way = place.listening, place.way
    if way is None:
        yield say(place.say("person.no_ears"))
        return
    boxes = " \u2190 ".join(_station(place, number) for number in range(len(way.stations)))
    if heard.mix is not None and heard.mix.bus is not None:
        width = place.say("person.stereo" if heard.mix.stereo else "person.mono")
        name = heard.mix.name or heard.mix.id
        boxes += " \u2190 " + place.say("person.mix", name=name, width=width, bus=heard.mix.bus)
    yield say(place.say("person.way", steps=boxes))
    marks = "; ".join(_marks(place, way))
    if marks:
        yield say(f"{place.say('person.marks')}: {marks}.")
    if heard.kind == "personal mixer":
        yield _slots(place, way)
        if heard.mix is None or not heard.mix.sends:
            yield say(place.say("person.not_written"))
    else:
        yield _levels(place, heard)


def _station(place: Place, number: int) -> str:
    assert place.way is not None
    station = place.way.stations[number]
    box = naming.box(place.rig, station.gear.id, place.order.edition)
    mhz = station.radio.frequency_mhz if station.radio else None
    return box + (f" {place.order.edition.number(mhz, 3)} MHz" if mhz else "")


def _marks(place: Place, way: EarWay) -> Iterator[str]:
    for one in way.knobs(place.rig):
        level = place.level(one.gain_db)
        yield place.say("person.mark", place=place.place(knob_at(place.rig, one.at)), level=level)
    for station in way.stations:
        if station.gear.home:
            box = words.box(place.rig, station.gear.id)
            yield place.say("person.home", box=box, home=station.gear.home)


def _slots(place: Place, way: EarWay) -> Block:
    feeds = {feed.id: feed for feed in place.rig.file.feeds}
    boxes = {station.gear.id for station in way.stations}
    uses = [
        use
        for use in slot_uses(place.rig)
        if use.slot is not None and feeds[use.feed].port.gear in boxes
    ]
    mix = place.listening.mix
    levels = {
        send.slot.first: send.level_db
        for send in (mix.sends if mix else ())
        if send.slot is not None
    }
    columns = [
        column(place.say("person.slot"), 0, look="number"),
        column(place.say("person.strip"), 1, look="name"),
        column(place.say("person.holds"), 3.4),
    ]
    if levels:
        columns.append(column(place.say("person.start"), 0, look="figures"))
    return halves(columns, [_slot(place, use, levels)[: len(columns)] for use in uses])


def _slot(place: Place, use: SlotUse, levels: Mapping[int, Quantity | None]) -> list[Cell]:
    assert use.slot is not None
    names = place.order.edition.listed(words.source(place.rig, name) for name in use.sources)
    level = levels.get(use.slot.slot.first)
    return [
        cell(str(use.slot.slot)),
        cell(use.slot.label or use.slot.name),
        remark(names),
        cell(place.level(level) if level is not None else ""),
    ]


def _levels(place: Place, heard: Listening) -> Block:
    """The sends as they are written: a group stays a group, because it is one knob."""
    mix = heard.mix
    sends = [send for send in mix.sends if send.from_ is not None] if mix else []
    said = [
        f"{words.source(place.rig, send.from_ or '')} "
        + (place.level(send.level_db) if send.level_db is not None else "\u2022")
        for send in sends
    ]
    return run(f"{place.say('person.starts_at')}: {', '.join(said)}.", "")


# Who hears me


def _heard(place: Place) -> Iterator[Block]:
    if not place.sources:
        return
    alike: dict[str, list[str]] = {}
    for source in place.sources:
        alike.setdefault(_listeners(place, source), []).append(source.name)
    yield heading(place.say("person.who_hears_me"))
    yield table(
        [
            column(place.say("person.my_sound"), 1.6, look="name"),
            column(place.say("person.in_ears_of"), 5),
        ],
        [
            [remark(place.order.edition.listed(names)), remark(listeners)]
            for listeners, names in alike.items()
        ],
    )


def _listeners(place: Place, source: Source) -> str:
    said = []
    for one in place.everybody:
        heard = next((h for h in one.heard if h.source == source.id), None)
        if heard is None:
            continue
        name = naming.person(place.rig, one.person)
        if heard.slot:
            said.append(place.say("person.in_slot", name=name, slot=heard.slot))
        else:
            level = naming.level(heard.level_db, place.order.edition)
            said.append(place.say("person.at_level", name=name, level=level))
    return ", ".join(said) or place.say("person.nobody")


# What I carry


def _carrying(place: Place) -> Iterator[Block]:
    things = list(dict.fromkeys(_things(place)))
    if things:
        yield heading(place.say("person.i_carry"))
        yield ticks([" \u00b7 ".join(row) for row in _in_rows(things)])


def _in_rows(things: Sequence[str], letters: int = 92) -> Iterator[list[str]]:
    """Several small things beside one box to tick, as many as a line holds."""
    row: list[str] = []
    for thing in things:
        if row and sum(map(len, row)) + 3 * len(row) + len(thing) > letters:
            yield row
            row = []
        row.append(thing)
    if row:
        yield row


def _things(place: Place) -> Iterator[str]:
    rig, edition, me = place.rig, place.order.edition, place.person.id
    ears = place.person.ears
    if ears is not None and ears.earphones is not None:
        yield naming.type_name(rig, ears.earphones, edition)
    for gear in rig.file.gear:
        if gear.with_person == me and gear.owner == "band":
            yield naming.box(rig, gear.id, edition)
    brought = [source for source in place.sources if source.owner != "house"]
    kinds: Counter[str] = Counter()
    for source in brought:
        if source.mic is not None:
            kinds[source.mic] += source.lanes
        if source.di is not None:
            kinds[source.di] += boxes_of(rig, source)
    for kind, count in kinds.items():
        yield _counted(place, count, naming.type_name(rig, kind, edition))
    stands = Counter(source.stand for source in brought if source.stand)
    for stand, count in stands.items():
        yield _counted(place, count, place.say("person.mine_stand", stand=stand))
    for lead in place.leads:
        yield place.say("person.mine_label", label=lead.label or lead.id)
    yield from _own_way_leads(place)
    for one in rig.file.consumables:
        boxes = [name for name in one.feeds if rig.gear[name].with_person == me]
        if boxes:
            names = edition.listed(words.box(rig, name) for name in boxes)
            yield place.say("person.mine_consumable", what=one.what, boxes=names)
    for bag in rig.file.bags:
        if bag.carried_by == me:
            yield place.say("person.mine_bag", bag=bag.name or bag.id)


def _counted(place: Place, count: int, what: str) -> str:
    return what if count == 1 else place.say("person.mine_several", count=count, what=what)


def _own_way_leads(place: Place) -> Iterator[str]:
    """The plain leads from my microphones and DIs to the case, counted by kind and length."""
    counts: dict[tuple[str, float | None], int] = {}
    lanes = {source.id: source.lanes for source in place.sources}
    for way in place.view.lead_ways:
        if way.lead is None and way.start in lanes and way.type_id is not None:
            key = (way.type_id, way.stock_m)
            counts[key] = counts.get(key, 0) + lanes[way.start]
    for (type_id, length_m), count in sorted(counts.items(), key=str):
        kind = naming.type_name(place.rig, type_id, place.order.edition)
        if length_m is None:
            yield place.say("person.mine_lead_unknown", count=count, kind=kind)
        else:
            length = place.order.edition.length(length_m)
            yield place.say("person.mine_lead", count=count, kind=kind, length=length)


def _hearing(place: Place) -> Iterator[Block]:
    ears = place.person.ears
    if ears is None or ears.plug is None:
        return
    text = place.say("person.hearing")
    if place.order.edition.reader == "deputy" and ears.earphones is not None:
        kind = naming.type_name(place.rig, ears.earphones, place.order.edition)
        text = f"{place.say('person.hearing_other', earphones=kind)} {text}"
    yield caution(place.say("person.hearing_title"), text)
