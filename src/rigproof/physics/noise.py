"""Noise of resistors and of preamplifiers, and how the figures of data sheets compare.

Unweighted in 20 kHz at 20 degrees C unless said otherwise. Weighted figures are in
`physics.weighting`, sums of noises in `physics.levels`.
"""

from rigproof.physics._arrays import Floats, log10, power
from rigproof.physics.levels import power_difference_db, power_sum_db, v_to_dbu, voltage_ratio

BOLTZMANN_J_PER_K: float = 1.380649e-23  # exact since 2019
ROOM_K: float = 293.15
AUDIO_HZ: float = 20_000.0  # as the handbooks take it; 19 980 Hz would be 0.004 dB less
EIN_OHM: float = 150.0  # the source that data sheets state equivalent input noise for


def thermal_noise_v(
    *, source_ohm: Floats, bandwidth_hz: float = AUDIO_HZ, temperature_k: float = ROOM_K
) -> Floats:
    """Noise voltage that a resistance makes by being warm.

    sqrt(4 k T R B). Source: Johnson-Nyquist noise. Only the resistive part of an impedance.

    >>> round(thermal_noise_v(source_ohm=150) * 1e6, 2)
    0.22
    """
    return power(4 * BOLTZMANN_J_PER_K * temperature_k * bandwidth_hz * source_ohm, 0.5)


def thermal_noise_dbu(
    *, source_ohm: Floats, bandwidth_hz: float = AUDIO_HZ, temperature_k: float = ROOM_K
) -> Floats:
    """Level of the noise that a resistance makes by being warm.

    Source: Johnson-Nyquist noise. No preamplifier with this source can be quieter.

    >>> round(thermal_noise_dbu(source_ohm=150), 2)
    -130.92
    """
    return v_to_dbu(
        thermal_noise_v(
            source_ohm=source_ohm, bandwidth_hz=bandwidth_hz, temperature_k=temperature_k
        )
    )


def bandwidth_change_db(*, from_hz: Floats, to_hz: Floats) -> Floats:
    """How much more noise a wider band lets in.

    10 lg(B2/B1). Derived: power of white noise grows with the band. Assumes white noise.

    >>> round(bandwidth_change_db(from_hz=20000, to_hz=22400), 2)
    0.49
    """
    return 10 * log10(to_hz / from_hz)


def ein_dbu(*, output_dbu: Floats, gain_db: Floats) -> Floats:
    """Equivalent input noise: output noise brought back to the input.

    output - gain. Source: definition, with the source resistor stated (150 ohm as a rule).

    >>> ein_dbu(output_dbu=-68, gain_db=60)
    -128
    """
    return output_dbu - gain_db


def output_noise_dbu(*, input_noise_dbu: Floats, gain_db: Floats) -> Floats:
    """Noise of a preamplifier at its output, from the noise at its input.

    Derived: equivalent input noise, turned round. At low gain the output stage's own noise, which
    data sheets state apart, adds to it.

    >>> output_noise_dbu(input_noise_dbu=-128, gain_db=40)
    -88
    """
    return input_noise_dbu + gain_db


def noise_figure_db(
    *,
    ein_dbu: Floats,
    source_ohm: Floats,
    bandwidth_hz: float = AUDIO_HZ,
    temperature_k: float = ROOM_K,
) -> Floats:
    """How much noisier a preamplifier is than the source it was measured with.

    EIN - thermal noise. Source: definition of the noise figure. Below 0 the stated EIN is not
    unweighted, not of this source, or not true.

    >>> round(noise_figure_db(ein_dbu=-128, source_ohm=150), 2)
    2.92
    """
    return ein_dbu - thermal_noise_dbu(
        source_ohm=source_ohm, bandwidth_hz=bandwidth_hz, temperature_k=temperature_k
    )


def amplifier_noise_dbu(
    *,
    ein_dbu: Floats,
    stated_ohm: Floats,
    bandwidth_hz: float = AUDIO_HZ,
    temperature_k: float = ROOM_K,
) -> Floats:
    """The part of an equivalent input noise that is the amplifier's and not the resistor's.

    Derived: power of the resistor's thermal noise taken out. Minus infinity where the stated
    figure is no higher than that noise: then it cannot be taken apart.

    >>> round(amplifier_noise_dbu(ein_dbu=-128, stated_ohm=150), 1)
    -131.1
    """
    thermal_dbu = thermal_noise_dbu(
        source_ohm=stated_ohm, bandwidth_hz=bandwidth_hz, temperature_k=temperature_k
    )
    return power_difference_db(total_db=ein_dbu, part_db=thermal_dbu)


def input_noise_dbu(
    *,
    amplifier_dbu: Floats,
    source_ohm: Floats,
    bandwidth_hz: float = AUDIO_HZ,
    temperature_k: float = ROOM_K,
) -> Floats:
    """Noise at a preamplifier's input with the source that is really plugged in.

    Amplifier and source add in power. Source: Johnson-Nyquist noise; sum of uncorrelated noises.
    Assumes that the amplifier's noise current is small, which holds for sources of a few hundred
    ohm. `source_ohm` is what the input sees: the source with everything else in parallel.

    >>> round(input_noise_dbu(amplifier_dbu=-131.1, source_ohm=200), 2)
    -127.32
    """
    thermal_dbu = thermal_noise_dbu(
        source_ohm=source_ohm, bandwidth_hz=bandwidth_hz, temperature_k=temperature_k
    )
    return power_sum_db([amplifier_dbu, thermal_dbu])


def noise_rise_db(*, first_dbu: Floats, second_dbu: Floats) -> Floats:
    """How much a second noise lifts the first.

    10 lg(1 + 10^((L2-L1)/10)). Source: sum of uncorrelated noises.

    >>> round(noise_rise_db(first_dbu=-120, second_dbu=-127), 2)
    0.79
    """
    return power_sum_db([first_dbu, second_dbu]) - first_dbu


def snr_db(*, signal_dbu: Floats, noise_dbu: Floats) -> Floats:
    """Distance between a signal and the noise under it.

    Derived: difference of two levels of one reference and weighting.

    >>> snr_db(signal_dbu=4, noise_dbu=-86)
    90
    """
    return signal_dbu - noise_dbu


def residual_noise_v(*, highest_v: Floats, dynamic_range_db: Floats) -> Floats:
    """Noise of an output from the dynamic range that its data sheet states, weighted as that is.

    Umax 10^(-DR/20). Derived: definition of dynamic range.

    >>> round(residual_noise_v(highest_v=2, dynamic_range_db=110) * 1e6, 2)
    6.32
    """
    return highest_v * voltage_ratio(-dynamic_range_db)
