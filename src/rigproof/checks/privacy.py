"""Rules about what only the band may hear: click, spoken cues, band talk, audience microphones."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.signal.graph import possible
from rigproof.signal.words import place, places, way_words
from rigproof.wording import some
from rigproof.wording.sentences import sentence


def private_source_reaches_house(view: View) -> Iterator[Finding]:
    """A private source reaches the house, by the plan or by a spare tail.

    Why: one wrong plug, or nothing at all, and the audience hears the click. A tail that is "not
        used" is still a plug in a stranger's hand.
    Fix: take the source off everything that is split to the house; bring it straight to your own
        mixer.
    Source: common practice, no source.

    Fails:
        sources: [{id: click, name: Click, family: click}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: click, plug: split.in.8}]
        leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}]
    Passes:
        sources: [{id: click, name: Click, family: click}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: click, plug: split.in.8}]
    """
    graph, reached = view.graph, view.arriving
    tails = graph.of_listener("house")
    for name in reached.at(tails):
        source = view.rig.sources[name]
        if not source.private or source.owner == "house":
            continue
        path = graph.shortest(graph.of_source(name), tails) or ()
        end = place(view.rig, graph.nodes[path[-1].end].key if path else "house")
        row = view.rig.rows.get(name)
        yield Finding(
            at=row.where if row else source.where,
            says=sentence(
                "{source} is for the band only, and reaches {end}.", source=source.name, end=end
            ),
            path=way_words(view.rig, graph, path),
        )


def private_source_one_press_away(view: View) -> Iterator[Finding]:
    """A private source is one setting away from the house.

    Why: nothing is wrong tonight; but the mixer that makes the ears also feeds the house, and one
        route, send or recalled scene puts the click there.
    Fix: take the private channels off that output for good where the mixer can lock it, and keep
        the output out of every scene that is changed during a show.
    Source: common practice, no source.

    Fails:
        sources: [{id: click, name: Click, family: click}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: click, plug: mixer.in.24}]
        leads: [{id: main, type: lead-xlr, from: mixer.out.13-14, to: house.1-2}]
    Passes:
        sources: [{id: click, name: Click, family: click}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: click, plug: mixer.in.24}]
    """
    graph, tails = view.graph, view.graph.of_listener("house")
    could, there = view.private_could_arrive, frozenset(view.arriving.at(tails))
    near = sum(1 << n for n, name in enumerate(could.order) if name not in there)
    doors: dict[str, dict[str, int]] = {}  # box -> source -> the socket it could leave by
    known: dict[str, int] = {}  # box -> the sources found there
    for tail in tails if near else ():
        for number in graph.entering[tail]:
            last = graph.hops[number].start
            gear = graph.nodes[last].gear
            more = near & could.bits[last] & ~known.get(gear, 0)
            if more:
                known[gear] = known.get(gear, 0) | more
                doors.setdefault(gear, {}).update(dict.fromkeys(could.named(more), last))
    # What leaves by several boxes alike is one finding with several doors.
    alike: dict[tuple[str, ...], list[int]] = {}
    for leaving in doors.values():
        if leaving:
            alike.setdefault(tuple(leaving), []).append(next(iter(leaving.values())))
    for ordered, ways in alike.items():
        row = view.rig.rows.get(ordered[0])
        path = graph.shortest(graph.of_source(ordered[0]), ways, through=possible) or ()
        verb = sentence("is") if len(ordered) == 1 else sentence("are")
        where = places(view.rig, (graph.nodes[way].key for way in ways))
        yield Finding(
            at=row.where if row else view.rig.sources[ordered[0]].where,
            says=sentence(
                "{names} {verb} one setting away from the house, at {where}.",
                names=some(view.rig.sources[name].name for name in ordered),
                verb=verb,
                where=where,
            ),
            path=way_words(view.rig, graph, path),
        )


RULES = (
    Rule(
        id="private.reaches-house",
        severity="stop",
        check=private_source_reaches_house,
        since="0.1",
    ),
    Rule(
        id="private.one-press-away",
        severity="advice",
        check=private_source_one_press_away,
        since="0.1",
    ),
)
