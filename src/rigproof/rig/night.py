"""The rig of one date: what comes along is laid over it, what stays at home is taken out.

Whatever names a missing thing goes with it, so that what is left can be judged like any rig: a
send from a missing source, a lead to a missing box, a call for a missing singer.
"""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, TypeVar

import msgspec
from msgspec.structs import replace

from rigproof.rig.band import Group, Person
from rigproof.rig.equipment import Bag, Gear, MainsPower
from rigproof.rig.outside import Answers, Circuit, Desk, Show, Venue
from rigproof.rig.plan import (
    Clock,
    Control,
    Feed,
    Hold,
    Mix,
    PatchRow,
    RadioLink,
    Scene,
    Slot,
    Stream,
    Talk,
)
from rigproof.rig.ref import PortRef
from rigproof.rig.upkeep import Backup, Consumable, Tested

if TYPE_CHECKING:
    from rigproof.rig import About, RigFile

_Named = TypeVar("_Named", Group, Mix, Feed, Stream, RadioLink)
_Any = TypeVar("_Any")


def file_of_night(file: "RigFile", show: Show) -> "RigFile":
    """The rig file as one show changes it."""
    file = _with_what_comes(file, show)
    away = _away(file, set(show.without))
    return _without(file, away) if away.any else file


def _with_what_comes(file: "RigFile", show: Show) -> "RigFile":
    patched = {row.source for row in show.patch}
    return replace(
        file,
        people=file.people + show.people,
        sources=file.sources + show.sources,
        groups=_overlaid(file.groups, show.groups),
        gear=file.gear + show.gear,
        leads=file.leads + show.leads,
        patch=tuple(row for row in file.patch if row.source not in patched) + show.patch,
        holds=file.holds + show.holds,
        routes=file.routes + show.routes,
        mixes=_overlaid(file.mixes, show.mixes),
        feeds=_overlaid(file.feeds, show.feeds),
        settings=_laid_over(file.settings, show.settings, lambda setting: str(setting.at)),
        streams=_overlaid(file.streams, show.streams),
        clocks=_laid_over(file.clocks, show.clocks, lambda clock: clock.gear),
        radio=_overlaid(file.radio, show.radio),
        talk=_laid_over(file.talk, show.talk, lambda talk: talk.from_),
        power=_power_tonight(file.power, show.power),
        venues=_as_answered(file.venues, show),
    )


def _laid_over(
    old: tuple[_Any, ...], new: tuple[_Any, ...], about: Callable[[_Any], str]
) -> tuple[_Any, ...]:
    """What a show says about a thing counts instead of what is said of it as a rule."""
    told = {about(entry) for entry in new}
    return tuple(entry for entry in old if about(entry) not in told) + new if new else old


def _power_tonight(usual: MainsPower | None, tonight: MainsPower | None) -> MainsPower | None:
    if usual is None or tonight is None:
        return tonight or usual
    feeds = _laid_over(usual.feeds, tonight.feeds, lambda feed: feed.gear)
    stated = {
        field: getattr(tonight, field)
        for field in tonight.__struct_fields__
        if field not in {"where", "feeds"} and getattr(tonight, field) is not None
    }
    return replace(usual, feeds=feeds, **stated)


def _as_answered(venues: tuple[Venue, ...], show: Show) -> tuple[Venue, ...]:
    """What the house answered for this date counts instead of what its venue says."""
    told = show.answers
    if told is None:
        return venues
    return tuple(_answered(v, told) if v.id == show.venue else v for v in venues)


def _answered(venue: Venue, told: Answers) -> Venue:
    desk = {
        field: getattr(told, field)
        for field in Desk.__struct_fields__
        if field != "where" and getattr(told, field, None) is not None
    }
    venue = replace(venue, desk=replace(venue.desk, **desk))
    if told.changeover_min is None:
        return venue
    return replace(venue, changeover_min=told.changeover_min)


def _overlaid(old: tuple[_Named, ...], new: tuple[_Named, ...]) -> tuple[_Named, ...]:
    """A show's mix, feed, group, stream or radio link of a known name replaces the usual one."""
    replaced = {entry.id for entry in new}
    return tuple(entry for entry in old if entry.id not in replaced) + new


