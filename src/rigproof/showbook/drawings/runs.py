"""The wires between boxes as a drawing needs them: equal parallel lines as one, ends by socket.

Read from the signal graph, so a drawing shows what the checks saw. A microphone or DI belongs to
its source, a pack or a personal mixer to the person who wears or works it.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from rigproof.rig import Rig
from rigproof.rig.geartype import Port
from rigproof.rig.ref import HOUSE
from rigproof.signal import Graph, Hop
from rigproof.signal.graph import Node, planned
from rigproof.wording import ranges

Kind = Literal["analogue", "digital", "network", "radio"]

_BETWEEN_BOXES = frozenset({"plug", "lead", "stream", "radio", "ear"})
_DIGITAL = frozenset({"link", "usb", "aes3", "optical", "coax"})


@dataclass(frozen=True, slots=True)
class Side:
    """One end of a run: the box of the drawing, and the sockets or lanes there."""

    box: str
    bank: str
    numbers: tuple[int, ...]

    @property
    def words(self) -> str:
        return f"{self.bank} {ranges(self.numbers)}".strip()


@dataclass(frozen=True, slots=True)
class Run:
    """Like lines between the same two boxes, and the nodes that they join."""

    start: Side
    end: Side
    kind: Kind
    isolated: bool
    starts: tuple[int, ...]
    ends: tuple[int, ...]

    @property
    def lines(self) -> int:
        return len(self.starts)


@dataclass(frozen=True, slots=True)
class _Line:
    start: Side
    end: Side
    kind: Kind
    isolated: bool
    carrier: str
    nodes: tuple[int, int]


@dataclass(frozen=True)
class Wiring:
    """All runs of a rig, and which of them lead to whom."""

    rig: Rig
    graph: Graph

    @cached_property
    def worn(self) -> dict[str, str]:
        """Gear that is drawn inside the box of a person: packs and personal mixers."""
        return {
            gear.id: f"person:{gear.with_person}"
            for gear in self.rig.file.gear
            if gear.with_person in self.rig.people
            and self.rig.types[gear.type].class_ in {"pack", "personal-mixer"}
        }

    @cached_property
    def sources_at(self) -> dict[int, str]:
        """Node -> the source that starts there, for sources that come out of a box."""
        found: dict[int, str] = {}
        for source in self.rig.file.sources:
            if source.start is not None:
                for node in self.graph.of_source(source.id):
                    for number in self.graph.leaving[node]:
                        found[self.graph.hops[number].end] = source.id
        return found

    @cached_property
    def runs(self) -> tuple[Run, ...]:
        """Every wired run, in the order of the graph."""
        lines = [line for hop in self.graph.hops for line in self._line(hop)]
        groups: dict[tuple[object, ...], list[_Line]] = {}
        for line in lines:
            key = (line.start.box, line.start.bank, line.end.box, line.end.bank, line.carrier)
            # The lanes of one source or one carrier lie side by side; a set of leads that is
            # described as one entry is one run.
            groups.setdefault((*key, line.kind, line.isolated), []).append(line)
        return tuple(run for group in groups.values() for run in _merged(group))

    def _line(self, hop: Hop) -> Iterator[_Line]:
        if hop.means not in _BETWEEN_BOXES or hop.open:
            return
        one = self.graph.nodes[hop.start]
        if one.kind == "source" and self._begins_within(hop):
            return
        start, end = self._side(hop.start), self._side(hop.end)
        if start.box == end.box:
            return
        kind = _kind(hop, one)
        passive = isinstance(one.bank, Port) and any(
            self.graph.hops[number].isolated for number in self.graph.entering[hop.start]
        )
        carrier = "" if hop.means in {"plug", "ear"} else next(iter(hop.needs), "")
        yield _Line(start, end, kind, hop.isolated or passive, carrier, (hop.start, hop.end))

    def _begins_within(self, hop: Hop) -> bool:
        """Whether a source goes into its own microphone or DI, or comes out of a box of the rig."""
        source = self.rig.sources[_source_of(self.graph.nodes[hop.start])]
        return source.start is not None or "/" in self.graph.nodes[hop.end].gear

    def _side(self, number: int) -> Side:
        node = self.graph.nodes[number]
        if node.kind == "source":  # an instrument plugged straight in
            return Side(f"source:{_source_of(node)}", "", (self._order(node),))
        if node.gear in {"ear", "wedge"}:
            person = node.key.partition(":")[2].partition(".")[0]
            return Side(f"person:{person}", "ears" if node.gear == "ear" else "wedge", ())
        if node.gear == HOUSE:
            return Side(HOUSE, "", (int(node.key.rpartition(".")[2]),))
        if "/" in node.gear:  # the microphone or DI of a source
            return Side(f"source:{node.gear.partition('/')[0]}", "", (self._order(node),))
        bank, number_in_bank = _socket(node)
        worn = self.worn.get(node.gear)
        if worn is not None:
            gear = self.rig.gear[node.gear]
            return Side(worn, gear.label or gear.name or gear.id, ())
        return Side(node.gear, bank, (number_in_bank,) if number_in_bank else ())

    def _order(self, node: Node) -> int:
        """The lane of a source that a microphone or an output of a DI carries."""
        figures = [int(part) for part in node.key.replace("/", ".").split(".") if part.isdigit()]
        return figures[-1] if figures else 1

    def upstream_of(self, nodes: Iterable[int]) -> set[int]:
        """Every place from which a planned signal arrives at these."""
        return self.graph.feeding(tuple(nodes), through=planned)

    def channels(self, starts: Sequence[int], mixer: str) -> tuple[int, ...]:
        """The channels of the mixer that lines entering it arrive at."""
        return self._inside(starts, mixer, self.graph.leaving, lambda hop: hop.end, {"channel"})

    def channels_out(self, ends: Sequence[int], mixer: str) -> tuple[int, ...]:
        """The channels that lines leaving the mixer carry as they are."""
        return self._inside(ends, mixer, self.graph.entering, lambda hop: hop.start, {"channel"})

    def buses(self, ends: Sequence[int], mixer: str) -> tuple[tuple[str, int], ...]:
        """The buses of the mixer that lines leaving it carry: bank and number."""
        found = self._nodes(ends, mixer, self.graph.entering, lambda hop: hop.start, {"bus"})
        named = [self.graph.nodes[number] for number in found]
        return tuple(
            (node.bank.id, int(node.key.rpartition(".")[2])) for node in named if node.bank
        )

    def _inside(
        self,
        nodes: Sequence[int],
        gear: str,
        around: Sequence[Sequence[int]],
        far: Callable[[Hop], int],
        kinds: set[str],
    ) -> tuple[int, ...]:
        found = self._nodes(nodes, gear, around, far, kinds)
        numbers = [self.graph.nodes[number].key.rpartition(".")[2] for number in found]
        return tuple(sorted({int(text) for text in numbers if text.isdigit()}))

    def _nodes(
        self,
        nodes: Sequence[int],
        gear: str,
        around: Sequence[Sequence[int]],
        far: Callable[[Hop], int],
        kinds: set[str],
    ) -> list[int]:
        """The first places of some kinds inside one box, on from these nodes."""
        seen, queue, found = set(nodes), list(nodes), []
        for number in queue:  # grows as it goes
            for place in around[number]:
                hop = self.graph.hops[place]
                node = self.graph.nodes[far(hop)]
                if hop.open or node.gear != gear or far(hop) in seen:
                    continue
                seen.add(far(hop))
                if node.kind in kinds:
                    found.append(far(hop))
                elif node.kind not in {"channel", "bus"}:
                    queue.append(far(hop))
        return found


def _source_of(node: Node) -> str:
    return node.key.partition(":")[2].partition(".")[0]


def _socket(node: Node) -> tuple[str, int]:
    """Bank and number by which a person finds the place: of the socket, else of the lane."""
    words = node.key.removeprefix(f"{node.gear}.").split(".")
    figures = [int(word) for word in words if word.isdigit()]
    name = node.bank.name or words[0] if node.bank else words[0]
    return name.replace("-", " "), figures[0] if figures else 0


def _kind(hop: Hop, node: Node) -> Kind:
    if hop.means == "radio":
        return "radio"
    if hop.means == "stream":
        return "network"
    if isinstance(node.bank, Port):
        if node.bank.carries == "network":
            return "network"
        if node.bank.carries in _DIGITAL:
            return "digital"
    return "analogue"


def _merged(lines: Sequence[_Line]) -> Iterator[Run]:
    """One carrier between two banks is one run, whatever gaps it leaves."""
    first = lines[0]
    if first.carrier or first.end.box.startswith("person:"):
        yield _run(lines)
        return
    # Plugs of their own: one run where both sides count upwards without a gap.
    kept: list[_Line] = []
    for line in lines:
        if kept and not _follows(kept[-1], line):
            yield _run(kept)
            kept = []
        kept.append(line)
    yield _run(kept)


def _follows(one: _Line, other: _Line) -> bool:
    return other.end.numbers[:1] == tuple(number + 1 for number in one.end.numbers[:1])


def _run(lines: Sequence[_Line]) -> Run:
    first = lines[0]
    starts = tuple(dict.fromkeys(line.nodes[0] for line in lines))
    ends = tuple(dict.fromkeys(line.nodes[1] for line in lines))
    sides = [
        Side(side.box, side.bank, tuple(sorted({n for one in every for n in one.numbers})))
        for side, every in (
            (first.start, [line.start for line in lines]),
            (first.end, [line.end for line in lines]),
        )
    ]
    return Run(sides[0], sides[1], first.kind, first.isolated, starts, ends)
