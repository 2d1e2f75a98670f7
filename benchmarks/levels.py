"""All figures of a rig at every ear: how long they take, beside a plain loop over the ways.

    python benchmarks/levels.py            the demo, the loop, and the demo a hundred times
    python benchmarks/levels.py --quick    without the hundredfold rig

The reference is the plain loop of this file: every way of every source and of every noise to every
ear, looked up and multiplied hop by hop with the same formulas. Both run in one process, in turns
and without a collector of garbage; figures are medians; nothing here fails on a slow machine.
"""

import argparse
import gc
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from math import log10
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from benchmarks.scale import write
from rigproof.checks.rule import View, look
from rigproof.rig.collecting import no_collecting
from rigproof.rigfile.load import load
from rigproof.signal.figures import Figures, Step
from rigproof.signal.graph import Hop
from rigproof.signal.levels import Levels

DEMO = Path(__file__).resolve().parent.parent / "src" / "rigproof" / "demo"
MOST = 1_000_000


class Ear(NamedTuple):
    """What the loop finds at one pair of ears."""

    levels_spl: dict[str, float]
    hiss_dba: float | None
    hiss_off_db: float
    loudest_spl: float | None


class Forgetful(Figures):
    """The same formulas, worked out where a way needs them and not kept for the next way."""

    def step(self, number: int) -> Step:
        for kept in (self._sends, self._bares, self._losses):
            kept.clear()
        return self._step(self.graph.hops[number])


def plain(view: View, figures: Figures) -> dict[str, Ear]:
    """Each person's figures, one way after the other."""
    graph = view.graph
    found = {}
    for person in view.rig.people:
        ears = [n for n in graph.of_listener(person) if graph.nodes[n].kind == "ear"]
        if ears:
            found[person] = at_ears(view, figures, ears)
    return found


def at_ears(view: View, figures: Figures, ears: Sequence[int]) -> Ear:
    """All sources and all noises at one pair of ears; the louder side counts."""
    levels: dict[str, float] = {}
    tops: list[float] = []
    limiters = view.ears.ceilings.limiters
    for source in view.rig.file.sources:
        level = figures.source_dbu(source)
        powers = []
        for ear in ears:
            ways = [
                way
                for lane in view.graph.of_source(source.id)
                for way in view.graph.paths([lane], [ear], most=MOST)
            ]
            lanes: dict[int, float] = {}
            for way in ways:
                ratio = along(figures, way)
                lanes[way[0].start] = lanes.get(way[0].start, 0.0) + ratio
                tops += highest(figures, way, limiters)
            powers.append(sum(ratio**2 for ratio in lanes.values()))
        if level is not None and max(powers) > 0:
            levels[source.id] = level + 10 * log10(max(powers))
    hisses = [hiss(view, figures, ear) for ear in ears]
    total, off_db = max(hisses)
    hiss_dba = 10 * log10(total) if total > 0 else None
    return Ear(levels, hiss_dba, off_db, max(tops, default=None))


def along(figures: Figures, way: Sequence[Hop]) -> float:
    """The voltage gain of one way; nothing where a figure is missing."""
    gain_db = 0.0
    for hop in way:
        step = figures.step_of(hop)
        if step.missing:
            return 0.0
        gain_db += step.gain_db
    return float(10 ** (gain_db / 20))


def highest(figures: Figures, way: Sequence[Hop], limiters: Mapping[int, float]) -> list[float]:
    """The highest level that a way lets through, where anything on it has a limit."""
    top: float | None = None
    held = False  # by a limiter: no fader drives it further
    for hop in way:
        if top is not None:
            top += figures.highest_gain_db(figures.graph.number_of(hop))
        clip = figures.clip_db(hop.end)
        if clip is not None:
            full = figures.graph.nodes[hop.end].kind == "converter"
            if top is None or top > clip or (full and hop.end not in limiters):
                top, held = float(clip), False
        if hop.end in limiters and (top is None or top > limiters[hop.end] or not held):
            most = limiters[hop.end] if clip is None else min(limiters[hop.end], clip)
            top, held = float(most), True
    return [] if top is None else [top]


