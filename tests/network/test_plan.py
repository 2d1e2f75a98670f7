"""Address plans and clock trees: their laws on every rig, and cases by hand."""

import pytest

from rigproof.network import domains
from rigproof.network.addresses import COMMON_RANGES
from rigproof.network.plan import LEASED, address_plan
from rigproof.network.power_cycle import clock_trees
from tests.bands import stated, whole


@pytest.mark.parametrize("name", ["demo", "trio", "twelve"])
def test_laws_of_an_address_plan(name: str) -> None:
    rig = whole(name).rig
    plan = address_plan(rig)
    assert plan == address_plan(rig)
    everything = [box.proposed for network in plan for box in network.boxes]
    assert everything
    assert len(everything) == len(set(everything))
    ranges = [network.range for network in plan]
    assert len(ranges) == len(set(ranges))
    for network in plan:
        assert not network.range.startswith(COMMON_RANGES)
        for box in network.boxes:
            assert box.proposed.startswith(network.range)
            last = int(box.proposed.rpartition(".")[2])
            assert 0 < last < 255
            assert not LEASED[0] <= last <= LEASED[1]


def test_a_sound_plan_is_kept() -> None:
    assert not any(
        box.changed for network in address_plan(whole("twelve").rig) for box in network.boxes
    )


def test_a_common_range_is_left_and_the_last_numbers_stay() -> None:
    rig = whole("demo").rig
    for network in address_plan(rig):
        for box in network.boxes:
            assert box.stated is not None
            assert box.proposed.rpartition(".")[2] == box.stated.rpartition(".")[2]
            assert box.changed


CLOCKS = """
gear:
  - {id: a, type: card-network-audio-32}
  - {id: b, type: card-network-audio-32}
  - {id: c, type: card-network-audio-32}
  - {id: s, type: switch-8-managed}
leads:
  - {id: la, type: lead-network-locking-plain, from: a.net, to: s.port.1}
  - {id: lb, type: lead-network-locking-plain, from: b.net, to: s.port.2}
  - {id: lc, type: lead-network-locking-plain, from: c.net, to: s.port.3}
clocks:
  - {gear: a, rate_hz: 48000, pinned: true}
  - {gear: b, follows: a, rate_hz: 48000}
  - {gear: c, follows: a, rate_hz: 48000}
"""


@pytest.mark.published("IEEE 1588: without its leader a network elects another by preference")
def test_who_leads_when_a_box_is_off() -> None:
    rig = stated(CLOCKS)
    (tree,) = clock_trees(rig, domains(rig))
    assert (tree.leader, tree.by_network) == ("a", True)
    off = {cycle.off: cycle for cycle in tree.cycles}
    assert (off["a"].leader, off["a"].may_lead) == (None, ("b", "c"))
    assert off["b"].leader == "a"
    assert off["b"].rides_through


def test_followers_over_a_plain_link_are_adrift() -> None:
    for name in ("demo", "twelve"):
        rig = whole(name).rig
        for tree in clock_trees(rig, domains(rig)):
            for cycle in tree.cycles:
                if cycle.off == tree.leader:
                    boxes = {box for box, _ in tree.follows}
                    assert set(cycle.adrift) | set(cycle.may_lead) | {cycle.off} == boxes
                else:
                    assert cycle.leader == tree.leader
