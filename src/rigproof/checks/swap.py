"""One thing in place of another: what changes at each ear, in the purse and in the verdict.

Hiss is compared at one loudness, each side turned to it with the last knob alone: whoever gets a
more sensitive earphone or a stronger amplifier turns it down, and the hiss that lies before the
knob goes down with it.
"""

from collections.abc import Mapping, Sequence
from math import hypot
from typing import Literal

import msgspec

from rigproof.checks.loudness import QUIET_DBA
from rigproof.checks.rule import Finding, View, look
from rigproof.checks.verdict import Verdict, check, only_in
from rigproof.rig import Rig
from rigproof.rig.equipment import Setting
from rigproof.rig.geartype import GearType
from rigproof.rig.spread import spread_db
from rigproof.signal.figures import sensitivity_of
from rigproof.signal.gainplan import Tight, first_clip
from rigproof.signal.levels import EarFigures
from rigproof.signal.turning import levelled
from rigproof.wording import listed
from rigproof.wording.sentences import sentence

# Differences that nobody hears: in hiss, and in how loud it gets.
ALIKE_DB = 1.0
# Ears that get no louder than this have no reserve on a loud stage. Common practice, no source.
LOUD_ENOUGH_SPL = 100.0

_UNHEARD = sentence(
    "either way hiss is under {quiet_dba:g} dB SPL (A-weighted) or the same, "
    "nothing else clips and no stop and no risk is added",
    quiet_dba=QUIET_DBA,
)

Side = Literal["now", "then", "alike"]


class Thing(msgspec.Struct, frozen=True):
    """What is swapped: its words, the type it is and the type it would be."""

    name: str
    now: GearType
    then: GearType

    @property
    def price_eur(self) -> float | None:
        return _difference(self.now.price_eur, self.then.price_eur)

    @property
    def weight_kg(self) -> float | None:
        return _difference(self.now.weight_kg, self.then.weight_kg)


class EarSide(msgspec.Struct, frozen=True, kw_only=True):
    """One pair of ears, with one of the two things in place."""

    level_spl: float | None  # with the knobs as they are written
    hiss_dba: float | None  # at the level both are compared at
    hiss_off_db: float  # how far off that likely is, either way
    loudest_spl: float | None
    limited_by: str
    first_clip: Tight | None
    latest_ms: float | None
    hiss_from: str
    errs_db: Mapping[str, float]  # by what makes it: how far off the hiss is by that figure
    missing: tuple[str, ...]

    @property
    def audible(self) -> bool:
        return self.hiss_dba is not None and self.hiss_dba >= QUIET_DBA


class EarChange(msgspec.Struct, frozen=True):
    """One pair of ears before and after; a side that has no ears there is None."""

    person: str
    now: EarSide
    then: EarSide

    @property
    def changes(self) -> bool:
        return self.now != self.then

    @property
    def apart_db(self) -> float | None:
        """By how much the one hisses more than the other; above 0 it is the new one."""
        return _difference(self.now.hiss_dba, self.then.hiss_dba)

    @property
    def apart_off_db(self) -> float:
        """How far off that may likely be: figures that stay err on both sides alike."""
        now, then = self.now.errs_db, self.then.errs_db
        return hypot(*(now.get(key, 0.0) - then.get(key, 0.0) for key in {*now, *then}))

    @property
    def better(self) -> Side:
        """Which is better to listen to: less hiss, where loud enough and where nothing clips."""
        if _too_soft(self.now) != _too_soft(self.then):
            return "then" if _too_soft(self.now) else "now"
        if abs(_clipped_db(self.now) - _clipped_db(self.then)) >= ALIKE_DB:
            return "then" if _clipped_db(self.now) > _clipped_db(self.then) else "now"
        now, then = self.now.hiss_dba, self.then.hiss_dba
        heard = self.now.audible or self.then.audible
        if now is None or then is None or not heard or abs(now - then) < ALIKE_DB:
            return "alike"
        return "then" if then < now else "now"


class Comparison(msgspec.Struct, frozen=True):
    """Everything that a swap changes, and the advice."""

    things: tuple[Thing, ...]
    ears: tuple[EarChange, ...]
    new: tuple[Finding, ...]
    gone: tuple[Finding, ...]
    better: Side | Literal["either"]
    advice: str
    level_spl: float


def compare(now: Rig, then: Rig, things: Sequence[Thing], *, level_spl: float) -> Comparison:
    """A rig against the same rig with other things in it."""
    verdict_now = check(now)
    as_loud = _as_loud(verdict_now, then)
    ears = _ears(verdict_now.view, look(then), level_spl)
    verdict_then = check(as_loud)
    new = only_in(verdict_then, verdict_now)
    gone = only_in(verdict_now, verdict_then)
    better, advice = _advice(now, tuple(things), ears, new, gone)
    return Comparison(tuple(things), ears, new, gone, better, advice, level_spl)