def hiss(view: View, figures: Figures, ear: int) -> tuple[float, float]:
    """The power of all noises at an ear, and how far off their level may likely be."""
    total = 0.0
    touched: dict[int, float] = {}  # hop -> how the hiss turns with its gain
    own = []
    for noise in figures.noises:
        power = 10 ** (noise.level_db / 10)
        ways = view.graph.paths([noise.node], [ear], most=MOST)
        ratios = [along(figures, way) for way in ways]
        arriving = sum(ratios)
        for way, ratio in zip(ways, ratios, strict=True):
            for hop in way:
                touched[id(hop)] = touched.get(id(hop), 0.0) + power * arriving * ratio
        total += power * arriving**2
        own.append((power * arriving**2 * noise.off_db) ** 2)
    if not total:
        return 0.0, 0.0
    squares = sum(own)
    for hop in view.graph.hops:
        if id(hop) in touched:
            squares += (touched[id(hop)] * figures.step_of(hop).off_db) ** 2
    return total, squares**0.5 / total


def farthest_apart_db(view: View, found: Mapping[str, Ear]) -> float:
    """The greatest difference between the loop and the sums along chains."""
    apart = [0.0]
    for ear in Levels(view.graph, view.rig).ears:
        other = found[ear.person]
        assert other.levels_spl.keys() == ear.levels_spl.keys()
        apart += [abs(other.levels_spl[s] - ear.levels_spl[s]) for s in ear.levels_spl]
        off_db = None if ear.hiss_high_dba is None else ear.hiss_high_dba - (ear.hiss_dba or 0.0)
        pairs = [
            (other.hiss_dba, ear.hiss_dba),
            (None if other.hiss_dba is None else other.hiss_off_db, off_db),
            (other.loudest_spl, ear.loudest_spl),
        ]
        for one, two in pairs:
            assert (one is None) == (two is None)
            if one is not None and two is not None:
                apart.append(abs(one - two))
    return max(apart)


def seconds(work: Callable[[], object]) -> float:
    """Time of some work, with nothing left of what went before."""
    gc.collect()
    with no_collecting():
        begin = time.perf_counter()
        work()
        return time.perf_counter() - begin


def in_turns(works: Sequence[tuple[Callable[[], object], int]], *, rounds: int) -> list[float]:
    """Median times of some works, each so many times a round, that a busy machine slows alike."""
    taken: list[list[float]] = [[] for _ in works]
    for _ in range(rounds):
        for (work, times), here in zip(works, taken, strict=True):
            here += [seconds(work) for _ in range(times)]
    return [statistics.median(here) for here in taken]


def ours(view: View) -> None:
    """Everything at every ear, from nothing but the rig and its graph."""
    Levels(view.graph, view.rig).ears  # noqa: B018 (worked out when asked for)


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--quick", action="store_true", help="leave the hundredfold rig out")
    quick = asked.parse_args().quick
    view = look(load(DEMO))
    ours(view)  # the libraries load once
    works: list[tuple[Callable[[], object], int]] = [
        (lambda: ours(view), 5),
        (lambda: plain(view, Figures(view.graph, view.rig)), 1),
        (lambda: plain(view, Forgetful(view.graph, view.rig)), 1),
    ]
    ours_s, kept_s, loop_s = in_turns(works, rounds=5)
    apart = farthest_apart_db(view, plain(view, Forgetful(view.graph, view.rig)))
    print(f"all figures of the demo at every ear     {ours_s * 1000:9.1f} ms")
    print(f"the same by a plain loop over the ways   {loop_s * 1000:9.1f} ms")
    print(f"the loop, each hop's figures kept        {kept_s * 1000:9.1f} ms")
    print(f"ratio to the plain loop                  {loop_s / ours_s:9.1f}")
    print(f"ratio to the loop that keeps figures     {kept_s / ours_s:9.1f}")
    print(f"farthest apart                           {apart:9.1e} dB")
    if quick:
        return
    with tempfile.TemporaryDirectory() as made:
        for n in (10, 100):
            large = look(load(write(DEMO, Path(made) / f"rig-{n}", n)))
            large_s = seconds(lambda view=large: ours(view))  # type: ignore[misc]
            print(f"the demo {n} times{large_s * 1000:33.1f} ms, {large_s / ours_s / n:.2f} each")
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"highest memory of all this               {peak_mb:9.0f} MB")


if __name__ == "__main__":
    main()
