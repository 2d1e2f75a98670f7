"""Rules about where each source is plugged in: sockets, doubles, gaps, places held open."""

from collections.abc import Callable, Iterator
from functools import partial

import msgspec

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig.lanes import lane_range, sockets
from rigproof.rig.plan import PatchRow
from rigproof.rig.ref import HOUSE, PortRef, Range
from rigproof.rig.where import Where
from rigproof.signal.words import person, place
from rigproof.wording import counted, opening, ranges
from rigproof.wording.sentences import sentence


class _Use(msgspec.Struct, frozen=True):
    """One plug in one socket: what it belongs to, which lanes it takes, at which venues."""

    by: Callable[[], str]  # in words, which few are asked for
    key: tuple[str, str]  # of the thing that is plugged, to tell two uses by one from a clash
    lanes: Range | None
    venues: frozenset[str]
    at: Where

    def clashes(self, other: "_Use") -> bool:
        if self.key == other.key or (
            self.venues and other.venues and not self.venues & other.venues
        ):
            return False
        if self.lanes is None or other.lanes is None:
            return True
        return self.lanes[0] <= other.lanes[1] and other.lanes[0] <= self.lanes[1]


def _plugs_in(view: View, ref: PortRef, use: _Use) -> Iterator[tuple[str, _Use]]:
    types = {ref.gear: view.rig.type_of(ref.gear)} if ref.gear != HOUSE else {}
    for socket in sockets(types, ref, use.at):
        yield socket.key, use


def _lanes(view: View, ref: PortRef) -> Range | None:
    return None if ref.gear == HOUSE else lane_range(ref, view.rig.type_of(ref.gear))


def _all_plugs(view: View) -> dict[str, list[_Use]]:
    """Socket -> everything plugged into it: sources, both ends of leads, earphones."""
    found: dict[str, list[_Use]] = {}
    rig = view.rig

    def add(
        ref: PortRef,
        by: Callable[[], str],
        key: tuple[str, str],
        venues: frozenset[str],
        at: Where,
    ) -> None:
        use = _Use(by, key, _lanes(view, ref), venues, at)
        for socket, one in _plugs_in(view, ref, use):
            found.setdefault(socket, []).append(one)

    none: frozenset[str] = frozenset()
    ways = {(lead.from_, lead.to): lead.id for lead in rig.file.leads}
    for row in rig.file.patch:
        if row.plug is not None:
            source = rig.sources[row.source]
            # A row may name the socket that a stated lead brings the source to: one plug, not two.
            lead_id = ways.get((source.start or row.plug, row.plug))
            key = ("lead", lead_id) if lead_id else ("source", row.source)
            add(row.plug, partial(str, source.name), key, none, row.where.of("plug"))
    for lead in rig.file.leads:
        by = partial(sentence, "the lead {label}", label=lead.label or lead.id)
        venues = frozenset(lead.at_venues)
        add(lead.from_, by, ("lead", lead.id), venues, lead.where.of("from"))
        add(lead.to, by, ("lead", lead.id), venues, lead.where.of("to"))
    for who in rig.file.people:
        if who.ears is not None and who.ears.plug is not None:
            at = who.ears.where.of("plug")
            add(
                who.ears.plug,
                partial(sentence, "{who}'s ears", who=who.name),
                ("ears", who.id),
                none,
                at,
            )
    return found


def socket_with_two_plugs(view: View) -> Iterator[Finding]:
    """Two plugs are meant for one socket.

    Why: only one of them goes in; the other is the line that "does not work" tonight.
    Fix: give one of them another socket.
    Source: common practice, no source: one socket takes one plug.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}, {id: snare, name: Snare, family: drums}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: kick, plug: split.in.1}, {source: snare, plug: split.in.1}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums}, {id: snare, name: Snare, family: drums}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: kick, plug: split.in.1}, {source: snare, plug: split.in.2}]
    """
    told: set[tuple[tuple[str, str], tuple[str, str]]] = set()
    for socket, uses in _all_plugs(view).items():
        if socket.startswith(f"{HOUSE}."):
            continue  # the house's lines are judged with the hand-off
        for number, use in enumerate(uses):
            first = next((u for u in uses[:number] if u.clashes(use)), None)
            if first is None or (first.key, use.key) in told:
                continue
            told.add((first.key, use.key))
            yield Finding(
                at=use.at,
                says=sentence(
                    "{by} and {by2} are both plugged in {place}.",
                    by=opening(first.by()),
                    by2=use.by(),
                    place=place(view.rig, socket),
                ),
                found=2,
                limit=1,
                unit="plugs",
            )


