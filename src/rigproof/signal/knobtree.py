"""Which knob stands before which between the mixing and the ears, and which rules each place."""

from collections.abc import Sequence

from rigproof.signal.graph import Graph, planned
from rigproof.signal.knobs import Knob


class KnobTree:
    """The knobs behind the mixing: which stands before which, and which rules each place.

    `order`: the places that sources arrive at, in the order of the signal.
    """

    def __init__(self, found: Sequence[Knob], graph: Graph, order: Sequence[int]) -> None:
        self.knobs = {knob.key: knob for knob in found}
        of_node = {n: knob.key for knob in found for n in knob.nodes}
        arrives = set(order)
        self.label: dict[int, str | None] = {}
        parents: dict[str, set[str | None]] = {key: set() for key in self.knobs}
        for node in order:
            before = {
                self.label[hop.start]
                for number in graph.entering[node]
                if planned(hop := graph.hops[number])
                and hop.start in arrives
                and hop.start in self.label
            }
            own = of_node.get(node)
            if own is not None:
                parents[own] |= before
                self.label[node] = own
            else:
                # Where two knobs meet, neither rules alone: the plan is judged there afterwards.
                self.label[node] = before.pop() if len(before) == 1 else None
        self.parent: dict[str, str | None] = {
            key: next(iter(above)) if len(above) == 1 else None for key, above in parents.items()
        }
        self.children: dict[str, list[str]] = {key: [] for key in self.knobs}
        for key, above in self.parent.items():
            if above is not None:
                self.children[above].append(key)
        self.order = self._ordered()
        self.present: dict[str, float] = {}
        for key in self.order:
            up = self.parent[key]
            gain = float(self.knobs[key].present_db or 0)
            self.present[key] = gain + (self.present[up] if up is not None else 0.0)

    def _ordered(self) -> list[str]:
        order = [key for key, above in self.parent.items() if above is None]
        for key in order:  # grows as it goes
            order.extend(self.children[key])
        return order
