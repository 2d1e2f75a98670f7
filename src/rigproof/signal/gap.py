"""Why a source does not arrive at a listener: how far it gets, and what is missing from there."""

from collections import deque
from collections.abc import Mapping, Sequence
from heapq import heapify, heappop, heappush
from itertools import pairwise

import msgspec

from rigproof.signal.graph import Graph, Hop, planned, possible


class Gap(msgspec.Struct, frozen=True):
    """Where the signal ends, and the settings that would carry it on.

    `last`: the places where it ends, the farthest from the source first. `unset`: pairs of places
    that a box could join if somebody set it, in the order of the way; empty where no setting
    helps. `heads`: where what the listener hears begins, for when a lead is missing.
    """

    last: tuple[int, ...]
    unset: tuple[tuple[int, int], ...]
    heads: tuple[int, ...]


def gap(graph: Graph, starts: Sequence[int], ends: Sequence[int]) -> Gap:
    """What lies between a source and a listener it does not reach."""
    depth = _depths(graph, starts)
    last = [n for n in depth if not any(planned(graph.hops[h]) for h in graph.leaving[n])]
    way = _fewest_settings(graph, depth, ends)
    feeding = graph.feeding(ends, through=possible)
    heads = [n for n in feeding if not graph.entering[n] and graph.nodes[n].kind != "source"]
    return Gap(
        last=tuple(sorted(last, key=lambda n: (-depth[n], graph.nodes[n].key))),
        unset=_unset(way),
        heads=tuple(sorted(heads)),
    )


def _depths(graph: Graph, starts: Sequence[int]) -> dict[int, int]:
    """How many hops away each place is that the signal reaches."""
    depth = dict.fromkeys(starts, 0)
    queue = deque(starts)
    while queue:
        node = queue.popleft()
        for number in graph.leaving[node]:
            hop = graph.hops[number]
            if planned(hop) and hop.end not in depth:
                depth[hop.end] = depth[node] + 1
                queue.append(hop.end)
    return depth


def _fewest_settings(
    graph: Graph, depth: Mapping[int, int], ends: Sequence[int]
) -> tuple[Hop, ...]:
    """The way on with the fewest settings that nobody made, from as far along as possible.

    Exact: the cheapest way on from each place, searched backwards from the listener. Where several
    places need equally few, the farthest from the source is meant: whoever sends a channel to a
    mix thinks of the channel, not of the converter before it.
    """
    cost = dict.fromkeys(ends, 0)
    onward: dict[int, Hop] = {}
    queue = [(0, node) for node in ends]
    heapify(queue)
    while queue:
        so_far, node = heappop(queue)
        if so_far > cost[node]:
            continue
        for number in graph.entering[node]:
            hop = graph.hops[number]
            price = so_far + _price(graph, hop)
            if price < cost.get(hop.start, price + 1):
                cost[hop.start] = price
                onward[hop.start] = hop
                heappush(queue, (price, hop.start))
    able = [node for node in depth if node in cost]
    if not able:
        return ()
    node = min(able, key=lambda n: (cost[n], -depth[n], graph.nodes[n].key))
    path: list[Hop] = []
    while node in onward:
        path.append(onward[node])
        node = onward[node].end
    return tuple(path)


def _price(graph: Graph, hop: Hop) -> int:
    """Planned hops are there; a setting costs one, and one more where it would push another out."""
    if planned(hop):
        return 0
    adds = graph.nodes[hop.end].kind in {"bus", "sum"}
    taken = any(graph.hops[n].means in {"route", "send"} for n in graph.entering[hop.end])
    return 2 if taken and not adds else 1


def _unset(way: Sequence[Hop]) -> tuple[tuple[int, int], ...]:
    """The open stretches of a way: into the crossing of a box, and out of it."""
    pairs: list[tuple[int, int]] = []
    for before, after in pairwise(way):
        if before.open and after.open and before.end == after.start:
            pairs.append((before.start, after.end))
    return tuple(pairs)
