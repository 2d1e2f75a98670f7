"""Rules about hearing: hiss, how loud it can get, and how long it may last by which criterion.

None of them says that a level does no harm. They name a figure and who printed the bound.
"""

from collections.abc import Iterator
from math import ceil, log10

from rigproof.checks.rule import Finding, Rule, View
from rigproof.mixes.exposure import (
    CRITERIA,
    Dose,
    Exposure,
    Occasion,
    day_criterion,
    week_criterion,
)
from rigproof.rig import Rig
from rigproof.rig.band import Person
from rigproof.rig.ref import HOUSE
from rigproof.rig.where import Where
from rigproof.signal.ceilings import EARPHONES
from rigproof.signal.figures import sensitivity_of
from rigproof.signal.sums import EarSum
from rigproof.signal.words import box, person, place
from rigproof.wording import listed, rounded, some
from rigproof.wording.sentences import sentence

# Common practice, no source: amplifiers that hiss above this were returned by those who bought
# them; below it few notice it in a quiet room.
QUIET_DBA = 25.0
# Common practice, no source: a stage while somebody speaks between two songs.
HUSHED_STAGE_DBA = 70.0
LOUDEST_DBA = 115.0  # 29 CFR 1910.95, table G-16: the last row, a quarter of an hour or less
SAME_KNOB_DB = 6.0  # common practice, no source: twice the voltage

_ONE_EAR_RATIO = 4.0  # 6 dB at 3 dB exchange: a quarter of the time


def _at(rig: Rig, who: str) -> Where:
    someone = rig.people[who]
    return someone.ears.where if someone.ears is not None else someone.where


def _certain_hiss(ear: EarSum) -> float | None:
    """The hiss that is there wherever a hand leaves the knobs."""
    return ear.hiss_dba if ear.planned else ear.floor_dba


def _blame(view: View, who: str, ear: EarSum) -> str:
    """What makes most of the hiss; of what hands can turn down, only what lies behind them."""
    hiss = _certain_hiss(ear)
    shares = [s for s in view.ears.shares(who) if hiss is not None and s.spl_dba <= hiss + 0.1]
    return (
        sentence(
            "the {noise} of {place}",
            noise=sentence(shares[0].noise.name),
            place=place(view.rig, shares[0].place),
        )
        if shares
        else sentence("noise")
    )


def hiss_in_quiet_room(view: View) -> Iterator[Finding]:
    """The ears hiss when nobody plays.

    Why: constant hiss that no knob changes sends amplifiers back to the shop, and players turn the
        music up to cover it.
    Fix: less sensitive earphones, a quieter output, or a pad between output and earphones: what
        comes after the noise is the only thing that lowers it, and it lowers the loudest as well.
    Source: common practice, no source: 25 dB(A) at the ear.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: earphones-custom-6}}]
        gear: [{id: amp, type: headphone-amp-4-noisy}]
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: earphones-custom-6}}]
        gear: [{id: amp, type: headphone-amp-4-quiet}]
    """
    loud: dict[str, float] = {}
    for who, ear in view.ears.ears.items():
        hiss = _certain_hiss(ear)
        if hiss is not None and hiss > QUIET_DBA:
            loud[who] = hiss
    if loud:
        worst = max(loud, key=lambda who: loud[who])
        yield Finding(
            at=_at(view.rig, worst),
            says=sentence(
                "{names} hear{word} hiss when nobody plays, {person} {loud} dB(A), most "
                "of it {blame}.",
                names=some(person(view.rig, w) for w in loud),
                word="s" * (len(loud) == 1),
                person=person(view.rig, worst),
                loud=rounded(loud[worst]),
                blame=_blame(view, worst, view.ears.ears[worst]),
            ),
            fix=_pad(view, worst, loud[worst]),
            found=loud[worst],
            limit=QUIET_DBA,
            unit="dB(A)",
        )


