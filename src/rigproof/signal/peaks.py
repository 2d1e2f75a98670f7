"""How high the peaks stand at every place, and the room that is left under what the place bears.

Several sources' peaks do not fall on the same instant: they are summed as powers, all playing at
once, which is more than a mix reaches most nights. One source over two ways sums as voltages.
"""

from collections.abc import Mapping
from functools import cached_property
from math import log10

from rigproof.physics.levels import SINE_CREST_DB, crest_db
from rigproof.rig import Rig
from rigproof.rig.band import Family, Source
from rigproof.signal.figures import Figures
from rigproof.signal.graph import Graph

# Which printed crest factor stands for which family. Common practice, no source: what is struck
# or plucked peaks like drums, what is sung, blown or bowed like speech, a finished track like it.
_CREST_KIND: Mapping[Family, str] = {
    "drums": "drums",
    "percussion": "drums",
    "guitar": "drums",
    "bass": "speech",
    "keys": "drums",
    "strings": "speech",
    "winds": "speech",
    "brass": "speech",
    "voices": "speech",
    "electronics": "drums",
    "playback": "speech",
    "click": "drums",
    "cue": "speech",
    "talk": "speech",
    "ambience": "speech",
    "other": "music",
}


def crest_of(source: Source) -> float:
    """How far the peaks of a source stand above its level, in dB."""
    return crest_db(_CREST_KIND[source.family])


class Peaks:
    """The peaks of every place that a source arrives at, in the unit of the place."""

    def __init__(self, graph: Graph, rig: Rig, figures: Figures) -> None:
        self.graph = graph
        self.rig = rig
        self.figures = figures
        self._peaks_db: dict[int, float | None] = {}  # by the identity of the kept ratios

    @cached_property
    def unknown(self) -> tuple[str, ...]:
        """Sources whose level nobody states: their peaks are not in the sums."""
        return tuple(s.id for s in self.rig.file.sources if self.figures.source_dbu(s) is None)

    @cached_property
    def order(self) -> tuple[int, ...]:
        """The places that sources arrive at, each after those before it but where a loop closes."""
        sources = self.rig.file.sources
        return self.graph.downstream(tuple(n for s in sources for n in self.graph.of_source(s.id)))

    @cached_property
    def _ratios(self) -> Mapping[int, Mapping[int, float]]:
        """Place -> lane of a source -> voltage gain from there to here."""
        graph, acting, ratios = self.graph, self.figures.acting, self.figures.ratios
        begins = {n for s in self.rig.file.sources for n in graph.of_source(s.id)}
        found: dict[int, dict[int, float]] = {}
        for node in self.order:
            here: dict[int, float] = {node: 1.0} if node in begins else {}
            shared = False  # with the place before: most hops change nothing
            for number in graph.bringing[node]:
                before = found.get(graph.starts[number])  # not yet, where a hop closes a loop
                onward = ratios[number]
                if not before or not onward:
                    continue
                if not here and number not in acting:
                    here, shared = before, True
                    continue
                if shared:
                    here, shared = dict(here), False
                for lane, ratio in before.items():
                    here[lane] = here.get(lane, 0.0) + ratio * onward
            found[node] = here
        return found

    def arriving(self, node: int) -> frozenset[int]:
        """The lanes of sources that arrive at a place."""
        return frozenset(self._ratios.get(node, ()))

    @cached_property
    def _powers(self) -> Mapping[int, float]:
        """Lane of a source -> the power of its peaks."""
        found = {}
        for source in self.rig.file.sources:
            level = self.figures.source_dbu(source)
            if level is not None:
                for lane in self.graph.of_source(source.id):
                    found[lane] = 10 ** ((level + crest_of(source)) / 10)
        return found

    def peak_db(self, node: int) -> float | None:
        """The peaks at a place; None where nothing of known level arrives."""
        lanes = self._ratios.get(node)
        if not lanes:
            return None
        if id(lanes) not in self._peaks_db:
            powers = self._powers
            power = sum([r * r * powers[lane] for lane, r in lanes.items() if lane in powers])
            self._peaks_db[id(lanes)] = 10 * log10(power) if power > 0 else None
        return self._peaks_db[id(lanes)]

    def clip_db(self, node: int) -> float | None:
        """What a place bears, as the level of a sine; a digital line takes one of 0 dBFS."""
        return self.figures.clips_db[node]

    def room_db(self, node: int) -> float | None:
        """From the peaks up to what the place bears; None where either is unknown."""
        clip = self.clip_db(node)
        peak = None if clip is None else self.peak_db(node)
        return None if peak is None or clip is None else clip + SINE_CREST_DB - peak

    @cached_property
    def rooms(self) -> Mapping[int, float]:
        """Every place whose room can be told, in the order of the signal."""
        clips, ratios, known = self.figures.clips_db, self._ratios, self._peaks_db
        found: dict[int, float] = {}
        for node in self.order:
            clip = clips[node]
            if clip is None or not (lanes := ratios[node]):
                continue
            peak = known[id(lanes)] if id(lanes) in known else self.peak_db(node)
            if peak is not None:
                found[node] = clip + SINE_CREST_DB - peak
        return found
