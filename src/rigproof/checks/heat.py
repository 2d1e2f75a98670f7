"""Rules about warmth in the case."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.mains import Place, Warmth, warmth
from rigproof.mains.circuit import USUAL_AIR
from rigproof.rig.quantity import Celsius
from rigproof.signal.words import box
from rigproof.wording import listed, some
from rigproof.wording.sentences import sentence


def _around(places: tuple[Place, ...]) -> tuple[str, Celsius]:
    """The warmest place of the rig, in words, and its air."""
    stated = [(place.name, place.air_degc) for place in places]
    return max(stated, key=lambda pair: float(pair[1]), default=("anywhere", USUAL_AIR))


def case_too_hot(view: View) -> Iterator[Finding]:
    """The case, as it plays, gets warmer than its boxes stand.

    Why: supplies and converters age fast and switch themselves off when it matters; sun on a lid
        comes on top.
    Fix: play with both lids off, keep a unit free above what is warm, or move air through it with
        a quiet fan.
    Source: enclosure handbooks, Q = U A dT, with the skin of painted steel; wood sheds less, so it
        gets warmer than said. 40 degrees C where no data sheet speaks, 25 where no venue does:
        common practice, no source.

    Fails:
        case: {type: case-4, in_use: closed}
        gear:
          - {id: a, type: mixer-rack-32, unit: 1}
          - {id: b, type: switch-24-poe, unit: 4}
        venues: [{id: v, name: The Meadow, desk: {takes: tails}, volts_v: 230, air_degc: 33}]
    Passes:
        case: {type: case-12, in_use: open}
        gear: [{id: a, type: mixer-rack-24, unit: 1}]
        venues: [{id: v, name: The Meadow, desk: {takes: tails}, volts_v: 230, air_degc: 33}]
    """
    case = view.rig.file.case
    found = warmth(view.rig, view.load)
    if case is None or found is None:
        return
    where, around = _around(view.mains_places)
    if case.in_use == "closed" or found.fan_rise_k is not None:
        air_degc = found.air_degc(float(around))
    else:
        air_degc = float(around)  # open: at least as warm as the air around it
    if air_degc is None or air_degc <= found.warmest_degc:
        return
    yield Finding(
        at=case.where.of("in_use"),
        says=sentence(
            "{what} the air in it gets {air_degc:.0f} degrees C warm at least; "
            "{weakest} {warmest_degc:g} degrees C.",
            what=_what(view, found, where, float(around)),
            air_degc=air_degc,
            weakest=_weakest(view, found),
            warmest_degc=found.warmest_degc,
        ),
        fix=sentence(
            "Open it, or move {airflow_m3_per_h:.0f} m3 of air an hour through it, "
            "which keeps the rise within 10 degrees.",
            airflow_m3_per_h=found.airflow_m3_per_h,
        ),
        found=air_degc,
        limit=float(found.warmest_degc),
        unit="degrees C",
    )


def _what(view: View, found: Warmth, where: str, around_degc: float) -> str:
    case = view.rig.file.case
    assert case is not None
    lids = sentence("closed, ") if case.in_use == "closed" else ""
    return sentence(
        "{case}, {lids}{heat_w:.0f} W in it, {around_degc:g} degrees C {where}:",
        case=case.name or sentence("The case"),
        lids=lids,
        heat_w=found.heat_w.value,
        around_degc=around_degc,
        where=where,
    )


def _weakest(view: View, found: Warmth) -> str:
    if found.weakest_gear is None:
        return sentence("most boxes stand")
    return sentence("{box} stands", box=box(view.rig, found.weakest_gear.id))


def unknown_heat(view: View) -> Iterator[Finding]:
    """How warm a closed case gets cannot be judged.

    Why: a case that plays with its lids on has no other way out for the heat than its skin.
    Fix: state watts of every box in it, and the outer size of the case type.
    Source: enclosure handbooks, Q = U A dT needs both.

    Fails:
        case: {type: case-12, in_use: closed}
        gear: [{id: stage, type: card-network-audio-32, unit: 1}]
    Passes:
        case: {type: case-12, in_use: closed}
        gear: [{id: mixer, type: mixer-rack-24, unit: 1}]
    """
    case = view.rig.file.case
    if case is None or case.in_use != "closed":
        return
    found = warmth(view.rig, view.load)
    missing: list[str] = []
    if found is None:
        missing.append(sentence("a box with watts in it"))
    else:
        if found.without_watts:
            missing.append(
                sentence(
                    "the watts of {names}",
                    names=some(box(view.rig, gear.id) for gear in found.without_watts),
                )
            )
        if found.surface_m2 is None and found.fan_rise_k is None:
            missing.append(sentence("the outer size of the case"))
    if missing:
        yield Finding(
            at=case.where,
            says=sentence(
                "How warm the closed case gets cannot be judged: needs {missing}.",
                missing=listed(missing),
            ),
        )


RULES = (
    Rule(id="heat.case-too-hot", severity="risk", check=case_too_hot, since="0.1"),
    Rule(id="heat.unknown", severity="unknown", check=unknown_heat, since="0.1"),
)