class _Away(msgspec.Struct, frozen=True):
    """Who and what is missing, by kind: a person and a source may share a name."""

    people: frozenset[str]
    sources: frozenset[str]
    gear: frozenset[str]
    mixes: frozenset[str]

    @property
    def any(self) -> bool:
        return bool(self.people or self.sources or self.gear or self.mixes)

    def at(self, *refs: PortRef | None) -> bool:
        """Whether one of these sockets is on a missing box."""
        return any(ref is not None and ref.gear in self.gear for ref in refs)


def _away(file: "RigFile", named: set[str]) -> _Away:
    people = {person.id for person in file.people} & named
    gear = _missing_gear(file.gear, {box.id for box in file.gear} & named, people)
    sources = {
        source.id
        for source in file.sources
        if source.id in named
        or source.player in people
        or (source.start is not None and source.start.gear in gear)
    }
    mixes = {
        mix.id
        for mix in file.mixes
        if mix.id in named or mix.on in gear or (mix.listeners and not set(mix.listeners) - people)
    }
    return _Away(frozenset(people), frozenset(sources), frozenset(gear), frozenset(mixes))


def _missing_gear(boxes: tuple[Gear, ...], missing: set[str], people: set[str]) -> set[str]:
    """What is named, what a missing person wears, and what is built into any of it."""
    missing |= {box.id for box in boxes if box.place == "person" and box.with_person in people}
    while True:
        inside = {box.id for box in boxes if box.inside in missing} - missing
        if not inside:
            return missing
        missing |= inside


def _without(file: "RigFile", away: _Away) -> "RigFile":
    groups = tuple(_groups(file.groups, away))
    names = _Names({group.id for group in file.groups}, {group.id for group in groups}, away)
    return replace(
        file,
        rig=_about(file.rig, away),
        people=tuple(_person(p, away) for p in file.people if p.id not in away.people),
        sources=tuple(source for source in file.sources if source.id not in away.sources),
        groups=groups,
        gear=tuple(_box(box, away) for box in file.gear if box.id not in away.gear),
        leads=tuple(x for x in file.leads if not away.at(x.from_, x.to, x.back)),
        patch=tuple(_row(row, away) for row in file.patch if row.source not in away.sources),
        holds=tuple(_holds(file.holds, away)),
        routes=tuple(x for x in file.routes if not away.at(x.from_, x.to)),
        mixes=tuple(_mix(mix, away, names) for mix in file.mixes if mix.id not in away.mixes),
        feeds=tuple(_feed(feed, names) for feed in file.feeds if not away.at(feed.port)),
        settings=tuple(x for x in file.settings if not away.at(x.at)),
        streams=tuple(x for x in file.streams if not away.at(x.from_, x.to)),
        clocks=tuple(_clock(x, away) for x in file.clocks if x.gear not in away.gear),
        radio=tuple(x for x in file.radio if not away.at(x.from_, x.to)),
        talk=tuple(_talk(file.talk, away)),
        control=_control(file.control, away),
        power=_power(file.power, away),
        venues=tuple(_venue(venue, away) for venue in file.venues),
        consumables=tuple(_consumable(x, away) for x in file.consumables),
        bags=tuple(_bag(x, away) for x in file.bags),
        tested=_tested(file.tested, away),
        backups=tuple(_backup(x, away) for x in file.backups if x.of not in away.gear),
        scenes=tuple(_scene(x, names) for x in file.scenes if x.gear not in away.gear),
        log=tuple(x for x in file.log if x.gear not in away.gear),
    )


class _Names(msgspec.Struct, frozen=True):
    """Which names of sources and groups still stand for something."""

    groups: set[str]
    left: set[str]
    away: _Away

    def gone(self, name: str) -> bool:
        return name not in self.left if name in self.groups else name in self.away.sources


def _about(about: "About", away: _Away) -> "About":
    if about.mixer in away.gear:
        about = replace(about, mixer=None)
    if about.gain_owner in away.people:
        about = replace(about, gain_owner=None)
    return replace(about, patch_owner=None) if about.patch_owner in away.people else about


def _person(person: Person, away: _Away) -> Person:
    if person.ears is not None and away.at(person.ears.plug):
        person = replace(person, ears=replace(person.ears, plug=None))
    return replace(person, wedge=None) if away.at(person.wedge) else person


