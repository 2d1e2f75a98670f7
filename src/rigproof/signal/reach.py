"""Which sources arrive where: one pass over the whole graph instead of one walk per source.

Each source has a bit; every node holds the bits of what arrives there. Loops (a send through an
outboard effect and back) are walked as one place.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TypeVar

import msgspec

from rigproof.signal.graph import Graph, Hop, planned

Kind = TypeVar("Kind")
_WORD = (1 << 60) - 1


class Reach(msgspec.Struct, frozen=True):
    """The sources that arrive at each node."""

    order: tuple[str, ...]
    bits: tuple[int, ...]  # of each node
    _named: dict[int, tuple[str, ...]] = msgspec.field(default_factory=dict)  # few sets recur

    def at(self, nodes: Sequence[int]) -> tuple[str, ...]:
        """The sources that arrive at any of some nodes, in the order of the file."""
        return self.named(union(self.bits, nodes))

    def named(self, mask: int) -> tuple[str, ...]:
        """The sources of some bits, in the order of the file."""
        found = self._named.get(mask)
        if found is None:
            found = self._named[mask] = picked(self.order, mask)
        return found

    def arrives(self, source: int, node: int) -> bool:
        """Whether the source of this place in the order arrives at a node."""
        return bool(self.bits[node] >> source & 1)


def union(bits: Sequence[int], nodes: Sequence[int]) -> int:
    """All bits of some nodes."""
    mask = 0
    for node in nodes:
        mask |= bits[node]
    return mask


def picked(order: Sequence[Kind], mask: int) -> tuple[Kind, ...]:
    """The members of an order whose bits are set."""
    found = []
    first = 0
    while mask:
        gap = (mask & -mask).bit_length() - 1
        mask >>= gap
        first += gap
        word = mask & _WORD  # a short number is taken apart much faster than a long one
        mask ^= word
        while word:
            low = word & -word
            found.append(order[first + low.bit_length() - 1])
            word ^= low
    return tuple(found)


def reach(graph: Graph, sources: Iterable[str], *, through: Callable[[Hop], bool]) -> Reach:
    """Propagate some sources over the hops let through, to a fixed point.

    Exact: bits only ever get added, so the work list ends; each node is taken up again only when
    it gained a bit.
    """
    order = tuple(sources)
    seeds: dict[int, int] = {}
    for number, source in enumerate(order):
        for node in graph.of_source(source):
            seeds[node] = seeds.get(node, 0) | 1 << number
    return Reach(order, flood(graph, seeds, through=through))


def flood(
    graph: Graph, seeds: Mapping[int, int], *, through: Callable[[Hop], bool]
) -> tuple[int, ...]:
    """The bits that arrive at each node when those of the seeds run over the hops let through."""
    bits = _bits(len(graph.nodes), seeds)
    if through is planned:
        again = _carry_once(graph.onward, bits, graph.downstream(tuple(seeds)))
        _carry(graph.onward, bits, again)
    else:
        _carry(graph.neighbours(through), bits, list(seeds))
    return tuple(bits)


def spread(
    onward: Sequence[Sequence[int]], seeds: Mapping[int, int], order: Sequence[int]
) -> tuple[int, ...]:
    """The same over the nodes that each node leads to.

    `order`: all that the seeds may lead to, each after those before it, as `Graph.downstream` has
    it; with less leading on than there, it still holds.
    """
    bits = _bits(len(onward), seeds)
    _carry(onward, bits, _carry_once(onward, bits, order))
    return tuple(bits)


def _bits(places: int, seeds: Mapping[int, int]) -> list[int]:
    bits = [0] * places
    for node, mask in seeds.items():
        bits[node] |= mask
    return bits


def _carry(onward: Sequence[Sequence[int]], bits: list[int], work: list[int]) -> None:
    """Carry on the bits of some nodes, and of all that gain some, until none does."""
    waiting = set(work)
    while work:
        fresh: list[int] = []
        for node in work:
            waiting.discard(node)
            mask = bits[node]
            for end in onward[node]:
                held = bits[end]
                # Most places hear one way only: they share the number instead of holding a copy.
                gained = held | mask if held else mask
                if gained != held:
                    bits[end] = gained
                    if end not in waiting:
                        waiting.add(end)
                        fresh.append(end)
        work = fresh


def _carry_once(
    onward: Sequence[Sequence[int]], bits: list[int], order: Sequence[int]
) -> list[int]:
    """Carry the bits on in the order of the signal; the nodes that gained more over a loop."""
    again: list[int] = []
    done = bytearray(len(onward))
    for node in order:
        done[node] = 1
        mask = bits[node]
        for end in onward[node]:
            held = bits[end]
            if held is mask:
                continue
            gained = held | mask if held else mask
            if gained != held:
                bits[end] = gained
                if done[end]:
                    again.append(end)
    return again
