import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import headphones, levels
from tests.reference.rows import Calls, Row, assert_agrees, judged_by


def _offset_db(row: Row) -> float:
    return headphones.sensitivity_spl_per_v(sensitivity_spl_per_mw=0, impedance_ohm=row["Z"])


def _impedance_of_equals_ohm(row: Row) -> float:
    """By halving: the impedance where both sensitivities read the same."""
    low, high = 1.0, 1e5
    while high - low > 1e-6:
        middle = (low + high) / 2
        above = headphones.sensitivity_spl_per_v(sensitivity_spl_per_mw=0, impedance_ohm=middle)
        low, high = (middle, high) if above > 0 else (low, middle)
    return low


def _current_limit_db(row: Row) -> float:
    high_v, low_v = (
        headphones.limited_v(
            highest_v=row["Umax"], highest_ma=row["Imax"], impedance_ohm=row[which]
        )
        for which in ("Z1", "Z2")
    )
    return levels.ratio_db(high_v / low_v)


def _chain_hiss(row: Row) -> float:
    upstream = levels.v_to_dbv(row["upstream at its input"] * 1e-6) + row["gain"]
    together = levels.power_sum_db([levels.v_to_dbv(row["amp"] * 1e-6), upstream])
    return headphones.ear_spl(voltage_v=levels.dbv_to_v(together), sensitivity_spl_per_v=row["S"])


CALLS: Calls = {
    ("headphones", "sensitivity in dB/mW from *"): lambda row: headphones.reading_spl_per_mw(
        level_spl=row["Lp"], voltage_v=row["U"], impedance_ohm=row["Z"]
    ),
    ("headphones", "dB/mW to dB/V *"): lambda row: headphones.sensitivity_spl_per_v(
        sensitivity_spl_per_mw=row["S"], impedance_ohm=row["Z"]
    ),
    ("headphones", "offset dB/V minus dB/mW *"): _offset_db,
    ("headphones", "impedance at which *"): _impedance_of_equals_ohm,
    ("headphones", "SPL at * mW, *"): lambda row: headphones.power_spl(
        sensitivity_spl_per_mw=row["S"], power_mw=row["P"]
    ),
    ("headphones", "power for *"): lambda row: headphones.power_for_level_mw(
        level_spl=row["Lp"], sensitivity_spl_per_mw=row["S"]
    ),
    ("headphones", "voltage across the phone *"): lambda row: headphones.across_v(
        power_mw=headphones.power_for_level_mw(
            level_spl=row["Lp"], sensitivity_spl_per_mw=row["S"]
        ),
        impedance_ohm=row["Z"],
    ),
    ("headphones", "level difference caused by a 30 mA *"): _current_limit_db,
    ("headphones", "largest source impedance *"): lambda row: headphones.highest_output_ohm(
        impedance_ohm=row["Z"], damping_ratio=row["ratio"]
    ),
    ("headphones", "response error of *"): lambda row: headphones.response_error_db(
        lowest_ohm=row["Zmin"], highest_ohm=row["Zmax"], output_ohm=row["Zout"]
    ),
    ("headphones", "source EMF for *"): lambda row: headphones.emf_v(
        power_mw=row["P"], impedance_ohm=row["R"], output_ohm=row["Rs"]
    ),
    ("headphones", "characteristic voltage *"): lambda row: headphones.characteristic_v(
        voltage_v=row["E"], level_spl=row["Lp"], target_spl=row["target"]
    ),
    ("headphones", "lowest impedance modulus *"): lambda row: headphones.lowest_modulus_ohm(
        row["Z_rated"]
    ),
    ("headphones", "hiss of a 20 uV(A) *"): lambda row: headphones.ear_spl(
        voltage_v=row["U_noise"] * 1e-6, sensitivity_spl_per_v=row["S"]
    ),
    ("headphones", "hiss of the last amplifier *"): _chain_hiss,
    ("headphones", "hiss reduction from *"): lambda row: headphones.behind_seal_dba(
        outside_dba=row["hiss"], isolation_db=row["pad"]
    ),
    ("headphones", "maximum SPL, 100 mW *"): lambda row: headphones.power_spl(
        sensitivity_spl_per_mw=row["S"], power_mw=row["P"]
    ),
    ("headphones", "gain to back off *"): lambda row: (
        headphones.ear_spl(voltage_v=levels.dbu_to_v(row["Umax"]), sensitivity_spl_per_v=row["S"])
        - 115
    ),
    ("headphones", "EN 50332-2 player limit"): lambda row: headphones.PLAYER_LIMIT_MV,
    ("headphones", "SPL of a limit headphone *"): lambda row: headphones.player_dba(
        voltage_mv=row["U"], wideband_mv=row["WBCV"]
    ),
    ("headphones", "level behind a 15 dB musician plug"): lambda row: headphones.behind_seal_dba(
        outside_dba=row["L"], isolation_db=row["attenuation"]
    ),
    ("headphones", "monitor level for *"): lambda row: headphones.monitor_dba(
        stage_dba=row["stage"], isolation_db=row["isolation"], ratio_db=row["ratio"]
    ),
    ("headphones", "residual of a 100 dB band *"): lambda row: headphones.behind_seal_dba(
        outside_dba=row["band level"], isolation_db=row["attenuation"]
    ),
    ("headphones", "protected level using the NRR *"): lambda row: headphones.protected_dba(
        outside_dba=row["L"], nrr_db=row["NRR"]
    ),
}


