"""How much sound a pair of ears has had, by the criterion one chooses to go by.

A criterion is a level, the time at it that counts as 100 %, and how many decibels halve that
time. None of them promises that nobody is hurt: they differ, and each allows a share of those
exposed to lose hearing. The figures are for deciding to turn down; tests of hearing and advice
belong to audiologists and to the law of the place.
"""

import math
from collections.abc import Iterable

import msgspec

from rigproof.physics._arrays import Floats, exp2, exp10, log10, not_below_0
from rigproof.physics.levels import power_sum_db
from rigproof.physics.microphones import spl_to_pa

# Twice the energy. Those who say 3 dB halve the time a little sooner: 1.2 % over 15 dB.
EQUAL_ENERGY_DB: float = 10 * math.log10(2)

# Directive 2003/10/EC, article 3: daily exposure over 8 h, and peaks C-weighted.
EU_LOWER_ACTION_DBA: float = 80.0
EU_UPPER_ACTION_DBA: float = 85.0
EU_LIMIT_DBA: float = 87.0  # at the ear, protection counted
EU_LOWER_PEAK_PA: float = 112.0
EU_UPPER_PEAK_PA: float = 140.0
EU_LIMIT_PEAK_PA: float = 200.0

SHIFT_H: float = 8.0
WEEK_H: float = 40.0
ONE_EAR_DB: float = 6.0


class Criterion(msgspec.Struct, frozen=True, kw_only=True):
    """How one authority counts: 100 % is `level_dba` for `time_h`, `exchange_db` halves the time.

    Below `threshold_dba` nothing counts. `average_db` is the factor that the authority prints for
    turning a dose into an average level; it may be rounded from `exchange_db` / lg 2.
    """

    name: str
    level_dba: float
    time_h: float
    exchange_db: float
    average_db: float
    threshold_dba: float = -math.inf


NIOSH = Criterion(
    name="NIOSH 98-126: 85 dB(A) for 8 h, 3 dB",
    level_dba=85, time_h=SHIFT_H, exchange_db=3, average_db=10,
)  # fmt: skip
OSHA = Criterion(
    name="29 CFR 1910.95: 90 dB(A) for 8 h, 5 dB",
    level_dba=90, time_h=SHIFT_H, exchange_db=5, average_db=16.61,
)  # fmt: skip
# What counts against the permissible limit is 90 dB(A) and above; the hearing-conservation
# programme counts from 80 dB(A).
OSHA_LIMIT = Criterion(
    name="29 CFR 1910.95, permissible limit: only 90 dB(A) and above count",
    level_dba=90, time_h=SHIFT_H, exchange_db=5, average_db=16.61, threshold_dba=90,
)  # fmt: skip
OSHA_PROGRAMME = Criterion(
    name="29 CFR 1910.95, hearing conservation: only 80 dB(A) and above count",
    level_dba=90, time_h=SHIFT_H, exchange_db=5, average_db=16.61, threshold_dba=80,
)  # fmt: skip
EU_LOWER = Criterion(
    name="2003/10/EC lower action value: 80 dB(A) over 8 h",
    level_dba=EU_LOWER_ACTION_DBA, time_h=SHIFT_H, exchange_db=EQUAL_ENERGY_DB, average_db=10,
)  # fmt: skip
EU_UPPER = Criterion(
    name="2003/10/EC upper action value: 85 dB(A) over 8 h",
    level_dba=EU_UPPER_ACTION_DBA, time_h=SHIFT_H, exchange_db=EQUAL_ENERGY_DB, average_db=10,
)  # fmt: skip
EU_LIMIT = Criterion(
    name="2003/10/EC limit value at the ear: 87 dB(A) over 8 h",
    level_dba=EU_LIMIT_DBA, time_h=SHIFT_H, exchange_db=EQUAL_ENERGY_DB, average_db=10,
)  # fmt: skip
WHO_ADULT = Criterion(
    name="WHO / ITU-T H.870 adults: 80 dB(A) for 40 h a week",
    level_dba=80, time_h=WEEK_H, exchange_db=EQUAL_ENERGY_DB, average_db=10,
)  # fmt: skip
WHO_SENSITIVE = Criterion(
    name="WHO / ITU-T H.870 sensitive users: 75 dB(A) for 40 h a week",
    level_dba=75, time_h=WEEK_H, exchange_db=EQUAL_ENERGY_DB, average_db=10,
)  # fmt: skip


def allowed_h(*, level_dba: Floats, criterion: Criterion) -> Floats:
    """Time at a level that counts as the whole of a criterion.

    T / 2^((L - criterion)/exchange). Source: NIOSH 98-126, table 1-1; 29 CFR 1910.95, table G-16a.

    >>> round(allowed_h(level_dba=94, criterion=NIOSH) * 60)
    60
    """
    return criterion.time_h * exp2((criterion.level_dba - level_dba) / criterion.exchange_db)


def highest_dba(*, duration_h: Floats, criterion: Criterion) -> Floats:
    """The level that uses up a criterion in just this time.

    criterion + exchange lg(T/t) / lg 2. Derived: `allowed_h`, turned round.

    >>> round(highest_dba(duration_h=2, criterion=NIOSH), 1)
    91.0
    """
    doublings = log10(criterion.time_h / duration_h) / math.log10(2)
    return criterion.level_dba + criterion.exchange_db * doublings


