"""Rules about level: where peaks clip first, where little room is left, where noise is near.

Peaks of several sources are summed as powers, all playing at once. What lies behind a knob that
nobody wrote down is not judged: a hand decides there.
"""

from collections.abc import Iterable, Iterator
from math import ceil

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig.geartype import Port
from rigproof.rig.where import Where
from rigproof.signal.peaks import crest_of
from rigproof.signal.room import Room
from rigproof.signal.words import kin, person, place, places
from rigproof.wording import counted, in_order, noun, rounded, some
from rigproof.wording.sentences import sentence

# Common practice, no source: what a hand or a voice makes gets 6 dB for the night it plays harder
# than at the line check; a sum of many, or what a machine sends, is steadier.
THIN_DB, THIN_SUM_DB = 6.0, 3.0
# Common practice, no source: under 40 dB the noise of a line is heard between two phrases.
CLEAR_DB = 40.0
# Common practice, no source: outputs are made a little hotter than inputs bear, and nobody drives
# them to the end; more than 6 dB apart and the louder half of the output's range is useless.
HOTTER_DB = 6.0
ABOVE_MIX_DB = 6.0  # common practice, no source: of a limiter, over all sources together
_CLOSE_DB = 0.05  # a plan that keeps a limit to the tenth of a decibel keeps it


def _alike(view: View, found: Iterable[Room]) -> list[list[Room]]:
    """Those of one bank of one box together; a source with two lanes there counts once."""
    groups: dict[object, list[Room]] = {}
    for tight in found:
        groups.setdefault(kin(view.graph.nodes[tight.node].key), []).append(tight)
    return [sorted(group, key=lambda t: t.room_db) for group in groups.values()]


def _where(view: View, sources: Iterable[str]) -> Where:
    for name in sources:
        row = view.rig.rows.get(name)
        return row.where if row is not None else view.rig.sources[name].where
    return view.rig.about.where


def _of(view: View, group: list[Room]) -> str:
    """Whose peaks a group is about: each alone where each has its place, else a sum."""
    alone = [t.sources[0] for t in group if len(t.sources) == 1]
    if alone:
        return some(view.rig.sources[name].name for name in alone)
    return sentence("the sum of {sources}", sources=counted(len(group[0].sources), "source"))


def _wished_db(room: Room) -> float:
    return THIN_DB if room.preamp and len(room.sources) == 1 else THIN_SUM_DB


def _cure(view: View, group: list[Room]) -> str:
    """The setting that makes room: the preamp's of one source, else what comes before the sum."""
    rows = view.rig.rows
    settings = []
    for room in group:
        name = room.sources[0] if len(room.sources) == 1 and room.preamp else ""
        gain = rows[name].gain_db if name in rows else None
        if gain is not None:
            less = ceil(_wished_db(room) - room.room_db - _CLOSE_DB)
            settings.append(
                sentence(
                    "{source} to {gain} dB",
                    source=view.rig.sources[name].name,
                    gain=rounded(gain - less),
                )
            )
    if settings:
        return sentence(
            "Set the gain of {names}, and the sends of the mixes up by as much.",
            names=some(settings),
        )
    less_db = ceil(_wished_db(group[0]) - group[0].room_db - _CLOSE_DB)
    if len(group[0].sources) > 1:
        return sentence(
            "Turn the mix down by {less_db} dB before it leaves, and up again behind it.",
            less_db=less_db,
        )
    return sentence(
        "Turn the source down by {less_db} dB or more, or put a pad in front.", less_db=less_db
    )


def clips_first(view: View) -> Iterator[Finding]:
    """The peaks of a source are more than a place on its way bears.

    Why: whatever comes behind it, the sound is broken there: turning down later makes it quieter,
        not cleaner.
    Fix: turn down the last gain before that place, or put a pad in front of it.
    Source: physics of clipping; the crest factors are those printed by measurement and live-sound
        guides, and differ by several decibels between players.

    Fails:
        sources: [{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 130}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1, gain_db: 40}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 130}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1, gain_db: 10}]
    """
    for group in _alike(view, (r for r in view.rooms if r.room_db < -_CLOSE_DB)):
        worst = group[0]
        yield Finding(
            at=_where(view, worst.sources),
            says=sentence(
                "The peaks of {of} clip first at {places}, {room_db} dB above what it bears{word}.",
                of=_of(view, group),
                places=places(view.rig, [view.graph.nodes[t.node].key for t in group]),
                room_db=rounded(-worst.room_db),
                word=sentence(" at worst") if len(group) > 1 else "",
            ),
            fix=_cure(view, group),
            found=-worst.room_db,
            unit="dB over",
        )


