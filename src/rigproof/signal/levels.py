"""Levels, noise and the loudest sound, for every ear at once.

What an ear hears of each place is one number: the gain from there to the ear. Those numbers for
all places and all ears are found walking once from the ears back to the sources, layer by layer,
with arrays; levels, hiss and its shares follow by multiplication. Same source over several ways
is summed as voltages in phase (the loud side); different sources and noises as powers.
"""

from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING

import msgspec

from rigproof.rig import Rig
from rigproof.rig.quantity import Provenance, Quantity, weakest
from rigproof.rig.spread import spread_db
from rigproof.signal.figures import Figures, Noise
from rigproof.signal.graph import Graph, Hop, planned

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table = NDArray[np.float64]

_BLOCK = 64  # ears worked out together: more would only cost memory


class Share(msgspec.Struct, frozen=True):
    """How much one thing adds to the hiss in an ear."""

    noise: Noise
    place: str
    spl_dba: float
    share_ratio: float


class EarFigures(msgspec.Struct, frozen=True):
    """One pair of ears: what arrives of each source, the hiss, and the loudest it can get.

    `None` where a figure is missing; `missing` says which. The louder side counts.
    """

    person: str
    levels_spl: dict[str, float]
    missing: tuple[str, ...]
    hiss_dba: float | None
    hiss_low_dba: float | None
    hiss_high_dba: float | None
    shares: tuple[Share, ...]
    loudest_spl: float | None
    limited_by: str
    provenance: Provenance

    @property
    def total_spl(self) -> float | None:
        """All sources together, as powers."""
        from math import log10

        if not self.levels_spl:
            return None
        return 10 * log10(sum(10 ** (level / 10) for level in self.levels_spl.values()))


