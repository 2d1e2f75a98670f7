"""Ways on the stage by hand, and the cut list counted another way."""

import pytest

from rigproof.rack import cut_list, lead_ways
from rigproof.rack.leadruns import AT_CASE_M, AT_GEAR_M, AT_MICROPHONE_M
from rigproof.rig.lanes import sockets
from tests.bands import stated, whole

STAGE = """
case: {type: case-12, at_m: [5, 3]}
people: [{id: ada, name: Ada, at_m: [-3, 1]}]
sources:
  - {id: voice, name: Voice, family: voices, player: ada, mic: mic-vocal-dynamic}
gear:
  - {id: hub, type: hub-16, unit: 1}
  - {id: split, type: splitter-transformer-8, unit: 3}
  - {id: pm, type: personal-mixer-16, place: stage, with_person: ada}
leads:
  - {id: l, type: lead-network-locking, from: hub.out.1, to: pm.feed, length_m: 10}
patch: [{source: voice, plug: split.in.1, channel: 1}]
"""


def test_ways_go_at_right_angles_and_down_at_both_ends() -> None:
    lead, plain = lead_ways(stated(STAGE), ())
    assert lead.route_m == pytest.approx(8 + 2 + AT_CASE_M + AT_GEAR_M)
    assert plain.route_m == pytest.approx(8 + 2 + AT_CASE_M + AT_MICROPHONE_M)
    assert lead.needed_m == pytest.approx(1.1 * lead.route_m)
    assert (lead.stock_m, lead.agreed) == (20, True)
    assert lead.short_m == pytest.approx(lead.route_m - 10)


def test_the_worse_side_of_the_stage_counts_where_nobody_agreed() -> None:
    venue = "venues: [{id: v, name: V, desk: {takes: tails}%s}]\n"
    near = STAGE.replace("at_m: [5, 3]", "at_m: [-5, 3]")
    rig = stated(near + venue % "")
    (lead, _) = lead_ways(rig, rig.file.venues)
    assert (lead.case_side, lead.agreed) == ("stage left", False)
    assert lead.route_m == pytest.approx(8 + 2 + AT_CASE_M + AT_GEAR_M)
    agreed = stated(near + venue % ", case_at_m: [-4, 3]")
    (lead, _) = lead_ways(agreed, agreed.file.venues)
    assert (lead.case_side, lead.agreed) == ("stage right", True)
    assert lead.route_m == pytest.approx(1 + 2 + AT_CASE_M + AT_GEAR_M)


@pytest.mark.parametrize("name", ["demo", "trio", "twelve"])
def test_what_is_bought_is_long_enough_and_nothing_shorter_is(name: str) -> None:
    rig = whole(name).rig
    ways = lead_ways(rig, rig.file.venues)
    assert ways
    for way in ways:
        body = rig.types[way.type_id].lead if way.type_id else None
        stock = [float(m) for m in body.stock_m] if body else []
        assert [m for m in stock if m >= way.needed_m][:1] == (
            [] if way.stock_m is None else [way.stock_m]
        )


@pytest.mark.parametrize("name", ["demo", "trio", "twelve"])
def test_every_plug_of_the_cut_list_finds_a_socket(name: str) -> None:
    """Counted from the other end: the sockets that the entries name."""
    rig = whole(name).rig
    found = cut_list(rig)
    wanted = 0
    for lead in rig.file.leads:
        body = rig.types[lead.type].lead
        if body is None or (lead.length_m is not None and float(lead.length_m) == 0):
            continue
        wanted += len(sockets(rig.gear_types, lead.from_, lead.where))
        wanted += len(sockets(rig.gear_types, lead.to, lead.where))
    assert sum(found.plugs.values()) == wanted
    assert sum(found.plugs.values()) == sum(n for cut in found.cuts for _, n in cut.plugs)
    metres = sum(cut.total_m or 0 for cut in found.cuts)
    assert sum(found.metres.values()) == pytest.approx(metres)
