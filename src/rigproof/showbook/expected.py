"""What a meter shows at a channel when its source plays: for the line check."""

from collections import deque
from collections.abc import Sequence

import msgspec

from rigproof.checks.rule import View
from rigproof.patch import ChannelRow
from rigproof.rig.quantity import Provenance
from rigproof.signal import Hop
from rigproof.signal.graph import planned
from rigproof.signal.ladder import ladder


class Expected(msgspec.Struct, frozen=True):
    """Peaks at a channel, how far they may likely be off, and what the figure is worth."""

    peak_dbfs: float
    off_db: float
    provenance: Provenance


def expected(view: View, channel: ChannelRow) -> Expected | None:
    """The peaks of what is on a channel; None where a figure on the way is missing."""
    known = view.once(_known)
    key = channel.source.id if channel.source else "", channel.lane, channel.number
    if key not in known:
        known[key] = _expected(view, channel)
    return known[key]


def _known(_view: View) -> dict[tuple[str, int, int], Expected | None]:
    return {}


def _expected(view: View, channel: ChannelRow) -> Expected | None:
    if channel.source is None or view.rig.mixer is None:
        return None
    lanes = view.graph.of_source(channel.source.id)
    if channel.lane >= len(lanes):
        return None
    path = _way(view, lanes[channel.lane], channel.number)
    if not path:
        return None
    last = ladder(view.levels, path).rungs[-1]
    if last.unit != "dBFS" or last.level is None or last.peak_db is None:
        return None
    return Expected(last.peak_db, last.level.off_db, last.level.provenance)


def _way(view: View, start: int, number: int) -> Sequence[Hop]:
    """The shortest way from a source to the channel of this number on the band's mixer."""
    graph, mixer = view.graph, view.rig.mixer
    assert mixer is not None
    came: dict[int, int] = {}
    queue = deque([start])
    while queue:
        node = queue.popleft()
        place = graph.nodes[node]
        if place.gear == mixer.id and place.kind == "channel":
            if not place.key.endswith(f".{number}"):
                continue
            way: list[Hop] = []
            while node != start:
                way.append(graph.hops[came[node]])
                node = way[-1].start
            return tuple(reversed(way))
        for hop in graph.leaving[node]:
            end = graph.hops[hop].end
            if end != start and end not in came and planned(graph.hops[hop]):
                came[end] = hop
                queue.append(end)
    return ()