def _pad(view: View, who: str, hiss_dba: float) -> str:
    """The pad behind the output that would do, and what it takes from the loudest.

    Derived: a pad behind all noise takes as much from the hiss as from everything else, but for
    what the earphones would not have given anyway.
    """
    pad_db = ceil(hiss_dba - QUIET_DBA)
    most = view.ears.ceilings.loudest(who, view.ears.ears_of(who))
    cost = sentence("the loudest possible falls with it")
    if most is not None:
        left = min(most.level_spl, most.driven_spl - pad_db)
        cost += sentence(
            ", from {level_spl} to {left} dB SPL",
            level_spl=rounded(most.level_spl),
            left=rounded(left),
        )
        if left == most.level_spl:
            cost = sentence(
                "the loudest possible stays {left} dB SPL, which the earphones set",
                left=rounded(left),
            )
    return sentence(
        "A pad of {pad_db} dB between output and earphones would do; {cost}. Or "
        "take less sensitive earphones or a quieter output: only what comes "
        "after the noise lowers it.",
        pad_db=pad_db,
        cost=cost,
    )


def hiss_on_stage(view: View) -> Iterator[Finding]:
    """The ears hiss so loudly that even the stage does not cover it.

    Why: hiss over the hush of a stage is heard in every pause, and it is part of every mix.
    Fix: more gain in front and less behind, the gain plan tells where; a quieter box or a pad.
    Source: common practice, no source: 70 dB(A) of a hushed stage, less what the earphones keep
        out by their data sheet.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: earphones-custom-6}}]
        sources: [{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 100}]
        gear: [{id: mixer, type: mixer-rack-24}, {id: amp, type: headphone-amp-4}]
        leads: [{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1, gain_db: 20}]
        settings: [{at: amp.amp.1-2, gain_db: 14}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2,
             sends: [{from: kick, level_db: 0}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: earphones-custom-6}}]
        sources: [{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 100}]
        gear: [{id: mixer, type: mixer-rack-24}, {id: amp, type: headphone-amp-4}]
        leads: [{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1, gain_db: 20}]
        settings: [{at: amp.amp.1-2, gain_db: -20}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2,
             sends: [{from: kick, level_db: 0}]}
    """
    for who, ear in view.ears.ears.items():
        earphone = view.figures.earphone(who)
        hiss = _certain_hiss(ear)
        if earphone is None or earphone.isolation_db is None or hiss is None:
            continue
        covered = HUSHED_STAGE_DBA - earphone.isolation_db
        if hiss > covered:
            yield Finding(
                at=_at(view.rig, who),
                says=sentence(
                    "{person} hears hiss of {hiss} dB(A) even on stage, where {covered} come "
                    "in past the earphones; most of it is {blame}.",
                    person=person(view.rig, who),
                    hiss=rounded(hiss),
                    covered=rounded(covered),
                    blame=_blame(view, who, ear),
                ),
                found=hiss,
                limit=covered,
                unit="dB(A)",
            )


def loudest_possible(view: View) -> Iterator[Finding]:
    """A limiter lets more through than anybody should hear even for minutes.

    Why: a limiter that is set in dBu says nothing about the ear: behind sensitive earphones and an
        open knob +4 dBu can be 128 dB SPL, and a dropped microphone reaches it.
    Fix: set the limiter lower, fix the knob behind it and write it down under settings; try it with
        the earphones on the table. Hearing lost that way does not come back.
    Source: 29 CFR 1910.95, table G-16, last row: 115 dB(A) for a quarter of an hour or less.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-custom-6}}]
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             limiter_dbu: 4, sends: [{from: kick}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-custom-6}}]
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             limiter_dbu: -14, sends: [{from: kick}]}
    """
    over: dict[str, float] = {}
    for who, ear in view.ears.ears.items():
        if ear.limited is not None and ear.limited.level_spl > LOUDEST_DBA:
            over[who] = ear.limited.level_spl
    if not over:
        return
    worst = max(over, key=lambda who: over[who])
    limited = view.ears.ears[worst].limited
    assert limited is not None
    stop = (
        sentence(" Behind it {place} give no more.", place=limited.place)
        if limited.place == EARPHONES
        else ""
    )
    lower = limited.driven_spl - LOUDEST_DBA
    yield Finding(
        at=_at(view.rig, worst),
        says=sentence(
            "Past the limiter of the mix up to {over} dB SPL can reach the ears of "
            "{person}{and_others}.{stop}",
            over=rounded(over[worst]),
            person=person(view.rig, worst),
            and_others=_and_others(view, over, worst),
            stop=stop,
        ),
        fix=sentence(
            "Set the limiter for {person} {lower} dB lower, or turn the knob behind "
            "it down by that, fix it and write it under settings. Try it with the "
            "earphones on the table.",
            person=person(view.rig, worst),
            lower=rounded(lower),
        ),
        found=over[worst],
        limit=LOUDEST_DBA,
        unit="dB SPL",
    )


