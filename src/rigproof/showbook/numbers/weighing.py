"""Weight part by part, how the case stands and rolls, and who can lift it."""

from collections.abc import Iterator

from rigproof.checks.rule import View
from rigproof.rack import Weights, carry, stand
from rigproof.rack.mass import RAMP_DEG, Kind, Mass, Stand
from rigproof.rig.spread import Likely
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
from rigproof.showbook.edition import Edition
from rigproof.wording import counted, listed, opening
from rigproof.wording.sentences import joined, sentence

CAUTION = sentence(
    "Neither the guideline weights nor the lifting equation says that a lift "
    "hurts nobody. Weigh the packed case and write the figure on it. Two "
    "people or more, wheels and a ramp before arms; nobody below the case on "
    "a ramp. Local rules and a competent person come first."
)
_LIFTERS = (1, 2, 3)
_SEEN_MM = 0.5  # off the middle by less is printed as nothing
_WORDS: tuple[tuple[Kind, str], ...] = (
    ("inside lead", sentence("leads wired for good")),
    ("stage lead", sentence("leads for the stage and the house")),
    ("spare", sentence("spares")),
)


def blocks(view: View, edition: Edition) -> Iterator[Block]:
    """Weights, balance and lifting."""
    found = view.weights
    if not found.parts:
        yield say(sentence("Nothing with a weight yet."))
        return
    yield caution(sentence("Lifting"), CAUTION)
    rolling = found.case_kg
    yield facts(
        [
            (
                sentence("Case as it rolls"),
                edition.mass(rolling.value, 0),
                sentence(
                    "likely {between}; {worth}",
                    between=between(edition.masses(rolling.low), edition.masses(rolling.high), 0),
                    worth=sentence(rolling.provenance),
                ),
            ),
            (
                sentence("Everything carried"),
                edition.mass(found.all_kg.value, 0),
                sentence(
                    "likely {between} with loose leads and spares; {worth}",
                    between=between(
                        edition.masses(found.all_kg.low), edition.masses(found.all_kg.high), 0
                    ),
                    worth=sentence(found.all_kg.provenance),
                ),
            ),
        ]
    )
    if found.missing:
        names = [sentence("the weight of {name}", name=name) for name in found.missing]
        yield say(
            sentence("{needs}. The sums count the rest.", needs=opening(needs(names, most=6)))
        )
    yield heading(sentence("Part by part"))
    yield table(
        [
            column(sentence("Part"), 3),
            numbers(sentence("Weight"), 2, unit=edition.mass_unit),
            column(sentence("Part"), 3),
            numbers(sentence("Weight"), 2, unit=edition.mass_unit),
        ],
        _beside([*_parts(found, edition)]),
    )
    if view.rig.file.case is not None:
        yield from _standing(view, edition)
        yield heading(sentence("Lifting it"))
        yield _lifting(view, edition)
    yield left_out(
        sentence(
            "what is thrown in on the night; a push on the lid, a kerb, a drawer "
            "that slides out, soft ground; for lifting, {lifting}.",
            lifting=joined(", ", carry(rolling, people=2).left_out),
        )
    )


def _parts(found: Weights, edition: Edition) -> Iterator[tuple[Cell, Cell]]:
    for part in found.parts:
        if part.kind in {"case", "box"}:
            yield _part(part, edition)
    for kind, name in _WORDS:
        alike = [part for part in found.parts if part.kind == kind]
        if alike:
            known = [part for part in alike if part.weight_kg is not None]
            of = (
                sentence("{known} of {alike}", known=len(known), alike=len(alike))
                if len(known) < len(alike)
                else sentence("all {alike}", alike=len(alike))
            )
            single = len(alike) == 1 and known
            yield (
                remark(name if single else sentence("{name}, {of} entries", name=name, of=of)),
                _weight(found.of(kind), edition),
            )


def _part(part: Mass, edition: Edition) -> tuple[Cell, Cell]:
    return remark(part.name), _weight(part.weight_kg, edition)


def _weight(found: Likely | None, edition: Edition) -> Cell:
    return ranged(found.times(edition.masses(1.0)) if found is not None else None, 1)


def _weighed(found: Likely, edition: Edition) -> Cell:
    return ranged(found.times(edition.masses(1.0)))


