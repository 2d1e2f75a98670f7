"""Rules about what was measured: where it parts from the file, and lines that go the wrong way."""

from collections.abc import Iterator
from math import hypot
from typing import TYPE_CHECKING

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig.spread import spread_ratio
from rigproof.rig.where import NOWHERE, Where
from rigproof.rigfile.library import library_type, type_ids
from rigproof.signal.readings import DelayReading, LineWay, NoiseReading, stated_measured
from rigproof.signal.words import kind_of
from rigproof.wording import listed, some
from rigproof.wording.sentences import keyed, sentence

if TYPE_CHECKING:
    from rigproof.linecheck.drifting import Drift


def measured_apart(view: View) -> Iterator[Finding]:
    """What was measured is not what the figures make likely.

    Why: one of the two is not as it is written: another microphone, a pad, a knob beside its mark,
        a figure read off the wrong sheet.
    Fix: see which it is; put the figure right, or measure again and move the older file away.
    Source: Derived: two figures that part by more than the likely errors of both together.

    Fails:
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic,
                   level_dbu: {value: -30, from: measured}}]
        gear: [{id: mixer, name: Mixer, type: mixer-rack-12}]
        patch: [{source: voice, plug: mixer.in.1, channel: 1, gain_db: 30}]
        --- # measured/take-2027-03-01.json
        {"form": 1, "kind": "take", "date": "2027-03-01", "method": "a take", "rig": "Example",
         "lines": [{"channel": 1, "source": "voice", "socket": "mixer.in.1",
                    "through": ["mixer-rack-12"], "taken_with": "mic-vocal-dynamic",
                    "knobs_db": 30, "loudest_dbfs": -38}]}
    Passes:
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic,
                   level_dbu: {value: -30, from: measured}}]
        gear: [{id: mixer, name: Mixer, type: mixer-rack-12}]
        patch: [{source: voice, plug: mixer.in.1, channel: 1, gain_db: 30}]
        --- # measured/take-2027-03-01.json
        {"form": 1, "kind": "take", "date": "2027-03-01", "method": "a take", "rig": "Example",
         "lines": [{"channel": 1, "source": "voice", "socket": "mixer.in.1",
                    "through": ["mixer-rack-12"], "taken_with": "mic-vocal-dynamic",
                    "knobs_db": 30, "loudest_dbfs": -20}]}
    """
    if not view.rig.measured:
        return
    yield from _levels(view)
    yield from _noises(view)
    yield from _gains(view)
    yield from _delays(view)


def _levels(view: View) -> Iterator[Finding]:
    """A level that the file states, and what stood at the channel."""
    readings, figures = view.figures.readings, view.figures
    for name, reading in readings.read_levels.items():
        source = view.rig.sources[name]
        stated = figures.stated_dbu(source)
        if stated is None:
            continue
        off_db = hypot(figures.stated_off_db(source), readings.worth_at_source(reading)[0])
        apart_db = float(reading.sent_dbu) - float(stated)
        if abs(apart_db) <= off_db:
            continue
        key = "level_dbu" if source.level_dbu is not None else "spl_db"
        yield Finding(
            at=source.where.of(key),
            says=sentence(
                "{source} sends {stated:.0f} dBu by the file and the gear ({worth}), and "
                "{read:.0f} dBu by what stood at its channel on {date}. {counts}",
                source=source.name,
                stated=float(stated),
                worth=sentence(stated.provenance),
                read=float(reading.sent_dbu),
                date=reading.read_dbfs.date,
                counts=sentence("The file's figure was measured too and counts.")
                if stated_measured(source)
                else sentence("What was measured counts."),
            ),
            found=apart_db,
            limit=off_db,
            unit="dB",
        )


def _noises(view: View) -> Iterator[Finding]:
    """Hiss of lines, by their figures and as it was measured: all that hiss more, and all less."""
    apart = [
        reading
        for reading in view.figures.readings.noises.values()
        if abs(_apart_db(reading)) > hypot(reading.off_db, reading.reckoned_off_db)
    ]
    for more in (True, False):
        mine = [reading for reading in apart if (_apart_db(reading) > 0) is more]
        if not mine:
            continue
        most = max(mine, key=lambda reading: abs(_apart_db(reading)))
        yield Finding(
            at=_row_of(view, most.way),
            says=sentence(
                "By what was measured on {date}, {lines} {hiss} {sign} than the figures make "
                "likely: {most} {read:.0f} dBFS(A), where they make {reckoned:.0f}. {counts}",
                date=most.read_dba.date,
                lines=some(_line_name(view, reading.way) for reading in mine),
                hiss=sentence("hisses") if len(mine) == 1 else sentence("hiss"),
                sign=sentence("more") if more else sentence("less"),
                most=_line_name(view, most.way),
                read=most.now_dba,
                reckoned=most.reckoned_dba,
                counts=sentence(
                    "The hiss of the player and the room were measured with the line, so the "
                    "figures count; a recording of the silent stage tells more."
                )
                if more
                else sentence("What was measured counts."),
            ),
            found=_apart_db(most),
            limit=hypot(most.off_db, most.reckoned_off_db) * (1 if more else -1),
            unit="dB",
        )


