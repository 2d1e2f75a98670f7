import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import heat
from tests.reference.rows import Calls, Row, assert_agrees, judged_by

INCH_M, FAHRENHEIT_K = 0.0254, 5 / 9


def _cfm(power_w: float, rise_k: float) -> float:
    return heat.m3_per_h_to_cfm(heat.airflow_m3_per_h(power_w=power_w, rise_k=rise_k))


def _warm_air(row: Row) -> float:
    density = heat.air_kg_per_m3(air_degc=row["T_air"], pressure_pa=row["p"])
    return heat.airflow_m3_per_h(power_w=row["P"], rise_k=row["dT"], density_kg_per_m3=density)


def _thin_air(row: Row) -> float:
    """The row gives the mass flow that 800 W make with 3 K, and its case these two."""
    density = heat.air_kg_per_m3(air_degc=row["T"] - 273.15, pressure_pa=row["p"])
    return heat.airflow_m3_per_h(power_w=800, rise_k=3, density_kg_per_m3=density)


def _surface_ft2(row: Row) -> float:
    found = heat.box_surface_m2(
        height_m=row["H"] * INCH_M, width_m=row["W"] * INCH_M, depth_m=row["D"] * INCH_M
    )
    return found / (12 * INCH_M) ** 2


CALLS: Calls = {
    ("power/heat", "*"): lambda row: heat.w_to_btu_per_h(row["P"]),
    ("power/airflow", "300 W, 18 F rise *"): lambda row: _cfm(
        1000 * row["P"], row["dT"] * FAHRENHEIT_K
    ),
    ("power/airflow", "500 W, 10 K rise *"): lambda row: _cfm(row["P"], row["dT"]),
    ("power/airflow", "unit trap: *"): lambda row: _cfm(row["P"], row["dT"]),
    ("power/airflow", "0.5 kW, 10 K *"): lambda row: heat.airflow_m3_per_h(
        power_w=1000 * row["P"], rise_k=row["dT"]
    ),
    ("power/airflow", "250 W, 8 K, *"): _warm_air,
    ("power/airflow", "800 W with 3 K rise: *"): _thin_air,
    ("power/airflow", "airflow multiplier *"): lambda row: heat.thin_air_ratio(row["altitude"]),
    ("power/enclosure", "surface of *"): _surface_ft2,
    ("power/enclosure", "sealed *"): lambda row: heat.sealed_rise_k(
        power_w=row["P"], surface_m2=row["A"], shed_w_per_m2_k=row["U"]
    ),
    ("power/enclosure", "heat shed by *"): lambda row: heat.sealed_w(
        rise_k=row["dT"], surface_m2=row["A"], shed_w_per_m2_k=row["U"]
    ),
}


@judged_by(CALLS, "systems.csv")
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@pytest.mark.published("Q = U A dT with U 5.5 / 3.6 / 6.5 W/m2K: painted steel and aluminium")
def test_skins() -> None:
    assert heat.shed_w_per_m2_k("painted-steel") == 5.5
    assert heat.shed_w_per_m2_k("aluminium") == 6.5


@pytest.mark.published("ISO 2533: 1.225 kg/m3 at 15 degrees C and 101325 Pa")
def test_standard_atmosphere() -> None:
    assert heat.air_kg_per_m3(air_degc=15) == pytest.approx(1.225, abs=0.0005)
    assert heat.thin_air_ratio(0) == 1


@given(st.floats(1, 3000), st.floats(1, 40), st.floats(0.9, 1.3))
def test_air_and_rise_turn_round(power_w: float, rise_k: float, density: float) -> None:
    flow = heat.airflow_m3_per_h(power_w=power_w, rise_k=rise_k, density_kg_per_m3=density)
    back = heat.airflow_rise_k(power_w=power_w, airflow_m3_per_h=flow, density_kg_per_m3=density)
    assert back == pytest.approx(rise_k)


@given(st.floats(1, 500), st.floats(0.5, 4), st.floats(2, 8))
def test_a_sealed_box_sheds_what_it_takes(power_w: float, area_m2: float, shed: float) -> None:
    rise = heat.sealed_rise_k(power_w=power_w, surface_m2=area_m2, shed_w_per_m2_k=shed)
    back = heat.sealed_w(rise_k=rise, surface_m2=area_m2, shed_w_per_m2_k=shed)
    assert back == pytest.approx(power_w)
