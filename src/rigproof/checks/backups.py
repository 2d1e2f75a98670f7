"""Rules about copies: what is set inside a box must live somewhere else a second time."""

from collections.abc import Iterator
from datetime import date

from rigproof.checks.dates import day, later, nights_ahead
from rigproof.checks.playing import players
from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig import Backup, Rig
from rigproof.signal.words import box
from rigproof.wording import counted, noun
from rigproof.wording.sentences import sentence

COPIES = 2  # off the box; common practice, no source
# A coin cell keeps a memory for five years or so: makers' manuals, from memory.
CELL_YEARS = 5


def _keepers(view: View) -> Iterator[str]:
    """The band's boxes that hold hours of work: digital mixers, and computers that play."""
    playing = players(view)
    for gear in view.rig.file.gear:
        type_ = view.rig.types[gear.type]
        digital = type_.class_ == "mixer" and any(True for _ in type_.stages("converter"))
        if gear.owner == "band" and (digital or gear.id in playing):
            yield gear.id


def _of(rig: Rig, gear: str) -> list[Backup]:
    return [backup for backup in rig.file.backups if backup.of == gear]


def too_few(view: View) -> Iterator[Finding]:
    """The settings of a box exist only in it, or in one other place.

    Why: a memory battery of a few coins dies, the desk wakes up empty, and the one file that is
        left restores only a part.
    Fix: keep two copies off the box, in two places, and write them under backups; print routing,
        gains and names as well, for the night when no file loads.
    Source: common practice, no source; taken from accounts of wiped desks.

    Fails:
        gear: [{id: mixer, name: Mixer, type: mixer-rack-24}]
        backups: [{of: mixer, kept: stick in the case, date: 2027-04-20}]
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, date: 2027-05-08, venue: hall}]
    Passes:
        gear: [{id: mixer, name: Mixer, type: mixer-rack-24}]
        backups:
          - {of: mixer, kept: stick in the case, date: 2027-04-20}
          - {of: mixer, kept: Ada's drive at home, date: 2027-04-20}
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, date: 2027-05-08, venue: hall}]
    """
    if not view.rig.file.shows:
        return
    for gear in _keepers(view):
        copies = _of(view.rig, gear)
        if len(copies) < COPIES:
            yield Finding(
                at=copies[0].where if copies else view.rig.gear[gear].where,
                says=sentence(
                    "What is set in {box} is kept in one other place.", box=box(view.rig, gear)
                )
                if copies
                else sentence(
                    "What is set in {box} is kept nowhere else.", box=box(view.rig, gear)
                ),
                found=len(copies),
                limit=COPIES,
                unit=noun(len(copies), "copy", "copies"),
            )


def in_one_basket(view: View) -> Iterator[Finding]:
    """All copies of the settings ride in the case, with the box they are of.

    Why: the case that is stolen, dropped or soaked takes them along.
    Fix: let one copy live with a person or at home.
    Source: common practice, no source; taken from an account of a van emptied in two minutes.

    Fails:
        case: {type: case-12}
        gear:
          - {id: mixer, name: Mixer, type: mixer-rack-24, unit: 1}
          - {id: laptop, name: Laptop, type: laptop, place: case}
        backups: [{of: mixer, on: laptop, date: 2027-04-20}]
    Passes:
        case: {type: case-12}
        gear:
          - {id: mixer, name: Mixer, type: mixer-rack-24, unit: 1}
          - {id: laptop, name: Laptop, type: laptop, place: case}
        backups:
          - {of: mixer, on: laptop, date: 2027-04-20}
          - {of: mixer, kept: Ada's drive at home, date: 2027-04-20}
    """
    rig = view.rig
    for gear in dict.fromkeys(backup.of for backup in rig.file.backups):
        copies = _of(rig, gear)
        riding = [c for c in copies if c.on is not None and rig.gear[c.on].placed == "case"]
        if rig.gear[gear].placed == "case" and len(riding) == len(copies):
            yield Finding(
                at=copies[0].where,
                says=sentence(
                    "Every copy of what is set in {box} rides in the case with it.",
                    box=box(rig, gear),
                ),
            )