def _and_others(view: View, over: dict[str, float], worst: str) -> str:
    others = [
        sentence("{who} {level}", who=person(view.rig, w), level=rounded(level))
        for w, level in over.items()
        if w != worst
    ]
    return sentence(" ({names})", names=some(others)) if others else ""


def exposure_day(view: View) -> Iterator[Finding]:
    """One rehearsal or show is more than a day's sound by the criterion that is chosen.

    Why: hearing goes slowly, without pain, and does not come back; the day's work and the ride home
        in the van come on top of what the ears got here.
    Fix: turn down, take breaks, shorten the rehearsal; better sealing earphones make a lower mix
        enough. The law of the place and an audiologist go before this figure.
    Source: NIOSH 98-126, 85 dB(A) for 8 h, 3 dB halve the time; where `hearing: {day: ...}` says
        so 29 CFR 1910.95 (90/5) or 2003/10/EC (eu-lower, eu-upper, eu-limit).

    Fails:
        people:
          - {id: ana, name: Ana, hours_per_week_h: 5,
             ears: {plug: mixer.phones, earphones: earphones-dual}}
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes: [{id: ana, listeners: [ana], stereo: true, bus: 1-2, target_db: 98}]
    Passes:
        people:
          - {id: ana, name: Ana, hours_per_week_h: 5,
             ears: {plug: mixer.phones, earphones: earphones-dual}}
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes: [{id: ana, listeners: [ana], stereo: true, bus: 1-2, target_db: 82}]
    """
    yield from _exposed(view, ("rehearsal", "show"), day_criterion(view.rig))


def exposure_week(view: View) -> Iterator[Finding]:
    """The hours of a week are more than a week's sound by the criterion that is chosen.

    Why: what is loud for one evening adds up over the rehearsals of the week, and over the years.
    Fix: turn down, share the hours, leave the earphones out where nothing is played. The law of the
        place and an audiologist go before this figure.
    Source: WHO and ITU-T H.870, adults, 80 dB(A) for 40 h a week, 3 dB halve the time; another
        where `hearing: {week: ...}` says so, a criterion for a day counted five times.

    Fails:
        people:
          - {id: ana, name: Ana, hours_per_week_h: 10,
             ears: {plug: mixer.phones, earphones: earphones-dual}}
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes: [{id: ana, listeners: [ana], stereo: true, bus: 1-2, target_db: 88}]
    Passes:
        people:
          - {id: ana, name: Ana, hours_per_week_h: 10,
             ears: {plug: mixer.phones, earphones: earphones-dual}}
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes: [{id: ana, listeners: [ana], stereo: true, bus: 1-2, target_db: 82}]
    """
    yield from _exposed(view, ("week",), week_criterion(view.rig))


def _exposed(view: View, spans: tuple[Occasion, ...], criterion: str) -> Iterator[Finding]:
    over: list[tuple[Exposure, Dose]] = []
    for exposure in view.exposures:
        doses = [d for span in spans if (d := exposure.dose(span, criterion)) is not None]
        worst = max(doses, key=lambda d: d.percent, default=None)
        if worst is not None and worst.percent > 100:
            over.append((exposure, worst))
    if not over:
        return
    exposure, dose = max(over, key=lambda pair: pair[1].percent)
    assert exposure.level_dba is not None
    others = [f"{person(view.rig, e.person)} {d.percent:.0f} %" for e, d in over if e != exposure]
    basis = sentence("stated") if exposure.basis == "stated" else sentence("planned")
    yield Finding(
        at=_at(view.rig, exposure.person),
        says=sentence(
            "The {occasion} of {duration_h} h at the {basis} {level_dba} dB(A) gives "
            "{person} {percent:.0f} % by {criteria}{word}. That level uses it up in "
            "{allowed_h} h.",
            occasion=sentence(dose.occasion),
            duration_h=rounded(dose.duration_h),
            basis=basis,
            level_dba=rounded(exposure.level_dba),
            person=person(view.rig, exposure.person),
            percent=dose.percent,
            criteria=sentence(CRITERIA[criterion].name),
            word=sentence("; {names}", names=some(others)) if others else "",
            allowed_h=rounded(dose.allowed_h),
        ),
        found=dose.percent,
        limit=100,
        unit="%",
    )


