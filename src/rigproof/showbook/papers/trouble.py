"""The card for trouble of one person: what I notice, and what to do in the order of likelihood.

Each step names the box, socket or lead that this person's sound depends on, read from the ear
backwards. The order is common practice, from memory: plugs and batteries fail first, then leads
that are moved every night, then settings, then boxes.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise

import msgspec

from rigproof.checks.rule import View
from rigproof.mains import starts
from rigproof.mixes import Listening
from rigproof.rig import Lead, Person, Rig, Source
from rigproof.rig.lanes import sockets
from rigproof.rig.ref import HOUSE, PortRef
from rigproof.showbook import naming
from rigproof.showbook.blocks import Block, heading, remedies
from rigproof.showbook.ear_way import (
    EarWay,
    Station,
    carriers,
    free_sockets,
    joint,
    knob_at,
    outlet_of,
    root_strip,
)
from rigproof.showbook.papers import Order
from rigproof.signal import words

STEPS = 4


class Case(msgspec.Struct, frozen=True):
    """One person in trouble."""

    order: Order
    view: View
    person: Person
    way: EarWay | None

    @property
    def rig(self) -> Rig:
        return self.view.rig

    def say(self, key: str, /, **values: object) -> str:
        return self.order.say(f"person.{key}", **values)

    def place(self, ref: object) -> str:
        return words.place(self.rig, str(ref), self.order.edition.language)

    def box(self, gear: str) -> str:
        return naming.box(self.rig, gear, self.order.edition)

    def found(self, gear: str) -> str:
        """A box and where in the case it is."""
        unit = self.rig.gear[gear].unit
        box = self.box(gear)
        return self.say("in_unit", box=box, unit=unit) if unit is not None else box

    def mhz(self, value: float | None) -> str:
        return self.order.edition.number(value, 3) if value is not None else "?"

    @property
    def leader(self) -> str:
        """Who gives cues and counts."""
        return next((p.name for p in self.rig.file.people if p.leads_band), "")


Steps = Iterator[str]


def trouble(order: Order, view: View, person: Person, way: EarWay | None) -> Iterator[Block]:
    """The card: a symptom in each row, and beside it what to try, in order."""
    case = Case(order, view, person, way)
    rows = [(symptom, _kept(steps)) for symptom, steps in _symptoms(case) if symptom]
    yield heading(order.say("person.trouble"))
    yield remedies(order.say("person.symptom"), order.say("person.tries"), rows)


def _kept(steps: Steps) -> list[str]:
    return [step for step in steps if step][:STEPS]


def _symptoms(case: Case) -> Iterator[tuple[str, Steps]]:
    hears = {h.source for one in _listening(case) for h in one.heard}
    sources = case.rig.sources
    if case.way is not None:
        yield case.say("too_loud"), _too_loud(case, case.way)
        yield case.say("no_sound"), _no_sound(case, case.way)
        yield case.say("one_side"), _one_side(case, case.way)
        yield case.say("noise"), _noise(case, case.way)
    mine = [source for source in sources.values() if source.player == case.person.id]
    if mine:
        yield _not_heard_name(case, mine), _not_heard(case, mine)
    clicks = [sources[name] for name in hears if sources[name].family == "click"]
    if clicks and case.way is not None:
        yield case.say("no_click"), _no_click(case, clicks[0])
    tracks = [source for source in sources.values() if source.family == "playback"]
    if tracks:
        yield case.say("tracks_stop"), _tracks(case, tracks[0])
    if case.rig.file.control is not None:
        yield case.say("app_dead"), _app(case)
    if case.rig.mixer is not None:
        yield case.say("rack_dead"), _rack(case)


def _listening(case: Case) -> list[Listening]:
    return [one for one in case.view.listenings if one.person == case.person.id]


# Ears


def _too_loud(case: Case, way: EarWay) -> Steps:
    yield case.say("too_loud_out")
    ears = case.person.ears
    if ears is not None and ears.plug is not None:
        yield case.say("too_loud_plug", socket=case.place(ears.plug))
    control = case.rig.file.control
    if control is not None and control.kill:
        yield control.kill
    else:
        boxes = [s.gear.id for s in way.stations if outlet_of(case.rig, s.gear.id) is not None]
        if boxes:
            outlet = outlet_of(case.rig, boxes[0])
            yield case.say("too_loud_box", box=case.box(boxes[0]), outlet=case.place(outlet))
    root = root_strip(case.rig, case.rig.mixer.id) if case.rig.mixer else ""
    if root:
        yield case.say("too_loud_all", box=case.box(root))


def _no_sound(case: Case, way: EarWay) -> Steps:
    ears = case.person.ears
    if ears is not None and ears.plug is not None:
        yield case.say("check_earphones", socket=case.place(ears.plug))
    near, rest = way.stations[0], way.stations[1:]
    told = [_station(case, near, before=None), *_stations(case, way, rest)]
    # One step holds the end of a long way, so that the last column is the mixer.
    first, others = told[0], told[1:]
    yield first
    if len(others) > 1:
        yield " ".join(others[:-1])
    if others:
        yield others[-1]


def _stations(case: Case, way: EarWay, rest: Sequence[Station]) -> Steps:
    for before, station in pairwise((way.stations[0], *rest)):
        yield _station(case, station, before=before)


def _station(case: Case, station: Station, before: Station | None) -> str:
    rig, gear = case.rig, station.gear
    class_ = rig.types[gear.type].class_
    if rig.mixer is not None and gear.id == rig.mixer.id:
        return _mixer(case, gear.id)
    far = _leads_into(case, station)
    if class_ == "pack" and station.radio is not None:
        mhz = case.say("check_frequency", mhz=case.mhz(station.radio.frequency_mhz))
        return case.say("check_pack", box=case.box(gear.id), mhz=mhz)
    if class_ == "personal-mixer" and station.lead is not None:
        _, other = joint(station.lead, gear.id)
        label = station.lead.label or station.lead.id
        return case.say("check_personal", box=case.box(gear.id), label=label, far=case.place(other))
    where = {"box": case.found(gear.id), "far": far}
    if class_ == "transmitter" and before is not None and before.radio is not None:
        return case.say("check_transmitter", mhz=case.mhz(before.radio.frequency_mhz), **where)
    if class_ == "headphone-amp":
        return case.say("check_amplifier", **where)
    return case.say("check_box", **where)


def _leads_into(case: Case, station: Station) -> str:
    if station.lead is None:
        return case.box(station.gear.id)
    near, far = joint(station.lead, station.gear.id)
    return case.order.edition.listed([case.place(near), case.place(far)])


def _mixer(case: Case, mixer: str) -> str:
    mix = next((one.mix for one in _listening(case)), None)
    if mix is not None and mix.bus is not None:
        bus = f"bus {mix.bus}" if case.order.edition.language == "en" else f"Bus {mix.bus}"
        return case.say("check_mix", box=case.box(mixer), mix=mix.name or mix.id, bus=bus)
    others = [
        naming.person(case.rig, name)
        for one in case.rig.file.mixes
        if one.on is not None and one is not mix
        for name in one.listeners
    ]
    if others:
        return case.say("check_feed", box=case.box(mixer), other=others[0])
    return case.say("check_feed_alone", box=case.box(mixer))


def _one_side(case: Case, way: EarWay) -> Steps:
    yield case.say("one_side_plug")
    yield case.say("one_side_swap")
    pair = next(
        (s for s in way.stations if s.lead is not None and _is_pair(case.rig, s.lead)), None
    )
    single = next((s for s in way.stations if s.lead is not None), None)
    if pair is not None and pair.lead is not None:
        near, far = joint(pair.lead, pair.gear.id)
        left, right = _two(case, far)
        box = case.place(near)
        yield case.say("one_side_leads", left=left, right=right, box=box)
    elif single is not None and single.lead is not None:
        near, far = joint(single.lead, single.gear.id)
        label = single.lead.label or single.lead.id
        yield case.say("one_side_lead", label=label, near=case.place(near), far=case.place(far))
    mix = next((one.mix for one in _listening(case)), None)
    if mix is not None and case.rig.mixer is not None and mix.bus is not None:
        box = case.box(case.rig.mixer.id)
        yield case.say("one_side_mix", box=box, mix=mix.name or mix.id)


def _is_pair(rig: Rig, lead: Lead) -> bool:
    """Whether left and right run in two leads of their own that can be swapped for a trial."""
    body = rig.types[lead.type].lead
    numbers = lead.to.numbers
    return (
        body is not None
        and body.a.count == body.b.count == 1
        and body.a.lanes == 1
        and numbers is not None
        and numbers[1] - numbers[0] == 1
    )


def _two(case: Case, ref: PortRef) -> tuple[str, str]:
    low, high = ref.numbers or (1, 2)
    return (
        case.place(f"{ref.gear}.{ref.bank}.{low}"),
        case.place(f"{ref.gear}.{ref.bank}.{high}"),
    )


def _noise(case: Case, way: EarWay) -> Steps:
    knob = next(way.knobs(case.rig), None)
    if knob is not None:
        level = case.order.edition.number(knob.gain_db)
        mark = case.say("mark", place=case.place(knob_at(case.rig, knob.at)), level=level)
        yield case.say("noise_knob", places=mark)
    else:
        yield case.say("noise_knob_any")
    radio = next((n for n, s in enumerate(way.stations) if s.radio is not None), None)
    lead = next((s.lead for s in way.stations if s.lead and s.lead.plugged == "every show"), None)
    if radio is not None and radio + 1 < len(way.stations):
        yield case.say("noise_radio", box=case.box(way.stations[radio + 1].gear.id))
    elif lead is not None:
        yield case.say("noise_lead", label=lead.label or lead.id)
    mine = [s.name for s in case.rig.file.sources if s.player == case.person.id and s.start is None]
    if mine:
        yield case.say("noise_own")
    last = [case.say("noise_all")]
    if case.rig.file.clocks:
        last.append(case.say("noise_clock"))
    yield " ".join(last)


# My own sound


def _not_heard_name(case: Case, mine: Sequence[Source]) -> str:
    if len(mine) == 1:
        return case.say("not_heard", source=mine[0].name)
    return case.say("not_heard_any")


def _not_heard(case: Case, mine: Sequence[Source]) -> Steps:
    rig, edition = case.rig, case.order.edition
    radio = [
        (link, link.from_.gear)
        for source in mine
        if source.start is not None
        for link in carriers(rig, source.start)
    ]
    first = [case.say("mute_switch")]
    first += [
        case.say("radio_source", box=case.box(gear), mhz=case.mhz(link.frequency_mhz))
        for link, gear in radio
    ]
    yield " ".join(first)
    plugs = [
        socket.key
        for source in mine
        if (row := rig.rows.get(source.id)) is not None and row.plug is not None
        for socket in sockets(rig.gear_types, row.plug, row.where)
    ]
    if plugs:
        yield case.say("push_home", sockets=words.places(rig, plugs, edition.language))
        yield case.say("swap_lead", spare=_spare(case))
    taken = {
        socket.key
        for row in rig.file.patch
        if row.plug is not None
        for socket in sockets(rig.gear_types, row.plug, row.where)
    }
    free = next(
        (
            hold
            for hold in rig.file.holds
            if hold.sockets is not None
            and hold.sockets.gear in rig.gear
            and taken.isdisjoint(
                socket.key for socket in sockets(rig.gear_types, hold.sockets, hold.where)
            )
        ),
        None,
    )
    needy = [
        s.name for s in mine if (row := rig.rows.get(s.id)) is not None and row.phantom == "on"
    ]
    last = []
    if needy:
        last.append(case.say("phantom_lines", sources=edition.listed(needy)))
    if free is not None and plugs:
        numbers = case.say("channel_at", channel=free.channels) if free.channels is not None else ""
        last.append(case.say("free_place", socket=case.place(free.sockets), numbers=numbers))
    if last:
        yield " ".join(last)


def _spare(case: Case) -> str:
    """The spare that fits the plain leads from my microphones and DIs."""
    wanted = {
        way.type_id
        for way in case.view.lead_ways
        if way.lead is None and case.rig.sources[way.start].player == case.person.id
    }
    for spare in case.rig.file.spares:
        if spare.type in wanted:
            kind = naming.type_name(case.rig, spare.type, case.order.edition)
            length = case.order.edition.length(spare.length_m or 0.0)
            return case.say("spare_of", kind=kind, length=length)
    return case.say("no_spare")


# What all share


def _no_click(case: Case, click: Source) -> Steps:
    player = naming.person(case.rig, click.player) or case.leader
    yield case.say("click_running", name=player or "?")
    heard = next((h for one in _listening(case) for h in one.heard if h.source == click.id), None)
    if heard is not None and heard.slot:
        yield case.say("click_knob", slot=heard.slot)
    elif heard is not None and heard.level_db is not None:
        yield case.say("click_send", level=case.order.edition.number(heard.level_db))
    lead = _lead_from(case.rig, click.start)
    if click.start is not None and lead is not None:
        a, b = case.place(lead.from_), case.place(lead.to)
        yield case.say("click_lead", box=case.box(click.start.gear), a=a, b=b)
    yield _count_in(case)


def _count_in(case: Case) -> str:
    return case.say("count_in", name=case.leader) if case.leader else case.say("count_in_any")


def _lead_from(rig: Rig, ref: PortRef | None) -> Lead | None:
    """The lead that takes a source on from the box that makes it."""
    if ref is None or ref.gear == HOUSE:
        return None
    for lead in rig.file.leads:
        low, high = lead.from_.numbers or (1, 9999)
        wanted = ref.numbers or (1, 1)
        if (lead.from_.gear, lead.from_.bank) == (ref.gear, ref.bank) and low <= wanted[0] <= high:
            return lead
    return None


def _tracks(case: Case, tracks: Source) -> Steps:
    rig = case.rig
    box = tracks.start.gear if tracks.start and tracks.start.gear in rig.gear else ""
    feeds = [
        lead
        for lead in rig.file.leads
        if box
        and box in (lead.to.gear, lead.from_.gear)
        and HOUSE not in (lead.from_.gear, lead.to.gear)
        and "computer" in {rig.type_of(lead.from_.gear).class_, rig.type_of(lead.to.gear).class_}
    ]
    player = naming.person(rig, tracks.player) or case.leader or "?"
    if feeds:
        computer = next(
            name
            for name in (feeds[0].from_.gear, feeds[0].to.gear)
            if rig.type_of(name).class_ == "computer"
        )
        yield case.say("tracks_computer", name=player, box=case.box(computer))
        a, b = case.place(feeds[0].from_), case.place(feeds[0].to)
        yield case.say("tracks_lead", label=feeds[0].label or feeds[0].id, a=a, b=b)
    outlet = outlet_of(rig, box) if box else None
    if outlet is not None:
        power = rig.type_of(box).power
        seconds = (
            case.say("tracks_seconds", seconds=case.order.edition.number(power.boot_s))
            if power and power.boot_s
            else ""
        )
        yield case.say("tracks_box", box=case.box(box), outlet=case.place(outlet), seconds=seconds)
    same = any(
        s.family == "click" and s.start is not None and s.start.gear == box
        for s in rig.file.sources
    )
    yield case.say("tracks_with_click", count=_count_in(case)) if same else _count_in(case)


def _app(case: Case) -> Steps:
    control = case.rig.file.control
    assert control is not None
    yield case.say("app_runs", works=control.works_without).strip()
    point = control.access_point
    if point is not None:
        home = case.rig.gear[point].home
        where = {
            "box": case.found(point),
            "home": home[:1].upper() + home[1:] + "." if home else "",
        }
        if case.order.edition.private and control.network_name:
            yield case.say("app_wifi_named", network=control.network_name, **where).strip()
        else:
            yield case.say("app_wifi", **where).strip()
        free = [
            key
            for port in case.rig.type_of(point).ports
            if port.carries in {"control", "network"} and port.connector.startswith("rj45")
            for key in free_sockets(case.rig, point, port.id)
        ]
        if control.wired_fallback and free:
            yield case.say("app_wire", socket=case.place(free[0]))
    yield case.say("app_after")


def _rack(case: Case) -> Steps:
    rig = case.rig
    yield (case.say("rack_ears", name=case.leader) if case.leader else case.say("rack_ears_any"))
    root = root_strip(rig, rig.mixer.id) if rig.mixer else ""
    owner = naming.person(rig, rig.about.patch_owner) or case.leader or "?"
    if root:
        yield case.say("rack_power", name=owner, box=case.box(root))
    tails = [hand for hand in case.view.hand_offs if any(x.means == "tail" for x in hand.used)]
    if tails:
        left = min(len(hand.dead) for hand in tails)
        yield case.say("rack_house", n=left) if left else case.say("rack_house_nothing")
    steps = starts(rig, case.view.load)
    if steps and steps[-1].ready_s:
        seconds = case.order.edition.number(steps[-1].ready_s, 0)
        yield case.say("rack_back", seconds=seconds)
    else:
        yield case.say("rack_back_unknown")
