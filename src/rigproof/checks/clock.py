"""Rules about the sample clock: one leader for all boxes whose samples meet."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.network import Domain, follows, ring
from rigproof.rig import Rig, Where
from rigproof.signal.words import box
from rigproof.wording import listed, some
from rigproof.wording.sentences import Figure, sentence


def _at(rig: Rig, gear: str) -> Where:
    entry = follows(rig).get(gear)
    return entry.where if entry is not None else rig.gear[gear].where


def _names(view: View, boxes: tuple[str, ...]) -> str:
    return listed(box(view.rig, name) for name in boxes)


def _circles(view: View) -> list[tuple[str, ...]]:
    """The rings of followers, each once."""
    clocks = follows(view.rig)
    found = {ring(clocks, gear) for gear in clocks}
    return sorted(circle for circle in found if circle)


def no_leader(view: View) -> Iterator[Finding]:
    """Boxes that must share a clock have nobody to lead it.

    Why: a box that follows nobody's clock stays silent or clicks, and takes the others with it.
    Fix: name one box that can lead under clocks, without "follows", and let the others follow it.
    Source: AES11 (one reference for all interconnected digital audio equipment).

    Fails:
        gear:
          - {id: a, type: stage-box-8x8}
          - {id: b, type: stage-box-8x8}
        leads: [{id: link, type: lead-network-locking, from: a.link, to: b.link}]
    Passes:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: box, type: stage-box-16x8}
        leads: [{id: link, type: lead-network-locking, from: box.link, to: mixer.link}]
        clocks: [{gear: mixer, rate_hz: 48000}]
    """
    circling = {gear for circle in _circles(view) for gear in circle}
    for domain in view.clock_domains:
        if domain.heads or circling.intersection(domain.boxes):
            continue
        if not domain.could_lead:
            yield Finding(
                at=_at(view.rig, domain.boxes[0]),
                says=sentence(
                    "{names} must share one clock, and none of them can lead it.",
                    names=_names(view, domain.boxes),
                ),
            )
        elif domain.clocks:
            first = next(iter(domain.clocks))
            yield Finding(
                at=_at(view.rig, first),
                says=sentence(
                    "Nobody leads the clock of {names}: {box} follows {leader}, which is not "
                    "joined to them.",
                    names=_names(view, domain.boxes),
                    box=box(view.rig, first),
                    leader=_leader(view, first),
                ),
            )


def _leader(view: View, gear: str) -> str:
    return box(view.rig, follows(view.rig)[gear].follows or gear)


def two_leaders(view: View) -> Iterator[Finding]:
    """Two boxes lead the clock where there may be one.

    Why: two free clocks drift apart by a sample every second or so; each slip is a click, and
        it is found at the gig because the rehearsal was too short to hear it.
    Fix: keep one leader; give every other box "follows" and the way the clock takes.
    Source: AES11; symptom and cure are common practice, no source.

    Fails:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: card, type: card-network-audio-32}
        leads: [{id: slot, type: adapter-card-slot, from: mixer.card, to: card.slot}]
        clocks:
          - {gear: mixer, rate_hz: 48000}
          - {gear: card, rate_hz: 48000}
    Passes:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: card, type: card-network-audio-32}
        leads: [{id: slot, type: adapter-card-slot, from: mixer.card, to: card.slot}]
        clocks:
          - {gear: mixer, rate_hz: 48000}
          - {gear: card, follows: mixer, rate_hz: 48000}
    """
    for domain in view.clock_domains:
        if len(domain.heads) > 1:
            yield Finding(
                at=_at(view.rig, domain.heads[1]),
                says=sentence(
                    "{names} each lead their own clock, and their samples meet{meeting}.",
                    names=_names(view, domain.heads),
                    meeting=_meeting(view, domain),
                ),
            )


def _meeting(view: View, domain: Domain) -> str:
    others = tuple(name for name in domain.boxes if name not in domain.heads)
    return (
        sentence(" in {names}", names=some(box(view.rig, name) for name in others))
        if others
        else ""
    )


def circle(view: View) -> Iterator[Finding]:
    """Clocks follow one another in a ring.

    Why: nobody leads, so the rate wanders off until every box drops out.
    Fix: take "follows" away from the box that shall lead.
    Source: AES11 (one reference for all).

    Fails:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: card, type: card-network-audio-32}
        leads: [{id: slot, type: adapter-card-slot, from: mixer.card, to: card.slot}]
        clocks:
          - {gear: mixer, follows: card, rate_hz: 48000}
          - {gear: card, follows: mixer, rate_hz: 48000}
    Passes:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: card, type: card-network-audio-32}
        leads: [{id: slot, type: adapter-card-slot, from: mixer.card, to: card.slot}]
        clocks:
          - {gear: mixer, rate_hz: 48000}
          - {gear: card, follows: mixer, rate_hz: 48000}
    """
    for found in _circles(view):
        if len(found) == 1:
            says = sentence("{box} follows its own clock.", box=box(view.rig, found[0]))
        else:
            says = sentence(
                "{names} follow each other's clock in a ring: nobody leads.",
                names=_names(view, found),
            )
        yield Finding(at=_at(view.rig, found[0]), says=says)


def rates_differ(view: View) -> Iterator[Finding]:
    """Joined boxes are set to different sample rates.

    Why: 48 kHz material played on a 44.1 kHz clock is slow and 1.5 semitones flat; most boxes
        simply stay silent.
    Fix: set one rate on all of them, or put a box with a rate converter between.
    Source: Derived from the ratio of the rates, 12 log2(44.1 / 48) = -1.47 semitones.

    Fails:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: box, type: stage-box-16x8}
        leads: [{id: link, type: lead-network-locking, from: box.link, to: mixer.link}]
        clocks:
          - {gear: mixer, rate_hz: 48000}
          - {gear: box, follows: mixer, rate_hz: 44100}
    Passes:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: box, type: stage-box-16x8}
        leads: [{id: link, type: lead-network-locking, from: box.link, to: mixer.link}]
        clocks:
          - {gear: mixer, rate_hz: 48000}
          - {gear: box, follows: mixer, rate_hz: 48000}
    """
    for domain in view.clock_domains:
        stated = [name for name in domain.boxes if name in domain.clocks]
        if not stated:
            continue
        first = next((name for name in domain.heads if name in domain.clocks), stated[0])
        rate_hz = domain.clocks[first].rate_hz
        for name in stated:
            own_hz = domain.clocks[name].rate_hz
            if own_hz != rate_hz:
                yield Finding(
                    at=domain.clocks[name].where.of("rate_hz"),
                    says=sentence(
                        "{box} is set to {own_hz:g} kHz and {box2}, which it is joined to, to "
                        "{rate_hz:g} kHz.",
                        box=box(view.rig, name),
                        own_hz=own_hz / 1000,
                        box2=box(view.rig, first),
                        rate_hz=rate_hz / 1000,
                    ),
                    found=float(own_hz),
                    limit=float(rate_hz),
                    unit="Hz",
                )


def cannot_hear(view: View) -> Iterator[Finding]:
    """A box follows a clock that has no way to it.

    Why: it falls back to its own clock without a word, and clicks or stays silent.
    Fix: lay the link or clock lead that is missing, or let it follow a box that it is joined to.
    Source: AES11 (the reference must be distributed to every box).

    Fails:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: interface, type: interface-8x8}
        clocks:
          - {gear: mixer, rate_hz: 48000}
          - {gear: interface, follows: mixer, rate_hz: 48000}
    Passes:
        gear:
          - {id: master, type: clock-generator}
          - {id: interface, type: interface-8x8}
        leads: [{id: wc, type: lead-word-clock, from: master.out.1, to: interface.clock}]
        clocks:
          - {gear: master, rate_hz: 48000}
          - {gear: interface, follows: master, over: word clock, rate_hz: 48000}
    """
    heard: dict[str, frozenset[str]] = {}
    for gear, entry in follows(view.rig).items():
        if entry.follows is None or entry.follows == gear:
            continue
        if entry.follows not in heard:
            heard[entry.follows] = view.clock_ways.heard_at(entry.follows)
        if gear in view.rig.gear and gear not in heard[entry.follows]:
            yield Finding(
                at=entry.where.of("follows"),
                says=sentence(
                    "{box} shall follow the clock of {box2}, and no link leads from there to it.",
                    box=box(view.rig, gear),
                    box2=box(view.rig, entry.follows),
                ),
            )


def beyond_ability(view: View) -> Iterator[Finding]:
    """A box is told to lead, or to follow, and cannot.

    Why: the setting does not exist on the box; it does what it always does, and two clocks run.
    Fix: swap the parts, or check the data sheet and correct the gear type.
    Source: the clock abilities of the gear type.

    Fails:
        gear: [{id: box, type: stage-box-16x8}]
        clocks: [{gear: box, rate_hz: 48000}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}]
        clocks: [{gear: mixer, rate_hz: 48000}]
    """
    for gear, entry in follows(view.rig).items():
        if gear not in view.rig.gear:
            continue
        ability = view.rig.type_of(gear).clock
        if ability is None:
            yield Finding(
                at=entry.where,
                says=sentence(
                    "{box} has no clock of its own, and is told to lead."
                    if entry.follows is None
                    else "{box} has no clock of its own, and is told to follow another.",
                    box=box(view.rig, gear),
                ),
                fix=sentence("Take the entry out, or add the clock abilities to its gear type."),
            )
        elif not (ability.leads if entry.follows is None else ability.follows):
            yield Finding(
                at=entry.where,
                says=sentence(
                    "{box} is told to lead, and cannot."
                    if entry.follows is None
                    else "{box} is told to follow another, and cannot.",
                    box=box(view.rig, gear),
                ),
            )


def rate_not_offered(view: View) -> Iterator[Finding]:
    """A box is set to a sample rate it does not have.

    Why: it will run at another one, and nothing joined to it will play in tune, or at all.
    Fix: choose a rate that all joined boxes offer; 48 kHz is the usual one.
    Source: the rates of the gear type.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}]
        clocks: [{gear: mixer, rate_hz: 96000}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}]
        clocks: [{gear: mixer, rate_hz: 48000}]
    """
    for gear, entry in follows(view.rig).items():
        ability = view.rig.type_of(gear).clock if gear in view.rig.gear else None
        if ability is not None and entry.rate_hz not in ability.rates_hz:
            offered = listed((Figure(f"{rate / 1000:g}") for rate in ability.rates_hz), "or")
            yield Finding(
                at=entry.where.of("rate_hz"),
                says=sentence(
                    "{box} is set to {rate_hz:g} kHz; it runs at {offered} kHz.",
                    box=box(view.rig, gear),
                    rate_hz=entry.rate_hz / 1000,
                    offered=offered,
                ),
            )


def not_pinned(view: View) -> Iterator[Finding]:
    """The leader of a network's clock is left to an election.

    Why: after a power cut, or when one more box is plugged in, another box may win, and for
        minutes nothing is stable.
    Fix: set the preference on the box that shall lead, and state "pinned: true".
    Source: IEEE 1588 (leadership by election among the boxes on the network).

    Fails:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: card, type: card-network-audio-32}
          - {id: recorder, type: recorder-32}
        leads:
          - {id: slot, type: adapter-card-slot, from: mixer.card, to: card.slot}
          - {id: net, type: lead-network-locking, from: card.net, to: recorder.net}
        clocks:
          - {gear: card, rate_hz: 48000}
          - {gear: mixer, follows: card, rate_hz: 48000}
          - {gear: recorder, follows: card, rate_hz: 48000}
    Passes:
        gear:
          - {id: card, type: card-network-audio-32}
          - {id: recorder, type: recorder-32}
        leads: [{id: net, type: lead-network-locking, from: card.net, to: recorder.net}]
        clocks:
          - {gear: card, rate_hz: 48000, pinned: true}
          - {gear: recorder, follows: card, rate_hz: 48000}
    """
    for domain in view.clock_domains:
        if not domain.by_network or len(domain.could_lead) < 2 or len(domain.heads) != 1:
            continue
        head = domain.heads[0]
        if head not in domain.clocks or not domain.clocks[head].pinned:
            rivals = [box(view.rig, name) for name in domain.could_lead if name != head]
            yield Finding(
                at=_at(view.rig, head),
                says=sentence(
                    "{box} leads the clock of a network by election only; {names} could win it.",
                    box=box(view.rig, head),
                    names=some(rivals),
                ),
            )


def unstated(view: View) -> Iterator[Finding]:
    """Nothing says who leads the clock.

    Why: joined boxes each come from the shop leading their own clock; whether they click can not
        be judged from here.
    Fix: add a line under clocks for each of them: one leads, the others follow.
    Source: AES11 (one reference for all).

    Fails:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: card, type: card-network-audio-32}
        leads: [{id: slot, type: adapter-card-slot, from: mixer.card, to: card.slot}]
    Passes:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: card, type: card-network-audio-32}
        leads: [{id: slot, type: adapter-card-slot, from: mixer.card, to: card.slot}]
        clocks:
          - {gear: mixer, rate_hz: 48000}
          - {gear: card, follows: mixer, rate_hz: 48000}
    """
    for domain in view.clock_domains:
        silent = domain.unstated
        if not domain.clocks and len(silent) > 1:
            yield Finding(
                at=_at(view.rig, silent[0]),
                says=sentence(
                    "{names} are joined digitally, and the file does not say which of them "
                    "leads the clock.",
                    names=_names(view, silent),
                ),
            )
        elif domain.clocks and silent:
            verb = sentence("is") if len(silent) == 1 else sentence("are")
            yield Finding(
                at=_at(view.rig, silent[0]),
                says=sentence(
                    "{names} {verb} joined to a clocked part of the rig, and the file does "
                    "not say whose clock to follow.",
                    names=_names(view, silent),
                    verb=verb,
                ),
            )


RULES = (
    Rule(id="clock.no-leader", severity="stop", check=no_leader, since="0.1"),
    Rule(id="clock.two-leaders", severity="stop", check=two_leaders, since="0.1"),
    Rule(id="clock.ring", severity="stop", check=circle, since="0.1"),
    Rule(id="clock.rates-differ", severity="stop", check=rates_differ, since="0.1"),
    Rule(id="clock.leader-not-heard", severity="stop", check=cannot_hear, since="0.1"),
    Rule(id="clock.beyond-ability", severity="stop", check=beyond_ability, since="0.1"),
    Rule(id="clock.rate-not-offered", severity="stop", check=rate_not_offered, since="0.1"),
    Rule(id="clock.not-pinned", severity="advice", check=not_pinned, since="0.1"),
    Rule(id="clock.unstated", severity="unknown", check=unstated, since="0.1"),
)
