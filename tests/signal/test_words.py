"""Places in words: what the file names so, people read so."""

from pathlib import Path

import pytest

from rigproof.checks.rule import look
from rigproof.patch import complete
from rigproof.rig import Rig
from rigproof.rigfile.load import load, parse
from rigproof.signal import words

RIG = """\
format: 1
rig: {name: Words}
people: [{id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: earphones-dual}}]
sources:
  - {id: voice, name: Lead voice, family: voices, mic: mic-vocal-dynamic, player: ana}
  - {id: keys, name: Keys, family: keys, stereo: true, di: di-passive-stereo}
groups: [{id: both, name: All of it, sources: [voice, keys]}]
gear:
  - {id: a, name: Split A, type: splitter-transformer-8}
  - {id: b, type: splitter-transformer-8}
  - {id: c, type: splitter-panel-8}
  - {id: d, type: splitter-transformer-8}
  - {id: desk, name: Mixer, type: mixer-rack-16}
  - {id: amp, type: headphone-amp-4}
  - {id: fan, name: Fan, type: splitter-transformer-16-multipin}
leads:
  - {id: ours, type: lead-xlr, from: a.direct.1-8, to: desk.in.1-8}
patch: [{source: voice, plug: a.in.3, channel: 3}, {source: keys, plug: a.in.4-5, channel: 5-6}]
"""


@pytest.fixture(scope="module")
def rig() -> Rig:
    return parse(RIG.encode())


@pytest.mark.parametrize(
    ("key", "reads"),
    [
        ("a.in.3", "Split A, in 3"),
        ("a.in.3-4", "Split A, in 3-4"),
        ("a.in", "Split A, in"),
        ("b.iso.2", "Splitter (b), iso 2"),  # another one is called so
        ("d.iso.2", "Splitter (d), iso 2"),
        ("c.second.1", "Split panel, second 1"),
        ("a.coil.3", "Split A, transformer 3"),
        ("desk.link", "Mixer, link"),
        ("desk.link.rx.17", "Mixer, link receiving 17"),
        ("desk.feed.3", "Mixer, feed 3"),
        ("desk.ch.3", "Mixer, channel 3"),
        ("amp.phones.1.2", "Headphone amplifier, phones 1 (lane 2)"),
        ("amp.in.1", "Headphone amplifier, in 1"),
        ("fan.iso.5", "Fan, iso 5"),
        ("house.3", "the house, line 3"),
        ("house.1-8", "the house, lines 1-8"),
        ("source:voice", "Lead voice"),
        ("source:keys.2", "Keys R"),
        ("ear:ana.1", "Ana, left ear"),
        ("wedge:ana", "Ana, wedge"),
        ("voice/mic.out", "Lead voice microphone, out"),
        ("keys/di.in.2", "Keys DI box, in 2"),
    ],
)
def test_a_place(rig: Rig, key: str, reads: str) -> None:
    assert words.place(rig, key) == reads


def test_places_of_one_bank_are_told_together(rig: Rig) -> None:
    keys = ["a.in.1", "desk.in.4", "a.in.3", "a.in.2"]
    assert words.places(rig, keys) == "Split A, in 1-3 and Mixer, in 4"
    assert words.places(rig, ["ear:ana.1", "ear:ana.2"]) == "Ana, left and right ear"
    assert words.places(rig, ["source:keys.1", "source:keys.2"]) == "Keys"
    lanes = ["amp.phones.1.1", "amp.phones.1.2", "amp.phones.2.1"]
    assert words.places(rig, lanes) == "Headphone amplifier, phones 1 (lanes 1-2) and 2 (lane 1)"


def test_a_group_a_person_and_whoever_is_not_here(rig: Rig) -> None:
    assert words.source(rig, "both") == "All of it"
    assert words.person(rig, "ana") == "Ana"
    assert words.person(rig, "bo") == "bo"


def test_a_way_leaves_out_the_sources_own_microphone(rig: Rig) -> None:
    graph = complete(rig).graph
    ends = [graph.index["desk.ch.3"]]
    path = graph.shortest(graph.of_source("voice"), ends) or ()
    assert words.way_words(rig, graph, path) == (
        "Lead voice",
        "Split A, in 3",
        "Split A, direct 3",
        "Mixer, in 3",
        "Mixer, preamp 3",
        "Mixer, converter (adc) 3",
        "Mixer, channel 3",
    )
    assert words.way_words(rig, graph, ()) == ()


def test_every_place_of_a_graph_has_words_of_its_own(rig: Rig) -> None:
    told: dict[str, str] = {}
    for node in complete(rig).graph.nodes:
        if ".?" not in node.key:
            reads = words.place(rig, node.key)
            assert told.setdefault(reads, node.key) == node.key


@pytest.mark.parametrize("name", ["src/rigproof/demo", "examples/trio", "examples/twelve"])
def test_every_place_of_the_rigs_that_ship_has_words(name: str) -> None:
    view = look(load(Path(__file__).parent.parent.parent / name))
    for node in view.graph.nodes:
        if ".?" not in node.key:  # a crossing inside a box is nobody's place
            assert words.place(view.rig, node.key).strip()
