"""Rules about delay: the own sound too late, a source that meets itself, delays nobody stated."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.physics.latency_bounds import SINGER_CEILING_MS
from rigproof.rig.where import Where
from rigproof.signal.delay import LISTENERS_DIFFER, Comb, OwnSound, parallel_comb
from rigproof.signal.words import person
from rigproof.wording import opening, rounded, some
from rigproof.wording.sentences import sentence

# Common practice, no source: a copy 10 dB below its sound dips by 3 dB and is taken for colour.
WEAK_COPY_DB = -10.0


def _at(view: View, name: str) -> Where:
    who = view.rig.people[name]
    return who.ears.where if who.ears is not None else who.where


def _left_out(own: OwnSound) -> str:
    left = own.latency.left_out
    return sentence(" {what} comes on top.", what=opening(left[0])) if left else ""


def own_voice(view: View) -> Iterator[Finding]:
    """A singer's own voice comes back so late that it turns hollow.

    Why: the voice reaches the singer's ear through bone at once and from the earphone a little
        later: the two cancel at some pitches, and the voice sounds hollow or doubled.
    Fix: fewer conversions on the way: no second box in digital, a shorter network setting, an
        analogue wireless link, or the voice straight from the preamp.
    Source: training text of a console maker, 5 ms for singers; Lester and Boley 2007, table 1,
        in-ear voice: good up to 1 ms, fair up to 6.5 ms. Listeners differ.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: pack.phones, earphones: earphones-dual}}]
        sources: [{id: voice, name: Voice, family: voices, player: ana, from: rx.out.1}]
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: rx, type: receiver-mic-dual}
          - {id: tx, type: transmitter-ears-digital-2}
          - {id: pack, type: pack-wireless-digital}
        leads:
          - {id: in, type: lead-xlr, from: rx.out.1, to: mixer.in.1}
          - {id: out, type: lead-xlr, from: mixer.out.1-2, to: tx.in.1-2}
        patch: [{source: voice, channel: 1}]
        radio: [{id: radio, from: tx.rf.1, to: pack.rf}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2,
             sends: [{from: voice}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: pack.phones, earphones: earphones-dual}}]
        sources: [{id: voice, name: Voice, family: voices, player: ana, mic: mic-vocal-dynamic}]
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: tx, type: transmitter-ears}
          - {id: pack, type: pack-wireless}
        leads: [{id: out, type: lead-xlr, from: mixer.out.1-2, to: tx.in.1-2}]
        patch: [{source: voice, plug: mixer.in.1, channel: 1}]
        radio: [{id: radio, from: tx.rf, to: pack.rf}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2,
             sends: [{from: voice}]}
    """
    for own in view.delays.own:
        delay_ms = own.latency.shortest.delay_ms
        if own.bone is None or delay_ms <= SINGER_CEILING_MS:
            continue
        who = own.latency.listener
        against = sentence(
            "first notch at {first_notch_hz:.0f} Hz against the bone",
            first_notch_hz=own.bone.first_notch_hz,
        )
        if own.acoustic is not None:
            against += sentence(
                ", {first_notch_hz:.0f} Hz against the air round the head",
                first_notch_hz=own.acoustic.first_notch_hz,
            )
        yield Finding(
            at=_at(view, who),
            says=sentence(
                "{source} is {delay_ms} ms late in {person}'s ears: {against}.{left_out} "
                "{listeners_differ}",
                source=own.source.name,
                delay_ms=rounded(delay_ms),
                person=person(view.rig, who),
                against=against,
                left_out=_left_out(own),
                listeners_differ=LISTENERS_DIFFER,
            ),
            found=delay_ms,
            limit=SINGER_CEILING_MS,
            unit="ms",
        )


def over_bound(view: View) -> Iterator[Finding]:
    """A player's own instrument is later than critical listeners called fair.

    Why: whoever hears the own stroke late plays ahead of it, and the band with him.
    Fix: fewer conversions on the way, a shorter network setting, or this source straight to this
        player's mix.
    Source: Lester and Boley 2007, AES paper 7198, table 1, the bounds of "fair". Listeners differ.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: far.phones, earphones: earphones-dual}}]
        sources: [{id: git, name: Guitar, family: guitar, player: ana, mic: mic-instrument-dynamic}]
        gear:
          - {id: box, type: stage-box-16x8-network}
          - {id: far, type: mixer-rack-24}
          - {id: card, type: card-network-audio-32, inside: far}
        leads: [{id: slot, type: adapter-card-slot, from: far.card, to: card.slot}]
        streams: [{id: s, from: box.net.tx.1, to: card.net.rx.1, latency_ms: 20}]
        patch: [{source: git, plug: box.in.1, channel: 1}]
        routes: [{from: far.card.rx.1, to: far.ch.1}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: far.phones.1-2,
             sends: [{from: git}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: far.phones, earphones: earphones-dual}}]
        sources: [{id: git, name: Guitar, family: guitar, player: ana, mic: mic-instrument-dynamic}]
        gear:
          - {id: box, type: stage-box-16x8-network}
          - {id: far, type: mixer-rack-24}
          - {id: card, type: card-network-audio-32, inside: far}
        leads: [{id: slot, type: adapter-card-slot, from: far.card, to: card.slot}]
        streams: [{id: s, from: box.net.tx.1, to: card.net.rx.1, latency_ms: 1}]
        patch: [{source: git, plug: box.in.1, channel: 1}]
        routes: [{from: far.card.rx.1, to: far.ch.1}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: far.phones.1-2,
             sends: [{from: git}]}
    """
    late: dict[tuple[str, float], list[OwnSound]] = {}
    for own in view.delays.own:
        if own.verdict == "late" and own.fair_ms is not None and own.bone is None:
            late.setdefault((own.latency.listener, own.fair_ms), []).append(own)
    for (who, fair_ms), sounds in late.items():
        worst = max(sounds, key=lambda own: own.latency.shortest.delay_ms)
        delay_ms = worst.latency.shortest.delay_ms
        names = some(own.source.name for own in sounds)
        yield Finding(
            at=_at(view, who),
            says=sentence(
                "{names} {word} {delay_ms} ms late for {person}, who plays "
                "{word2}.{left_out} {listeners_differ}",
                names=names,
                word=sentence("is") if len(sounds) == 1 else sentence("are"),
                delay_ms=rounded(delay_ms),
                person=person(view.rig, who),
                word2=sentence("it") if len(sounds) == 1 else sentence("them"),
                left_out=_left_out(worst),
                listeners_differ=LISTENERS_DIFFER,
            ),
            found=delay_ms,
            limit=fair_ms,
            unit="ms",
        )


def parallel_ways(view: View) -> Iterator[Finding]:
    """A source reaches one ear, or the house, by two ways of unequal length.

    Why: the two copies cancel at some pitches and add at others: a comb, heard as a hollow or
        metallic sound that no equaliser takes away.
    Fix: take the source out of one of the two ways, or delay the shorter one by the difference.
    Source: comb filter, acoustics textbooks; copies of 10 dB less are let pass, common practice,
        no source.

    Fails:
        rig: {name: Two ways, mixer: mixer}
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-dual}}]
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: 110}]
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: reverb, type: mixer-rack-12}
        patch: [{source: voice, plug: mixer.in.1, channel: 1, gain_db: 20}]
        leads:
          - {id: there, type: lead-xlr, from: mixer.out.1, to: reverb.in.1}
          - {id: back, type: lead-xlr, from: reverb.out.1, to: mixer.in.2}
        settings: [{at: reverb.pre.1, gain_db: 0}, {at: mixer.pre.2, gain_db: 0}]
        routes:
          - {from: mixer.ch.1, to: mixer.dac.1}
          - {from: reverb.adc.1, to: reverb.dac.1}
          - {from: mixer.adc.2, to: mixer.ch.2}
          - {from: mixer.ch.2, to: mixer.bus.1}
        mixes:
          - {id: ana, listeners: [ana], bus: 1, out: mixer.phones.1-2, sends: [{from: voice}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-dual}}]
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: 110}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: voice, plug: mixer.in.1, channel: 1, gain_db: 20}]
        mixes:
          - {id: ana, listeners: [ana], bus: 1, out: mixer.phones.1-2, sends: [{from: voice}]}
    """
    alike: dict[tuple[str, float], list[str]] = {}
    combs: dict[tuple[str, float], Comb] = {}
    for (source, who), latency in view.delays.table.items():
        comb = latency.comb
        if comb is not None and _heard(comb):
            key = (source, round(comb.apart_ms, 3))
            alike.setdefault(key, []).append(person(view.rig, who))
            combs[key] = comb
    for (source, _), people in alike.items():
        yield _meets(
            view, source, sentence("the ears of {names}", names=some(people)), combs[source, _]
        )
    yield from _at_the_house(view)


def _at_the_house(view: View) -> Iterator[Finding]:
    for venue, source, comb in desk_combs(view):
        if _heard(comb):
            yield _meets(
                view, source, sentence("the desk of {venue} on two lines", venue=venue), comb
            )


def desk_combs(view: View) -> Iterator[tuple[str, str, Comb]]:
    """Venue, source and comb where two lines of one hand-off carry the same sound.

    Their desk mixes them together. Venues that are handed the same lines are told of once.
    """
    told: set[tuple[str, tuple[int, ...]]] = set()
    for hand in view.hand_offs:
        lines: dict[tuple[str, int], list[int]] = {}
        for line in hand.used:
            if line.source is not None:
                lines.setdefault((line.source.id, line.lane), []).append(line.number)
        for (source, _), numbers in lines.items():
            keys = [f"house.{n}" for n in numbers if f"house.{n}" in view.graph.index]
            if len(keys) < 2 or (source, tuple(numbers)) in told:
                continue
            told.add((source, tuple(numbers)))
            ways = [view.delays.at_places([view.graph.index[key]]) for key in keys]
            here = sorted((w[source][0] for w in ways if source in w), key=lambda w: w.delay_ms)
            comb = parallel_comb(here[0], here[-1]) if len(here) > 1 else None
            if comb is not None:
                yield hand.venue.name, source, comb


def _heard(comb: Comb) -> bool:
    return comb.copy_db is None or comb.copy_db > WEAK_COPY_DB


def _meets(view: View, source: str, where: str, comb: Comb) -> Finding:
    row = view.rig.rows.get(source)
    if comb.depth_db is None:
        deep = sentence("how deep, nobody can say without the gains")
    elif comb.depth_db < -40:
        deep = sentence("and they are equally loud")
    else:
        deep = sentence("notches {depth_db} dB deep", depth_db=rounded(-comb.depth_db))
    return Finding(
        at=row.where if row is not None else view.rig.sources[source].where,
        says=sentence(
            "{source} reaches {where} twice, {apart_ms} ms apart: first notch at "
            "{first_notch_hz:.0f} Hz, {deep}.",
            source=view.rig.sources[source].name,
            where=where,
            apart_ms=rounded(comb.apart_ms),
            first_notch_hz=comb.first_notch_hz,
            deep=deep,
        ),
        found=comb.apart_ms,
        limit=0,
        unit="ms apart",
    )


def unknown_delay(view: View) -> Iterator[Finding]:
    """A delay that counts is not stated.

    Why: the sum without it looks better than it is.
    Fix: write delay_ms in the gear type, or latency_ms of the stream, from the data sheet.
    Source: common practice, no source.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-dual}}]
        sources: [{id: git, name: Guitar, family: guitar, player: ana, mic: mic-instrument-dynamic}]
        gear:
          - {id: box, type: stage-box-16x8-network}
          - {id: mixer, type: mixer-rack-24}
          - {id: card, type: card-network-audio-32, inside: mixer}
        leads: [{id: slot, type: adapter-card-slot, from: mixer.card, to: card.slot}]
        streams: [{id: s, from: box.net.tx.1, to: card.net.rx.1}]
        patch: [{source: git, plug: box.in.1, channel: 1}]
        routes: [{from: mixer.card.rx.1, to: mixer.ch.1}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: git}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-dual}}]
        sources: [{id: git, name: Guitar, family: guitar, player: ana, mic: mic-instrument-dynamic}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: git, plug: mixer.in.1, channel: 1}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: git}]}
    """
    waiting: dict[str, dict[str, None]] = {}
    for (_, who), latency in view.delays.table.items():
        for figure in latency.missing:
            waiting.setdefault(figure, {})[who] = None
    for figure, people in waiting.items():
        yield Finding(
            at=_at(view, next(iter(people))),
            says=sentence(
                "What {names} hear{word} is late by an unknown time: {figure} is not stated.",
                names=some(person(view.rig, p) for p in people),
                word="s" * (len(people) == 1),
                figure=figure,
            ),
        )


RULES = (
    Rule(id="delay.own-voice", severity="risk", check=own_voice, since="0.1"),
    Rule(id="delay.over-bound", severity="risk", check=over_bound, since="0.1"),
    Rule(id="delay.parallel-ways", severity="risk", check=parallel_ways, since="0.1"),
    Rule(id="delay.unknown", severity="unknown", check=unknown_delay, since="0.1"),
)
