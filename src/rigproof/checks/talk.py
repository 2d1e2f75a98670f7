"""Rules about the way back: can the house, and one of the band, speak to every pair of ears."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig.band import Source
from rigproof.signal.words import person
from rigproof.wording import some
from rigproof.wording.sentences import sentence


def _talks(view: View, *, house: bool) -> list[Source]:
    return [
        source
        for source in view.rig.file.sources
        if source.family == "talk" and (source.owner == "house") == house
    ]


def _deaf_to(view: View, talks: list[Source]) -> list[str]:
    """The wearers of ears that none of these reaches; who talks alone need not hear it."""
    deaf = []
    for who in view.rig.file.people:
        if who.ears is None or who.ears.plug is None:
            continue
        wanted = {source.id for source in talks if source.player != who.id}
        if talks and not wanted:
            continue
        if not wanted & set(view.arriving.at(view.graph.of_listener(who.id))):
            deaf.append(who.name)
    return deaf


def nobody_from_house(view: View) -> Iterator[Finding]:
    """The house cannot speak to somebody's ears.

    Why: once the ears are in, nobody hears a shout; the house engineer walks on stage instead.
    Fix: plan a channel for the house's talkback and send it to every mix.
    Source: common practice, no source: every ear is reached by the house.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: kick, name: Kick, family: drums}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: kick}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: desk, name: House talk, family: talk, owner: house}]
        patch: [{source: desk, plug: mixer.in.24, channel: 24}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: desk}]}
    """
    talks = _talks(view, house=True)
    deaf = _deaf_to(view, talks)
    if deaf:
        says = (
            sentence("The house's talkback does not reach {names}.", names=some(deaf))
            if talks
            else sentence(
                "No channel is planned for the house's talkback: it cannot speak to {names}.",
                names=some(deaf),
            )
        )
        yield Finding(
            at=talks[0].where if talks else view.rig.about.where,
            says=says,
        )


def nobody_from_band(view: View) -> Iterator[Finding]:
    """Nobody of the band can speak to somebody's ears.

    Why: "next song without the intro" is said into a voice microphone, and the audience hears it.
    Fix: plan a talk microphone for one of the band and send it to every mix.
    Source: common practice, no source: every ear is reached by one of the band.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: kick, name: Kick, family: drums}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: kick}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}, {id: bea, name: Bea}]
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: talk, name: Band talk, family: talk, player: bea}]
        patch: [{source: talk, plug: mixer.in.24, channel: 24}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: talk}]}
    """
    talks = _talks(view, house=False)
    deaf = _deaf_to(view, talks)
    if deaf:
        who = (
            sentence("The band's talk ({names})", names=some(source.name for source in talks))
            if talks
            else ""
        )
        says = (
            sentence("{who} does not reach {names}.", who=who, names=some(deaf))
            if talks
            else sentence(
                "Nobody of the band has a talk microphone that {names} would hear.",
                names=some(deaf),
            )
        )
        yield Finding(
            at=talks[0].where if talks else view.rig.about.where,
            says=says,
        )


def promise_not_kept(view: View) -> Iterator[Finding]:
    """Talk is promised to somebody whose ears it does not reach.

    Why: the sheet says the drummer hears the talk, and the count-in says otherwise.
    Fix: send the talk to that person's mix, or take the person off the list.
    Source: common practice, no source.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: talk, name: Band talk, family: talk}, {id: kick, name: Kick, family: drums}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: kick}]}
        talk: [{from: talk, to: [ana]}]
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: talk, name: Band talk, family: talk}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: talk}]}
        talk: [{from: talk, to: [ana]}]
    """
    for talk in view.rig.file.talk:
        if talk.from_ not in view.rig.sources:
            continue  # stays at home tonight
        lost = [
            person(view.rig, name)
            for name in talk.to
            if name in view.rig.people
            and talk.from_ not in view.arriving.at(view.graph.of_listener(name))
        ]
        if lost:
            yield Finding(
                at=talk.where,
                says=sentence(
                    "{source} is meant for {names} and does not arrive there.",
                    source=view.rig.sources[talk.from_].name,
                    names=some(lost),
                ),
            )


def stays_open(view: View) -> Iterator[Finding]:
    """A talk microphone stays open by itself.

    Why: left on, it puts the hall and the loudspeakers into every ear for the rest of the song.
    Fix: use a switch that opens only while it is held.
    Source: common practice, no source: talk is momentary.

    Fails:
        sources: [{id: talk, name: Band talk, family: talk, talk_switch: latching}]
    Passes:
        sources: [{id: talk, name: Band talk, family: talk, talk_switch: momentary}]
    """
    stated = {talk.from_: talk for talk in view.rig.file.talk if talk.switch is not None}
    for source in view.rig.file.sources:
        if source.family != "talk":
            continue
        talk = stated.get(source.id)
        switch = source.talk_switch or (talk.switch if talk is not None else None)
        at = source.where.of("talk_switch") if source.talk_switch or not talk else talk.where
        if switch == "latching":
            yield Finding(
                at=at, says=sentence("{source} has a switch that stays on.", source=source.name)
            )
        elif switch == "none":
            yield Finding(
                at=at,
                says=sentence("{source} has no switch: it is always open.", source=source.name),
            )


def switch_not_stated(view: View) -> Iterator[Finding]:
    """Nothing says what switch a talk microphone has.

    Why: whether it opens only while it is held, or stays open by itself, cannot be judged.
    Fix: look at it, and write talk_switch: momentary, latching or none.
    Source: common practice, no source: talk is momentary.

    Fails:
        sources: [{id: talk, name: Band talk, family: talk}]
    Passes:
        sources: [{id: talk, name: Band talk, family: talk, talk_switch: momentary}]
    """
    stated = {talk.from_ for talk in view.rig.file.talk if talk.switch is not None}
    for source in view.rig.file.sources:
        ours = source.family == "talk" and source.owner != "house"
        if ours and source.talk_switch is None and source.id not in stated:
            yield Finding(
                at=source.where,
                says=sentence("What switch {source} has is not stated.", source=source.name),
                severity="unknown",
            )


def open_at_start(view: View) -> Iterator[Finding]:
    """The scene that starts the show does not mute a talk microphone that can stay open.

    Why: laid on the desk after the sound check with its switch on, it puts the hall into every ear
        from the first bar.
    Fix: mute it in that scene, or give it a switch that opens only while it is held.
    Source: common practice, no source.

    Fails:
        sources: [{id: talk, name: Band talk, family: talk, talk_switch: latching}]
        gear: [{id: mixer, type: mixer-rack-24}]
        scenes: [{id: start, name: Doors, starts_show: true, recalls: [mutes]}]
    Passes:
        sources: [{id: talk, name: Band talk, family: talk, talk_switch: latching}]
        gear: [{id: mixer, type: mixer-rack-24}]
        scenes: [{id: start, name: Doors, starts_show: true, recalls: [mutes], mutes: [talk]}]
    """
    momentary = {talk.from_ for talk in view.rig.file.talk if talk.switch == "momentary"}
    for scene in view.rig.file.scenes:
        muted = {name for given in scene.mutes for name in view.rig.members(given)}
        left = [
            source.name
            for source in view.rig.file.sources
            if source.family == "talk"
            and source.talk_switch != "momentary"
            and source.id not in momentary | muted
        ]
        if scene.starts_show and left:
            yield Finding(
                at=scene.where,
                says=sentence(
                    "The scene {scene} starts the show and does not mute {names}.",
                    scene=scene.name or scene.id,
                    names=some(left),
                ),
            )


RULES = (
    Rule(id="talk.nobody-from-house", severity="risk", check=nobody_from_house, since="0.1"),
    Rule(id="talk.nobody-from-band", severity="risk", check=nobody_from_band, since="0.1"),
    Rule(id="talk.promise-not-kept", severity="risk", check=promise_not_kept, since="0.1"),
    Rule(id="talk.stays-open", severity="risk", check=stays_open, since="0.1"),
    Rule(id="talk.switch-not-stated", severity="unknown", check=switch_not_stated, since="0.1"),
    Rule(id="talk.open-at-start", severity="risk", check=open_at_start, since="0.1"),
)
