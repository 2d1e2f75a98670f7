"""Rules about running out: of buses, outputs, headphone sockets, slots, and of spare."""

from collections.abc import Iterator

from rigproof.checks.places import box, place, some
from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig import Feed, Gear, Mix, Rig, Where
from rigproof.rig.geartype import GearType, Port, Stage
from rigproof.rig.lanes import inner_lanes
from rigproof.rig.plan import Slot
from rigproof.wording import counted, listed, ranges

# Of the lines in use. Common practice, no source: bands that plan for themselves keep 20 to 25 %.
SPARE_RATIO = 0.20


def _mix_name(mix: Mix) -> str:
    return mix.name or mix.id


def _mixer_mixes(rig: Rig) -> Iterator[Mix]:
    """The mixes made on the buses of the band's own mixer."""
    mixer = rig.mixer
    for mix in rig.file.mixes:
        if mixer is not None and mix.on in (None, mixer.id):
            yield mix


def _bus_bank(type_: GearType, name: str) -> Stage | None:
    return next((s for s in type_.stages("bus") if not name or s.id == name), None)


def too_few_buses(view: View) -> Iterator[Finding]:
    """More mixes than the mixer has buses for, or a bus that it does not have.

    Why: somebody goes on stage with somebody else's mix, or with none.
    Fix: make mixes mono, let people share one, or move some to personal mixers.
    Source: the buses of the mixer's gear type.

    Fails:
        gear: [{id: mixer, type: mixer-rack-12}]
        mixes: [{id: far, name: Far, bus: 31-32, stereo: true}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-12}]
        mixes: [{id: near, name: Near, bus: 1-2, stereo: true}]
    """
    mixer = view.rig.mixer
    if mixer is None:
        return
    type_ = view.rig.type_of(mixer.id)
    for mix in _mixer_mixes(view.rig):
        bank = _bus_bank(type_, mix.bank)
        if bank is None:
            continue
        if mix.bus is None and not mix.bank:
            yield Finding(
                at=_mix_at(view, mix),
                says=f"no bus is left for {_mix_name(mix)}: {box(view.rig, mixer.id)} has "
                f"{counted(bank.count, 'bus', 'buses')}.",
                limit=float(bank.count),
            )
        elif mix.bus is not None and mix.bus.last > bank.count:
            yield Finding(
                at=mix.where.of("bus"),
                says=f"{_mix_name(mix)} is on bus {mix.bus}; {box(view.rig, mixer.id)} has "
                f"{counted(bank.count, 'bus', 'buses')}.",
                found=float(mix.bus.last),
                limit=float(bank.count),
            )


def _mix_at(view: View, mix: Mix) -> Where:
    """Where a mix stands in the file; a planned one points at its listener."""
    if mix.where.line or not mix.listeners:
        return mix.where
    return view.rig.people[mix.listeners[0]].where


def stereo_lost(view: View) -> Iterator[Finding]:
    """A stereo mix has one bus only.

    Why: the listener gets mono, and hears everything from the middle of the head.
    Fix: free a pair of buses, or state the mix as mono.
    Source: the buses of the mixer's gear type.

    Fails:
        gear: [{id: mixer, type: mixer-rack-12}]
        mixes: [{id: near, name: Near, bus: 3, stereo: true}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-12}]
        mixes: [{id: near, name: Near, bus: 3-4, stereo: true}]
    """
    for mix in _mixer_mixes(view.rig):
        if mix.stereo and mix.bus is not None and len(mix.bus) == 1:
            yield Finding(
                at=_mix_at(view, mix),
                says=f"{_mix_name(mix)} is a stereo mix with one bus, number {mix.bus}.",
            )


