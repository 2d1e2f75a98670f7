"""Rules about 48 V: who feeds which line, in which state, and whom it harms.

A house that has not answered is taken to feed 48 V everywhere: some desks have one switch for all.
"""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig.geartype import Port
from rigproof.rig.where import Where
from rigproof.signal.phantom import PhantomLine
from rigproof.signal.words import box, place, places, way_words, within
from rigproof.wording import counted, listed, some
from rigproof.wording.sentences import sentence


def _at(view: View, name: str) -> Where:
    row = view.rig.rows.get(name)
    return row.where if row is not None else view.rig.sources[name].where


def _desks(view: View) -> dict[str, str]:
    """Venue -> what its desk does with 48 V, for the venues this view is about."""
    venues = view.rig.venues
    if view.show is not None and view.show.venue in venues:
        return {venues[view.show.venue].name: venues[view.show.venue].desk.phantom}
    return {venue.name: venue.desk.phantom for venue in venues.values()}


def _house_may(view: View) -> bool:
    """Whether some desk could feed 48 V without anybody having said so."""
    desks = _desks(view)
    return not desks or "unknown" in desks.values()


def _feeding_venues(view: View) -> list[str]:
    return [name for name, state in _desks(view).items() if state == "on"]


def _path(view: View, line: PhantomLine, feeder: str) -> tuple[str, ...]:
    starts = view.graph.of_source(line.source)
    return way_words(
        view.rig, view.graph, view.graph.shortest(starts, [view.graph.index[feeder]]) or ()
    )


def missing(view: View) -> Iterator[Finding]:
    """A microphone or DI needs 48 V and nothing feeds it.

    Why: a condenser microphone or an active DI without 48 V is silent, and in the hurry of a
        line check it is taken for a broken lead.
    Fix: set phantom to on in its patch row, or take it off the isolated leg.
    Source: IEC 61938 (P48); common practice for who switches it on.

    Fails:
        sources: [{id: hat, name: Hi-hat, family: drums, mic: mic-small-condenser}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: hat, plug: mixer.in.3, phantom: "off"}]
    Passes:
        sources: [{id: hat, name: Hi-hat, family: drums, mic: mic-small-condenser}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: hat, plug: mixer.in.3}]
    """
    desks = _desks(view)
    house_feeds = bool(desks) and set(desks.values()) == {"on"}
    unsaid: dict[str, list[PhantomLine]] = {}
    for name, line in view.lines.items():
        row = view.rig.rows.get(name)
        plugged = (row is not None and row.plug is not None) or bool(line.could_feed)
        if line.need != "must" or line.feeds or not plugged or (line.house and house_feeds):
            continue
        source = view.rig.sources[name].name
        if line.could_feed and (row is None or row.phantom is None):
            unsaid.setdefault(line.could_feed[0].partition(".")[0], []).append(line)
            continue
        if line.could_feed:
            where = places(view.rig, line.could_feed[: view.rig.sources[name].lanes])
            says = sentence(
                "{source} needs 48 V, and it is switched off at {where}.",
                source=source,
                where=where,
            )
            fix = sentence('Write phantom: "on" in the patch row of {source}.', source=source)
        elif line.house:
            where = place(view.rig, line.house[0])
            says = sentence(
                "{source} needs 48 V, and only the house could feed it, at {where}.",
                source=source,
                where=where,
            )
            fix = sentence(
                "Bring it to an input of your own, or agree with the house and write it down."
            )
        elif line.blocked:
            says = sentence(
                "{source} needs 48 V, and {place} lets none through.",
                source=source,
                place=place(view.rig, line.blocked[0]),
            )
            fix = sentence("Give your own input the direct leg.")
        else:
            says = sentence(
                "{source} needs 48 V, and no input on its line can feed it.", source=source
            )
            fix = sentence("Plug it in an input that has 48 V.")
        yield Finding(at=_at(view, name), says=says, fix=fix)
    for gear, lines in unsaid.items():
        names = some(view.rig.sources[line.source].name for line in lines)
        verb = sentence("needs") if len(lines) == 1 else sentence("need")
        sockets = some(within(view.rig, line.could_feed[0]) for line in lines)
        yield Finding(
            at=_at(view, lines[0].source),
            says=sentence(
                "{names} {verb} 48 V, and the patch does not switch it on at {box}, {sockets}.",
                names=names,
                verb=verb,
                box=box(view.rig, gear),
                sockets=sockets,
            ),
            fix=sentence('Write phantom: "on" in their patch rows.'),
            found=0,
            limit=len(lines),
            unit="sources",
        )


