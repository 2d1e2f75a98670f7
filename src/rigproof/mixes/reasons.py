"""Why a share of what a criterion accepts is what it is: level, time, and the criterion."""

from rigproof.mixes.exposure import CRITERIA, Dose, Exposure, both_ears_of, counted, level_of
from rigproof.physics.exposure import ONE_EAR_DB
from rigproof.rig.quantity import Quantity
from rigproof.rig.spread import weaker
from rigproof.signal.ladder import Told
from rigproof.signal.reasons import Line, Reason


def why_exposure(
    found: Exposure, name: str, together: Told | None, *, day: str, week: str
) -> Reason:
    """Each occasion against each criterion; the value is the fullest by the chosen ones.

    `together`: everything at these ears by the plan, for its likely range.
    """
    both, told = both_ears_of(found, together), level_of(found, together)
    if both is None or told is None:
        return Reason(figure="exposure", value=None, low=None, high=None, unit="%", lines=(),
                      missing=found.waits_for)  # fmt: skip
    level = Quantity(both.value_db, both.provenance)
    origin = {
        "stated": "target_db of the mix",
        "planned": "everything together, as planned, taken as dB(A)",
    }[found.basis or "planned"]
    lines = [Line(place=name, what=origin, value=level, unit="dB(A)", provenance=level.provenance)]
    if found.one_ear_dba is not None:
        what = "one ear out" if found.one_ear else "were one ear out, which does not count below"
        lines.append(
            Line(place=name, what=f"{what}: turned up to sound as loud",
                 value=found.one_ear_dba, unit="dB(A)",
                 provenance=weaker(level.provenance, "typical"), by="exposure.one_ear_dba",
                 inputs=(("both_ears_dba", level),),
                 worked=f"{level:.1f} + {ONE_EAR_DB:g} = {found.one_ear_dba:.1f}")
        )  # fmt: skip
    ear_dba = told.value_db
    lines += [_dose_line(dose, Quantity(ear_dba, told.provenance)) for dose in found.doses]
    if found.lex_day_dba is not None:
        longest = max((d.duration_h for d in found.doses if d.occasion != "week"), key=float)
        lines.append(
            Line(place=name, what="the longer of the two, spread over 8 h",
                 value=found.lex_day_dba, unit="dB(A)", provenance=level.provenance,
                 by="exposure.lex_dba", inputs=(("duration_h", longest),),
                 worked=f"{ear_dba:.1f} + 10 lg({longest:g} / 8) = {found.lex_day_dba:.1f}")
        )  # fmt: skip
    chosen = [d for d in found.doses if d.criterion == (week if d.occasion == "week" else day)]
    most = max(chosen, key=lambda dose: dose.percent, default=None)
    low, high = most.likely_percent(told.off_db) if most else (None, None)
    return Reason(
        figure="exposure",
        value=most.percent if most else None,
        low=low,
        high=high,
        unit=f"% of {most.criterion}, {most.occasion}" if most else "%",
        lines=tuple(lines),
    )


def _dose_line(dose: Dose, level: Quantity) -> Line:
    criterion = counted(CRITERIA[dose.criterion], dose.occasion)
    return Line(
        place=f"{dose.occasion}, {dose.criterion}",
        what=f"{criterion.name}; as long as it accepts: {dose.allowed_h:.3g} h",
        value=dose.percent,
        unit="%",
        provenance=weaker(level.provenance, dose.duration_h.provenance),
        by="exposure.dose_percent",
        inputs=(("level_dba", level), ("duration_h", dose.duration_h)),
        worked=f"100 x {dose.duration_h:g} / ({criterion.time_h:g} x 2^(({criterion.level_dba:g} - "
        f"{level:.1f}) / {criterion.exchange_db:.4g})) = {dose.percent:.1f}",
    )
