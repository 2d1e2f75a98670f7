"""Rules about channels: does each source arrive where the patch says, and as what."""

from collections.abc import Iterator
from itertools import groupby

from rigproof.checks.landing import (
    Claim,
    channel_bank,
    channel_node,
    claims,
    every_claim,
    landed_lanes,
    on_mixer,
)
from rigproof.checks.rule import Finding, Rule, View
from rigproof.signal.words import box, place, way_words
from rigproof.wording import counted, listed, ranges, some
from rigproof.wording.sentences import sentence


def channel_with_two_sources(view: View) -> Iterator[Finding]:
    """Two sources claim the same channel.

    Why: one of them is silent, or both are mixed where nobody can part them.
    Fix: give one of them another channel; the number that people have learnt stays.
    Source: common practice, no source.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}, {id: snare, name: Snare, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch:
          - {source: kick, plug: mixer.in.1, channel: 1}
          - {source: snare, plug: mixer.in.2, channel: 1}
    Passes:
        sources: [{id: kick, name: Kick, family: drums}, {id: snare, name: Snare, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch:
          - {source: kick, plug: mixer.in.1, channel: 1}
          - {source: snare, plug: mixer.in.2, channel: 2}
    """
    first: dict[tuple[str, int], str] = {}
    told: set[tuple[str, str, str]] = set()
    for claim in every_claim(view):
        for number in claim.channel:
            other = first.setdefault((claim.mixer, number), claim.source.id)
            pair = claim.mixer, other, claim.source.id
            if other != claim.source.id and pair not in told:
                told.add(pair)
                names = listed(view.rig.sources[name].name for name in pair[1:])
                yield Finding(
                    at=claim.at,
                    says=sentence(
                        "{names} are both on channel {number}{on_mixer}.",
                        names=names,
                        number=number,
                        on_mixer=on_mixer(view, claim),
                    ),
                    found=2,
                    limit=1,
                    unit="sources",
                )


def channel_does_not_exist(view: View) -> Iterator[Finding]:
    """The patch claims a channel that the mixer does not have.

    Why: the list looks complete, and the last sources have no fader.
    Fix: use a free channel, share one, or get a mixer with more.
    Source: common practice, no source; the count is the gear type's.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: kick, plug: mixer.in.1, channel: 33}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: kick, plug: mixer.in.1, channel: 32}]
    """
    for claim in every_claim(view):
        if not claim.exists:
            yield Finding(
                at=claim.at,
                says=sentence(
                    "{source} is on channel {channel}, and {box} has {count}.",
                    source=claim.source.name,
                    channel=claim.channel,
                    box=box(view.rig, claim.mixer),
                    count=claim.bank.count,
                ),
                found=claim.channel.last,
                limit=claim.bank.count,
                unit="channels",
            )


def source_without_channel(view: View) -> Iterator[Finding]:
    """A source has no channel on the band's own mixer.

    Why: it is plugged, and nobody in the band can hear it.
    Fix: give it a channel; where all are taken, share one or drop a source.
    Source: common practice, no source.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: kick, plug: mixer.in.1}]
        holds: [{channels: 1-32, why: everything for the guests}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1}]
    """
    bank = channel_bank(view)
    if bank is None:
        return
    for name, source in view.rig.sources.items():
        row = view.rig.rows.get(name)
        if row is not None and row.also and row.channel is None:
            continue  # it goes to another mixer alone: with a way to ours, one would be planned
        if source.owner != "house" and (row is None or row.channel is None):
            yield Finding(
                at=row.where if row is not None else source.where,
                says=sentence(
                    "{source} has no channel: none of the {count} of {box} is free for it.",
                    source=source.name,
                    count=bank[1].count,
                    box=box(view.rig, bank[0]),
                ),
            )


def source_does_not_arrive(view: View) -> Iterator[Finding]:
    """A source does not arrive at the mixer at all.

    Why: a socket of the splitter or panel with no lead behind it looks like any other.
    Fix: lay the missing lead, or plug the source where a lead goes on.
    Source: common practice, no source.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-16}]
        patch: [{source: kick, plug: split.in.1, channel: 1}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-16}]
        patch: [{source: kick, plug: split.in.1, channel: 1}]
        leads: [{id: to-mixer, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}]
    """
    landed = landed_lanes(view)
    for claim in claims(view):
        if (claim.mixer, claim.source.id) not in landed:
            socket = claim.row.plug or claim.source.start
            where = (
                sentence(", plugged in {place},", place=place(view.rig, socket)) if socket else ""
            )
            yield Finding(
                at=claim.row.where,
                says=sentence(
                    "{source}{where} does not arrive at channel {channel} of {box}, nor at "
                    "any other.",
                    source=claim.source.name,
                    where=where,
                    channel=claim.channel,
                    box=box(view.rig, claim.mixer),
                ),
            )


