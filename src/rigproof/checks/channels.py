"""Rules about channels: does each source arrive where the patch says, and as what."""

from collections.abc import Iterator
from itertools import pairwise

from rigproof.checks.places import box, place, some
from rigproof.checks.rule import Finding, Rule, View, route_words
from rigproof.rig.geartype import Stage
from rigproof.rig.plan import PatchRow
from rigproof.signal.arrival import Lane
from rigproof.wording import counted, listed, ranges


def _bank(view: View) -> tuple[str, Stage] | None:
    """The channels of the band's own mixer."""
    mixer = view.rig.mixer
    bank = next(view.rig.types[mixer.type].stages("channel"), None) if mixer else None
    return (mixer.id, bank) if mixer is not None and bank is not None else None


def _node(view: View, gear: str, bank: Stage, number: int) -> int:
    name = f"{gear}.{bank.id}.{number}" if bank.count > 1 else f"{gear}.{bank.id}"
    return view.graph.index[name]


def _landed(view: View) -> dict[str, list[tuple[int, int]]]:
    """Source -> (channel, lane) of every channel of the mixer that it arrives at."""
    found: dict[str, list[tuple[int, int]]] = {}
    bank = _bank(view)
    if bank is not None:
        for number in range(1, bank[1].count + 1):
            lane: Lane
            for lane in view.lanes.at([_node(view, *bank, number)]):
                found.setdefault(lane[0], []).append((number, lane[1]))
    return found


def _claims(view: View) -> Iterator[PatchRow]:
    """The rows that claim channels the mixer has, of sources that are plugged somewhere."""
    bank = _bank(view)
    if bank is None:
        return
    for row in view.rig.rows.values():
        plugged = row.plug is not None or view.rig.sources[row.source].start is not None
        if row.channel is not None and plugged and row.channel.last <= bank[1].count:
            yield row


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
    bank = _bank(view)
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
    bank = _bank(view)
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
    landed, bank = _landed(view), _bank(view)
    for row in _claims(view):
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
    landed = _landed(view)
    shifted = {row.source for run, _ in _shifted_runs(view) for row in run}
    for row in _claims(view):
        here = {number for number, _ in landed.get(row.source, ())}
        if not here or here & set(row.channel or ()) or row.source in shifted:
            continue
        graph = view.graph
        bank = _bank(view)
        assert bank is not None
        path = graph.shortest(graph.of_source(row.source), [_node(view, *bank, min(here))])
        yield Finding(
            at=row.where.of("channel"),
            says=f"{view.rig.sources[row.source].name} is listed on channel {row.channel} and "
            f"arrives at channel {ranges(here)}.",
            path=route_words(graph, path or ()),
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
            found=step,
            limit=0,
            unit="channels",
        )


def _shifted_runs(view: View) -> Iterator[tuple[list[PatchRow], int]]:
    """Neighbours by channel that miss their channel by one and the same step."""
    landed = _landed(view)
    rows = sorted(_claims(view), key=lambda row: row.channel.first if row.channel else 0)
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


def pair_not_odd_even(view: View) -> Iterator[Finding]:
    """A stereo source is not on an odd channel and the even one after it.

    Why: mixers link channels by odd and even pairs only; on 4-5, or on one channel, the pair
        cannot be linked, and a fader moves one side.
    Fix: move the pair to an odd number and the next; leave one channel free for it if needed.
    Source: common practice, no source: linking by odd and even pairs.

    Fails:
        sources: [{id: keys, name: Keys, family: keys, stereo: true}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: keys, plug: mixer.in.4-5, channel: 4-5}]
    Passes:
        sources: [{id: keys, name: Keys, family: keys, stereo: true}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: keys, plug: mixer.in.5-6, channel: 5-6}]
    """
    bank = _bank(view)
    if bank is None:
        return
    for row in view.rig.rows.values():
        source, channel = view.rig.sources[row.source], row.channel
        if channel is None:
            continue
        if len(channel) != source.lanes:
            kind = "a stereo pair" if source.stereo else "mono"
            yield Finding(
                at=row.where.of("channel"),
                says=f"{source.name} is {kind} and has {counted(len(channel), 'channel')} "
                f"({channel}).",
                found=len(channel),
                limit=source.lanes,
                unit="channels",
            )
        elif source.stereo and bank[1].pairs and channel.first % 2 == 0:
            yield Finding(
                at=row.where.of("channel"),
                says=f"{source.name} is on channels {channel}; "
                f"{box(view.rig, bank[0])} links only an odd channel with the even one after it.",
            )


def pair_crossed(view: View) -> Iterator[Finding]:
    """Left and right of a stereo source are swapped on the way to the channels.

    Why: the piano's low notes come from the wrong side, and the overheads disagree with the toms.
    Fix: swap the two plugs, or the two routes.
    Source: common practice, no source: left on the odd channel, right on the even one.

    Fails:
        sources: [{id: keys, name: Keys, family: keys, stereo: true}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: keys, plug: mixer.in.5-6, channel: 5-6}]
        routes: [{from: mixer.adc.6, to: mixer.ch.5}, {from: mixer.adc.5, to: mixer.ch.6}]
    Passes:
        sources: [{id: keys, name: Keys, family: keys, stereo: true}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: keys, plug: mixer.in.5-6, channel: 5-6}]
    """
    landed = _landed(view)
    for row in _claims(view):
        if row.channel is None or len(row.channel) != 2:
            continue
        here = set(landed.get(row.source, ()))
        first, last = row.channel.first, row.channel.last
        if {(first, 2), (last, 1)} <= here and (first, 1) not in here:
            one, two = view.rig.sources[row.source].lane_names[:2]
            yield Finding(
                at=row.where.of("channel"),
                says=f"{one} arrives at channel {last} and {two} at channel {first}: swapped.",
            )


def pair_halved(view: View) -> Iterator[Finding]:
    """Only one side of a stereo source arrives at its channels.

    Why: half the piano is missing, and in mono nobody notices until the solo.
    Fix: lay the lead of the other side, or make the source mono.
    Source: common practice, no source.

    Fails:
        sources: [{id: keys, name: Keys, family: keys, stereo: true}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: keys, plug: mixer.in.5, channel: 5-6}]
    Passes:
        sources: [{id: keys, name: Keys, family: keys, stereo: true}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: keys, plug: mixer.in.5-6, channel: 5-6}]
    """
    landed = _landed(view)
    for row in _claims(view):
        source = view.rig.sources[row.source]
        lanes = {lane for _, lane in landed.get(row.source, ())}
        if source.stereo and len(lanes) == 1:
            have, lost = (source.lane_names[n - 1] for n in (*lanes, 3 - min(lanes)))
            yield Finding(
                at=row.where,
                says=f"{have} arrives at the mixer and {lost} does not.",
                found=1,
                limit=2,
                unit="lanes",
            )


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
    Rule(id="patch.pair-not-odd-even", severity="risk", check=pair_not_odd_even, since="0.1"),
    Rule(id="patch.pair-crossed", severity="risk", check=pair_crossed, since="0.1"),
    Rule(id="patch.pair-halved", severity="risk", check=pair_halved, since="0.1"),
)
