"""Mixing products against brute force, spacing, coax, and the control link by hand."""

from itertools import pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.network.airwaves import (
    GUARD_MHZ,
    SPACING_MHZ,
    Carrier,
    air,
    coax_runs,
    meetings,
    neighbours,
    spare_mhz,
)
from rigproof.network.control_link import channel_choices, control_link
from rigproof.rig import RadioLink
from rigproof.rig.ref import PortRef
from tests.bands import stated, whole


def carriers(*steps: int) -> tuple[Carrier, ...]:
    """On a raster of 0.1 MHz, so that sums can be told apart exactly."""
    return tuple(
        Carrier(
            RadioLink(id=f"r{place}", from_=PortRef("t.rf"), to=PortRef("p.rf")), 800 + step / 10
        )
        for place, step in enumerate(sorted(steps))
    )


def brute(values: tuple[int, ...]) -> set[tuple[int, int, int]]:
    """Order, product, carrier hit: in whole steps, all weights tried one by one."""
    found = set()
    for order in (3, 5):
        for size in (2, 3):
            for chosen in permutations(range(len(values)), size):
                for weights in _weights(order, size):
                    at = sum(w * values[c] for w, c in zip(weights, chosen, strict=True))
                    for place, value in enumerate(values):
                        if place not in chosen and abs(at - value) <= round(GUARD_MHZ * 10):
                            found.add((order, at, place))
    return found


def _weights(order: int, size: int) -> list[tuple[int, ...]]:
    if size == 2:
        return [(2, -1)] if order == 3 else [(3, -2)]
    return [(1, 1, -1)] if order == 3 else [(3, -1, -1), (2, 1, -2)]


@settings(deadline=None, max_examples=60)
@given(st.sets(st.integers(0, 90), min_size=2, max_size=6))
def test_meetings_are_those_of_plain_counting(steps: set[int]) -> None:
    row = carriers(*steps)
    values = tuple(round((one.mhz - 800) * 10) for one in row)
    places = {one.link.id: place for place, one in enumerate(row)}
    mine = {
        (one.order, round((one.at_mhz - 800) * 10), places[one.hits.link.id])
        for one in meetings(row)
    }
    assert mine == brute(values)


def test_the_formula_gives_its_own_product() -> None:
    for one in meetings(carriers(0, 10, 20, 30)):
        assert eval(one.formula.replace("x", "*")) == pytest.approx(one.at_mhz)


@settings(deadline=None, max_examples=40)
@given(st.sets(st.integers(0, 90), min_size=2, max_size=5))
def test_a_spare_frequency_keeps_its_promise(steps: set[int]) -> None:
    row = carriers(*steps)
    free = spare_mhz(row)
    if free is None:
        return
    assert row[0].mhz < free < row[-1].mhz
    assert all(abs(free - one.mhz) >= SPACING_MHZ - 1e-6 for one in row)
    third = {m for m in meetings(row) if m.order == 3}
    more = carriers(*steps, round((free - 800) * 10))
    assert len([m for m in meetings(more) if m.order == 3]) == len(third)


def test_spacing() -> None:
    assert [n.spacing_mhz for n in neighbours(carriers(0, 3, 7, 11))] == [0.3]


@pytest.mark.parametrize("name", ["demo", "twelve"])
def test_the_rigs_that_ship_have_a_whole_and_clean_set(name: str) -> None:
    found = air(whole(name).rig)
    assert found.unknown == ()
    assert found.meetings == ()
    assert found.near == ()
    assert found.all_counted


@pytest.mark.published("cable loss appendix: RG-58 has 38.55 dB per 100 m at 450 MHz, plugs 0.5 dB")
def test_coax_by_hand() -> None:
    rig = stated(
        """
gear:
  - {id: t, type: transmitter-ears}
  - {id: p, type: pack-wireless}
  - {id: c, type: antenna-combiner-4}
leads: [{id: coax, type: lead-antenna, from: t.rf, to: c.in.1, length_m: 8}]
radio: [{id: a, from: t.rf, to: p.rf, frequency_mhz: 450}]
"""
    )
    (run,) = coax_runs(rig)
    assert run.loss_db == pytest.approx(4.08, abs=0.02)


LINK = "gear: [{id: r, type: router-wifi}]\ncontrol: {band: 2.4 GHz, access_point: r, %s}\n"


@pytest.mark.published("Friis: 30 m at 2437 MHz are 69.7 dB; a body takes 20 dB")
def test_the_link_budget_by_hand() -> None:
    words = "farthest_m: 30, through_audience: true, antenna_up_m: 1, power_dbm: 20"
    link = control_link(stated(LINK % words))
    assert link is not None
    assert link.received_dbm is not None
    assert link.received_dbm.low == pytest.approx(20 + 0 + 2 - 69.7 - 20, abs=0.05)
    assert link.received_dbm.high == pytest.approx(20 + 0 + 2 - 69.7 - 6, abs=0.05)
    over = control_link(stated(LINK % words.replace("antenna_up_m: 1", "antenna_up_m: 3")))
    assert over is not None
    assert over.received_dbm is not None
    assert over.received_dbm.low == over.received_dbm.high


def test_what_is_not_stated_is_asked_for() -> None:
    link = control_link(stated(LINK % "wired_fallback: true"))
    assert link is not None
    assert link.received_dbm is None
    assert link.missing == ("farthest_m under control", "through_audience under control")


@pytest.mark.published("IEEE 802.11: channels 1, 6 and 11 are 25 MHz apart and 20 wide")
def test_channels_to_try_do_not_touch() -> None:
    for band in ("2.4 GHz", "5 GHz", "6 GHz"):
        row = channel_choices(stated((LINK % "wired_fallback: true").replace("2.4 GHz", band)))
        edges = sorted(choice.edges_mhz for choice in row)
        assert all(one[1] <= after[0] for one, after in pairwise(edges))
