"""Rules about how mixes are made: buses, sends, listeners."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig.geartype import Stage
from rigproof.rig.plan import Mix
from rigproof.rig.ref import Numbers
from rigproof.rig.where import Where
from rigproof.signal.words import box
from rigproof.wording import counted, noun, opening, some
from rigproof.wording.sentences import sentence


def _title(mix: Mix) -> str:
    return sentence("the mix {mix}", mix=mix.name or mix.id)


def _at(view: View, mix: Mix, key: str = "") -> Where:
    """Where the mix is written; a planned one points at the person it was planned for."""
    if mix.where.line or not mix.listeners:
        return mix.where.of(key) if key else mix.where
    return view.rig.people[mix.listeners[0]].where


def _made_on(view: View, mix: Mix) -> str | None:
    return mix.on or (view.rig.mixer.id if view.rig.mixer else None)


def _buses(view: View, gear: str, bank: str) -> Stage | None:
    """The bank of buses a mix is made on, as the graph takes it."""
    stages = view.rig.type_of(gear).stages("bus")
    return next((stage for stage in stages if not bank or stage.id == bank), None)


def _on_mixers(view: View) -> Iterator[tuple[Mix, str, Stage]]:
    for mix in view.rig.file.mixes:
        gear = _made_on(view, mix)
        stage = _buses(view, gear, mix.bank) if gear is not None else None
        if gear is not None and stage is not None:
            yield mix, gear, stage


def without_listener(view: View) -> Iterator[Finding]:
    """An ear or wedge mix has no listener.

    Why: a bus and a way out are spent, and somebody on stage may be the one left without.
    Fix: write who hears it, or give it another purpose, such as spare.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, type: mixer-rack-16}]
        mixes: [{id: ana, name: Ana, bus: 1}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-16}]
        mixes: [{id: ana, name: Ana, bus: 1, purpose: spare}]
    """
    for mix in view.rig.file.mixes:
        if mix.purpose in {"ears", "wedge"} and not mix.listeners:
            yield Finding(
                at=_at(view, mix), says=sentence("Nobody hears {title}.", title=_title(mix))
            )


def without_bus(view: View) -> Iterator[Finding]:
    """A mix has no bus, and none is left for it.

    Why: it has sends and a listener, and no place in the mixer where it is made.
    Fix: make another mix mono, let two people share one, or use a personal mixer.
    Source: common practice, no source: a stereo mix takes two buses.

    Fails:
        gear: [{id: mixer, type: mixer-rack-12}]
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        mixes:
          - {id: effects, name: Effects, purpose: effect, bus: 1-6}
          - {id: ana, name: Ana, listeners: [ana]}
    Passes:
        gear: [{id: mixer, type: mixer-rack-12}]
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        mixes:
          - {id: effects, name: Effects, purpose: effect, bus: 1-4}
          - {id: ana, name: Ana, listeners: [ana], bus: 5}
    """
    for mix, gear, _ in _on_mixers(view):
        if mix.bus is None and not mix.bank:
            yield Finding(
                at=_at(view, mix),
                says=sentence(
                    "No bus of {box} makes {title}.", box=box(view.rig, gear), title=_title(mix)
                ),
            )


def bus_does_not_exist(view: View) -> Iterator[Finding]:
    """A mix is put on a bus that the mixer does not have.

    Why: the last one to get a mix gets none, and it shows when the mixer is programmed.
    Fix: use a free bus, make a mix mono, or share one.
    Source: the gear type's own count of buses.

    Fails:
        gear: [{id: mixer, type: mixer-rack-12}]
        mixes: [{id: ana, name: Ana, purpose: spare, stereo: true, bus: 7-8}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-12}]
        mixes: [{id: ana, name: Ana, purpose: spare, stereo: true, bus: 5-6}]
    """
    for mix, gear, stage in _on_mixers(view):
        if mix.bus is not None and mix.bus.last > stage.count:
            yield Finding(
                at=_at(view, mix, "bus"),
                says=sentence(
                    "{title} is on bus {bus}, and {box} has {count}.",
                    title=opening(_title(mix)),
                    bus=mix.bus,
                    box=box(view.rig, gear),
                    count=stage.count,
                ),
                found=mix.bus.last,
                limit=stage.count,
                unit="buses",
            )


def _wanted_buses(view: View) -> Iterator[tuple[str, str, Numbers, str, Where]]:
    """Mixer, bank, numbers, by whom, where: of every mix and every slot made on buses."""
    for mix, gear, stage in _on_mixers(view):
        if mix.bus is not None:
            yield gear, stage.id, mix.bus, _title(mix), _at(view, mix, "bus")
    for feed in view.rig.file.feeds:
        bank = _buses(view, feed.port.gear, "")
        for slot in feed.slots:
            if slot.bus is not None and bank is not None:
                by = (
                    sentence("slot {slot} ({slot2})", slot=slot.slot, slot2=slot.name)
                    if slot.name
                    else sentence("slot {slot}", slot=slot.slot)
                )
                yield feed.port.gear, bank.id, slot.bus, by, slot.where.of("bus")


def buses_clash(view: View) -> Iterator[Finding]:
    """Two mixes are made on the same bus.

    Why: whoever turns up in one mix turns up in the other, and both blame the system.
    Fix: give one of them a free bus.
    Source: common practice, no source: one bus makes one mix.

    Fails:
        gear: [{id: mixer, type: mixer-rack-16}]
        mixes:
          - {id: ana, name: Ana, purpose: spare, stereo: true, bus: 1-2}
          - {id: bea, name: Bea, purpose: spare, bus: 2}
    Passes:
        gear: [{id: mixer, type: mixer-rack-16}]
        mixes:
          - {id: ana, name: Ana, purpose: spare, stereo: true, bus: 1-2}
          - {id: bea, name: Bea, purpose: spare, bus: 3}
    """
    first: dict[tuple[str, str, int], str] = {}
    told: set[tuple[str, str]] = set()
    for gear, bank, numbers, by, at in _wanted_buses(view):
        for number in numbers:
            other = first.setdefault((gear, bank, number), by)
            if other != by and (other, by) not in told:
                told.add((other, by))
                yield Finding(
                    at=at,
                    says=sentence(
                        "{other} and {by} are both made on {bank} {number} of {box}.",
                        other=opening(other),
                        by=by,
                        bank=sentence(bank),
                        number=number,
                        box=box(view.rig, gear),
                    ),
                    found=2,
                    limit=1,
                    unit="mixes",
                )


def stereo_not_odd_even(view: View) -> Iterator[Finding]:
    """A stereo mix is not on an odd bus and the even one after it.

    Why: mixers link buses by odd and even pairs only; on 4-5 the mix cannot be linked, and pan
        and faders act on one side.
    Fix: put it on an odd bus and the next, such as 5-6.
    Source: common practice, no source: linking by odd and even pairs.

    Fails:
        gear: [{id: mixer, type: mixer-rack-16}]
        mixes: [{id: ana, name: Ana, purpose: spare, stereo: true, bus: 4-5}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-16}]
        mixes: [{id: ana, name: Ana, purpose: spare, stereo: true, bus: 5-6}]
    """
    for mix, gear, stage in _on_mixers(view):
        if mix.bus is None:
            continue
        wanted = 2 if mix.stereo else 1
        if len(mix.bus) != wanted:
            kind = sentence("stereo") if mix.stereo else sentence("mono")
            yield Finding(
                at=_at(view, mix, "bus"),
                says=sentence(
                    "{title} is {kind} and has {buses} ({bus}).",
                    title=opening(_title(mix)),
                    kind=kind,
                    buses=counted(len(mix.bus), "bus", "buses"),
                    bus=mix.bus,
                ),
                found=len(mix.bus),
                limit=wanted,
                unit=noun(len(mix.bus), "bus", "buses"),
            )
        elif mix.stereo and stage.pairs and mix.bus.first % 2 == 0:
            yield Finding(
                at=_at(view, mix, "bus"),
                says=sentence(
                    "{title} is on buses {bus}; {box} links only an odd bus with the even "
                    "one after it.",
                    title=opening(_title(mix)),
                    bus=mix.bus,
                    box=box(view.rig, gear),
                ),
            )


def send_twice(view: View) -> Iterator[Finding]:
    """A source is sent to the same mix twice.

    Why: two levels are written, the mixer has one knob, and nobody knows which of the two is
        meant. A source named after its group is no such case: it refines the group.
    Fix: delete one of the two sends, or name the source after the groups it is in.
    Source: common practice, no source.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}, {id: snare, name: Snare, family: drums}]
        groups: [{id: kit, sources: [kick, snare]}]
        gear: [{id: mixer, type: mixer-rack-16}]
        mixes: [{id: ana, purpose: spare, bus: 1, sends: [{from: kick}, {from: kit}]}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums}, {id: snare, name: Snare, family: drums}]
        groups: [{id: kit, sources: [kick, snare]}]
        gear: [{id: mixer, type: mixer-rack-16}]
        mixes: [{id: ana, purpose: spare, bus: 1, sends: [{from: kit}, {from: kick}]}]
    """
    for mix in view.rig.file.mixes:
        seen: set[str] = set()
        grouped: set[str] = set()  # in by a group, and not yet by its own name
        for send in mix.sends:
            members = view.rig.members(send.from_) if send.from_ is not None else ()
            refines = send.from_ in grouped  # the one of its group that has a level of its own
            twice = [n for n in members if n in seen and n in view.rig.sources and not refines]
            seen.update(members)
            if len(members) > 1:
                grouped.update(members)
            else:
                grouped.difference_update(members)
            if twice:
                names = some(view.rig.sources[name].name for name in twice)
                yield Finding(
                    at=send.where,
                    says=sentence(
                        "{title} has {names} twice.", title=opening(_title(mix)), names=names
                    ),
                )


def send_of_absent_source(view: View) -> Iterator[Finding]:
    """A mix asks for a source that has no channel on its mixer.

    Why: the send is written, the player waits for it, and there is nothing to turn up.
    Fix: bring the source to a channel of that mixer, or delete the send.
    Source: common practice, no source.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}, {id: split, type: splitter-transformer-8}]
        patch: [{source: kick, plug: split.in.1, channel: 1}]
        mixes: [{id: ana, purpose: spare, bus: 1, sends: [{from: kick}]}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1}]
        mixes: [{id: ana, purpose: spare, bus: 1, sends: [{from: kick}]}]
    """
    absent: dict[str, list[tuple[str, Where]]] = {}
    there: dict[str, set[str]] = {}
    for mix, gear, _ in _on_mixers(view):
        if not mix.where.line:
            continue  # planned with everything in it: nobody waits for this source in this mix
        if gear not in there:
            there[gear] = _on_channels(view, gear)
        for send in mix.sends:
            for name in view.rig.members(send.from_) if send.from_ is not None else ():
                if name in view.rig.sources and name not in there[gear]:
                    absent.setdefault(name, []).append((_title(mix), send.where))
    for name, asked in absent.items():
        mixes = some(title for title, _ in asked)
        yield Finding(
            at=asked[0][1],
            says=sentence(
                "{source} is wanted in {mixes} and arrives at no channel there.",
                source=view.rig.sources[name].name,
                mixes=mixes,
            ),
        )


def _on_channels(view: View, gear: str) -> set[str]:
    bank = next(view.rig.type_of(gear).stages("channel"), None)
    if bank is None:
        return set()
    first = view.graph.index[f"{gear}.{bank.id}.1" if bank.count > 1 else f"{gear}.{bank.id}"]
    return set(view.arriving.at(range(first, first + bank.count)))


RULES = (
    Rule(id="mix.without-listener", severity="advice", check=without_listener, since="0.1"),
    Rule(id="mix.without-bus", severity="stop", check=without_bus, since="0.1"),
    Rule(id="mix.bus-does-not-exist", severity="stop", check=bus_does_not_exist, since="0.1"),
    Rule(id="mix.buses-clash", severity="stop", check=buses_clash, since="0.1"),
    Rule(id="mix.stereo-not-odd-even", severity="risk", check=stereo_not_odd_even, since="0.1"),
    Rule(id="mix.send-twice", severity="risk", check=send_twice, since="0.1"),
    Rule(id="mix.send-of-absent-source", severity="risk", check=send_of_absent_source, since="0.1"),
)
