"""From an amplifier's volts to the sound at an eardrum, and the figures on the boxes between.

Sensitivity is stated in dB SPL at 1 mW or at 1 V; the impedance ties the two. Amplifiers are
voltage sources behind an output impedance, with a highest voltage and often a highest current.
"""

from rigproof.physics._arrays import Floats, exp10, least, log10, power
from rigproof.physics.levels import v_to_dbu
from rigproof.physics.loading import loading_loss_db

# EN 50332-2: limits of a player for the public and of an earphone sold apart from it.
PLAYER_LIMIT_MV: float = 150.0
EARPHONE_LIMIT_MV: float = 75.0  # gives 94 dB(A)
CHARACTERISTIC_SPL: float = 94.0  # IEC 60268-7

TESTED_OUTPUT_OHM: float = 120.0  # IEC 61938: rated source of headphones
DAMPING_RATIO: float = 8.0  # the one-eighth rule
LOWEST_MODULUS_PERCENT: float = 80.0  # IEC 60268-7, 8.2.1
NRR_C_TO_A_DB: float = 7.0  # US practice, when the noise was read with A


def sensitivity_spl_per_v(*, sensitivity_spl_per_mw: Floats, impedance_ohm: Floats) -> Floats:
    """Sensitivity at 1 V from that at 1 mW.

    S + 10 lg(1000/Z). Derived: 1 mW in Z is sqrt(Z/1000) volts.

    >>> round(sensitivity_spl_per_v(sensitivity_spl_per_mw=103.69, impedance_ohm=32), 2)
    118.64
    """
    return sensitivity_spl_per_mw + 10 * log10(1000 / impedance_ohm)


def sensitivity_spl_per_mw(*, sensitivity_spl_per_v: Floats, impedance_ohm: Floats) -> Floats:
    """Sensitivity at 1 mW from that at 1 V.

    S - 10 lg(1000/Z). Derived: 1 mW in Z is sqrt(Z/1000) volts.

    >>> round(sensitivity_spl_per_mw(sensitivity_spl_per_v=118.64, impedance_ohm=32), 2)
    103.69
    """
    return sensitivity_spl_per_v - 10 * log10(1000 / impedance_ohm)


def reading_spl_per_mw(*, level_spl: Floats, voltage_v: Floats, impedance_ohm: Floats) -> Floats:
    """Sensitivity at 1 mW from one reading of level and voltage.

    L - 10 lg(U^2/Z / 1 mW). Derived: power in the earphone's impedance.

    >>> round(reading_spl_per_mw(level_spl=90, voltage_v=0.037, impedance_ohm=32), 2)
    103.69
    """
    taken_mw = power_mw(voltage_v=voltage_v, impedance_ohm=impedance_ohm)
    return level_spl - 10 * log10(taken_mw)


def power_mw(*, voltage_v: Floats, impedance_ohm: Floats) -> Floats:
    """Power that a voltage across an earphone puts into it.

    U^2/Z. Derived: Ohm's law, with the impedance taken as a resistance.

    >>> power_mw(voltage_v=1, impedance_ohm=50)
    20.0
    """
    return 1000 * voltage_v * voltage_v / impedance_ohm


def across_v(*, power_mw: Floats, impedance_ohm: Floats) -> Floats:
    """Voltage across an earphone, or across the load of a data sheet, that takes this power.

    sqrt(P Z). Derived: Ohm's law, with the impedance taken as a resistance.

    >>> round(across_v(power_mw=1, impedance_ohm=42), 4)
    0.2049
    """
    return power(power_mw / 1000 * impedance_ohm, 0.5)


def emf_v(*, power_mw: Floats, impedance_ohm: Floats, output_ohm: Floats) -> Floats:
    """The open voltage of an amplifier that puts this power into an earphone.

    sqrt(P R) (1 + Rs/R). Source: IEC 60268-7, power from a source with impedance.

    >>> round(emf_v(power_mw=1, impedance_ohm=32, output_ohm=120), 2)
    0.85
    """
    across = across_v(power_mw=power_mw, impedance_ohm=impedance_ohm)
    return across * (1 + output_ohm / impedance_ohm)


