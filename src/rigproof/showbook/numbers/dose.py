"""How much sound each pair of ears gets, against criteria that somebody has to choose."""

from collections.abc import Iterator

from rigproof.checks.rule import View
from rigproof.mixes.exposure import CAUTION, CRITERIA, Dose, Exposure
from rigproof.showbook.blocks import (
    DASH,
    Block,
    Cell,
    caution,
    cell,
    column,
    heading,
    left_out,
    needs,
    numbers,
    plain,
    remark,
    say,
    table,
)
from rigproof.showbook.numbers.reckoned import Reckoned
from rigproof.signal import words

_SHOWN = ("85/3", "90/5", "80/40h")


def blocks(reckoned: Reckoned) -> Iterator[Block]:
    """Levels, shares of what each criterion accepts, and the most that can come."""
    view = reckoned.view
    found = view.exposures
    if not found:
        yield say("Nobody has earphones in a socket yet.")
        return
    yield caution("Hearing", CAUTION)
    yield heading("How loud, and how loud it could get")
    yield table(
        [
            column("Ears", 1.1),
            numbers("Level", 1.5, unit="dB(A)"),
            column("From", 0.9),
            numbers("One ear out", 1, unit="dB(A)"),
            numbers("With limiter", 1, unit="dB SPL"),
            numbers("At the stop", 1, unit="dB SPL"),
            column("What holds it", 2),
            column("Waits for", 3),
        ],
        [_levels(reckoned, one) for one in found],
    )
    yield heading("Share of what each criterion accepts, in per cent")
    yield table(
        [
            column("Ears", 1),
            column("Occasion", 1),
            numbers("Hours", 1),
            *(numbers(name, 1.8) for name in _SHOWN),
        ],
        [row for one in found for row in _doses(view, one)],
    )
    yield say(
        " ".join(
            f"{name}: {criterion.level_dba:g} dB(A) for {criterion.time_h:g} h, "
            f"{criterion.exchange_db:g} dB for half the time."
            for name, criterion in CRITERIA.items()
            if name in _SHOWN
        )
    )
    yield left_out(
        "the stage beside the earphones, rehearsals elsewhere, travel, the rest of the day. The "
        "plan's level in dB SPL is taken as dB(A), which errs on the loud side. The ranges are "
        "those of the level alone."
    )


def _levels(reckoned: Reckoned, one: Exposure) -> list[Cell]:
    view = reckoned.view
    level = one.level_dba
    ear = reckoned.levels.ear(one.person)
    hold = one.ceiling.place if one.ceiling else ear.limited_by if ear else ""
    loudest = ear.loudest_spl if ear else None
    return [
        cell(words.person(view.rig, one.person)),
        cell(plain(float(level)), level.provenance) if level is not None else cell(DASH),
        cell(one.basis or ""),
        cell(plain(one.one_ear_dba) if one.one_ear_dba is not None else DASH),
        cell(plain(one.ceiling.level_spl) if one.ceiling else DASH),
        cell(plain(loudest) if loudest is not None else DASH),
        remark(_place(view, hold)),
        remark(needs([_wait(view, name) for name in one.waits_for]) if one.waits_for else ""),
    ]


def _place(view: View, place: str) -> str:
    return words.place(view.rig, place) if place in view.graph.index else place


def _wait(view: View, name: str) -> str:
    head, _, place = name.rpartition(" ")
    return f"{head} {_place(view, place)}" if place in view.graph.index else name


def _doses(view: View, one: Exposure) -> Iterator[list[Cell]]:
    occasions = list(dict.fromkeys(dose.occasion for dose in one.doses))
    for occasion in occasions:
        shown = [one.dose(occasion, name) for name in _SHOWN]
        hours = next(dose.duration_h for dose in shown if dose is not None)
        yield [
            cell(words.person(view.rig, one.person)),
            cell(occasion),
            cell(f"{float(hours):g}", hours.provenance),
            *(_share(dose) for dose in shown),
        ]


def _share(dose: Dose | None) -> Cell:
    if dose is None:
        return cell(DASH)
    return cell(f"{dose.percent:.0f} ({dose.low_percent:.0f} to {dose.high_percent:.0f})")
