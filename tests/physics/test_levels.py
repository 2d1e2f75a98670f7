import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import converters, levels
from tests.reference.rows import Calls, Row, assert_agrees, judged_by

levels_db = st.floats(-150, 150)


def _aligned_dbu(row: Row) -> float:
    return converters.full_scale_dbu(line_dbu=row["line"], alignment_dbfs=row["alignment"])


CALLS: Calls = {
    ("levels", "0 dBu in volts"): lambda row: levels.dbu_to_v(row["L"]),
    ("levels", "consumer reference *"): lambda row: levels.dbv_to_v(row["L"]),
    ("levels", "6 V RMS in dBV"): lambda row: levels.v_to_dbv(row["U"]),
    ("levels", "6 V RMS in dBu"): lambda row: levels.v_to_dbu(row["U"]),
    ("levels", "constant between dBu and dBV *"): lambda row: levels.dbv_to_dbu(
        levels.v_to_dbv(row["U"])
    ),
    ("levels", "0 dBm in *"): lambda row: levels.dbm_to_v(power_dbm=0, load_ohm=row["R"]),
    ("levels", "* full scale in dBu"): _aligned_dbu,
    ("levels", "* full scale in volts"): lambda row: levels.dbu_to_v(_aligned_dbu(row)),
    ("levels", "SMPTE alignment tone in volts"): lambda row: levels.dbu_to_v(
        converters.dbfs_to_dbu(level_dbfs=row["alignment"], full_scale_dbu=row["0 dBFS"])
    ),
    ("levels", "reading of a -20 dBFS tone *"): lambda row: converters.dbu_to_dbfs(
        level_dbu=converters.dbfs_to_dbu(level_dbfs=row["tone"], full_scale_dbu=row["out 0 dBFS"]),
        full_scale_dbu=row["in 0 dBFS"],
    ),
    ("levels", "digital level at which *"): lambda row: converters.clip_dbfs(
        output_full_scale_dbu=row["out 0 dBFS"], input_full_scale_dbu=row["in 0 dBFS"]
    ),
    ("levels", "+4 dBu source brought to -10 dBV*"): lambda row: (
        row["from"] - levels.dbv_to_dbu(row["to"])
    ),
    ("levels", "sum of *"): lambda row: levels.power_sum_db(row.all("L")),
    ("levels", "rise for * equal *"): lambda row: levels.power_sum_db([0.0] * int(row["n"])),
    ("levels", "two equal coherent *"): lambda row: levels.coherent_sum_db(
        first_db=row["L1"], second_db=row["L2"], phase_deg=row["phase"]
    ),
    ("levels", "background correction: *"): lambda row: levels.power_difference_db(
        total_db=row["total"], part_db=row["background"]
    ),
    ("levels", "three-stage noise chain *"): lambda row: levels.power_sum_db(row.listed()),
    ("levels", "theoretical SNR *"): lambda row: converters.quantising_snr_db(int(row["N"])),
    ("exposure", "energy mean of equal periods *"): lambda row: levels.power_mean_db(
        levels_db=row.all("L"), durations_h=[1, 1]
    ),
    ("measurement", "THD+N in dB"): lambda row: levels.ratio_db(row["residual"] / row["total"]),
    ("measurement", "THD+N of harmonics and noise *"): lambda row: levels.power_sum_db(
        [levels.ratio_db(row["THD"] / 100), row["noise"]]
    ),
    ("measurement", "crosstalk from a driven channel"): lambda row: levels.ratio_db(
        row["undriven reads"] / 1000 / row["driven"]
    ),
    ("measurement", "crosstalk corrected for *"): lambda row: (
        levels.power_difference_db(total_db=row["total in undriven"], part_db=row["idle noise"])
        - row["driven"]
    ),
}


