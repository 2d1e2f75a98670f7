"""Rules about the papers: version, dates, whom to ask, and figures that are missing."""

from collections.abc import Iterator

from rigproof.checks.dates import day, later, stated_days
from rigproof.checks.rule import Finding, Rule, View
from rigproof.mains import gives_mains, needs_mains, plate_w, volts_of
from rigproof.rig import Gear, Rig, Where
from rigproof.signal.words import box
from rigproof.wording import listed, opening, some
from rigproof.wording.sentences import sentence


def no_version(view: View) -> Iterator[Finding]:
    """The papers carry no version, or no day until which they hold.

    Why: an agency keeps sending the list of a band that no longer exists, and the venue sets it up.
    Fix: state version and valid_until under rig, and raise the version with every change.
    Source: common practice, no source (several published accounts).

    Fails:
        rig: {name: Example, contact: {name: Ada}}
    Passes:
        rig: {name: Example, version: "3", valid_until: 2027-12-31, contact: {name: Ada}}
    """
    about = view.rig.about
    missing = [
        word
        for word, text in (
            (sentence("version"), about.version),
            (sentence('"valid until" day'), about.valid_until),
        )
        if not text
    ]
    if missing:
        yield Finding(
            at=_about(view.rig),
            says=sentence("The papers carry no {names}.", names=listed(missing, "and no")),
        )


def _about(rig: Rig) -> Where:
    return rig.about.where


def no_contact(view: View) -> Iterator[Finding]:
    """Nobody is named whom a venue can ask.

    Why: the one question that would have saved the evening is not asked.
    Fix: state contact under rig, with a phone number that is answered on the day.
    Source: common practice, no source.

    Fails:
        rig: {name: Example, version: "3", valid_until: 2027-12-31}
    Passes:
        rig: {name: Example, contact: {name: Ada, phone: "+00 555 0100"}}
    """
    contact = view.rig.about.contact
    if contact is None:
        yield Finding(at=_about(view.rig), says=sentence("The papers name nobody to ask."))
    elif not contact.phone and not contact.mail:
        yield Finding(
            at=contact.where,
            says=sentence(
                "{contact} can be asked, but has no phone and no mail.", contact=contact.name
            ),
        )


def expired(view: View) -> Iterator[Finding]:
    """A show is later than the day until which the papers hold.

    Why: the house will work from a paper that says itself that it is out of date.
    Fix: check that it still holds, then give it a new version and a later valid_until.
    Source: common practice, no source. Compared with the shows of the file, not with today.

    Fails:
        rig: {name: Example, version: "3", valid_until: 2027-03-31}
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: spring, name: Spring dance, date: 2027-04-17, venue: hall}]
    Passes:
        rig: {name: Example, version: "3", valid_until: 2027-12-31}
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: spring, name: Spring dance, date: 2027-04-17, venue: hall}]
    """
    for show in view.rig.file.shows:
        if later(show.date, view.rig.about.valid_until):
            yield Finding(
                at=show.where.of("date"),
                says=sentence(
                    "{show} is on {date}; the papers hold until {valid_until}.",
                    show=show.name or show.id,
                    date=show.date,
                    valid_until=view.rig.about.valid_until,
                ),
            )


def date_unreadable(view: View) -> Iterator[Finding]:
    """A date is not written so that it can be compared.

    Why: 4/5/2027 is in April or in May, depending on who reads it.
    Fix: write year-month-day, such as 2027-05-04.
    Source: ISO 8601 (calendar dates).

    Fails:
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: spring, name: Spring dance, date: 4/5/2027, venue: hall}]
    Passes:
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: spring, name: Spring dance, date: 2027-05-04, venue: hall}]
    """
    for text, at, what in stated_days(view.rig):
        if text and day(text) is None:
            yield Finding(
                at=at,
                says=sentence(
                    '{what} reads "{text}", which cannot be compared.',
                    what=opening(what),
                    text=text,
                ),
            )


def replaces_itself(view: View) -> Iterator[Finding]:
    """The papers say that they replace the version that they are.

    Why: the version was not raised with the change, and two different lists now carry one number.
    Fix: give this one the next version, and let replaces name the one before.
    Source: common practice, no source.

    Fails:
        rig: {name: Example, version: "3", replaces: "3"}
    Passes:
        rig: {name: Example, version: "4", replaces: "3"}
    """
    about = view.rig.about
    if about.version and about.version == about.replaces:
        yield Finding(
            at=about.where.of("replaces"),
            says=sentence(
                "Version {version} says that it replaces version {replaces}.",
                version=about.version,
                replaces=about.replaces,
            ),
        )


def ends_before_it_begins(view: View) -> Iterator[Finding]:
    """The papers were out of date on the day they were made.

    Why: whoever reads the last day puts them away.
    Fix: set valid_until to a day after the last show that they are meant for.
    Source: common practice, no source.

    Fails:
        rig: {name: Example, date: 2027-05-01, valid_until: 2026-12-31}
    Passes:
        rig: {name: Example, date: 2027-05-01, valid_until: 2027-12-31}
    """
    about = view.rig.about
    if later(about.date, about.valid_until):
        yield Finding(
            at=about.where.of("valid_until"),
            says=sentence(
                "The papers are of {date} and hold until {valid_until}.",
                date=about.date,
                valid_until=about.valid_until,
            ),
        )


