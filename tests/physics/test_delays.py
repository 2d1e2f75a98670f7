import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import comb, delays, latency_bounds
from tests.reference.rows import Calls, Row, assert_agrees, judged_by

MONITORS: dict[str, latency_bounds.Monitor] = {"IEM": "in-ear", "wedge": "wedge"}


def _bound(row: Row) -> float:
    monitor, grade = row.text("monitor and grade").split(" ")
    return latency_bounds.latency_bound_ms(
        instrument=row.text("instrument"),  # type: ignore[arg-type]
        monitor=MONITORS[monitor],
        grade=grade.lower(),  # type: ignore[arg-type]
    )


def _packet_frames(row: Row) -> float:
    scale = {"us": 1000, "ms": 1}[row.unit_of("packet time")]
    return delays.packet_frames(packet_ms=row["packet time"] / scale, rate_hz=row["fs"])


def _samples_ms(row: Row, name: str, count: float = 1) -> float:
    return delays.samples_to_ms(samples=count * row[name], rate_hz=row["fs"])


def _rack_ms(row: Row) -> float:
    bus = row["digital bus"]
    return delays.path_ms([row["ADC"], row["DSP"], row["DAC"], bus, bus])


def _skew(row: Row) -> float:
    nearer = delays.path_ms([1.0])
    return delays.skew_ms(first_ms=nearer, second_ms=delays.path_ms([nearer, row["digital bus"]]))


def _air(row: Row) -> float:
    return delays.air_ms(distance_m=row["d"], speed_m_per_s=row["c"])


def _sample_notch(row: Row) -> float:
    late = delays.samples_to_ms(samples=row["M"], rate_hz=row["fs"])
    return comb.notch_hz(delay_ms=late, number=int(row["n"]))


CALLS: Calls = {
    ("latency", "Lester-Boley threshold, *"): _bound,
    ("latency", "longest acceptable latency *"): lambda row: latency_bounds.LONGEST_ACCEPTED_MS,
    ("latency", "shortest latency of the test apparatus"): lambda row: (
        latency_bounds.SHORTEST_TESTED_MS
    ),
    ("latency", "dry in-ear latency *"): lambda row: latency_bounds.DRY_VOICE_MS,
    ("latency", "in-ear latency ceiling *"): lambda row: latency_bounds.SINGER_CEILING_MS,
    ("latency", "AES67 frames per packet, *"): _packet_frames,
    ("latency", "AES67 real packet time *"): lambda row: _samples_ms(row, "frames"),
    ("latency", "payload of an 8-channel *"): lambda row: delays.packet_payload_bytes(
        channels=int(row["channels"]), frames=int(row["frames"]), sample_bytes=int(row["bytes"])
    ),
    ("latency", "AVB class A maximum transit time"): lambda row: delays.CLASS_A_MS,
    ("latency", "presentation offset rounded *"): lambda row: 1000 * _samples_ms(row, "samples"),
    ("latency", "sample period at 48 kHz"): lambda row: (
        1000 * delays.samples_to_ms(samples=1, rate_hz=row["fs"])
    ),
    ("latency", "two buffers of *"): lambda row: _samples_ms(row, "N", row["buffers"]),
    ("latency", "one buffer of *"): lambda row: _samples_ms(row, "N"),
    ("latency", "rack mixer with *"): _rack_ms,
    ("latency", "skew between two outputs *"): _skew,
    ("latency", "delay of 1 m of air"): _air,
    ("latency", "drummer to front microphone *"): _air,
    ("latency", "speed of sound at * (ISO 9613-1)"): lambda row: delays.speed_of_sound_m_per_s(
        row["t"]
    ),
    ("latency", "speed of sound at *, linear rule"): lambda row: (
        delays.linear_speed_of_sound_m_per_s(row["t"])
    ),
    ("latency", "speed of sound in humid air, *"): lambda row: delays.humid_speed_of_sound_m_per_s(
        temperature_degc=row["t"], humidity_percent=row["RH"], pressure_kpa=row["p"]
    ),
    ("latency", "first notch for *"): lambda row: comb.notch_hz(delay_ms=row["tau"]),
    ("latency", "notch ? for 0.5 ms"): lambda row: comb.notch_hz(
        delay_ms=row["tau"], number=int(row["n"])
    ),
    ("latency", "notches of a 6-sample delay, *"): _sample_notch,
    ("latency", "comb peak with *"): lambda row: comb.comb_peak_db(row["copy level"]),
    ("latency", "comb notch with *"): lambda row: comb.comb_notch_db(row["copy level"]),
    ("latency", "comb response at 250 Hz *"): lambda row: comb.comb_db(
        frequency_hz=row["f"], delay_ms=row["tau"], copy_db=20 * math.log10(row["g"])
    ),
    ("latency", "delay that puts the first notch *"): lambda row: comb.notch_delay_ms(row["f"]),
    ("measurement", "delay of 20 samples *"): lambda row: _samples_ms(row, "lag"),
    ("measurement", "group delay of *"): lambda row: delays.ms_to_samples(
        delay_ms=row["t0"], rate_hz=row["fs"]
    ),
    ("measurement", "lag window needed *"): lambda row: delays.ms_to_samples(
        delay_ms=row["t"], rate_hz=row["fs"]
    ),
}