def headroom_thin(view: View) -> Iterator[Finding]:
    """Little room is left over the peaks.

    Why: people play harder at the show than at the line check, and nobody turns gains down then.
    Fix: turn down the last gain before that place by what is missing.
    Source: common practice, no source: 6 dB over the peaks of one source, 3 dB over those of a mix.

    Fails:
        sources: [{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 130}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1, gain_db: 20}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 130}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1, gain_db: 10}]
    """
    thin = (
        room
        for room in view.rooms
        if not room.limited
        and -_CLOSE_DB <= room.room_db < _wished_db(room) - _CLOSE_DB
        and room.before_db >= _wished_db(room) - _CLOSE_DB  # told at the first such place
    )
    for group in _alike(view, thin):
        least = group[0]
        yield Finding(
            at=_where(view, least.sources),
            says=sentence(
                "Over the peaks of {of} {room_db} dB are left at {places}.",
                of=_of(view, group),
                room_db=rounded(least.room_db),
                places=places(view.rig, [view.graph.nodes[t.node].key for t in group]),
            ),
            fix=_cure(view, group),
            found=least.room_db,
            limit=_wished_db(least),
            unit="dB",
        )


def too_low(view: View) -> Iterator[Finding]:
    """A source stands barely above the noise where it is converted.

    Why: what is too near the noise there stays there: every later gain lifts both.
    Fix: more gain at the preamp, the microphone nearer, or a source with more level.
    Source: common practice, no source: 40 dB between the source and the noise under it.

    Fails:
        sources: [{id: harp, name: Harp, family: strings, mic: mic-vocal-dynamic, spl_db: 55}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: harp, plug: mixer.in.1, channel: 1, gain_db: 20}]
    Passes:
        sources: [{id: harp, name: Harp, family: strings, mic: mic-small-condenser, spl_db: 80}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: harp, plug: mixer.in.1, channel: 1, phantom: "on", gain_db: 30}]
    """
    low: dict[str, tuple[float, int]] = {}
    for node in sorted(view.graph.of_kind("converter")):
        if view.figures.unit(node) != "dBFS":
            continue
        clear = view.ears.clear_db(node)
        if clear is not None and clear < CLEAR_DB:
            for name in view.arriving.at([node]):
                if name not in low or clear < low[name][0]:
                    low[name] = (clear, node)
    for name, (clear, node) in low.items():
        yield Finding(
            at=_where(view, [name]),
            says=sentence(
                "{source} stands {clear} dB above the noise at {place}.",
                source=view.rig.sources[name].name,
                clear=rounded(clear),
                place=place(view.rig, view.graph.nodes[node].key),
            ),
            found=clear,
            limit=CLEAR_DB,
            unit="dB",
        )


