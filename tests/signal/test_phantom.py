"""48 V comes back only by copper, and only from what feeds it in that state."""

from collections.abc import Iterable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.patch import complete
from rigproof.rig import Rig
from rigproof.rig.geartype import Port
from rigproof.rigfile.load import parse
from rigproof.signal import Graph
from rigproof.signal.phantom import PhantomLine, line_ends, need_of, phantom_lines

HAT = "{id: hat, name: Hat, family: drums, mic: mic-small-condenser}"


def rig_of(*, sources: Iterable[str], gear: Iterable[str], patch: str, leads: str = "[]") -> Rig:
    text = (
        "format: 1\nrig: {name: Example}\n"
        f"sources: [{', '.join(sources)}]\ngear: [{', '.join(gear)}]\n"
        f"patch: {patch}\nleads: {leads}\n"
    )
    return parse(text.encode())


def line_of(rig: Rig, source: str = "hat") -> PhantomLine:
    plan = complete(rig)
    return phantom_lines(plan.graph, plan.rig)[source]


SPLIT = "{id: split, type: splitter-transformer-8}"
PARALLEL = "{id: split, type: splitter-panel-8}"
MIXER = "{id: mixer, type: mixer-rack-24}"
ON = '[{source: hat, plug: split.in.3, phantom: "on"}]'


@pytest.mark.published("White paper, Theory And Construction of Mic Splitters, January 2007")
def test_only_the_direct_leg_of_a_transformer_splitter_lets_48_v_back() -> None:
    tail = "{id: tails, type: tails-xlr-8, from: split.%s.1-8, to: house.1-8}"
    direct = line_of(rig_of(sources=[HAT], gear=[SPLIT], patch=ON, leads=f"[{tail % 'direct'}]"))
    isolated = line_of(rig_of(sources=[HAT], gear=[SPLIT], patch=ON, leads=f"[{tail % 'iso'}]"))
    assert direct.feeders("off", "on") == ("house.3",)
    assert isolated.feeders("off", "on") == ()
    assert isolated.blocked == ("split.iso.3",)
    assert isolated.heard_rig_off == ("house.3",)  # the sound does arrive


@pytest.mark.published("http://www.uneeda-audio.com/phantom/split.htm: who supplies phantom?")
def test_both_desks_of_a_parallel_split_can_feed() -> None:
    line = line_of(
        rig_of(
            sources=[HAT],
            gear=[PARALLEL, MIXER],
            patch=ON,
            leads="[{id: a, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8},"
            " {id: b, type: tails-xlr-8, from: split.second.1-8, to: house.1-8}]",
        )
    )
    assert line.feeders("on", "on") == ("mixer.in.3", "house.3")
    assert line.feeders("on", "off") == ("mixer.in.3",)
    assert line.feeders("off", "on") == ("house.3",)


@pytest.mark.published("http://www.uneeda-audio.com/phantom/split.htm: the active splitter feeds")
def test_an_active_splitter_feeds_and_does_not_care_what_the_mixers_do() -> None:
    line = line_of(
        rig_of(
            sources=[HAT],
            gear=["{id: split, type: splitter-active-8}", MIXER],
            patch=ON,
            leads="[{id: a, type: lead-xlr, from: split.out.1-8, to: mixer.in.1-8},"
            " {id: b, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}]",
        )
    )
    assert line.feeders("on", "on") == ("split.in.3",)
    assert line.feeders("booting", "on") == ()


def test_a_silent_rack_feeds_nothing_and_an_unknown_house_everything() -> None:
    line = PhantomLine("hat", "must", feeds=("mixer.in.3",), house=("house.3",))
    states = line.feeders_by_state
    assert states["on", "unknown"] == states["on", "on"] == ("mixer.in.3", "house.3")
    assert states["booting", "off"] == states["off", "off"] == ()
    assert len(states) == 9


def test_one_row_turns_on_the_switch_of_a_whole_bank() -> None:
    rig = rig_of(
        sources=[HAT, "{id: piano, name: Piano, family: keys, mic: mic-ribbon}"],
        gear=["{id: mixer, type: mixer-analogue-16}"],
        patch='[{source: hat, plug: mixer.in.1, phantom: "on"}, {source: piano, plug: mixer.in.2}]',
    )
    assert line_of(rig, "piano").feeds == ("mixer.in.2",)
    assert line_of(rig, "piano").need == "never"


def test_a_blocking_plug_in_a_lead_stops_48_v() -> None:
    rig = rig_of(
        sources=[HAT],
        gear=[SPLIT, MIXER],
        patch=ON,
        leads="[{id: a, type: adapter-xlr-block, from: split.direct.1-8, to: mixer.in.1-8}]",
    )
    assert line_of(rig).could_feed == ()
    assert line_of(rig).blocked == ("split.direct.3",)