def power_spl(*, sensitivity_spl_per_mw: Floats, power_mw: Floats) -> Floats:
    """Level at the ear from the power in the earphone.

    S + 10 lg(P / 1 mW). Source: definition of sensitivity.

    >>> round(power_spl(sensitivity_spl_per_mw=102, power_mw=20), 1)
    115.0
    """
    return sensitivity_spl_per_mw + 10 * log10(power_mw)


def power_for_level_mw(*, level_spl: Floats, sensitivity_spl_per_mw: Floats) -> Floats:
    """Power that an earphone needs for a level.

    10^((L - S)/10) mW. Source: definition of sensitivity.

    >>> round(power_for_level_mw(level_spl=105, sensitivity_spl_per_mw=97), 1)
    6.3
    """
    return exp10((level_spl - sensitivity_spl_per_mw) / 10)


def ear_spl(*, voltage_v: Floats, sensitivity_spl_per_v: Floats) -> Floats:
    """Level at the ear from the voltage across the earphone: of music, or of hiss (A in, A out).

    S + 20 lg(U / 1 V). Source: the law of IEC 60268-7's characteristic voltage.

    >>> round(ear_spl(voltage_v=20e-6, sensitivity_spl_per_v=125), 2)
    31.02
    """
    return sensitivity_spl_per_v + 20 * log10(voltage_v)


def voltage_for_level_v(*, level_spl: Floats, sensitivity_spl_per_v: Floats) -> Floats:
    """Voltage across the earphone that makes a level: a limiter's ceiling in volts.

    10^((L - S)/20). Derived: `ear_spl`, turned round.

    >>> round(voltage_for_level_v(level_spl=115, sensitivity_spl_per_v=107.02), 2)
    2.51
    """
    return exp10((level_spl - sensitivity_spl_per_v) / 20)


def driven_ear_spl(
    *, open_v: Floats, output_ohm: Floats, impedance_ohm: Floats, sensitivity_spl_per_v: Floats
) -> Floats:
    """Level at the ear from an amplifier's open voltage through its output impedance.

    Derived: voltage divider, then sensitivity.

    >>> round(driven_ear_spl(open_v=1, output_ohm=32, impedance_ohm=32,
    ...     sensitivity_spl_per_v=118), 2)
    111.98
    """
    lost_db = loading_loss_db(source_ohm=output_ohm, input_ohm=[impedance_ohm])
    return ear_spl(voltage_v=open_v, sensitivity_spl_per_v=sensitivity_spl_per_v) + lost_db


def limited_v(*, highest_v: Floats, highest_ma: Floats, impedance_ohm: Floats) -> Floats:
    """The voltage an amplifier reaches across an earphone: its rail or its current gives out first.

    min(Umax, Imax Z). Derived: Ohm's law. An output whose current is not stated: infinite.

    >>> limited_v(highest_v=10, highest_ma=30, impedance_ohm=16)
    0.48
    """
    return least(highest_v, highest_ma / 1000 * impedance_ohm)


def current_limited_dbu(*, highest_ma: Floats, output_ohm: Floats, impedance_ohm: Floats) -> Floats:
    """The level of an output, open, at which it gives all its current into an earphone.

    20 lg(Imax (Zout + Z) / 0.7746 V). Derived: Ohm's law. A data sheet's milliwatts into ohms make
    the current: sqrt(P/Z).

    >>> round(current_limited_dbu(highest_ma=56, output_ohm=3, impedance_ohm=32), 2)
    8.06
    """
    return v_to_dbu(highest_ma / 1000 * (output_ohm + impedance_ohm))


def loudest_spl(
    *,
    highest_v: Floats,
    highest_ma: Floats,
    output_ohm: Floats,
    impedance_ohm: Floats,
    sensitivity_spl_per_v: Floats,
) -> Floats:
    """The loudest an amplifier can drive an earphone, a sine just before it clips.

    Open voltage divided by the output impedance, or the current limit, whichever is less; then
    sensitivity. Derived: voltage divider and Ohm's law. Assumes that the earphone stands it.

    >>> round(loudest_spl(highest_v=1.79, highest_ma=1000, output_ohm=0, impedance_ohm=32,
    ...     sensitivity_spl_per_v=118.64), 1)
    123.7
    """
    across = highest_v / (1 + output_ohm / impedance_ohm)
    reached_v = limited_v(highest_v=across, highest_ma=highest_ma, impedance_ohm=impedance_ohm)
    return ear_spl(voltage_v=reached_v, sensitivity_spl_per_v=sensitivity_spl_per_v)