def bus_used_twice(view: View) -> Iterator[Finding]:
    """Two mixes, or a mix and a slot, are made on the same bus.

    Why: one person's fader is another person's surprise.
    Fix: give one of them another bus; free ones are listed with the mixes.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes:
          - {id: one, name: One, bus: 1-2, stereo: true}
          - {id: two, name: Two, bus: 2}
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes:
          - {id: one, name: One, bus: 1-2, stereo: true}
          - {id: two, name: Two, bus: 3}
    """
    seen: dict[tuple[str, int], str] = {}
    for user, bank, numbers, at in _bus_users(view.rig):
        shared: dict[str, list[int]] = {}
        for number in numbers:
            first = seen.setdefault((bank, number), user)
            if first != user:
                shared.setdefault(first, []).append(number)
        for first, both in shared.items():
            yield Finding(at=at, says=f"{first} and {user} are both made on bus {ranges(both)}.")


def _bus_users(rig: Rig) -> Iterator[tuple[str, str, tuple[int, ...], Where]]:
    mixer = rig.mixer
    if mixer is None:
        return
    first = next(rig.type_of(mixer.id).stages("bus"), None)
    usual = first.id if first else ""
    for mix in _mixer_mixes(rig):
        if mix.bus is not None:
            yield _mix_name(mix), mix.bank or usual, tuple(mix.bus), mix.where
    for feed in rig.file.feeds:
        for slot in feed.slots:
            if slot.bus is not None and feed.port.gear == mixer.id:
                name = f"slot {slot.slot} ({slot.name or listed(slot.takes)})"
                yield name, usual, tuple(slot.bus), slot.where


def too_few_outputs(view: View) -> Iterator[Finding]:
    """More mixes leave the mixer than there are outputs for them.

    Why: counted as one line each, stereo mixes look half as many as they are.
    Fix: add a stage box with outputs, use personal mixers, or make mixes mono.
    Source: Derived: sum of the lines of all mixes, stereo counted as two.

    Fails:
        gear: [{id: mixer, type: mixer-rack-12}]
        people:
          - {id: a, name: Ada}
          - {id: b, name: Ben}
          - {id: c, name: Cleo}
          - {id: d, name: Dov}
          - {id: e, name: Eve}
        mixes:
          - {id: a-mix, listeners: [a], stereo: true, bus: 1-2}
          - {id: b-mix, listeners: [b], stereo: true, bus: 3-4}
          - {id: c-mix, listeners: [c], stereo: true, bus: 5-6}
          - {id: d-mix, listeners: [d], stereo: true, bus: 7-8}
          - {id: e-mix, listeners: [e], stereo: true, bank: main, bus: 1-2}
    Passes:
        gear: [{id: mixer, type: mixer-rack-12}]
        people: [{id: a, name: Ada}, {id: b, name: Ben}]
        mixes:
          - {id: a-mix, listeners: [a], stereo: true, bus: 1-2}
          - {id: b-mix, listeners: [b], bus: 3}
    """
    mixer = view.rig.mixer
    if mixer is None:
        return
    there = sum(_line_outputs(view.rig.type_of(g.id)) for g in _output_boxes(view.rig))
    leaving = [mix for mix in _mixer_mixes(view.rig) if _needs_output(view.rig, mix)]
    wanted = sum(len(mix.bus) if mix.bus else 1 + mix.stereo for mix in leaving)
    if wanted > there:
        yield Finding(
            at=mixer.where,
            says=f"{counted(len(leaving), 'mix', 'mixes')} need {wanted} outputs, and "
            f"{box(view.rig, mixer.id)} with its stage boxes has {there}.",
            found=float(wanted),
            limit=float(there),
        )


def _output_boxes(rig: Rig) -> Iterator[Gear]:
    for gear in rig.file.gear:
        if gear is rig.mixer or rig.types[gear.type].class_ == "stage-box":
            yield gear


def _line_outputs(type_: GearType) -> int:
    return sum(
        port.count * port.lanes
        for port in type_.ports
        if port.way == "out" and port.carries == "line"
    )


