"""How much sound each person's ears get, against a criterion that somebody has to choose.

The level is the one a mix states it is meant to reach, or was measured at, else the one that
comes out of the plan; it is taken as dB(A), which errs on the loud side for music. The hours are
those of a rehearsal, of a show and of the week. What comes in past the earphones, and all sound
outside this rig, is not counted.
"""

from collections.abc import Mapping, Sequence
from math import hypot
from typing import Literal

import msgspec

from rigproof.physics.exposure import (
    EU_LIMIT,
    EU_LOWER,
    EU_UPPER,
    NIOSH,
    OSHA,
    WEEK_H,
    WHO_ADULT,
    WHO_SENSITIVE,
    Criterion,
    allowed_h,
    dose_percent,
    highest_dba,
    lex_dba,
    one_ear_dba,
)
from rigproof.rig import Rig
from rigproof.rig.band import DayCriterion, Person, WeekCriterion
from rigproof.rig.quantity import Provenance, Quantity
from rigproof.rig.spread import spread_db, weaker
from rigproof.signal.ceilings import Loudest
from rigproof.signal.ladder import Told
from rigproof.signal.sums import EarSum
from rigproof.wording.sentences import sentence

# What one may go by, as `hearing` of the file names it; left out, the usual ones count.
CRITERIA: Mapping[str, Criterion] = {
    "85/3": NIOSH,
    "90/5": OSHA,
    "80/40h": WHO_ADULT,
    "75/40h": WHO_SENSITIVE,
    "eu-lower": EU_LOWER,
    "eu-upper": EU_UPPER,
    "eu-limit": EU_LIMIT,
}
DAY: DayCriterion = "85/3"
WEEK: WeekCriterion = "80/40h"
# Where nobody says how long a rehearsal or a show lasts. Common practice, no source.
REHEARSAL_H = Quantity(3, "assumed")
SHOW_H = Quantity(2, "assumed")
_ONE_EAR: Provenance = "typical"  # how far one ear is turned up

CAUTION = sentence(
    "None of these figures says that a level does no harm: each criterion "
    "accepts that some people lose hearing. They leave out the stage itself, "
    "a bad seal, and the rest of the day. Ringing or dull ears after a show "
    "mean it was too loud whatever the sheet says. Go by the law of the "
    "place, and let an audiologist test and advise."
)

Basis = Literal["stated", "planned"]
Occasion = Literal["rehearsal", "show", "week"]


class Dose(msgspec.Struct, frozen=True):
    """One occasion against one criterion, at a level that is held all the time."""

    occasion: Occasion
    duration_h: Quantity
    criterion: str
    level_dba: Quantity
    allowed_h: float
    percent: float

    def likely_percent(self, off_db: float) -> tuple[float, float]:
        """The share where the level is off to either side by so much."""
        level = float(self.level_dba)
        return _share(self, level - off_db), _share(self, level + off_db)


class Exposure(msgspec.Struct, frozen=True):
    """One person's ears. `level_dba` is None where nobody can say; `waits_for` is why.

    `one_ear_dba`: the level of the ear that is left when the other earphone comes out and the
    loudness is kept. `ceiling`: the most that gets through with the stated limiters.
    """

    person: str
    level_dba: Quantity | None
    basis: Basis | None
    waits_for: tuple[str, ...]
    one_ear: bool
    one_ear_dba: float | None
    doses: tuple[Dose, ...]
    lex_day_dba: float | None
    ceiling: Loudest | None
    caution: str = CAUTION

    def dose(self, occasion: Occasion, criterion: str) -> Dose | None:
        """The share of one occasion by one criterion."""
        return next(
            (d for d in self.doses if d.occasion == occasion and d.criterion == criterion), None
        )


def day_criterion(rig: Rig) -> DayCriterion:
    """By which criterion a rehearsal or a show is judged."""
    return (rig.file.hearing.day if rig.file.hearing else None) or DAY


def week_criterion(rig: Rig) -> WeekCriterion:
    """By which criterion the hours of a week are judged."""
    return (rig.file.hearing.week if rig.file.hearing else None) or WEEK


def exposures(
    rig: Rig, sums: Mapping[str, EarSum], criteria: Sequence[str] = tuple(CRITERIA)
) -> tuple[Exposure, ...]:
    """Everyone with earphones in a socket, in the order of the file."""
    stated: dict[str, Quantity] = {}  # of the first mix that is meant to reach so much
    for mix in rig.file.mixes:
        if mix.target_db is not None:
            for name in mix.listeners:
                stated.setdefault(name, mix.target_db)
    return tuple(
        _exposure(person, sums[person.id], stated.get(person.id), criteria)
        for person in rig.file.people
        if person.id in sums
    )


def doses_at(rig: Rig, person: Person, level: Quantity) -> tuple[Dose, ...]:
    """What a level in both ears makes of each occasion, by the criteria that the rig goes by."""
    return tuple(
        _dose(occasion, hours, name, level) for occasion, hours, name in _occasions(rig, person)
    )


