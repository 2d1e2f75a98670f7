from rigproof.network import addressed, cabling, subnet
from rigproof.rigfile.load import parse

HEAD = "format: 1\nrig: {name: Example}\n"

RING_OF_SWITCHES = """
gear:
  - {id: card, type: card-network-audio-32}
  - {id: recorder, type: recorder-32}
  - {id: far, type: switch-8-managed}
  - {id: near, type: switch-8-managed}
  - {id: third, type: switch-8-managed}
leads:
  - {id: a, type: lead-network-locking-plain, from: card.net, to: near.port.1}
  - {id: b, type: lead-network-plain, from: near.port.2, to: third.port.1}
  - {id: c, type: lead-network-plain, from: third.port.2, to: far.port.1}
  - {id: d, type: lead-network-plain, from: far.port.2, to: near.port.3}
  - {id: e, type: lead-network-locking-plain, from: recorder.net, to: far.port.3}
"""


def test_a_stream_takes_the_fewest_leads() -> None:
    cables = cabling(parse((HEAD + RING_OF_SWITCHES).encode()))
    way = cables.way("card", "recorder")
    assert way is not None
    assert [link.lead.id for link in way] == ["a", "d", "e"]
    back = cables.way("recorder", "card")
    assert back is not None
    assert [link.lead.id for link in back] == ["e", "d", "a"]


def test_a_box_with_one_network_socket_hands_nothing_on() -> None:
    rig = parse(
        (
            HEAD
            + """
gear:
  - {id: a, type: recorder-32}
  - {id: b, type: converter-mic-8-network}
  - {id: c, type: recorder-32}
leads:
  - {id: one, type: lead-network-locking, from: a.net, to: b.net}
"""
        ).encode()
    )
    assert cabling(rig).way("a", "b") is not None
    assert cabling(rig).way("a", "c") is None


def test_many_leads_in_one_entry_are_told_apart() -> None:
    rig = parse(
        (
            HEAD
            + """
gear:
  - {id: near, type: switch-8-managed}
  - {id: far, type: switch-8-managed}
leads: [{id: trunk, type: lead-network-plain, from: near.port.7-8, to: far.port.1-2}]
"""
        ).encode()
    )
    assert [(link.start.key, link.end.key) for link in cabling(rig).links] == [
        ("near.port.7", "far.port.1"),
        ("near.port.8", "far.port.2"),
    ]


def test_a_control_lead_carries_no_stream() -> None:
    rig = parse(
        (
            HEAD
            + """
gear:
  - {id: mixer, type: mixer-rack-24}
  - {id: other, type: mixer-rack-24}
leads: [{id: ctl, type: lead-network-plain, from: mixer.control, to: other.control}]
"""
        ).encode()
    )
    assert cabling(rig).way("mixer", "other") is None


def test_usual_netmask_is_assumed_and_says_so() -> None:
    rig = parse(
        (
            HEAD
            + """
gear:
  - {id: mixer, type: mixer-rack-24, address: 10.47.3.10}
  - {id: rx, type: receiver-mic-dual, address: 10.47.3.11, netmask: 255.255.0.0}
"""
        ).encode()
    )
    mixer, receiver = addressed(rig)
    assert (mixer.subnet, mixer.assumed_mask) == ("10.47.3.0", True)
    assert (receiver.subnet, receiver.assumed_mask) == ("10.47.0.0", False)


def test_subnet() -> None:
    assert subnet("192.168.77.130", "255.255.255.192") == "192.168.77.128"