def _needs_output(rig: Rig, mix: Mix) -> bool:
    """Whether a mix leaves by an analogue output: not by card, USB or into an effect."""
    if mix.purpose not in {"ears", "wedge", "house", "recording"}:
        return False
    if mix.out is not None and mix.out.gear in rig.gear:
        bank = rig.type_of(mix.out.gear).banks.get(mix.out.bank)
        return isinstance(bank, Port) and bank.carries in {"line", "link"}
    return bool(mix.listeners) or mix.purpose == "wedge"


def output_used_twice(view: View) -> Iterator[Finding]:
    """Two mixes are sent to the same output.

    Why: an output takes one of them; the other listener hears the wrong mix.
    Fix: give one of them another output.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes:
          - {id: one, name: One, bus: 1-2, stereo: true, out: mixer.out.1-2}
          - {id: two, name: Two, bus: 3, out: mixer.out.2}
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes:
          - {id: one, name: One, bus: 1-2, stereo: true, out: mixer.out.1-2}
          - {id: two, name: Two, bus: 3, out: mixer.out.3}
    """
    seen: dict[str, Mix] = {}
    for mix in view.rig.file.mixes:
        if mix.out is None or mix.out.gear not in view.rig.gear:
            continue
        type_ = view.rig.type_of(mix.out.gear)
        for lane in inner_lanes(type_, mix.out, entering=False, at=mix.where):
            key = f"{mix.out.gear}.{lane}"
            first = seen.setdefault(key, mix)
            if first is not mix:
                yield Finding(
                    at=mix.where.of("out"),
                    says=f"{_mix_name(first)} and {_mix_name(mix)} both go to "
                    f"{place(view.rig, key)}.",
                )
                break


def too_few_headphone_outputs(view: View) -> Iterator[Finding]:
    """Somebody has ears and no socket to plug them in.

    Why: it is found when the last player arrives.
    Fix: add a headphone amplifier or a pack, or let two people share a mix with a splitter of
        their own.
    Source: common practice, no source (a six-way amplifier with four wired pairs has two left).

    Fails:
        people: [{id: a, name: Ada, ears: {earphones: earphones-dual}}]
        gear: [{id: mixer, type: mixer-rack-12}]
    Passes:
        people: [{id: a, name: Ada, ears: {earphones: earphones-dual}}]
        gear:
          - {id: mixer, type: mixer-rack-12}
          - {id: amp, type: headphone-amp-4}
    """
    without = [p for p in view.rig.file.people if p.ears is not None and p.ears.plug is None]
    for someone in without:
        yield Finding(
            at=someone.where, says=f"{someone.name} has ears, and no headphone output is free."
        )


def headphone_output_shared(view: View) -> Iterator[Finding]:
    """Two people are plugged in the same headphone socket.

    Why: it takes one plug; with a Y-lead both get the same mix, and half the load.
    Fix: give each a socket of their own.
    Source: common practice, no source.

    Fails:
        people:
          - {id: a, name: Ada, ears: {plug: amp.phones.1}}
          - {id: b, name: Ben, ears: {plug: amp.phones.1}}
        gear: [{id: amp, type: headphone-amp-4}]
    Passes:
        people:
          - {id: a, name: Ada, ears: {plug: amp.phones.1}}
          - {id: b, name: Ben, ears: {plug: amp.phones.2}}
        gear: [{id: amp, type: headphone-amp-4}]
    """
    seen: dict[str, str] = {}
    for someone in view.rig.file.people:
        plug = str(someone.ears.plug) if someone.ears and someone.ears.plug else ""
        if not plug:
            continue
        first = seen.setdefault(plug, someone.id)
        if first != someone.id:
            yield Finding(
                at=someone.where,
                says=f"{view.rig.people[first].name} and {someone.name} are both plugged in "
                f"{place(view.rig, plug)}.",
            )