def lost_when_rack_off(view: View) -> Iterator[Finding]:
    """The house loses microphones as soon as our rack is off or booting.

    Why: between two sets somebody switches the rack off, and in the house the overheads and the
        active DIs are gone. The transformer side passes no 48 V, so the house cannot help.
    Fix: give the house the direct leg and let it feed 48 V, or put "rack off" on the hand-off page.
    Source: common practice, no source; a transformer passes no direct current.

    Fails:
        sources: [{id: hat, name: Hi-hat, family: drums, mic: mic-small-condenser}]
        gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-16}]
        patch: [{source: hat, plug: split.in.3, phantom: "on"}]
        leads:
          - {id: to-mixer, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}
          - {id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}
    Passes:
        sources: [{id: hat, name: Hi-hat, family: drums, mic: mic-small-condenser}]
        gear: [{id: split, type: splitter-panel-8}, {id: mixer, type: mixer-rack-16}]
        patch: [{source: hat, plug: split.in.3, phantom: "on"}]
        leads:
          - {id: to-mixer, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}
          - {id: tails, type: tails-xlr-8, from: split.second.1-8, to: house.1-8}
    """
    desks = _desks(view)
    house_off = bool(desks) and set(desks.values()) == {"off"}
    lost = [
        line
        for line in view.lines.values()
        if line.need == "must"
        and line.feeds
        and line.heard_rig_off
        and not view.rig.sources[line.source].private
        and (house_off or not line.feeders("off", "unknown"))
    ]
    if not lost:
        return
    names = [view.rig.sources[line.source].name for line in lost]
    boxes = listed(
        sorted({box(view.rig, f.partition(".")[0]) for line in lost for f in line.feeds})
    )
    yield Finding(
        at=_at(view, lost[0].source),
        says=sentence(
            "With {boxes} off or booting nobody feeds 48 V to {names}: the house loses {sources}.",
            boxes=boxes,
            names=some(names),
            sources=counted(len(lost), "source"),
        ),
        path=_path(view, lost[0], lost[0].heard_rig_off[0]),
    )


def harms(view: View) -> Iterator[Finding]:
    """48 V is switched on for a source that it can damage.

    Why: 48 V into an unbalanced output makes it crackle and can burn it out: keyboards, sound
        cards and telephones have died of it, and so do some ribbon microphones.
    Fix: switch 48 V off at that input, or put a DI box or an isolating transformer between.
    Source: IEC 61938 (P48 feeds both conductors); reported failures of keyboards and sound cards.

    Fails:
        sources: [{id: phone, name: Phone, family: playback, balanced: false}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: phone, plug: mixer.in.8, phantom: "on"}]
    Passes:
        sources: [{id: phone, name: Phone, family: playback, di: di-passive, balanced: false}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: phone, plug: mixer.in.8, phantom: "on"}]
    """
    venues = _feeding_venues(view)
    for name, line in view.lines.items():
        if line.need != "never":
            continue
        source = view.rig.sources[name].name
        if line.feeds:
            yield Finding(
                at=_at(view, name),
                says=sentence(
                    "{source} must not get 48 V, and {places} feeds it.",
                    source=source,
                    places=places(view.rig, line.feeds),
                ),
                path=_path(view, line, line.feeds[0]),
            )
        elif line.house and venues:
            yield Finding(
                at=_at(view, name),
                says=sentence(
                    "{source} must not get 48 V, and the desk of {names} feeds it on every line.",
                    source=source,
                    names=listed(venues),
                ),
                path=_path(view, line, line.house[0]),
            )


