"""Weight part by part, how the case stands and rolls, and who can lift it."""

from collections.abc import Iterator

from rigproof.checks.rule import View
from rigproof.rack import Weights, carry, stand
from rigproof.rack.mass import RAMP_DEG, Kind, Mass
from rigproof.showbook.blocks import (
    DASH,
    Block,
    Cell,
    between,
    caution,
    cell,
    column,
    facts,
    heading,
    left_out,
    needs,
    numbers,
    plain,
    ranged,
    remark,
    say,
    table,
)
from rigproof.wording import counted, opening

CAUTION = (
    "Neither the guideline weights nor the lifting equation says that a lift hurts nobody. Weigh "
    "the packed case and write the figure on it. Two people or more, wheels and a ramp before "
    "arms; nobody below the case on a ramp. Local rules and a competent person come first."
)
_LIFTERS = (1, 2, 3)
_WORDS: tuple[tuple[Kind, str], ...] = (
    ("inside lead", "leads wired for good"),
    ("stage lead", "leads for the stage and the house"),
    ("spare", "spares"),
)


def blocks(view: View) -> Iterator[Block]:
    """Weights, balance and lifting."""
    found = view.weights
    if not found.parts:
        yield say("Nothing with a weight yet.")
        return
    yield caution("Lifting", CAUTION)
    rolling = found.case_kg
    yield facts(
        [
            (
                "Case as it rolls",
                f"{plain(rolling.value, 0)} kg",
                f"likely {between(rolling.low, rolling.high, 0)}; {rolling.provenance}",
            ),
            (
                "Everything carried",
                f"{plain(found.all_kg.value, 0)} kg",
                f"with loose leads and spares; {found.all_kg.provenance}",
            ),
        ]
    )
    if found.missing:
        names = [f"the weight of {name}" for name in found.missing]
        yield say(f"{opening(needs(names, most=6))}. The sums count the rest.")
    yield heading("Part by part")
    yield table(
        [
            column("Part", 3),
            numbers("Weight", 2, unit="kg"),
            column("Part", 3),
            numbers("Weight", 2, unit="kg"),
        ],
        _beside([*_parts(found)]),
    )
    if view.rig.file.case is not None:
        yield from _standing(view)
        yield heading("Lifting it")
        yield _lifting(view)
    yield left_out(
        "what is thrown in on the night; a push on the lid, a kerb, a drawer that slides out, soft "
        "ground; for lifting, " + ", ".join(carry(rolling, people=2).left_out) + "."
    )


def _parts(found: Weights) -> Iterator[tuple[Cell, Cell]]:
    for part in found.parts:
        if part.kind in {"case", "box"}:
            yield _part(part)
    for kind, name in _WORDS:
        alike = [part for part in found.parts if part.kind == kind]
        if alike:
            known = [part for part in alike if part.weight_kg is not None]
            of = f"{len(known)} of {len(alike)}" if len(known) < len(alike) else f"all {len(alike)}"
            yield remark(f"{name}, {of} entries"), ranged(found.of(kind), 1)


def _part(part: Mass) -> tuple[Cell, Cell]:
    return remark(part.name), ranged(part.weight_kg, 1)


def _beside(parts: list[tuple[Cell, Cell]]) -> list[list[Cell]]:
    half = -(-len(parts) // 2)
    rows: list[list[Cell]] = []
    for place in range(half):
        left = parts[place]
        right = parts[place + half] if place + half < len(parts) else (cell(""), cell(""))
        rows.append([*left, *right])
    return rows


def _standing(view: View) -> Iterator[Block]:
    found = stand(view.rig, view.weights)
    yield heading("How it stands")
    if found is None:
        short = [f"the weight of {name}" for name in view.weights.case_missing]
        yield say(f"{opening(needs(short or ['the outer size of the case']))}.")
        return
    side = "right" if found.across_off_mm > 0 else "left"
    end = "rear" if found.along_off_mm > 0 else "front"
    yield say(
        f"Its {plain(found.total_kg, 0)} kg hang {plain(found.height_mm, 0)} mm above the floor, "
        f"{plain(abs(found.across_off_mm), 0)} mm towards the {side} and "
        f"{plain(abs(found.along_off_mm), 0)} mm towards the {end} of the middle. On a base of "
        f"{plain(found.base_across_mm, 0)} by {plain(found.base_along_mm, 0)} mm it goes over at "
        f"{plain(found.tip_across_deg, 0)} degrees sideways and {plain(found.tip_along_deg, 0)} "
        f"lengthwise. On a van's ramp of {RAMP_DEG:g} degrees a push of {plain(found.ramp_kgf, 0)} "
        "kg holds it."
    )
    if found.castor_needs_kg is not None:
        made = f"{plain(float(found.castor_kg), 0)} kg" if found.castor_kg is not None else DASH
        yield say(
            f"Each of its {counted(found.castors, 'castor')} should be made for "
            f"{plain(found.castor_needs_kg, 0)} kg; stated: {made}."
        )
    yield say(f"Taken for granted: {'; '.join(found.assumed)}.")


def _lifting(view: View) -> Block:
    rows: list[list[Cell]] = []
    for people in _LIFTERS:
        one = carry(view.weights.case_kg, people=people)
        rows.append(
            [
                cell(counted(people, "person", "people")),
                cell(plain(one.each_kg, 0), one.weight_kg.provenance),
                cell(plain(one.guideline_men_kg, 0)),
                cell(plain(one.guideline_mixed_kg, 0)),
                cell(plain(one.recommended_kg, 0)),
                cell(plain(one.index_ratio, 1)),
                remark("beyond the guideline" if one.beyond_guideline else "within the guideline"),
            ]
        )
    return table(
        [
            column("Lifted by", 1.2),
            numbers("Each has", 1.2, unit="kg"),
            numbers("Guideline, men", 1.2, unit="kg"),
            numbers("Men and women", 1.2, unit="kg"),
            numbers("By the equation, each", 1.4, unit="kg"),
            numbers("Index", 0.8),
            column("By the guideline alone", 1.8),
        ],
        rows,
    )
