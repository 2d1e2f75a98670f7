"""The sums of the rack's mains, by hand and by their laws."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.mains import (
    bridges,
    place_of,
    plate_w,
    rack_load,
    residual,
    rush,
    sag,
    spare_a,
    starts,
    strip_loads,
    usual_place,
    warmth,
)
from rigproof.mains.reasons import why_ready
from rigproof.rig import Rig
from rigproof.rig.geartype import Power
from rigproof.rig.quantity import PROVENANCES, Amperes, PowerFactor, Quantity, Volts
from rigproof.rig.spread import likely, spread_db, spread_ratio, total
from rigproof.rig.where import RigErrors
from tests.bands import stated, whole

RACK = """
case: {type: case-12}
gear:
  - {id: power, type: sequencer-c13, unit: 1}
  - {id: mixer, type: mixer-rack-24, unit: 2}
  - {id: inner, type: strip-c13-8, unit: 6}
  - {id: amp, type: headphone-amp-4, unit: 7}
power:
  volts_v: 230
  circuit_a: 16
  lead_m: 25
  feeds:
    - {gear: mixer, outlet: power.outlet.1, step: 1}
    - {gear: inner, outlet: power.outlet.2, step: 2}
    - {gear: amp, outlet: inner.outlet.1, step: 2}
"""


def plate(rig: Rig, gear: str, figure: str) -> float:
    value = getattr(rig.type_of(gear).power, figure)
    assert value is not None
    return float(value)


def test_the_sum_is_that_of_the_plates() -> None:
    rig = stated(RACK)
    load = rack_load(rig)
    boxes = ("power", "mixer", "amp")
    assert load.most_w.value == sum(plate(rig, box, "watts_max") for box in boxes)
    assert load.most_va.value == pytest.approx(
        sum(plate(rig, box, "watts_max") / plate(rig, box, "power_factor") for box in boxes)
    )
    assert load.leakage_ma.value == pytest.approx(
        sum(plate(rig, box, "leakage_ma") for box in boxes)
    )
    assert load.most_a(115).value == pytest.approx(2 * load.most_a(230).value)


def test_a_plate_of_amperes_alone_counts_at_its_lowest_volts() -> None:
    """1.5 A at 100 V are 150 VA; at a power factor of 0.6 they are 90 W."""
    power = Power(
        amps_a=Amperes(1.5, "datasheet"),
        volts_min=Volts(100, "datasheet"),
        volts_max=Volts(240, "datasheet"),
        power_factor=PowerFactor(0.6, "datasheet"),
    )
    found = plate_w(power)
    assert found == pytest.approx(90)
    assert found is not None
    assert found.provenance == "datasheet"
    assert plate_w(Power(amps_a=Amperes(1.5))) is None


def test_a_strip_carries_what_is_behind_it_and_its_own() -> None:
    rig = stated(RACK)
    by = {strip.gear.id: strip.load for strip in strip_loads(rig)}
    assert by["inner"].most_w.value == plate(rig, "amp", "watts_max")
    assert by["power"].most_w.value == rack_load(rig).most_w.value


def test_steps_wait_for_the_slowest() -> None:
    rig = stated(RACK)
    first, second = starts(rig)
    assert (first.ready_s, second.boot_s) == (35, plate(rig, "amp", "boot_s"))
    assert second.ready_s == first.ready_s + second.boot_s
    assert second.inrush_a.value == plate(rig, "amp", "inrush_a")


def test_what_a_hub_hands_on_is_drawn_through_its_own_inlet() -> None:
    rig = stated(
        """
gear:
  - {id: hub, type: hub-16, unit: 1}
  - {id: pm, type: personal-mixer-16, place: stage}
