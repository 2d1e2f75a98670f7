import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics import radio, wifi
from tests.reference.rows import Calls, Row, assert_agrees, judged_by

TO_MHZ = {"MHz": 1, "GHz": 1000}
TO_M = {"m": 1, "km": 1000}


def _mhz(row: Row, name: str = "f") -> float:
    return row[name] * TO_MHZ[row.unit_of(name)]


def _path_db(row: Row) -> float:
    return radio.free_space_db(
        frequency_mhz=_mhz(row), distance_m=row["d"] * TO_M[row.unit_of("d")]
    )


def _frequency_db(row: Row) -> float:
    high, low = (
        radio.free_space_db(frequency_mhz=_mhz(row, name), distance_m=10) for name in ("f2", "f1")
    )
    return high - low


def _coax_db(row: Row) -> float:
    return radio.coax_db(
        length_m=row["L"],
        loss_db_per_100_m=row["loss"],
        connectors=int(row["n"]),
        connector_db=row["connector"],
    )


def _centre(row: Row) -> float:
    band = row.text("band")
    return wifi.centre_mhz(int(row["channel"]), band=band)  # type: ignore[arg-type]


def _joined(row: Row) -> float:
    return wifi.joined_centre_mhz([int(one) for one in row.numbers("parts")])


def _gap(row: Row) -> float:
    first, second = (wifi.centre_mhz(int(one), band="2.4 GHz") for one in row.numbers("ch"))
    return wifi.gap_mhz(first_mhz=first, second_mhz=second, width_mhz=row["width"])


CALLS: Calls = {
    ("radio/fspl", "5.5 GHz compared with *"): _frequency_db,
    ("radio/fspl", "free-space loss *"): _path_db,
    ("radio/fspl", "path loss 2.4 GHz *"): _path_db,
    ("radio/fspl", "18 GHz over 20 km"): _path_db,
    ("radio/budget", "received power: *"): lambda row: radio.received_dbm(
        power_dbm=row["Pt"],
        transmit_dbi=row["Gt"],
        receive_dbi=row["Gr"],
        path_db=_path_db(row),
    ),
    ("radio/budget", "* mW in dBm"): lambda row: radio.mw_to_dbm(row["P"]),
    ("radio/budget", "ERP of *"): lambda row: radio.erp_dbm(row["EIRP"]),
    ("radio/budget", "on-body creeping wave *"): lambda row: radio.round_body_db(
        row["arc"], decay_db_per_cm=row["decay"]
    ),
    ("radio/budget", "Rayleigh outage *"): lambda row: radio.fade_percent(row["M"]),
    ("radio/budget", "thermal noise in *"): lambda row: radio.thermal_noise_dbm(1e6 * row["B"]),
    ("radio/budget", "range gained by *"): lambda row: radio.range_ratio(row["gain"]),
    ("radio/antenna", "quarter wave at 146 MHz *"): lambda row: (
        radio.half_wave_wire_m(row["f"]) / 2 / 0.0254
    ),
    ("radio/antenna", "quarter wave at 85 MHz, *"): lambda row: radio.quarter_wave_mm(
        row["f"], speed_m_per_s=row["c"]
    ),
    ("radio/antenna", "practical half-wave dipole *"): lambda row: radio.half_wave_wire_m(row["f"]),
    ("radio/antenna", "quarter-wave whip *"): lambda row: radio.quarter_wave_mm(row["f"]),
    ("radio/antenna", "half-wave spacing *"): lambda row: radio.wavelength_mm(row["f"]) / 2,
    ("radio/coax", "RG-*"): lambda row: radio.per_100_ft_to_per_100_m_db(row["loss"]),
    ("radio/coax", "8 m of RG-58 *"): _coax_db,
    ("radio/coax", "power left after 3 dB"): lambda row: radio.power_left_percent(row["loss"]),
    ("radio/wifi", "?* GHz channel * centre*"): _centre,
    ("radio/wifi", "*0 MHz channel *: centre = mean *"): _joined,
    ("radio/wifi", "clear gap between *"): _gap,
    ("radio/wifi", "lower edge of *"): lambda row: wifi.edges_mhz(
        wifi.centre_mhz(int(row["ch"]), band="2.4 GHz"), width_mhz=row["width"]
    )[0],
}


@judged_by(CALLS, "systems.csv")
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


def test_fading_against_a_drawn_crowd() -> None:
    """The sum of many reflections of any phase: how often its power is 20 dB below the mean."""
    chance = np.random.default_rng(17)
    waves = np.exp(2j * math.pi * chance.random((200_000, 24))).sum(axis=1)
    power = np.abs(waves) ** 2
    for margin_db in (3, 10, 20):
        share = 100 * np.mean(power < power.mean() / 10 ** (margin_db / 10))
        assert radio.fade_percent(margin_db) == pytest.approx(share, rel=0.15)


def test_free_space_is_power_spread_over_a_sphere() -> None:
    """What an isotropic antenna, wavelength^2 / 4 pi large, catches of a sphere's surface."""
    wave_m = radio.wavelength_mm(600) / 1000
    caught = (wave_m**2 / (4 * math.pi)) / (4 * math.pi * 100**2)
    found = radio.free_space_db(frequency_mhz=600, distance_m=100)
    assert 100 * caught == pytest.approx(radio.power_left_percent(found))


@given(st.floats(100, 6000), st.floats(1, 200), st.floats(0, 20))
def test_margin_and_range_turn_round(mhz: float, metres: float, margin: float) -> None:
    near = radio.free_space_db(frequency_mhz=mhz, distance_m=metres)
    far = radio.free_space_db(frequency_mhz=mhz, distance_m=metres * radio.range_ratio(margin))
    assert far - near == pytest.approx(margin)
    assert radio.mw_to_dbm(radio.dbm_to_mw(margin)) == pytest.approx(margin)
    blocked = radio.received_dbm(
        power_dbm=20, transmit_dbi=0, receive_dbi=0, path_db=near, losses_db=[margin, 3]
    )
    assert blocked == pytest.approx(17 - near - margin)


@pytest.mark.published("IEEE 802.11: 1, 6 and 11 are clear of each other at 20 MHz")
def test_the_usual_three() -> None:
    centres = [wifi.centre_mhz(channel, band="2.4 GHz") for channel in (1, 6, 11)]
    assert [wifi.gap_mhz(first_mhz=one, second_mhz=two) for one, two in pairwise(centres)] == [5, 5]
    assert wifi.gap_mhz(first_mhz=centres[0], second_mhz=2422) < 0
