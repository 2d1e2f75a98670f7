"""Choices that a box makes several lanes at a time, and which lanes may share a block."""

from collections.abc import Iterator

from rigproof.signal.blueprint import Blueprint, InnerChoice

Block = tuple[int, int]  # a choice of the box, and a block of the lanes it sets
Taken = tuple[int, int, int]  # what a block takes: a bank, a block of that, how far they are apart


class _Places:
    """Where each lane stands in a choice made in blocks: in its bank of inputs, in the channels."""

    __slots__ = ("ends", "size", "starts")

    def __init__(self, inner: InnerChoice, plan: Blueprint) -> None:
        self.size = inner.choice.block
        self.ends = {lane: position for position, lane in enumerate(inner.ends)}
        self.starts: dict[int, tuple[int, int]] = {}
        first = 0
        for number, lane in enumerate(inner.starts):
            before = inner.starts[number - 1]
            # Two banks of a box may stand side by side: each is counted from its own first lane.
            if number and (lane != before + 1 or plan.banks[lane] is not plan.banks[before]):
                first = number
            self.starts[lane] = (inner.starts[first], number - first)


class Blocks:
    """The choices in blocks of one type of box."""

    def __init__(self, plan: Blueprint) -> None:
        self._places = {
            number: _Places(inner, plan)
            for number, inner in enumerate(plan.choices)
            if inner.choice.block > 1
        }

    def size(self, choice: int) -> int:
        return self._places[choice].size

    def own_place(self, choice: int, start: int, end: int) -> int:
        """Where a lane comes out of the block that another was asked for: at its own place."""
        places = self._places[choice]
        size, ends = places.size, list(places.ends)
        here = places.ends[end] // size * size + places.starts[start][1] % size
        return ends[here] if here < len(ends) else end

    def asked(self, start: int, end: int) -> Iterator[tuple[Block, Taken]]:
        """What routing one lane to another asks of each block that it touches.

        One block of inputs goes to one block of channels, each lane in its own place; a block of
        which two different things are asked cannot be set.
        """
        for number, places in self._places.items():
            if start in places.starts and end in places.ends:
                size, at = places.size, places.ends[end]
                bank, position = places.starts[start]
                yield (number, at // size), (bank, position // size, (position - at) % size)
