"""Why the case weighs, stands and is lifted as it is, and why a lead has its length."""

import math

from rigproof.physics import castors
from rigproof.rack.carrying import HANDS_AHEAD_CM, HANDS_UP_CM, RAISED_CM, Carry
from rigproof.rack.elevation import Box, Elevation
from rigproof.rack.leadruns import Way
from rigproof.rack.mass import RAMP_DEG, Mass, Stand, Weights
from rigproof.rig.quantity import Metres, Quantity, weakest
from rigproof.rig.spread import Likely, likely, weaker
from rigproof.signal.reasons import Line, Reason

_ROLLING = frozenset({"case", "box", "inside lead"})


def why_weight(found: Weights) -> Reason:
    """What the case weighs as it rolls, part by part."""
    parts = [part for part in found.parts if part.kind in _ROLLING]
    return _sum("weight", found.case_kg, parts)


def why_carried(found: Weights) -> Reason:
    """What everything weighs that is carried, loose leads and spares with it."""
    return _sum("carried", found.all_kg, list(found.parts))


def why_box_weight(name: str, weight: Quantity | None) -> Reason:
    """What one box weighs: as stated."""
    if weight is None:
        return _waits("weight", "kg", (f"the weight of {name}",))
    line = Line(place=name, what="as stated", value=weight, unit="kg", provenance=weight.provenance)
    told = likely(weight)
    return Reason(figure="weight", value=float(weight), low=told.low, high=told.high, unit="kg",
                  lines=(line,))  # fmt: skip


def _sum(figure: str, total: Likely, parts: list[Mass]) -> Reason:
    lines: list[Line] = []
    running = 0.0
    for part in parts:
        weight = part.weight_kg
        if weight is not None and weight.value:
            running += weight.value
            lines.append(
                Line(place=part.name, what=part.kind, value=weight.value, unit="kg",
                     provenance=weight.provenance, comes_to=running)
            )  # fmt: skip
    missing = tuple(f"the weight of {part.name}" for part in parts if part.weight_kg is None)
    return Reason(figure=figure, value=total.value, low=total.low, high=total.high, unit="kg",
                  lines=tuple(lines), missing=missing)  # fmt: skip


def why_tip(found: Stand | None, weights: Weights) -> Reason:
    """The slope at which the case goes over, by the height and the place of its weight."""
    if found is None:
        names = tuple(f"the weight of {name}" for name in weights.case_missing)
        return _waits("tip", "degrees", names or ("the outer size of the case",))
    worth = weights.case_kg.provenance
    hung = [one for one in found.hung if one.weight_kg]
    lines = [
        Line(place=one.name, what=f"its {one.weight_kg:.2f} kg hang above the floor",
             value=one.up_mm, unit="mm", provenance=worth)
        for one in hung
    ]  # fmt: skip
    for what, offs, comes_to in (
        ("its weight hangs above the floor", [one.up_mm for one in hung], found.height_mm),
        ("towards the right of the middle", [o.across_mm for o in hung], found.across_off_mm),
        ("towards the rear of the middle", [o.along_mm for o in hung], found.along_off_mm),
    ):
        moments = " + ".join(
            f"{one.weight_kg:.2f} x {_signed(off)}"
            for one, off in zip(hung, offs, strict=True)
            if round(off, 1)
        )
        lines.append(
            Line(place="the case", what=what, value=comes_to, unit="mm", provenance=worth,
                 by="rackgrid.centre_of_gravity_mm",
                 worked=f"({moments or 0}) / {sum(one.weight_kg for one in hung):.2f} = "
                        f"{comes_to:.1f}")
        )  # fmt: skip
    lines.append(
        Line(place="the case", what=f"a push that holds it on a ramp of {RAMP_DEG:g} degrees",
             value=found.ramp_kgf, unit="kg", provenance=worth,
             worked=f"{found.total_kg:.1f} x {math.sin(math.radians(RAMP_DEG)):.4f} = "
                    f"{found.ramp_kgf:.1f}")
    )  # fmt: skip
    if found.castor_needs_kg is not None:
        least = castors.castor_kg(total_kg=found.total_kg, castors=found.castors)
        share = castors.factored_castor_kg(total_kg=found.total_kg, castors=found.castors)
        lines.append(
            Line(place="each castor", what="should be made for, by the stricter of two rules",
                 value=found.castor_needs_kg, unit="kg", provenance=worth,
                 by="castors.castor_kg" if least >= share else "castors.factored_castor_kg",
                 inputs=(("total_kg", Quantity(found.total_kg, worth)),))
        )  # fmt: skip
    for what, base, off, angle in (
        ("sideways", found.base_across_mm, found.across_off_mm, found.tip_across_deg),
        ("lengthwise", found.base_along_mm, found.along_off_mm, found.tip_along_deg),
    ):
        lines.append(
            Line(place="the case", what=f"goes over {what} at", value=angle, unit="degrees",
                 provenance=weaker(worth, "assumed"), by="balance.tip_deg",
                 inputs=(("base_mm", Quantity(base)), ("offset_mm", Quantity(abs(off)))),
                 worked=f"atan(({base:.0f} / 2 - {abs(off):.0f}) / {found.height_mm:.0f}) = "
                        f"{angle:.1f}")
        )  # fmt: skip
    low, high = min(found.likely_across_deg, found.likely_along_deg)
    return Reason(figure="tip", value=found.tip_deg, low=low, high=high, unit="degrees",
                  lines=tuple(lines))  # fmt: skip


