"""Rules about what was tried together: the firmware of the boxes, and the rig as a whole."""

from collections.abc import Iterator

from rigproof.checks.dates import later, nights_ahead
from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig import Gear
from rigproof.signal.words import box
from rigproof.wording import some
from rigproof.wording.sentences import sentence


def set_not_recorded(view: View) -> Iterator[Finding]:
    """Boxes that exchange audio in digits, and nobody wrote which firmware was tried together.

    Why: one box is brought up to date, its partner is not, and an hour before doors 55 dB of gain
        do almost nothing; what was the last set that worked, nobody knows.
    Fix: write tested with its date and, under firmware, each of these boxes with the version that
        its menu shows.
    Source: common practice, no source; taken from an account of a desk and a box that disagreed.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}, {id: box, type: stage-box-16x8}]
        leads: [{id: link, type: lead-network-locking, from: box.link, to: mixer.link}]
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, date: 2027-05-08, venue: hall}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}, {id: box, type: stage-box-16x8}]
        leads: [{id: link, type: lead-network-locking, from: box.link, to: mixer.link}]
        tested:
          date: 2027-04-20
          firmware: [{gear: mixer, version: "2.4"}, {gear: box, version: "2.4"}]
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, date: 2027-05-08, venue: hall}]
    """
    if not view.rig.file.shows:
        return
    tested = view.rig.file.tested
    recorded = {one.gear for one in tested.firmware} if tested is not None else set()
    for domain in view.clock_domains:
        silent = [name for name in domain.boxes if name not in recorded]
        if silent and len(domain.boxes) > 1:
            at = tested.where if tested is not None else view.rig.gear[silent[0]].where
            yield Finding(
                at=at,
                says=sentence(
                    "Nobody wrote with which firmware {names} {word} tried together{word2}.",
                    names=some(box(view.rig, n) for n in silent),
                    word=sentence("was") if len(silent) == 1 else sentence("were"),
                    word2=sentence(" with the rest") if len(silent) < len(domain.boxes) else "",
                ),
            )


def not_as_tested(view: View) -> Iterator[Finding]:
    """A box has another firmware than the set that was tried together.

    Why: each version may work alone, and the two may not work with one another.
    Fix: go back to the version that was tried, or try the whole set again and write it down.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, name: Mixer, type: mixer-rack-24, firmware: "2.5"}]
        tested: {date: 2027-04-20, firmware: [{gear: mixer, version: "2.4"}]}
    Passes:
        gear: [{id: mixer, name: Mixer, type: mixer-rack-24, firmware: "2.4"}]
        tested: {date: 2027-04-20, firmware: [{gear: mixer, version: "2.4"}]}
    """
    tested = view.rig.file.tested
    for one in tested.firmware if tested is not None else ():
        gear = view.rig.gear[one.gear]
        if gear.firmware and gear.firmware != one.version:
            yield Finding(
                at=gear.where.of("firmware"),
                says=sentence(
                    "{box} has firmware {firmware}; the set tried together on {date} had "
                    "{version}.",
                    box=box(view.rig, gear.id),
                    firmware=gear.firmware,
                    date=tested.date if tested else "",
                    version=one.version,
                ),
            )


def in_the_freeze(view: View) -> Iterator[Finding]:
    """Firmware was changed after the day from which nobody was to change any.

    Why: a last date exists so that the first night of a run is not the first night of a version.
    Fix: go back to the version before, or move the day on purpose and try everything again.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, name: Mixer, type: mixer-rack-24, firmware_since: 2027-05-02}]
        tested: {date: 2027-05-03, frozen_from: 2027-04-25}
    Passes:
        gear: [{id: mixer, name: Mixer, type: mixer-rack-24, firmware_since: 2027-04-02}]
        tested: {date: 2027-05-03, frozen_from: 2027-04-25}
    """
    tested = view.rig.file.tested
    for gear in view.rig.file.gear if tested is not None else ():
        if tested is not None and later(gear.firmware_since, tested.frozen_from):
            yield Finding(
                at=gear.where.of("firmware_since"),
                says=sentence(
                    "{box} got its firmware on {firmware_since}; from {frozen_from} on "
                    "nobody was to change any.",
                    box=box(view.rig, gear.id),
                    firmware_since=gear.firmware_since,
                    frozen_from=tested.frozen_from,
                ),
            )


def came_later(view: View) -> Iterator[Finding]:
    """A box, or its firmware, came after the last test of everything.

    Why: a repaired transformer was first plugged at the sound check, and the pedals stayed dead.
    Fix: set everything up at home, line by line, and write the day as tested.
    Source: common practice, no source: nothing untested travels.

    Fails:
        gear: [{id: amp, name: New amplifier, type: headphone-amp-4, since: 2027-05-02}]
        tested: {date: 2027-04-20}
    Passes:
        gear: [{id: amp, name: New amplifier, type: headphone-amp-4, since: 2027-04-02}]
        tested: {date: 2027-04-20}
    """
    tested = view.rig.file.tested
    if tested is None:
        return
    for gear in view.rig.file.gear:
        for key, what in (
            ("since", sentence("came")),
            ("firmware_since", sentence("got its firmware")),
        ):
            when = getattr(gear, key)
            if later(when, tested.date):
                yield Finding(
                    at=gear.where.of(key),
                    says=sentence(
                        "{box} {what} on {when}, after the last test of everything ({date}).",
                        box=box(view.rig, gear.id),
                        what=what,
                        when=when,
                        date=tested.date,
                    ),
                )
                break


def never_tested(view: View) -> Iterator[Finding]:
    """Nobody wrote down that everything was tried together before the next show.

    Why: several ways that were never tried meet on site: no click from the laptop, a singer
        without ears, a buzz in all ears, and the schedule is gone.
    Fix: set everything up at home, run the line check sheet to its end, and write tested with the
        day.
    Source: common practice, no source; taken from an account of a first night.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}]
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, name: May dance, date: 2027-05-08, venue: hall}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}]
        tested: {date: 2027-04-20, by: Ada}
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, name: May dance, date: 2027-05-08, venue: hall}]
    """
    tested = view.rig.file.tested
    ahead = nights_ahead(view.rig)
    if not ahead or not any(_travels(gear) for gear in view.rig.file.gear):
        return
    first = ahead[0]
    night = sentence("{first} on {date}", first=first.name or first.id, date=first.date)
    if tested is None:
        yield Finding(
            at=view.rig.about.where,
            says=sentence("No test of everything is written down before {night}.", night=night),
        )
    elif later(tested.date, first.date):
        yield Finding(
            at=tested.where.of("date"),
            says=sentence(
                "The test of everything is on {date}, after {night}.", date=tested.date, night=night
            ),
        )


def _travels(gear: Gear) -> bool:
    return gear.owner == "band"


RULES = (
    Rule(id="firmware.set-not-recorded", severity="advice", check=set_not_recorded, since="0.1"),
    Rule(id="firmware.not-as-tested", severity="risk", check=not_as_tested, since="0.1"),
    Rule(id="firmware.in-the-freeze", severity="risk", check=in_the_freeze, since="0.1"),
    Rule(id="test.came-later", severity="risk", check=came_later, since="0.1"),
    Rule(id="test.none-before-show", severity="advice", check=never_tested, since="0.1"),
)
