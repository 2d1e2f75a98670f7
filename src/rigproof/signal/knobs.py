"""The gains that somebody can turn: preamps, trims of channels, levels of mixes, amplifiers.

Preamps and amplifiers state how far they turn. A trim and the level of a mix are arithmetic
inside a box; their range is the one faders commonly have.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Literal

import msgspec

from rigproof.rig import Rig
from rigproof.rig.geartype import Port, Stage
from rigproof.rig.plan import PatchRow
from rigproof.rig.quantity import Quantity
from rigproof.signal import words
from rigproof.signal.figures import Figures
from rigproof.signal.graph import Graph, planned
from rigproof.signal.plugs import own_preamps, plug_lanes, start_lanes
from rigproof.wording import listed, ranges
from rigproof.wording.sentences import sentence

KnobKind = Literal["preamp", "trim", "mix", "amplifier"]
_NAMES: Mapping[KnobKind, str] = {
    "preamp": "preamp of {knob}",
    "trim": "trim of {knob}",
    "mix": "level of {knob}",
}
# How far a fader or trim goes where its box does not say. Common practice, no source.
FADER_LOW_DB, FADER_HIGH_DB = -60.0, 10.0
# How far an amplifier goes down where its type only says how far up.
AMPLIFIER_TURN_DB = 60.0


class Knob(msgspec.Struct, frozen=True, kw_only=True):
    """One gain somebody can turn, on all its lanes at once.

    `at` is the place as `settings` of the rig file name it; of a preamp, whose gain stands in the
    patch, it is the preamp itself and `source` the row. `called` is what it stands in or for.
    """

    kind: KnobKind
    at: str
    called: str
    nodes: tuple[int, ...]
    low_db: float
    high_db: float
    present_db: Quantity | None
    written: bool
    source: str = ""
    people: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        return knob_name(self.kind, self.called)

    @property
    def key(self) -> str:
        return f"patch/{self.source}" if self.kind == "preamp" else self.at


def knob_name(kind: KnobKind, called: str) -> str:
    """A knob in words where its kind is not told already."""
    if kind == "amplifier":
        return called
    return sentence(_NAMES[kind], knob=called)


class Knobs(msgspec.Struct, frozen=True):
    """The knobs of a rig: those before the mixing, the trims, and those behind it."""

    preamps: tuple[Knob, ...]
    trims: tuple[Knob, ...]
    behind: tuple[Knob, ...]


def knobs(rig: Rig, graph: Graph, figures: Figures) -> Knobs:
    """Every gain on the ways to the ears that somebody can turn."""
    preamps_ = tuple(_preamps(rig, graph, figures))
    trims = tuple(_trims(rig, graph, figures))
    return Knobs(preamps_, trims, tuple(_behind(rig, graph, figures)))


def _preamps(rig: Rig, graph: Graph, figures: Figures) -> Iterator[Knob]:
    types = rig.gear_types
    taken: set[int] = set()
    for row in rig.file.patch:
        start = rig.sources[row.source].start
        lanes = plug_lanes(types, row) or (start_lanes(types, start, row.where) if start else [])
        nodes = tuple(graph.index[k] for k in own_preamps(types, row, lanes, figures.onward))
        banks = [graph.nodes[n].bank for n in nodes]
        stage = banks[0] if banks else None
        if not isinstance(stage, Stage) or stage.gain_max_db is None or taken & set(nodes):
            continue
        if any(rig.gear[graph.nodes[n].gear].owner == "house" for n in nodes):
            continue  # not ours to turn
        taken.update(nodes)
        set_ = figures.settings.get(graph.nodes[nodes[0]].key)
        present = row.gain_db if row.gain_db is not None else set_
        low = stage.gain_min_db if stage.gain_min_db is not None else Quantity(0, "assumed")
        yield Knob(
            kind="preamp",
            at=_run(graph, nodes),
            called=_called(rig, graph, row, nodes),
            nodes=nodes,
            low_db=float(low),
            high_db=float(stage.gain_max_db),
            present_db=present,
            written=present is not None,
            source=row.source,
        )


def _called(rig: Rig, graph: Graph, row: PatchRow, nodes: Sequence[int]) -> str:
    source = rig.sources[row.source].name
    if row.channel is None:
        places = words.places(rig, [graph.nodes[n].key for n in nodes])
        return sentence("{source} ({places})", source=source, places=places)
    return sentence("{channels} ({source})", channels=_channels(row), source=source)


def _channels(row: PatchRow) -> str:
    assert row.channel is not None
    if len(row.channel) > 1:
        return sentence("channels {numbers}", numbers=ranges(row.channel))
    return sentence("channel {numbers}", numbers=ranges(row.channel))


def _trims(rig: Rig, graph: Graph, figures: Figures) -> Iterator[Knob]:
    """The trim of each channel in use; those without a preamp only move along with the others."""
    mixer = rig.mixer
    bank = next(rig.type_of(mixer.id).stages("channel"), None) if mixer else None
    if mixer is None or bank is None:
        return
    taken: set[int] = set()
    for row in rig.file.patch:
        keys = [
            f"{mixer.id}.{bank.id}.{n}" if bank.count > 1 else f"{mixer.id}.{bank.id}"
            for n in row.channel or ()
            if n <= bank.count
        ]
        nodes = tuple(graph.index[key] for key in keys)
        if not nodes or taken & set(nodes) or not _free(graph, nodes):
            continue
        taken.update(nodes)
        present = figures.settings.get(keys[0])
        yield Knob(
            kind="trim",
            at=_run(graph, nodes),
            called=sentence(
                "{channels} ({source})",
                channels=_channels(row),
                source=rig.sources[row.source].name,
            ),
            nodes=nodes,
            low_db=FADER_LOW_DB,
            high_db=FADER_HIGH_DB,
            present_db=present if present is not None else Quantity(0, "assumed"),
            written=present is not None,
            source=row.source,
        )


def _behind(rig: Rig, graph: Graph, figures: Figures) -> Iterator[Knob]:
    """Levels of mixes and amplifiers, the lanes that the same people hear as one knob."""
    before = graph.feeding(
        [n for n, node in enumerate(graph.nodes) if node.kind in {"channel", "preamp"}]
    )
    sums = graph.reached([n for n, node in enumerate(graph.nodes) if node.kind in {"bus", "sum"}])
    heard = _heard(rig, graph)
    reached = graph.reached([n for s in rig.file.sources for n in graph.of_source(s.id)])
    groups: dict[tuple[str, str, object], list[int]] = {}
    for number, node in enumerate(graph.nodes):
        stage = node.bank
        if number in before or number not in reached or not isinstance(stage, Stage):
            continue
        if not _free(graph, (number,)):
            continue
        is_amplifier = stage.kind == "amplifier" and stage.gain_max_db is not None
        is_mix = stage.kind == "converter" and number in sums and _from_digital(graph, number)
        if not is_amplifier and not is_mix:
            continue
        people = heard.get(number, ())
        # Lanes for nobody's ears (the house, a recorder) go by pairs.
        group: object = people or (_number(node.key) + 1) // 2
        groups.setdefault((node.gear, stage.id, group), []).append(number)
    for numbers in groups.values():
        for run in _runs(graph, numbers):
            yield _knob_behind(rig, graph, figures, run, heard.get(run[0], ()))


def _runs(graph: Graph, nodes: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Lanes of one bank cut where a number is left out: that lane is somebody else's."""
    run: list[int] = []
    for node in sorted(nodes, key=lambda n: _number(graph.nodes[n].key)):
        if run and _number(graph.nodes[node].key) != _number(graph.nodes[run[-1]].key) + 1:
            yield tuple(run)
            run = []
        run.append(node)
    yield tuple(run)


