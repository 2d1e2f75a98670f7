"""Rules about stereo sources: both sides, on the right channels, the right way round."""

from collections.abc import Iterator

from rigproof.checks.landing import claims, every_claim, landed_lanes, on_mixer
from rigproof.checks.rule import Finding, Rule, View
from rigproof.signal.words import box, place
from rigproof.wording import counted, noun
from rigproof.wording.sentences import sentence


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
    for claim in every_claim(view):
        source, channel = claim.source, claim.channel
        if len(channel) != source.lanes:
            kind = sentence("a stereo pair") if source.stereo else sentence("mono")
            yield Finding(
                at=claim.at,
                says=sentence(
                    "{source} is {kind} and has {channels} ({channel}){on_mixer}.",
                    source=source.name,
                    kind=kind,
                    channels=counted(len(channel), "channel"),
                    channel=channel,
                    on_mixer=on_mixer(view, claim),
                ),
                found=len(channel),
                limit=source.lanes,
                unit=noun(len(channel), "channel"),
            )
        elif source.stereo and claim.bank.pairs and channel.first % 2 == 0:
            yield Finding(
                at=claim.at,
                says=sentence(
                    "{source} is on channels {channel}; {box} links only an odd channel with "
                    "the even one after it.",
                    source=source.name,
                    channel=channel,
                    box=box(view.rig, claim.mixer),
                ),
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
    landed = landed_lanes(view)
    for claim in claims(view):
        if len(claim.channel) != 2:
            continue
        here = set(landed.get((claim.mixer, claim.source.id), ()))
        first, last = claim.channel.first, claim.channel.last
        if {(first, 2), (last, 1)} <= here and (first, 1) not in here:
            one, two = claim.source.lane_names[:2]
            yield Finding(
                at=claim.at,
                says=sentence(
                    "{one} arrives at channel {last} and {two} at channel {first}{on_mixer}: "
                    "swapped.",
                    one=one,
                    last=last,
                    two=two,
                    first=first,
                    on_mixer=on_mixer(view, claim),
                ),
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
    landed = landed_lanes(view)
    for claim in claims(view):
        row, source = claim.row, claim.source
        lanes = {lane for _, lane in landed.get((claim.mixer, source.id), ())}
        if source.stereo and len(lanes) == 1:
            have, lost = (source.lane_names[n - 1] for n in (*lanes, 3 - min(lanes)))
            plug = row.plug
            if plug is not None and plug.numbers is not None and plug.numbers[0] == plug.numbers[1]:
                number = plug.numbers[0]
                yield Finding(
                    at=row.where.of("plug"),
                    says=sentence(
                        "{source} is a stereo pair, and is plugged in one socket, {place}: "
                        "{lost} does not arrive at the mixer.",
                        source=source.name,
                        place=place(view.rig, plug),
                        lost=lost,
                    ),
                    fix=sentence(
                        "Name both sockets, such as {gear}.{bank}.{number}-{number2}, or make "
                        "the source mono.",
                        gear=plug.gear,
                        bank=plug.bank,
                        number=number,
                        number2=number + 1,
                    ),
                    found=1,
                    limit=2,
                    unit="socket",
                )
                continue
            yield Finding(
                at=row.where,
                says=sentence(
                    "{have} arrives at the mixer and {lost} does not.", have=have, lost=lost
                ),
                found=1,
                limit=2,
                unit="lane",
            )


RULES = (
    Rule(id="patch.pair-not-odd-even", severity="risk", check=pair_not_odd_even, since="0.1"),
    Rule(id="patch.pair-crossed", severity="risk", check=pair_crossed, since="0.1"),
    Rule(id="patch.pair-halved", severity="risk", check=pair_halved, since="0.1"),
)