def response_error_db(*, lowest_ohm: Floats, highest_ohm: Floats, output_ohm: Floats) -> Floats:
    """How far an output impedance bends the response of an earphone whose impedance varies.

    Derived: difference of the losses at its highest and lowest impedance.

    >>> round(response_error_db(lowest_ohm=8, highest_ohm=40, output_ohm=1), 2)
    0.81
    """
    return loading_loss_db(source_ohm=output_ohm, input_ohm=[highest_ohm]) - loading_loss_db(
        source_ohm=output_ohm, input_ohm=[lowest_ohm]
    )


def highest_output_ohm(*, impedance_ohm: Floats, damping_ratio: float = DAMPING_RATIO) -> Floats:
    """The most output impedance that leaves an earphone's response alone by the usual rule.

    Z/8. Source: the one-eighth rule; common among headphone measurements, in no standard.

    >>> highest_output_ohm(impedance_ohm=32)
    4.0
    """
    return impedance_ohm / damping_ratio


def lowest_modulus_ohm(impedance_ohm: Floats) -> Floats:
    """The lowest impedance at any frequency that a rated impedance allows.

    0.8 Z. Source: IEC 60268-7, 8.2.1.

    >>> round(lowest_modulus_ohm(32), 1)
    25.6
    """
    return impedance_ohm * (LOWEST_MODULUS_PERCENT / 100)


def characteristic_v(
    *, voltage_v: Floats, level_spl: Floats, target_spl: float = CHARACTERISTIC_SPL
) -> Floats:
    """The voltage for 94 dB SPL, from a reading at another level.

    U 10^((94 - L)/20). Source: IEC 60268-7, 8.3.3.

    >>> round(characteristic_v(voltage_v=0.1, level_spl=100), 4)
    0.0501
    """
    return voltage_v * exp10((target_spl - level_spl) / 20)


def player_dba(*, voltage_mv: Floats, wideband_mv: Floats) -> Floats:
    """Level of an earphone whose wideband characteristic voltage is known, on programme noise.

    94 + 20 lg(U / WBCV). Source: EN 50332-2.

    >>> round(player_dba(voltage_mv=PLAYER_LIMIT_MV, wideband_mv=EARPHONE_LIMIT_MV), 2)
    100.02
    """
    return CHARACTERISTIC_SPL + 20 * log10(voltage_mv / wideband_mv)


def behind_seal_dba(*, outside_dba: Floats, isolation_db: Floats) -> Floats:
    """What of the stage gets past an earphone or plug.

    L - attenuation. Derived: definition of attenuation. Assumes the seal of the stated figure: a
    loose fit loses most of it, and bone conduction sets a floor near 40 dB below.

    >>> behind_seal_dba(outside_dba=104, isolation_db=26)
    78
    """
    return outside_dba - isolation_db


def monitor_dba(*, stage_dba: Floats, isolation_db: Floats, ratio_db: Floats) -> Floats:
    """The level a mix needs to stand clear of the stage that leaks in.

    stage - isolation + ratio. Derived: definition of attenuation.

    >>> monitor_dba(stage_dba=104, isolation_db=26, ratio_db=10)
    88
    """
    return behind_seal_dba(outside_dba=stage_dba, isolation_db=isolation_db) + ratio_db


def protected_dba(*, outside_dba: Floats, nrr_db: Floats) -> Floats:
    """Level behind a protector rated by NRR, when the noise was read with A.

    L - (NRR - 7). Source: US practice for A-weighted readings; the rating is for C-weighted ones.
    Laboratory fit: worn protection is commonly far less.

    >>> protected_dba(outside_dba=100, nrr_db=27)
    80.0
    """
    return outside_dba - (nrr_db - NRR_C_TO_A_DB)