def _signed(value: float) -> str:
    """In a product of a sum: a minus sign in brackets."""
    return f"{value:.1f}" if value >= 0 else f"({value:.1f})"


def why_lift(found: Carry) -> Reason:
    """The share of one pair of hands against the guideline and the lifting equation."""
    weight = found.weight_kg
    lines = (
        Line(place="the case", what="as it rolls", value=weight.value, unit="kg",
             provenance=weight.provenance),
        Line(place="each of them", what="an even share", value=found.each_kg.value, unit="kg",
             provenance=weight.provenance,
             worked=f"{weight.value:.1f} / {found.people} = {found.each_kg.value:.1f}"),
        Line(place="all of them", what="guideline, men", value=found.guideline_men_kg, unit="kg",
             provenance="datasheet", by="lifting.team_kg"),
        Line(place="all of them", what="guideline, men and women", value=found.guideline_mixed_kg,
             unit="kg", provenance="datasheet", by="lifting.team_kg"),
        Line(place="one person", what="recommended by the equation", value=found.recommended_kg,
             unit="kg", provenance="assumed", by="lifting.recommended_kg",
             worked=f"23 x 25 / {HANDS_AHEAD_CM:g} x (1 - 0.003 x {75 - HANDS_UP_CM:g}) x (0.82 + "
                    f"4.5 / {RAISED_CM:g}) = {found.recommended_kg:.1f}"),
        Line(place="each of them", what="index; above 1 some people's risk is raised",
             value=found.index_ratio, unit="", provenance=weaker(weight.provenance, "assumed"),
             by="lifting.lifting_index_ratio",
             worked=f"{found.each_kg.value:.1f} / {found.recommended_kg:.1f} = "
                    f"{found.index_ratio:.2f}"),
    )  # fmt: skip
    low, high = (kg / found.recommended_kg for kg in (found.each_kg.low, found.each_kg.high))
    return Reason(figure="lift", value=found.index_ratio, low=low, high=high, unit="",
                  lines=lines)  # fmt: skip


