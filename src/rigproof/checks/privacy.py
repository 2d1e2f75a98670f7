"""Rules about what only the band may hear: click, spoken cues, band talk, audience microphones."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View, route_words


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
        end = graph.nodes[path[-1].end].key if path else "house"
        row = view.rig.rows.get(name)
        yield Finding(
            at=row.where if row else source.where,
            says=f"{source.name} is for the band only, and reaches the house at {end}.",
            path=route_words(graph, path),
        )


RULES = (
    Rule(
        id="private.reaches-house",
        severity="stop",
        check=private_source_reaches_house,
        since="0.1",
    ),
)
