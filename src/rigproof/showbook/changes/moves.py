"""What a change does on stage: plugs and numbers that move, lines of the house, what is left."""

from collections.abc import Iterator, Mapping

import msgspec

from rigproof.checks.rule import SEVERITIES, View
from rigproof.checks.verdict import Verdict
from rigproof.handoff import HandOff
from rigproof.mixes.slots import slot_uses
from rigproof.rig import Rig
from rigproof.rig.lanes import sockets
from rigproof.rig.where import NOWHERE

Renamed = Mapping[str, Mapping[str, str]]  # section -> old name -> new name


class Lane(msgspec.Struct, frozen=True, order=True):
    """A source, or one side of a pair."""

    source: str
    lane: int  # from 0


class Spot(msgspec.Struct, frozen=True, order=True):
    """Where a lane has a number: on our channels, in a socket, at one venue's desk."""

    what: str  # "channel", "socket" or "house"
    venue: str = ""


class Move(msgspec.Struct, frozen=True):
    """One number or socket of a lane, before and after; empty where there was or is none."""

    lane: Lane
    name: str
    spot: Spot
    before: str
    after: str


class HouseLines(msgspec.Struct, frozen=True):
    """What one house gets otherwise: number, what was on it, what is on it now."""

    venue: str
    needed: tuple[int, int]
    lines: tuple[tuple[int, str, str], ...]
    dropped: tuple[str, ...]  # what a house with too few lines leaves out now


class Night(msgspec.Struct, frozen=True):
    """One night: the usual one, or a show. `kept`: numbers that stay as people know them."""

    show: str
    moves: tuple[Move, ...]
    added: tuple[Move, ...]
    removed: tuple[Move, ...]
    houses: tuple[HouseLines, ...]
    kept: int

    @property
    def differs(self) -> bool:
        return bool(self.moves or self.added or self.removed or self.houses)


class Figure(msgspec.Struct, frozen=True):
    """A sum before and after; None where it cannot be told."""

    what: str
    before: float | None
    after: float | None
    unit: str = ""


def nights(before: Verdict, after: Verdict, renamed: Renamed) -> tuple[Night, ...]:
    """The usual night, and each show that both versions play, where it differs in other ways."""
    shows = renamed.get("shows", {})
    old = {shows.get(v.show.id, v.show.id) if v.show else "": v for v in before.views}
    found: list[Night] = []
    for view in after.views:
        name = view.show.id if view.show else ""
        # A show that stayed within the usual night in one version is laid beside that night.
        was = old.get(name, old[""] if name in _shows(before, shows) else None)
        if was is None:
            continue
        night = _night(name, was, view, renamed)
        if night.differs and not (found and not found[0].show and _told(night, found[0])):
            found.append(night)
    return tuple(found)


def kept(before: Verdict, after: Verdict, renamed: Renamed) -> int:
    """How many numbers and sockets of the usual night stay as people know them."""
    return _night("", before.view, after.view, renamed).kept


def _shows(verdict: Verdict, renamed: Mapping[str, str]) -> set[str]:
    return {renamed.get(show.id, show.id) for show in verdict.view.stated.file.shows}


def _told(night: Night, usual: Night) -> bool:
    """Whether the usual night says all of it already."""
    return all(
        set(getattr(night, part)) <= set(getattr(usual, part))
        for part in ("moves", "added", "removed", "houses")
    )


def _night(name: str, old: View, new: View, renamed: Renamed) -> Night:
    was, now = _numbers(old, renamed), _numbers(new, {})
    stay = {lane for lane, _ in was} & {lane for lane, _ in now}
    venues = {_now(v.id, renamed, "venues") for v in old.venues} & {v.id for v in new.venues}
    moves, added, removed = [], [], []
    kept = 0
    for lane, spot in sorted({*was, *now}):
        if spot.venue and spot.venue not in venues:
            continue  # a venue that came or went is told as one
        before, after = was.get((lane, spot), ""), now.get((lane, spot), "")
        where = new if lane in stay or after else old
        move = Move(lane, where.rig.sources[lane.source].lane_names[lane.lane], spot, before, after)
        if before == after:
            kept += 1
        elif lane in stay:
            moves.append(move)
        elif after:
            added.append(move)
        else:
            removed.append(move)
    houses = tuple(_houses(old, new, renamed))
    return Night(name, tuple(moves), tuple(added), tuple(removed), houses, kept)


def _now(name: str, renamed: Renamed, section: str) -> str:
    return renamed.get(section, {}).get(name, name)


