"""Which antennas the packs hang on, and how high those stand."""

import pytest

from rigproof.network.antennas import antennas
from tests.bands import stated
from tests.checks.looking import findings

RIG = """
case: {type: case-12}
gear:
  - {id: t1, name: One, type: transmitter-ears, unit: 1}
  - {id: t2, name: Two, type: transmitter-ears, unit: 2}
  - {id: p1, type: pack-wireless, place: person}
  - {id: p2, type: pack-wireless, place: person}
  - {id: comb, name: Combiner, type: antenna-combiner-4, unit: 3}
  - {id: bar, name: Paddle, type: antenna-directional, place: stage}
radio:
  - {id: a, from: t1.rf, to: p1.rf, frequency_mhz: 824.0}
  - {id: b, from: t2.rf, to: p2.rf, frequency_mhz: 826.3}
"""
IN = """
leads:
  - {id: c1, type: lead-antenna, from: t1.rf, to: comb.in.1, length_m: 0.5}
  - {id: c2, type: lead-antenna, from: t2.rf, to: comb.in.2, length_m: 0.5}
"""
OUT = "  - {id: c3, type: lead-antenna, from: comb.antenna, to: bar.antenna, length_m: 4}\n"


def heights(text: str) -> dict[str, float | None]:
    found = antennas(stated(text))
    return {one.gear.id: None if one.up_m is None else float(one.up_m) for one in found}


def test_whips_in_the_case_are_no_higher_than_its_lid() -> None:
    rig = stated(RIG)
    assert rig.file.case is not None
    size = rig.types[rig.file.case.type].case
    assert size is not None
    assert size.height_mm is not None
    lid = pytest.approx(size.height_mm / 1000)
    assert heights(RIG) == {"t1": lid, "t2": lid}
    assert heights(RIG + IN) == {"comb": lid}  # one for both


def test_leads_lead_to_the_antenna() -> None:
    assert heights(RIG + IN + OUT) == {"bar": None}
    stood = (RIG + IN + OUT).replace("place: stage", "place: stage, antenna_up_m: 2.5")
    assert heights(stood) == {"bar": 2.5}
    assert not findings("radio.antenna-low", stood)
    (low,) = findings("radio.antenna-low", stood.replace("2.5", "1.5"))
    assert (low.found, low.limit) == (1.5, 2.2)
    assert "Paddle" in low.says


def test_who_wears_no_pack_is_not_told_of_antennas() -> None:
    assert heights(RIG[: RIG.index("radio:")]) == {}