leads: [{id: l, type: lead-network-locking, from: hub.out.1, to: pm.feed}]
"""
    )
    own, taken = plate(rig, "hub", "watts"), plate(rig, "pm", "watts")
    assert rack_load(rig).usual_w.value == own + taken
    assert rack_load(rig).most_w.value == plate(rig, "hub", "watts_max")


@pytest.mark.published("Ohm's law, IEC 60228 class 5: 25 m of 1.5 mm2 are 2 x 25 m x 13.3 ohm/km")
def test_the_drop_by_hand() -> None:
    rig = stated(RACK)
    place = usual_place(rig)
    assert place is not None
    load = rack_load(rig)
    found = sag(rig, place, load)
    assert found is not None
    loop_ohm = 2 * 25 * 13.3 / 1000
    assert found.cables[0].loop_ohm == pytest.approx(loop_ohm)
    # V at the end solves V = V0 - R S / V: put the answer in.
    end_v = found.at_rack_v
    assert end_v == pytest.approx(found.lowest_v - loop_ohm * load.most_va.value / end_v)
    low_v, high_v = found.likely_v
    assert low_v == pytest.approx(found.lowest_v - loop_ohm * load.most_va.high / low_v)
    assert high_v == pytest.approx(found.lowest_v - loop_ohm * load.most_va.low / high_v)
    assert low_v < end_v < high_v
    assert found.lowest_v == pytest.approx(207)
    assert found.highest_v == pytest.approx(253)
    inner = next(box for box in found.boxes if box.box.gear.id == "amp")
    mixer = next(box for box in found.boxes if box.box.gear.id == "mixer")
    amp_va = plate(rig, "amp", "watts_max") / plate(rig, "amp", "power_factor")
    assert mixer.volts_v - inner.volts_v == pytest.approx(2 * 1 * 19.5 / 1000 * amp_va / end_v)


def test_the_weakest_box_is_the_one_of_least_margin() -> None:
    for name in ("demo", "trio", "twelve"):
        rig = whole(name).rig
        load = rack_load(rig)
        for venue in rig.file.venues:
            found = sag(rig, place_of(venue), load)
            assert found is not None
            margins = [box.margin_v for box in found.boxes if box.margin_v is not None]
            assert margins
            assert found.weakest is not None
            assert found.weakest.margin_v == min(margins)


VENUE = """
gear: [{{id: mixer, type: mixer-rack-24, unit: 1}}]
venues: [{{id: v, name: V, desk: {{takes: tails}}, volts_v: {volts}, circuits: [{circuit}]}}]
"""


@pytest.mark.published("NEC 80 % rule: 15 A at 120 V give 12 A for three hours or more")
def test_eighty_percent_only_where_it_counts() -> None:
    rig = stated(VENUE.format(volts=120, circuit="{id: a, amps_a: 15}"))
    place = place_of(rig.file.venues[0])
    assert float(place.usable_a or 0) == 12
    left = spare_a(place, rack_load(rig))
    assert left == pytest.approx(12 - 90 / 0.6 / 120)
    at_home = place_of(
        stated(VENUE.format(volts=230, circuit="{id: a, amps_a: 16}")).file.venues[0]
    )
    assert float(at_home.usable_a or 0) == 16


@pytest.mark.published("IEC 61008: may trip from half; BS 7671 531.3: 30 % (from memory)")
@pytest.mark.parametrize(("rated", "budget", "may"), [(30, 9, 15), (10, 3, 5), (100, 30, 50)])
def test_residual_current(rated: int, budget: float, may: float) -> None:
    rig = stated(VENUE.format(volts=230, circuit=f"{{id: a, residual_ma: {rated}}}"))
    bounds = residual(place_of(rig.file.venues[0]))
    assert (bounds.budget_ma, bounds.may_trip_ma) == pytest.approx((budget, may))


@pytest.mark.published("IEC 60898-1: C16 may trip from 80 A and surely from 160 A")
def test_rush_counts_at_the_crest() -> None:
    rig = stated(VENUE.format(volts=230, circuit="{id: a, amps_a: 16, breaker: C}"))
    found = rush(place_of(rig.file.venues[0]), peak_a=1)
    assert found is not None
    assert (found.may_trip_a, found.surely_trips_a) == pytest.approx((80 * 2**0.5, 160 * 2**0.5))


@pytest.mark.published("energy balance: 216 Wh at 85 % over the watts, in minutes")
def test_battery_by_hand() -> None:
    rig = stated(
        """