def level_not_planned(view: View) -> Iterator[Finding]:
    """How loud it is in somebody's ears cannot be told.

    Why: without a level nobody can say how many hours a week are too many.
    Fix: write target_db in the mix, better measured than wished for, or where the knobs stand under
        settings.
    Source: common practice, no source.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: earphones-dual}}]
        sources: [{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 120}]
        gear: [{id: mixer, type: mixer-rack-24}, {id: amp, type: headphone-amp-4}]
        leads: [{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1, gain_db: 20}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2,
             sends: [{from: kick}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: earphones-dual}}]
        sources: [{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 120}]
        gear: [{id: mixer, type: mixer-rack-24}, {id: amp, type: headphone-amp-4}]
        leads: [{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1, gain_db: 20}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2,
             target_db: {value: 84, from: measured}, sends: [{from: kick}]}
    """
    left = [
        view.ears.ears[exposure.person]
        for exposure in view.exposures
        if exposure.level_dba is None and not view.ears.ears[exposure.person].planned
    ]
    left = [ear for ear in left if ear.levels_spl and not ear.missing]
    if left:
        knobs = dict.fromkeys(
            box(view.rig, key.partition(".")[0]) for ear in left for key in ear.unwritten
        )
        open_ = [sentence("the knobs of {names}", names=some(knobs))] if knobs else []
        if any(ear.open_sends for ear in left):
            open_.append(sentence("the sends of personal mixers"))
        yield Finding(
            at=_at(view.rig, left[0].person),
            says=sentence(
                "How loud it is in the ears of {names} is left to hands: nobody wrote "
                "down {names2}.",
                names=some(person(view.rig, e.person) for e in left),
                names2=listed(open_),
            ),
        )


def one_ear(view: View) -> Iterator[Finding]:
    """Somebody wears only one earphone.

    Why: the one ear is turned up by about 6 dB to feel as loud as two, and takes the open stage in
        at the other: at 3 dB exchange that is a quarter of the time.
    Fix: both in, with audience microphones in the mix where it feels lonely.
    Source: common practice, no source for the 6 dB; NIOSH 98-126 for the 3 dB.

    Fails:
        people:
          - {id: ana, name: Ana,
             ears: {plug: mixer.phones, earphones: earphones-dual, one_ear: true}}
        gear: [{id: mixer, type: mixer-rack-24}]
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-dual}}]
        gear: [{id: mixer, type: mixer-rack-24}]
    """
    levels = {e.person: e for e in view.exposures}
    for who in view.rig.file.people:
        if who.ears is None or not who.ears.one_ear:
            continue
        exposure = levels.get(who.id)
        level = ""
        if exposure is not None and exposure.one_ear_dba is not None:
            level = sentence(
                ", here {one_ear_dba} dB(A)", one_ear_dba=rounded(exposure.one_ear_dba)
            )
        yield Finding(
            at=who.ears.where,
            says=sentence(
                "{who} wears one earphone: that ear is likely turned up by 6 dB{level}, "
                "and the same dose is reached in a quarter of the time.",
                who=who.name,
                level=level,
            ),
            found=_ONE_EAR_RATIO,
            limit=1,
            unit="times the dose",
        )


def earphones_differ(view: View) -> Iterator[Finding]:
    """Earphones that may change places are much louder at the same knob.

    Why: a dep, or a spare pair, goes in where the knob stands for the other's earphones, and the
        first song is twice as loud or more.
    Fix: knob down before the plug goes in; put it on the line-check sheet, or bring like earphones.
    Source: common practice, no source: sensitivities differ by 10 to 15 dB between types.

    Fails:
        people:
          - {id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: headphones-80-ohm}}
          - {id: bea, name: Bea, ears: {plug: amp.phones.2, earphones: earphones-custom-6}}
        gear: [{id: amp, type: headphone-amp-4}]
    Passes:
        people:
          - {id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: earphones-dual}}
          - {id: bea, name: Bea, ears: {plug: amp.phones.2, earphones: earphones-custom-3}}
        gear: [{id: amp, type: headphone-amp-4}]
    """
    rig = view.rig
    boxes: dict[str, list[tuple[float, Person]]] = {}
    for who in rig.file.people:
        level = _at_the_knob(rig, who, who.ears.earphones if who.ears else None)
        if level is not None and who.ears is not None and who.ears.plug is not None:
            boxes.setdefault(who.ears.plug.gear, []).append((level, who))
    for gear, wearers in boxes.items():
        low, softer = min(wearers, key=lambda w: (w[0], w[1].id))
        high, louder = max(wearers, key=lambda w: (w[0], w[1].id))
        if high - low >= SAME_KNOB_DB:
            yield _differs(
                _at(rig, louder.id),
                sentence(
                    "On {box} the earphones of {louder} are {high} dB louder at the same "
                    "knob than those of {softer}.",
                    box=box(rig, gear),
                    louder=louder.name,
                    high=rounded(high - low),
                    softer=softer.name,
                ),
                high - low,
            )
    yield from _deps(rig)
    yield from _spares(rig)


