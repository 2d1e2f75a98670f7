"""Nodes, hops and the walks over them.

A node is one lane: a signal in a connector, or one place inside a box (a preamp, a channel, a bus,
a slot, an amplifier), a source, an ear, or the house's end of a tail. A hop leads from node to
node and knows what it costs and what it depends on.
"""

from collections import deque
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Literal

import msgspec

from rigproof.rig.geartype import Port, Stage
from rigproof.rig.quantity import Quantity
from rigproof.rig.where import NOWHERE, Where

Means = Literal["inside", "plug", "lead", "route", "send", "stream", "radio", "ear", "choice"]


class Node(msgspec.Struct, frozen=True, gc=False):
    """One lane. `bank` is what the gear type calls it; None for sources, ears and the house."""

    key: str
    gear: str
    bank: Port | Stage | None = None
    digital: bool = False

    @property
    def kind(self) -> str:
        """What this place is: a stage's kind, `port`, `source`, `ear`, `wedge` or `house`."""
        if isinstance(self.bank, Stage):
            return self.bank.kind
        if self.bank is not None:
            return "port"
        return self.gear


class Hop(msgspec.Struct, frozen=True, gc=False):
    """From one node to the next. Figures are those of the step and of the place it enters.

    `open`: nobody set this, but somebody could with one press (a choice inside a box).
    `phantom`: 48 V fed at the end reaches the start. `needs`: names of gear, leads, streams and
    radio links without which nothing arrives. Level and noise per hop come on top of these.
    """

    start: int
    end: int
    means: Means
    open: bool = False
    gain_db: Quantity | None = None
    pan_db: Quantity | None = None  # of a send that is panned, what this side gets
    delay_ms: Quantity | None = None
    phantom: bool = False
    isolated: bool = False
    inverts: bool = False
    clock: str = ""  # who leads the clock this hop runs on; empty for analogue
    needs: tuple[str, ...] = ()
    works_off: bool = False  # passes when its box has no power
    at: Where = NOWHERE


