"""Who hears what: people across, sources down, and the places of the personal-mixer feed."""

from collections.abc import Sequence
from typing import Any

from rigproof.checks.rule import View
from rigproof.mixes import Heard, Listening, SlotUse, slot_uses
from rigproof.rig import Rig
from rigproof.showbook import naming
from rigproof.showbook.edition import Edition
from rigproof.signal import words

ACROSS = 12  # people beside one another in one table


def page(usual: View, shows: tuple[View, ...], edition: Edition) -> dict[str, Any]:
    """The matrix of the usual rig, its feeds, and the people and feeds that a show adds."""
    changes = []
    known = {one.person: one for one in usual.listenings}
    for view in shows:
        found = view.listenings
        new = [one for one in found if known.get(one.person) != one]
        also = [naming.person(view.rig, n.person) for n in new if n.person in known]
        changes.append(
            {
                "title": edition.say("input-list.only_on", show=naming.show(view, edition)),
                "tables": _tables(
                    view.rig, [n for n in new if n.person not in known], edition, every=False
                ),
                "also": edition.say("hearing.also", names=edition.listed(also)) if also else "",
                "feeds": _differing(_feeds(usual.rig, edition), _feeds(view.rig, edition), edition),
            }
        )
    return {
        # In one table a gap is news; in many, most sources have nothing to do with these people.
        "tables": _tables(usual.rig, list(known.values()), edition, every=len(known) <= ACROSS),
        "feeds": _feeds(usual.rig, edition),
        "changes": [c for c in changes if c["tables"] or c["also"] or c["feeds"]],
        "words": edition.words(
            "hearing.nobody",
            "hearing.source",
            "hearing.hears",
            "hearing.key_1",
            "hearing.key_2",
            "hearing.key_3",
            "hearing.hearing",
            "hearing.caution",
            "hearing.slot",
            "hearing.named",
            "hearing.label",
            "hearing.holds",
            "hearing.made",
            "hearing.loses",
        ),
        "caution": edition.say("paper.caution"),
    }


def _tables(
    rig: Rig, found: Sequence[Listening], edition: Edition, *, every: bool
) -> list[dict[str, object]]:
    """Tables of a readable width; `every` source, or those that one of these people hears."""
    return [
        _table(rig, found[start : start + ACROSS], edition, every=every)
        for start in range(0, len(found), ACROSS)
    ]


def _table(
    rig: Rig, people: Sequence[Listening], edition: Edition, *, every: bool
) -> dict[str, object]:
    cells = [{heard.source: heard for heard in one.heard} for one in people]
    return {
        "people": [_head(rig, one, edition) for one in people],
        "rows": [
            {
                "source": source.name,
                "player": naming.player(rig, source),
                "cells": [_cell(one.get(source.id), edition) for one in cells],
                "own": [source.player == one.person for one in people],
            }
            for source in rig.file.sources
            if every or any(source.id in one for one in cells)
        ],
    }


def _head(rig: Rig, one: Listening, edition: Edition) -> dict[str, object]:
    name = naming.person(rig, one.person)
    missing = ", ".join(words.source(rig, source) for source in one.missing)
    return {
        "name": name,
        "way": way(one, edition),
        "missing": edition.say("hearing.missing", name=name, sources=missing) if missing else "",
    }


def way(one: Listening, edition: Edition) -> str:
    """How a mix gets to its listener, and how wide it is."""
    mix = one.mix
    if mix is None:
        return edition.say("hearing.way_nothing")
    if one.kind == "personal mixer":
        how = edition.say("hearing.way_knobs")
    elif mix.bus is not None:
        how = edition.say("hearing.way_bus", numbers=mix.bus)
    else:
        how = edition.say("hearing.way_wedge" if one.kind == "wedge" else "hearing.way_any_bus")
    return f"{how}, {edition.say('hearing.stereo' if mix.stereo else 'hearing.mono')}"


