import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal

from rigproof.physics import noise, weighting
from rigproof.physics.levels import dbu_to_v, v_to_dbu, v_to_dbv
from tests.reference.rows import Calls, Row, assert_agrees, judged_by


def _thermal_v(row: Row) -> float:
    return noise.thermal_noise_v(source_ohm=row["R"], bandwidth_hz=row["B"], temperature_k=row["T"])


def _thermal_dbu(row: Row) -> float:
    return noise.thermal_noise_dbu(
        source_ohm=row["R"], bandwidth_hz=row["B"], temperature_k=row["T"]
    )


def _ein_uv(row: Row) -> float:
    found_dbu = noise.ein_dbu(output_dbu=v_to_dbu(row["output noise"] * 1e-6), gain_db=row["gain"])
    return dbu_to_v(found_dbu) * 1e6


CALLS: Calls = {
    ("levels", "thermal noise of *, microvolts"): lambda row: _thermal_v(row) * 1e6,
    ("levels", "thermal noise of 150 ohm, dBV"): lambda row: v_to_dbv(_thermal_v(row)),
    ("levels", "thermal noise of *, dBu*"): _thermal_dbu,
    ("levels", "thermal noise of 20 kohm *"): lambda row: _thermal_v(row) * 1e9,
    ("levels", "thermal noise of 1 kohm *"): lambda row: _thermal_v(row) * 1e9,
    ("levels", "bandwidth effect on thermal noise"): lambda row: noise.bandwidth_change_db(
        from_hz=row["B1"], to_hz=row["B2"]
    ),
    ("levels", "EIN from output noise"): lambda row: noise.ein_dbu(
        output_dbu=row["output noise"], gain_db=row["gain"]
    ),
    ("levels", "EIN in volts, *"): _ein_uv,
    ("levels", "noise figure of a preamp"): lambda row: noise.noise_figure_db(
        ein_dbu=row["EIN"], source_ohm=150, bandwidth_hz=row["B"], temperature_k=row["T"]
    ),
    ("levels", "EIN on a 200 ohm source *"): lambda row: noise.input_noise_dbu(
        amplifier_dbu=row["amplifier"],
        source_ohm=row["R"],
        bandwidth_hz=row["B"],
        temperature_k=row["T"],
    ),
    ("levels", "noise rise when a preamp *"): lambda row: noise.noise_rise_db(
        first_dbu=row["microphone"], second_dbu=row["preamp EIN"]
    ),
    ("levels", "A-weighting at *"): lambda row: weighting.a_weighting_db(row["f_exact"]),
    ("levels", "C-weighting at *"): lambda row: weighting.c_weighting_db(row["f_exact"]),
    ("levels", "A-weighting of flat white noise *"): lambda row: weighting.a_weighted_noise_db(
        spectrum="white", lowest_hz=row["band"], highest_hz=20_000
    ),
    ("levels", "A-weighting of pink noise *"): lambda row: weighting.a_weighted_noise_db(
        spectrum="pink", lowest_hz=row["band"], highest_hz=20_000
    ),
    ("headphones", "noise of an output specified as *"): lambda row: (
        1e6 * noise.residual_noise_v(highest_v=row["Umax"], dynamic_range_db=row["dynamic range"])
    ),
}


@judged_by(CALLS)
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


def test_a_curve_against_its_filter() -> None:
    """The A curve as a filter: four zeros at 0 Hz, poles twice, once, once and twice."""
    f_hz = np.logspace(1, 4.3, 200)
    s = 2j * np.pi * f_hz
    w = [2 * np.pi * pole for pole in (20.598997, 107.65265, 737.86223, 12194.217)]
    denominator = np.poly([-w[0], -w[0], -w[1], -w[2], -w[3], -w[3]])
    gain = np.abs(s**4 / np.polyval(denominator, s))
    at_1k = 2j * np.pi * 1000
    gain_1k = np.abs(at_1k**4 / np.polyval(denominator, at_1k))
    assert weighting.a_weighting_db(f_hz) == pytest.approx(20 * np.log10(gain / gain_1k), abs=1e-9)


def test_a_curve_against_a_filter_of_a_library() -> None:
    """The same zeros and poles (IEC 61672-1, annex E) given to SciPy, which knows filters only."""
    f_hz = np.append(np.logspace(1, 4.3, 200), 1000.0)
    w = [-2 * np.pi * pole for pole in (20.598997, 107.65265, 737.86223, 12194.217)]
    poles = [w[0], w[0], w[1], w[2], w[3], w[3]]
    _, response = signal.freqs_zpk([0.0] * 4, poles, 1.0, 2 * np.pi * f_hz)
    level_db = 20 * np.log10(np.abs(response))
    curve_db = weighting.a_weighting_db(f_hz)
    assert curve_db == pytest.approx(level_db - level_db[-1], abs=1e-9)


@pytest.mark.parametrize(("low_hz", "high_hz"), [(20, 20_000), (22, 22_000), (400, 10_000)])
def test_weighted_noise_against_plain_slices(low_hz: float, high_hz: float) -> None:
    f_hz = np.arange(low_hz, high_hz, 0.5) + 0.25
    passed = 10 ** (weighting.a_weighting_db(f_hz) / 10)
    white_db = 10 * np.log10(np.mean(passed))
    pink_db = 10 * np.log10(np.sum(passed / f_hz) / np.sum(1 / f_hz))
    band = {"lowest_hz": low_hz, "highest_hz": high_hz}
    assert weighting.a_weighted_noise_db(**band) == pytest.approx(white_db, abs=0.001)
    pink = weighting.a_weighted_noise_db(spectrum="pink", **band)
    assert pink == pytest.approx(pink_db, abs=0.001)


@given(st.floats(-140, -20))
def test_flat_and_weighted_there_and_back(level: float) -> None:
    weighted = weighting.flat_to_a_dbu(level)
    assert weighted < level
    assert weighting.a_to_flat_dbu(weighted) == pytest.approx(level)


@given(st.floats(-130, -100), st.floats(1, 600), st.floats(1, 600))
def test_ein_moves_to_another_source_and_back(ein: float, stated: float, other: float) -> None:
    amplifier = noise.amplifier_noise_dbu(ein_dbu=ein, stated_ohm=stated)
    same = noise.input_noise_dbu(amplifier_dbu=amplifier, source_ohm=stated)
    if ein > noise.thermal_noise_dbu(source_ohm=stated) + 0.01:
        assert same == pytest.approx(ein, abs=1e-6)
    moved = noise.input_noise_dbu(amplifier_dbu=amplifier, source_ohm=other)
    assert (moved >= same - 1e-9) == (other >= stated) or moved == pytest.approx(same, abs=1e-9)


def test_an_ein_below_its_own_resistor_cannot_be_taken_apart() -> None:
    assert noise.amplifier_noise_dbu(ein_dbu=-133, stated_ohm=150) == -math.inf
    assert noise.noise_figure_db(ein_dbu=-133, source_ohm=150) < 0


def test_signal_over_noise() -> None:
    floor = noise.output_noise_dbu(input_noise_dbu=-128, gain_db=40)
    assert noise.snr_db(signal_dbu=4, noise_dbu=floor) == 92
