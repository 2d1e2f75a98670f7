import math
from itertools import accumulate, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import conductors, mains, ratings
from tests.reference.rows import Calls, Row, assert_agrees, judged_by


def _mil_drop_v(row: Row) -> float:
    ohm_per_km = conductors.cmil_ohm_per_km(row["CM"], resistivity_ohm_cmil_per_ft=row["K"])
    return mains.drop_v(
        current_a=row["I"], length_m=row["L"] * conductors.FOOT_M, ohm_per_km=ohm_per_km
    )


def _mil_drop_percent(row: Row) -> float:
    return mains.drop_percent(drop_v=_mil_drop_v(row), supply_v=row["V"])


def _three_phase_v(row: Row) -> float:
    return mains.three_phase_drop_v(
        current_a=row["I"],
        length_m=row["L"] * 1000,
        ohm_per_km=row["R"],
        reactance_ohm_per_km=row["X"],
        power_factor_ratio=row["cosphi"],
    )


def _lead_v(row: Row) -> float:
    return mains.drop_v(current_a=row["I"], length_m=row["L"], ohm_per_km=row["R"])


def _current_a(row: Row) -> float:
    return mains.current_a(power_w=row["P"], voltage_v=row["V"], power_factor_ratio=row["pf"])


def _strip_w(row: Row) -> float:
    inlet_a = float(row.text("inlet").split(" ")[1])
    return mains.weakest_w(voltage_v=row["V"], ratings_a=[inlet_a, row["outlet circuit"]])


CALLS: Calls = {
    ("power/voltdrop", "120 V, 20 A, 100 ft one way, 12 AWG copper"): _mil_drop_v,
    ("power/voltdrop", "120 V, 20 A, 100 ft, 10 AWG"): _mil_drop_v,
    ("power/voltdrop", "120 V, 20 A, 100 ft, * AWG, percent *"): _mil_drop_percent,
    ("power/voltdrop", "230 V limit for sockets (5 %)"): lambda row: mains.allowed_drop_v(
        row["V"], allowed_percent=row["limit"]
    ),
    ("power/voltdrop", "mV/A/m for *"): lambda row: mains.drop_mv_per_a_m(
        row["S"], resistivity_ohm_mm2_per_m=row["rho"]
    ),
    ("power/voltdrop", "long-run allowance *"): lambda row: mains.long_run_percent(
        row["L"], base_percent=row["base limit"]
    ),
    ("power/voltdrop", "three-phase with reactance, 100 A, 150 m"): _three_phase_v,
    ("power/voltdrop", "three-phase with reactance, * percent of 400 V"): lambda row: (
        mains.drop_percent(drop_v=_three_phase_v(row), supply_v=row["V"])
    ),
    ("power/voltdrop", "230 V extension lead *"): _lead_v,
    ("power/continuous", "16 A continuous needs a 20 A circuit"): lambda row: mains.circuit_a(
        continuous_a=row["I"], other_a=0
    ),
    ("power/continuous", "15 A 120 V circuit, continuous power"): lambda row: mains.continuous_w(
        voltage_v=row["V"], breaker_a=row["breaker"], share_ratio=row["factor"]
    ),
    ("power/continuous", "15 A 120 V circuit, full power"): lambda row: mains.power_w(
        voltage_v=row["V"], current_a=row["breaker"]
    ),
    ("power/continuous", "mixed load: *"): lambda row: mains.circuit_a(
        continuous_a=row["I_cont"], other_a=row["I_non"]
    ),
    ("power/region", "230 V 16 A outlet full power"): lambda row: mains.power_w(
        voltage_v=row["V"], current_a=row["I"]
    ),
    ("power/region", "UK rule: 700 W load *"): _current_a,
    ("power/region", "supply band for 230 V *, upper"): lambda row: mains.supply_band_v(
        row["V"], tolerance_percent=row["tolerance"]
    )[1],
    ("power/region", "power strip fed by a C14 inlet *"): _strip_w,
    ("power/pf", "power factor from kW and kVA"): lambda row: mains.power_factor_ratio(
        power_w=1000 * row["P"], apparent_va=1000 * row["S"]
    ),
    ("power/pf", "current of *"): _current_a,
}


@judged_by(CALLS, "systems.csv")
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@pytest.mark.published("IEC 60228 resistance with Ohm law: 50 m of 2.5 mm2, 10 A")
def test_an_extension_lead_from_its_table() -> None:
    found = mains.drop_v(current_a=10, length_m=50, ohm_per_km=conductors.largest_ohm_per_km(2.5))
    assert found == pytest.approx(7.98, abs=0.005)


