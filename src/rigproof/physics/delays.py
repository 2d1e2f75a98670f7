"""Delays of boxes, packets and air, and the speed of sound that the last of them hangs on."""

from collections.abc import Iterable

from rigproof.physics._arrays import Floats, added, exp, power

SAMPLE_BYTES = 3  # 24 bit
FAMILY_HZ: float = 48_000.0  # AES67 names its packet times by this rate
CLASS_A_MS: float = 2.0  # IEEE 802.1 AVB class A: the longest transit over 7 hops, as preset

ZERO_DEGC_K: float = 273.15
AIR_KPA: float = 101.325


def samples_to_ms(*, samples: Floats, rate_hz: Floats) -> Floats:
    """Time that so many samples last: of a buffer, of a delay line.

    N / fs. Derived: definition of the sample rate.

    >>> round(samples_to_ms(samples=256 * 2, rate_hz=48000), 1)
    10.7
    """
    return 1000 * samples / rate_hz


def ms_to_samples(*, delay_ms: Floats, rate_hz: Floats) -> Floats:
    """Samples that a time lasts, not rounded.

    t fs. Derived: definition of the sample rate.

    >>> ms_to_samples(delay_ms=2.5, rate_hz=48000)
    120.0
    """
    return delay_ms / 1000 * rate_hz


def packet_frames(*, packet_ms: float, rate_hz: float) -> int:
    """Frames in a network audio packet of a named packet time.

    The count is that of the 48 kHz family, also at 44.1 kHz, where the packet lasts a little
    longer. Source: AES67, 7.2.

    >>> packet_frames(packet_ms=0.125, rate_hz=44100)
    6
    """
    multiple = max(1, round(rate_hz / FAMILY_HZ))
    return round(packet_ms / 1000 * FAMILY_HZ) * multiple


def packet_payload_bytes(*, channels: int, frames: int, sample_bytes: int = SAMPLE_BYTES) -> int:
    """Audio in one network packet.

    channels x bytes x frames. Source: L24 payload format.

    >>> packet_payload_bytes(channels=8, frames=48)
    1152
    """
    return channels * sample_bytes * frames


def path_ms(blocks_ms: Iterable[Floats]) -> Floats:
    """Delay of a path: every block, buffer, hop and metre of air passed, added up.

    Derived: delays in series add.

    >>> round(path_ms([0.85, 0.8, 0.6, 0.06, 0.06]), 2)
    2.37
    """
    return added(list(blocks_ms))


def skew_ms(*, first_ms: Floats, second_ms: Floats) -> Floats:
    """How much later the second of two paths arrives.

    Derived: difference of two delays.

    >>> round(skew_ms(first_ms=2.31, second_ms=2.37), 2)
    0.06
    """
    return second_ms - first_ms


def air_ms(*, distance_m: Floats, speed_m_per_s: Floats) -> Floats:
    """Time that sound needs through air.

    d / c. Derived: definition of speed.

    >>> round(air_ms(distance_m=6, speed_m_per_s=343.2), 2)
    17.48
    """
    return 1000 * distance_m / speed_m_per_s


def air_m(*, delay_ms: Floats, speed_m_per_s: Floats) -> Floats:
    """Distance that sound goes in a time: what a delay sounds like on a stage.

    c t. Derived: definition of speed.

    >>> round(air_m(delay_ms=5, speed_m_per_s=343.2), 2)
    1.72
    """
    return delay_ms / 1000 * speed_m_per_s


def speed_of_sound_m_per_s(temperature_degc: Floats) -> Floats:
    """Speed of sound in air of a temperature. The one to use: a stage knows no more than that.

    343.2 sqrt(T / 293.15 K). Source: ISO 9613-1, A.5.

    >>> round(speed_of_sound_m_per_s(35), 2)
    351.87
    """
    return 343.2 * power((temperature_degc + ZERO_DEGC_K) / 293.15, 0.5)


def linear_speed_of_sound_m_per_s(temperature_degc: Floats) -> Floats:
    """Speed of sound by the rule that fits a head.

    331.3 + 0.606 t. Source: physics textbooks. 0.2 m/s above ISO 9613-1 at 20 and
    0.6 at 35 degrees C.

    >>> round(linear_speed_of_sound_m_per_s(20), 1)
    343.4
    """
    return 331.3 + 0.606 * temperature_degc


def humid_speed_of_sound_m_per_s(
    *,
    temperature_degc: Floats,
    humidity_percent: Floats,
    pressure_kpa: float = AIR_KPA,
    carbon_dioxide_percent: float = 0.04,
) -> Floats:
    """Speed of sound in moist air, for a room whose humidity was read.

    Source: Cramer, J. Acoust. Soc. Am. 93 (1993) 2510, equation 15 and table III, with the vapour
    pressure of Davis, Metrologia 29 (1992) 67. Meant for 0 to 30 degrees C.

    >>> round(humid_speed_of_sound_m_per_s(temperature_degc=23, humidity_percent=50), 2)
    345.87
    """
    t, p = temperature_degc, 1000 * pressure_kpa
    t_k = t + ZERO_DEGC_K
    t2 = t * t
    saturated = exp(1.2378847e-5 * t_k * t_k - 1.9121316e-2 * t_k + 33.93711047 - 6.3431645e3 / t_k)
    enhancement = 1.00062 + 3.14e-8 * p + 5.6e-7 * t2
    water = humidity_percent / 100 * enhancement * saturated / p
    carbon = carbon_dioxide_percent / 100
    return (
        331.5024 + 0.603055 * t - 0.000528 * t2
        + (51.471935 + 0.1495874 * t - 0.000782 * t2) * water
        + (-1.82e-7 + 3.73e-8 * t - 2.93e-10 * t2) * p
        + (-85.20931 - 0.228525 * t + 5.91e-5 * t2) * carbon
        - 2.835149 * water * water - 2.15e-13 * p * p + 29.179762 * carbon * carbon
        + 0.000486 * water * p * carbon
    )  # fmt: skip
