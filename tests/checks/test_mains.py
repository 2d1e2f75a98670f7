"""Amperes, volts, rushes and warmth as the band meets them: through the rules."""

import pytest

from tests.checks.looking import findings, says

HALL = """
gear:
  - {id: strip, type: strip-c13-8, unit: 1}
  - {id: a, name: Left, type: wedge-active, place: stage}
  - {id: b, name: Right, type: wedge-active, place: stage}
power:
  lead_m: 10
  feeds:
    - {gear: a, outlet: strip.outlet.1, step: 1}
    - {gear: b, outlet: strip.outlet.2, step: %s}
venues:
  - id: hall
    name: The Hall
    desk: {takes: tails}
    volts_v: %s
    circuits: [{id: c, amps_a: %s}]
"""


def hall(volts: int = 230, amps: float = 16, step: int = 2) -> str:
    return HALL % (step, volts, amps)


@pytest.mark.published("P / (V pf): 2 x 400 W at a factor of 0.65; NEC: 80 % of it below 140 V")
@pytest.mark.parametrize(
    ("volts", "amps", "judged"),
    [(230, 5.4, 0), (230, 5.3, 1), (120, 12.9, 0), (120, 12.8, 1)],
)
def test_a_circuit_at_its_bound(volts: int, amps: float, judged: int) -> None:
    """Two of 400 W take 5.351 A at 230 V and 10.256 A at 120 V, which wants 12.82 A."""
    found = findings("mains.circuit-overloaded", hall(volts, amps))
    assert len(found) == judged


def test_the_weakest_box_is_named() -> None:
    text = hall(100, 16).replace("lead_m: 10", "lead_m: 50")
    (finding,) = findings("mains.voltage-window", text)
    assert finding.says.startswith("At The Hall the supply may fall to 95 V; ")
    assert "Left, which needs 100 V and gives up first" in finding.says
    assert finding.found is not None
    assert finding.found < 95


def test_a_box_that_cannot_take_the_name_of_the_supply_is_told_elsewhere() -> None:
    text = "gear: [{id: ups, type: ups-rack-500-nema, unit: 1}]\npower: {volts_v: 230}\n"
    assert says("mains.voltage-window", text) == []
    assert findings("power.supply-range", text)


def test_a_lead_that_cannot_carry_it_at_all() -> None:
    text = hall(120, 16).replace("lead_m: 10", "lead_m: 600")
    assert any("cannot carry" in one for one in says("mains.voltage-window", text))


@pytest.mark.published("IEC 60898-1: B8 may let go from 24 A, 34 A at the crest")
def test_a_step_apart_is_half_the_rush() -> None:
    together = says("mains.inrush-together", hall(amps=8, step=1))
    assert together == [
        "Step 1 (Left and Right) makes a rush of 60 A; at The Hall a B8 breaker may let go from "
        "34 A."
    ]
    assert says("mains.inrush-together", hall(amps=8, step=2)) == []
    assert len(findings("mains.inrush-together", hall(amps=6, step=2))) == 2


def test_a_dip_knows_no_steps_unless_a_sequencer_does() -> None:
    assert findings("mains.inrush-after-a-dip", hall(amps=8))
    text = hall(amps=8).replace("type: strip-c13-8", "type: sequencer-c13")
    assert says("mains.inrush-after-a-dip", text) == []


def test_a_shared_circuit_says_what_is_left() -> None:
    text = hall(amps=16).replace("amps_a: 16", "amps_a: 16, shared_with: the urn")
    assert says("mains.circuit-shared", text) == [
        "At The Hall the circuit is shared with the urn; beside the rack it has 10.6 A left."
    ]


CASE = """
case: {type: case-4, in_use: %s}
gear:
  - {id: mixer, type: mixer-rack-32, unit: 1%s}
venues: [{id: v, name: The Meadow, desk: {takes: tails}, volts_v: 230, air_degc: %s}]
"""


def test_open_lids_only_count_the_air_around() -> None:
    assert says("heat.case-too-hot", CASE % ("open", "", 35)) == []
    (hot,) = findings("heat.case-too-hot", CASE % ("open", "", 45))
    assert hot.found == 45
    assert says("heat.case-too-hot", "gear: [{id: m, type: mixer-rack-32, unit: 1}]\n") == []


@pytest.mark.published("Q = U A dT: 90 W over 5.5 W/(m2 K) and 0.92 m2 without the floor")
def test_closed_lids_add_the_rise() -> None:
    (hot,) = findings("heat.case-too-hot", CASE % ("closed", "", 30))
    area = 2 * (0.56 * 0.253 + 0.6 * 0.253) + 0.56 * 0.6
    assert hot.found == pytest.approx(30 + 90 / (5.5 * area))
