"""The second network socket of a box: a network of its own, or a way on to the next box."""

import pytest

from rigproof.checks.catalogue import rule
from rigproof.checks.rule import Finding, View
from rigproof.network.traffic import flows, socket_loads
from rigproof.whatif import failures
from tests.bands import seen, stated

TWICE = """
people: [{id: ann, name: Ann, ears: {plug: mixer.phones}}]
sources: [{id: voice, name: Voice, family: voices, player: ann, mic: mic-vocal-dynamic}]
gear:
  - {id: mixer, name: Mixer, type: mixer-rack-16}
  - {id: card, name: Card, type: card-network-audio-32, inside: mixer}
  - {id: box, name: Stage box, type: stage-box-16x8-network, place: stage}
  - {id: one, name: Switch one, type: switch-8-managed}
  - {id: two, name: Switch two, type: switch-8-managed}
leads:
  - {id: slot, type: adapter-card-slot, from: mixer.card, to: card.slot}
  - {id: box-one, type: lead-network-locking-plain, from: box.net, to: one.port.1}
  - {id: box-two, type: lead-network-locking-plain, from: box.net-second, to: two.port.1}
  - {id: card-one, type: lead-network-locking-plain, from: card.net, to: one.port.2}
  - {id: card-two, type: lead-network-locking-plain, from: card.net-second, to: two.port.2}
patch: [{source: voice, plug: box.in.1, channel: 17}]
streams: [{id: stage, from: box.net.tx.1-16, to: card.net.rx.1-16}]
mixes: [{id: ann, listeners: [ann], stereo: true, sends: [{from: voice}]}]
"""
# The same box set the other way: a second box hangs behind it.
BEHIND = """
people: [{id: ann, name: Ann, ears: {plug: mixer.phones}}]
sources: [{id: voice, name: Voice, family: voices, player: ann, mic: mic-vocal-dynamic}]
gear:
  - {id: mixer, name: Mixer, type: mixer-rack-16}
  - {id: card, name: Card, type: card-network-audio-32, inside: mixer}
  - {id: near, name: Near, type: stage-box-16x8-network, place: stage, second_socket: through}
  - {id: far, name: Far, type: stage-box-16x8-network, place: stage}
leads:
  - {id: slot, type: adapter-card-slot, from: mixer.card, to: card.slot}
  - {id: behind, type: lead-network-locking, from: far.net, to: near.net-second}
  - {id: before, type: lead-network-locking, from: near.net, to: card.net}
patch: [{source: voice, plug: far.in.1, channel: 17}]
streams: [{id: stage, from: far.net.tx.1-16, to: card.net.rx.1-16}]
mixes: [{id: ann, listeners: [ann], stereo: true, sends: [{from: voice}]}]
"""


def findings(view: View, name: str) -> list[Finding]:
    found = rule(name)
    assert found is not None
    return list(found.findings(view))


def silencers(text: str) -> set[str]:
    """The single failures after which Ann no longer hears the voice."""
    view = seen(text)
    return {
        one.suspect.name
        for one in failures(view.rig, view.graph, view.lanes, view.lines)
        if "voice" in (one.losses["ann"].sources if "ann" in one.losses else ())
    }


def test_either_network_is_enough() -> None:
    both = silencers(TWICE)
    assert {"box", "card", "mixer", "stage"} <= both
    assert both.isdisjoint({"one", "two", "box-one", "box-two", "card-one", "card-two"})


@pytest.mark.parametrize("gone", ["box-two", "card-two"])
def test_with_one_of_them_laid_each_part_counts(gone: str) -> None:
    lines = [line for line in TWICE.splitlines() if f"id: {gone}," not in line]
    single = silencers("\n".join(lines))
    assert {"one", "box-one", "card-one"} <= single
    assert "two" not in single


def test_packets_do_not_cross_from_one_network_to_the_other() -> None:
    # The box on the first network only, the card on the second only: two networks, no way.
    lines = [x for x in TWICE.splitlines() if "id: box-two," not in x and "id: card-one," not in x]
    view = seen("\n".join(lines))
    assert findings(view, "network.stream-without-way")
    assert not findings(seen(TWICE), "network.stream-without-way")


def test_both_networks_carry_the_whole_load() -> None:
    rig = stated(TWICE)
    (flow,) = found = flows(rig)
    loads = {load.socket: load.filtered_mbps for load in socket_loads(rig, found)}
    assert loads["box.net"] == loads["box.net-second"] == flow.mbps > 10


def test_a_box_that_hands_on_takes_the_one_behind_it_along() -> None:
    assert {"near", "far", "behind", "before"} <= silencers(BEHIND)
    assert not findings(seen(BEHIND), "network.stream-without-way")
    # As its type has it, nothing passes.
    redundant = BEHIND.replace(", second_socket: through", "")
    assert findings(seen(redundant), "network.stream-without-way")
