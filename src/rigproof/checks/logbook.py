"""Rules about the log: faults that nobody mended, looks that are due, the list for an insurer."""

from collections.abc import Iterator

from rigproof.checks.dates import later, nights_ahead
from rigproof.checks.rule import Finding, Rule, View
from rigproof.mains import needs_mains
from rigproof.rig import LogEntry, Rig
from rigproof.signal.words import box
from rigproof.wording import counted, opening, some
from rigproof.wording.sentences import sentence


def _subject(rig: Rig, entry: LogEntry) -> str:
    return box(rig, entry.gear) if entry.gear is not None else entry.what or sentence("something")


def fault_open(view: View) -> Iterator[Finding]:
    """A fault was written down, and nobody wrote that it was mended.

    Why: the suspect lead is back in the bag with all the good ones, and it fails again in a song.
    Fix: mark the piece so that it cannot come back into stock, mend it, try it, and write mended
        with the day.
    Source: common practice, no source: nothing untested travels.

    Fails:
        gear: [{id: amp, name: Headphone amplifier, type: headphone-amp-4}]
        log: [{date: 2027-04-17, gear: amp, fault: left side of output 2 cuts out}]
    Passes:
        gear: [{id: amp, name: Headphone amplifier, type: headphone-amp-4}]
        log:
          - {date: 2027-04-17, gear: amp, fault: left side of output 2 cuts out,
             mended: 2027-04-21}
    """
    for entry in view.rig.file.log:
        if entry.fault and not entry.mended:
            yield Finding(
                at=entry.where,
                says=sentence(
                    "{subject}: {fault} ({date}); nobody wrote that it was mended.",
                    subject=opening(_subject(view.rig, entry)),
                    fault=entry.fault.rstrip("."),
                    date=entry.date,
                ),
            )


def look_due(view: View) -> Iterator[Finding]:
    """Something was to be looked at before the next show, and was not.

    Why: filters clog, inlets work loose, a power lead from a box of spares has its wires crossed;
        the day was set so that this is found at home.
    Fix: do it, and write a new line in the log; mains leads and boxes by somebody who may.
    Source: common practice, no source; how often, your local code says. Held against the dates of
        the shows, not against today.

    Fails:
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, name: May dance, date: 2027-05-08, venue: hall}]
        log: [{date: 2026-05-01, what: power leads, done: all tried, next: 2027-05-01}]
    Passes:
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, name: May dance, date: 2027-05-08, venue: hall}]
        log:
          - {date: 2026-05-01, what: power leads, done: all tried, next: 2027-05-01}
          - {date: 2027-04-28, what: power leads, done: all tried, next: 2028-05-01}
    """
    ahead = nights_ahead(view.rig)
    last: dict[tuple[str | None, str], LogEntry] = {}
    for entry in sorted(view.rig.file.log, key=lambda entry: entry.date):
        if entry.next:
            last[entry.gear, entry.what.casefold()] = entry
    for entry in last.values():
        late = next((show for show in ahead if later(show.date, entry.next)), None)
        if late is not None:
            yield Finding(
                at=entry.where.of("next"),
                says=sentence(
                    "{subject}: the next look was to be by {next}, before {late} on {date}.",
                    subject=opening(_subject(view.rig, entry)),
                    next=entry.next,
                    late=late.name or late.id,
                    date=late.date,
                ),
            )


def serials_incomplete(view: View) -> Iterator[Finding]:
    """Some boxes have a serial number on the list and others not.

    Why: a van is emptied in two minutes; police and insurer ask for the numbers, and at a border
        customs do.
    Fix: copy the number from the plate, with a photograph; or take the others out.
    Source: common practice, no source. Asked only once the list has begun.

    Fails:
        gear:
          - {id: mixer, name: Mixer, type: mixer-rack-24, serial: A 0001}
          - {id: amp, name: Amplifier, type: headphone-amp-4}
    Passes:
        gear:
          - {id: mixer, name: Mixer, type: mixer-rack-24, serial: A 0001}
          - {id: amp, name: Amplifier, type: headphone-amp-4, serial: B 0002}
    """
    rig = view.rig
    boxes = [
        gear for gear in rig.file.gear if gear.owner == "band" and needs_mains(rig.types[gear.type])
    ]
    bare = [gear for gear in boxes if not gear.serial]
    if bare and len(bare) < len(boxes):
        yield Finding(
            at=bare[0].where,
            says=sentence(
                "{boxes_have} a serial number here; {names} {word} none.",
                boxes_have=counted(len(boxes) - len(bare), "box has", "boxes have"),
                names=some(box(rig, gear.id) for gear in bare),
                word=sentence("has") if len(bare) == 1 else sentence("have"),
            ),
        )


RULES = (
    Rule(id="log.fault-open", severity="risk", check=fault_open, since="0.1"),
    Rule(id="log.look-due", severity="advice", check=look_due, since="0.1"),
    Rule(id="log.serials-incomplete", severity="advice", check=serials_incomplete, since="0.1"),
)
