"""Why the case weighs, stands and is lifted as it is, and why a lead has its length."""

from rigproof.rack.carrying import HANDS_AHEAD_CM, HANDS_UP_CM, RAISED_CM, Carry
from rigproof.rack.leadruns import Way
from rigproof.rack.mass import Mass, Stand, Weights
from rigproof.rig.quantity import Metres, Quantity
from rigproof.rig.spread import Likely, weaker
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
    return Reason(figure="weight", value=float(weight), low=None, high=None, unit="kg",
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
    lines = [
        Line(place="the case", what="its weight hangs above the floor", value=found.height_mm,
             unit="mm", provenance=worth, by="rackgrid.centre_of_gravity_mm",
             worked="each weight x the height of its middle, added, over the sum of weights")
    ]  # fmt: skip
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
    return Reason(figure="tip", value=found.tip_deg, low=None, high=None, unit="degrees",
                  lines=tuple(lines))  # fmt: skip


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
             worked=f"hands {HANDS_AHEAD_CM:g} cm ahead, {HANDS_UP_CM:g} cm up, raised by "
                    f"{RAISED_CM:g} cm, no twist = {found.recommended_kg:.1f}"),
        Line(place="each of them", what="index; above 1 some people's risk is raised",
             value=found.index_ratio, unit="", provenance=weaker(weight.provenance, "assumed"),
             by="lifting.lifting_index_ratio",
             worked=f"{found.each_kg.value:.1f} / {found.recommended_kg:.1f} = "
                    f"{found.index_ratio:.2f}"),
    )  # fmt: skip
    low, high = (kg / found.recommended_kg for kg in (found.each_kg.low, found.each_kg.high))
    return Reason(figure="lift", value=found.index_ratio, low=low, high=high, unit="",
                  lines=lines)  # fmt: skip


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