class Levels:
    """The electrical state of a rig: figures by hop, and what they come to at the ears."""

    def __init__(self, graph: Graph, rig: Rig) -> None:
        self.graph = graph
        self.rig = rig
        self.figures = Figures(graph, rig)

    @cached_property
    def ears(self) -> tuple[EarFigures, ...]:
        """Everyone with a plug in a socket, in the order of the file."""
        people = [p for p in self.rig.people if self.graph.of_listener(p)]
        found: list[EarFigures] = []
        size = max(1, _BLOCK // 2)
        for first in range(0, len(people), size):
            found += self._block(people[first : first + size])
        return tuple(found)

    def ear(self, person: str) -> EarFigures | None:
        """The figures of one person."""
        return next((ear for ear in self.ears if ear.person == person), None)

    # One block of ears

    def _block(self, people: Sequence[str]) -> list[EarFigures]:
        import numpy as np

        lanes = [(person, n) for person in people for n in self.graph.of_listener(person)]
        columns = {node: column for column, (_, node) in enumerate(lanes)}
        part = _Part(self.graph, self.figures, columns)
        gains = part.gains()
        highest = part.highest()
        noises = [n for n in self.figures.noises if n.node in part.place]
        rows = np.array([part.place[n.node] for n in noises], dtype=np.intp)
        powers = np.array([10 ** (n.level_db / 10) for n in noises])
        hiss = (gains[rows] ** 2) * powers[:, None] if noises else np.zeros((0, len(columns)))
        return [
            self._ear(person, [columns[n] for n in self.graph.of_listener(person)], part, gains,
                      noises, hiss, highest)
            for person in people
        ]  # fmt: skip

    def _ear(
        self,
        person: str,
        columns: Sequence[int],
        part: "_Part",
        gains: "Table",
        noises: Sequence[Noise],
        hiss: "Table",
        highest: "dict[int, tuple[float, str]]",
    ) -> EarFigures:
        from math import log10

        levels: dict[str, float] = {}
        missing: set[str] = set()
        provenance: Provenance = "measured"
        for source in self.rig.file.sources:
            nodes = [n for n in self.graph.of_source(source.id) if n in part.place]
            reach = max((gains[part.place[n], c] for n in nodes for c in columns), default=0.0)
            if not reach > 0:
                continue
            level = self.figures.source_dbu(source)
            if level is None:
                missing.add(f"the level of {source.name}")
                continue
            levels[source.id] = level + 20 * log10(reach)
            provenance = weakest(Quantity(0, provenance), level)
        best = max(columns, key=lambda c: float(hiss[:, c].sum())) if len(noises) else columns[0]
        total = float(hiss[:, best].sum()) if len(noises) else 0.0
        shares = self._shares(noises, hiss, best, total)
        missing |= part.missing_to(columns)
        hiss_dba = 10 * log10(total) if total > 0 else None
        spread = _combined(shares)
        loudest = max((highest[c] for c in columns if c in highest), default=(None, ""))
        return EarFigures(
            person,
            levels,
            tuple(sorted(missing)),
            hiss_dba,
            None if hiss_dba is None else hiss_dba - spread,
            None if hiss_dba is None else hiss_dba + spread,
            shares,
            loudest[0],
            loudest[1],
            weakest(Quantity(0, provenance), *(s.noise.figure for s in shares)),
        )

    def _shares(
        self, noises: Sequence[Noise], hiss: "Table", column: int, total: float
    ) -> tuple[Share, ...]:
        from math import log10

        found = []
        for row, noise in enumerate(noises):
            power = float(hiss[row, column])
            if power > 0 and power >= total * 1e-3:
                place = self.graph.nodes[noise.node].key
                found.append(Share(noise, place, 10 * log10(power), power / total))
        return tuple(sorted(found, key=lambda share: (-share.share_ratio, share.place)))


def _combined(shares: Sequence[Share]) -> float:
    """The likely error of a sum of powers: each figure's spread, weighed by its share."""
    return float(
        sum((s.share_ratio * spread_db(s.noise.figure.provenance)) ** 2 for s in shares) ** 0.5
    )


class _Part:
    """The part of the graph that leads to some ears, in layers from the sources to them."""

    def __init__(self, graph: Graph, figures: Figures, columns: dict[int, int]) -> None:
        self.graph = graph
        self.figures = figures
        self.columns = columns
        useful = graph.feeding(tuple(columns))
        self.order = _layered(graph, useful, tuple(columns))
        self.place = {node: row for row, node in enumerate(self.order)}
        self.hops: list[tuple[int, Hop]] = [
            (number, graph.hops[number])
            for node in self.order
            for number in graph.entering[node]
            if planned(graph.hops[number]) and self._forward(graph.hops[number])
        ]

    def _forward(self, hop: Hop) -> bool:
        """A hop that runs along the order; what runs back closes a loop and is left out."""
        start = self.place.get(hop.start)
        return start is not None and start < self.place[hop.end]

    def gains(self) -> "Table":
        """Voltage gain from every place (rows) to every ear (columns); 0 where nothing arrives.

        A hop with a missing figure passes nothing: what lies before it cannot be told.
        """
        import numpy as np

        table = np.zeros((len(self.order), len(self.columns)))
        for node, column in self.columns.items():
            table[self.place[node], column] = 1.0
        # Entering hops of the last places first: by then their own rows are complete.
        by_end: dict[int, list[tuple[int, float]]] = {}
        for number, hop in self.hops:
            step = self.figures.step(number)
            if not step.missing:
                ratio = 10 ** (step.gain_db / 20)
                by_end.setdefault(self.place[hop.end], []).append((self.place[hop.start], ratio))
        for end in range(len(self.order) - 1, -1, -1):
            for start, ratio in by_end.get(end, ()):
                table[start] += table[end] * ratio
        return table

    def missing_to(self, columns: Sequence[int]) -> set[str]:
        """The figures missing on any way to some ears."""
        ends = [node for node, column in self.columns.items() if column in columns]
        feeding = self.graph.feeding(ends)
        return {
            name
            for number, hop in self.hops
            if hop.end in feeding
            for name in self.figures.step(number).missing
        }

    def highest(self) -> dict[int, tuple[float, str]]:
        """The highest level that each ear can get, and the place that limits it.

        Every source is taken to overload what it meets; each place then passes at most what it
        bears, and its knob stands at the stop.
        """
        top: dict[int, tuple[float, str]] = {}
        for node in self.order:
            best: tuple[float, str] | None = None
            for number in self.graph.entering[node]:
                hop = self.graph.hops[number]
                if not planned(hop) or hop.start not in top:
                    continue
                step = self.figures.step(number)
                if step.missing and hop.means == "ear":
                    continue
                level, place = top[hop.start]
                here = (level + self.figures.highest_gain_db(number), place)
                best = here if best is None else max(best, here)
            clip = self.figures.clip_db(node)
            if clip is not None and (best is None or best[0] > clip):
                best = (float(clip), self.graph.nodes[node].key)
            if best is not None:
                top[node] = best
        return {column: top[node] for node, column in self.columns.items() if node in top}


def _layered(graph: Graph, useful: set[int], ends: Sequence[int]) -> list[int]:
    """The useful nodes so that signals run forward; of a loop, the hop that closes it runs back."""
    order: list[int] = []
    seen: set[int] = set()
    for end in ends:
        if end in seen:
            continue
        seen.add(end)
        stack = [(end, iter(graph.entering[end]))]
        while stack:
            node, hops = stack[-1]
            for number in hops:
                hop = graph.hops[number]
                if planned(hop) and hop.start in useful and hop.start not in seen:
                    seen.add(hop.start)
                    stack.append((hop.start, iter(graph.entering[hop.start])))
                    break
            else:
                order.append(node)
                stack.pop()
    return order
