"""How much sound each pair of ears gets, against criteria that somebody has to choose."""

from collections.abc import Iterator

from rigproof.checks.rule import View
from rigproof.mixes.exposure import (
    CAUTION,
    CRITERIA,
    Dose,
    Exposure,
    both_ears_of,
    day_criterion,
    level_of,
    week_criterion,
)
from rigproof.physics.exposure import EU_LIMIT_PEAK_PA, EU_LOWER_PEAK_PA, EU_UPPER_PEAK_PA
from rigproof.physics.levels import SINE_CREST_DB
from rigproof.physics.microphones import pa_to_spl
from rigproof.showbook.blocks import (
    DASH,
    Block,
    Cell,
    between,
    caution,
    cell,
    column,
    heading,
    left_out,
    needs,
    numbers,
    plain,
    remark,
    run,
    say,
    table,
)
from rigproof.showbook.numbers.reckoned import Reckoned
from rigproof.signal import ladder, words
from rigproof.wording import listed
from rigproof.wording.sentences import Told, joined, sentence

_PEAKS = sentence(
    "Peaks: the loudest sine and {sine_crest_db:.1f} dB. 2003/10/EC counts "
    "peaks, C-weighted, apart from any dose: action from {lower_dbc:.0f} and "
    "{upper_dbc:.0f} dB(C), limit {limit_dbc:.0f}.",
    sine_crest_db=SINE_CREST_DB,
    lower_dbc=pa_to_spl(EU_LOWER_PEAK_PA),
    upper_dbc=pa_to_spl(EU_UPPER_PEAK_PA),
    limit_dbc=pa_to_spl(EU_LIMIT_PEAK_PA),
)


def blocks(reckoned: Reckoned) -> Iterator[Block]:
    """Levels, shares of what each criterion accepts, and the most that can come."""
    view = reckoned.view
    found = view.exposures
    if not found:
        yield say(sentence("Nobody has earphones in a socket yet."))
        return
    yield caution(sentence("Hearing"), CAUTION)
    yield heading(sentence("How loud, and how loud it could get"))
    yield table(
        [
            column(sentence("Ears"), 1.1),
            numbers(sentence("Level"), 2.2, unit="dB(A)"),
            column(sentence("From"), 0.9),
            numbers(sentence("One ear out"), 0.8, unit="dB(A)"),
            numbers(sentence("With limiter"), 2.2, unit="dB SPL"),
            numbers(sentence("At the stop"), 2.3, unit="dB SPL"),
            numbers(sentence("Its peaks"), 0.8, unit="dB"),
            column(sentence("What holds it"), 2.2),
        ],
        [_levels(reckoned, one) for one in found],
    )
    waiting = [one for one in found if one.waits_for]
    if waiting:
        who = listed(words.person(view.rig, one.person) for one in waiting)
        waits = (_wait(view, name) for one in waiting for name in one.waits_for)
        yield say(sentence("{who}: {needs}.", who=who, needs=needs(waits, most=4)))
    yield run(_PEAKS, "")
    day, week = day_criterion(view.rig), week_criterion(view.rig)
    chosen = view.rig.file.hearing is not None
    yield heading(sentence("Share of what each criterion accepts, in per cent"))
    yield say(
        sentence(
            "{whence}, rehearsals and shows are judged by {day}, a week by {week}: "
            "that share stands first, with its likely range. The law of the place "
            "may ask for another: hearing in the rig file chooses.",
            whence=sentence("As the file chooses")
            if chosen
            else sentence("Where the file chooses none"),
            day=day,
            week=week,
        )
    )
    yield table(
        [
            column(sentence("Ears"), 1.1),
            column(sentence("Occasion"), 1.1),
            numbers(sentence("Hours"), 1.2),
            numbers(sentence("By the chosen one"), 1.8),
            *(numbers(name, 0.8) for name in CRITERIA),
        ],
        [row for one in found for row in _doses(view, one)],
    )
    names = (
        sentence("{name}: {law}", name=name, law=sentence(c.name)) for name, c in CRITERIA.items()
    )
    yield run(sentence("{names}.", names=joined(". ", names)), "")
    yield left_out(
        sentence(
            "the stage beside the earphones, rehearsals elsewhere, travel, the rest "
            "of the day. The plan's level in dB SPL is taken as dB(A), which errs on "
            "the loud side. The ranges are those of the level alone."
        )
    )


def _levels(reckoned: Reckoned, one: Exposure) -> list[Cell]:
    view = reckoned.view
    level = both_ears_of(one, view.widths.together(one.person))
    ear = reckoned.levels.ear(one.person)
    hold = one.ceiling.place if one.ceiling else ear.limited_by if ear else ""
    loudest = view.widths.loudest(one.person)
    return [
        cell(words.person(view.rig, one.person)),
        _ranged(level),
        cell(sentence(one.basis) if one.basis else ""),
        cell(plain(one.one_ear_dba) if one.one_ear_dba is not None else DASH),
        _ranged(view.widths.limited(one.person)),
        _ranged(loudest),
        cell(plain(loudest.value_db + SINE_CREST_DB) if loudest is not None else DASH),
        remark(_place(view, hold)),
    ]


def _ranged(told: ladder.Told | None) -> Cell:
    """A level with its likely range, to the decibel, and what it is worth."""
    if told is None:
        return cell(DASH)
    return cell(
        sentence(
            "{level} ({likely})",
            level=plain(told.value_db),
            likely=between(told.low_db, told.high_db, 0),
        ),
        told.provenance,
    )


def _place(view: View, place: str) -> str:
    return words.place(view.rig, place) if place in view.graph.index else place


def _wait(view: View, name: str) -> str:
    """What a level waits for, its boxes and places in words."""
    if not isinstance(name, Told):
        return name
    return sentence(
        name.english, **{key: _called(view, str(value)) for key, value in name.values.items()}
    )


def _called(view: View, name: str) -> str:
    return words.box(view.rig, name) if name in view.rig.gear else _place(view, name)


def _doses(view: View, one: Exposure) -> Iterator[list[Cell]]:
    occasions = list(dict.fromkeys(dose.occasion for dose in one.doses))
    level = level_of(one, view.widths.together(one.person))
    for occasion in occasions:
        chosen = week_criterion(view.rig) if occasion == "week" else day_criterion(view.rig)
        doses = [dose for name in CRITERIA if (dose := one.dose(occasion, name)) is not None]
        hours = doses[0].duration_h
        yield [
            cell(words.person(view.rig, one.person)),
            cell(sentence(occasion)),
            cell(sentence("{hours:g}", hours=float(hours)), hours.provenance),
            *(_likely(dose, level) for dose in doses if dose.criterion == chosen),
            *(cell(sentence("{percent:.0f}", percent=dose.percent)) for dose in doses),
        ]


def _likely(dose: Dose, level: ladder.Told | None) -> Cell:
    low, high = dose.likely_percent(level.off_db if level is not None else 0.0)
    return cell(
        sentence(
            "{percent:.0f} ({low_percent:.0f} to {high_percent:.0f})",
            percent=dose.percent,
            low_percent=low,
            high_percent=high,
        )
    )