def could_harm(view: View) -> Iterator[Finding]:
    """A source that 48 V can damage hangs on a line where the house could feed it.

    Why: a desk with one switch for all channels, or one wrong press at the far end, and the
        keyboard or the sound card is dead.
    Fix: give the house the isolated leg of this line, or put a DI box or transformer between.
    Source: common practice, no source: what the house has not answered is taken as 48 V everywhere.

    Fails:
        sources: [{id: laptop, name: Laptop, family: playback, balanced: false}]
        gear: [{id: split, type: splitter-panel-8}]
        patch: [{source: laptop, plug: split.in.8}]
        leads: [{id: tails, type: tails-xlr-8, from: split.second.1-8, to: house.1-8}]
    Passes:
        sources: [{id: laptop, name: Laptop, family: playback, balanced: false}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: laptop, plug: split.in.8}]
        leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}]
    """
    if not _house_may(view) or _feeding_venues(view):
        return
    for name, line in view.lines.items():
        if line.need == "never" and line.house and not line.feeds:
            yield Finding(
                at=_at(view, name),
                says=sentence(
                    "{source} must not get 48 V, and the house can feed it at {places}.",
                    source=view.rig.sources[name].name,
                    places=places(view.rig, line.house),
                ),
                path=_path(view, line, line.house[0]),
            )


def two_feeders(view: View) -> Iterator[Finding]:
    """Two desks can put 48 V on the same microphone.

    Why: it does no damage, but whoever switches his off or on gives the other a thump, and each
        may believe that the other feeds.
    Fix: agree who feeds and write it on the hand-off page; the other leaves it off.
    Source: IEC 61938 allows feeds in parallel through their resistors; the rest common practice.

    Fails:
        sources: [{id: hat, name: Hi-hat, family: drums, mic: mic-small-condenser}]
        gear: [{id: split, type: splitter-panel-8}, {id: mixer, type: mixer-rack-16}]
        patch: [{source: hat, plug: split.in.3, phantom: "on"}]
        leads:
          - {id: to-mixer, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}
          - {id: tails, type: tails-xlr-8, from: split.second.1-8, to: house.1-8}
    Passes:
        sources: [{id: hat, name: Hi-hat, family: drums, mic: mic-small-condenser}]
        gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-16}]
        patch: [{source: hat, plug: split.in.3, phantom: "on"}]
        leads:
          - {id: to-mixer, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}
          - {id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}
    """
    house = _house_may(view) or bool(_feeding_venues(view))
    shared: dict[tuple[str, ...], list[PhantomLine]] = {}
    for line in view.lines.values():
        boxes = tuple(dict.fromkeys(feed.partition(".")[0] for feed in line.feeds))
        if line.house and house:
            boxes += (sentence("the house"),)
        if line.feeds and len(boxes) > 1:
            shared.setdefault(boxes, []).append(line)
    for boxes, lines in shared.items():
        names = some(view.rig.sources[line.source].name for line in lines)
        yield Finding(
            at=_at(view, lines[0].source),
            says=sentence(
                "{names} can each feed 48 V to {names2}.",
                names=listed(box(view.rig, name) for name in boxes),
                names2=names,
            ),
            found=len(boxes),
            limit=1,
            unit="feeders",
        )


def one_switch_for_all(view: View) -> Iterator[Finding]:
    """One 48 V switch serves lines that want different things.

    Why: the switch that the condenser microphone needs also feeds what must not have it.
    Fix: move one of them to an input with a switch of its own.
    Source: common practice, no source.

    Fails:
        sources:
          - {id: hat, name: Hi-hat, family: drums, mic: mic-small-condenser}
          - {id: piano, name: Piano, family: keys, mic: mic-ribbon}
        gear: [{id: mixer, type: mixer-analogue-16}]
        patch:
          - {source: hat, plug: mixer.in.1, phantom: "on"}
          - {source: piano, plug: mixer.in.2, phantom: "off"}
    Passes:
        sources:
          - {id: hat, name: Hi-hat, family: drums, mic: mic-small-condenser}
          - {id: piano, name: Piano, family: keys, mic: mic-ribbon}
        gear: [{id: mixer, type: mixer-rack-16}]
        patch:
          - {source: hat, plug: mixer.in.1, phantom: "on"}
          - {source: piano, plug: mixer.in.2, phantom: "off"}
    """
    wanting: dict[tuple[str, str], list[str]] = {}
    refusing: dict[tuple[str, str], list[str]] = {}
    for name, line in view.lines.items():
        row = view.rig.rows.get(name)
        for feed in line.feeds:
            node = view.graph.nodes[view.graph.index[feed]]
            if not isinstance(node.bank, Port) or node.bank.phantom != "global":
                continue
            switch = (node.gear, node.bank.id)
            if row is not None and row.phantom == "on":
                wanting.setdefault(switch, []).append(name)
            elif line.need == "never" or (row is not None and row.phantom == "off"):
                refusing.setdefault(switch, []).append(name)
    sources = view.rig.sources
    for switch, names in refusing.items():
        wants = some(sources[name].name for name in wanting.get(switch, ()))
        others = some(sources[name].name for name in names)
        yield Finding(
            at=_at(view, names[0]),
            says=sentence(
                "One switch on {box} feeds 48 V to {wants}, and with it to {others}.",
                box=box(view.rig, switch[0]),
                wants=wants,
                others=others,
            ),
        )


