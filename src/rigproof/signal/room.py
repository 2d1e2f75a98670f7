"""Where peaks find too little room, each fault at the first place it shows.

Behind a place that clips nothing more is judged, and nothing behind a knob that nobody wrote down:
a hand decides there. A limiter of a mix holds the peaks behind it at what the file says.
"""

from collections.abc import Iterator
from math import inf

import msgspec

from rigproof.signal.graph import Graph
from rigproof.signal.peaks import Peaks
from rigproof.signal.reach import Reach
from rigproof.signal.sums import EarSums


class Room(msgspec.Struct, frozen=True):
    """One place with what is left between the peaks and what it bears; below 0 it clips.

    `preamp`: a gain that somebody turns lies before it. `limited`: a limiter holds it.
    `before_db`: the least that the same signal had on its way here.
    """

    node: int
    room_db: float
    sources: tuple[str, ...]
    preamp: bool
    limited: bool
    before_db: float = inf


def rooms(graph: Graph, peaks: Peaks, ears: EarSums, arriving: Reach) -> Iterator[Room]:
    """Every place that can be judged, in the order of the signal."""
    shut: set[int] = set()
    held: dict[int, float] = {}  # what a limiter holds the level at, in the unit of the place
    behind_preamp: set[int] = set()
    least: dict[int, float] = {}
    named: dict[int, tuple[str, ...]] = {}  # the same few sets of sources arrive at many places
    limiters, bits = ears.ceilings.limiters, arriving.bits
    unwritten = ears.unwritten_hops
    found, entering, before_hop = peaks.rooms, ears.chains.entering, ears.chains.starts
    preamps = graph.of_kind("preamp")
    for node in peaks.order:
        ways, here = entering[node], bits[node]
        before = inf
        if len(ways) == 1:  # most places: nothing joins
            (number,) = ways
            start = before_hop[number]
            if node in preamps or start in behind_preamp:
                behind_preamp.add(node)
            if start in shut or number in unwritten:
                shut.add(node)
                continue
            if start in held:
                held[node] = held[start] + peaks.figures.step(number).gain_db
            if bits[start] == here:
                before = least.get(start, inf)
        else:
            starts = [before_hop[n] for n in ways]
            if node in preamps or not behind_preamp.isdisjoint(starts):
                behind_preamp.add(node)
            if not shut.isdisjoint(starts) or not unwritten.isdisjoint(ways):
                shut.add(node)
                continue
            before = min((least.get(n, inf) for n in starts if bits[n] == here), default=inf)
        if node in limiters:
            held[node] = min(limiters[node], held.get(node, limiters[node]))
        least[node] = before
        room = found.get(node)
        if room is None:
            continue
        if node in held and (clip := peaks.clip_db(node)) is not None:
            # A limiter set to a level lets a sine of that level pass, peaks and all.
            room = max(room, clip - held[node])
        if room < 0:
            shut.add(node)
        least[node] = min(before, room)
        if here not in named:
            named[here] = arriving.named(here)
        yield Room(node, room, named[here], node in behind_preamp, node in held, before)