def no_spare(view: View) -> Iterator[Finding]:
    """The mixer has hardly a channel left.

    Why: the next singer, the second keyboard and the broken channel all want one.
    Fix: plan the next bigger mixer or stage box, or drop a line that nobody hears.
    Source: common practice, no source (20 to 25 % of the lines in use).

    Fails:
        gear: [{id: mixer, type: mixer-rack-12}]
        sources: [{id: a, name: A, family: voices, mic: mic-vocal-dynamic}]
        patch: [{source: a, plug: mixer.in.1, channel: 1-11}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-12}]
        sources: [{id: a, name: A, family: voices, mic: mic-vocal-dynamic}]
        patch: [{source: a, plug: mixer.in.1, channel: 1}]
    """
    mixer = view.rig.mixer
    bank = next(view.rig.type_of(mixer.id).stages("channel"), None) if mixer else None
    if mixer is None or bank is None:
        return
    used = {n for row in view.rig.file.patch for n in row.channel or () if n <= bank.count}
    free = bank.count - len(used)
    if used and free < SPARE_RATIO * len(used):
        yield Finding(
            at=mixer.where,
            says=f"{len(used)} of {bank.count} channels of {box(view.rig, mixer.id)} are in use "
            f"and {free} are left; a fifth of the lines in use is a good habit.",
            found=float(free),
            limit=SPARE_RATIO * len(used),
        )


# Slots of personal-mixer feeds


def _feed_at(feed: Feed, slot: Slot) -> Where:
    return slot.where if slot.where.line else feed.where


def _slot_name(slot: Slot) -> str:
    return slot.name or listed(slot.takes) or f"slot {slot.slot}"


def too_few_slots(view: View) -> Iterator[Finding]:
    """A slot that the feed, or the personal mixers on it, do not have.

    Why: what is sent there reaches nobody.
    Fix: group sources into fewer slots; a drum kit travels well as one stereo pair.
    Source: the lanes of the feed's port and the slots of the personal mixer's type.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: keys, name: Keys, family: keys}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 17, takes: [keys]}]}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: keys, name: Keys, family: keys}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 16, takes: [keys]}]}]
    """
    on_boxes = [
        stage.count
        for gear in view.rig.file.gear
        if (type_ := view.rig.types[gear.type]).class_ == "personal-mixer"
        for stage in type_.stages("slot")
    ]
    for feed in view.rig.file.feeds:
        type_ = view.rig.type_of(feed.port.gear)
        lanes = len(inner_lanes(type_, feed.port, entering=False, at=feed.where))
        most = min([lanes, *on_boxes])
        for slot in feed.slots:
            if slot.slot.last > most:
                yield Finding(
                    at=_feed_at(feed, slot),
                    says=f"{_slot_name(slot)} is in slot {slot.slot}; this feed has {most}.",
                    found=float(slot.slot.last),
                    limit=float(most),
                )


def slot_used_twice(view: View) -> Iterator[Finding]:
    """Two things are in the same slot of a feed.

    Why: one knob cannot turn two of them, and only one of them is there.
    Fix: give one of them a free slot, or group them on purpose in one entry.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: keys, name: Keys, family: keys}, {id: bass, name: Bass, family: bass}]
        feeds:
          - id: feed
            port: mixer.feed
            slots: [{slot: 1, takes: [keys]}, {slot: 1, takes: [bass]}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: keys, name: Keys, family: keys}, {id: bass, name: Bass, family: bass}]
        feeds:
          - id: feed
            port: mixer.feed
            slots: [{slot: 1, takes: [keys]}, {slot: 2, takes: [bass]}]
    """
    for feed in view.rig.file.feeds:
        seen: dict[int, Slot] = {}
        for slot in feed.slots:
            both = [n for n in slot.slot if seen.setdefault(n, slot) is not slot]
            if both:
                first = seen[both[0]]
                yield Finding(
                    at=_feed_at(feed, slot),
                    says=f"{_slot_name(first)} and {_slot_name(slot)} are both in slot "
                    f"{ranges(both)}.",
                )