gear:
  - {id: ups, type: ups-rack-1500, unit: 1}
  - {id: router, type: router-wifi-rack, unit: 3}
power: {feeds: [{gear: router, outlet: ups.outlet.1}]}
"""
    )
    (bridge,) = bridges(rig, strip_loads(rig))
    assert bridge.minutes is not None
    assert bridge.minutes.value == pytest.approx(216 * 0.85 / (10 + 20) * 60)
    assert bridge.minutes.low < bridge.minutes.value < bridge.minutes.high
    assert bridge.minutes.provenance == "assumed"


@pytest.mark.published("enclosure handbooks: Q = 5.5 W/(m2 K) A dT, floor left out")
def test_warmth_by_hand() -> None:
    rig = stated(RACK)
    found = warmth(rig, rack_load(rig))
    assert found is not None
    # case-12: 560 x 608 x 600 mm
    area = 2 * (0.56 * 0.608 + 0.6 * 0.608) + 0.56 * 0.6
    assert found.surface_m2 == pytest.approx(area)
    assert found.closed_rise_k is not None
    assert found.closed_rise_k.value == pytest.approx(found.heat_w.value / (5.5 * area))
    assert found.airflow_m3_per_h == pytest.approx(3600 * found.heat_w.value / (1.2 * 1005 * 10))


figures = st.builds(Quantity, st.floats(0, 1e6), st.sampled_from(PROVENANCES))


@given(st.lists(figures, max_size=8))
def test_a_range_holds_its_figure_and_sums_keep_the_weakest(parts: list[Quantity]) -> None:
    whole_ = total(map(likely, parts))
    assert whole_.low <= whole_.value <= whole_.high
    assert whole_.value == pytest.approx(sum(parts))
    ranks = [PROVENANCES.index(part.provenance) for part in parts]
    assert PROVENANCES.index(whole_.provenance) == max(ranks, default=0)


def test_weaker_figures_spread_wider() -> None:
    lows, highs = zip(*(spread_ratio(one) for one in PROVENANCES), strict=True)
    assert list(lows) == sorted(lows, reverse=True)
    assert list(highs) == sorted(highs)
    levels = [spread_db(one) for one in PROVENANCES]
    assert levels == sorted(levels)


@pytest.mark.parametrize(
    "power",
    [
        "power: {volts_v: 0}",
        "power: {volts_v: 230, circuit_a: 0}",
        "venues: [{id: v, name: V, desk: {takes: tails}, circuits: [{id: c, amps_a: 0}]}]",
        "venues: [{id: v, name: V, desk: {takes: tails}, circuits: [{id: c, residual_ma: 0}]}]",
    ],
)
def test_a_supply_of_nothing_is_refused(power: str) -> None:
    """No sum divides by it."""
    with pytest.raises(RigErrors) as refused:
        stated(power)
    assert "above 0 and up to 1,000" in str(refused.value)


def test_the_slowest_of_two_boxes_called_alike_is_waited_for() -> None:
    """The slower stands first: the other, of the same name, does not hide it."""
    alike = RACK.replace("mixer-rack-24,", "mixer-rack-24, name: Box,")
    alike = alike.replace("headphone-amp-4,", "headphone-amp-4, name: Box,")
    alike = alike.replace("step: 2", "step: 1")
    rig = stated(alike)
    load = rack_load(rig)
    (start,) = starts(rig, load)
    found = why_ready(rig, load)
    assert start.ready_s == max(plate(rig, box, "boot_s") for box in ("mixer", "amp")) > 0
    assert found.value == start.ready_s