def source_in_two_sockets(view: View) -> Iterator[Finding]:
    """One source is plugged in two places at once.

    Why: a microphone has one plug; plugged in the rack it cannot also be plugged in the house box,
        and one of the two lists is wrong.
    Fix: keep the row that is true; for two ways use a splitter or a Y-lead, and write that.
    Source: common practice, no source.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: kick, plug: split.in.1}, {source: kick, plug: split.in.5}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: kick, plug: split.in.1}]
    """
    first: dict[str, PatchRow] = {}
    for row in view.stated.file.patch:
        if row.plug is None:
            continue
        other = first.setdefault(row.source, row)
        if other is not row and other.plug != row.plug:
            assert other.plug is not None
            yield Finding(
                at=row.where.of("plug"),
                says=sentence(
                    "{source} is plugged in {place} and in {place2}.",
                    source=view.rig.sources[row.source].name,
                    place=place(view.rig, other.plug),
                    place2=place(view.rig, row.plug),
                ),
                found=2,
                limit=1,
                unit="sockets",
            )


def row_doubled(view: View) -> Iterator[Finding]:
    """A source has a second patch row, and nobody reads it.

    Why: the second row says something else or will some day; whoever reads that one plugs wrong.
    Fix: keep one row for each source.
    Source: common practice, no source.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: kick, plug: split.in.1}, {source: kick, channel: 5}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: kick, plug: split.in.1, channel: 5}]
    """
    first: dict[str, PatchRow] = {}
    for row in view.stated.file.patch:
        other = first.setdefault(row.source, row)
        same_place = row.plug is None or other.plug is None or other.plug == row.plug
        if other is not row and same_place:
            yield Finding(
                at=row.where,
                says=sentence(
                    "{source} has two rows in the patch (the first in line {line}).",
                    source=view.rig.sources[row.source].name,
                    line=other.where.line,
                ),
                found=2,
                limit=1,
                unit="rows",
            )


def source_without_plug(view: View) -> Iterator[Finding]:
    """A source is not plugged in anywhere.

    Why: it is on the list, it is on the stage, and nobody will hear it.
    Fix: give it a socket, or take it off the list.
    Source: common practice, no source.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}]
        patch: [{source: kick, channel: 1}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: kick, channel: 1}]
    """
    for name, source in view.rig.sources.items():
        row = view.rig.rows.get(name)
        at = row.where if row is not None else source.where
        if row is not None and row.plug is not None:
            continue
        if source.start is None:
            free = (
                sentence("is free and does not lead to the house")
                if source.private
                else sentence("is free")
            )
            says = sentence(
                "{source} is not plugged in anywhere: no microphone socket {free}.",
                source=source.name,
                free=free,
            )
            yield Finding(at=at, says=says)
        elif not _goes_on(view, name):
            says = sentence(
                "{source} comes out at {place}, and nothing leads ",
                source=source.name,
                place=place(view.rig, source.start),
            )
            yield Finding(
                at=source.where.of("from"), says=sentence("{says}on from there.", says=says)
            )


def _goes_on(view: View, name: str) -> bool:
    """Whether anything but the plug of the source itself leads on from where it comes out."""
    graph = view.graph
    own = graph.reached(
        graph.of_source(name),
        through=lambda hop: hop.means == "plug" or "/" in graph.nodes[hop.end].gear,
    )
    return any(
        graph.hops[n].means not in {"plug", "choice"} and graph.hops[n].end not in own
        for node in own
        for n in graph.leaving[node]
    )