@judged_by(CALLS)
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@pytest.mark.published(
    "audio-measurement reference guide: sine 3 dB, speech 12 dB (maker withheld)"
)
@pytest.mark.parametrize(("kind", "printed_db"), [("sine", 3), ("speech", 12)])
def test_crest(kind: str, printed_db: float) -> None:
    assert levels.crest_db(kind) == pytest.approx(printed_db, abs=0.5)


@pytest.mark.published("audio-measurement reference guide: two equal sines together have 6 dB")
def test_crest_of_two_sines_by_their_sums() -> None:
    peaks_db = levels.in_phase_sum_db([levels.SINE_CREST_DB, levels.SINE_CREST_DB])
    assert peaks_db - levels.power_sum_db([0, 0]) == pytest.approx(6, abs=0.05)


def test_a_sine_at_the_clip_level_has_no_headroom() -> None:
    assert levels.headroom_db(
        level_dbu=22, crest_db=levels.SINE_CREST_DB, clip_dbu=22
    ) == pytest.approx(0)
    assert levels.peak_v(level_dbu=22, crest_db=levels.SINE_CREST_DB) == pytest.approx(
        math.sqrt(2) * levels.dbu_to_v(22)
    )


def test_silence_is_a_level() -> None:
    assert levels.v_to_dbu(0) == -math.inf
    assert levels.dbu_to_v(-math.inf) == 0
    assert levels.power_sum_db([-math.inf, -80]) == pytest.approx(-80)
    assert levels.power_sum_db([-math.inf]) == -math.inf
    assert levels.power_difference_db(total_db=-math.inf, part_db=-80) == -math.inf
    assert levels.in_phase_sum_db([-math.inf, 3]) == pytest.approx(3)


@given(levels_db)
def test_there_and_back(level: float) -> None:
    assert levels.v_to_dbu(levels.dbu_to_v(level)) == pytest.approx(level, abs=1e-9)
    assert levels.v_to_dbv(levels.dbv_to_v(level)) == pytest.approx(level, abs=1e-9)
    assert levels.dbv_to_dbu(levels.dbu_to_dbv(level)) == pytest.approx(level, abs=1e-9)
    assert levels.ratio_db(levels.voltage_ratio(level)) == pytest.approx(level, abs=1e-9)
    volts = levels.dbm_to_v(power_dbm=level, load_ohm=32)
    assert levels.v_to_dbm(voltage_v=volts, load_ohm=32) == pytest.approx(level, abs=1e-9)


@given(st.lists(levels_db, min_size=1, max_size=20), st.randoms())
def test_power_sum_in_any_order_and_grouping(some: list[float], chance: object) -> None:
    whole = levels.power_sum_db(some)
    assert levels.power_sum_db(some[::-1]) == pytest.approx(whole, abs=1e-9)
    halves = [levels.power_sum_db(part) for part in (some[:1], some[1:]) if part]
    assert levels.power_sum_db(halves) == pytest.approx(whole, abs=1e-9)
    assert max(some) - 1e-9 <= whole <= max(some) + 10 * math.log10(len(some)) + 1e-9
    assert levels.in_phase_sum_db(some) >= whole - 1e-9


@given(levels_db, st.floats(0.1, 60))
def test_what_is_taken_out_of_a_sum_leaves_the_rest(part: float, above: float) -> None:
    total = levels.power_sum_db([part, part + above])
    left = levels.power_difference_db(total_db=total, part_db=part)
    assert left == pytest.approx(part + above, abs=1e-6)


@given(levels_db, levels_db, st.floats(0, 360))
def test_coherent_sum_lies_between_its_extremes(first: float, second: float, turn: float) -> None:
    found = levels.coherent_sum_db(first_db=first, second_db=second, phase_deg=turn)
    assert found <= levels.in_phase_sum_db([first, second]) + 1e-9
    a, b = levels.voltage_ratio(first), levels.voltage_ratio(second)
    # The squares cancel, so the smallest sums are known less well than the parts.
    assert levels.voltage_ratio(found) >= abs(a - b) - 1e-7 * max(a, b)
