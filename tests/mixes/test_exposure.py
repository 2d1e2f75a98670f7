"""Exposure: shares by the criteria as printed, where levels come from, and what is never said."""

from math import hypot

import pytest

from rigproof.mixes.exposure import (
    CAUTION,
    CRITERIA,
    Exposure,
    Occasion,
    exposures,
    level_of,
)
from rigproof.rig.spread import spread_db
from rigproof.rig.where import RigErrors
from tests.bands import WHOLE, seen, stated, whole
from tests.checks.looking import findings

MIX = """
people:
  - {{id: ana, name: Ana, {hours} ears: {{plug: mixer.phones, earphones: earphones-dual{ears}}}}}
sources: [{{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 120}}]
gear: [{{id: mixer, type: mixer-rack-24}}]
patch: [{{source: kick, plug: mixer.in.1, channel: 1, gain_db: 20}}]
settings: [{{at: mixer.monitor.1-2, gain_db: -20}}]
mixes:
  - {{id: a, listeners: [ana], bus: 1-2, out: mixer.phones.1-2, {mix} sends: [{{from: kick}}]}}
"""


def exposed(mix: str = "", *, hours: float | None = None, ears: str = "") -> Exposure:
    stated = "" if hours is None else f"hours_per_week_h: {hours},"
    (found,) = seen(MIX.format(hours=stated, mix=mix, ears=ears)).exposures
    return found


def percent(exposure: Exposure, occasion: Occasion, criterion: str) -> float:
    dose = exposure.dose(occasion, criterion)
    assert dose is not None
    return dose.percent


@pytest.mark.published("NIOSH 98-126, table 1-1: 94 dB(A) for 1 h, 91 for 2 h, 88 for 4 h")
@pytest.mark.parametrize(("level_dba", "hours", "share"), [(94, 1, 100), (91, 2, 100), (91, 1, 50)])
def test_a_show_by_niosh(level_dba: float, hours: float, share: float) -> None:
    found = exposed(f"target_db: {level_dba},", hours=hours)
    assert percent(found, "show", "85/3") == pytest.approx(share)


@pytest.mark.published("29 CFR 1910.95, table G-16a: 95 dB(A) for 4 h")
def test_a_show_by_the_five_decibel_rule() -> None:
    found = exposed("target_db: 95,", hours=2)
    assert percent(found, "show", "90/5") == pytest.approx(50)


@pytest.mark.published("WHO / ITU-T H.870: 80 dB(A) for 40 h a week, 3 dB halve it")
@pytest.mark.parametrize(("level_dba", "hours"), [(80, 40), (83.0103, 20), (90, 4)])
def test_a_week(level_dba: float, hours: float) -> None:
    found = exposed(f"target_db: {level_dba},", hours=hours)
    assert percent(found, "week", "80/40h") == pytest.approx(100, abs=0.01)


@pytest.mark.published("Directive 2003/10/EC, article 2: the week is five days of 8 h")
def test_a_week_by_a_daily_criterion() -> None:
    found = exposed("target_db: 85,", hours=40)
    assert percent(found, "week", "eu-upper") == pytest.approx(100)


@pytest.mark.published("ISO 9612: 88 dB(A) for 2 h are 82 over 8 h")
def test_level_of_the_longest_day() -> None:
    assert exposed("target_db: 88,", hours=2).lex_day_dba == pytest.approx(88 - 6.02, abs=0.005)


@pytest.mark.published("common practice, no source: one ear is turned up by 6 dB")
def test_one_ear_pays() -> None:
    both = exposed("target_db: 85,", hours=2)
    one = exposed("target_db: 85,", hours=2, ears=", one_ear: true")
    assert one.one_ear_dba == 91
    assert percent(one, "show", "85/3") == pytest.approx(4 * percent(both, "show", "85/3"))
    assert percent(one, "show", "90/5") == pytest.approx(2.297 * percent(both, "show", "90/5"),
                                                         rel=1e-3)  # fmt: skip


def test_stated_goes_before_planned() -> None:
    stated = exposed("target_db: {value: 84, from: measured},")
    assert stated.basis == "stated"
    assert stated.level_dba is not None
    assert float(stated.level_dba) == 84
    assert stated.level_dba.provenance == "measured"
    planned = exposed()
    assert planned.basis == "planned"


def test_planned_is_the_level_at_the_ear() -> None:
    view = seen(MIX.format(hours="", mix="", ears=""))
    (found,) = view.exposures
    assert found.level_dba == pytest.approx(view.ears.ears["ana"].total_spl)