@judged_by(CALLS)
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@pytest.mark.published(
    "Wallach, Newman, Rosenzweig 1949, as an encyclopedia prints it: 5 and 40 ms"
)
def test_fusion() -> None:
    assert latency_bounds.echo_ms(sharp=True) == 5
    assert latency_bounds.echo_ms(sharp=False) == 40


def test_fair_is_never_stricter_than_good() -> None:
    for instrument in ("saxophone", "voice", "guitar", "drums", "bass", "keyboard"):
        for monitor in ("in-ear", "wedge"):
            good, fair = (
                latency_bounds.latency_bound_ms(
                    instrument=instrument,
                    monitor=monitor,
                    grade=grade,
                )
                for grade in ("good", "fair")
            )
            assert good < fair <= latency_bounds.LONGEST_ACCEPTED_MS + 1  # table 43, abstract 42


@given(st.floats(0.05, 50), st.floats(-40, -0.1))
def test_comb_between_peak_and_notch(delay_ms: float, copy_db: float) -> None:
    f_hz = np.linspace(0, 4000 / delay_ms, 801)  # four teeth, a step on each notch
    found = comb.comb_db(
        frequency_hz=f_hz, delay_ms=delay_ms + 0 * f_hz, copy_db=copy_db + 0 * f_hz
    )
    assert found.max() == pytest.approx(comb.comb_peak_db(copy_db), abs=1e-6)
    assert found.min() == pytest.approx(comb.comb_notch_db(copy_db), abs=1e-6)
    first = f_hz[np.argmin(found[: 801 // 4])]
    assert first == pytest.approx(comb.notch_hz(delay_ms=delay_ms))
    assert comb.notch_delay_ms(comb.notch_hz(delay_ms=delay_ms)) == pytest.approx(delay_ms)


def test_comb_against_a_spectrum() -> None:
    """An impulse with its copy 48 samples later, 6 dB down; and the same turned upside down."""
    rate_hz, late, copy_db = 48_000, 48, -6.0
    impulse = np.zeros(rate_hz)
    impulse[0], impulse[late] = 1, 10 ** (copy_db / 20)
    delay_ms = delays.samples_to_ms(samples=late, rate_hz=rate_hz)
    bins = np.arange(20.0, 2000.0)
    spectrum = 20 * np.log10(np.abs(np.fft.rfft(impulse))[20:2000])
    found = comb.comb_db(
        frequency_hz=bins, delay_ms=delay_ms + 0 * bins, copy_db=copy_db + 0 * bins
    )
    assert found == pytest.approx(spectrum, abs=1e-9)
    impulse[late] *= -1
    turned = np.abs(np.fft.rfft(impulse))
    assert 100 + np.argmin(turned[100:1500]) == comb.inverted_notch_hz(delay_ms=delay_ms)


def test_equal_copies_cancel_without_end() -> None:
    assert comb.comb_notch_db(0.0) == -math.inf
    assert comb.comb_db(frequency_hz=500, delay_ms=1, copy_db=0) < -150
    assert comb.comb_db(frequency_hz=500, delay_ms=1, copy_db=-math.inf) == 0


@given(st.floats(-20, 35))
def test_the_rules_for_the_speed_of_sound_agree(degc: float) -> None:
    exact = delays.speed_of_sound_m_per_s(degc)
    assert delays.linear_speed_of_sound_m_per_s(degc) == pytest.approx(exact, abs=0.7)
    if 0 <= degc <= 30:
        moist = delays.humid_speed_of_sound_m_per_s(temperature_degc=degc, humidity_percent=0)
        assert moist == pytest.approx(exact, abs=0.25)


@pytest.mark.published("Cramer 1993 (JASA 93, 2510) with Davis vapour pressure, as printed")
@pytest.mark.parametrize(("degc", "printed_m_per_s"), [(10, 337.78), (23, 345.86), (30, 350.31)])
def test_moist_air_to_its_last_digit(degc: float, printed_m_per_s: float) -> None:
    """The table's tolerance of 0.03 would hide a lost small term."""
    found = delays.humid_speed_of_sound_m_per_s(temperature_degc=degc, humidity_percent=50)
    assert found == pytest.approx(printed_m_per_s, abs=0.01)


@given(st.floats(0, 200), st.floats(8000, 192_000))
def test_times_there_and_back(delay_ms: float, rate_hz: float) -> None:
    samples = delays.ms_to_samples(delay_ms=delay_ms, rate_hz=rate_hz)
    assert delays.samples_to_ms(samples=samples, rate_hz=rate_hz) == pytest.approx(delay_ms)
    metres = delays.air_m(delay_ms=delay_ms, speed_m_per_s=343.2)
    assert delays.air_ms(distance_m=metres, speed_m_per_s=343.2) == pytest.approx(delay_ms)
