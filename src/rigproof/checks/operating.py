"""Rules about running the rig: who may turn what, what works without, in which order it starts."""

from collections.abc import Iterator

from rigproof.checks.playing import players
from rigproof.checks.rule import Finding, Rule, View
from rigproof.mains.outlets import feeds
from rigproof.network.cabling import HANDS_ON
from rigproof.rig.equipment import MainsFeed
from rigproof.signal.words import box
from rigproof.wording import some
from rigproof.wording.sentences import sentence


def no_kill(view: View) -> Iterator[Finding]:
    """Nothing says how everything is made silent when no app and no button obeys.

    Why: a desk froze with a roar, and no mute worked until somebody found the plug.
    Fix: agree on one switch or plug that a hand finds in the dark, who goes for it, and how many
        minutes the start takes afterwards; write it as kill under control.
    Source: common practice, no source; taken from an account of a frozen desk.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        gear: [{id: mixer, type: mixer-rack-24}]
        control: {wired_fallback: true}
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, date: 2027-05-08, venue: hall}]
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        gear: [{id: mixer, type: mixer-rack-24}]
        control: {wired_fallback: true, kill: Ana switches the strip off}
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, date: 2027-05-08, venue: hall}]
    """
    control = view.rig.file.control
    wearers = any(who.ears is not None for who in view.rig.file.people)
    if control is not None and not control.kill and wearers and view.rig.file.shows:
        yield Finding(
            at=control.where,
            says=sentence(
                "Nothing says what makes all ears silent when the mixer no longer obeys."
            ),
        )


def works_without_unsaid(view: View) -> Iterator[Finding]:
    """Nothing says what still works when the control is gone.

    Why: half the band takes its ears out although all of them still play; the other half waits for
        a fader that nobody can move.
    Fix: switch the router off at a rehearsal, see what goes on, and write works_without.
    Source: common practice, no source.

    Fails:
        gear: [{id: router, type: router-wifi}]
        control: {access_point: router, band: 5 GHz}
    Passes:
        gear: [{id: router, type: router-wifi}]
        control: {access_point: router, band: 5 GHz, works_without: "ears run on, no levels"}
    """
    control = view.rig.file.control
    if (
        control is not None
        and not control.works_without
        and (control.access_point is not None or control.band is not None)
    ):
        yield Finding(
            at=control.where, says=sentence("Nothing says what still works when the Wi-Fi is gone.")
        )


def join_not_tried(view: View) -> Iterator[Finding]:
    """Nobody tried whether a stranger gets on the control Wi-Fi.

    Why: a password had been set, the box took it only after another switch was thrown, and for
        weeks anybody in the room could move the faders.
    Fix: with a telephone that was never on it, try to join with no password and with a wrong one;
        write the day as join_tried.
    Source: common practice, no source; taken from an account of an open mixer.

    Fails:
        gear: [{id: router, type: router-wifi}]
        control: {access_point: router, band: 5 GHz, works_without: ears run on}
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, date: 2027-05-08, venue: hall}]
    Passes:
        gear: [{id: router, type: router-wifi}]
        control:
          {access_point: router, band: 5 GHz, works_without: ears run on, join_tried: 2027-02-11}
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, date: 2027-05-08, venue: hall}]
    """
    control = view.rig.file.control
    if control is None or control.join_tried or not view.rig.file.shows:
        return
    if control.access_point is not None:
        yield Finding(
            at=control.where,
            says=sentence(
                "Nobody wrote that {box} keeps strangers out.",
                box=box(view.rig, control.access_point),
            ),
        )


def address_unstated(view: View) -> Iterator[Finding]:
    """Some boxes of the control network have a written address and others not.

    Why: the one that takes whatever it is given answers on another number after every start, and
        tablets do not find it.
    Fix: set a fixed address in the box, write it, and put it on the card in the lid.
    Source: common practice, no source.

    Fails:
        gear:
          - {id: router, name: Router, type: router-wifi, address: 10.47.3.1}
          - {id: mixer, name: Mixer, type: mixer-rack-24}
        leads:
          - {id: control, type: lead-network-plain, from: mixer.control, to: router.port.1}
    Passes:
        gear:
          - {id: router, name: Router, type: router-wifi, address: 10.47.3.1}
          - {id: mixer, name: Mixer, type: mixer-rack-24, address: 10.47.3.2}
        leads:
          - {id: control, type: lead-network-plain, from: mixer.control, to: router.port.1}
    """
    rig = view.rig
    for gear in rig.file.gear:
        if rig.types[gear.type].class_ not in HANDS_ON:
            continue
        near = [
            far
            for link in view.cables.at.get(gear.id, ())
            if (far := view.cables.beyond(link, gear.id).gear) in rig.gear
        ]
        known = [name for name in (gear.id, *near) if rig.gear[name].address]
        silent = [name for name in dict.fromkeys(near) if not rig.gear[name].address]
        if known and silent:
            yield Finding(
                at=rig.gear[silent[0]].where,
                says=sentence(
                    "On {box} {names} {word} no written address.",
                    box=box(rig, gear.id),
                    names=some(box(rig, name) for name in silent),
                    word=sentence("has") if len(silent) == 1 else sentence("have"),
                ),
            )