def output_into_input(view: View) -> Iterator[Finding]:
    """An output can send far more than the input behind it bears.

    Why: the ears distort when it gets loud, and everyone blames the earphones: the desk goes on to
        +18 dBu where the amplifier clips at +5.
    Fix: a pad between the two, a limiter in the mix at what the input bears, or another amplifier.
    Source: a reported case, desk +20 dBu into an amplifier that clips at about +5; the 6 dB that
        are let pass are common practice, no source.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}, {id: amp, type: headphone-amp-4-noisy}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1}]
        leads: [{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1}]
        mixes:
          - {id: ana, stereo: true, bus: 1-2, out: mixer.out.1-2, sends: [{from: kick}]}
    Passes:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}, {id: amp, type: headphone-amp-4-noisy}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1}]
        leads: [{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1}]
        mixes:
          - {id: ana, stereo: true, bus: 1-2, out: mixer.out.1-2, limiter_dbu: 5,
             sends: [{from: kick}]}
    """
    graph, limiters = view.graph, view.ears.ceilings.limiters
    found: dict[tuple[object, object], list[tuple[float, float, int, int]]] = {}
    for start, bits in enumerate(view.arriving.bits):
        out = graph.nodes[start].bank
        if not bits or not isinstance(out, Port) or out.way != "out" or out.max_level_dbu is None:
            continue
        if not any(graph.hops[n].means in {"lead", "plug"} for n in graph.leaving[start]):
            continue
        sends = min(float(out.max_level_dbu), limiters.get(start, float(out.max_level_dbu)))
        for load in view.figures.lines.line(start).loads:
            into = graph.nodes[load.node].bank
            if not isinstance(into, Port) or into.max_level_dbu is None:
                continue
            if sends - into.max_level_dbu > HOTTER_DB:
                pair = (kin(graph.nodes[start].key), kin(graph.nodes[load.node].key))
                bears = float(into.max_level_dbu)
                found.setdefault(pair, []).append((sends, bears, start, load.node))
    for rows in found.values():
        sends, bears, _, _ = max(rows)
        outs = places(view.rig, dict.fromkeys(graph.nodes[row[2]].key for row in rows))
        ins = places(view.rig, dict.fromkeys(graph.nodes[row[3]].key for row in rows))
        yield Finding(
            at=_lead_at(view, rows[0][2]),
            says=sentence(
                "{outs} can send up to {sends} dBu, and {ins} clips at {bears} dBu.",
                outs=outs,
                sends=rounded(sends),
                ins=ins,
                bears=rounded(bears),
            ),
            fix=sentence(
                "Put a pad of {ceil} dB between them, or limit the mix to {bears} dBu "
                "and write limiter_dbu.",
                ceil=ceil(sends - bears),
                bears=rounded(bears),
            ),
            found=sends,
            limit=bears,
            unit="dBu",
        )


def limiter_never_rests(view: View) -> Iterator[Finding]:
    """A limiter that is there for accidents works on the music all the time.

    Why: it flattens every beat and pumps, the mix sounds small, and people turn it up to get back
        what it takes.
    Fix: set the limiter higher, as far as ears may have that for moments; or turn the mix down in
        front of it and the amplifier behind it up by as much, which lets as much more through.
    Source: common practice, no source: what all sources together come to stays 6 dB below; their
        peaks stand some 12 above it.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-dual}}]
        sources: [{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 120}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1, gain_db: 20}]
        settings: [{at: mixer.monitor.1-2, gain_db: -20}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             limiter_dbu: -30, sends: [{from: kick, level_db: 0}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-dual}}]
        sources: [{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 120}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1, gain_db: 20}]
        settings: [{at: mixer.monitor.1-2, gain_db: -20}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             limiter_dbu: -24, sends: [{from: kick, level_db: 0}]}
    """
    index, limiters = view.graph.index, view.ears.ceilings.limiters
    low: dict[str, tuple[float, float]] = {}  # person -> room, and what the limiter lets through
    for who, ear in view.ears.ears.items():
        most = ear.limited
        if most is None or ear.total_spl is None or ear.missing or not ear.planned:
            continue
        room = most.driven_spl - ear.total_spl
        if index[most.by] in limiters and room < ABOVE_MIX_DB - _CLOSE_DB:
            low[who] = room, most.driven_spl
    if not low:
        return
    least = min(low, key=lambda who: low[who][0])
    room_db, driven_spl = low[least]
    ears = view.rig.people[least].ears
    by = ceil(ABOVE_MIX_DB - room_db)
    yield Finding(
        at=ears.where if ears is not None else view.rig.people[least].where,
        says=sentence(
            "The limiter works on the music of {names}: for {person} it holds {above} dB above "
            "what all sources come to together."
            if room_db >= 0
            else "The limiter works on the music of {names}: for {person} it holds {above} dB "
            "below what all sources come to together.",
            names=some(person(view.rig, who) for who in low),
            person=person(view.rig, least),
            above=rounded(abs(room_db)),
        ),
        fix=sentence(
            "Set the limiter {by} dB higher; up to {most} dB SPL then come through to {person} in "
            "an accident. If that is too much, turn the mix down instead.",
            by=by,
            most=rounded(driven_spl + by),
            person=person(view.rig, least),
        ),
        found=room_db,
        limit=ABOVE_MIX_DB,
        unit="dB",
    )


