import pytest

from rigproof.mains import fit, hungry, outlets, sequence, supplies
from rigproof.mains.outlets import watts_known
from rigproof.rig import Rig
from rigproof.rig.connectors import Connector
from rigproof.rigfile.load import parse

RACK = """format: 1
rig: {name: Example}
case: {type: case-12}
gear:
  - {id: filter, type: conditioner-c13, unit: 1}
  - {id: strip, type: strip-c13-8, unit: 2, face: rear}
  - {id: mixer, type: mixer-rack-24, unit: 3}
  - {id: amp, type: headphone-amp-4, unit: 7}
  - {id: laptop, type: laptop, place: stage}
  - {id: split, type: splitter-transformer-8, unit: 8}
power:
  feeds:
    - {gear: strip, outlet: filter.outlet.8, step: 1}
    - {gear: mixer, outlet: filter.outlet.1, step: 1}
    - {gear: amp, outlet: strip.outlet.2, step: 2}
"""


@pytest.fixture
def rack() -> Rig:
    return parse(RACK.encode())


def test_every_outlet_with_its_place_and_load(rack: Rig) -> None:
    found = {outlet.key: outlet for outlet in outlets(rack)}
    assert len(found) == 8 + 1 + 8
    assert found["filter.front"].reached == "front"
    assert found["filter.outlet.1"].reached == found["strip.outlet.2"].reached == "inside"
    assert [feed.gear for feed in found["strip.outlet.2"].feeds] == ["amp"]
    assert sum(not outlet.free for outlet in found.values()) == 3


def test_the_way_of_the_mains(rack: Rig) -> None:
    ways = {supply.gear: supply.through for supply in supplies(rack)}
    assert ways == {
        "filter": (),
        "strip": ("filter",),
        "mixer": ("filter",),
        "amp": ("filter", "strip"),
    }


def test_a_ring_of_strips_is_told_and_ends() -> None:
    rig = parse(RACK.replace("gear: mixer, outlet: filter", "gear: filter, outlet: strip").encode())
    assert {s.gear for s in supplies(rig) if s.ring} == {"filter", "strip", "amp"}


def test_who_needs_mains_in_the_case(rack: Rig) -> None:
    """Not the passive split, not what stands on stage, not the strips."""
    assert [gear.id for gear in hungry(rack)] == ["mixer", "amp"]


def test_order_of_switching_on(rack: Rig) -> None:
    assert [(step.step, step.gear) for step in sequence(rack)] == [
        (1, ("strip", "mixer")),
        (2, ("amp",)),
    ]


def test_watts_are_summed_with_their_provenance(rack: Rig) -> None:
    """mixer-rack-24: 70 W; headphone-amp-4: 12 W."""
    total, silent = watts_known(rack)
    assert (float(total), total.provenance, silent) == (82.0, "typical", ())


@pytest.mark.published("IEC 60320-1: C14 into C13, C8 into C7, C20 into C19")
@pytest.mark.parametrize(
    ("outlet", "inlet"),
    [("iec-c13", "iec-c14"), ("cee-7-3", "iec-c14"), ("cee-7-3", "iec-c8"), ("iec-c19", "iec-c20")],
)
def test_a_lead_is_sold(outlet: Connector, inlet: Connector) -> None:
    assert fit(outlet, inlet) == "lead"


def test_own_cord_and_no_way() -> None:
    assert fit("cee-7-3", "cee-7-7") == "direct"
    assert fit("bs-1363-f", "cee-7-7") == "none"
    assert fit("iec-c13", "nema-5-15-m") == "none"
    # Pins against pins: such a lead would have live pins at its free end.
    assert fit("mains-twist-m", "mains-twist-m") == "none"
