"""A rig with some of its knobs turned, and what that makes of its figures.

Turning moves no plug: places, ways and lines are kept, and only what enters a turned place is
worked out anew. A plan tries several settings, and each costs the sums alone.
"""

from collections.abc import Mapping

import msgspec

from rigproof.rig import Rig
from rigproof.rig.equipment import Setting
from rigproof.rig.plan import PatchRow
from rigproof.rig.quantity import Decibels, Quantity
from rigproof.rig.ref import PortRef
from rigproof.signal.blueprint import blueprint
from rigproof.signal.figures import settings_of
from rigproof.signal.graph import Graph
from rigproof.signal.knobs import Knob, knobs
from rigproof.signal.knobtree import KnobTree
from rigproof.signal.levels import Levels
from rigproof.signal.plugs import preamp_gains
from rigproof.signal.sums import EarSums
from rigproof.signal.wiring import inner_gain

Turns = Mapping[str, tuple[Knob, float]]  # by the key of the knob: the knob and its new gain


def turned(rig: Rig, turns: Turns) -> Rig:
    """A completed rig with some knobs at new gains; the others as they are."""
    rows = {knob.source: gain for knob, gain in turns.values() if knob.kind == "preamp"}
    patch = tuple(_with_gain(row, rows) for row in rig.file.patch)
    added = tuple(
        Setting(at=PortRef(knob.at), gain_db=Decibels(gain))
        for knob, gain in turns.values()
        if knob.kind != "preamp"
    )
    return rig.changed(patch=patch, settings=(*rig.file.settings, *added))


def with_turned(levels: Levels, turns: Turns) -> Levels:
    """The figures of a rig with some knobs at new gains."""
    rig = turned(levels.rig, turns)
    before = levels.graph
    gains = preamp_gains(rig, dict(rig.gear_types), levels.figures.onward)
    settings = settings_of(rig)
    moved = _differing(before.preamp_gains, gains)
    graph = _regained(before, rig, gains, moved)
    moved |= _differing(levels.figures.settings, settings)
    figures = levels.figures.turned(graph, rig, frozenset(before.index[key] for key in moved))
    return Levels(graph, rig, EarSums(graph, rig, levels.sums.chains, figures))


def _differing(before: Mapping[str, Quantity], after: Mapping[str, Quantity]) -> set[str]:
    """The places whose gain is another one, or better or worse known."""
    return {
        key
        for key in before.keys() | after.keys()
        if (one := before.get(key)) != (two := after.get(key))
        or (one is not None and two is not None and one.provenance != two.provenance)
    }


def _regained(graph: Graph, rig: Rig, gains: Mapping[str, Quantity], moved: set[str]) -> Graph:
    """The same ways with the gains that patch rows set now."""
    changed: dict[int, Quantity | None] = {}
    for key in moved:
        node = graph.index[key]
        gear, _, lane = key.partition(".")
        plan = blueprint(rig.type_of(gear))
        base, local = node - plan.index[lane], plan.index[lane]
        inside = {base + inner.start: inner for inner in plan.hops if inner.end == local}
        for number in graph.entering[node]:
            hop = graph.hops[number]
            if hop.means == "inside":
                changed[number] = inner_gain(inside[hop.start], gains.get(key))
    return graph.regained(changed, gains)


def levelled(levels: Levels, targets_spl: Mapping[str, float]) -> Levels:
    """The figures with the last knob alone before each ear turned so far that a level is met.

    Also past the knob's stops: it is for comparing, not for turning.
    """
    graph, figures = levels.graph, levels.figures
    tree = KnobTree(knobs(levels.rig, graph, figures).behind, graph, levels.peaks.order)
    turns: dict[str, tuple[Knob, float]] = {}
    for person, ear in levels.sums.ears.items():
        target = targets_spl.get(person)
        if ear.total_spl is None or target is None:
            continue
        labels = [tree.label.get(n) for n in graph.of_listener(person)]
        for key in (label for label in labels if label is not None):
            knob = tree.knobs[key]
            present = float(knob.present_db or 0)
            turns.setdefault(key, (knob, present + target - ear.total_spl))
    return with_turned(levels, turns)


def _with_gain(row: PatchRow, gains: Mapping[str, float]) -> PatchRow:
    if row.source not in gains:
        return row
    return msgspec.structs.replace(row, gain_db=Decibels(gains[row.source]))
