"""Ways of a signal, with the stretches that lead nowhere else walked once for all ears.

From a source to the mixer there is one way: a chain, whose sums are the same for everybody who
hears it. Only what lies behind the first mixing differs from ear to ear. So a figure for all
sources and all ears costs the chains once, and the few places behind them once for each ear.
"""

from collections.abc import Iterator

import msgspec

from rigproof.signal.graph import Graph


class Behind(msgspec.Struct, frozen=True):
    """What leads to one place from where the chains end.

    `order`: the places behind the chains, the nearest to the end first. `hops`: for each of them
    the hops that enter it. A hop that closes a loop is left out.
    """

    end: int
    order: tuple[int, ...]
    hops: tuple[tuple[int, ...], ...]
    loops: bool = False


class Chains:
    """The chains of a graph: every place with one way in, back to a place with none."""

    def __init__(self, graph: Graph) -> None:
        self.graph = graph
        self.entering = graph.bringing
        self.starts = graph.starts
        self._found: dict[int, Behind] = {}
        self.order: list[int] = []  # of the places on chains, sources first
        self.head = self._heads()  # the place each chain begins at; -1 behind a mixing

    def _heads(self) -> list[int]:
        unknown = -2
        entering, starts = self.entering, self.starts
        head = [unknown] * len(entering)
        for node, numbers in enumerate(entering):
            if head[node] != unknown:
                continue
            trail: list[int] = []
            here = node
            while head[here] == unknown:
                head[here] = -1  # met again on the same trail: a ring without a head
                trail.append(here)
                numbers = entering[here]
                if len(numbers) != 1:
                    break
                here = starts[numbers[0]]
            first = trail[-1]
            merely_led_to = len(entering[first]) == 1
            found = head[here] if merely_led_to else -1 if entering[first] else first
            if found >= 0:
                trail.reverse()
                for place in trail:
                    head[place] = found
                self.order += trail
        return head

    def step_to(self, node: int) -> int | None:
        """The hop by which a place on a chain is reached; None at its head."""
        return self.entering[node][0] if self.entering[node] else None

    def trail(self, node: int) -> Iterator[int]:
        """A place on a chain and all before it."""
        yield node
        while (number := self.step_to(node)) is not None:
            node = self.starts[number]
            yield node

    def behind(self, end: int) -> Behind:
        """The places between the ends of chains and one end, with the hops that join them."""
        found = self._found.get(end)
        if found is None:
            found = self._found[end] = self._behind(end)
        return found

    def _behind(self, end: int) -> Behind:
        if self.head[end] >= 0:
            return Behind(end, (), ())
        entering, starts, head = self.entering, self.starts, self.head
        done: dict[int, int] = {}  # places in the order they were finished, sources first
        stack: list[tuple[int, Iterator[int]]] = [(end, iter(entering[end]))]
        seen = {end}
        while stack:
            node, numbers = stack[-1]
            for number in numbers:
                start = starts[number]
                if head[start] < 0 and start not in seen:
                    seen.add(start)
                    stack.append((start, iter(entering[start])))
                    break
            else:
                done[node] = len(done)
                stack.pop()
        order = tuple(reversed(done))
        hops = []
        loops = False
        for node in order:
            here = done[node]
            kept = tuple(
                [n for n in entering[node] if head[starts[n]] >= 0 or done[starts[n]] < here]
            )
            loops = loops or len(kept) < len(entering[node])
            hops.append(kept)
        return Behind(end, order, tuple(hops), loops)