def arrives_elsewhere(view: View) -> Iterator[Finding]:
    """A source arrives at another channel than the patch says.

    Why: a crossed route gives the singer the hi-hat's fader, and the list says all is well.
    Fix: set the route to the channel of the list, or write the channel it really has.
    Source: common practice, no source.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1}]
        routes: [{from: mixer.adc.2, to: mixer.ch.1}, {from: mixer.adc.1, to: mixer.ch.2}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1}]
        routes: [{from: mixer.adc.1-2, to: mixer.ch.1-2}]
    """
    landed = landed_lanes(view)
    shifted = {_place(claim) for run, _ in _shifted_runs(view) for claim in run}
    for claim in claims(view):
        here = {number for number, _ in landed.get(_place(claim), ())}
        if not here or here & set(claim.channel) or _place(claim) in shifted:
            continue
        graph = view.graph
        there = channel_node(view, claim.mixer, claim.bank, min(here))
        path = graph.shortest(graph.of_source(claim.source.id), [there])
        yield Finding(
            at=claim.at,
            says=sentence(
                "{source} is listed on channel {channel} and arrives at channel "
                "{ranges}{on_mixer}.",
                source=claim.source.name,
                channel=claim.channel,
                ranges=ranges(here),
                on_mixer=on_mixer(view, claim),
            ),
            path=way_words(view.rig, graph, path or ()),
        )


RUN = 3  # sources in a row with the same slip; fewer are a crossed pair, not a shifted row


def shifted(view: View) -> Iterator[Finding]:
    """A whole row of sources is shifted by the same step.

    Why: a list read one line off, or two eight-way looms swapped, moves every fader at once; it
        is the quickest mistake to make and, once seen, the quickest to mend.
    Fix: move the loom or the routes by the step named, not the sources one by one.
    Source: common practice, no source; reported slips of one and of eight.

    Fails:
        sources:
          - {id: kick, name: Kick, family: drums}
          - {id: snare, name: Snare, family: drums}
          - {id: hat, name: Hi-hat, family: drums}
        gear: [{id: mixer, type: mixer-rack-24}]
        patch:
          - {source: kick, plug: mixer.in.1, channel: 1}
          - {source: snare, plug: mixer.in.2, channel: 2}
          - {source: hat, plug: mixer.in.3, channel: 3}
        routes: [{from: mixer.adc.1-8, to: mixer.ch.9-16}, {from: mixer.adc.9-16, to: mixer.ch.1-8}]
    Passes:
        sources:
          - {id: kick, name: Kick, family: drums}
          - {id: snare, name: Snare, family: drums}
          - {id: hat, name: Hi-hat, family: drums}
        gear: [{id: mixer, type: mixer-rack-24}]
        patch:
          - {source: kick, plug: mixer.in.1, channel: 1}
          - {source: snare, plug: mixer.in.2, channel: 2}
          - {source: hat, plug: mixer.in.3, channel: 3}
    """
    for run, step in _shifted_runs(view):
        names = some(claim.source.name for claim in run)
        way = sentence("above") if step > 0 else sentence("below")
        yield Finding(
            at=run[0].at,
            says=sentence(
                "{names} arrive {channels} {way} the listed ones.",
                names=names,
                channels=counted(abs(step), "channel"),
                way=way,
            ),
        )


def _place(claim: Claim) -> tuple[str, str]:
    return claim.mixer, claim.source.id


def _shifted_runs(view: View) -> Iterator[tuple[list[Claim], int]]:
    """Neighbours by channel that miss their channel by one and the same step."""
    landed = landed_lanes(view)
    by_mixer: dict[str, list[Claim]] = {}
    for claim in claims(view):
        by_mixer.setdefault(claim.mixer, []).append(claim)
    for rows in by_mixer.values():
        rows.sort(key=lambda claim: claim.channel.first)
        steps = []
        for claim in rows:
            here = [number for number, _ in landed.get(_place(claim), ())]
            first = claim.channel.first
            steps.append(min(here) - first if here and first not in here else 0)
        for step, run in groupby(zip(steps, rows, strict=True), key=lambda one: one[0]):
            shifted_ = [claim for _, claim in run]
            if step and len(shifted_) >= RUN:
                yield shifted_, step


RULES = (
    Rule(
        id="patch.channel-with-two-sources",
        severity="stop",
        check=channel_with_two_sources,
        since="0.1",
    ),
    Rule(
        id="patch.channel-does-not-exist",
        severity="stop",
        check=channel_does_not_exist,
        since="0.1",
    ),
    Rule(
        id="patch.source-without-channel",
        severity="risk",
        check=source_without_channel,
        since="0.1",
    ),
    Rule(
        id="patch.source-does-not-arrive",
        severity="stop",
        check=source_does_not_arrive,
        since="0.1",
    ),
    Rule(id="patch.arrives-elsewhere", severity="stop", check=arrives_elsewhere, since="0.1"),
    Rule(id="patch.shifted", severity="stop", check=shifted, since="0.1"),
)
