"""Plan every gain: the least hiss at the ears, with room for the peaks; what to write on tape."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigproof.cli.answer import CLEAN, FOUND, Answer, CannotRun, Fault
from rigproof.cli.terminal import Part, Row, Table, working

if TYPE_CHECKING:
    from rigproof.rig import Rig
    from rigproof.rig.ref import PortRef
    from rigproof.rigfile.edit import Edit
    from rigproof.signal.gainplan import EarPlan, GainPlan, KnobPlan, Tight

# Between these a wish makes sense; beyond, somebody has typed something else than was meant.
_BOUNDS = {
    "--headroom": (0.0, 40.0),
    "--mix-headroom": (0.0, 40.0),
    "--level": (50.0, 105.0),
}
_CAUTION = (
    "Levels are those of the plan, all sources playing at once, without what leaks in past the "
    "earphones. Whether ears may have that for hours is another question; start low."
)


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof gains` takes."""
    parser.add_argument("rig", metavar="RIG", nargs="?", default=".", help="a folder or its file")
    parser.add_argument(
        "--headroom",
        metavar="DB",
        type=float,
        default=12.0,
        help="room over the peaks of each source, up to its converter; 12 when left out",
    )
    parser.add_argument(
        "--mix-headroom",
        metavar="DB",
        type=float,
        default=3.0,
        help="room over the peaks of a mix, all playing at once; 3 when left out",
    )
    parser.add_argument(
        "--level",
        metavar="DB",
        type=float,
        default=85.0,
        help="what each person's ears get in all, in dB SPL; 85 when left out",
    )
    parser.add_argument(
        "--every", action="store_true", help="every knob, also those that stand as planned"
    )
    parser.add_argument(
        "--write", action="store_true", help="write the plan into the rig file; earlier ones stay"
    )


def run(asked: Namespace) -> Answer:
    """Plan, show, and write where that is wished."""
    _within_bounds(asked)
    with working("Planning the gains"):
        from rigproof.checks.rule import look
        from rigproof.rigfile.history import digest
        from rigproof.rigfile.load import load, rig_path
        from rigproof.signal.gainplan import NoPlan, Wish, plan_gains

        path = Path(asked.rig)
        seen = digest(rig_path(path).read_bytes()) if asked.write else ""
        stated = load(path)
        plan = plan_gains(
            look(stated).levels,
            Wish(
                headroom_db=asked.headroom,
                mix_headroom_db=asked.mix_headroom,
                level_spl=asked.level,
            ),
        )
    if isinstance(plan, NoPlan):
        raise CannotRun(Fault(f"no gains can be planned: {plan.because}", plan.fix))
    if asked.write and plan.missing:
        from rigproof.wording import some

        # What is not known was left out of every sum: the knobs would stand too high, in ears.
        raise CannotRun(
            Fault(
                f"nothing was written: the plan leaves out {some(plan.missing)}, and with all of "
                "it the ears would get more than it says.",
                'State spl_db or level_dbu of each source first; "rigproof gains" lists the rest.',
            )
        )
    version = _write(path, stated, plan, seen) if asked.write else None
    found = plan.unmet or plan.missing
    return Answer(
        FOUND if found else CLEAN,
        _data(plan, version),
        tuple(_rows(stated, plan, version, wrote=asked.write, every=asked.every)),
    )


def _within_bounds(asked: Namespace) -> None:
    for option, (low, high) in _BOUNDS.items():
        value = getattr(asked, option.strip("-").replace("-", "_"))
        if not low <= value <= high:
            raise CannotRun(
                Fault(f"{option} {value:g} cannot be meant.", f"Give {low:g} to {high:g} dB.")
            )


# Writing


def edits(stated: Rig, plan: GainPlan) -> list[Edit]:
    """The small changes to the file that put every knob of the plan down."""
    from rigproof.rigfile.edit import Add, Set

    rows = {row.source: n for n, row in reversed([*enumerate(stated.file.patch, start=1)])}
    found: list[Edit] = []
    for knob in plan.moves:
        value = _plain(knob.planned_db)
        if knob.kind == "preamp":
            if knob.source in rows:
                found.append(Set(f"patch/#{rows[knob.source]}/gain_db", value))
            else:
                found.append(Add("patch", {"source": knob.source, "gain_db": value}))
            continue
        number = _written_at(stated, knob)
        if number is not None:
            found.append(Set(f"settings/#{number}/gain_db", value))
        else:
            found.append(Add("settings", {"at": knob.at, "gain_db": value}))
    # New entries last: until then the numbers of the old ones hold.
    return sorted(found, key=lambda edit: isinstance(edit, Add))