@judged_by(CALLS)
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@pytest.mark.published("headphone page: 50 mW into 107 dB/mW is about 123 dB SPL, as printed")
def test_loudest_of_a_common_amplifier() -> None:
    found = headphones.power_spl(sensitivity_spl_per_mw=107, power_mw=50)
    assert found == pytest.approx(123, abs=1.05)  # printed with "about"; exact is 123.99


positive = st.floats(0.01, 1000)


@given(positive, positive, st.floats(80, 130))
def test_both_ways_to_the_ear_agree(volts: float, ohm: float, per_mw: float) -> None:
    per_v = headphones.sensitivity_spl_per_v(sensitivity_spl_per_mw=per_mw, impedance_ohm=ohm)
    by_volts = headphones.ear_spl(voltage_v=volts, sensitivity_spl_per_v=per_v)
    taken_mw = headphones.power_mw(voltage_v=volts, impedance_ohm=ohm)
    by_power = headphones.power_spl(sensitivity_spl_per_mw=per_mw, power_mw=taken_mw)
    assert by_volts == pytest.approx(by_power)
    back = headphones.sensitivity_spl_per_mw(sensitivity_spl_per_v=per_v, impedance_ohm=ohm)
    assert back == pytest.approx(per_mw)
    assert headphones.across_v(power_mw=taken_mw, impedance_ohm=ohm) == pytest.approx(volts)
    needed = headphones.voltage_for_level_v(level_spl=by_volts, sensitivity_spl_per_v=per_v)
    assert needed == pytest.approx(volts)
    read = headphones.reading_spl_per_mw(level_spl=by_volts, voltage_v=volts, impedance_ohm=ohm)
    assert read == pytest.approx(per_mw)


@given(positive, positive, positive, positive)
def test_the_loudest_is_below_each_limit(
    volts: float, limit_ma: float, output_ohm: float, ohm: float
) -> None:
    found = headphones.loudest_spl(
        highest_v=volts,
        highest_ma=limit_ma,
        output_ohm=output_ohm,
        impedance_ohm=ohm,
        sensitivity_spl_per_v=120,
    )
    driven = headphones.driven_ear_spl(
        open_v=volts, output_ohm=output_ohm, impedance_ohm=ohm, sensitivity_spl_per_v=120
    )
    current = headphones.ear_spl(voltage_v=limit_ma / 1000 * ohm, sensitivity_spl_per_v=120)
    assert found == pytest.approx(min(driven, current))
    unloaded = headphones.ear_spl(voltage_v=volts, sensitivity_spl_per_v=120)
    assert driven <= unloaded


@given(positive, positive, positive)
def test_the_emf_gives_the_power_it_was_asked_for(mw: float, ohm: float, output: float) -> None:
    open_v = headphones.emf_v(power_mw=mw, impedance_ohm=ohm, output_ohm=output)
    across = open_v * ohm / (ohm + output)
    assert headphones.power_mw(voltage_v=across, impedance_ohm=ohm) == pytest.approx(mw)


def test_noisy_and_quiet_amplifiers_on_sensitive_earphones() -> None:
    """Common practice, no source: 30 uV were returned for hiss, a few uV were not."""
    per_v = headphones.sensitivity_spl_per_v(sensitivity_spl_per_mw=107, impedance_ohm=17)
    noisy, quiet = (
        headphones.ear_spl(voltage_v=microvolts * 1e-6, sensitivity_spl_per_v=per_v)
        for microvolts in (30, 3)
    )
    quiet_room_dba = 30  # common practice, no source
    assert quiet < quiet_room_dba - 10
    assert noisy > quiet_room_dba
