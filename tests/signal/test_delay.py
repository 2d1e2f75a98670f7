"""Delays: against every way enumerated, by hand from the library's figures, and by their laws."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.checks.rule import View
from rigproof.physics.delays import air_ms, speed_of_sound_m_per_s
from rigproof.rig.quantity import Quantity
from rigproof.signal import Graph, Hop, Node
from rigproof.signal.chains import Chains
from rigproof.signal.delay import MOUTH_TO_EAR_M, Delays, Way, parallel_comb, sum_ms
from rigproof.signal.figures import Figures
from rigproof.signal.graph import planned
from rigproof.signal.sums import EarSums
from tests.bands import WHOLE, seen, stated, whole
from tests.signal.test_judges import every_path

PLACES = 8
RIG = stated(
    "people: [{id: ana, name: Ana, ears: {earphones: earphones-dual}}]\n"
    "sources: [{id: harp, name: Harp, family: strings, level_dbu: -10}]\n"
)


@st.composite
def meshes(draw: st.DrawFn) -> Graph:
    """A source, some places and an ear, joined forward by hops with delays and gains."""
    pairs = st.tuples(
        st.integers(0, PLACES - 2),
        st.integers(1, PLACES - 1),
        st.integers(0, 40),
        st.integers(-12, 6),
        st.booleans(),
    ).filter(lambda hop: hop[0] < hop[1])
    hops = draw(st.lists(pairs, max_size=14))
    nodes = [Node(f"box.{n}", "box") for n in range(PLACES)]
    nodes[0], nodes[-1] = Node("source:harp", "source"), Node("ear:ana.1", "ear")
    return Graph(
        tuple(nodes),
        tuple(
            Hop(
                a,
                b,
                "ear" if b == PLACES - 1 else "inside",
                gain_db=Quantity(g),
                delay_ms=Quantity(d / 4),
                inverts=i,
            )
            for a, b, d, g, i in hops
        ),
    )


def delays(graph: Graph) -> Delays:
    return Delays(graph, RIG, Chains(graph), Figures(graph, RIG))


@settings(max_examples=300, deadline=None)
@given(meshes())
def test_shortest_and_longest_of_every_way(graph: Graph) -> None:
    times = [
        sum(float(graph.hops[n].delay_ms or 0) for n in path)
        for path in every_path(graph, 0, {PLACES - 1})
    ]
    found = delays(graph).of("harp", "ana")
    if not times:
        assert found is None
        return
    assert found is not None
    assert found.shortest.delay_ms == pytest.approx(min(times))
    assert found.longest.delay_ms == pytest.approx(max(times))
    assert (found.comb is None) == (max(times) - min(times) < 0.02)


@settings(max_examples=200, deadline=None)
@given(meshes())
def test_level_of_every_way_summed(graph: Graph) -> None:
    """The quick sums at an ear against each way's gains multiplied and added as voltages."""
    ratio = sum(
        math.prod(10 ** (float(graph.hops[n].gain_db or 0) / 20) for n in path)
        for path in every_path(graph, 0, {PLACES - 1})
    )
    sums = EarSums(graph, RIG, Chains(graph), Figures(graph, RIG))
    found = sums.ears["ana"].levels_spl
    if ratio == 0:
        assert found == {}
    else:
        earphone_db = 124.7 + 20 * math.log10(0.6**0.5)  # earphones-dual at 0 dBu
        assert found["harp"] == pytest.approx(-10 + 20 * math.log10(ratio) + earphone_db)


@st.composite
def tangles(draw: st.DrawFn) -> Graph:
    """Any hops at all, rings and doubled hops too."""
    place = st.integers(0, PLACES - 1)
    ends = draw(st.lists(st.tuples(place, place, st.booleans()), max_size=16))
    nodes = tuple(Node(f"box.{n}", "box") for n in range(PLACES))
    return Graph(nodes, tuple(Hop(a, b, "inside", open=o) for a, b, o in ends))


@settings(max_examples=300, deadline=None)
@given(tangles())
def test_a_chain_has_one_way_in_all_along(graph: Graph) -> None:
    chains = Chains(graph)
    for node, head in enumerate(chains.head):
        trail = [node]
        while True:
            ways = [h for h in graph.hops if planned(h) and h.end == trail[-1]]
            if len(ways) != 1 or ways[0].start in trail:
                break
            trail.append(ways[0].start)
        alone = not any(planned(h) and h.end == trail[-1] for h in graph.hops)
        assert head == (trail[-1] if alone else -1)
    assert sorted(chains.order) == [n for n, head in enumerate(chains.head) if head >= 0]


@settings(max_examples=200, deadline=None)
@given(tangles())
def test_loops_come_to_an_end(graph: Graph) -> None:
    chains = Chains(graph)
    for end in range(PLACES):
        behind = chains.behind(end)
        feeding = graph.feeding([end])
        assert set(behind.order) <= feeding
        assert len(set(behind.order)) == len(behind.order)


# --- By hand ---

