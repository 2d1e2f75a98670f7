import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import microphones
from tests.reference.rows import Calls, Row, assert_agrees, judged_by

CALLS: Calls = {
    ("levels", "microphone self noise as *"): lambda row: microphones.microphone_dbu(
        level_spl=row["self noise"], sensitivity_mv_per_pa=row["sensitivity"]
    ),
    ("levels", "microphone sensitivity level, *"): lambda row: microphones.sensitivity_dbv(
        row["M"]
    ),
    ("levels", "equivalent noise level of *"): lambda row: microphones.self_noise_spl(
        noise_v=row["U_N"] * 1e-6, sensitivity_mv_per_pa=row["M"]
    ),
    ("levels", "sound pressure level of 1 Pa"): lambda row: microphones.pa_to_spl(row["p"]),
    ("exposure", "EU peak value *"): lambda row: microphones.pa_to_spl(row["p_peak"]),
}


@judged_by(CALLS)
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@given(st.floats(-20, 160), st.floats(0.1, 100))
def test_there_and_back(level_spl: float, sensitivity: float) -> None:
    level_dbu = microphones.microphone_dbu(level_spl=level_spl, sensitivity_mv_per_pa=sensitivity)
    back = microphones.level_at_microphone_spl(
        level_dbu=level_dbu, sensitivity_mv_per_pa=sensitivity
    )
    assert back == pytest.approx(level_spl)
    assert microphones.pa_to_spl(microphones.spl_to_pa(level_spl)) == pytest.approx(level_spl)
    level_dbv = microphones.sensitivity_dbv(sensitivity)
    assert microphones.sensitivity_mv_per_pa(level_dbv) == pytest.approx(sensitivity)


def test_one_pascal_gives_the_sensitivity() -> None:
    volts = 10 ** (
        (microphones.microphone_dbu(
            level_spl=microphones.ONE_PASCAL_SPL, sensitivity_mv_per_pa=2.0
        ) - 2.2185) / 20
    )  # fmt: skip
    assert volts == pytest.approx(0.002, rel=1e-5)