def _as_loud(verdict: Verdict, then: Rig) -> Rig:
    """The other rig with the last knobs turned so that everyone hears as much as now.

    Nobody leaves a new amplifier louder than the old one; a verdict on that would mislead.
    """
    settings: dict[str, Setting] = {}
    for view in verdict.views:
        ears = view.ears.ears.values()
        targets = {e.person: e.total_spl for e in ears if e.total_spl is not None}
        other = look(then, view.show)
        turned = levelled(other.levels, targets).rig.file.settings
        for setting in turned[len(other.rig.file.settings) :]:
            settings.setdefault(str(setting.at), setting)
    return then.changed(settings=(*then.file.settings, *settings.values()))


def _ears(now: View, then: View, level_spl: float) -> tuple[EarChange, ...]:
    found_now, found_then = _sides(now, level_spl), _sides(then, level_spl)
    return tuple(
        EarChange(person, side, found_then[person])
        for person, side in found_now.items()
        if person in found_then
    )


def _sides(view: View, level_spl: float) -> Mapping[str, EarSide]:
    """Every pair of ears, as written and turned to one level."""
    written = view.levels
    as_loud = levelled(written, dict.fromkeys(view.ears.ears, level_spl))
    return {
        ear.person: _side(view, ear, same, first_clip(as_loud.peaks, ear.person))
        for ear in written.ears
        if (same := as_loud.ear(ear.person)) is not None
    }


def _side(view: View, ear: EarFigures, as_loud: EarFigures, clip: Tight | None) -> EarSide:
    return EarSide(
        level_spl=_tenth(ear.total_spl),
        hiss_dba=_tenth(as_loud.hiss_dba),
        hiss_off_db=round((as_loud.hiss_high_dba or 0.0) - (as_loud.hiss_dba or 0.0), 1),
        loudest_spl=_tenth(ear.loudest_spl),
        limited_by=ear.limited_by,
        first_clip=None if clip is None else Tight(clip.at, round(clip.room_db, 1)),
        latest_ms=_tenth(_latest_ms(view, ear.person)),
        hiss_from=as_loud.shares[0].place if as_loud.shares else "",
        errs_db=_errs(view, as_loud),
        missing=ear.missing,
    )


def _errs(view: View, ear: EarFigures) -> Mapping[str, float]:
    """What each figure that a swap may change makes of the error of a hiss."""
    found: dict[str, float] = {}
    for share in ear.shares:
        key = f"{share.place}, {share.noise.name}, {share.noise.level_db:.2f}"
        found[key] = found.get(key, 0.0) + round(share.share_ratio * share.noise.off_db, 2)
    earphone = view.figures.earphone(ear.person)
    sensitivity = sensitivity_of(earphone) if earphone is not None else None
    if sensitivity is not None:
        # As loud as the other, more sensitive earphones get less of all but what hisses last.
        found[f"earphones, {sensitivity:.2f}"] = spread_db(sensitivity.provenance)
    return found


def _latest_ms(view: View, person: str) -> float | None:
    """The stated delays of the slowest source on its shortest way to somebody's ears."""
    ends = view.graph.of_listener(person)
    sums = []
    for source in view.rig.sources:
        path = view.graph.shortest(view.graph.of_source(source), ends)
        if path is not None:
            sums.append(sum(float(hop.delay_ms) for hop in path if hop.delay_ms is not None))
    return max(sums, default=None)


def _too_soft(side: EarSide) -> bool:
    return side.loudest_spl is not None and side.loudest_spl < LOUD_ENOUGH_SPL


def _clipped_db(side: EarSide) -> float:
    """How far the peaks go over what the first place to clip bears."""
    return max(0.0, -side.first_clip.room_db) if side.first_clip is not None else 0.0


# Advice


def _advice(
    rig: Rig,
    things: tuple[Thing, ...],
    ears: tuple[EarChange, ...],
    new: tuple[Finding, ...],
    gone: tuple[Finding, ...],
) -> tuple[Side | Literal["either"], str]:
    """Which to buy in one sentence, or what stands against what."""
    for_then = [ear for ear in ears if ear.better == "then"]
    for_now = [ear for ear in ears if ear.better == "now"]
    worse = [f for f in new if f.severity in {"stop", "risk"}]
    cured = [f for f in gone if f.severity in {"stop", "risk"}]
    then_name = listed(thing.then.name for thing in things)
    now_name = listed(thing.now.name for thing in things)
    cost = _cost(things)
    if (for_then or cured) and not for_now and not worse:
        why = _why(rig, for_then, "then") or sentence(
            "it cures what {named} warned of", named=_named(cured)
        )
        return "then", sentence(
            "Take {then_name}: {why}{cost}.", then_name=then_name, why=why, cost=cost
        )
    if (for_now or worse) and not for_then and not cured:
        why = _why(rig, for_now, "now") or sentence(
            "with {then_name}, {named} would warn", then_name=then_name, named=_named(worse)
        )
        return "now", sentence(
            "Stay with {now_name}: {why}{cost}.", now_name=now_name, why=why, cost=cost
        )
    if not for_then and not for_now and not worse and not cured:
        cheaper = _cheaper(things)
        if cheaper == "alike":
            return "either", sentence(
                "{now_name} or {then_name}, as you like: {unheard}{cost}.",
                now_name=now_name,
                then_name=then_name,
                unheard=_UNHEARD,
                cost=cost,
            )
        name = then_name if cheaper == "then" else now_name
        return cheaper, sentence(
            "{name} will do: {unheard}{cost}.", name=name, unheard=_UNHEARD, cost=cost
        )
    pros = [part for part in (_why(rig, for_then, "then"), _cures(cured)) if part]
    cons = [part for part in (_why(rig, for_now, "now"), _warns(worse)) if part]
    return "either", (
        sentence(
            "One against the other: for {then_name}, {names}; for {now_name}, {names2}{cost}.",
            then_name=then_name,
            names=listed(pros),
            now_name=now_name,
            names2=listed(cons),
            cost=cost,
        )
    )