@pytest.mark.published("NEC 80 % rule, and CEE 7 rating at 230 V")
def test_defaults_are_the_rules() -> None:
    assert mains.continuous_w(voltage_v=120, breaker_a=15) == 1440
    assert mains.circuit_a(continuous_a=16, other_a=0) == 20
    assert mains.power_w(voltage_v=230, current_a=ratings.plug_a("cee-7-7")) == 3680
    assert mains.continuous_w(voltage_v=1, breaker_a=1) == pytest.approx(1 / mains.CONTINUOUS_RATIO)
    assert mains.allowed_drop_v(120, allowed_percent=mains.BRANCH_DROP_PERCENT) == pytest.approx(
        3.6
    )


loops = st.lists(st.tuples(st.floats(0.01, 3), st.floats(0, 10)), min_size=1, max_size=7)


@given(st.floats(100, 250), loops)
def test_a_chain_against_its_nodes(source_v: float, chain: list[tuple[float, float]]) -> None:
    """Kirchhoff's current law at each box, solved as linear equations."""
    ohms = [ohm for ohm, _ in chain]
    size = len(chain)
    conductance, injected = np.zeros((size, size)), np.zeros(size)
    for node, (ohm, taken_a) in enumerate(chain):
        conductance[node, node] += 1 / ohm
        injected[node] -= taken_a
        if node == 0:
            injected[node] += source_v / ohm
        else:
            conductance[node, node - 1] -= 1 / ohm
            conductance[node - 1, node] -= 1 / ohm
            conductance[node - 1, node - 1] += 1 / ohm
    solved = np.linalg.solve(conductance, injected)
    found = mains.chain_v(
        source_v=source_v, loops_ohm=ohms, currents_a=[taken_a for _, taken_a in chain]
    )
    assert found == pytest.approx(tuple(solved), rel=1e-6, abs=1e-6)
    # No box sees more than the one before it, but for the last bit where nothing is taken.
    assert all(far <= near + 1e-9 for near, far in pairwise(found))


@given(st.floats(100, 250), st.floats(0.01, 5), st.floats(1, 2500))
def test_a_load_of_constant_power_against_stepping_there(
    source_v: float, loop_ohm: float, power_w: float
) -> None:
    """The current that this voltage makes, and the voltage that this current leaves, in turn."""
    found = mains.load_v(source_v=source_v, loop_ohm=loop_ohm, power_w=power_w)
    most_w = source_v**2 / (4 * loop_ohm)
    if power_w > most_w:
        assert math.isnan(found)
        return
    if power_w > 0.9 * most_w:  # near the edge the steps hardly move
        return
    at_v = list(
        accumulate(range(2000), lambda v, _: source_v - loop_ohm * power_w / v, initial=source_v)
    )[-1]
    assert found == pytest.approx(at_v, rel=1e-6)
    # It draws more than it would at the full voltage, so it gets less.
    plain_v = source_v - mains.current_a(power_w=power_w, voltage_v=source_v) * loop_ohm
    assert found <= plain_v + 1e-9


@given(st.floats(1, 5000), st.floats(90, 250), st.floats(0.3, 1))
def test_power_and_current_turn_round(power: float, voltage: float, factor: float) -> None:
    current = mains.current_a(power_w=power, voltage_v=voltage, power_factor_ratio=factor)
    assert mains.power_w(
        voltage_v=voltage, current_a=current, power_factor_ratio=factor
    ) == pytest.approx(power)
    apparent = mains.apparent_va(power_w=power, power_factor_ratio=factor)
    assert apparent == pytest.approx(voltage * current)
    assert mains.power_factor_ratio(power_w=power, apparent_va=apparent) == pytest.approx(factor)


@given(st.floats(0, 100), st.floats(0, 300), st.floats(0.1, 20))
def test_balanced_phases_lose_what_one_loop_loses_by_root_three(
    current: float, length: float, ohm_per_km: float
) -> None:
    three = mains.three_phase_drop_v(
        current_a=current, length_m=length, ohm_per_km=ohm_per_km,
        reactance_ohm_per_km=0, power_factor_ratio=1,
    )  # fmt: skip
    one = mains.drop_v(current_a=current, length_m=length, ohm_per_km=ohm_per_km)
    assert three == pytest.approx(one * math.sqrt(3) / 2)