def most_dba(rig: Rig, person: Person) -> float:
    """The level at which the first occasion uses up the criterion that the rig goes by."""
    return min(
        highest_dba(duration_h=float(hours), criterion=counted(CRITERIA[name], occasion))
        for occasion, hours, name in _occasions(rig, person)
    )


def _occasions(rig: Rig, person: Person) -> list[tuple[Occasion, Quantity, str]]:
    day, week = day_criterion(rig), week_criterion(rig)
    rehearsal, show = _day(person)
    found: list[tuple[Occasion, Quantity, str]] = [
        ("rehearsal", rehearsal, day),
        ("show", show, day),
    ]
    if person.hours_per_week_h is not None:
        found.append(("week", person.hours_per_week_h, week))
    return [one for one in found if float(one[1]) > 0]


def _exposure(
    person: Person, ear: EarSum, stated: Quantity | None, criteria: Sequence[str]
) -> Exposure:
    level, basis, waits_for = _level(ear, stated)
    one_ear = person.ears is not None and person.ears.one_ear
    alone = None if level is None else one_ear_dba(both_ears_dba=float(level))
    counted = level
    if one_ear and level is not None and alone is not None:
        counted = Quantity(alone, weaker(level.provenance, _ONE_EAR))
    doses = () if counted is None else tuple(_doses(person, counted, criteria))
    longest = max(_day(person), key=float)
    return Exposure(
        person.id,
        level,
        basis,
        waits_for,
        one_ear,
        alone,
        doses,
        None
        if counted is None or not float(longest)
        else lex_dba(level_dba=float(counted), duration_h=float(longest)),
        ear.limited,
    )


def _level(
    ear: EarSum, stated: Quantity | None
) -> tuple[Quantity | None, Basis | None, tuple[str, ...]]:
    if stated is not None:
        return stated, "stated", ()
    planned = ear.total_spl
    if planned is None or ear.missing or not ear.planned:
        waits = tuple(sentence("the setting of {place}", place=place) for place in ear.unwritten)
        waits += tuple(sentence("the sends of {gear}", gear=gear) for gear in ear.open_sends)
        return None, None, (*ear.missing, *waits)
    return Quantity(planned, ear.provenance), "planned", ()


def _day(person: Person) -> tuple[Quantity, Quantity]:
    """A rehearsal and a show; neither is longer than what the person says of a whole week."""
    week = person.hours_per_week_h
    if week is None:
        return REHEARSAL_H, SHOW_H
    return min(REHEARSAL_H, week, key=float), min(SHOW_H, week, key=float)


def _doses(person: Person, level: Quantity, criteria: Sequence[str]) -> list[Dose]:
    rehearsal, show = _day(person)
    spans: list[tuple[Occasion, Quantity]] = [("rehearsal", rehearsal), ("show", show)]
    if person.hours_per_week_h is not None:
        spans.append(("week", person.hours_per_week_h))
    return [_dose(o, hours, name, level) for o, hours in spans for name in criteria]


def counted(criterion: Criterion, occasion: Occasion) -> Criterion:
    """A criterion as it counts over an occasion: a week is five of its days (2003/10/EC, 2)."""
    if occasion == "week" and criterion.time_h < WEEK_H:
        return msgspec.structs.replace(criterion, time_h=5 * criterion.time_h)
    return criterion


def _dose(occasion: Occasion, hours: Quantity, name: str, level: Quantity) -> Dose:
    criterion = counted(CRITERIA[name], occasion)
    longest_h = allowed_h(level_dba=float(level), criterion=criterion)
    percent = dose_percent(level_dba=float(level), duration_h=float(hours), criterion=criterion)
    return Dose(occasion, hours, name, level, longest_h, percent)


def _share(dose: Dose, level_dba: float) -> float:
    criterion = counted(CRITERIA[dose.criterion], dose.occasion)
    return dose_percent(level_dba=level_dba, duration_h=float(dose.duration_h), criterion=criterion)


def both_ears_of(found: Exposure, together: Told | None) -> Told | None:
    """The level in both ears with its likely range.

    `together`: everything at these ears by the plan. A stated level errs by what it is worth.
    """
    level = found.level_dba
    if level is None:
        return None
    if found.basis == "planned" and together is not None:
        return Told(float(level), together.off_db, together.provenance)
    return Told(float(level), spread_db(level.provenance), level.provenance)


def level_of(found: Exposure, together: Told | None) -> Told | None:
    """The level that the shares are of, with its likely range: in one ear, that of this ear."""
    told = both_ears_of(found, together)
    if told is None or not found.one_ear or found.one_ear_dba is None:
        return told
    off_db = hypot(told.off_db, spread_db(_ONE_EAR))
    return Told(found.one_ear_dba, off_db, weaker(told.provenance, _ONE_EAR))
