"""Rules about who turns the gain: one owner for each preamp."""

from collections import deque
from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig.geartype import Stage
from rigproof.rig.ref import HOUSE
from rigproof.rig.where import Where
from rigproof.signal.words import box, place
from rigproof.wording import counted, some
from rigproof.wording.sentences import sentence


def shared_preamp(view: View) -> Iterator[Finding]:
    """The house takes channels behind our preamps.

    Why: a digital hand-off, or a direct out, shares the gain: whoever turns it for the ears turns
        it in the hall, and the other way round. Only the trim behind it is each one's own.
    Fix: agree that nobody touches gain once the line check is done, and write it on the hand-off
        page; or hand over by an analogue split in front of the preamps.
    Source: common practice, no source: one owner for each preamp.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1}]
        routes: [{from: mixer.ch.1, to: mixer.dac.1}]
        leads: [{id: tail, type: lead-xlr, from: mixer.out.1, to: house.1}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-24}]
        patch: [{source: kick, plug: split.in.1, channel: 1}]
        leads:
          - {id: to-mixer, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}
          - {id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}
    """
    shared = _preamps_before(view, view.graph.of_listener(HOUSE))
    nodes = view.graph.nodes
    ours = [n for n in shared if not _is_theirs(view, nodes[n].gear)]
    names = [
        view.rig.sources[name].name
        for name in view.arriving.at(ours)
        if view.rig.sources[name].owner != "house"
    ]
    if names:
        boxes = some(box(view.rig, nodes[n].gear) for n in ours if view.arriving.bits[n])
        yield Finding(
            at=_first_row(view, view.arriving.at(ours)),
            says=sentence(
                "The house takes {names} behind the preamps of {boxes}: the gain of "
                "{sources} is shared.",
                names=some(names),
                boxes=boxes,
                sources=counted(len(names), "source"),
            ),
        )


def turned_by_the_house(view: View) -> Iterator[Finding]:
    """Our ears hang on preamps that the house owns.

    Why: the house mixes with its gain, as it may, and everyone's ears jump in the song.
    Fix: take the signal in front of the house's preamps by a split, or agree that gain stays put.
    Source: common practice, no source; taken from accounts of shared stage boxes.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        sources: [{id: kick, name: Kick, family: drums}]
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: box, name: House box, type: stage-box-16x8, owner: house}
        leads: [{id: link, type: lead-network-locking, from: box.link, to: mixer.link}]
        patch: [{source: kick, plug: box.in.1, channel: 1}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: kick}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: kick}]}
    """
    nodes = view.graph.nodes
    ears = {n for who in view.rig.people for n in view.graph.of_listener(who)}
    theirs = [
        n
        for n, node in enumerate(nodes)
        if isinstance(node.bank, Stage)
        and node.bank.kind == "preamp"
        and view.arriving.bits[n]
        and _is_theirs(view, node.gear)
    ]
    if not theirs or not ears & view.graph.reached(theirs):
        return
    sources = view.arriving.at(theirs)
    names = some(view.rig.sources[name].name for name in sources)
    boxes = some(box(view.rig, nodes[n].gear) for n in theirs)
    yield Finding(
        at=_first_row(view, sources),
        says=sentence(
            "The ears hear {names} through the preamps of {boxes}, which the house turns.",
            names=names,
            boxes=boxes,
        ),
    )


def two_gains(view: View) -> Iterator[Finding]:
    """One preamp is given two gains.

    Why: two rows of the patch set the same knob; whichever was read last is what all ears get.
    Fix: write the gain in one row.
    Source: common practice, no source: one owner for each preamp.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}, {id: snare, name: Snare, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch:
          - {source: kick, plug: mixer.in.1, gain_db: 20}
          - {source: snare, plug: mixer.in.1, gain_db: 30}
    Passes:
        sources: [{id: kick, name: Kick, family: drums}, {id: snare, name: Snare, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch:
          - {source: kick, plug: mixer.in.1, gain_db: 20}
          - {source: snare, plug: mixer.in.2, gain_db: 30}
    """
    graph, rig = view.graph, view.rig
    for number, mask in enumerate(view.arriving.bits):
        bank = graph.nodes[number].bank
        if mask.bit_count() < 2 or not isinstance(bank, Stage) or bank.kind != "preamp":
            continue
        rows = [rig.rows[name] for name in view.arriving.at([number]) if name in rig.rows]
        gains = {float(row.gain_db): row for row in rows if row.gain_db is not None}
        if len(gains) < 2:
            continue
        low, high = min(gains), max(gains)
        names = [rig.sources[gains[gain_db].source].name for gain_db in (low, high)]
        yield Finding(
            at=gains[high].where.of("gain_db"),
            says=sentence(
                "{place} is set to {low:g} dB for {name} and to {high:g} dB for {name2}.",
                place=place(rig, graph.nodes[number].key),
                low=low,
                name=names[0],
                high=high,
                name2=names[1],
            ),
            found=high,
            limit=low,
            unit="dB",
        )


def _is_theirs(view: View, gear: str) -> bool:
    return gear in view.rig.gear and view.rig.gear[gear].owner == "house"


def _first_row(view: View, sources: tuple[str, ...]) -> Where:
    row = view.rig.rows.get(sources[0]) if sources else None
    return row.where if row is not None else view.rig.sources[sources[0]].where


def _preamps_before(view: View, ends: tuple[int, ...]) -> list[int]:
    """The preamps whose signal gets to some ends without being mixed on the way."""
    graph = view.graph
    queue, seen, found = deque(ends), set(ends), []
    while queue:
        node = queue.popleft()
        bank = graph.nodes[node].bank
        if isinstance(bank, Stage) and bank.kind in {"bus", "sum"}:
            continue
        if isinstance(bank, Stage) and bank.kind == "preamp":
            found.append(node)
            continue
        for number in graph.entering[node]:
            hop = graph.hops[number]
            if not hop.open and hop.start not in seen:
                seen.add(hop.start)
                queue.append(hop.start)
    return sorted(found)


RULES = (
    Rule(id="gain.shared-preamp", severity="risk", check=shared_preamp, since="0.1"),
    Rule(id="gain.turned-by-the-house", severity="risk", check=turned_by_the_house, since="0.1"),
    Rule(id="gain.two-gains", severity="risk", check=two_gains, since="0.1"),
)
