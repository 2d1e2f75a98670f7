"""Rules about polarity: whether a push at the microphone is a push at the ear."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.signal.words import way_words
from rigproof.wording import some
from rigproof.wording.sentences import sentence


def turned(view: View) -> Iterator[Finding]:
    """A source arrives turned over at somebody's ears, or at the house.

    Why: a singer hears the own voice through the bone as well, and the two now work against each
        other: thin, hollow, never loud enough. Of two microphones on one drum the one takes the
        weight out of the other.
    Fix: take the turning lead out, or turn it back once more on the same way; then clap once in
        front of the microphone with everything else shut.
    Source: common practice, no source. What a box turns over inside, its type does not say.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        sources: [{id: voice, name: Voice, family: voices, player: ana, from: rx.out.1}]
        gear: [{id: rx, type: receiver-mic-dual}, {id: mixer, type: mixer-rack-24}]
        leads: [{id: odd, type: adapter-xlr-polarity, from: rx.out.1, to: mixer.in.1}]
        patch: [{source: voice, channel: 1}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: voice}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        sources: [{id: voice, name: Voice, family: voices, player: ana, from: rx.out.1}]
        gear: [{id: rx, type: receiver-mic-dual}, {id: mixer, type: mixer-rack-24}]
        leads: [{id: odd, type: lead-xlr, from: rx.out.1, to: mixer.in.1}]
        patch: [{source: voice, channel: 1}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: voice}]}
    """
    graph, rig = view.graph, view.rig
    if not any(run.body.inverts for run in view.runs):
        return
    listeners = [(who.name, graph.of_listener(who.id)) for who in rig.file.people]
    listeners.append((sentence("the house"), graph.of_listener("house")))
    for name, source in rig.sources.items():
        where: list[str] = []
        path: tuple[str, ...] = ()
        for listener, ends in listeners:
            if name not in view.arriving.at(ends):
                continue
            way = graph.shortest(graph.of_source(name), ends) or ()
            if sum(hop.inverts for hop in way) % 2:
                where.append(listener)
                path = path or way_words(rig, graph, way)
        if where:
            row = rig.rows.get(name)
            yield Finding(
                at=row.where if row is not None else source.where,
                says=sentence(
                    "{source} arrives turned over at {names}.",
                    source=source.name,
                    names=some(where),
                ),
                path=path,
            )


RULES = (Rule(id="polarity.turned", severity="risk", check=turned, since="0.1"),)