def share_percent(*, duration_h: Floats, allowed_h: Floats) -> Floats:
    """Part of an allowed time that was used.

    100 C/T. Source: 29 CFR 1910.95, appendix A; NIOSH 98-126.

    >>> round(share_percent(duration_h=8, allowed_h=6.1))
    131
    """
    return 100 * duration_h / allowed_h


def dose_percent(*, level_dba: Floats, duration_h: Floats, criterion: Criterion) -> Floats:
    """What a level held for a time uses of a criterion. Doses of a day or week add.

    100 C/T. Source: 29 CFR 1910.95, appendix A; NIOSH 98-126.

    >>> round(dose_percent(level_dba=100, duration_h=8, criterion=OSHA))
    400
    """
    allowed = allowed_h(level_dba=level_dba, criterion=criterion)
    counts = level_dba >= criterion.threshold_dba
    return counts * share_percent(duration_h=duration_h, allowed_h=allowed)


def remaining_h(*, spent_percent: Floats, level_dba: Floats, criterion: Criterion) -> Floats:
    """Time left at a level once a part of the criterion is spent; never below 0.

    (1 - D/100) T. Derived: what is left of the dose at the new level.

    >>> remaining_h(spent_percent=50, level_dba=91, criterion=NIOSH)
    1.0
    """
    left_ratio = not_below_0(1 - spent_percent / 100)
    return left_ratio * allowed_h(level_dba=level_dba, criterion=criterion)


def average_dba(
    *, dose_percent: Floats, criterion: Criterion, average_db: float | None = None
) -> Floats:
    """The steady level over the criterion's time with the same dose.

    criterion + q lg(D/100). Source: 29 CFR 1910.95, appendix A (q = 16.61); NIOSH 98-126 (q = 10).
    q is as the authority prints it unless given; `exact_average_db` has the exact one.

    >>> round(average_dba(dose_percent=91, criterion=OSHA), 1)
    89.3
    """
    factor_db = criterion.average_db if average_db is None else average_db
    return criterion.level_dba + factor_db * log10(dose_percent / 100)


def exact_average_db(criterion: Criterion) -> float:
    """The factor between a dose and its average level, from the exchange rate itself.

    exchange / lg 2. Derived: the time halves for every exchange rate.

    >>> round(exact_average_db(NIOSH), 3)
    9.966
    """
    return criterion.exchange_db / math.log10(2)


def lex_dba(*, level_dba: Floats, duration_h: Floats, reference_h: float = SHIFT_H) -> Floats:
    """Exposure level: a level held for a time, spread over 8 h (or over 40 h for a week).

    L + 10 lg(T/T0). Source: ISO 9612; Directive 2003/10/EC. Several: `power_sum_db`.

    >>> round(lex_dba(level_dba=88, duration_h=4), 1)
    85.0
    """
    return level_dba + 10 * log10(duration_h / reference_h)


def weekly_dba(days_dba: Iterable[Floats], *, days_count: float = 5) -> Floats:
    """Weekly exposure from the daily exposures of the week.

    10 lg(sum 10^(Li/10) / 5). Source: Directive 2003/10/EC, article 2: five days of 8 h.

    >>> round(weekly_dba([95, 70, 70, 70, 70]), 2)
    88.06
    """
    return power_sum_db(days_dba) - 10 * log10(days_count)


def points_count(lex_dba: Floats) -> Floats:
    """Daily exposure as points that add: 100 are the upper action value.

    100 x 10^((L - 85)/10). Source: UK exposure points.

    >>> round(points_count(95))
    1000
    """
    return 100 * exp10((lex_dba - EU_UPPER_ACTION_DBA) / 10)


def points_week_dba(points_count: Floats, *, days_count: float = 5) -> Floats:
    """Weekly exposure from the points of a week.

    85 + 10 lg(points / 500). Source: UK exposure points.

    >>> round(points_week_dba(2000))
    91
    """
    return EU_UPPER_ACTION_DBA + 10 * log10(points_count / (100 * days_count))


def sound_exposure_pa2_h(*, level_dba: Floats, duration_h: Floats) -> Floats:
    """Sound exposure: squared pressure times time, in Pa2h.

    p^2 T. Source: ITU-T H.870 (1.6 Pa2h a week for adults).

    >>> round(sound_exposure_pa2_h(level_dba=80, duration_h=40), 2)
    1.6
    """
    pressure_pa = spl_to_pa(level_dba)
    return pressure_pa * pressure_pa * duration_h


def one_ear_dba(*, both_ears_dba: Floats, summation_db: float = ONE_EAR_DB) -> Floats:
    """The level one ear gets when the other earphone is taken out and the loudness kept.

    L + 6. Source: common practice; listeners are reported to turn up by 3 to 10 dB, so the
    choice is a parameter.

    >>> one_ear_dba(both_ears_dba=90)
    96.0
    """
    return both_ears_dba + summation_db
