"""Gain settings: where every knob stands and what to write on tape beside it."""

from collections.abc import Iterator

from rigproof.showbook.blocks import (
    DASH,
    Block,
    Cell,
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
    signed,
    table,
)
from rigproof.showbook.numbers.reckoned import Reckoned
from rigproof.signal import words
from rigproof.signal.gainplan import EarPlan, GainPlan, KnobPlan, NoPlan
from rigproof.signal.knobs import KnobKind
from rigproof.wording import opening
from rigproof.wording.sentences import joined, sentence

_KINDS: tuple[tuple[KnobKind, str], ...] = (
    ("preamp", sentence("Preamps")),
    ("trim", sentence("Trims of the channels")),
    ("mix", sentence("Levels of the mixes")),
    ("amplifier", sentence("Amplifiers and packs")),
)
_MANY = 5  # knobs at one figure, from where a run of text does


def blocks(reckoned: Reckoned) -> Iterator[Block]:
    """The plan knob by knob, what it does at each ear, and what cannot be had."""
    plan = reckoned.plan
    if isinstance(plan, NoPlan):
        yield say(
            sentence(
                "Nothing to plan: {because} {fix}",
                because=plan.because,
                fix=opening(plan.fix),
            )
        )
        return
    if reckoned.tape is None:
        yield say(
            sentence(
                "No settings are given: {needs}. What is missing is in no sum and comes "
                "on top in the ears, so knobs turned up to the wish without it could "
                "hurt. State it in the rig file and print this page again.",
                needs=needs(plan.missing, most=6),
            )
        )
        return
    wish = plan.wish
    yield say(
        sentence(
            "Planned for the least hiss with {headroom_db:g} dB of room over the "
            "peaks of each source, {mix_headroom_db:g} dB over those of a mix, and "
            "{level_spl:g} dB SPL of everything together in each pair of ears. A "
            "figure is the gain itself: no type states where on its scale a pot has "
            "it, so turn until the box or a meter says so.",
            headroom_db=wish.headroom_db,
            mix_headroom_db=wish.mix_headroom_db,
            level_spl=wish.level_spl,
        )
    )
    for kind, title in _KINDS:
        knobs = [knob for knob in plan.knobs if knob.kind == kind]
        if knobs:
            yield heading(title)
            yield from _of_kind(knobs)
    yield heading(sentence("What it does at each ear"))
    yield _ears(reckoned, plan)
    if plan.unmet:
        yield heading(sentence("What no knob can do"))
        for one in plan.unmet:
            yield say(sentence("{says} {change}", says=one.says, change=one.change))
    if plan.missing:
        yield say(sentence("{needs}.", needs=opening(needs(plan.missing, most=6))))
    yield left_out(
        sentence(
            "equalisers and compressors, which have gains of their own; a player who "
            "plays louder than at the sound check; how much ears may have, which the law of "
            "the place says: see the page on exposure, turn amplifiers down first and start "
            "low. A pair of ears is compared at the same loudness before and after."
        )
    )


def _of_kind(knobs: list[KnobPlan]) -> Iterator[Block]:
    """One line for each knob; many that stay at one figure are told in a run of text."""
    alike: dict[tuple[str, str], list[KnobPlan]] = {}
    for knob in knobs:
        if not knob.moves:
            worth = _worth(knob)
            alike.setdefault((signed(knob.planned_db), worth), []).append(knob)
    many = {key: some for key, some in alike.items() if len(some) >= _MANY}
    told = {knob.at for some in many.values() for knob in some}
    rows = [_row(knob) for knob in knobs if knob.at not in told]
    if rows:
        yield table(
            [
                column(sentence("Knob"), 2.6),
                numbers(sentence("Now"), 1.1, unit="dB"),
                numbers(sentence("Write"), 0.7, unit="dB"),
                column(sentence("Because"), 3),
            ],
            rows,
        )
    for (value, worth), some in many.items():
        names = joined("; ", (knob.called for knob in some))
        yield run(sentence("Stay at {value} dB: {names}", value=value, names=names), worth)


def _worth(knob: KnobPlan) -> str:
    return knob.present_from if knob.written else sentence("not written")


def _row(knob: KnobPlan) -> list[Cell]:
    now = DASH if knob.present_db is None else signed(knob.present_db)
    return [
        remark(knob.called),
        cell(now, _worth(knob)),
        cell(signed(knob.planned_db)),
        remark(knob.because if knob.moves else sentence("stays")),
    ]


def _ears(reckoned: Reckoned, plan: GainPlan) -> Block:
    return table(
        [
            column(sentence("Ears"), 1.4),
            numbers(sentence("Now"), 1, unit="dB SPL"),
            numbers(sentence("Then"), 1, unit="dB SPL"),
            numbers(sentence("Hiss as loud"), 1.1, unit="dB(A)"),
            numbers(sentence("Hiss then"), 1, unit="dB(A)"),
            numbers(sentence("Quieter by"), 1, unit="dB"),
            column(sentence("Clips first then"), 2.6),
        ],
        [_ear(reckoned, ear) for ear in plan.ears],
    )


def _ear(reckoned: Reckoned, ear: EarPlan) -> list[Cell]:
    rig = reckoned.view.rig
    name = cell(words.person(rig, ear.person))
    if ear.missing:
        return [name, *[cell(DASH)] * 5, remark(needs(ear.missing))]
    tight = ear.first_clip_after
    clip = (
        sentence(
            "{place}, {room_db} dB of room",
            place=words.place(reckoned.view.rig, tight.at),
            room_db=plain(tight.room_db),
        )
        if tight
        else DASH
    )
    return [
        name,
        _plain(ear.level_before_spl),
        _plain(ear.level_after_spl),
        _plain(ear.hiss_level_dba),
        _give_or_take(ear.hiss_after_dba, ear.hiss_off_db),
        _plain(ear.gain_db),
        remark(clip),
    ]


def _plain(value: float | None) -> Cell:
    return cell(DASH if value is None else plain(value))


def _give_or_take(value: float | None, off: float) -> Cell:
    if value is None:
        return cell(DASH)
    return cell(sentence("{value} ±{off}", value=plain(value), off=plain(off)))