def need_unknown(view: View) -> Iterator[Finding]:
    """48 V is fed to a source of which nobody knows whether it bears it.

    Why: most balanced outputs bear 48 V, some do not, and only the maker's data say which.
    Fix: write phantom (must, tolerates or never) in the source, or phantom_need in its gear type.
    Source: IEC 61938 (P48); what an output bears is its maker's statement.

    Fails:
        sources: [{id: organ, name: Organ, family: keys, connector: xlr-m}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: organ, plug: mixer.in.8, phantom: "on"}]
    Passes:
        sources: [{id: organ, name: Organ, family: keys, connector: xlr-m, phantom: tolerates}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: organ, plug: mixer.in.8, phantom: "on"}]
    """
    venues = _feeding_venues(view)
    for name, line in view.lines.items():
        if line.need is None and (line.feeds or (line.house and venues)):
            feeder = (
                places(view.rig, line.feeds)
                if line.feeds
                else sentence("the desk of {names}", names=listed(venues))
            )
            yield Finding(
                at=_at(view, name),
                says=sentence(
                    "Cannot judge whether {source} bears the 48 V that {feeder} feeds: its "
                    "need is not stated.",
                    source=view.rig.sources[name].name,
                    feeder=feeder,
                ),
            )


def switch_without_effect(view: View) -> Iterator[Finding]:
    """The patch asks for 48 V where no input of ours can feed it.

    Why: somebody counts on a switch that is not there, or that an isolated leg makes useless.
    Fix: take phantom out of the row, or plug the source where 48 V comes back.
    Source: IEC 61938 (P48); a transformer passes no direct current.

    Fails:
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}]
        gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-16}]
        patch: [{source: voice, plug: split.in.1, phantom: "on"}]
        leads: [{id: to-mixer, type: lead-xlr, from: split.iso.1-8, to: mixer.in.1-8}]
    Passes:
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}]
        gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-16}]
        patch: [{source: voice, plug: split.in.1, phantom: "on"}]
        leads: [{id: to-mixer, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}]
    """
    for name, line in view.lines.items():
        row = view.rig.rows.get(name)
        if row is None or row.phantom != "on" or line.feeds or line.need == "must":
            continue
        stop = (
            sentence(": {place} lets none through", place=place(view.rig, line.blocked[0]))
            if line.blocked
            else ""
        )
        yield Finding(
            at=row.where.of("phantom"),
            says=sentence(
                "48 V is asked for on {source}, and no input of ours can feed it{stop}.",
                source=view.rig.sources[name].name,
                stop=stop,
            ),
        )


RULES = (
    Rule(id="phantom.missing", severity="stop", check=missing, since="0.1"),
    Rule(id="phantom.lost-when-rack-off", severity="risk", check=lost_when_rack_off, since="0.1"),
    Rule(id="phantom.harms", severity="stop", check=harms, since="0.1"),
    Rule(id="phantom.could-harm", severity="risk", check=could_harm, since="0.1"),
    Rule(id="phantom.two-feeders", severity="advice", check=two_feeders, since="0.1"),
    Rule(id="phantom.one-switch-for-all", severity="risk", check=one_switch_for_all, since="0.1"),
    Rule(id="phantom.need-unknown", severity="unknown", check=need_unknown, since="0.1"),
    Rule(
        id="phantom.switch-without-effect",
        severity="advice",
        check=switch_without_effect,
        since="0.1",
    ),
)