def _groups(groups: tuple[Group, ...], away: _Away) -> Iterator[Group]:
    for group in groups:
        left = tuple(name for name in group.sources if name not in away.sources)
        if left:
            yield group if left == group.sources else replace(group, sources=left)


def _row(row: PatchRow, away: _Away) -> PatchRow:
    also = tuple(one for one in row.also if one.on not in away.gear)
    row = row if also == row.also else replace(row, also=also)
    return replace(row, plug=None) if away.at(row.plug) else row


def _box(box: Gear, away: _Away) -> Gear:
    return replace(box, with_person=None) if box.with_person in away.people else box


def _holds(holds: tuple[Hold, ...], away: _Away) -> Iterator[Hold]:
    for hold in holds:
        if not away.at(hold.sockets):
            yield hold
        elif hold.channels is not None or hold.lines is not None:
            yield replace(hold, sockets=None)


def _mix(mix: Mix, away: _Away, names: _Names) -> Mix:
    return replace(
        mix,
        listeners=tuple(person for person in mix.listeners if person not in away.people),
        out=None if away.at(mix.out) else mix.out,
        sends=tuple(x for x in mix.sends if x.from_ is None or not names.gone(x.from_)),
    )


def _feed(feed: Feed, names: _Names) -> Feed:
    """A place that lost all it took is free; one that was named and empty stays so."""
    slots: list[Slot] = []
    for slot in feed.slots:
        takes = tuple(name for name in slot.takes if not names.gone(name))
        if takes or not slot.takes:
            slots.append(slot if takes == slot.takes else replace(slot, takes=takes))
    return replace(feed, slots=tuple(slots))


def _clock(clock: Clock, away: _Away) -> Clock:
    return replace(clock, follows=None) if clock.follows in away.gear else clock


def _talk(talks: tuple[Talk, ...], away: _Away) -> Iterator[Talk]:
    for talk in talks:
        to = tuple(person for person in talk.to if person not in away.people)
        if talk.from_ not in away.sources and (to or not talk.to):
            yield replace(talk, to=to)


def _control(control: Control | None, away: _Away) -> Control | None:
    if control is None or control.access_point not in away.gear:
        return control
    return replace(control, access_point=None)


def _power(power: MainsPower | None, away: _Away) -> MainsPower | None:
    if power is None:
        return None
    feeds = tuple(x for x in power.feeds if x.gear not in away.gear and not away.at(x.outlet))
    return replace(power, feeds=feeds)


def _venue(venue: Venue, away: _Away) -> Venue:
    order = tuple(name for name in venue.desk.order if name not in away.sources)
    if order != venue.desk.order:
        venue = replace(venue, desk=replace(venue.desk, order=order))
    circuits = tuple(_circuit(circuit, away) for circuit in venue.circuits)
    return venue if circuits == venue.circuits else replace(venue, circuits=circuits)


def _circuit(circuit: Circuit, away: _Away) -> Circuit:
    return replace(circuit, feeds=_boxes_left(circuit.feeds, away))


def _boxes_left(names: tuple[str, ...], away: _Away) -> tuple[str, ...]:
    return tuple(name for name in names if name not in away.gear)


def _consumable(one: Consumable, away: _Away) -> Consumable:
    return replace(one, feeds=_boxes_left(one.feeds, away))


def _bag(bag: Bag, away: _Away) -> Bag:
    return replace(
        bag,
        inside=None if bag.inside in away.gear else bag.inside,
        gear=_boxes_left(bag.gear, away),
        carried_by=None if bag.carried_by in away.people else bag.carried_by,
    )


def _tested(tested: Tested | None, away: _Away) -> Tested | None:
    if tested is None:
        return None
    firmware = tuple(one for one in tested.firmware if one.gear not in away.gear)
    return replace(tested, firmware=firmware)


def _backup(backup: Backup, away: _Away) -> Backup:
    return replace(backup, on=None) if backup.on in away.gear else backup


def _scene(scene: Scene, names: _Names) -> Scene:
    return replace(scene, mutes=tuple(name for name in scene.mutes if not names.gone(name)))