@pytest.mark.parametrize(
    ("source", "need"),
    [
        ("mic: mic-small-condenser", "must"),
        ("mic: mic-vocal-dynamic", "tolerates"),
        ("mic: mic-ribbon", "never"),
        ("mic: mic-ribbon, phantom: tolerates", "tolerates"),
        ("di: di-active, balanced: false", "must"),
        ("di: di-passive, connector: jack-ts-f", "tolerates"),
        ("connector: jack-ts-f", "never"),
        ("balanced: false", "never"),
        ("connector: jack-trs-f", None),
        ("connector: xlr-m, balanced: true", None),
    ],
)
def test_what_a_source_wants(source: str, need: str | None) -> None:
    rig = rig_of(
        sources=[f"{{id: one, name: One, family: keys, {source}}}"], gear=[MIXER], patch="[]"
    )
    assert need_of(rig, rig.sources["one"]) == need


# An independent judge: from every input backwards, one plain recursive walk, no sharing.


def judged(graph: Graph, rig: Rig) -> dict[str, set[str]]:
    """Source -> inputs and tails from which direct current gets back to where its line begins."""
    back: dict[int, list[int]] = {}
    for hop in graph.hops:
        if hop.phantom and not hop.open:
            back.setdefault(hop.end, []).append(hop.start)

    def upstream(node: int, seen: set[int]) -> set[int]:
        seen.add(node)
        for start in back.get(node, ()):
            if start not in seen:
                upstream(start, seen)
        return seen

    ends = line_ends(graph, rig)
    found: dict[str, set[str]] = {name: set() for name in ends}
    for number, node in enumerate(graph.nodes):
        feeds = (
            isinstance(node.bank, Port) and node.bank.way == "in" and node.bank.phantom != "none"
        )
        if feeds or node.gear == "house":
            got = upstream(number, set())
            for name, nodes in ends.items():
                if got & set(nodes):
                    found[name].add(node.key)
    return found


@st.composite
def leads(draw: st.DrawFn) -> list[str]:
    """Legs of two splitters of different kinds to inputs and tails, each socket used once."""
    legs = [f"{box}.{leg}.{n}" for box, leg in _LEGS for n in range(1, 4)]
    ends = [
        *(f"mixer.in.{n}" for n in range(1, 7)),
        *(f"box.in.{n}" for n in range(1, 5)),
        *(f"active.in.{n}" for n in range(4, 7)),
        *(f"house.{n}" for n in range(1, 7)),
    ]
    pairs = zip(draw(st.permutations(legs)), draw(st.permutations(ends)), strict=False)
    kinds = st.sampled_from(["lead-xlr", "lead-xlr", "lead-xlr", "adapter-xlr-block"])
    count = draw(st.integers(0, 12))
    return [
        f"{{id: l{n}, type: {draw(kinds)}, from: {leg}, to: {end}}}"
        for n, (leg, end) in enumerate(list(pairs)[:count])
    ]


_LEGS = (
    ("coil", "direct"),
    ("coil", "iso"),
    ("plain", "direct"),
    ("plain", "second"),
    ("active", "link"),
    ("active", "out"),
)
_BOXES = (
    "{id: coil, type: splitter-transformer-8}",
    "{id: plain, type: splitter-panel-8}",
    "{id: active, type: splitter-active-8}",
    MIXER,
    "{id: box, type: stage-box-8x8}",
)


def drawn(leads: list[str]) -> Rig:
    plugs = [f"{box}.in.{n}" for box in ("coil", "plain", "active") for n in range(1, 4)]
    sources = [
        f"{{id: s{n}, name: S{n}, family: drums, mic: mic-small-condenser}}"
        for n in range(len(plugs))
    ]
    patch = ", ".join(
        f'{{source: s{n}, plug: {plug}, phantom: "{"on" if n % 2 else "off"}"}}'
        for n, plug in enumerate(plugs)
    )
    return rig_of(sources=sources, gear=_BOXES, patch=f"[{patch}]", leads=f"[{', '.join(leads)}]")


@settings(max_examples=60, deadline=None)
@given(leads())
def test_a_plain_search_from_the_other_end_finds_the_same_feeders(leads: list[str]) -> None:
    plan = complete(drawn(leads))
    judge = judged(plan.graph, plan.rig)
    for name, line in phantom_lines(plan.graph, plan.rig).items():
        assert {*line.feeds, *line.could_feed, *line.house} == judge[name]
        assert set(line.house_rig_off) <= set(line.house)


@settings(max_examples=40, deadline=None)
@given(leads(), st.data())
def test_an_isolated_leg_never_adds_a_feeder(leads: list[str], data: st.DataObject) -> None:
    used = {word.strip("{},") for lead in leads for word in lead.split()}
    free = [f"coil.iso.{n}" for n in range(1, 9) if f"coil.iso.{n}" not in used]
    leg = data.draw(st.sampled_from(free))
    more = f"{{id: more, type: lead-xlr, from: {leg}, to: house.99}}"
    before = _feeders(drawn(leads))
    assert _feeders(drawn([*leads, more])) == before


@settings(max_examples=40, deadline=None)
@given(leads())
def test_a_lead_only_ever_adds_feeders(leads: list[str]) -> None:
    fewer, all_of_them = _feeders(drawn(leads[:-1])), _feeders(drawn(leads))
    assert all(fewer[name] <= all_of_them[name] for name in fewer)


def _feeders(rig: Rig) -> dict[str, set[str]]:
    plan = complete(rig)
    return {
        name: {*line.feeds, *line.could_feed, *line.house}
        for name, line in phantom_lines(plan.graph, plan.rig).items()
    }
