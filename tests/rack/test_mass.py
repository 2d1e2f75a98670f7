"""Weight, centre of gravity and castors by hand; lifting against the published screens."""

import math

import numpy as np
import pytest

from rigproof.rack import carry, people_for, stand, weights
from rigproof.rack.carrying import guideline_kg
from rigproof.rack.mass import BOARD_MM, CASTOR_IN_MM
from rigproof.rig.spread import Likely
from tests.bands import stated, whole

CASE = """
case: {type: case-12-castors, weight_kg: 25}
gear:
  - {id: low, type: ups-rack-1500, unit: 1, weight_kg: 24}
  - {id: high, type: headphone-amp-4, unit: 12, weight_kg: 3}
"""


def test_the_case_is_the_sum_of_its_parts() -> None:
    found = weights(stated(CASE))
    assert found.case_kg.value == 25 + 24 + 3
    assert found.missing == ()
    assert found.all_kg == found.case_kg


def test_leads_count_by_plugs_and_metres_and_by_where_they_go() -> None:
    rig = stated(
        CASE
        + """
leads:
  - {id: inside, type: lead-xlr, from: house.1-4, to: house.5-8, length_m: 10}
spares: [{type: lead-xlr, count: 3, length_m: 10}]
"""
    )
    found = weights(rig)
    one = 0.09 + 10 * 0.055
    assert found.of("stage lead").value == pytest.approx(4 * one)
    assert found.of("spare").value == pytest.approx(3 * one)
    assert found.case_kg.value == 52


def test_an_unknown_weight_is_named_and_makes_no_verdict() -> None:
    rig = whole("demo").rig
    found = weights(rig)
    assert found.case_missing == ("Split A", "Split B")
    assert stand(rig, found) is None


@pytest.mark.published("statics: sum of m y over sum of m; atan of half the base over the height")
def test_centre_of_gravity_and_tipping_by_hand() -> None:
    rig = stated(CASE)
    found = stand(rig)
    assert found is not None
    opening = 12 * 44.45
    floor = 723 - opening - BOARD_MM
    low, high = floor + 44.45, floor + 11.5 * 44.45
    middle = floor + opening / 2
    height = (24 * low + 3 * high + 25 * middle) / 52
    assert found.height_mm == pytest.approx(height)
    wide = 560 - 2 * CASTOR_IN_MM
    assert found.tip_across_deg == pytest.approx(math.degrees(math.atan(wide / 2 / height)))
    # The amplifier is less deep than the rails are apart, the UPS more: each at half its depth.
    moment = 24 * (430 - 400) / 2 + 3 * (200 - 400) / 2
    assert found.along_off_mm == pytest.approx(moment / 52)


@pytest.mark.published("castor guidance: total / (N - 1), and an even share times 1.5")
def test_castors_by_the_stricter_rule() -> None:
    found = stand(stated(CASE))
    assert found is not None
    assert found.castor_needs_kg == pytest.approx(max(52 / 3, 52 * 1.5 / 4))


def test_a_heavy_box_higher_up_tips_sooner() -> None:
    tips = []
    for unit in (1, 4, 7, 11):
        found = stand(stated(CASE.replace("unit: 1, weight", f"unit: {unit}, weight")))
        assert found is not None
        tips.append(found.tip_deg)
    assert tips == sorted(tips, reverse=True)


@pytest.mark.published("HSE INDG143: 25 kg and 16 kg close at knuckle to elbow; L23: two thirds")
def test_teams() -> None:
    assert guideline_kg(["men", "men"]) == pytest.approx(100 / 3)
    assert guideline_kg(["men", "women"]) == pytest.approx(82 / 3)
    assert people_for(25) == 1
    assert people_for(26) == 2
    assert people_for(37.5) == 3
    assert people_for(38) is None


@pytest.mark.published("DHHS (NIOSH) 94-110: 23 x 25/40 x (1-0.003x25) x (0.82+4.5/50)")
def test_lifting_equation_with_its_assumptions() -> None:
    found = carry(Likely(40, 40, 40, "measured"), people=2)
    assert found.recommended_kg == pytest.approx(23 * 25 / 40 * (1 - 0.003 * 25) * (0.82 + 0.09))
    assert found.index_ratio == pytest.approx(20 / found.recommended_kg)
    assert found.beyond_guideline
    assert found.left_out
    assert found.assumed


@pytest.mark.parametrize("name", ["trio", "twelve"])
def test_the_likely_height_of_the_weight_by_brute_force(name: str) -> None:
    """Every part as light or as heavy as it likely is, all ways that there are."""
    found = stand(whole(name).rig)
    assert found is not None
    heights = np.array([one.up_mm for one in found.hung])
    ends = np.array([(one.likely_kg.low, one.likely_kg.high) for one in found.hung])
    parts = len(heights)
    ways = (np.arange(2**parts)[:, None] >> np.arange(parts)) & 1
    masses = np.where(ways == 1, ends[:, 1], ends[:, 0])
    means = masses @ heights / masses.sum(axis=1)
    assert found.likely_mm == pytest.approx((means.min(), means.max()))
    low, high = found.likely_across_deg
    assert low < found.tip_across_deg < high