class Graph(msgspec.Struct, frozen=True, dict=True):
    """The whole rig as places and hops, built once for each version of it.

    `preamp_gains`: of the preamps, by place, whose gain a patch row sets.
    """

    nodes: tuple[Node, ...]
    hops: tuple[Hop, ...]
    preamp_gains: Mapping[str, Quantity] = {}

    def regained(
        self, changed: Mapping[int, Quantity | None], preamp_gains: Mapping[str, Quantity]
    ) -> "Graph":
        """The same places and ways with other gains at some hops."""
        hops = list(self.hops)
        for number, gain_db in changed.items():
            hops[number] = msgspec.structs.replace(hops[number], gain_db=gain_db)
        found = Graph(self.nodes, tuple(hops), preamp_gains)
        # Which hops join which places is as it was.
        found.__dict__.update(self.__dict__)
        return found

    @cached_property
    def index(self) -> dict[str, int]:
        return {node.key: number for number, node in enumerate(self.nodes)}

    @cached_property
    def leaving(self) -> Sequence[Sequence[int]]:
        """The hops that leave each node, by number."""
        return self._by_node(self.starts)

    @cached_property
    def entering(self) -> Sequence[Sequence[int]]:
        return self._by_node([hop.end for hop in self.hops])

    def _by_node(self, ends: Sequence[int]) -> Sequence[Sequence[int]]:
        found: list[list[int]] = [[] for _ in self.nodes]
        for number, node in enumerate(ends):
            found[node].append(number)
        return found

    @cached_property
    def starts(self) -> Sequence[int]:
        """Where each hop begins."""
        return [hop.start for hop in self.hops]

    @cached_property
    def bringing(self) -> Sequence[Sequence[int]]:
        """The hops that enter each node, of those that are wired and set."""
        found: list[list[int]] = [[] for _ in self.nodes]
        for number, hop in enumerate(self.hops):
            if not hop.open:
                found[hop.end].append(number)
        return found

    @cached_property
    def onward(self) -> Sequence[Sequence[int]]:
        """The nodes that each node leads to, over what is wired and set."""
        found: list[list[int]] = [[] for _ in self.nodes]
        for hop in self.hops:
            if not hop.open:
                found[hop.start].append(hop.end)
        return found

    def neighbours(self, through: Callable[[Hop], bool]) -> Sequence[Sequence[int]]:
        """The nodes that each node leads to, over the hops let through."""
        found: list[list[int]] = [[] for _ in self.nodes]
        for hop in self.hops if through is possible else filter(through, self.hops):
            found[hop.start].append(hop.end)
        return found

    def downstream(self, starts: tuple[int, ...]) -> tuple[int, ...]:
        """All that some places lead to, each after those before it but where a loop closes."""
        found = self._downstream.get(starts)
        if found is None:
            found = self._downstream[starts] = tuple(self._in_order(starts))
        return found

    @cached_property
    def _downstream(self) -> dict[tuple[int, ...], tuple[int, ...]]:
        return {}

    def _in_order(self, starts: Sequence[int]) -> Sequence[int]:
        onward = self.onward
        done: set[int] = set()
        found: list[int] = []
        for start in starts:
            if start in done:
                continue
            done.add(start)
            stack = [(start, iter(onward[start]))]
            while stack:
                node, ends = stack[-1]
                for end in ends:
                    if end not in done:
                        done.add(end)
                        stack.append((end, iter(onward[end])))
                        break
                else:
                    found.append(node)
                    stack.pop()
        found.reverse()
        return found

    def number_of(self, hop: Hop) -> int:
        """The number of one of these hops."""
        return next(n for n in self.leaving[hop.start] if self.hops[n] is hop)

    def of_kind(self, kind: str) -> frozenset[int]:
        """All places of a kind."""
        of_bank: dict[int, bool] = {}  # alike for all lanes of a bank
        found: list[int] = []
        for number, node in enumerate(self.nodes):
            bank = id(node.bank) if node.bank is not None else id(node.gear)
            wanted = of_bank.get(bank)
            if wanted is None:
                wanted = of_bank[bank] = node.kind == kind
            if wanted:
                found.append(number)
        return frozenset(found)

    def of_source(self, source: str) -> tuple[int, ...]:
        return self._named(f"source:{source}")

    def of_listener(self, listener: str) -> tuple[int, ...]:
        """The ears or wedge of a person, all ends of tails of `house`, or the inputs of a box."""
        if listener == "house":
            return tuple(n for n, node in enumerate(self.nodes) if node.gear == "house")
        ears = (*self._named(f"ear:{listener}"), *self._named(f"wedge:{listener}"))
        return ears or self._inputs.get(listener, ())

    def _named(self, key: str) -> tuple[int, ...]:
        found = self._places.get(key)
        if found is None:
            index = self.index
            lanes = (key, f"{key}.1", f"{key}.2")
            found = self._places[key] = tuple([index[lane] for lane in lanes if lane in index])
        return found

    @cached_property
    def _places(self) -> dict[str, tuple[int, ...]]:
        return {}

    @cached_property
    def _inputs(self) -> dict[str, tuple[int, ...]]:
        """The lanes that enter each box, for recorders and other boxes that listen."""
        found: dict[str, list[int]] = {}
        for number, node in enumerate(self.nodes):
            if isinstance(node.bank, Port) and (
                node.bank.way == "in" or (node.bank.way == "both" and ".rx." in node.key)
            ):
                found.setdefault(node.gear, []).append(number)
        return {gear: tuple(numbers) for gear, numbers in found.items()}

    def reached(
        self, starts: Sequence[int], *, through: Callable[[Hop], bool] | None = None
    ) -> set[int]:
        """Every node that a signal at the starts arrives at, over the hops let through."""
        return self._walk(starts, self.leaving, lambda hop: hop.end, through or planned)

    def feeding(
        self, ends: Sequence[int], *, through: Callable[[Hop], bool] | None = None
    ) -> set[int]:
        """Every node from which a signal arrives at the ends."""
        return self._walk(ends, self.entering, lambda hop: hop.start, through or planned)

    def _walk(
        self,
        starts: Sequence[int],
        around: Sequence[Sequence[int]],
        far: Callable[[Hop], int],
        through: Callable[[Hop], bool],
    ) -> set[int]:
        seen = set(starts)
        queue = list(starts)
        hops = self.hops
        while queue:
            for number in around[queue.pop()]:
                hop = hops[number]
                node = far(hop)
                if node not in seen and through(hop):
                    seen.add(node)
                    queue.append(node)
        return seen

    def shortest(
        self,
        starts: Sequence[int],
        ends: Collection[int],
        *,
        through: Callable[[Hop], bool] | None = None,
    ) -> tuple[Hop, ...] | None:
        """The path of fewest hops from a start to an end; None where there is none."""
        let = through or planned
        came: dict[int, int] = dict.fromkeys(starts, -1)
        queue = deque(starts)
        targets = set(ends)
        while queue:
            node = queue.popleft()
            if node in targets:
                return self._back(node, came)
            for number in self.leaving[node]:
                hop = self.hops[number]
                if hop.end not in came and let(hop):
                    came[hop.end] = number
                    queue.append(hop.end)
        return None

    def _back(self, node: int, came: dict[int, int]) -> tuple[Hop, ...]:
        path: list[Hop] = []
        while came[node] >= 0:
            hop = self.hops[came[node]]
            path.append(hop)
            node = hop.start
        return tuple(reversed(path))

    def paths(
        self, starts: Sequence[int], ends: Collection[int], *, most: int = 64
    ) -> tuple[tuple[Hop, ...], ...]:
        """Every planned path without a loop from the starts to the ends, shortest first.

        Only places that can still reach an end are entered, so the search does not wander. More
        than `most` are cut off there: a mixer can send one source many ways.
        """
        targets = set(ends)
        useful = self.feeding(tuple(targets))
        found: list[tuple[Hop, ...]] = []
        for start in starts:
            if start in useful:
                found.extend(self._paths_from(start, targets, useful, most))
        return tuple(sorted(found, key=lambda path: (len(path), self._keys(path)))[:most])

    def _keys(self, path: tuple[Hop, ...]) -> tuple[str, ...]:
        return tuple(self.nodes[hop.end].key for hop in path)

    def _paths_from(
        self, start: int, targets: set[int], useful: set[int], most: int
    ) -> Iterator[tuple[Hop, ...]]:
        path: list[Hop] = []
        on_path = {start}
        stack = [iter(self.leaving[start])]
        count = 0
        while stack and count < most:
            number = next(stack[-1], None)
            if number is None:
                stack.pop()
                if path:
                    on_path.discard(path.pop().end)
                continue
            hop = self.hops[number]
            if not planned(hop) or hop.end in on_path or hop.end not in useful:
                continue
            if hop.end in targets:
                count += 1
                yield (*path, hop)
                continue
            path.append(hop)
            on_path.add(hop.end)
            stack.append(iter(self.leaving[hop.end]))


def graph_of(
    nodes: Sequence[Node],
    index: dict[str, int],
    hops: Sequence[Hop],
    preamp_gains: Mapping[str, Quantity],
) -> Graph:
    """A graph whose makers know already where each node is."""
    found = Graph(tuple(nodes), tuple(hops), preamp_gains)
    found.__dict__["index"] = index
    return found


def planned(hop: Hop) -> bool:
    """Wired, or set by the plan."""
    return not hop.open


def possible(_hop: Hop) -> bool:
    """Wired, set, or one press away."""
    return True