def slot_pair_not_odd_even(view: View) -> Iterator[Finding]:
    """A stereo pair of slots starts on an even number.

    Why: personal mixers link slots 1-2, 3-4 and so on; this pair falls apart into two knobs.
    Fix: start it on an odd slot.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: keys, name: Keys, family: keys, stereo: true}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 2-3, takes: [keys]}]}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: keys, name: Keys, family: keys, stereo: true}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 3-4, takes: [keys]}]}]
    """
    for feed in view.rig.file.feeds:
        for slot in feed.slots:
            if len(slot.slot) == 2 and slot.slot.first % 2 == 0:
                yield Finding(
                    at=_feed_at(feed, slot),
                    says=f"{_slot_name(slot)} is in slots {slot.slot}; pairs start on odd ones.",
                )


def slot_label_lies(view: View) -> Iterator[Finding]:
    """A slot carries the name of something that is not in it.

    Why: the player turns up "electric guitar", and the speaker at the lectern gets louder.
    Fix: rename the slot and print its label again.
    Source: common practice, no source (a published account of exactly this).

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: gtr, name: Guitar, family: guitar}, {id: lec, name: Lectern, family: voices}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 1, name: Guitar, takes: [lec]}]}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: gtr, name: Guitar, family: guitar}, {id: lec, name: Lectern, family: voices}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 1, name: Guitar, takes: [gtr]}]}]
    """
    called = _called(view.rig)
    for feed in view.rig.file.feeds:
        for slot in feed.slots:
            taken = {s for name in slot.takes for s in view.rig.members(name)}
            for text in dict.fromkeys((slot.name, slot.label)):
                meant = called.get(text.casefold().strip()) if text else None
                # A group's name may stand over part of it, a source's over it and its company.
                if not meant or not taken or any(taken <= m or m <= taken for m in meant):
                    continue
                yield Finding(
                    at=_feed_at(feed, slot),
                    says=f'slot {slot.slot} is called "{text}" and carries '
                    f"{some(view.rig.sources[s].name for s in sorted(taken))}.",
                )
                break


def _called(rig: Rig) -> dict[str, list[frozenset[str]]]:
    """What people call the sources and groups, with the sources meant."""
    found: dict[str, list[frozenset[str]]] = {}
    for one in rig.file.sources:
        for text in {one.name, one.label, one.id}:
            found.setdefault(text.casefold(), []).append(frozenset({one.id}))
    for group in rig.file.groups:
        for text in {group.name, group.id}:
            found.setdefault(text.casefold(), []).append(frozenset(group.sources))
    return found


RULES = (
    Rule(id="capacity.buses", severity="stop", check=too_few_buses, since="0.1"),
    Rule(id="capacity.bus-used-twice", severity="stop", check=bus_used_twice, since="0.1"),
    Rule(id="capacity.stereo-lost", severity="risk", check=stereo_lost, since="0.1"),
    Rule(id="capacity.outputs", severity="stop", check=too_few_outputs, since="0.1"),
    Rule(id="capacity.output-used-twice", severity="stop", check=output_used_twice, since="0.1"),
    Rule(
        id="capacity.headphone-outputs",
        severity="stop",
        check=too_few_headphone_outputs,
        since="0.1",
    ),
    Rule(
        id="capacity.headphone-output-shared",
        severity="risk",
        check=headphone_output_shared,
        since="0.1",
    ),
    Rule(id="capacity.no-spare", severity="advice", check=no_spare, since="0.1"),
    Rule(id="capacity.slots", severity="stop", check=too_few_slots, since="0.1"),
    Rule(id="slot.used-twice", severity="stop", check=slot_used_twice, since="0.1"),
    Rule(id="slot.pair-not-odd-even", severity="risk", check=slot_pair_not_odd_even, since="0.1"),
    Rule(id="slot.label-lies", severity="risk", check=slot_label_lies, since="0.1"),
)
