"""Levels of signals: volts and decibels, sums of several, and the way from average to peak.

Levels are of root mean square voltages unless a name says peak. A level of minus infinity is
silence and goes through every sum.
"""

import math
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from rigproof.physics._arrays import Floats, added, cos, exp10, log10, not_below_0

# 1 mW into 600 ohm. Some pages round it to 0.775 V, which is 0.004 dB away.
ZERO_DBU_V: float = math.sqrt(0.6)
SINE_CREST_DB: float = 10 * math.log10(2)

# Peak over root mean square of plain, uncompressed sources. Typical figures as printed by an
# audio-measurement reference guide (speech, music), two mastering and live-sound guides (drums,
# snare, strings, noise): they differ by some 3 dB among themselves and more between players.
CREST_DB: Mapping[str, float] = MappingProxyType(
    {
        "sine": SINE_CREST_DB,
        "strings": 8.0,
        "noise": 12.0,
        "speech": 12.0,
        "drums": 18.0,
        "music": 20.0,
    }
)


def voltage_ratio(level_db: Floats) -> Floats:
    """What so many decibels do to a voltage.

    10^(L/20). Derived: definition of the decibel.

    >>> voltage_ratio(20)
    10.0
    """
    return exp10(level_db / 20)


def ratio_db(voltage_ratio: Floats) -> Floats:
    """A ratio of two voltages in decibels.

    20 lg(ratio). Derived: definition of the decibel.

    >>> ratio_db(0.001)
    -60.0
    """
    return 20 * log10(voltage_ratio)


def dbu_to_v(level_dbu: Floats) -> Floats:
    """Volts of a level in dBu.

    sqrt(0.6) V x 10^(L/20). Source: level units; 0 dBu is the voltage of 1 mW in 600 ohm.

    >>> round(dbu_to_v(4), 3)
    1.228
    """
    return ZERO_DBU_V * exp10(level_dbu / 20)


def v_to_dbu(voltage_v: Floats) -> Floats:
    """Level in dBu of a voltage.

    20 lg(U / sqrt(0.6) V). Source: level units; 0 dBu is the voltage of 1 mW in 600 ohm.

    >>> round(v_to_dbu(6), 2)
    17.78
    """
    return 20 * log10(voltage_v / ZERO_DBU_V)


def dbv_to_v(level_dbv: Floats) -> Floats:
    """Volts of a level in dBV.

    1 V x 10^(L/20). Source: level units; 0 dBV is 1 V.

    >>> round(dbv_to_v(-10), 4)
    0.3162
    """
    return exp10(level_dbv / 20)


def v_to_dbv(voltage_v: Floats) -> Floats:
    """Level in dBV of a voltage.

    20 lg(U / 1 V). Source: level units; 0 dBV is 1 V.

    >>> round(v_to_dbv(6), 2)
    15.56
    """
    return 20 * log10(voltage_v)


def dbu_to_dbv(level_dbu: Floats) -> Floats:
    """The same voltage, read in dBV.

    L - 2.218. Derived: 0 dBu is sqrt(0.6) V.

    >>> round(dbu_to_dbv(4), 2)
    1.78
    """
    return level_dbu + 20 * math.log10(ZERO_DBU_V)


def dbv_to_dbu(level_dbv: Floats) -> Floats:
    """The same voltage, read in dBu.

    L + 2.218. Derived: 0 dBu is sqrt(0.6) V.

    >>> round(dbv_to_dbu(-10), 2)
    -7.78
    """
    return level_dbv - 20 * math.log10(ZERO_DBU_V)


def dbm_to_v(*, power_dbm: Floats, load_ohm: Floats) -> Floats:
    """Voltage across a load that takes a power given in dBm.

    sqrt(1 mW x 10^(P/10) x R). Source: dBm is a power, 0 dBm = 1 mW.

    >>> round(dbm_to_v(power_dbm=0, load_ohm=50), 3)
    0.224
    """
    return dbu_to_v(power_dbm + 10 * log10(load_ohm / 600))


def v_to_dbm(*, voltage_v: Floats, load_ohm: Floats) -> Floats:
    """Power in dBm that a voltage puts into a load.

    Derived: U^2/R against 1 mW. dBm equals dBu only in 600 ohm.

    >>> round(v_to_dbm(voltage_v=1, load_ohm=100), 2)
    10.0
    """
    return v_to_dbu(voltage_v) - 10 * log10(load_ohm / 600)