STREAM = """
people: [{{id: ana, name: Ana, ears: {{plug: mixer.phones, earphones: earphones-dual}}}}]
sources: [{{id: s, name: S, family: {family}, player: ana, mic: mic-vocal-dynamic, spl_db: 100}}]
gear:
  - {{id: box, type: stage-box-16x8-network}}
  - {{id: mixer, type: mixer-rack-24}}
  - {{id: card, type: card-network-audio-32, inside: mixer}}
leads: [{{id: slot, type: adapter-card-slot, from: mixer.card, to: card.slot}}]
streams: [{{id: s, from: box.net.tx.1, to: card.net.rx.1{latency}}}]
patch: [{{source: s, plug: box.in.1, channel: 1, gain_db: 20}}]
routes: [{{from: mixer.card.rx.1, to: mixer.ch.1}}]
mixes: [{{id: a, listeners: [ana], bus: 1-2, out: mixer.phones.1-2, sends: [{{from: s}}]}}]
"""
ADC_CH_BUS_MS = 0.4 + 0.1 + 0.1  # stage-box-16x8-network and mixer-rack-24; phones are analogue


def streamed(family: str, latency_ms: float | None) -> View:
    latency = "" if latency_ms is None else f", latency_ms: {latency_ms}"
    return seen(STREAM.format(family=family, latency=latency))


def test_sum_by_hand() -> None:
    (own,) = streamed("voices", 2).delays.own
    assert own.latency.shortest.delay_ms == pytest.approx(ADC_CH_BUS_MS + 2)
    assert own.bone is not None
    assert own.acoustic is not None
    assert own.bone.first_notch_hz == pytest.approx(500 / (ADC_CH_BUS_MS + 2))
    head_ms = 1000 * MOUTH_TO_EAR_M / 343.2
    assert own.acoustic.first_notch_hz == pytest.approx(
        500 / (ADC_CH_BUS_MS + 2 - head_ms), rel=1e-3
    )


@pytest.mark.published("comb filter, acoustics textbooks: first notch at 1 / (2 tau)")
@pytest.mark.parametrize(("late_ms", "hz"), [(1, 500), (2, 250), (3, 167), (4, 125), (6, 83)])
def test_first_notch_of_the_own_voice(late_ms: float, hz: float) -> None:
    (own,) = streamed("voices", late_ms - ADC_CH_BUS_MS).delays.own
    assert own.bone is not None
    assert own.bone.first_notch_hz == pytest.approx(hz, abs=0.5)


@pytest.mark.published("Lester and Boley 2007, AES paper 7198, table 1, in-ear")
@pytest.mark.parametrize(
    ("family", "late_ms", "verdict"),
    [
        ("voices", 1.0, "good"),
        ("voices", 6.5, "fair"),
        ("voices", 6.6, "late"),
        ("drums", 8.0, "good"),
        ("drums", 24.6, "late"),
        ("guitar", 4.5, "good"),
        ("guitar", 14.5, "fair"),
        ("guitar", 14.6, "late"),
        ("bass", 25.0, "fair"),
        ("keys", 27.0, "good"),
        ("keys", 43.1, "late"),
        ("strings", 50.0, "not studied"),
    ],
)
def test_verdict_by_role(family: str, late_ms: float, verdict: str) -> None:
    (own,) = streamed(family, round(late_ms - ADC_CH_BUS_MS, 3)).delays.own
    assert own.verdict == verdict


def test_a_stream_without_a_setting_is_missing() -> None:
    latency = streamed("voices", None).delays.of("s", "ana")
    assert latency is not None
    assert latency.missing == ("the latency of the stream s",)


@pytest.mark.published(
    "comb filter, acoustics textbooks: 20 lg |1 - g|, notches 1 / tau upside down"
)
def test_two_ways_meet() -> None:
    comb = parallel_comb(Way(1.0, 0.0, False), Way(3.0, -10.0, False))
    assert comb is not None
    assert comb.first_notch_hz == pytest.approx(250)
    assert comb.depth_db == pytest.approx(20 * math.log10(1 - 10**-0.5))
    inverted = parallel_comb(Way(1.0, -10.0, False), Way(3.0, 0.0, True))
    assert inverted is not None
    assert inverted.first_notch_hz == pytest.approx(500)
    assert inverted.depth_db == comb.depth_db
    assert parallel_comb(Way(1.0, 0.0, False), Way(1.01, 0.0, False)) is None
    unknown = parallel_comb(Way(1.0, None, False), Way(3.0, 0.0, False))
    assert unknown is not None
    assert unknown.depth_db is None


def test_head_way_is_short() -> None:
    """From memory of head dimensions: 0.15 m are 0.44 ms at 20 degrees C."""
    speed = speed_of_sound_m_per_s(20)
    assert air_ms(distance_m=MOUTH_TO_EAR_M, speed_m_per_s=speed) == pytest.approx(0.44, abs=0.005)


@pytest.mark.parametrize("name", WHOLE)
def test_parts_add_up_to_the_longest_way(name: str) -> None:
    found = whole(name).delays
    for own in found.own:
        parts = found.parts(own.source.id, own.latency.listener)
        assert sum_ms(parts) == pytest.approx(own.latency.longest.delay_ms)
        assert sum_ms(parts).provenance == own.latency.provenance
        assert own.latency.low_ms <= own.latency.shortest.delay_ms <= own.latency.high_ms


@pytest.mark.parametrize("name", WHOLE)
def test_who_hears_has_a_delay_and_nobody_else(name: str) -> None:
    view = whole(name)
    heard = {
        (source, person)
        for person in view.rig.people
        for source in view.arriving.at(view.graph.of_listener(person))
    }
    assert set(view.delays.table) == heard
