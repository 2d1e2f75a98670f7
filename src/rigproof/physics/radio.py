"""What arrives over the air, through people, and through the lead to an antenna.

Free space and plain sums in dB. A stage has metal, bodies and reflections: real levels swing by 20
dB and more within half a wavelength, which is what a margin and a second antenna are for. Which
frequencies and powers may be used is a matter of the law of the place.
"""

import math
from collections.abc import Iterable

from rigproof.physics._arrays import Floats, exp, exp10, log10

LIGHT_M_PER_S: float = 299_792_458.0
DIPOLE_DBI: float = 2.15
BOLTZMANN_J_PER_K: float = 1.380649e-23
NOISE_K: float = 290.0
CREEP_DB_PER_CM: float = 2.0  # on-body propagation at 2.4 GHz, as measured around a trunk
CONNECTOR_DB: float = 0.5  # cable loss appendix of a repeater guide, at 450 MHz
WIRE_M_MHZ: float = 143.0  # half a wave on wire, ends shortened


def wavelength_mm(frequency_mhz: Floats, *, speed_m_per_s: float = LIGHT_M_PER_S) -> Floats:
    """Wavelength in free space. A half is the usual least spacing of two antennas.

    c / f. Source: definition.

    >>> round(wavelength_mm(2437), 1)
    123.0
    """
    return speed_m_per_s / (1000 * frequency_mhz)


def quarter_wave_mm(frequency_mhz: Floats, *, speed_m_per_s: float = LIGHT_M_PER_S) -> Floats:
    """Length of a quarter-wave whip, before any shortening.

    c / 4f. Source: lambda = c / f.

    >>> round(quarter_wave_mm(863), 1)
    86.8
    """
    return wavelength_mm(frequency_mhz, speed_m_per_s=speed_m_per_s) / 4


def half_wave_wire_m(frequency_mhz: Floats) -> Floats:
    """Length of a half-wave dipole of wire, by the practical formula; half of it is a whip.

    143 / f. Source: antenna handbooks (468 / f in feet is the same within 0.3 %).

    >>> half_wave_wire_m(100)
    1.43
    """
    return WIRE_M_MHZ / frequency_mhz


def free_space_db(*, frequency_mhz: Floats, distance_m: Floats) -> Floats:
    """Loss between two isotropic antennas that see each other.

    20 lg(4 pi d f / c). Source: Friis; ITU-R P.525 (32.4 + 20 lg f + 20 lg d). From a few
    wavelengths on.

    >>> round(free_space_db(frequency_mhz=2437, distance_m=30), 1)
    69.7
    """
    wave_m = wavelength_mm(frequency_mhz) / 1000
    return 20 * log10(4 * math.pi * distance_m / wave_m)


def received_dbm(
    *,
    power_dbm: Floats,
    transmit_dbi: float,
    receive_dbi: float,
    path_db: Floats,
    losses_db: Iterable[float] = (),
) -> Floats:
    """What a receiver gets: power, both antennas, the path, and whatever else takes some.

    Source: Friis, as a sum in dB. `losses_db` are above 0: bodies, crowds, leads, walls.

    >>> round(received_dbm(power_dbm=20, transmit_dbi=2, receive_dbi=2, path_db=69.7,
    ...     losses_db=[20]), 1)
    -65.7
    """
    return power_dbm + transmit_dbi + receive_dbi - path_db - sum(losses_db)


def mw_to_dbm(power_mw: Floats) -> Floats:
    """Power against a milliwatt.

    10 lg P. Source: definition of dBm.

    >>> round(mw_to_dbm(50), 2)
    16.99
    """
    return 10 * log10(power_mw)


def dbm_to_mw(power_dbm: Floats) -> Floats:
    """Power in milliwatts.

    10^(L/10). Source: definition of dBm.

    >>> dbm_to_mw(20.0)
    100.0
    """
    return exp10(power_dbm / 10)


def erp_dbm(eirp_dbm: Floats) -> Floats:
    """Power against a dipole, as some laws count it, from power against an isotropic antenna.

    EIRP - 2.15. Source: gain of a half-wave dipole.

    >>> erp_dbm(20)
    17.85
    """
    return eirp_dbm - DIPOLE_DBI


def round_body_db(arc_cm: Floats, *, decay_db_per_cm: float = CREEP_DB_PER_CM) -> Floats:
    """Loss of a wave that creeps round the body from a pack to its other side.

    2 dB for each cm. Source: on-body propagation paper, 2.4 GHz. Less at lower frequencies.

    >>> round_body_db(10)
    20.0
    """
    return arc_cm * decay_db_per_cm


def fade_percent(margin_db: Floats) -> Floats:
    """Share of places, or of time while one moves, where reflections eat a margin up.

    1 - exp(-1/M), M = mean power over what is needed. Source: Rayleigh fading: many reflections
    and no direct way. One antenna; with two apart enough both must fade at once.

    >>> round(fade_percent(20), 3)
    0.995
    """
    return 100 * (1 - exp(-exp10(-margin_db / 10)))


def thermal_noise_dbm(bandwidth_hz: Floats, *, temperature_k: float = NOISE_K) -> Floats:
    """The noise that no receiver is below.

    10 lg(k T B / 1 mW). Source: kTB at 290 K; a receiver adds its noise figure.

    >>> round(thermal_noise_dbm(20e6), 1)
    -101.0
    """
    return 10 * log10(1000 * BOLTZMANN_J_PER_K * temperature_k * bandwidth_hz)


def range_ratio(margin_db: Floats) -> Floats:
    """How many times as far so much more margin reaches in free space.

    10^(dB/20). Source: inverse square law. Indoors it reaches less far.

    >>> round(range_ratio(6), 3)
    1.995
    """
    return exp10(margin_db / 20)


def per_100_ft_to_per_100_m_db(loss_db_per_100_ft: Floats) -> Floats:
    """A cable's loss by the foot as loss by the metre.

    Derived: 1 ft = 0.3048 m.

    >>> round(per_100_ft_to_per_100_m_db(4.97), 1)
    16.3
    """
    return loss_db_per_100_ft / 0.3048


def coax_db(
    *,
    length_m: Floats,
    loss_db_per_100_m: Floats,
    connectors: int = 0,
    connector_db: float = CONNECTOR_DB,
) -> Floats:
    """What a lead to an antenna takes, its connectors counted.

    Source: cable loss tables, which hold for one frequency: loss grows about with its root.

    >>> round(coax_db(length_m=8, loss_db_per_100_m=38.55, connectors=2), 2)
    4.08
    """
    return length_m / 100 * loss_db_per_100_m + connectors * connector_db


def power_left_percent(loss_db: Floats) -> Floats:
    """Share of the power that a loss leaves.

    10^(-dB/10). Source: definition of dB.

    >>> round(power_left_percent(3), 1)
    50.1
    """
    return 100 * exp10(-loss_db / 10)