def _apart_db(reading: NoiseReading) -> float:
    return reading.now_dba - reading.reckoned_dba


def _gains(view: View) -> Iterator[Finding]:
    """What lines do to a level, by their figures and as they were measured."""
    mine = [
        one
        for one in view.figures.readings.gains.values()
        if abs(one.apart_db) > hypot(one.off_db, one.reckoned_off_db)
    ]
    if not mine:
        return
    most = max(mine, key=lambda one: abs(one.apart_db))
    yield Finding(
        at=_row_of(view, most.way),
        says=sentence(
            "By what was measured on {date}, the gain of {lines} is not what the figures make "
            "likely: {most} has {apart:.1f} dB {more}. What was measured counts; a pad, a knob or "
            "a bad joint may be behind it.",
            date=most.read_db.date,
            lines=some(_line_name(view, one.way) for one in mine),
            most=_line_name(view, most.way),
            apart=abs(most.apart_db),
            more=sentence("more") if most.apart_db > 0 else sentence("less"),
        ),
        found=most.way_db,
        limit=most.reckoned_db
        + hypot(most.off_db, most.reckoned_off_db) * (1 if most.apart_db > 0 else -1),
        unit="dB",
    )


def _delays(view: View) -> Iterator[Finding]:
    """How long lines take, by their figures and as they were measured."""
    mine = [one for one in view.figures.readings.delays.values() if _late(view, one)]
    if not mine:
        return
    most = max(mine, key=lambda one: abs(float(one.way_ms) - one.reckoned_ms))
    low, high = spread_ratio(most.reckoned_from)
    longer = most.way_ms > most.reckoned_ms
    yield Finding(
        at=_row_of(view, most.way),
        says=sentence(
            "By what was measured on {date}, {lines} {take} another time than the figures make "
            "likely: {most} {read:.2f} ms, where they add up to {reckoned:.2f}. What was measured "
            "counts; the way from the channel to the recorder is in it.",
            date=most.way_ms.date,
            lines=some(_line_name(view, one.way) for one in mine),
            take=sentence("takes") if len(mine) == 1 else sentence("take"),
            most=_line_name(view, most.way),
            read=float(most.way_ms),
            reckoned=most.reckoned_ms,
        ),
        found=most.way_ms,
        limit=most.reckoned_ms * (high if longer else low),
        unit="ms",
    )


def _late(view: View, reading: DelayReading) -> bool:
    """Whether a line takes a time that its figures do not make likely."""
    hops = [view.graph.hops[number] for number in reading.way.hops[reading.way.plugged :]]
    if any(hop.delay_ms is None and view.delays.lacks(hop) for hop in hops):
        return False  # there is no figure to hold it against
    low, high = spread_ratio(reading.reckoned_from)
    least, most = spread_ratio("measured")
    way_ms = float(reading.way_ms)
    return way_ms * most < reading.reckoned_ms * low or way_ms * least > reading.reckoned_ms * high


def _line_name(view: View, way: LineWay) -> str:
    return sentence(
        "channel {channel} ({source})",
        channel=way.channel,
        source=view.rig.sources[way.source].name,
    )


def measured_before(view: View) -> Iterator[Finding]:
    """Something was measured of lines that are no more: through other boxes, or of another rig.

    Why: what was measured says nothing of the lines as they are, so the figures count again.
    Fix: measure again, or move the file away so that nobody takes it for this rig's.
    Source: Derived: the types of the boxes that the line ran through then and now.

    Fails:
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: 110}]
        gear: [{id: mixer, name: Mixer, type: mixer-rack-12}]
        patch: [{source: voice, plug: mixer.in.1, channel: 1, gain_db: 30}]
        --- # measured/take-2027-03-01.json
        {"form": 1, "kind": "take", "date": "2027-03-01", "method": "a take", "rig": "Example",
         "lines": [{"channel": 1, "source": "voice", "socket": "mixer.in.1",
                    "through": ["mixer-rack-24"], "knobs_db": 30, "loudest_dbfs": -20}]}
    Passes:
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: 110}]
        gear: [{id: mixer, name: Mixer, type: mixer-rack-12}]
        patch: [{source: voice, plug: mixer.in.1, channel: 1, gain_db: 30}]
        --- # measured/take-2027-03-01.json
        {"form": 1, "kind": "take", "date": "2027-03-01", "method": "a take", "rig": "Example",
         "lines": [{"channel": 1, "source": "voice", "socket": "mixer.in.1",
                    "through": ["mixer-rack-12"], "knobs_db": 30, "loudest_dbfs": -20}]}
    """
    ways = {way.identity for way in view.figures.readings.ways}
    for kept in view.rig.measured:
        if kept.kind != "tails" and not any(line.identity in ways for line in kept.lines):
            yield Finding(
                at=kept.where,
                says=sentence(
                    "Of {file} no line is one of this rig: it was measured on {date} of {rig}.",
                    file=kept.where.file,
                    date=kept.date,
                    rig=kept.rig or sentence("another one"),
                ),
            )
    for stale in view.figures.readings.stale:
        was, now = (
            listed(_type_name(view, name) for name in types)
            for types in (stale.line.through or (), stale.way.through)
        )
        yield Finding(
            at=_row_of(view, stale.way),
            says=sentence(
                "Channel {channel} ({source}) was measured on {date} when it ran through {was}; "
                "now it runs through {now}, and what was measured does not count.",
                channel=stale.way.channel,
                source=view.rig.sources[stale.way.source].name,
                date=stale.kept.date,
                was=was or sentence("nothing"),
                now=now,
            ),
        )