def _beside(parts: list[tuple[Cell, Cell]]) -> list[list[Cell]]:
    half = -(-len(parts) // 2)
    rows: list[list[Cell]] = []
    for place in range(half):
        left = parts[place]
        right = parts[place + half] if place + half < len(parts) else (cell(""), cell(""))
        rows.append([*left, *right])
    return rows


def _standing(view: View, edition: Edition) -> Iterator[Block]:
    found = stand(view.rig, view.weights)
    yield heading(sentence("How it stands"))
    if found is None:
        short = [sentence("the weight of {name}", name=name) for name in view.weights.case_missing]
        yield say(
            sentence(
                "{needs}.", needs=opening(needs(short or [sentence("the outer size of the case")]))
            )
        )
        return
    yield say(
        sentence(
            "Its {weight} hang {high} above the floor, {off}. On a base of {base_across} by "
            "{base_along} it goes over at {tip_across_deg} degrees sideways and "
            "{tip_along_deg} lengthwise. On a van's ramp of {ramp_deg:g} degrees a push of "
            "{push} holds it.",
            weight=edition.mass(found.total_kg, 0),
            high=edition.small(found.height_mm),
            off=_off(found, edition),
            base_across=edition.small(found.base_across_mm),
            base_along=edition.small(found.base_along_mm),
            tip_across_deg=_angle(found.tip_across_deg, found.likely_across_deg),
            tip_along_deg=_angle(found.tip_along_deg, found.likely_along_deg),
            ramp_deg=RAMP_DEG,
            push=edition.mass(found.ramp_kgf, 0),
        )
    )
    if found.castor_needs_kg is not None:
        made = DASH if found.castor_kg is None else edition.mass(float(found.castor_kg), 0)
        yield say(
            sentence(
                "Each of its {castors} should be made for {load}; stated: {made}.",
                castors=counted(found.castors, "castor"),
                load=edition.mass(found.castor_needs_kg, 0),
                made=made,
            )
        )
    yield say(sentence("Taken for granted: {assumed}.", assumed=joined("; ", found.assumed)))


def _angle(value_deg: float, likely_deg: tuple[float, float]) -> str:
    return sentence(
        "{figure} ({likely})", figure=plain(value_deg, 0), likely=between(*likely_deg, 0)
    )


def _off(found: Stand, edition: Edition) -> str:
    """How far the weight hangs from the middle, where it does by as much as is printed."""
    side = sentence("right") if found.across_off_mm > 0 else sentence("left")
    end = sentence("rear") if found.along_off_mm > 0 else sentence("front")
    offs = [
        sentence("{off} towards the {side}", off=edition.small(abs(off_mm)), side=towards)
        for off_mm, towards in ((found.across_off_mm, side), (found.along_off_mm, end))
        if abs(off_mm) >= _SEEN_MM
    ]
    if not offs:
        return sentence("over the middle of its base")
    return sentence("{offs} of the middle", offs=listed(offs))


def _lifting(view: View, edition: Edition) -> Block:
    rows: list[list[Cell]] = []
    for people in _LIFTERS:
        one = carry(view.weights.case_kg, people=people)
        rows.append(
            [
                cell(counted(people, "person", "people")),
                _weighed(one.each_kg, edition),
                cell(plain(edition.masses(one.guideline_men_kg), 0)),
                cell(plain(edition.masses(one.guideline_mixed_kg), 0)),
                cell(plain(edition.masses(one.recommended_kg), 0)),
                cell(plain(one.index_ratio, 1)),
                remark(
                    sentence("beyond the guideline")
                    if one.beyond_guideline
                    else sentence("within the guideline")
                ),
            ]
        )
    return table(
        [
            column(sentence("Lifted by"), 1.2),
            numbers(sentence("Each has"), 1.8, unit=edition.mass_unit),
            numbers(sentence("Guideline, men"), 1.2, unit=edition.mass_unit),
            numbers(sentence("Men and women"), 1.2, unit=edition.mass_unit),
            numbers(sentence("By the equation, each"), 1.4, unit=edition.mass_unit),
            numbers(sentence("Index"), 0.8),
            column(sentence("By the guideline alone"), 1.8),
        ],
        rows,
    )
