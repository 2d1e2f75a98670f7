from pathlib import Path

import pytest

from rigproof.checks.verdict import check
from rigproof.rigfile.load import load
from tests.checks.looking import findings, says


@pytest.mark.published("ANSI/TIA-568 / ISO/IEC 11801: copper channel of 100 m, cords included")
@pytest.mark.parametrize(("length_m", "too_long"), [(100, False), (101, True)])
def test_copper_limit(length_m: int, too_long: bool) -> None:
    text = f"""
gear:
  - {{id: mixer, type: mixer-rack-24}}
  - {{id: box, type: stage-box-16x8}}
leads:
  - id: l
    type: lead-network-locking
    from: box.link
    to: mixer.link
    length_m: {length_m}
"""
    found = findings("network.lead-too-long", text)
    assert [f.limit for f in found] == ([100.0] if too_long else [])


def test_a_stream_to_the_house_is_the_house_s_to_join() -> None:
    text = """
gear: [{id: card, type: card-network-audio-32}]
streams: [{id: s, from: card.net.tx.1-8, to: house.1-8}]
"""
    assert says("network.stream-without-way", text) == []


def test_control_alone_on_an_energy_saving_switch_is_nobody_s_business() -> None:
    text = """
gear:
  - {id: mixer, type: mixer-rack-24}
  - {id: switch, type: switch-5-saving}
leads: [{id: c, type: lead-network-plain, from: mixer.control, to: switch.port.1}]
"""
    assert says("network.energy-saving-switch", text) == []
    assert says("network.control-on-audio", text) == []


def test_a_plain_switch_for_audio_only_floods_nobody_else() -> None:
    text = """
gear:
  - {id: card, type: card-network-audio-32}
  - {id: rec, type: recorder-32}
  - {id: switch, type: switch-8-plain}
leads:
  - {id: a, type: lead-network-locking-plain, from: card.net, to: switch.port.1}
  - {id: b, type: lead-network-locking-plain, from: rec.net, to: switch.port.2}
"""
    assert says("network.multicast-without-filter", text) == []


def test_poe_box_that_is_not_plugged_and_one_that_is() -> None:
    loose = "gear: [{id: wifi, name: Wifi, type: access-point-poe}]\n"
    assert says("network.poe-missing", loose) == [
        "Wifi takes its power from the network lead and is not plugged."
    ]
    hub = """
gear:
  - {id: hub, type: hub-16}
  - {id: pm, type: personal-mixer-16}
leads: [{id: a, type: lead-network-locking, from: hub.out.1, to: pm.feed}]
"""
    assert says("network.poe-missing", hub) == []


def test_separate_networks_may_use_separate_subnets() -> None:
    text = """
gear:
  - {id: mixer, type: mixer-rack-24, address: 10.47.3.10}
  - {id: rx, type: receiver-mic-dual, address: 10.88.4.11}
"""
    assert says("address.other-subnet", text) == []


def test_the_odd_one_out_is_the_one_named() -> None:
    text = """
gear:
  - {id: rx, name: Receiver, type: receiver-mic-dual, address: 10.47.4.11}
  - {id: router, name: Router, type: router-wifi, address: 10.47.3.1}
  - {id: mixer, name: Mixer, type: mixer-rack-24, address: 10.47.3.10}
leads:
  - {id: a, type: lead-network-plain, from: mixer.control, to: router.port.1}
  - {id: b, type: lead-network-plain, from: rx.control, to: router.port.2}
"""
    assert says("address.other-subnet", text) == [
        "Receiver (10.47.4.11) is on another subnet than Router (10.47.3.1), on the same network."
    ]


@pytest.mark.parametrize(
    ("address", "common"),
    [("192.168.1.9", True), ("10.0.0.9", True), ("10.0.1.9", False), ("192.168.10.9", False)],
)
def test_common_ranges(address: str, common: bool) -> None:
    text = f"gear: [{{id: mixer, type: mixer-rack-24, address: {address}}}]\n"
    assert bool(says("address.common-range", text)) == common


def test_what_is_not_said_of_the_control_stays_unknown() -> None:
    text = "gear: [{id: r, type: router-wifi}]\ncontrol: {access_point: r}\n"
    for identifier in ("control.crowded-band", "control.no-wire"):
        assert [f.severity for f in findings(identifier, text)] == ["unknown"]
    assert says("control.no-wire", "gear: []\n") == []


@pytest.mark.parametrize(
    ("speed_mbps", "fix"),
    [
        (10_000, "Take a lead of cat 6a or better."),
        (100_000, "No twisted pair carries that: join them by fibre."),
    ],
)
def test_sockets_too_fast_for_an_old_lead(tmp_path: Path, speed_mbps: int, fix: str) -> None:
    (tmp_path / "gear").mkdir()
    (tmp_path / "gear" / "own.yaml").write_text(
        f"""\
format: 1
types:
  - id: fast
    name: Fast switch
    class: switch
    ports: [{{id: port, count: 2, way: both, connector: rj45-f, carries: network,
             speed_mbps: {speed_mbps}}}]
""",
        "utf-8",
    )
    (tmp_path / "rig.yaml").write_text(
        """\
format: 1
rig: {name: Example}
gear: [{id: one, type: fast}, {id: two, type: fast}]
leads: [{id: l, type: lead-network-old, from: one.port.1, to: two.port.1, length_m: 20}]
""",
        "utf-8",
    )
    found = [one for one in check(load(tmp_path)).findings if one.rule == "network.lead-class"]
    assert [(one.found, one.limit, one.fix) for one in found] == [(100, speed_mbps, fix)]