def _numbers(view: View, renamed: Renamed) -> dict[tuple[Lane, Spot], str]:
    """Every number and socket of every lane, as people use them, under today's names."""
    rig = view.rig
    found: dict[tuple[Lane, Spot], str] = {}
    for row in rig.file.patch:
        source = rig.sources[row.source]
        name = _now(source.id, renamed, "sources")
        plugs = sockets(rig.gear_types, row.plug, NOWHERE) if row.plug is not None else ()
        for lane, socket in enumerate(plugs[: source.lanes]):
            gear = _now(socket.gear, renamed, "gear")
            key = f"{gear}{socket.key.removeprefix(socket.gear)}"
            found[Lane(name, lane), Spot("socket")] = key
        for lane, number in enumerate(row.channel or ()):
            if lane < source.lanes:
                found[Lane(name, lane), Spot("channel")] = str(number)
    for hand in view.hand_offs:
        venue = _now(hand.venue.id, renamed, "venues")
        for number, lane_ in _house_lanes(hand, renamed):
            found.setdefault((lane_, Spot("house", venue)), str(number))
    return found


def _house_lanes(hand: HandOff, renamed: Renamed) -> Iterator[tuple[int, Lane]]:
    for line in hand.used:
        if line.source is not None:
            name = _now(line.source.id, renamed, "sources")
            yield line.house_number or line.number, Lane(name, line.lane)


def _houses(old: View, new: View, renamed: Renamed) -> Iterator[HouseLines]:
    was = {_now(hand.venue.id, renamed, "venues"): hand for hand in old.hand_offs}
    for hand in new.hand_offs:
        before = was.get(hand.venue.id)
        if before is None:
            continue
        olds, news = _said(before), _said(hand)
        lines = tuple(
            (number, olds.get(number, ""), news.get(number, ""))
            for number in sorted({*olds, *news})
            if olds.get(number, "") != news.get(number, "")
        )
        dropped = tuple(line.name for line in hand.dropped)
        if lines or dropped != tuple(line.name for line in before.dropped):
            yield HouseLines(hand.venue.id, (before.needed, hand.needed), lines, dropped)


def _said(hand: HandOff) -> dict[int, str]:
    """What is on each number of the house."""
    return {
        line.house_number or line.number: line.name or line.mix
        for line in hand.lines
        if line.status in {"use", "dropped"}
    }


def figures(before: Verdict, after: Verdict) -> tuple[Figure, ...]:
    """The sums that differ: what is left free, weight, watts, findings by how grave they are."""
    old, new = dict(_sums(before)), dict(_sums(after))
    return tuple(
        Figure(what, old.get(what), new.get(what), _UNITS.get(what, ""))
        for what in (*new, *(what for what in old if what not in new))
        if _shown(old.get(what)) != _shown(new.get(what))
    )


_UNITS = {"case_kg": "kg", "all_kg": "kg", "most_w": "W"}


def _shown(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


def _sums(verdict: Verdict) -> Iterator[tuple[str, float | None]]:
    view = verdict.view
    rig = view.rig
    yield from _free(rig)
    slots = slot_uses(rig)
    if slots:
        yield "free_slots", sum(len(use.numbers) for use in slots if use.slot is None)
    yield "case_kg", view.weights.case_kg.value
    yield "all_kg", view.weights.all_kg.value
    yield "most_w", view.load.most_w.value
    for severity in SEVERITIES:
        yield severity, verdict.count(severity)


def _free(rig: Rig) -> Iterator[tuple[str, float]]:
    """Channels and buses of the band's mixer that nothing is on and nobody holds."""
    if rig.mixer is None:
        return
    type_ = rig.type_of(rig.mixer.id)
    channels, buses = next(type_.stages("channel"), None), next(type_.stages("bus"), None)
    if channels is not None:
        held = {n for hold in rig.file.holds for n in hold.channels or ()}
        used = {n for row in rig.file.patch for n in row.channel or ()} | held
        yield "free_channels", channels.count - len(used & set(range(1, channels.count + 1)))
    if buses is not None:
        own = [mix for mix in rig.file.mixes if mix.on in (None, rig.mixer.id)]
        made = {n for mix in own if mix.bank in ("", buses.id) for n in mix.bus or ()}
        made |= {n for feed in rig.file.feeds for slot in feed.slots for n in slot.bus or ()}
        yield "free_buses", buses.count - len(made & set(range(1, buses.count + 1)))
