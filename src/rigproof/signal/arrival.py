"""Which lanes of which sources arrive where: left and right told apart.

`signal.reach` answers for whole sources, which is what most questions are about; crossed pairs and
half a pair need the lanes.
"""

from collections.abc import Sequence
from functools import cached_property

import msgspec

from rigproof.rig import Rig
from rigproof.signal.graph import Graph, planned
from rigproof.signal.reach import flood, picked, union

Lane = tuple[str, int]  # a source and its lane, from 1


class Arrival(msgspec.Struct, frozen=True, dict=True):
    """The lanes of sources that arrive at each node."""

    order: tuple[Lane, ...]
    bits: tuple[int, ...]  # of each node

    @cached_property
    def number(self) -> dict[Lane, int]:
        return {lane: number for number, lane in enumerate(self.order)}

    def at(self, nodes: Sequence[int]) -> tuple[Lane, ...]:
        """The lanes that arrive at any of some nodes, in the order of the file."""
        return picked(self.order, union(self.bits, nodes))

    def arrives(self, lane: Lane, node: int) -> bool:
        return bool(self.bits[node] >> self.number[lane] & 1)


def arrival(graph: Graph, rig: Rig) -> Arrival:
    """Follow each lane of each source over what is wired and set."""
    order: list[Lane] = []
    seeds: dict[int, int] = {}
    for source in rig.sources:
        for lane, node in enumerate(graph.of_source(source), start=1):
            seeds[node] = seeds.get(node, 0) | 1 << len(order)
            order.append((source, lane))
    return Arrival(tuple(order), flood(graph, seeds, through=planned))
