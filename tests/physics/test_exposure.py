import math

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import exposure
from rigproof.physics.exposure import NIOSH, OSHA, Criterion
from rigproof.physics.levels import power_sum_db
from tests.reference.rows import Calls, Row, assert_agrees, judged_by


def _allowed_h(row: Row, criterion: Criterion) -> float:
    return exposure.allowed_h(level_dba=row["L"], criterion=criterion)


def _of_row(row: Row) -> Criterion:
    """A criterion as the row states it."""
    return msgspec.structs.replace(
        NIOSH,
        level_dba=row["criterion"],
        exchange_db=row["exchange"],
        time_h=row["reference"],
    )


def _dose(row: Row, criterion: Criterion) -> float:
    """One stretch `L=..; C=..`, or several `name=2 h at 92 dB(A)`."""
    stretches = [value.split(" at ") for _, value in row.items() if " at " in value]
    if not stretches:
        inputs = dict(row.items())
        stretches = [[inputs["C"], inputs["L"]]]
    total = 0.0
    for time, level in stretches:
        number, unit = time.split(" ")
        hours = float(number) / {"h": 1, "min": 60}[unit]
        total += exposure.dose_percent(
            level_dba=float(level.removesuffix(" dB(A)")), duration_h=hours, criterion=criterion
        )
    return total


def _average(row: Row, criterion: Criterion, average_db: float | None = None) -> float:
    return exposure.average_dba(
        dose_percent=_dose(row, criterion), criterion=criterion, average_db=average_db
    )


def _exact_niosh(row: Row) -> float:
    return _average(row, NIOSH, exposure.exact_average_db(NIOSH))


def _of_dose(row: Row, criterion: Criterion) -> float:
    return exposure.average_dba(dose_percent=row["D"], criterion=criterion)


def _lex(row: Row) -> float:
    hours = row["T"] / {"min": 60, "h": 1}[row.unit_of("T")]
    level = row["L"] if "L=" in row.inputs.split("; ") else row.all("LAeq")[0]
    return exposure.lex_dba(level_dba=level, duration_h=hours)


def _weekly_h(row: Row) -> float:
    return exposure.allowed_h(level_dba=row["L"], criterion=exposure.WHO_ADULT)