def held_place_taken(view: View) -> Iterator[Finding]:
    """Something sits in a place that is held open.

    Why: places are held for what comes by network, for a guest, for the spare; on the night it
        comes, its place is gone and numbers start to move.
    Fix: move the newcomer to a free place, or delete the hold if it has served.
    Source: common practice, no source.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: kick, plug: mixer.in.1, channel: 8}]
        holds: [{channels: 7-8, why: a guest's keyboard}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1}]
        holds: [{channels: 7-8, why: a guest's keyboard}]
    """
    # Whoever comes along for one show may be the one the place is held for.
    guests = {row.source for row in view.show.patch} if view.show is not None else set()
    rows = [row for row in view.rig.file.patch if row.source not in guests]
    channels = {n: hold for hold in view.rig.file.holds for n in hold.channels or ()}
    held = {
        key: hold
        for hold in view.rig.file.holds
        if hold.sockets is not None
        for key in _socket_keys(view, hold.sockets)
    }
    for row in rows:
        name = view.rig.sources[row.source].name
        taken = [n for n in row.channel or () if n in channels]
        if taken:
            yield Finding(
                at=row.where.of("channel"),
                says=sentence(
                    "{name} is on channel {ranges}, held for: {why}.",
                    name=name,
                    ranges=ranges(taken),
                    why=channels[taken[0]].why,
                ),
            )
        plugged = _socket_keys(view, row.plug) if held and row.plug is not None else set()
        clash = sorted(plugged & held.keys())
        if clash:
            where = place(view.rig, clash[0])
            yield Finding(
                at=row.where.of("plug"),
                says=sentence(
                    "{name} is plugged in {where}, held for: {why}.",
                    name=name,
                    where=where,
                    why=held[clash[0]].why,
                ),
            )


def _socket_keys(view: View, ref: PortRef) -> set[str]:
    types = {ref.gear: view.rig.type_of(ref.gear)} if ref.gear != HOUSE else {}
    return {socket.key for socket in sockets(types, ref, Where())}


BIG = 8  # sources; common practice, no source: up to here one person plugs from memory


def no_owner(view: View) -> Iterator[Finding]:
    """Nobody owns the patch.

    Why: when the next band moves plugs, or the list and the stage disagree, somebody must be the
        one who says what is right; where nobody is named, everybody re-plugs.
    Fix: name one person as patch_owner at the head of the file.
    Source: common practice, no source; taken from accounts of changeovers gone wrong.

    Fails:
        rig: {name: Example}
        people: [{id: yusra, name: Yusra}]
        venues: [{id: club, name: Club, desk: {takes: tails}}]
        shows: [{id: may, date: 2027-05-08, venue: club}]
    Passes:
        rig: {name: Example, patch_owner: yusra}
        people: [{id: yusra, name: Yusra}]
        venues: [{id: club, name: Club, desk: {takes: tails}}]
        shows: [{id: may, date: 2027-05-08, venue: club}]
    """
    about, file = view.stated.about, view.stated.file
    if about.patch_owner is None:
        if len(file.sources) > BIG or file.shows:
            count = (
                sentence(" of {sources}", sources=counted(len(file.sources), "source"))
                if file.sources
                else ""
            )
            yield Finding(
                at=about.where,
                says=sentence("Nobody is named who owns the patch{count}.", count=count),
            )
        return
    for show in file.shows:
        if about.patch_owner in show.without:
            owner = person(view.stated, about.patch_owner)
            yield Finding(
                at=show.where.of("without"),
                says=sentence(
                    "{owner} owns the patch and is not there on {date}.",
                    owner=owner,
                    date=show.date,
                ),
                fix=sentence("Agree who takes over that night, and write it in the show's note."),
            )


RULES = (
    Rule(
        id="patch.socket-with-two-plugs",
        severity="stop",
        check=socket_with_two_plugs,
        since="0.1",
    ),
    Rule(
        id="patch.source-in-two-sockets",
        severity="stop",
        check=source_in_two_sockets,
        since="0.1",
    ),
    Rule(id="patch.row-doubled", severity="risk", check=row_doubled, since="0.1"),
    Rule(id="patch.source-without-plug", severity="stop", check=source_without_plug, since="0.1"),
    Rule(id="patch.held-place-taken", severity="risk", check=held_place_taken, since="0.1"),
    Rule(id="patch.no-owner", severity="risk", check=no_owner, since="0.1"),
)