def _knob_behind(
    rig: Rig, graph: Graph, figures: Figures, nodes: tuple[int, ...], people: tuple[str, ...]
) -> Knob:
    stage = graph.nodes[nodes[0]].bank
    assert isinstance(stage, Stage)
    kind: KnobKind = "mix" if stage.kind == "converter" else "amplifier"
    written = figures.settings.get(graph.nodes[nodes[0]].key)
    high = float(stage.gain_max_db) if stage.gain_max_db is not None else FADER_HIGH_DB
    low = FADER_LOW_DB if kind == "mix" else high - AMPLIFIER_TURN_DB
    if stage.gain_min_db is not None:
        low = float(stage.gain_min_db)
    # As the figures take a knob that nobody wrote down.
    present = written if written is not None else Quantity(min(max(0.0, low), high), "assumed")
    names = listed(words.person(rig, person) for person in people)
    place = words.places(rig, [graph.nodes[n].key for n in nodes])
    called = place
    if names and kind == "mix":
        called = sentence("the mix for {names} ({place})", names=names, place=place)
    elif names:
        called = sentence("{place} ({names})", place=place, names=names)
    return Knob(
        kind=kind,
        at=_run(graph, nodes),
        called=called,
        nodes=nodes,
        low_db=low,
        high_db=high,
        present_db=present,
        written=written is not None,
        people=people,
    )


def _free(graph: Graph, nodes: Sequence[int]) -> bool:
    """Whether a setting counts here: no gain of the type's or the plan's stands on the way in."""
    hops = [graph.hops[h] for n in nodes for h in graph.entering[n]]
    ways = [hop for hop in hops if planned(hop)]
    return bool(ways) and all(hop.gain_db is None for hop in ways)


def _from_digital(graph: Graph, number: int) -> bool:
    hops = (graph.hops[h] for h in graph.entering[number])
    return all(graph.nodes[hop.start].digital for hop in hops if planned(hop))


def _heard(rig: Rig, graph: Graph) -> Mapping[int, tuple[str, ...]]:
    """Place -> the people whose ears it leads to."""
    found: dict[int, list[str]] = {}
    for person in rig.people:
        ends = graph.of_listener(person)
        for node in graph.feeding(ends) if ends else ():
            found.setdefault(node, []).append(person)
    return {node: tuple(people) for node, people in found.items()}


def _number(key: str) -> int:
    last = key.rpartition(".")[2]
    return int(last) if last.isdigit() else 1


def _run(graph: Graph, nodes: Sequence[int]) -> str:
    """Lanes of one bank as the rig file names a run of them."""
    node = graph.nodes[nodes[0]]
    bank = node.bank
    assert isinstance(bank, Stage | Port)
    if bank.count in {1, len(nodes)}:
        return f"{node.gear}.{bank.id}"
    numbers = [_number(graph.nodes[n].key) for n in nodes]
    base = f"{node.gear}.{bank.id}"
    low, high = min(numbers), max(numbers)
    return f"{base}.{low}" if low == high else f"{base}.{low}-{high}"
