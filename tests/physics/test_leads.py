"""Published rows of leads that several formulas share: colours, capacitance, copper."""

import math

import pytest

from rigproof.physics import cable, colours, conductors, headphones, loading
from rigproof.physics.levels import voltage_ratio
from tests.reference.rows import Calls, Row, assert_agrees, judged_by


def _letters(row: Row) -> str:
    return colours.colour_letters(*row.text("colour").split(","))


def _cores(row: Row) -> str:
    """The row gives the cores as letters, its case as colours."""
    cores = [("black",), ("black",), ("brown",), ("blue",), ("green", "yellow")]
    assert row.text("cores").split(",") == [colours.colour_letters(*core) for core in cores]
    return colours.core_letters(cores)


def _corner_khz(row: Row) -> float:
    """Picofarads by the foot or by the metre: the length is in the same unit."""
    assert row.unit_of("C").endswith(f"/{row.unit_of('L')}")
    pf = cable.cable_pf(length_m=row["L"], capacitance_pf_per_m=row["C"])
    return cable.corner_hz(source_ohm=row["R"], capacitance_pf=pf) / 1000


def _longest_m(row: Row) -> float:
    """The corner falls in proportion to the length: from that of one metre."""
    one_m = cable.corner_hz(source_ohm=row["R"], capacitance_pf=row["C"])
    return one_m / (1000 * row["fc"])


def _half_corner_db(row: Row) -> float:
    corner = cable.corner_hz(source_ohm=150, capacitance_pf=8200)
    return -cable.cable_loss_db(
        frequency_hz=row["f/fc"] * corner, source_ohm=150, capacitance_pf=8200
    )


def _behind_db(row: Row) -> float:
    return loading.loading_loss_db(source_ohm=row["Rc"], input_ohm=[row["Z"]])


def _zip_cord_db(row: Row) -> float:
    loop = conductors.loop_ohm(
        length_m=row["L"] * conductors.FOOT_M,
        ohm_per_km=conductors.per_kft_to_per_km(row["r"]),
    )
    return loading.loading_loss_db(source_ohm=loop, input_ohm=[row["Z"]])


def _load_ohm(row: Row) -> float:
    """The row counts out and back in its ohms per foot; the function counts one core."""
    one_core = conductors.per_kft_to_per_km(1000 * row["loop"] / 2)
    return row["Z"] + conductors.loop_ohm(
        length_m=row["L"] * conductors.FOOT_M, ohm_per_km=one_core
    )


def _reaching_w(row: Row) -> float:
    lost = loading.loading_loss_db(source_ohm=row["load"] - row["Z"], input_ohm=[row["Z"]])
    across = row["V"] * voltage_ratio(lost)
    return headphones.power_mw(voltage_v=across, impedance_ohm=row["Z"]) / 1000


def _extension_db(row: Row) -> float:
    loop = conductors.loop_ohm(length_m=row["L"], ohm_per_km=row["r"])
    return loading.loading_loss_db(source_ohm=loop, input_ohm=[row["Z"]])


def _drive_mv(row: Row) -> float:
    per_v = headphones.sensitivity_spl_per_v(
        sensitivity_spl_per_mw=row["S"], impedance_ohm=row["Z"]
    )
    return 1000 * headphones.voltage_for_level_v(level_spl=row["SPL"], sensitivity_spl_per_v=per_v)


CALLS: Calls = {
    ("cables/colour", "letter code for *"): _letters,
    ("cables/colour", "protective earth combination"): lambda row: colours.colour_letters(
        *row.text("colours").split(",")
    ),
    ("cables/colour", "five-core cable: *"): _cores,
    ("cables/colour", "number-to-colour habit: *"): lambda row: colours.number_colours(
        row.text("digit")
    )[0],
    ("cables/colour", "channel * as two colour rings"): lambda row: ",".join(
        colours.number_colours(row.text("number"))
    ),
    ("cables/hf", "500 ft at *"): _corner_khz,
    ("cables/hf", "150 ohm microphone, *"): _corner_khz,
    ("cables/hf", "loss at half the corner frequency"): _half_corner_db,
    ("cables/hf", "longest cable *"): _longest_m,
    ("cables/speaker", "load with *"): _load_ohm,
    ("cables/speaker", "power reaching *"): _reaching_w,
    ("cables/speaker", "1 ohm of cable *"): _behind_db,
    ("cables/speaker", "level lost by 0.30 ohm *"): _behind_db,
    ("cables/speaker", "18 AWG zip cord, *"): _zip_cord_db,
    ("cables/headphone", "sensitivity per volt *"): lambda row: headphones.sensitivity_spl_per_v(
        sensitivity_spl_per_mw=row["S"], impedance_ohm=row["R"]
    ),
    # What the shared conductor takes of the other channel is what a divider leaves across it.
    ("cables/headphone", "crosstalk from a shared ground, *"): lambda row: loading.loading_loss_db(
        source_ohm=row["Z"], input_ohm=[row["Rcommon"]]
    ),
    ("cables/headphone", "drive voltage *"): _drive_mv,
    ("cables/headphone", "extension *"): _extension_db,
}


@judged_by(CALLS, "systems.csv")
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


@pytest.mark.published("DIN VDE 0295 small sizes: 0.22 mm2 plain 96, 0.14 mm2 tinned 138 ohm/km")
def test_fine_wire_of_earphone_leads() -> None:
    assert conductors.largest_ohm_per_km(0.22) == 96
    assert conductors.largest_ohm_per_km(0.14, metal="tinned") == 138


def test_half_the_corner_holds_for_any_cable() -> None:
    """The row names no cable, and none is needed."""
    for ohm, pf in ((50, 1000), (600, 20_000)):
        corner = cable.corner_hz(source_ohm=ohm, capacitance_pf=pf)
        found = cable.cable_loss_db(frequency_hz=corner / 2, source_ohm=ohm, capacitance_pf=pf)
        assert found == pytest.approx(-10 * math.log10(1.25))