CALLS: Calls = {
    ("exposure", "NIOSH allowed time at *"): lambda row: 60 * _allowed_h(row, _of_row(row)),
    ("exposure", "OSHA reference duration at *"): lambda row: _allowed_h(row, _of_row(row)),
    ("exposure", "OSHA Table G-16 permissible *"): lambda row: _allowed_h(row, OSHA),
    ("exposure", "OSHA dose, 8 h at 92 dB(A), using *"): lambda row: exposure.share_percent(
        duration_h=row["C"], allowed_h=row["T"]
    ),
    ("exposure", "OSHA TWA from *"): lambda row: _of_dose(row, OSHA),
    ("exposure", "OSHA dose, 8 h at 100 dB(A)"): lambda row: _dose(row, OSHA),
    ("exposure", "OSHA allowed time at 88 dB(A)"): lambda row: _allowed_h(row, OSHA),
    ("exposure", "OSHA dose for a TWA of 95 dB(A)"): lambda row: exposure.dose_percent(
        level_dba=row["TWA"], duration_h=OSHA.time_h, criterion=OSHA
    ),
    ("exposure", "OSHA reference duration used in *"): lambda row: _allowed_h(row, OSHA),
    ("exposure", "OSHA TWA of that four-level day"): lambda row: _average(row, OSHA),
    ("exposure", "NIOSH dose of the same four-level day"): lambda row: _dose(row, NIOSH),
    ("exposure", "NIOSH dose of a two-level day"): lambda row: _dose(row, NIOSH),
    ("exposure", "NIOSH TWA from dose *"): lambda row: _of_dose(row, NIOSH),
    ("exposure", "OSHA TWA, * no threshold"): lambda row: _average(row, OSHA),
    ("exposure", "OSHA dose, * no threshold"): lambda row: _dose(row, OSHA),
    ("exposure", "NIOSH dose, * no threshold"): lambda row: _dose(row, NIOSH),
    ("exposure", "NIOSH TWA, * exact 3 dB exchange"): _exact_niosh,
    ("exposure", "equal-energy dose against *"): lambda row: _dose(
        row, msgspec.structs.replace(NIOSH, exchange_db=exposure.EQUAL_ENERGY_DB)
    ),
    ("exposure", "87 dB(A) criterion with 3 dB *"): lambda row: _allowed_h(row, _of_row(row)),
    ("exposure", "85 dB(A) criterion with 5 dB *"): lambda row: _allowed_h(row, _of_row(row)),
    ("exposure", "EU upper exposure action value"): lambda row: exposure.EU_UPPER.level_dba,
    ("exposure", "EU lower exposure action value"): lambda row: exposure.EU_LOWER.level_dba,
    ("exposure", "LEX,8h of *"): _lex,
    ("exposure", "music-industry equivalence: *"): _lex,
    ("exposure", "ISO 9612 task contribution, *"): _lex,
    ("exposure", "daily exposure points at *"): lambda row: exposure.points_count(row["LEP,d"]),
    ("exposure", "weekly exposure from *"): lambda row: exposure.points_week_dba(
        row["weekly points"]
    ),
    ("exposure", "one loud gig in the week, *"): lambda row: exposure.weekly_dba(
        [row["day 1"], *[row["other four days"]] * 4]
    ),
    ("exposure", "H.870 adult weekly sound allowance"): lambda row: exposure.sound_exposure_pa2_h(
        level_dba=row["L"], duration_h=row["T"]
    ),
    ("exposure", "H.870 sensitive-user weekly sound allowance"): lambda row: (
        exposure.sound_exposure_pa2_h(level_dba=row["L"], duration_h=row["T"])
    ),
    ("exposure", "H.870 adult weekly time at 90 dB(A)"): _weekly_h,
    ("exposure", "H.870 adult weekly time at 10? dB(A)"): lambda row: 60 * _weekly_h(row),
    ("exposure", "H.870 dose used by *"): lambda row: exposure.dose_percent(
        level_dba=row["L"], duration_h=row["T"], criterion=exposure.WHO_ADULT
    ),
    ("exposure", "WHO * list, 120 dB"): lambda row: 3600 * _allowed_h(row, NIOSH),
    ("exposure", "gig day, NIOSH dose"): lambda row: _dose(row, NIOSH),
    ("exposure", "gig day, OSHA dose *"): lambda row: _dose(row, exposure.OSHA_LIMIT),
}


@judged_by(CALLS)
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@pytest.mark.published("Directive 2003/10/EC, article 3: 87 dB(A); peaks 135, 137, 140 dB(C)")
def test_european_values() -> None:
    assert exposure.EU_LIMIT.level_dba == 87
    pressures_pa = (
        exposure.EU_LOWER_PEAK_PA, exposure.EU_UPPER_PEAK_PA, exposure.EU_LIMIT_PEAK_PA,
    )  # fmt: skip
    found = [20 * math.log10(pressure_pa / 20e-6) for pressure_pa in pressures_pa]
    assert found == pytest.approx([135, 137, 140], abs=0.2)


@pytest.mark.published("WHO / ITU-T H.870: sensitive users 75 dB(A) for 40 h a week")
def test_sensitive_users() -> None:
    assert exposure.allowed_h(level_dba=75, criterion=exposure.WHO_SENSITIVE) == 40


ALL = (
    NIOSH, OSHA, exposure.OSHA_LIMIT, exposure.OSHA_PROGRAMME, exposure.EU_LOWER,
    exposure.EU_UPPER, exposure.EU_LIMIT, exposure.WHO_ADULT, exposure.WHO_SENSITIVE,
)  # fmt: skip
criteria = st.sampled_from(ALL)
loud, hours = st.floats(90, 130), st.floats(0.01, 24)


