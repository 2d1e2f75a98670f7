"""Rules about who plays what, and whether anybody hears it."""

from collections.abc import Iterator
from typing import get_args

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig.band import Family
from rigproof.wording import some
from rigproof.wording.sentences import sentence

_PLAYS = frozenset(get_args(Family)) - {"other", "talk", "ambience", "cue"}


def without_source(view: View) -> Iterator[Finding]:
    """Somebody plays or sings, and no source is theirs.

    Why: the list was not brought up to date when the band changed; the hire brings what is on the
        list, and no microphone is there for the one who is not.
    Fix: add their sources, or name them as the player of the one that is theirs.
    Source: common practice, no source; taken from accounts of lists after a change of players.

    Fails:
        people: [{id: ana, name: Ana, part: bass}, {id: ben, name: Ben, part: voices}]
        sources: [{id: bass, name: Bass, family: bass, player: ana}]
    Passes:
        people: [{id: ana, name: Ana, part: bass}, {id: ben, name: Ben, part: voices}]
        sources:
          - {id: bass, name: Bass, family: bass, player: ana}
          - {id: voice, name: Voice, family: voices, player: ben}
    """
    rig = view.rig
    if not rig.file.sources:
        return
    theirs: dict[str, set[str]] = {}
    for source in rig.file.sources:
        if source.player is not None:
            theirs.setdefault(source.player, set()).add(source.family)
    for who in rig.file.people:
        if who.part not in _PLAYS or not who.on_stage:
            continue
        has = theirs.get(who.id, set())
        # A part may be played on something of another family; a voice is a voice.
        if not has or (who.part == "voices" and "voices" not in has):
            what = sentence("voice") if who.part == "voices" else who.plays or who.part
            yield Finding(
                at=who.where,
                says=sentence(
                    "{who} has no source: {what} is on no list.", who=who.name, what=what
                ),
            )


def heard_by_nobody(view: View) -> Iterator[Finding]:
    """A source is plugged and neither an ear nor the house hears it.

    Why: a line, a channel and a microphone stand are spent, or somebody forgot to turn it up.
    Fix: send it to the mixes that need it, hand it over, or leave it at home.
    Source: common practice, no source.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        sources: [{id: kick, name: Kick, family: drums}, {id: bell, name: Bell, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch:
          - {source: kick, plug: mixer.in.1, channel: 1}
          - {source: bell, plug: mixer.in.2, channel: 2}
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: kick}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        sources: [{id: kick, name: Kick, family: drums}, {id: bell, name: Bell, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch:
          - {source: kick, plug: mixer.in.1, channel: 1}
          - {source: bell, plug: mixer.in.2, channel: 2}
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: kick}, {from: bell}]}
    """
    rig, graph = view.rig, view.graph
    if not any(mix.purpose in {"ears", "wedge"} for mix in rig.file.mixes):
        return
    ends = {n for who in rig.people for n in graph.of_listener(who)} | set(
        graph.of_listener("house")
    )
    recorders = {g.id for g in rig.file.gear if rig.types[g.type].class_ == "recorder"}
    ends |= {n for box in recorders for n in graph.of_listener(box)}
    heard = set(view.arriving.at(sorted(ends)))
    lost = [
        rig.sources[name]
        for name, row in rig.rows.items()
        if row.channel is not None and name not in heard
    ]
    if lost:
        yield Finding(
            at=rig.rows[lost[0].id].where,
            says=sentence(
                "Nobody hears {names}: no ears, no house.",
                names=some(source.name for source in lost),
            ),
        )


RULES = (
    Rule(id="people.without-source", severity="risk", check=without_source, since="0.1"),
    Rule(id="mix.heard-by-nobody", severity="advice", check=heard_by_nobody, since="0.1"),
)