def line_going(view: View) -> Iterator[Finding]:
    """By what was measured from time to time, a line goes the wrong way.

    Why: a lead or an input that gets a little worse at each show fails at one of the next; at home
        there is time to change it.
    Fix: change what it points at, measure again and keep that.
    Source: common practice, no source: three measurements in a row that each got worse, or a change
        beyond what two measurements of a healthy line differ by. Limits are in docs/proving.md.

    Fails:
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: 110}]
        gear: [{id: mixer, name: Mixer, type: mixer-rack-12}]
        patch: [{source: voice, plug: mixer.in.1, channel: 1, gain_db: 30}]
        --- # measured/take-2027-03-01.json
        {"form": 1, "kind": "take", "date": "2027-03-01", "method": "a take", "rig": "Example",
         "lines": [{"channel": 1, "source": "voice", "socket": "mixer.in.1", "noise_dba": -84}]}
        --- # measured/take-2027-03-08.json
        {"form": 1, "kind": "take", "date": "2027-03-08", "method": "a take", "rig": "Example",
         "lines": [{"channel": 1, "source": "voice", "socket": "mixer.in.1", "noise_dba": -82}]}
        --- # measured/take-2027-03-15.json
        {"form": 1, "kind": "take", "date": "2027-03-15", "method": "a take", "rig": "Example",
         "lines": [{"channel": 1, "source": "voice", "socket": "mixer.in.1", "noise_dba": -79.5}]}
    Passes:
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: 110}]
        gear: [{id: mixer, name: Mixer, type: mixer-rack-12}]
        patch: [{source: voice, plug: mixer.in.1, channel: 1, gain_db: 30}]
        --- # measured/take-2027-03-01.json
        {"form": 1, "kind": "take", "date": "2027-03-01", "method": "a take", "rig": "Example",
         "lines": [{"channel": 1, "source": "voice", "socket": "mixer.in.1", "noise_dba": -84}]}
        --- # measured/take-2027-03-08.json
        {"form": 1, "kind": "take", "date": "2027-03-08", "method": "a take", "rig": "Example",
         "lines": [{"channel": 1, "source": "voice", "socket": "mixer.in.1", "noise_dba": -82}]}
        --- # measured/take-2027-03-15.json
        {"form": 1, "kind": "take", "date": "2027-03-15", "method": "a take", "rig": "Example",
         "lines": [{"channel": 1, "source": "voice", "socket": "mixer.in.1", "noise_dba": -83.5}]}
    """
    if len(view.rig.measured) < 2:
        return
    from rigproof.linecheck.drifting import called, going, going_tails

    ways = {way.channel: way for way in view.figures.readings.ways}
    names = called(view.rig, view.graph, ways.values())
    for one in going(view.rig.measured, names):
        way = ways.get(one.channel)
        if way is not None:  # what has left the rig is nobody's trouble
            yield _gone(one, _row_of(view, way))
    for line, one in going_tails(view.rig.measured):
        row = view.rig.rows.get(line.source)
        if row is not None:
            yield _gone(one, row.where)


def _gone(one: "Drift", at: Where) -> Finding:
    return Finding(
        at=at,
        says=one.says,
        found=one.now - one.before,
        limit=one.limit,
        unit="dB" if one.unit == "dBFS" else one.unit,
    )


def _type_name(view: View, name: str) -> str:
    """What boxes of a type are called; of one that the rig has no more, if the library has it."""
    if name in view.rig.types:
        return kind_of(view.rig, name)
    return keyed(library_type(name).name, f"types.{name}") if name in type_ids() else name


def _row_of(view: View, way: LineWay) -> Where:
    row = view.rig.rows.get(way.source)
    return row.where if row is not None else NOWHERE


RULES = (
    Rule(id="figures.measured-apart", severity="advice", check=measured_apart, since="0.1"),
    Rule(id="figures.measured-before", severity="advice", check=measured_before, since="0.1"),
    Rule(id="log.line-going", severity="risk", check=line_going, since="0.1"),
)
