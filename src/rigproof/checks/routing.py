"""Rules about what is set inside the boxes: routes that a box cannot do."""

from collections.abc import Iterator, Mapping

from rigproof.checks.places import box, place
from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig.where import Where
from rigproof.signal import Hop
from rigproof.signal.blueprint import Blueprint, InnerChoice, blueprint
from rigproof.wording import listed


def _local(key: str) -> str:
    return key.partition(".")[2]


def _set_hops(view: View) -> Iterator[tuple[str, Hop]]:
    """The routes and sends of the rig, with the box they are set in."""
    for hop in view.graph.hops:
        if hop.means in {"route", "send"}:
            yield view.graph.nodes[hop.start].gear, hop


def _blueprints(view: View) -> Mapping[str, Blueprint]:
    return {gear.id: blueprint(view.rig.types[gear.type]) for gear in view.rig.file.gear}


def route_impossible(view: View) -> Iterator[Finding]:
    """A route is written that the box does not offer.

    Why: the plan looks complete, and the menu on the box has no such line.
    Fix: route it by a place the box offers: its type lists what can be sent where.
    Source: the gear type's own choices.

    Fails:
        gear: [{id: box, type: stage-box-16x8}]
        routes: [{from: box.adc.1, to: box.dac.1}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-16}]
        routes: [{from: mixer.adc.1, to: mixer.dac.1}]
    """
    plans = _blueprints(view)
    told: set[tuple[str, int, int]] = set()
    for gear, hop in _set_hops(view):
        plan = plans[gear]
        start, end = (_local(view.graph.nodes[n].key) for n in (hop.start, hop.end))
        mark = (hop.at.file, hop.at.line, hop.at.column)
        if mark in told or plan.choice_for(start, end) is not None:
            continue
        if plan.index[end] in plan.after.get(plan.index[start], ()):
            continue  # wired so anyway
        told.add(mark)
        yield Finding(
            at=hop.at,
            says=f"{box(view.rig, gear)} cannot route {start} to {end}.",
        )


def two_into_one(view: View) -> Iterator[Finding]:
    """Two signals are routed to a place that takes one.

    Why: a channel or an output takes one signal; the box keeps the last one set, and the other
        is gone without a word.
    Fix: remove one route, or mix the two on a bus.
    Source: the gear type's own choices: only buses and sums add.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}]
        routes: [{from: mixer.adc.1, to: mixer.ch.1}, {from: mixer.adc.2, to: mixer.ch.1}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}]
        routes: [{from: mixer.adc.1-2, to: mixer.ch.1-2}]
    """
    plans = _blueprints(view)
    into: dict[int, dict[int, Where]] = {}
    for _, hop in _set_hops(view):
        into.setdefault(hop.end, {}).setdefault(hop.start, hop.at)
    nodes = view.graph.nodes
    for end, starts in into.items():
        if len(starts) < 2:
            continue
        plan, lane = plans[nodes[end].gear], _local(nodes[end].key)
        choices = [plan.choice_for(_local(nodes[start].key), lane) for start in starts]
        if all(choice is not None and choice.adds for choice in choices):
            continue
        names = listed(_local(nodes[start].key) for start in starts)
        yield Finding(
            at=list(starts.values())[-1],
            says=f"{place(view.rig, nodes[end].key)} takes one signal and is given {names}.",
            found=len(starts),
            limit=1,
            unit="signals",
        )


def block_broken(view: View) -> Iterator[Finding]:
    """A mixer that takes its channels in blocks is asked to mix blocks.

    Why: where inputs are chosen eight at a time, one odd route moves seven other channels.
    Fix: keep what comes from one box within one block of channels; hold the rest of it open.
    Source: the gear type's own block size.

    Fails:
        gear: [{id: mixer, type: mixer-rack-16}]
        routes: [{from: mixer.adc.1-4, to: mixer.ch.1-4}, {from: mixer.link.rx.5, to: mixer.ch.5}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-16}]
        routes: [{from: mixer.adc.1-8, to: mixer.ch.1-8}, {from: mixer.link.rx.1, to: mixer.ch.9}]
    """
    blocked = {
        gear: [choice for choice in plan.choices if choice.choice.block > 1]
        for gear, plan in _blueprints(view).items()
    }
    places = {gear: [_Places(choice) for choice in found] for gear, found in blocked.items()}
    asked: dict[tuple[str, int, int], dict[tuple[str, int, int], Hop]] = {}
    plans = _blueprints(view)
    for gear, hop in _set_hops(view):
        plan = plans[gear]
        start, end = (plan.index[_local(view.graph.nodes[n].key)] for n in (hop.start, hop.end))
        for number, spots in enumerate(places[gear]):
            if start in spots.starts and end in spots.ends:
                size = spots.size
                bank, position = spots.starts[start]
                at = spots.ends[end]
                # One block of inputs goes to one block of channels, each in its own place.
                key = (bank, position // size, (position - at) % size)
                asked.setdefault((gear, number, at // size), {}).setdefault(key, hop)
    for (gear, number, block), sources in asked.items():
        if len(sources) < 2:
            continue
        size = places[gear][number].size
        nodes = view.graph.nodes
        bank_id = nodes[next(iter(sources.values())).end].key.split(".")[1]
        odd = list(sources.values())[-1]
        names = listed(_local(nodes[hop.start].key) for hop in sources.values())
        yield Finding(
            at=odd.at,
            says=f"{box(view.rig, gear)} sets {bank_id} {block * size + 1}-{(block + 1) * size} "
            f"as one block of {size}, and the plan wants {names} in it.",
            found=len(sources),
            limit=1,
            unit="blocks",
        )


class _Places:
    """Where each lane stands in a choice made in blocks: in its bank of inputs, in the channels."""

    __slots__ = ("ends", "size", "starts")

    def __init__(self, inner: InnerChoice) -> None:
        self.size = inner.choice.block
        self.ends = {lane: position for position, lane in enumerate(inner.ends)}
        self.starts: dict[int, tuple[str, int]] = {}
        first = 0
        for number, lane in enumerate(inner.starts):
            if number and lane != inner.starts[number - 1] + 1:
                first = number
            self.starts[lane] = (str(inner.starts[first]), number - first)


RULES = (
    Rule(id="patch.route-impossible", severity="stop", check=route_impossible, since="0.1"),
    Rule(id="patch.two-into-one", severity="stop", check=two_into_one, since="0.1"),
    Rule(id="patch.block-broken", severity="stop", check=block_broken, since="0.1"),
)
