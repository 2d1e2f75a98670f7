"""What the plan sets inside the boxes, by the lanes of their types."""

from typing import NamedTuple

from rigproof.rig import Rig
from rigproof.rig.geartype import Choice
from rigproof.signal import Graph, Hop
from rigproof.signal.blueprint import Blueprint, blueprint


class Setting(NamedTuple):
    """A route or send, with the box it is set in and the lanes by their number in its type."""

    gear: str
    plan: Blueprint
    start: int
    end: int
    hop: Hop
    choice: Choice | None  # what lets somebody set this; None where the box has no such choice

    @property
    def names(self) -> tuple[str, str]:
        """The two lanes as the type calls them."""
        return self.plan.names[self.start], self.plan.names[self.end]


def settings(graph: Graph, rig: Rig) -> tuple[Setting, ...]:
    """Every route and send of a rig."""
    found: list[Setting] = []
    boxes: dict[str, tuple[Blueprint, int]] = {}
    for hop in graph.hops:
        if hop.means != "route" and hop.means != "send":
            continue
        gear = graph.nodes[hop.start].gear
        if gear not in boxes:
            plan = blueprint(rig.type_of(gear))
            boxes[gear] = plan, graph.index[f"{gear}.{plan.names[0]}"]
        plan, base = boxes[gear]
        start, end = hop.start - base, hop.end - base
        choice = plan.choice_between(start, end)
        found.append(Setting(gear, plan, start, end, hop, choice))
    return tuple(found)