def gain_without_owner(view: View) -> Iterator[Finding]:
    """Nobody is named who alone turns the gain.

    Why: somebody mixes with the input gain, and every ear that hangs on the preamp jumps in the
        middle of a song.
    Fix: write gain_owner under rig, and agree that nobody turns gain once the line check is done.
    Source: common practice, no source: one owner for each preamp.

    Fails:
        people:
          - {id: ana, name: Ana, ears: {plug: mixer.phones}}
          - {id: ben, name: Ben, ears: {plug: amp.phones.1}}
        gear: [{id: mixer, type: mixer-rack-24}, {id: amp, type: headphone-amp-4}]
        control: {wired_fallback: true, works_without: ears run on}
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, date: 2027-05-08, venue: hall}]
    Passes:
        rig: {name: Example, gain_owner: ana}
        people:
          - {id: ana, name: Ana, ears: {plug: mixer.phones}}
          - {id: ben, name: Ben, ears: {plug: amp.phones.1}}
        gear: [{id: mixer, type: mixer-rack-24}, {id: amp, type: headphone-amp-4}]
        control: {wired_fallback: true, works_without: ears run on}
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, date: 2027-05-08, venue: hall}]
    """
    rig = view.rig
    wearers = [who for who in rig.file.people if who.ears is not None]
    if rig.about.gain_owner is not None or rig.file.control is None or rig.mixer is None:
        return
    if view.show is not None:
        return  # who is away that night is told by the show
    if len(wearers) > 1 and rig.file.shows and any(rig.type_of(rig.mixer.id).stages("preamp")):
        yield Finding(
            at=rig.about.where,
            says=sentence(
                "{wearers} people hear through the preamps of {box}, and nobody is named "
                "who alone turns them.",
                wearers=len(wearers),
                box=box(rig, rig.mixer.id),
            ),
        )


def _steps(view: View) -> tuple[dict[str, MainsFeed], int | None]:
    """Box -> its feed where that has a step, and the step of the band's own mixer."""
    stepped = {feed.gear: feed for feed in feeds(view.rig) if feed.step is not None}
    mixer = view.rig.mixer
    own = stepped.get(mixer.id) if mixer is not None else None
    return stepped, own.step if own is not None else None


def amplifier_first(view: View) -> Iterator[Finding]:
    """An amplifier for ears is switched on before the mixer.

    Why: it plays the thump of everything that starts after it, into ears that may be in already.
    Fix: amplifiers and transmitters last on, and first off.
    Source: common practice, no source.

    Fails:
        gear:
          - {id: strip, type: strip-c13-8}
          - {id: mixer, name: Mixer, type: mixer-rack-24}
          - {id: amp, name: Amplifier, type: headphone-amp-4}
        power:
          feeds:
            - {gear: amp, outlet: strip.outlet.1, step: 1}
            - {gear: mixer, outlet: strip.outlet.2, step: 2}
    Passes:
        gear:
          - {id: strip, type: strip-c13-8}
          - {id: mixer, name: Mixer, type: mixer-rack-24}
          - {id: amp, name: Amplifier, type: headphone-amp-4}
        power:
          feeds:
            - {gear: mixer, outlet: strip.outlet.2, step: 1}
            - {gear: amp, outlet: strip.outlet.1, step: 2}
    """
    yield from _before(view, frozenset({"headphone-amp", "transmitter"}))


def player_first(view: View) -> Iterator[Finding]:
    """What plays the tracks is switched on before the mixer.

    Why: it takes the rate that it finds, and where the clock comes later it keeps the wrong one:
        the second set runs slow and low.
    Fix: start it after the mixer and the stage boxes, connect it last, and play a known tone.
    Source: common practice, no source; taken from an account of a stage box that was restarted.

    Fails:
        sources: [{id: click, name: Click, family: click, from: playback.out.1}]
        gear:
          - {id: strip, type: strip-c13-8}
          - {id: mixer, name: Mixer, type: mixer-rack-24}
          - {id: playback, name: Playback, type: interface-8x8}
        power:
          feeds:
            - {gear: playback, outlet: strip.outlet.1, step: 1}
            - {gear: mixer, outlet: strip.outlet.2, step: 2}
    Passes:
        sources: [{id: click, name: Click, family: click, from: playback.out.1}]
        gear:
          - {id: strip, type: strip-c13-8}
          - {id: mixer, name: Mixer, type: mixer-rack-24}
          - {id: playback, name: Playback, type: interface-8x8}
        power:
          feeds:
            - {gear: mixer, outlet: strip.outlet.2, step: 1}
            - {gear: playback, outlet: strip.outlet.1, step: 2}
    """
    starts = {
        source.start.gear
        for source in view.rig.file.sources
        if source.family in {"playback", "click", "cue"} and source.start is not None
    }
    yield from _before(view, frozenset(), starts | players(view))


def _before(
    view: View, classes: frozenset[str], boxes: frozenset[str] | set[str] = frozenset()
) -> Iterator[Finding]:
    stepped, mixer_step = _steps(view)
    for name, feed in stepped.items():
        wanted = name in boxes or view.rig.type_of(name).class_ in classes
        if wanted and mixer_step is not None and feed.step is not None and feed.step < mixer_step:
            yield Finding(
                at=feed.where.of("step"),
                says=sentence(
                    "{box} is switched on in step {step}, before the mixer in step {mixer_step}.",
                    box=box(view.rig, name),
                    step=feed.step,
                    mixer_step=mixer_step,
                ),
            )


RULES = (
    Rule(id="control.no-kill", severity="advice", check=no_kill, since="0.1"),
    Rule(
        id="control.works-without-unsaid",
        severity="advice",
        check=works_without_unsaid,
        since="0.1",
    ),
    Rule(id="control.join-not-tried", severity="advice", check=join_not_tried, since="0.1"),
    Rule(id="address.unstated", severity="advice", check=address_unstated, since="0.1"),
    Rule(id="gain.without-owner", severity="advice", check=gain_without_owner, since="0.1"),
    Rule(id="sequence.amplifier-first", severity="risk", check=amplifier_first, since="0.1"),
    Rule(id="sequence.player-first", severity="advice", check=player_first, since="0.1"),
)