def away_but_needed(view: View) -> Iterator[Finding]:
    """Somebody who is away on a show has a job there that nobody else has.

    Why: the person who knows the patch, or the only voice that can talk to the band, is at home.
    Fix: name somebody else for that night, and walk them through it.
    Source: common practice, no source.

    Fails:
        rig: {name: Example, patch_owner: ada}
        people: [{id: ada, name: Ada}]
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: s, name: Spring dance, date: 2027-04-17, venue: hall, without: [ada]}]
    Passes:
        rig: {name: Example, patch_owner: ada}
        people: [{id: ada, name: Ada}, {id: ben, name: Ben}]
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: s, name: Spring dance, date: 2027-04-17, venue: hall, without: [ben]}]
    """
    if view.show is not None:
        return  # that rig has already lost those who are away
    owner = view.rig.about.patch_owner
    callers = {p.id for p in view.rig.file.people if p.leads_band}
    for show in view.rig.file.shows:
        away = set(show.without)
        come = {p.id for p in show.people if p.leads_band}
        jobs: dict[str, list[str]] = {}
        if owner in away:
            jobs.setdefault(owner, []).append(sentence("owns the patch"))
        gain = view.rig.about.gain_owner
        if gain in away:
            jobs.setdefault(gain, []).append(sentence("alone turns the gain"))
        if callers and callers <= away and not come:
            for caller in sorted(callers):
                jobs.setdefault(caller, []).append(sentence("leads the band"))
        for name, does in jobs.items():
            yield Finding(
                at=show.where.of("without"),
                says=sentence(
                    "{person} {names} and is away at {show}.",
                    person=view.rig.people[name].name,
                    names=listed(does),
                    show=show.name or show.id,
                ),
            )


def figure_missing(view: View) -> Iterator[Finding]:
    """Weight or watts of boxes in the case, or the volts of a venue, are not stated.

    Why: whether one person can lift it, what the venue's circuit has to give, and whether the
        supplies start there at all, stays open.
    Fix: weigh it, read the plate beside the inlet, ask the venue.
    Source: the gear types and venues; nothing is guessed.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24, unit: 1}]
        venues: [{id: club, name: The Cellar, desk: {takes: nothing}}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24, unit: 1}]
        venues: [{id: club, name: The Cellar, desk: {takes: nothing}, volts_v: 230}]
    """
    rig = view.rig
    boxes = [g for g in rig.file.gear if g.placed == "case"]
    silent = [v for v in rig.file.venues if volts_of(v) is None]
    if silent and any(needs_mains(rig.types[g.type]) for g in rig.file.gear):
        yield Finding(
            at=silent[0].where,
            says=sentence(
                "The volts at {names} are not stated.", names=some(v.name for v in silent)
            ),
            fix=sentence(
                "State volts_v of the venue, or its country by two letters: ask, and measure."
            ),
        )
    no_weight = [g for g in boxes if g.weight_kg is None and rig.types[g.type].weight_kg is None]
    if no_weight:
        yield Finding(
            at=no_weight[0].where,
            says=sentence(
                "The weight of {names} is not stated.",
                names=some(box(rig, g.id) for g in no_weight),
            ),
            fix=sentence("Weigh it, and state weight_kg in its gear type."),
        )
    no_watts = [g for g in boxes if _watts_missing(rig, g)]
    if no_watts:
        yield Finding(
            at=no_watts[0].where,
            says=sentence(
                "What {names} draws is not stated.", names=some(box(rig, g.id) for g in no_watts)
            ),
            fix=sentence(
                "Read the plate beside the inlet, and state power.watts in its gear type."
            ),
        )


def _watts_missing(rig: Rig, gear: Gear) -> bool:
    type_ = rig.types[gear.type]
    if not needs_mains(type_) or gives_mains(type_):
        return False  # a strip passes on what others draw
    power = type_.power
    if power is None or power.watts is not None or power.watts_max is not None:
        return False
    return plate_w(power) is None


RULES = (
    Rule(id="paper.no-version", severity="advice", check=no_version, since="0.1"),
    Rule(id="paper.no-contact", severity="advice", check=no_contact, since="0.1"),
    Rule(id="paper.expired", severity="risk", check=expired, since="0.1"),
    Rule(id="paper.date-unreadable", severity="advice", check=date_unreadable, since="0.1"),
    Rule(id="paper.replaces-itself", severity="advice", check=replaces_itself, since="0.1"),
    Rule(
        id="paper.ends-before-it-begins", severity="risk", check=ends_before_it_begins, since="0.1"
    ),
    Rule(id="show.person-away-but-needed", severity="risk", check=away_but_needed, since="0.1"),
    Rule(id="missing.figure", severity="unknown", check=figure_missing, since="0.1"),
)
