"""Rules about channels: does each source arrive where the patch says, and as what."""

from collections.abc import Iterator
from itertools import pairwise

from rigproof.checks.landing import channel_bank, channel_node, claims, landed_lanes
from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig.plan import PatchRow
from rigproof.signal.words import box, place, way_words
from rigproof.wording import counted, listed, ranges, some


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
    first: dict[int, str] = {}
    told: set[tuple[str, str]] = set()
    for row in view.rig.rows.values():
        for number in row.channel or ():
            other = first.setdefault(number, row.source)
            if other != row.source and (other, row.source) not in told:
                told.add((other, row.source))
                names = listed(view.rig.sources[name].name for name in (other, row.source))
                yield Finding(
                    at=row.where.of("channel"),
                    says=f"{names} are both on channel {number}.",
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
    bank = channel_bank(view)
    if bank is None:
        return
    for row in view.rig.rows.values():
        if row.channel is not None and row.channel.last > bank[1].count:
            yield Finding(
                at=row.where.of("channel"),
                says=f"{view.rig.sources[row.source].name} is on channel {row.channel}, and "
                f"{box(view.rig, bank[0])} has {bank[1].count}.",
                found=row.channel.last,
                limit=bank[1].count,
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
        if source.owner != "house" and (row is None or row.channel is None):
            yield Finding(
                at=row.where if row is not None else source.where,
                says=f"{source.name} has no channel: none of the {bank[1].count} of "
                f"{box(view.rig, bank[0])} is free for it.",
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
    landed, bank = landed_lanes(view), channel_bank(view)
    for row in claims(view):
        if row.source not in landed and bank is not None:
            source = view.rig.sources[row.source]
            socket = row.plug or source.start
            where = f", plugged in {place(view.rig, socket)}," if socket else ""
            yield Finding(
                at=row.where,
                says=f"{source.name}{where} does not arrive at channel {row.channel} of "
                f"{box(view.rig, bank[0])}, nor at any other.",
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
    shifted = {row.source for run, _ in _shifted_runs(view) for row in run}
    for row in claims(view):
        here = {number for number, _ in landed.get(row.source, ())}
        if not here or here & set(row.channel or ()) or row.source in shifted:
            continue
        graph = view.graph
        bank = channel_bank(view)
        assert bank is not None
        path = graph.shortest(graph.of_source(row.source), [channel_node(view, *bank, min(here))])
        yield Finding(
            at=row.where.of("channel"),
            says=f"{view.rig.sources[row.source].name} is listed on channel {row.channel} and "
            f"arrives at channel {ranges(here)}.",
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
        names = some(view.rig.sources[row.source].name for row in run)
        way = "above" if step > 0 else "below"
        yield Finding(
            at=run[0].where.of("channel"),
            says=f"{names} arrive {counted(abs(step), 'channel')} {way} the listed ones.",
        )


def _shifted_runs(view: View) -> Iterator[tuple[list[PatchRow], int]]:
    """Neighbours by channel that miss their channel by one and the same step."""
    landed = landed_lanes(view)
    rows = sorted(claims(view), key=lambda row: row.channel.first if row.channel else 0)
    steps = []
    for row in rows:
        here = [number for number, _ in landed.get(row.source, ())]
        first = row.channel.first if row.channel else 0
        steps.append(min(here) - first if here and first not in here else 0)
    run: list[PatchRow] = rows[:1]
    for (step, _), (next_step, row) in pairwise(zip(steps, rows, strict=True)):
        if next_step == step:
            run.append(row)
            continue
        if step and len(run) >= RUN:
            yield run, step
        run = [row]
    if steps and steps[-1] and len(run) >= RUN:
        yield run, steps[-1]


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
