"""Levels, noise and the loudest sound, for every ear at once.

What an ear hears of each place is one number: the gain from there to the ear. Those numbers for
all places and all ears are found walking once from the ears back to the sources, layer by layer,
with arrays; levels, hiss and its shares follow by multiplication. Same source over several ways
is summed as voltages in phase (the loud side); different sources, the two lanes of a pair and
noises as powers.
"""

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from math import log10
from typing import TYPE_CHECKING

import msgspec

from rigproof.rig import Rig
from rigproof.rig.quantity import Provenance, Quantity, weakest
from rigproof.signal.figures import Figures, Noise
from rigproof.signal.graph import Graph, Hop, planned

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table = NDArray[np.float64]
    Rows = NDArray[np.intp]

_BLOCK = 32  # people worked out together: more would only cost memory
_LEAST_SHARE = 1e-3  # what adds less to a hiss is not told apart


class Share(msgspec.Struct, frozen=True):
    """How much one thing adds to the hiss in an ear."""

    noise: Noise
    place: str
    spl_dba: float
    share_ratio: float


class EarFigures(msgspec.Struct, frozen=True):
    """One pair of ears: what arrives of each source, the hiss, and the loudest it can get.

    `None` where a figure is missing; `missing` says which. The louder side counts. `unheard`: the
    noise figures nobody states, so that the hiss is at least what stands here. `isolation_db`: what
    the earphones keep out, for judging the hiss in a noisy place.
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
    unheard: tuple[str, ...] = ()
    isolation_db: Quantity | None = None
    total_spl: float | None = None  # all sources together, as powers
    side: int = 0  # the ear that hisses most, by node


class Levels:
    """The electrical state of a rig: figures by hop, and what they come to at the ears."""

    def __init__(self, graph: Graph, rig: Rig) -> None:
        self.graph = graph
        self.rig = rig
        self.figures = Figures(graph, rig)

    @cached_property
    def ears(self) -> tuple[EarFigures, ...]:
        """Everyone with a plug in a socket, in the order of the file."""
        people = [person for person in self.rig.people if self._ears_of(person)]
        found: list[EarFigures] = []
        for first in range(0, len(people), _BLOCK):
            found += self._block(people[first : first + _BLOCK])
        return tuple(found)

    @cached_property
    def _by_person(self) -> Mapping[str, EarFigures]:
        return {ear.person: ear for ear in self.ears}

    def ear(self, person: str) -> EarFigures | None:
        """The figures of one person."""
        return self._by_person.get(person)

    def _ears_of(self, person: str) -> tuple[int, ...]:
        nodes = self.graph.nodes
        return tuple(n for n in self.graph.of_listener(person) if nodes[n].kind == "ear")

    def together_db(self, places: Sequence[int]) -> dict[int, float]:
        """The level of everything that arrives at each of some places, as powers."""
        part = _Part(self.graph, self.figures, {node: n for n, node in enumerate(places)})
        powers = self._heard(part).sum(axis=0) if places else []
        return {
            node: 10 * log10(float(power))
            for node, power in zip(places, powers, strict=True)
            if power > 0
        }

    @cached_property
    def levels_dbu(self) -> Mapping[str, Quantity | None]:
        """The level of each source where it begins."""
        return {s.id: self.figures.source_dbu(s) for s in self.rig.file.sources}

    def _heard(self, part: "_Part") -> "Table":
        """The power of each source that arrives (rows) at each end (columns)."""
        import numpy as np

        found = np.zeros((len(part.sources), len(part.columns)))
        for row, (source, nodes) in enumerate(part.sources.items()):
            level = self.levels_dbu[source]
            if level is not None:
                rows = [part.place[node] for node in nodes]
                found[row] = (part.gains[rows] ** 2).sum(axis=0) * 10 ** (level / 10)
        return found

    # One block of ears

    def _block(self, people: Sequence[str]) -> list[EarFigures]:
        import numpy as np

        lanes = [node for person in people for node in self._ears_of(person)]
        part = _Part(self.graph, self.figures, {node: n for n, node in enumerate(lanes)})
        noises = [n for node in part.order for n in self.figures.noises_at(node)]
        rows = np.array([part.place[n.node] for n in noises], dtype=np.intp)
        powers = np.array([10 ** (n.level_db / 10) for n in noises])
        hiss = (part.gains[rows] ** 2) * powers[:, None]
        heard = self._heard(part)
        offs = part.noise_offs(noises, rows, powers, hiss)
        unheard = {node: text for node in part.order if (text := self.figures.unstated_noise(node))}
        return [self._ear(person, part, noises, hiss, heard, offs, unheard) for person in people]

    def _ear(
        self,
        person: str,
        part: "_Part",
        noises: Sequence[Noise],
        hiss: "Table",
        heard: "Table",
        offs: "Table",
        unheard: Mapping[int, str],
    ) -> EarFigures:
        columns = [part.columns[node] for node in self._ears_of(person)]
        missing = set(part.missing_to(columns))
        levels: dict[str, float] = {}
        known: list[Quantity] = []
        louder = heard[:, columns].max(axis=1)
        for (source, nodes), power in zip(part.sources.items(), louder.tolist(), strict=True):
            level = self.levels_dbu[source]
            if level is None and any(part.reaches(node, columns) for node in nodes):
                missing.add(f"the level of {self.rig.sources[source].name}")
            if level is not None and power > 0:
                levels[source] = 10 * log10(power)
                known.append(level)
        best = max(columns, key=lambda column: float(hiss[:, column].sum()))
        total = float(hiss[:, best].sum())
        shares = self._shares(noises, hiss[:, best], total)
        hiss_dba = 10 * log10(total) if total > 0 else None
        off = float(offs[best])
        tops = [part.highest[column] for column in columns if column in part.highest]
        loudest_spl, limited_by = max(tops, default=(None, ""))
        together = float(heard[:, columns].sum(axis=0).max()) if len(heard) else 0.0
        earphone = self.figures.earphone(person)
        return EarFigures(
            person,
            levels,
            tuple(sorted(missing)),
            hiss_dba,
            None if hiss_dba is None else hiss_dba - off,
            None if hiss_dba is None else hiss_dba + off,
            shares,
            loudest_spl,
            limited_by,
            weakest(*known, *(share.noise.figure for share in shares)),
            tuple(sorted(t for node, t in unheard.items() if part.reaches(node, columns))),
            earphone.isolation_db if earphone else None,
            10 * log10(together) if together > 0 else None,
            next(node for node, column in part.columns.items() if column == best),
        )

    def _shares(self, noises: Sequence[Noise], powers: "Table", total: float) -> tuple[Share, ...]:
        found = []
        for row in (powers > total * _LEAST_SHARE).nonzero()[0].tolist():
            noise, power = noises[row], float(powers[row])
            place = self.graph.nodes[noise.node].key
            found.append(Share(noise, place, 10 * log10(power), power / total))
        return tuple(sorted(found, key=lambda share: (-share.share_ratio, share.place)))


class _Part:
    """The part of the graph that leads to some ends, in layers from the ends back to the sources.

    A hop that closes a loop is left out; so is, where gains are asked for, a hop with a missing
    figure: what lies before it cannot be told.
    """

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
        self.sources: dict[str, list[int]] = {}
        for node in self.order:
            if graph.nodes[node].kind == "source":
                name = graph.nodes[node].key.partition(":")[2].partition(".")[0]
                self.sources.setdefault(name, []).append(node)

    def _forward(self, hop: Hop) -> bool:
        start = self.place.get(hop.start)
        return start is not None and start < self.place[hop.end]

    @cached_property
    def _wired(self) -> "tuple[Rows, Rows, Table, Table, list[slice]]":
        """Starts, ends, ratios and likely errors of the hops, those of one layer in one slice.

        A place's layer is the longest way from there to an end, so that whatever lies behind a
        layer is complete when its turn comes.
        """
        import numpy as np

        layer = [0] * len(self.order)
        starts: list[int] = []
        ends: list[int] = []
        for _, hop in reversed(self.hops):  # those that enter the last places first
            start, end = self.place[hop.start], self.place[hop.end]
            layer[start] = max(layer[start], layer[end] + 1)
            starts.append(start)
            ends.append(end)
        ratios, offs = [], []
        for number, _ in reversed(self.hops):
            step = self.figures.step(number)
            ratios.append(0.0 if step.missing else 10 ** (step.gain_db / 20))
            offs.append(step.off_db)
        by_layer = np.array([layer[end] for end in ends], dtype=np.intp)
        sorting = np.argsort(by_layer, kind="stable")
        bounds = np.searchsorted(by_layer[sorting], np.arange(max(layer, default=0) + 1))
        slices = [
            slice(int(low), int(high))
            for low, high in zip(bounds, [*bounds[1:], len(sorting)], strict=True)
        ]
        return (
            np.array(starts, dtype=np.intp)[sorting],
            np.array(ends, dtype=np.intp)[sorting],
            np.array(ratios)[sorting],
            np.array(offs)[sorting],
            slices,
        )

    @cached_property
    def gains(self) -> "Table":
        """Voltage gain from every place (rows) to every end (columns); 0 where nothing arrives."""
        import numpy as np

        starts, ends, ratios, _, slices = self._wired
        table = self._ends()
        for layer in slices:
            np.add.at(table, starts[layer], table[ends[layer]] * ratios[layer, None])
        return table

    def _ends(self) -> "Table":
        import numpy as np

        table = np.zeros((len(self.order), len(self.columns)))
        for node, column in self.columns.items():
            table[self.place[node], column] = 1.0
        return table

    @cached_property
    def _reach(self) -> "Table":
        """1 where a place leads to an end at all, whatever figures are missing on the way."""
        import numpy as np

        starts, ends, _, _, slices = self._wired
        table = self._ends()
        for layer in slices:
            np.maximum.at(table, starts[layer], table[ends[layer]])
        return table

    def reaches(self, node: int, columns: Sequence[int]) -> bool:
        """Whether a place leads to one of some ends."""
        return bool(self._reach[self.place[node], columns].any())

    @cached_property
    def _missing(self) -> Sequence[tuple[int, tuple[str, ...]]]:
        found = ((hop.end, self.figures.step(number)) for number, hop in self.hops)
        return [(end, step.missing) for end, step in found if step.missing]

    def missing_to(self, columns: Sequence[int]) -> Iterable[str]:
        """The figures missing on any way to some ends."""
        for end, names in self._missing:
            if self.reaches(end, columns):
                yield from names

    def noise_offs(
        self, noises: Sequence[Noise], rows: "Rows", powers: "Table", hiss: "Table"
    ) -> "Table":
        """How far off the hiss at each end may likely be, in dB.

        First order: the error of each figure, weighed by the share of the hiss that it touches (of
        a hop, all that passes it); a root sum of squares, as the figures err independently.
        """
        import numpy as np

        starts, ends, ratios, offs, slices = self._wired
        here = np.zeros(len(self.order))
        np.add.at(here, rows, powers)
        for layer in reversed(slices):
            np.add.at(here, ends[layer], here[starts[layer]] * ratios[layer] ** 2)
        total = np.maximum(hiss.sum(axis=0), 1e-300)
        own = np.array([noise.off_db for noise in noises])
        squares = ((hiss / total * own[:, None]) ** 2).sum(axis=0)
        some = offs.nonzero()[0]
        through = (here[starts[some]] * ratios[some] ** 2)[:, None] * self.gains[ends[some]] ** 2
        squares += ((through / total * offs[some, None]) ** 2).sum(axis=0)
        found: Table = np.sqrt(squares)
        return found

    @cached_property
    def highest(self) -> dict[int, tuple[float, str]]:
        """The highest level that each end can get, and the place that limits it.

        Every source is taken to overload what it meets, and a converter back to analogue to be
        driven to full scale, by whichever fader; each place then passes at most what it bears,
        and every knob stands at the stop.
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
                here = top[hop.start]
                if step.parts:
                    here = (here[0] + self.figures.highest_gain_db(number), here[1])
                best = here if best is None else max(best, here)
            clip = self.figures.clip_db(node)
            full = self.graph.nodes[node].kind == "converter"
            if clip is not None and (best is None or best[0] > clip or full):
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
