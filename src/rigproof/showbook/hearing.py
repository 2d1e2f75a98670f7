"""Who hears what: people across, sources down, and the places of the personal-mixer feed."""

from collections.abc import Sequence

from rigproof.checks.rule import View
from rigproof.mixes import Heard, Listening, SlotUse, listenings, slot_uses
from rigproof.rig import Rig
from rigproof.showbook import naming
from rigproof.showbook.input_list import show_name
from rigproof.signal import words
from rigproof.wording import listed

ACROSS = 12  # people beside one another in one table


def page(usual: View, shows: tuple[View, ...]) -> dict[str, object]:
    """The matrix of the usual rig, its feeds, and the people and feeds that a show adds."""
    changes = []
    known = {one.person: one for one in listenings(usual.rig, usual.graph, usual.arriving)}
    for view in shows:
        found = listenings(view.rig, view.graph, view.arriving)
        new = [one for one in found if known.get(one.person) != one]
        changes.append(
            {
                "show": show_name(view),
                "tables": _tables(view.rig, [n for n in new if n.person not in known], every=False),
                "also": [naming.person(view.rig, n.person) for n in new if n.person in known],
                "feeds": _differing(_feeds(usual.rig), _feeds(view.rig)),
            }
        )
    return {
        # In one table a gap is news; in many, most sources have nothing to do with these people.
        "tables": _tables(usual.rig, list(known.values()), every=len(known) <= ACROSS),
        "feeds": _feeds(usual.rig),
        "changes": [c for c in changes if c["tables"] or c["also"] or c["feeds"]],
    }


def _tables(rig: Rig, found: Sequence[Listening], *, every: bool) -> list[dict[str, object]]:
    """Tables of a readable width; `every` source, or those that one of these people hears."""
    return [
        _table(rig, found[start : start + ACROSS], every=every)
        for start in range(0, len(found), ACROSS)
    ]


def _table(rig: Rig, people: Sequence[Listening], *, every: bool) -> dict[str, object]:
    cells = [{heard.source: heard for heard in one.heard} for one in people]
    return {
        "people": [_head(rig, one) for one in people],
        "rows": [
            {
                "source": source.name,
                "player": naming.player(rig, source),
                "cells": [_cell(one.get(source.id)) for one in cells],
                "own": [source.player == one.person for one in people],
            }
            for source in rig.file.sources
            if every or any(source.id in one for one in cells)
        ],
    }


def _head(rig: Rig, one: Listening) -> dict[str, object]:
    mix = one.mix
    if mix is None:
        way = "nothing"
    elif one.kind == "personal mixer":
        way = "own knobs"
    else:
        way = f"bus {mix.bus}" if mix.bus is not None else one.kind
    return {
        "name": naming.person(rig, one.person),
        "way": way,
        "width": ("stereo" if mix.stereo else "mono") if mix else "",
        "missing": [words.source(rig, name) for name in one.missing],
    }


def _cell(heard: Heard | None) -> str:
    if heard is None:
        return ""
    if heard.slot:
        return f"slot {heard.slot}"
    return naming.level(heard.level_db)


def _feeds(rig: Rig) -> list[dict[str, object]]:
    uses: dict[str, list[SlotUse]] = {}
    for use in slot_uses(rig):
        uses.setdefault(use.feed, []).append(use)
    users = _users(rig)
    feeds = {feed.id: feed for feed in rig.file.feeds}
    return [
        {
            "name": feeds[name].name or name,
            "users": listed(users),
            "rows": [_slot(rig, use) for use in found if use.slot is not None],
            "free": ", ".join(str(n) for use in found if use.slot is None for n in use.numbers),
            "lost": [_lost(rig, use, users) for use in found if use.grouped],
        }
        for name, found in uses.items()
    ]


def _differing(
    usual: Sequence[dict[str, object]], show: Sequence[dict[str, object]]
) -> list[dict[str, object]]:
    """The feeds of a show that are not as usual, cut down to the places that differ."""
    known = {str(feed["name"]): feed for feed in usual}
    found = []
    for feed in show:
        before = known.get(str(feed["name"]))
        if before == feed:
            continue
        if before is not None:
            feed = {**feed, **{part: _new(before[part], feed[part]) for part in ("rows", "lost")}}
        found.append(feed)
    return found


def _new(before: object, now: object) -> list[object]:
    assert isinstance(before, list)
    assert isinstance(now, list)
    return [one for one in now if one not in before]


def _users(rig: Rig) -> list[str]:
    """Who turns the knobs of a personal mixer."""
    return [
        naming.person(rig, person)
        for mix in rig.file.mixes
        if mix.on is not None and rig.type_of(mix.on).class_ == "personal-mixer"
        for person in mix.listeners
    ]


def _slot(rig: Rig, use: SlotUse) -> dict[str, object]:
    assert use.slot is not None
    made = use.made_by.replace("bus", "mixed on bus") if use.slot.bus else "straight"
    return {
        "slot": str(use.slot.slot),
        "name": use.slot.name or use.slot.label,
        "label": use.slot.label,
        "names": listed(words.source(rig, name) for name in use.sources),
        "made": made,
        "grouped": use.grouped,
    }


def _lost(rig: Rig, use: SlotUse, users: Sequence[str]) -> dict[str, str]:
    """The price of a group: those in it share one knob, those who turn it move all of them."""
    assert use.slot is not None
    inside = {rig.sources[name].player for name in use.sources if name in rig.sources}
    players = [naming.person(rig, name) for name in rig.people if name in inside]
    return {
        "slot": str(use.slot.slot),
        "name": use.slot.name or use.slot.label,
        "text": f"{listed(words.source(rig, n) for n in use.sources)} move on one knob"
        + (f" for {listed(users)}" if users else "")
        + (f"; they are played by {listed(players)}" if len(players) > 1 else "")
        + ".",
    }