def why_depth(found: Elevation, box: Box) -> Reason:
    """How far a box reaches behind its rails with its plugs, and the room that there is."""
    name, size, case = box.seat.name, box.seat.type.size, found.case
    if box.depth_mm is None or size is None or size.depth_mm is None:
        return _waits("depth", "mm", (f"depth_mm of {name}",))
    lines = [
        Line(place=name, what="depth behind its rails", value=size.depth_mm, unit="mm",
             provenance=size.depth_mm.provenance, comes_to=box.depth_mm)
    ]  # fmt: skip
    deep_mm = box.depth_mm + box.rear_plugs_mm
    if size.plugs_rear_mm is not None:
        lines.append(
            Line(place=name, what="plugs and their bends behind it", value=size.plugs_rear_mm,
                 unit="mm", provenance=size.plugs_rear_mm.provenance, comes_to=deep_mm)
        )  # fmt: skip
    rear = box.seat.face == "rear"
    before, behind = (case.front_lid_mm, case.rear_lid_mm)[:: -1 if rear else 1]
    if case.rail_to_rail_mm is not None:
        room = Quantity(
            case.rail_to_rail_mm + (behind or 0.0),
            weakest(case.rail_to_rail_mm, *filter(None, [behind])),
        )
        lines.append(
            Line(place="the case", what="room left behind it, closed", value=room - deep_mm,
                 unit="mm", provenance=weaker(room.provenance, box.provenance),
                 worked=f"{case.rail_to_rail_mm:g} + {behind or 0:g} - {deep_mm:g} = "
                        f"{room - deep_mm:g}")
        )  # fmt: skip
    if size.plugs_front_mm is not None:
        lines.append(
            Line(place=name, what="plugs and knobs before its panel", value=size.plugs_front_mm,
                 unit="mm", provenance=size.plugs_front_mm.provenance)
        )  # fmt: skip
    if before is not None:
        lines.append(
            Line(place="the case", what="room left before it, closed",
                 value=before - box.front_plugs_mm, unit="mm",
                 provenance=weaker(before.provenance, box.provenance),
                 worked=f"{before:g} - {box.front_plugs_mm:g} = {before - box.front_plugs_mm:g}")
        )  # fmt: skip
    for hit in found.hits:
        other = hit.other.seat.name if hit.other is not None else ""
        if hit.against in {"bar", "box"} and name in {hit.box.seat.name, other}:
            what = "a bar" if hit.against == "bar" else " and ".join((hit.box.seat.name, other))
            lines.append(
                Line(place=name, what=f"short of room against {what}", value=hit.short_mm,
                     unit="mm", provenance=box.provenance,
                     worked=f"{hit.needs_mm:g} - {hit.has_mm:g} = {hit.short_mm:g}")
            )  # fmt: skip
    return Reason(figure="depth", value=deep_mm, low=None, high=None, unit="mm",
                  lines=tuple(lines))  # fmt: skip


def why_length(found: Way) -> Reason:
    """How long a lead has to be on the worst of the stages."""
    where = found.venue.name if found.venue is not None else "where it usually stands"
    side = f", the case {found.case_side}" if found.case_side else ""
    ups = " + ".join(f"{up:g}" for up in found.ups_m)
    lines = [
        Line(place=f"{where}{side}", what="the way at right angles", value=found.route_m, unit="m",
             provenance=found.provenance, by="cablerun.route_m",
             inputs=(("across_m", Metres(found.across_m, found.provenance)),
                     ("along_m", Metres(found.along_m, found.provenance))),
             worked=f"{found.across_m:g} + {found.along_m:g} + {ups} = {found.route_m:.2f}"),
        Line(place=f"{where}{side}", what="with a tenth to spare", value=found.needed_m, unit="m",
             provenance=found.provenance, by="cablerun.needed_m",
             worked=f"{found.route_m:.2f} x 1.1 = {found.needed_m:.2f}"),
    ]  # fmt: skip
    if found.stock_m is not None:
        lines.append(
            Line(place=found.name, what="the shortest sold that reaches", value=found.stock_m,
                 unit="m", provenance="datasheet", by="cablerun.stock_m")
        )  # fmt: skip
    if found.has_m is not None:
        lines.append(
            Line(place=found.name, what="as it is", value=found.has_m, unit="m",
                 provenance=found.has_m.provenance)
        )  # fmt: skip
    return Reason(figure="length", value=found.needed_m, low=None, high=None, unit="m",
                  lines=tuple(lines))  # fmt: skip


def _waits(figure: str, unit: str, missing: tuple[str, ...]) -> Reason:
    return Reason(figure=figure, value=None, low=None, high=None, unit=unit, lines=(),
                  missing=missing)  # fmt: skip
