import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import conductors, loading
from tests.reference.rows import Calls, Row, assert_agrees, judged_by

BUILDS: dict[float, conductors.Build] = {2: "stranded", 5: "flexible"}
METALS: dict[str, conductors.Metal] = {"plain copper": "plain", "tinned copper": "tinned"}


def _largest(row: Row) -> float:
    return conductors.largest_ohm_per_km(
        row["area"], build=BUILDS[row["class"]], metal=METALS[row.text("metal")]
    )


def _number(row: Row) -> int:
    return conductors.awg_number(row.text("gauge").removesuffix(" AWG"))


def _solid(row: Row) -> float:
    return conductors.solid_ohm_per_km(
        conductors.awg_area_mm2(_number(row)), resistivity_ohm_mm2_per_m=row["resistivity"]
    )


def _warm_ohm_per_kft(row: Row, lay: float) -> float:
    cold = conductors.solid_ohm_per_km(conductors.awg_area_mm2(_number(row)))
    warm = conductors.warmed_ohm(cold, from_degc=20, to_degc=row["temperature"])
    return conductors.per_km_to_per_kft(warm * lay)


CALLS: Calls = {
    ("power/conductor", "class *"): _largest,
    ("power/conductor", "50 mm2 oddity: *"): lambda row: (
        conductors.largest_ohm_per_km(row["area"], build="flexible")
        - conductors.largest_ohm_per_km(row["area"], build="stranded")
    ),
    ("power/conductor", "temperature factor to bring *"): lambda row: conductors.to_20_degc_ratio(
        row["temperature"]
    ),
    ("power/awg", "AWG * solid diameter"): lambda row: conductors.awg_diameter_mm(_number(row)),
    ("power/awg", "AWG 0000 diameter *"): lambda row: conductors.awg_diameter_mm(_number(row)),
    ("power/awg", "AWG * solid copper resistance *"): _solid,
    ("power/awg", "ratio of diameters *"): lambda row: conductors.GAUGE_STEP_RATIO,
    ("power/nec", "AWG * SOLID *"): lambda row: _warm_ohm_per_kft(row, 1),
    ("power/nec", "AWG * STRANDED *"): lambda row: _warm_ohm_per_kft(row, conductors.LAY_RATIO),
    ("power/nec", "temperature change of a Table 8 value: *"): lambda row: conductors.warmed_ohm(
        row["R75"],
        from_degc=75,
        to_degc=row["T"],
        coefficient_per_k=conductors.WARM_COPPER_PER_K,
    ),
    ("power/nec", "AWG * area in circular mils"): lambda row: conductors.awg_area_cmil(
        _number(row)
    ),
    ("cables/headphone", "resistance of 1 m AWG 24"): lambda row: (
        row["L"] * conductors.solid_ohm_per_km(conductors.awg_area_mm2(_number(row)))
    ),
}


@judged_by(CALLS, "systems.csv")
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@pytest.mark.published("IEC 60228: at 20 degrees C a class may not exceed its resistance")
@pytest.mark.parametrize("build", ["stranded", "flexible"])
@pytest.mark.parametrize("metal", ["plain", "tinned"])
def test_tables_fit_their_areas(build: conductors.Build, metal: conductors.Metal) -> None:
    """A misprinted cell would stand out: copper of the nominal area has nearly that resistance."""
    previous = float("inf")
    for area_mm2 in conductors.areas_mm2(build=build, metal=metal):
        found = conductors.largest_ohm_per_km(area_mm2, build=build, metal=metal)
        solid = conductors.solid_ohm_per_km(area_mm2)
        assert 0.98 < found / solid < 1.30
        assert found < previous
        previous = found
    if metal == "tinned":
        for area_mm2 in conductors.areas_mm2(build=build, metal=metal):
            plain = conductors.largest_ohm_per_km(area_mm2, build=build, metal="plain")
            assert (
                0.94 < plain / conductors.largest_ohm_per_km(area_mm2, build=build, metal=metal) < 1
            )


@pytest.mark.published("ASTM B258: 4/0 is 0.46 in, 36 is 0.005 in, by definition")
def test_ends_of_the_gauge() -> None:
    assert conductors.awg_diameter_mm(conductors.awg_number("4/0")) == pytest.approx(11.684)
    assert conductors.awg_diameter_mm(36) == pytest.approx(0.127)
    assert conductors.awg_number("1/0") == 0


@given(st.integers(-3, 40))
def test_six_gauges_double_the_diameter_nearly(number: int) -> None:
    ratio = conductors.awg_diameter_mm(number) / conductors.awg_diameter_mm(number + 1)
    assert ratio == pytest.approx(conductors.GAUGE_STEP_RATIO)
    area = conductors.awg_area_mm2(number)
    cmil = conductors.awg_area_cmil(number)
    assert area / cmil == pytest.approx(5.067e-4, rel=1e-4)  # mm2 in a circular mil


@given(st.floats(0.1, 100), st.floats(-20, 90))
def test_there_and_back_by_temperature(ohm: float, degc: float) -> None:
    warm = conductors.warmed_ohm(ohm, from_degc=20, to_degc=degc)
    # The standard's rounded 0.004 and the metal's 0.00393 part by less than one percent.
    assert warm * conductors.to_20_degc_ratio(degc) == pytest.approx(ohm, rel=0.01)


@given(st.floats(1, 500), st.floats(1, 100))
def test_a_loop_is_two_cores(length_m: float, ohm_per_km: float) -> None:
    found = conductors.loop_ohm(length_m=length_m, ohm_per_km=ohm_per_km)
    assert found == pytest.approx(loading.parallel_ohm([found * 2, found * 2]))
    assert found * 500 == pytest.approx(length_m * ohm_per_km)
    assert conductors.per_kft_to_per_km(conductors.per_km_to_per_kft(ohm_per_km)) == pytest.approx(
        ohm_per_km
    )