def older_than_rig(view: View) -> Iterator[Finding]:
    """The newest copy of the settings is older than the rig as it stands.

    Why: restored in a hurry, it brings back channels of a player who has left.
    Fix: save again, to both places, after every change; write the day.
    Source: common practice, no source. Held against the date of the rig, not against today.

    Fails:
        rig: {name: Example, date: 2027-05-01}
        gear: [{id: mixer, name: Mixer, type: mixer-rack-24}]
        backups: [{of: mixer, kept: stick, date: 2027-03-20}]
    Passes:
        rig: {name: Example, date: 2027-05-01}
        gear: [{id: mixer, name: Mixer, type: mixer-rack-24}]
        backups: [{of: mixer, kept: stick, date: 2027-05-02}]
    """
    about = view.rig.about
    for gear in dict.fromkeys(backup.of for backup in view.rig.file.backups):
        dated = [c for c in _of(view.rig, gear) if day(c.date) is not None]
        newest = max(dated, key=lambda copy: copy.date, default=None)
        if newest is not None and later(about.date, newest.date):
            yield Finding(
                at=newest.where.of("date"),
                says=sentence(
                    "The newest copy of what is set in {box} is of {date}; this version of "
                    "the rig is of {date2}.",
                    box=box(view.rig, gear),
                    date=newest.date,
                    date2=about.date,
                ),
            )


def never_restored(view: View) -> Iterator[Finding]:
    """Nobody ever put a copy back for a trial.

    Why: the file is there, and it restores half of the desk and none of the stage boxes.
    Fix: on a free evening save, wipe, restore, and look at routing, gains and names; write the
        day as restored.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, name: Mixer, type: mixer-rack-24}]
        backups: [{of: mixer, kept: stick, date: 2027-05-02}]
    Passes:
        gear: [{id: mixer, name: Mixer, type: mixer-rack-24}]
        backups: [{of: mixer, kept: stick, date: 2027-05-02, restored: 2027-02-11}]
    """
    for gear in dict.fromkeys(backup.of for backup in view.rig.file.backups):
        copies = _of(view.rig, gear)
        if not any(copy.restored for copy in copies):
            yield Finding(
                at=copies[0].where,
                says=sentence(
                    "No copy of what is set in {box} was ever put back for a trial.",
                    box=box(view.rig, gear),
                ),
            )


def memory_cell_old(view: View) -> Iterator[Finding]:
    """The cell that keeps a box's memory is older than such cells last.

    Why: it gives out between two shows, and the box wakes up as it left the factory.
    Fix: have it changed by somebody who may open the box; save everything before.
    Source: common practice, no source; five years or so, from memory of makers' manuals. Held
        against the last show of the file, or its date.

    Fails:
        rig: {name: Example, date: 2027-05-01}
        gear: [{id: mixer, name: Mixer, type: mixer-rack-24, memory_battery: 2021-03-01}]
    Passes:
        rig: {name: Example, date: 2027-05-01}
        gear: [{id: mixer, name: Mixer, type: mixer-rack-24, memory_battery: 2025-03-01}]
    """
    rig = view.rig
    ahead = nights_ahead(rig)
    until = day(ahead[-1].date if ahead else rig.about.date)
    for gear in rig.file.gear:
        put_in = day(gear.memory_battery)
        if until is None or put_in is None:
            continue
        years = _whole_years(put_in, until)
        if years >= CELL_YEARS:
            yield Finding(
                at=gear.where.of("memory_battery"),
                says=sentence(
                    "The memory cell of {box} is of {memory_battery}: {years} old on {until}.",
                    box=box(rig, gear.id),
                    memory_battery=gear.memory_battery,
                    years=counted(years, "year"),
                    until=until,
                ),
                found=years,
                limit=CELL_YEARS,
                unit="years",
            )


def _whole_years(start: date, end: date) -> int:
    return end.year - start.year - ((end.month, end.day) < (start.month, start.day))


RULES = (
    Rule(id="backup.too-few", severity="risk", check=too_few, since="0.1"),
    Rule(id="backup.in-one-basket", severity="risk", check=in_one_basket, since="0.1"),
    Rule(id="backup.older-than-rig", severity="advice", check=older_than_rig, since="0.1"),
    Rule(id="backup.never-restored", severity="advice", check=never_restored, since="0.1"),
    Rule(id="backup.memory-cell-old", severity="advice", check=memory_cell_old, since="0.1"),
)