def _at_the_knob(rig: Rig, who: Person, earphones: str | None) -> float | None:
    """How loud one volt of the person's socket is in these earphones."""
    type_ = rig.types.get(earphones) if earphones else None
    if type_ is None or type_.earphone is None or who.ears is None or who.ears.plug is None:
        return None
    sensitivity = sensitivity_of(type_.earphone)
    ohm = type_.earphone.impedance_ohm
    if who.ears.plug.gear == HOUSE:
        return sensitivity  # the house's socket: nobody says what stands behind it
    bank = rig.type_of(who.ears.plug.gear).banks.get(who.ears.plug.bank)
    output = getattr(bank, "impedance_ohm", None)
    if sensitivity is None or ohm is None:
        return sensitivity
    return sensitivity - 20 * log10(1 + (output or 0.0) / ohm)


def _deps(rig: Rig) -> Iterator[Finding]:
    """Someone who takes over the socket of somebody who stays at home."""
    sockets = {str(p.ears.plug): p for p in rig.file.people if p.ears and p.ears.plug is not None}
    for show in rig.file.shows:
        for dep in show.people:
            usual = sockets.get(str(dep.ears.plug)) if dep.ears else None
            if dep.ears is None or usual is None or usual.id == dep.id or usual.ears is None:
                continue
            theirs = _at_the_knob(rig, dep, dep.ears.earphones)
            ours = _at_the_knob(rig, usual, usual.ears.earphones)
            if theirs is not None and ours is not None and theirs - ours >= SAME_KNOB_DB:
                yield _differs(
                    dep.ears.where,
                    sentence(
                        "{dep} takes over the socket of {usual} with earphones that are {theirs} "
                        "dB louder at the same knob.",
                        dep=dep.name,
                        usual=usual.name,
                        theirs=rounded(theirs - ours),
                    ),
                    theirs - ours,
                )


def _spares(rig: Rig) -> Iterator[Finding]:
    for spare in rig.file.spares:
        louder = {}
        for who in rig.file.people:
            theirs = _at_the_knob(rig, who, spare.type)
            ours = _at_the_knob(rig, who, who.ears.earphones if who.ears else None)
            if theirs is not None and ours is not None and theirs - ours >= SAME_KNOB_DB:
                louder[who.name] = theirs - ours
        if louder:
            most = max(louder.values())
            yield _differs(
                spare.where,
                sentence(
                    "The spare earphones are up to {most} dB louder at the same knob than "
                    "those of {names}.",
                    most=rounded(most),
                    names=some(louder),
                ),
                most,
            )


def _differs(at: Where, says: str, found: float) -> Finding:
    return Finding(at=at, says=says, found=found, limit=SAME_KNOB_DB, unit="dB")


RULES = (
    Rule(id="hearing.hiss-in-quiet-room", severity="advice", check=hiss_in_quiet_room, since="0.1"),
    Rule(id="hearing.hiss-on-stage", severity="risk", check=hiss_on_stage, since="0.1"),
    Rule(id="hearing.loudest-possible", severity="risk", check=loudest_possible, since="0.1"),
    Rule(id="hearing.exposure-day", severity="risk", check=exposure_day, since="0.1"),
    Rule(id="hearing.exposure-week", severity="risk", check=exposure_week, since="0.1"),
    Rule(id="hearing.level-not-planned", severity="unknown", check=level_not_planned, since="0.1"),
    Rule(id="hearing.one-ear", severity="risk", check=one_ear, since="0.1"),
    Rule(id="hearing.earphones-differ", severity="advice", check=earphones_differ, since="0.1"),
)
