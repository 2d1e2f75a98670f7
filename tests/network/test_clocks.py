"""Clock domains, held against a plain merge of sets that knows nothing of the program's way."""

from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.network import digital_ways, domains, ring
from rigproof.rig import Clock, Rig
from rigproof.rig.quantity import Hertz
from rigproof.rigfile.load import parse

HEAD = "format: 1\nrig: {name: Example}\n"


def rig_of(text: str) -> Rig:
    return parse((HEAD + text).encode())


def parts(boxes: list[str], joins: list[tuple[str, str]]) -> set[frozenset[str]]:
    """Merge sets until nothing changes: slow, and plainly right."""
    sets = [{box} for box in boxes]
    changed = True
    while changed:
        changed = False
        for one, other in joins:
            first = next(s for s in sets if one in s)
            second = next(s for s in sets if other in s)
            if first is not second:
                first |= second
                sets.remove(second)
                changed = True
    return {frozenset(s) for s in sets if len(s) > 1}


@st.composite
def patchwork(draw: st.DrawFn) -> tuple[int, int, list[tuple[int, int]], list[tuple[int, int]]]:
    """Interfaces with word clock between some, recorders on some switches."""
    interfaces = draw(st.integers(2, 7))
    switches = draw(st.integers(1, 3))
    wires = draw(
        st.lists(st.tuples(st.integers(0, interfaces - 1), st.integers(0, interfaces - 1)))
    )
    plugs = draw(st.lists(st.tuples(st.integers(0, 5), st.integers(0, switches - 1)), max_size=6))
    return interfaces, switches, wires, plugs


@settings(max_examples=60, deadline=None)
@given(patchwork())
def test_domains_are_the_connected_parts(
    drawn: tuple[int, int, list[tuple[int, int]], list[tuple[int, int]]],
) -> None:
    interfaces, switches, wires, plugs = drawn
    gear = [f"{{id: i{n}, type: interface-8x8}}" for n in range(interfaces)]
    gear += [f"{{id: r{n}, type: recorder-32}}" for n in range(6)]
    gear += [f"{{id: s{n}, type: switch-8-managed}}" for n in range(switches)]
    leads: list[str] = []
    joins: list[tuple[str, str]] = []
    on: dict[str, int] = {}
    for n, (a, b) in enumerate((a, b) for a, b in wires if a != b):
        leads.append(f"{{id: w{n}, type: lead-word-clock, from: i{a}.clock, to: i{b}.clock}}")
        joins.append((f"i{a}", f"i{b}"))
    for recorder, switch in plugs:
        if f"r{recorder}" in on:
            continue
        socket = sum(s == switch for s in on.values()) + 1
        on[f"r{recorder}"] = switch
        leads.append(
            f"{{id: n{recorder}, type: lead-network-locking-plain, from: r{recorder}.net, "
            f"to: s{switch}.port.{socket}}}"
        )
    joins += [(a, b) for a, s in on.items() for b, t in on.items() if s == t and a != b]
    rig = rig_of(f"gear: [{', '.join(gear)}]\nleads: [{', '.join(leads)}]\n")
    boxes = [f"i{n}" for n in range(interfaces)] + [f"r{n}" for n in range(6)]
    assert {frozenset(d.boxes) for d in domains(rig)} == parts(boxes, joins)


def test_a_rate_converter_at_the_input_parts_two_clocks() -> None:
    text = """
gear:
  - {{id: player, type: converter-aes3-network}}
  - {{id: card, type: card-network-audio-32}}
  - {{id: box, type: {type}}}
leads:
  - {{id: net, type: lead-network-locking, from: player.net, to: card.net}}
  - {{id: aes, type: lead-aes3, from: player.out.1, to: box.in{number}}}
"""
    plain = domains(rig_of(text.format(type="converter-aes3-line", number="")))
    assert {d.boxes for d in plain} == {("player", "card", "box")}
    converting = domains(rig_of(text.format(type="converter-aes3-network", number=".1")))
    assert {d.boxes for d in converting} == {("player", "card")}


def test_a_computer_on_two_boxes_joins_no_clocks() -> None:
    rig = rig_of("""
gear:
  - {id: laptop, type: laptop}
  - {id: one, type: interface-8x8}
  - {id: two, type: interface-8x8}
leads:
  - {id: a, type: lead-usb-c-c, from: laptop.usb.1, to: one.usb}
  - {id: b, type: lead-usb-c-c, from: laptop.usb.2, to: two.usb}
""")
    assert domains(rig) == ()


def test_a_clock_lead_works_one_way_only() -> None:
    rig = rig_of("""
gear:
  - {id: master, type: clock-generator}
  - {id: box, type: interface-8x8}
leads: [{id: wc, type: lead-word-clock, from: master.out.1, to: box.clock}]
""")
    ways = digital_ways(rig)
    assert "box" in ways.heard_at("master")
    assert "master" not in ways.heard_at("box")


def test_a_clock_passes_a_switch_and_a_hub_between() -> None:
    rig = rig_of("""
gear:
  - {id: card, type: card-network-audio-32}
  - {id: switch, type: switch-8-managed}
  - {id: next, type: switch-8-managed}
  - {id: recorder, type: recorder-32}
  - {id: laptop, type: laptop}
leads:
  - {id: a, type: lead-network-locking-plain, from: card.net, to: switch.port.1}
  - {id: b, type: lead-network-plain, from: switch.port.2, to: next.port.1}
  - {id: c, type: lead-network-locking-plain, from: recorder.net, to: next.port.2}
  - {id: d, type: lead-network-plain, from: laptop.network, to: next.port.3}
""")
    ways = digital_ways(rig)
    assert "recorder" in ways.heard_at("card")
    assert "card" in ways.heard_at("recorder")
    assert [d.boxes for d in domains(rig)] == [("card", "recorder")]
    assert domains(rig)[0].by_network


@given(st.lists(st.integers(0, 7), min_size=8, max_size=8))
def test_a_ring_is_found_exactly_where_following_never_ends(next_of: list[int]) -> None:
    """Box 0 leads; every other box follows some box."""
    clocks = {
        str(n): Clock(gear=str(n), follows=None if n == 0 else str(far), rate_hz=Hertz(48_000))
        for n, far in enumerate(next_of)
    }
    for start in clocks:
        box, steps = int(start), 0
        while box != 0 and steps < 20:
            box, steps = next_of[box], steps + 1
        found = ring(clocks, start)
        assert bool(found) == (box != 0)
        for one, other in zip(found, (*found[1:], *found[:1]), strict=True):
            assert clocks[one].follows == other
