"""From sound to volts and back: what a microphone's data sheet says about its output."""

import math

from rigproof.physics._arrays import Floats, exp10, log10
from rigproof.physics.levels import dbv_to_dbu, dbv_to_v

REFERENCE_PA: float = 20e-6  # ISO 1683
ONE_PASCAL_SPL: float = 20 * math.log10(1 / REFERENCE_PA)  # 93.98; the trade says 94


def pa_to_spl(pressure_pa: Floats) -> Floats:
    """Sound pressure level of a pressure. Root mean square in, level out; peak in, peak out.

    20 lg(p / 20 uPa). Source: ISO 1683.

    >>> round(pa_to_spl(1), 2)
    93.98
    """
    return 20 * log10(pressure_pa / REFERENCE_PA)


def spl_to_pa(level_spl: Floats) -> Floats:
    """Pressure of a sound pressure level.

    20 uPa x 10^(L/20). Source: ISO 1683.

    >>> round(spl_to_pa(94), 3)
    1.002
    """
    return REFERENCE_PA * exp10(level_spl / 20)


def sensitivity_dbv(sensitivity_mv_per_pa: Floats) -> Floats:
    """Sensitivity level of a microphone, against 1 V/Pa.

    20 lg(M / 1 V/Pa). Source: IEC 60268-4, clause 11.

    >>> round(sensitivity_dbv(12.5), 1)
    -38.1
    """
    return 20 * log10(sensitivity_mv_per_pa / 1000)


def sensitivity_mv_per_pa(sensitivity_dbv: Floats) -> Floats:
    """Sensitivity of a microphone from its level against 1 V/Pa.

    Source: IEC 60268-4, clause 11, turned round.

    >>> round(sensitivity_mv_per_pa(-26), 1)
    50.1
    """
    return 1000 * dbv_to_v(sensitivity_dbv)


def microphone_dbu(*, level_spl: Floats, sensitivity_mv_per_pa: Floats) -> Floats:
    """Open-circuit level of a microphone in a sound: of a voice, of its self noise, of its limit.

    L - 93.98 + 20 lg M + 2.218. Source: IEC 60268-4 (sensitivity is stated open circuit).
    Assumes the sound at the place of the capsule; the load takes its part in `physics.loading`.

    >>> round(microphone_dbu(level_spl=14, sensitivity_mv_per_pa=20))
    -112
    """
    return level_spl - ONE_PASCAL_SPL + dbv_to_dbu(sensitivity_dbv(sensitivity_mv_per_pa))


def level_at_microphone_spl(*, level_dbu: Floats, sensitivity_mv_per_pa: Floats) -> Floats:
    """The sound that makes a microphone give so much: which sound makes the input behind it clip.

    Derived: `microphone_dbu`, turned round.

    >>> round(level_at_microphone_spl(level_dbu=-8, sensitivity_mv_per_pa=20), 1)
    117.7
    """
    return ONE_PASCAL_SPL + level_dbu - dbv_to_dbu(sensitivity_dbv(sensitivity_mv_per_pa))


def self_noise_spl(*, noise_v: Floats, sensitivity_mv_per_pa: Floats) -> Floats:
    """The sound that a microphone's own noise stands for, weighted as the voltage is.

    20 lg((U_N / M) / 20 uPa). Source: IEC 60268-4, clause 17.

    >>> round(self_noise_spl(noise_v=1.25e-6, sensitivity_mv_per_pa=12.5), 2)
    13.98
    """
    return pa_to_spl(noise_v / (sensitivity_mv_per_pa / 1000))
