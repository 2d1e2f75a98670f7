"""Rules about weight: lifting, tipping, castors. They never replace a competent person."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rack import carry, people_for, stand
from rigproof.rack.mass import RAMP_DEG
from rigproof.wording import counted, some
from rigproof.wording.sentences import sentence

USUAL_LIFTERS = 2


def _case(view: View) -> str:
    case = view.rig.file.case
    return (case.name if case else "") or sentence("The case")


def too_heavy(view: View) -> Iterator[Finding]:
    """The case is beyond the guideline weight of those who lift it.

    Why: backs are hurt at the van, after the show, in the cold, by the last two who stayed.
    Fix: roll it up a ramp or a tail lift and state lifted_by: 0, lift with more people and state
        how many, or split it into two cases.
    Source: HSE INDG143 and L23 (guideline weights; two lift two thirds of their sum), from memory
        for teams. A screen for a good grip and a good floor: stairs, reach and twist take more
        off, and it asks for a closer look, no more. Two people where the file does not say.

    Fails:
        case: {type: case-20-castors}
        gear:
          - {id: ups, type: ups-rack-1500, unit: 1}
          - {id: mixer, type: mixer-rack-32, unit: 3}
    Passes:
        case: {type: case-4}
        gear: [{id: mixer, type: mixer-rack-12, unit: 1}]
    """
    case = view.rig.file.case
    if case is None or case.lifted_by == 0:
        return
    people = case.lifted_by or USUAL_LIFTERS
    found = carry(view.weights.case_kg, people=people)
    if not found.beyond_guideline:
        return
    missing = view.weights.case_missing
    least = sentence(" without {names}", names=some(missing)) if missing else ""
    enough = people_for(found.weight_kg.value)
    team = (
        sentence(" {people} would be within it.", people=counted(enough, "person", "people"))
        if enough
        else ""
    )
    yield Finding(
        at=case.where,
        says=sentence(
            "{case} weighs about {weight_kg:.0f} kg (likely {low_kg:.0f} to "
            "{high_kg:.0f}){least}; the guideline for {people} is "
            "{guideline_men_kg:.0f} kg at best, {guideline_mixed_kg:.0f} for men and "
            "women together.{team}",
            case=_case(view),
            weight_kg=found.weight_kg.value,
            low_kg=found.weight_kg.low,
            high_kg=found.weight_kg.high,
            least=least,
            people=counted(people, "person", "people"),
            guideline_men_kg=found.guideline_men_kg,
            guideline_mixed_kg=found.guideline_mixed_kg,
            team=team,
        ),
        found=found.weight_kg.value,
        limit=found.guideline_men_kg,
        unit="kg",
    )


def tips(view: View) -> Iterator[Finding]:
    """The case goes over on the ramp of a van.

    Why: the one below it is a person.
    Fix: mount the heavy boxes low and in the middle of the depth, take the drawer's load out, go
        up and down the ramp the long way, one in front and one behind, and never stand below it.
    Source: statics, the weight above the edge of the castors; 15 degrees for a ramp and castors
        70 mm in from the edges are common practice, no source.

    Fails:
        case: {type: case-20-castors}
        gear:
          - {id: a, type: ups-rack-1500, unit: 19}
          - {id: b, type: ups-rack-1500, unit: 17}
          - {id: c, type: ups-rack-1500, unit: 15}
    Passes:
        case: {type: case-20-castors}
        gear:
          - {id: a, type: ups-rack-1500, unit: 1}
          - {id: b, type: ups-rack-1500, unit: 3}
          - {id: c, type: ups-rack-1500, unit: 5}
    """
    found = stand(view.rig, view.weights)
    case = view.rig.file.case
    if found is None or case is None or not found.castors or found.tip_deg >= RAMP_DEG:
        return
    way = (
        sentence("lengthwise")
        if found.tip_along_deg < found.tip_across_deg
        else sentence("sideways")
    )
    yield Finding(
        at=case.where,
        says=sentence(
            "{case} goes over {way} at {tip_deg:.0f} degrees: its {total_kg:.0f} kg "
            "hang {height_mm:.0f} cm up; a van's ramp is {ramp_deg:g} degrees steep.",
            case=_case(view),
            way=way,
            tip_deg=found.tip_deg,
            total_kg=found.total_kg,
            height_mm=found.height_mm / 10,
            ramp_deg=RAMP_DEG,
        ),
        found=found.tip_deg,
        limit=RAMP_DEG,
        unit="degrees",
    )


def castors_overloaded(view: View) -> Iterator[Finding]:
    """The castors are made for less than the case weighs.

    Why: one gives way at a kerb, with the case leaning to its side.
    Fix: fit larger castors, on a plate that spreads the load, or take weight out.
    Source: castor guidance (total over one castor less than are fitted; an even share times 1.5).

    Fails:
        case: {type: case-20-castors, weight_kg: 400}
        gear: [{id: mixer, type: mixer-rack-32, unit: 1}]
    Passes:
        case: {type: case-20-castors}
        gear: [{id: mixer, type: mixer-rack-32, unit: 1}]
    """
    found = stand(view.rig, view.weights)
    case = view.rig.file.case
    if case is None or found is None or found.castor_kg is None or found.castor_needs_kg is None:
        return
    if found.castor_needs_kg > found.castor_kg:
        yield Finding(
            at=case.where,
            says=sentence(
                "{case} weighs about {total_kg:.0f} kg: each of its {castors} castors "
                "should be made for {castor_needs_kg:.0f} kg, and is for {castor_kg:g}.",
                case=_case(view),
                total_kg=found.total_kg,
                castors=found.castors,
                castor_needs_kg=found.castor_needs_kg,
                castor_kg=found.castor_kg,
            ),
            found=found.castor_needs_kg,
            limit=float(found.castor_kg),
            unit="kg",
        )


RULES = (
    Rule(id="weight.too-heavy-to-lift", severity="advice", check=too_heavy, since="0.1"),
    Rule(id="weight.tips", severity="risk", check=tips, since="0.1"),
    Rule(id="weight.castors-overloaded", severity="risk", check=castors_overloaded, since="0.1"),
)