def _written_at(stated: Rig, knob: KnobPlan) -> int | None:
    """The entry that writes this very knob down, unless a later one overrules it in part."""
    from rigproof.rig.ref import PortRef

    at = PortRef(knob.at)
    for number, setting in reversed([*enumerate(stated.file.settings, start=1)]):
        if setting.at == at:
            return number
        if _overlap(setting.at, at):
            return None
    return None


def _overlap(one: PortRef, other: PortRef) -> bool:
    if (one.gear, one.bank) != (other.gear, other.bank):
        return False
    if one.numbers is None or other.numbers is None:
        return True
    return one.numbers[0] <= other.numbers[1] and other.numbers[0] <= one.numbers[1]


def _plain(value_db: float) -> float | int:
    value = round(value_db, 1)
    return int(value) if value == int(value) else value


def _write(path: Path, stated: Rig, plan: GainPlan, seen: str) -> int | None:
    from rigproof.rigfile.write import edit_rig

    changes = edits(stated, plan)
    if not changes:
        return None
    return edit_rig(path, changes, "gains as planned", seen=seen).number


# Showing


def _rows(
    stated: Rig, plan: GainPlan, version: int | None, *, wrote: bool, every: bool
) -> Iterator[Part]:
    from rigproof.wording import counted, listed

    wish = plan.wish
    yield Row(f"{stated.about.name}: gains", tone="strong")
    yield Row(
        f"Kept: {wish.headroom_db:g} dB over the peaks of each source, {wish.mix_headroom_db:g} dB "
        f"over those of a mix; {wish.level_spl:g} dB SPL in all at each ear; every balance."
    )
    yield Row()
    moves = plan.moves
    if moves and plan.missing:
        yield Row(
            "Do not turn these yet: what is missing (below) is in no sum, and comes on top in the "
            "ears.",
            tone="stop",
        )
    if moves:
        yield Row("Turn, and write on tape:", tone="strong")
        for knob in moves:
            yield Row(knob.name, indent=2, lead=f"{_db(knob.planned_db):>8}  ", lead_tone="strong")
            yield Row(f"{_stands(knob)}; {knob.because}", indent=12, tone="faint")
    still = len(plan.knobs) - len(moves)
    if still:
        words = "knob stands" if still == 1 else "knobs stand"
        yield Row(f"{still} {words} where the plan has {'it' if still == 1 else 'them'}.", indent=2)
    if every:
        yield from _every_knob(plan)
    yield Row()
    yield Row("At the ears (hiss in dB SPL, A-weighted):", tone="strong")
    yield Table(
        (
            "who",
            "level now",
            "then",
            "hiss now",
            "as loud as then",
            "then",
            "better by",
        ),
        tuple(_ear_cells(stated, ear) for ear in plan.ears),
        indent=2,
        right=frozenset({1, 2, 3, 4, 5, 6}),
    )
    yield Row(
        '"As loud as then": the hiss of the present settings with the last knob alone turned to '
        'the level of the plan. "±": how far off a figure likely is, either way; what errs in it '
        "errs alike in both settings.",
        indent=2,
        tone="faint",
    )
    yield Row()
    yield Row("What clips first on the way there, and its room over the peaks:", tone="strong")
    yield Table(
        ("who", "now", "dB", "then", "dB"),
        tuple(
            (
                stated.people[ear.person].name,
                *_tight(ear.first_clip_before),
                *_tight(ear.first_clip_after),
            )
            for ear in plan.ears
        ),
        indent=2,
        right=frozenset({2, 4}),
    )
    if any(_clipped(ear) for ear in plan.ears):
        yield Row(
            "Where the present settings clip, they may hiss less than the plan: that room is what "
            "the plan gives back.",
            indent=2,
            tone="faint",
        )
    if plan.assumed:
        yield Row(
            f"Taken to stand at 0 dB, because nobody wrote them down: the slots of "
            f"{listed(plan.assumed)}.",
            indent=2,
            tone="faint",
        )
    yield from _unmet_rows(plan)
    yield Row()
    yield Row(_CAUTION, tone="faint")
    if wrote:
        done = f"Written, as version {version}." if version else "The rig file says all this."
        yield Row(done, tone="good")
    elif moves:
        many = counted(len(moves), "change", "changes")
        yield Row(f'"rigproof gains --write" writes the {many} into the rig file.')


