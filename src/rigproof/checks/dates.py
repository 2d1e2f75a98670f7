"""Days as a rig file states them. No rule knows what day it is today."""

from collections.abc import Iterator
from datetime import date

from rigproof.rig import Rig, Show
from rigproof.rig.where import Where
from rigproof.signal.words import box
from rigproof.wording.sentences import sentence


def day(text: str) -> date | None:
    """A date as ISO 8601 writes it: 2027-05-08."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def later(one: str, other: str) -> bool:
    """Whether one day is after the other, as far as both can be read."""
    a, b = day(one), day(other)
    return a is not None and b is not None and a > b


def nights_ahead(rig: Rig) -> tuple[Show, ...]:
    """The shows from the rig's own date on, the next one first; all of them if it has none."""
    today = day(rig.about.date)
    found = [(when, show) for show, when in _dated(rig) if today is None or when >= today]
    return tuple(show for _, show in sorted(found, key=lambda pair: (pair[0], pair[1].id)))


def _dated(rig: Rig) -> Iterator[tuple[Show, date]]:
    for show in rig.file.shows:
        when = day(show.date)
        if when is not None:
            yield show, when


def stated_days(rig: Rig) -> Iterator[tuple[str, Where, str]]:
    """Every day that the file states and rules compare: as written, its place, and of what."""
    about = rig.about
    yield about.date, about.where.of("date"), sentence("the date of the papers")
    yield about.valid_until, about.where.of("valid_until"), sentence("the last day of the papers")
    for gear in rig.file.gear:
        name = box(rig, gear.id)
        yield gear.since, gear.where.of("since"), sentence("the day {name} came", name=name)
        yield (
            gear.firmware_since,
            gear.where.of("firmware_since"),
            sentence("the firmware day of {name}", name=name),
        )
        yield (
            gear.memory_battery,
            gear.where.of("memory_battery"),
            sentence("the memory cell of {name}", name=name),
        )
    tested = rig.file.tested
    if tested is not None:
        yield tested.date, tested.where.of("date"), sentence("the day of the test")
        yield (
            tested.frozen_from,
            tested.where.of("frozen_from"),
            sentence("the day from which firmware stays"),
        )
    for backup in rig.file.backups:
        yield (
            backup.date,
            backup.where.of("date"),
            sentence("the copy of {box}", box=box(rig, backup.of)),
        )
    for entry in rig.file.log:
        yield entry.date, entry.where.of("date"), sentence("the day of a log entry")
        yield entry.next, entry.where.of("next"), sentence("the day of the next look")
    for show in rig.file.shows:
        name = show.name or show.id
        yield show.date, show.where.of("date"), sentence("the date of {name}", name=name)
        for sent in show.sent:
            yield (
                sent.date,
                sent.where.of("date"),
                sentence("the day papers went out for {name}", name=name),
            )