@pytest.mark.parametrize("criterion", ALL, ids=lambda criterion: criterion.name)
def test_each_criterion_is_itself(criterion: Criterion) -> None:
    level = criterion.level_dba
    assert exposure.allowed_h(level_dba=level, criterion=criterion) == criterion.time_h
    louder = level + criterion.exchange_db
    halved = exposure.allowed_h(level_dba=louder, criterion=criterion)
    assert halved == pytest.approx(criterion.time_h / 2)
    whole = exposure.dose_percent(level_dba=level, duration_h=criterion.time_h, criterion=criterion)
    assert whole == pytest.approx(100)
    assert exposure.exact_average_db(criterion) == pytest.approx(criterion.average_db, abs=0.04)


@given(loud, hours, hours, criteria)
def test_doses_add(level: float, first_h: float, second_h: float, criterion: Criterion) -> None:
    def dose(hours: float) -> float:
        return exposure.dose_percent(level_dba=level, duration_h=hours, criterion=criterion)

    assert dose(first_h) + dose(second_h) == pytest.approx(dose(first_h + second_h))


@given(loud, hours, criteria)
def test_level_and_time_there_and_back(level: float, time_h: float, criterion: Criterion) -> None:
    ceiling = exposure.highest_dba(duration_h=time_h, criterion=criterion)
    back = exposure.allowed_h(level_dba=ceiling, criterion=criterion)
    assert back == pytest.approx(time_h)
    dose = exposure.dose_percent(level_dba=level, duration_h=time_h, criterion=criterion)
    left = exposure.remaining_h(spent_percent=dose, level_dba=level, criterion=criterion)
    allowed = exposure.allowed_h(level_dba=level, criterion=criterion)
    assert left == pytest.approx(max(0.0, allowed - time_h), abs=1e-6)
    steady = exposure.average_dba(
        dose_percent=dose, criterion=criterion, average_db=exposure.exact_average_db(criterion)
    )
    again = exposure.dose_percent(
        level_dba=steady, duration_h=criterion.time_h, criterion=replace_threshold(criterion)
    )
    assert again == pytest.approx(dose)


def replace_threshold(criterion: Criterion) -> Criterion:
    """An average may lie below the level from which things count."""
    return msgspec.structs.replace(criterion, threshold_dba=-math.inf)


@given(st.floats(0, 89.9), hours)
def test_nothing_counts_below_a_threshold(level: float, time_h: float) -> None:
    found = exposure.dose_percent(level_dba=level, duration_h=time_h, criterion=exposure.OSHA_LIMIT)
    assert found == 0


@given(st.lists(st.tuples(loud, hours), min_size=1, max_size=6))
def test_equal_energy_by_dose_and_by_level(stretches: list[tuple[float, float]]) -> None:
    dose = sum(
        exposure.dose_percent(level_dba=level, duration_h=h, criterion=exposure.EU_UPPER)
        for level, h in stretches
    )
    day = power_sum_db([exposure.lex_dba(level_dba=level, duration_h=h) for level, h in stretches])
    assert exposure.average_dba(dose_percent=dose, criterion=exposure.EU_UPPER) == pytest.approx(
        day, abs=1e-6
    )
    assert exposure.points_count(day) == pytest.approx(dose)
    week = exposure.weekly_dba([day, -math.inf])
    assert week == pytest.approx(exposure.points_week_dba(exposure.points_count(day)))


def test_one_ear_costs_three_quarters_of_the_time() -> None:
    one = exposure.one_ear_dba(both_ears_dba=94)
    both_h = exposure.allowed_h(level_dba=94, criterion=NIOSH)
    assert exposure.allowed_h(level_dba=one, criterion=NIOSH) == pytest.approx(both_h / 4)