def _lead_at(view: View, start: int) -> Where:
    hops = (view.graph.hops[n] for n in view.graph.leaving[start])
    return next(hop.at for hop in hops if hop.means in {"lead", "plug"})


def missing_figure(view: View) -> Iterator[Finding]:
    """Levels cannot be told because a figure is missing.

    Why: a verdict without it would be a guess that looks like a fact.
    Fix: write the figure where it belongs: gain_db in the patch row, level_dbu or spl_db in the
        source, the rest in the gear type.
    Source: common practice, no source.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-dual}}]
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1, gain_db: 20}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: kick}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-dual}}]
        sources: [{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 120}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1, gain_db: 20}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: kick}]}
    """
    waiting: dict[str, list[str]] = {}
    for who, ear in view.ears.ears.items():
        ears = view.rig.people[who].ears
        if ears is None or ears.earphones is None:
            continue  # another rule asks for the earphones first
        for figure in ear.missing:
            waiting.setdefault(figure, []).append(who)
    # Figures that the same people wait for are asked for in one breath.
    asked: dict[tuple[str, ...], list[str]] = {}
    for figure, people in waiting.items():
        asked.setdefault(tuple(people), []).append(figure)
    for who_waits, figures in asked.items():
        first = view.rig.people[who_waits[0]]
        yield Finding(
            at=first.ears.where if first.ears is not None else first.where,
            says=sentence(
                "The levels at the ears of {names} wait for {names2}.",
                names=some(person(view.rig, p) for p in who_waits),
                names2=some(in_order(figures)),
            ),
            found=len(figures),
            limit=0,
            unit=noun(len(figures), "missing figure"),
        )


def microphone_overloads(view: View) -> Iterator[Finding]:
    """A source is louder than its microphone bears.

    Why: it breaks up in the capsule or in the electronics behind it, and no gain anywhere helps.
    Fix: the microphone further away, its own pad, or another type.
    Source: the microphone's data sheet; peaks by the crest factors of measurement guides.

    Fails:
        sources:
          - {id: crowd, name: Crowd, family: ambience, mic: mic-audience-shotgun, spl_db: 125}
    Passes:
        sources:
          - {id: crowd, name: Crowd, family: ambience, mic: mic-audience-shotgun, spl_db: 100}
    """
    for source in view.rig.file.sources:
        type_ = view.rig.types.get(source.mic) if source.mic else None
        microphone = type_.microphone if type_ else None
        if microphone is None or microphone.max_spl_db is None or source.spl_db is None:
            continue
        # The data sheet's figure is a sine's level; its own peaks stand 3 dB above it.
        level = source.spl_db + crest_of(source) - 3.01
        if level > microphone.max_spl_db:
            yield Finding(
                at=source.where,
                says=sentence(
                    "The peaks of {source} reach {level} dB SPL, and its microphone bears "
                    "{max_spl_db}.",
                    source=source.name,
                    level=rounded(level),
                    max_spl_db=rounded(microphone.max_spl_db),
                ),
                found=level,
                limit=float(microphone.max_spl_db),
                unit="dB SPL",
            )


RULES = (
    Rule(id="level.clips-first", severity="risk", check=clips_first, since="0.1"),
    Rule(id="level.headroom-thin", severity="advice", check=headroom_thin, since="0.1"),
    Rule(id="level.too-low", severity="advice", check=too_low, since="0.1"),
    Rule(id="level.output-into-input", severity="risk", check=output_into_input, since="0.1"),
    Rule(id="level.limiter-never-rests", severity="advice", check=limiter_never_rests, since="0.1"),
    Rule(id="level.missing-figure", severity="unknown", check=missing_figure, since="0.1"),
    Rule(id="level.microphone-overloads", severity="risk", check=microphone_overloads, since="0.1"),
)
