"""The graph of a rig given to a general-purpose library: the same ways, and the same sums at ears.

SciPy knows nothing of rigs: it gets a matrix of hops, and of their voltage gains.
"""

from math import isinf, log10

import numpy as np
import pytest
from scipy.sparse import csc_array, csr_array, eye_array
from scipy.sparse.csgraph import shortest_path
from scipy.sparse.linalg import splu

from rigproof.signal.graph import planned
from tests.bands import WHOLE, whole


@pytest.mark.parametrize("name", WHOLE)
def test_the_shortest_ways(name: str) -> None:
    graph = whole(name).graph
    hops = {(hop.start, hop.end) for hop in graph.hops if planned(hop)}
    starts, ends = (np.array(side) for side in zip(*sorted(hops), strict=True))
    size = len(graph.nodes)
    matrix = csr_array((np.ones(len(hops)), (starts, ends)), shape=(size, size))
    view = whole(name)
    sources = [node for one in view.rig.sources for node in graph.of_source(one)]
    listeners = [node for person in view.rig.people for node in graph.of_listener(person)]
    listeners += graph.of_listener("house")
    hops_to = shortest_path(matrix, unweighted=True, indices=sources)
    told = 0
    for row, source in enumerate(sources):
        for listener in listeners:
            way = graph.shortest([source], [listener])
            fewest = hops_to[row, listener]
            assert (way is None) == isinf(fewest)
            if way is not None:
                assert len(way) == fewest
                told += 1
    assert told > 5


@pytest.mark.parametrize("name", WHOLE)
def test_the_levels_at_the_ears(name: str) -> None:
    """Volts at every place are those that come in, each times its gain: one linear system."""
    view = whole(name)
    graph, ratios = view.graph, view.figures.ratios
    size = len(graph.nodes)
    numbers = [n for n, hop in enumerate(graph.hops) if planned(hop)]
    gains = csc_array(
        (
            [ratios[n] for n in numbers],
            (
                [graph.hops[n].start for n in numbers],
                [graph.hops[n].end for n in numbers],
            ),
        ),
        shape=(size, size),
    )
    solver = splu(csc_array(eye_array(size) - gains))
    sent = view.ears.sent_dbu
    for person, ear in view.ears.ears.items():
        loudest: dict[str, float] = {}
        for end in view.ears.ears_of(person):
            at_end = np.zeros(size)
            at_end[end] = 1.0
            to_end = solver.solve(at_end)
            for source in ear.levels_spl:
                level = sent[source]
                assert level is not None
                volts = sum(to_end[node] ** 2 for node in graph.of_source(source))
                if volts > 0:
                    told = level + 10 * log10(volts)
                    loudest[source] = max(loudest.get(source, -1e9), told)
        assert loudest == pytest.approx(dict(ear.levels_spl), abs=1e-9)