def _why(rig: Rig, ears: Sequence[EarChange], side: Literal["now", "then"]) -> str:
    """What one side does better, by the ear where it does most."""
    if not ears:
        return ""
    best = max(ears, key=_weight)
    good, bad = (best.then, best.now) if side == "then" else (best.now, best.then)
    who = rig.people[best.person].name
    others = "" if len(ears) == 1 else sentence(" (and less for {ears} more)", ears=len(ears) - 1)
    if _too_soft(bad) and not _too_soft(good):
        return sentence(
            "{who} gets up to {loudest_spl:.0f} dB SPL, with the other only {loudest_spl2:.0f}",
            who=who,
            loudest_spl=good.loudest_spl,
            loudest_spl2=bad.loudest_spl,
        )
    if _clipped_db(bad) - _clipped_db(good) >= ALIKE_DB and bad.first_clip is not None:
        by = _clipped_db(bad)
        return sentence(
            "with the other, {at} clips by {by:.1f} dB on the way to {who}",
            at=bad.first_clip.at,
            by=by,
            who=who,
        )
    heard = ""
    if bad.audible != good.audible:
        heard = sentence(", which is no longer heard between songs") if side == "then" else ""
        if side == "now":
            heard = sentence(", and the other is heard between songs")
    return sentence(
        "at the same loudness {who} hears {gap:.1f} dB less hiss ({hiss_dba:.1f} "
        "against {hiss_dba2:.1f} dB SPL A-weighted{heard}){others}",
        who=who,
        gap=_gap(best),
        hiss_dba=bad.hiss_dba,
        hiss_dba2=good.hiss_dba,
        heard=heard,
        others=others,
    )


def _weight(ear: EarChange) -> tuple[float, float, str]:
    """Which ear speaks for all: where clipping differs most, then hiss."""
    clipped = abs(_clipped_db(ear.now) - _clipped_db(ear.then))
    return (clipped if clipped >= ALIKE_DB else 0.0, _gap(ear), ear.person)


def _gap(ear: EarChange) -> float:
    if ear.now.hiss_dba is None or ear.then.hiss_dba is None:
        return 0.0
    return abs(ear.now.hiss_dba - ear.then.hiss_dba)


def _named(findings: Sequence[Finding]) -> str:
    return listed(dict.fromkeys(f.rule for f in findings))


def _cures(findings: Sequence[Finding]) -> str:
    return sentence("it cures {named}", named=_named(findings)) if findings else ""


def _warns(findings: Sequence[Finding]) -> str:
    return sentence("the other brings {named}", named=_named(findings)) if findings else ""


def _cost(things: Sequence[Thing]) -> str:
    differences = [thing.price_eur for thing in things]
    if any(d is None for d in differences):
        return sentence("; a price is not stated")
    euros = sum(d for d in differences if d is not None)
    if not euros:
        return ""
    return (
        sentence("; the change costs {euros:.0f} euros", euros=euros)
        if euros > 0
        else (
            sentence(
                "; {names} costs {euros:.0f} euros less",
                names=listed(t.then.name for t in things),
                euros=-euros,
            )
        )
    )


def _cheaper(things: Sequence[Thing]) -> Side:
    euros = sum(thing.price_eur or 0.0 for thing in things)
    return "alike" if euros == 0 else "then" if euros < 0 else "now"


def _difference(now: float | None, then: float | None) -> float | None:
    return None if now is None or then is None else round(float(then) - float(now), 3)


def _tenth(value: float | None) -> float | None:
    return None if value is None else round(value, 1) + 0.0


def sizes(type_: GearType) -> Mapping[str, float | None]:
    """The room a type takes, what it draws, what it keeps out, by the unit."""
    size, earphone = type_.size, type_.earphone
    return {
        "isolation_db": float(earphone.isolation_db)
        if earphone is not None and earphone.isolation_db is not None
        else None,
        "units": float(size.units) if size and size.units is not None else None,
        "depth_mm": float(size.depth_mm) if size and size.depth_mm is not None else None,
        "watts": float(type_.power.watts)
        if type_.power is not None and type_.power.watts is not None
        else None,
    }