def power_sum_db(levels_db: Iterable[Floats]) -> Floats:
    """Level of several unrelated signals or noises together: their powers add.

    10 lg(sum 10^(Li/10)). Source: sum of uncorrelated sources, acoustics textbooks.
    Any one reference for all (dBu, dBV, dB SPL, dB(A)).

    >>> round(power_sum_db([75, 80]), 1)
    81.2
    """
    return 10 * log10(added([exp10(level_db / 10) for level_db in levels_db]))


def power_difference_db(*, total_db: Floats, part_db: Floats) -> Floats:
    """What is left of a level once an unrelated part of it is taken out.

    10 lg(10^(Lt/10) - 10^(Lp/10)). Source: correction for background noise, acoustics textbooks.
    Minus infinity when the part is as loud as the whole: nothing that could be told apart is left.

    >>> round(power_difference_db(total_db=60, part_db=53), 2)
    59.03
    """
    return 10 * log10(not_below_0(exp10(total_db / 10) - exp10(part_db / 10)))


def power_mean_db(*, levels_db: Iterable[Floats], durations_h: Iterable[float]) -> Floats:
    """The steady level with the energy of several levels, each held for its time.

    10 lg(sum t 10^(L/10) / sum t). Source: equivalent continuous level, ISO 1996-1 / ISO 9612.

    >>> round(power_mean_db(levels_db=[60, 80], durations_h=[1, 1]), 1)
    77.0
    """
    times_h = list(durations_h)
    parts = [
        time_h * exp10(level_db / 10) for level_db, time_h in zip(levels_db, times_h, strict=True)
    ]
    return 10 * log10(added(parts) / sum(times_h))


def coherent_sum_db(*, first_db: Floats, second_db: Floats, phase_deg: Floats) -> Floats:
    """Level of two copies of one signal that meet with a difference in phase.

    20 lg sqrt(E1^2 + E2^2 + 2 E1 E2 cos a). Source: sum of coherent sources, acoustics textbooks.

    >>> round(coherent_sum_db(first_db=0, second_db=0, phase_deg=90), 2)
    3.01
    """
    first_ratio, second_ratio = exp10(first_db / 20), exp10(second_db / 20)
    cross_ratio = 2 * first_ratio * second_ratio * cos(phase_deg * (math.pi / 180))
    # Rounding can leave a hair below 0 where two equal copies cancel.
    squared_ratio = first_ratio * first_ratio + second_ratio * second_ratio + cross_ratio
    return 10 * log10(not_below_0(squared_ratio))


def in_phase_sum_db(levels_db: Iterable[Floats]) -> Floats:
    """Level of several copies of one signal in step: their voltages add.

    20 lg(sum 10^(Li/20)). Derived: coherent sum at 0 degrees. The most that a mix can reach.

    >>> round(in_phase_sum_db([0, 0]), 2)
    6.02
    """
    return 20 * log10(added([exp10(level_db / 20) for level_db in levels_db]))


def crest_db(kind: str) -> float:
    """How far the peaks of a kind of source stand above its average.

    Source: typical figures printed by an audio-measurement reference guide and by live-sound and
    mastering guides (CREST_DB); between players they differ by several decibels.

    >>> crest_db("speech")
    12.0
    """
    return CREST_DB[kind]


def peak_v(*, level_dbu: Floats, crest_db: Floats) -> Floats:
    """The highest momentary voltage of a signal of known average level.

    Derived: definition of the crest factor.

    >>> round(peak_v(level_dbu=0, crest_db=SINE_CREST_DB), 4)
    1.0954
    """
    return dbu_to_v(level_dbu + crest_db)


def headroom_db(*, level_dbu: Floats, crest_db: Floats, clip_dbu: Floats) -> Floats:
    """Room between the peaks of a signal and the level at which a stage clips; below 0, it clips.

    clip + 3.01 - (level + crest). Derived: data sheets state the clip level as the average of a
    sine, whose own peaks stand 3.01 dB above it.

    >>> round(headroom_db(level_dbu=4, crest_db=18, clip_dbu=22), 2)
    3.01
    """
    return clip_dbu + SINE_CREST_DB - level_dbu - crest_db