def test_without_hours_no_week() -> None:
    found = exposed("target_db: 84,")
    assert found.dose("week", "80/40h") is None
    assert found.dose("show", "80/40h") is not None


def test_who_never_wears_them_has_no_day() -> None:
    found = exposed("target_db: 84,", hours=0)
    assert found.lex_day_dba is None
    assert {dose.percent for dose in found.doses} == {0}


def test_a_hand_on_the_knob_is_no_plan() -> None:
    view = seen("""
people: [{id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: earphones-dual}}]
sources: [{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 120}]
gear: [{id: mixer, type: mixer-rack-24}, {id: amp, type: headphone-amp-4}]
leads: [{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1}]
patch: [{source: kick, plug: mixer.in.1, channel: 1, gain_db: 20}]
mixes:
  - {id: a, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2, sends: [{from: kick}]}
""")
    (found,) = view.exposures
    assert found.level_dba is None
    assert found.doses == ()
    assert found.waits_for == ("the setting of amp.amp.1", "the setting of amp.amp.2")


@pytest.mark.parametrize("name", WHOLE)
def test_louder_or_longer_is_never_less(name: str) -> None:
    view = whole(name)
    assert any(exposure.doses for exposure in view.exposures)
    for exposure in view.exposures:
        level = level_of(exposure, view.widths.together(exposure.person))
        for dose in exposure.doses:
            assert level is not None
            low, high = dose.likely_percent(level.off_db)
            assert low < dose.percent < high
            assert dose.likely_percent(0.0) == (dose.percent, dose.percent)
            assert dose.criterion in CRITERIA


def test_measured_sources_do_not_make_a_measured_level() -> None:
    """What the earphones and the mixer may be off is in the level at the ear all the same."""
    measured = MIX.replace("spl_db: 120", "spl_db: {{value: 120, from: measured}}")
    view = seen(measured.format(hours="", mix="", ears=""))
    (found,) = view.exposures
    level = level_of(found, view.widths.together("ana"))
    assert level is not None
    assert level.provenance in {"typical", "assumed"}
    assert level.off_db > spread_db("typical")


def test_one_ear_is_known_no_better_than_two() -> None:
    both = exposed("target_db: {value: 84, from: measured},")
    one = exposed("target_db: {value: 84, from: measured},", ears=", one_ear: true")
    two, alone = level_of(both, None), level_of(one, None)
    assert two is not None
    assert alone is not None
    assert (two.value_db, two.off_db) == (84, spread_db("measured"))
    assert alone.value_db == 90
    assert alone.off_db == pytest.approx(hypot(spread_db("measured"), spread_db("typical")))


def test_criteria_can_be_chosen() -> None:
    view = seen(MIX.format(hours="", mix="target_db: 90,", ears=""))
    (found,) = exposures(view.rig, view.ears.ears, ("90/5",))
    assert {dose.criterion for dose in found.doses} == {"90/5"}


def test_caution_defers_and_promises_nothing() -> None:
    assert "audiologist" in CAUTION
    assert "law" in CAUTION
    assert "safe" not in CAUTION.lower()
    for criterion in CRITERIA.values():
        assert "safe" not in criterion.name.lower()


LOUD = MIX.format(hours="hours_per_week_h: 10,", mix="target_db: 88,", ears="")


@pytest.mark.published("NIOSH 98-126: 88 dB(A) for 4 h; 29 CFR 1910.95: 90 for 8 h; 2003/10/EC: 87")
@pytest.mark.parametrize(
    ("day", "over"), [("85/3", False), ("90/5", False), ("eu-lower", True), ("eu-limit", False)]
)
def test_the_file_chooses_by_which_criterion_a_day_is_judged(day: str, over: bool) -> None:
    """3 h at 88 dB(A) are 75 % by 85/3, and 237 % of 80 dB(A) over 8 h."""
    found = findings("hearing.exposure-day", f"{LOUD}hearing: {{day: {day}}}\n")
    assert bool(found) == over
    if over:
        assert "lower action value" in found[0].says


def test_the_file_chooses_by_which_criterion_a_week_is_judged() -> None:
    """10 h at 88 dB(A) a week: 158 % of 80 dB(A) for 40 h, 50 % of 85 dB(A) on five days."""
    (usual,) = findings("hearing.exposure-week", LOUD)
    assert usual.found == pytest.approx(158, abs=1)
    assert findings("hearing.exposure-week", LOUD + "hearing: {week: 85/3}\n") == []


def test_a_criterion_that_nobody_printed_is_refused() -> None:
    with pytest.raises(RigErrors, match=r'"day" is "70/3"'):
        stated(LOUD + "hearing: {day: 70/3}\n")