def _every_knob(plan: GainPlan) -> Iterator[Row | Table]:
    yield Row()
    yield Row("Every knob, in dB:", tone="strong")
    yield Table(
        ("knob", "now", "", "planned", "turn", "goes from", "to"),
        tuple(
            (
                knob.name,
                "?" if knob.present_db is None else f"{knob.present_db:+.1f}",
                "" if knob.written else "not written",
                f"{knob.planned_db:+.1f}",
                f"{knob.planned_db - (knob.present_db or 0):+.1f}" if knob.moves else "",
                f"{knob.low_db:+g}",
                f"{knob.high_db:+g}",
            )
            for knob in plan.knobs
        ),
        indent=2,
        right=frozenset({1, 3, 4, 5, 6}),
    )


def _unmet_rows(plan: GainPlan) -> Iterator[Row]:
    if plan.unmet:
        yield Row()
        yield Row("Cannot be had by turning knobs:", tone="risk")
        for unmet in plan.unmet:
            yield Row(unmet.says, indent=2, lead="- ")
            yield Row(unmet.change, indent=4, lead="Do: ", lead_tone="faint")
    if plan.missing:
        yield Row()
        yield Row("Cannot be judged; missing:", tone="unknown")
        for name in plan.missing:
            yield Row(name, indent=2, lead="- ")


def _clipped(ear: EarPlan) -> bool:
    """Whether something clips as it stands and no longer in the plan."""
    before, after = ear.first_clip_before, ear.first_clip_after
    return before is not None and before.room_db < 0 and (after is None or after.room_db >= 0)


def _ear_cells(rig: Rig, ear: EarPlan) -> tuple[str, ...]:
    from rigproof.wording import give_or_take

    gain = ear.gain_db
    return (
        rig.people[ear.person].name,
        _figure(ear.level_before_spl),
        _figure(ear.level_after_spl),
        _figure(ear.hiss_before_dba),
        _figure(ear.hiss_level_dba),
        give_or_take(ear.hiss_after_dba, ear.hiss_off_db),
        "" if gain is None else f"{gain:+.1f}".replace("-0.0", "+0.0"),
    )


def _figure(value: float | None) -> str:
    return "?" if value is None else f"{value:.1f}"


def _tight(tight: Tight | None) -> tuple[str, str]:
    return ("?", "") if tight is None else (tight.at, f"{tight.room_db:+.1f}")


def _db(value: float | None) -> str:
    return "?" if value is None else f"{value:+g} dB"


def _stands(knob: KnobPlan) -> str:
    if knob.present_db is None:
        return "not written yet"
    stands = f"stands at {_db(round(knob.present_db, 1))}"
    return stands if knob.written else f"taken to stand at {_db(round(knob.present_db, 1))}"


# For programs


def _data(plan: GainPlan, version: int | None) -> dict[str, Any]:
    return {
        "wish": {
            "headroom_db": plan.wish.headroom_db,
            "mix_headroom_db": plan.wish.mix_headroom_db,
            "level_spl": plan.wish.level_spl,
        },
        "knobs": [_knob_data(knob) for knob in plan.knobs],
        "ears": [_ear_data(ear) for ear in plan.ears],
        "unmet": [
            {
                "at": unmet.at,
                "says": unmet.says,
                "change": unmet.change,
                "short_by_db": unmet.short_by_db,
            }
            for unmet in plan.unmet
        ],
        "missing": list(plan.missing),
        "assumed": list(plan.assumed),
        "version": version,
    }


def _knob_data(knob: KnobPlan) -> dict[str, Any]:
    return {
        "kind": knob.kind,
        "at": knob.at,
        "source": knob.source,
        "people": list(knob.people),
        "tape": knob.tape,
        "present_db": knob.present_db,
        "from": knob.present_from,
        "written": knob.written,
        "planned_db": knob.planned_db,
        "moves": knob.moves,
        "because": knob.because,
    }


def _ear_data(ear: EarPlan) -> dict[str, Any]:
    return {
        "person": ear.person,
        "level_before_spl": ear.level_before_spl,
        "level_after_spl": ear.level_after_spl,
        "hiss_before_dba": ear.hiss_before_dba,
        "hiss_as_loud_dba": ear.hiss_level_dba,
        "hiss_after_dba": ear.hiss_after_dba,
        "hiss_off_db": ear.hiss_off_db,
        "better_by_db": ear.gain_db,
        "first_clip_before": _tight_data(ear.first_clip_before),
        "first_clip_after": _tight_data(ear.first_clip_after),
        "hiss_from": list(ear.hiss_from),
        "missing": list(ear.missing),
    }


def _tight_data(tight: Tight | None) -> dict[str, Any] | None:
    return None if tight is None else {"at": tight.at, "room_db": tight.room_db}