def _cell(heard: Heard | None, edition: Edition) -> dict[str, str]:
    """The level of a source, or the place of the feed that it comes by."""
    if heard is None:
        return {"level": "", "slot": ""}
    if heard.slot:
        return {"level": "", "slot": heard.slot}
    return {"level": naming.level(heard.level_db, edition), "slot": ""}


def _feeds(rig: Rig, edition: Edition) -> list[dict[str, Any]]:
    uses: dict[str, list[SlotUse]] = {}
    for use in slot_uses(rig):
        uses.setdefault(use.feed, []).append(use)
    users = _users(rig)
    feeds = {feed.id: feed for feed in rig.file.feeds}
    return [
        {
            "name": feeds[name].name or name,
            "said": _turned(users, found, edition),
            "rows": [_slot(rig, use, edition) for use in found if use.slot is not None],
            "lost": [_lost(rig, use, users, edition) for use in found if use.grouped],
        }
        for name, found in uses.items()
    ]


def _turned(users: Sequence[str], found: Sequence[SlotUse], edition: Edition) -> str:
    say = edition.say
    turned = (
        say("hearing.turned", names=edition.listed(users))
        if users
        else say("hearing.turned_nobody")
    )
    free = ", ".join(str(n) for use in found if use.slot is None for n in use.numbers)
    places = say("hearing.free_places", numbers=free) if free else say("hearing.none_free")
    return f"{turned} {places}"


def _differing(
    usual: Sequence[dict[str, Any]], show: Sequence[dict[str, Any]], edition: Edition
) -> list[dict[str, Any]]:
    """The feeds of a show that are not as usual, cut down to the places that differ."""
    known = {str(feed["name"]): feed for feed in usual}
    found = []
    for feed in show:
        before = known.get(str(feed["name"]))
        if before == feed:
            continue
        if before is not None:
            feed = {**feed, **{part: _new(before[part], feed[part]) for part in ("rows", "lost")}}
        found.append({**feed, "title": edition.say("hearing.differing", feed=feed["name"])})
    return found


def _new(before: Sequence[object], now: Sequence[object]) -> list[object]:
    return [one for one in now if one not in before]


def _users(rig: Rig) -> list[str]:
    """Who turns the knobs of a personal mixer."""
    return [
        naming.person(rig, person)
        for mix in rig.file.mixes
        if mix.on is not None and rig.type_of(mix.on).class_ == "personal-mixer"
        for person in mix.listeners
    ]


def _slot(rig: Rig, use: SlotUse, edition: Edition) -> dict[str, object]:
    assert use.slot is not None
    made = (
        edition.say("hearing.made_bus", numbers=use.slot.bus)
        if use.slot.bus
        else edition.say("hearing.made_straight")
    )
    return {
        "slot": str(use.slot.slot),
        "name": use.slot.name or use.slot.label,
        "label": use.slot.label,
        "names": edition.listed(words.source(rig, name) for name in use.sources),
        "made": made,
    }


def _lost(rig: Rig, use: SlotUse, users: Sequence[str], edition: Edition) -> dict[str, str]:
    """The price of a group: those in it share one knob, those who turn it move all of them."""
    assert use.slot is not None
    inside = {rig.sources[name].player for name in use.sources if name in rig.sources}
    players = [naming.person(rig, name) for name in rig.people if name in inside]
    sources = edition.listed(words.source(rig, name) for name in use.sources)
    lost = (
        edition.say("hearing.lost_for", sources=sources, users=edition.listed(users))
        if users
        else edition.say("hearing.lost", sources=sources)
    )
    if len(players) > 1:
        said = edition.say("hearing.lost_players", lost=lost, players=edition.listed(players))
    else:
        said = f"{lost}."
    return {
        "slot": edition.say("hearing.slot_of", numbers=use.slot.slot),
        "name": use.slot.name or use.slot.label,
        "text": said,
    }
