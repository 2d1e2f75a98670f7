"""How late each source arrives at each pair of ears, and what happens where it meets itself.

Delays in series add: converters, processing, what a stream is set to, radio. Where a source has
several ways to one ear, the shortest and the longest are kept: their difference is the comb.
A stream's setting holds the switches it passes: it says when a packet is played, not how long it
travels. Between two boxes of one link nothing is added beyond what their converters state.
"""

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from math import isnan, nan
from typing import Literal

import msgspec

from rigproof.physics.comb import comb_notch_db, inverted_notch_hz, notch_hz
from rigproof.physics.delays import air_ms, speed_of_sound_m_per_s
from rigproof.physics.latency_bounds import Grade, Instrument, Monitor, latency_bound_ms
from rigproof.rig import Rig
from rigproof.rig.band import Family, Source
from rigproof.rig.geartype import Stage
from rigproof.rig.quantity import Provenance, Quantity, weakest
from rigproof.rig.spread import spread_ratio
from rigproof.signal.chains import Chains
from rigproof.signal.figures import NOTHING, Figures
from rigproof.signal.graph import Graph, Hop
from rigproof.signal.readings import DelayReading
from rigproof.wording.sentences import sentence

Kind = Literal["converter", "processing", "stream", "radio", "wireless microphone", "measured"]
Verdict = Literal["good", "fair", "late", "not studied"]

# From the lips round the cheek to the ear canal: what the singer hears of the voice through the
# air. From memory of head dimensions, no source.
MOUTH_TO_EAR_M = 0.15
ROOM_DEGC = 20.0
SAME_TIME_MS = 0.02  # less than a sample at 48 kHz: two ways count as one
LISTENERS_DIFFER = sentence(
    "Listeners differ: in the one formal study some asked for half of what others did not notice."
)

# Which instrument of the study stands for a family. Where none does, nobody has printed a bound.
_STUDIED: Mapping[Family, Instrument] = {
    "voices": "voice",
    "drums": "drums",
    "percussion": "drums",
    "bass": "bass",
    "guitar": "guitar",
    "keys": "keyboard",
    "electronics": "keyboard",
    "winds": "saxophone",
}
# Digital stages whose makers state a delay; the rest of a box works within these.
_TIMED = frozenset({"converter", "processor"})


class Part(msgspec.Struct, frozen=True):
    """One thing on a way that takes time."""

    kind: Kind
    place: str
    delay_ms: Quantity


class Way(msgspec.Struct, frozen=True):
    """One way of a source to a listener: how long, how loud against the source, which way up.

    `low_ms` and `high_ms`: the ends of where its delay likely lies.
    """

    delay_ms: float
    gain_db: float | None
    inverted: bool
    low_ms: float = 0.0
    high_ms: float = 0.0


class Latency(msgspec.Struct, frozen=True):
    """One source at one listener. `missing`: parts of the way whose delay nobody stated.

    `left_out`: what lies before the rig as the file has it, and is not in the sum.
    """

    source: str
    listener: str
    monitor: Monitor
    shortest: Way
    longest: Way
    missing: tuple[str, ...]
    provenance: Provenance = "measured"
    left_out: tuple[str, ...] = ()
    comb: "Comb | None" = None  # of two ways that meet at one ear, the furthest apart

    @property
    def low_ms(self) -> float:
        return self.shortest.low_ms

    @property
    def high_ms(self) -> float:
        return self.longest.high_ms


class Comb(msgspec.Struct, frozen=True):
    """A sound and its late copy. `depth_db` is how far the notches fall, None where unknown."""

    apart_ms: float
    first_notch_hz: float
    copy_db: float | None
    depth_db: float | None


class OwnSound(msgspec.Struct, frozen=True):
    """A player's own sound in the own ears, graded by the published bounds.

    `bone` and `acoustic`: combs of a voice in the ears with what its singer hears through the
    skull and round the head. Only voices have them.
    """

    source: Source
    latency: Latency
    verdict: Verdict
    good_ms: float | None
    fair_ms: float | None
    bone: Comb | None
    acoustic: Comb | None
    remark: str = LISTENERS_DIFFER


class _Sum(msgspec.Struct, frozen=True, gc=False):
    """What has come together on a way so far."""

    delay_ms: float = 0.0
    gain_db: float = 0.0  # not a number where a gain is missing
    inverted: bool = False
    missing: int = 0  # bits of the list of missing figures
    weakest: int = 0  # index of the weakest provenance
    low_ms: float = 0.0
    high_ms: float = 0.0


class _Met(msgspec.Struct, frozen=True, gc=False):
    """The ways of one source to one listener, and the two that lie furthest apart at one ear."""

    short: _Sum
    long: _Sum
    apart: tuple[_Sum, _Sum] | None = None

    @property
    def widest(self) -> tuple[_Sum, _Sum]:
        return self.apart or (self.short, self.long)

    def with_(self, other: "_Met") -> "_Met":
        one, two = self.widest, other.widest
        wider = two[1].delay_ms - two[0].delay_ms > one[1].delay_ms - one[0].delay_ms
        short, long = _between((self.short, self.long), (other.short, other.long))
        return _Met(short, long, two if wider else one)


_ORDER: tuple[Provenance, ...] = ("measured", "datasheet", "typical", "assumed")
_NOTHING = _Sum()


class Delays:
    """The delays of a rig: of every source at every listener, found at once."""

    def __init__(self, graph: Graph, rig: Rig, chains: Chains, figures: Figures) -> None:
        self.graph = graph
        self.rig = rig
        self.chains = chains
        self.figures = figures
        self._names: dict[str, int] = {}  # of the missing figures, to their bits

    def of(self, source: str, listener: str) -> Latency | None:
        """One source at one listener; None where it does not arrive."""
        return self.table.get((source, listener))

    @cached_property
    def table(self) -> Mapping[tuple[str, str], Latency]:
        """(source, person) -> its delay there, for all that arrives at ears or wedges."""
        found: dict[tuple[str, str], Latency] = {}
        for person in self.rig.people:
            ends = self.graph.of_listener(person)
            monitor: Monitor = (
                "wedge" if ends and self.graph.nodes[ends[0]].kind == "wedge" else "in-ear"
            )
            for source, met in self._at(ends).items():
                found[source, person] = self._latency(source, person, monitor, met)
        return found

    def at_places(self, ends: Sequence[int]) -> Mapping[str, tuple[Way, Way]]:
        """The shortest and the longest way of each source to any of some places."""
        return {name: (_way(met.short), _way(met.long)) for name, met in self._at(ends).items()}

    @cached_property
    def own(self) -> tuple[OwnSound, ...]:
        """Every player's own sounds in the own ears, in the order of the file."""
        return tuple(
            self._own(source, latency)
            for source in self.rig.file.sources
            if source.player is not None
            and (latency := self.table.get((source.id, source.player))) is not None
        )

    def parts(self, source: str, listener: str) -> tuple[Part, ...]:
        """What takes time on the longest way, from the source on."""
        ends = self.graph.of_listener(listener)
        best: tuple[float, int, int] | None = None
        starts = self._starts(source)
        for end in ends:
            for node, (_, long) in self._back(end).items():
                head = self.chains.head[node]
                if head in starts:
                    total = long.delay_ms + self._along[node].delay_ms
                    if best is None or total > best[0]:
                        best = (total, end, node)
        if best is None:
            return ()
        _, end, node = best
        hops = [*self._chain_hops(node), *self._longest_hops(node, end)]
        return (*self._before(self.rig.sources[source]), *self._parts_of(source, hops))

    # Sums

    @cached_property
    def _along(self) -> Mapping[int, _Sum]:
        """From the head of its chain to each place on it."""
        hops, starts, entering = self._hops, self.chains.starts, self.chains.entering
        read = self.figures.readings.delays
        held: dict[int, _Sum] = {}
        for node in self.chains.order:
            so_far = _NOTHING
            if entering[node]:
                number = entering[node][0]
                so_far = held[starts[number]]
                if number in hops:
                    so_far = _joined(so_far, hops[number])
            if node in read:
                so_far = self._as_read(read[node], held, so_far)
            held[node] = so_far
        return held

    def _as_read(self, reading: DelayReading, held: Mapping[int, _Sum], here: _Sum) -> _Sum:
        """What has come together at a channel whose line was measured as a whole."""
        before = held[self.chains.starts[reading.way.hops[reading.way.plugged]]]
        way = _timed(reading.way_ms)
        return _Sum(
            before.delay_ms + way.delay_ms,
            here.gain_db,
            here.inverted,
            before.missing,
            max(before.weakest, way.weakest),
            before.low_ms + way.low_ms,
            before.high_ms + way.high_ms,
        )

    @cached_property
    def _hops(self) -> Mapping[int, _Sum]:
        """What each hop adds, of those that add anything; most are wires."""
        acting = self.figures.acting
        found: dict[int, _Sum] = {}
        for number, hop in enumerate(self.graph.hops):
            if hop.open:
                continue
            step = acting.get(number, NOTHING)
            gain = nan if step.missing else step.gain_db
            if hop.delay_ms is not None:
                found[number] = _timed(hop.delay_ms, gain, inverted=hop.inverts)
                continue
            name = self.lacks(hop)
            if step is not NOTHING or name or hop.inverts:
                found[number] = _Sum(0.0, gain, hop.inverts, self._bit(name) if name else 0)
        return found

    def stated(self, source: str, hop: Hop) -> Quantity | None:
        """What a hop on the way of a source adds, a wireless microphone's receiver with it."""
        if hop.delay_ms is not None or hop.means != "plug":
            return hop.delay_ms
        start = self.rig.sources[source].start
        parts = tuple(self._before(self.rig.sources[source]))
        if start is None or not parts or self.graph.nodes[hop.end].gear != start.gear:
            return None
        return sum_ms(parts)

    def lacks(self, hop: Hop) -> str:
        """The delay that somebody should state, if this hop must have one and has none."""
        if hop.means == "stream":
            return sentence("the latency of the stream {need}", need=hop.needs[0])
        node = self.graph.nodes[hop.end]
        if node.digital and isinstance(node.bank, Stage) and node.bank.kind in _TIMED:
            return sentence(
                "the delay of {bank} ({kind}) in {type_name}",
                bank=node.bank.id,
                kind=node.bank.kind,
                type_name=self._type_name(node.gear),
            )
        return ""

    def _type_name(self, gear: str) -> str:
        return self.rig.type_of(gear).name if gear in self.rig.gear else gear

    def _bit(self, name: str) -> int:
        return 1 << self._names.setdefault(name, len(self._names))

    def _named(self, bits: int) -> tuple[str, ...]:
        return tuple(name for name, bit in self._names.items() if bits >> bit & 1)

    # From an end back

    def _back(self, end: int) -> dict[int, tuple[_Sum, _Sum]]:
        """The ends of chains that lead to one place: the shortest and longest way from there."""
        behind = self.chains.behind(end)
        if not behind.order:
            return {end: (_NOTHING, _NOTHING)}
        held: dict[int, tuple[_Sum, _Sum]] = {end: (_NOTHING, _NOTHING)}
        starts, head, hops = self.chains.starts, self.chains.head, self._hops
        for node, numbers in zip(behind.order, behind.hops, strict=True):
            if node not in held:
                continue
            pair = short, long = held[node]
            for number in numbers:
                start = starts[number]
                here = pair
                if (step := hops.get(number)) is not None:
                    near = _joined(step, short)
                    here = (near, near if long is short else _joined(step, long))
                known = held.get(start)
                held[start] = here if known is None else _between(known, here)
        return {node: pair for node, pair in held.items() if head[node] >= 0}

    def _at(self, ends: Sequence[int]) -> dict[str, "_Met"]:
        found: dict[str, _Met] = {}
        heads, sources, along = self.chains.head, self._source_of, self._along
        for end in ends:
            # One lane of a source at one ear: what has several ways here meets itself.
            lanes: dict[int, tuple[_Sum, _Sum]] = {}
            for node, (short, long) in self._back(end).items():
                head = heads[node]
                if head not in sources:
                    continue
                near = _joined(along[node], short)
                here = (near, near if long is short else _joined(along[node], long))
                known = lanes.get(head)
                lanes[head] = here if known is None else _between(known, here)
            for head, (short, long) in lanes.items():
                source = sources[head]
                begin = self._begins[source]
                if begin is not _NOTHING:
                    near = _joined(begin, short)
                    short, long = near, near if long is short else _joined(begin, long)
                lane = _Met(short, long)
                found[source] = found[source].with_(lane) if source in found else lane
        return found

    @cached_property
    def _source_of(self) -> Mapping[int, str]:
        return {n: s.id for s in self.rig.file.sources for n in self.graph.of_source(s.id)}

    def _starts(self, source: str) -> frozenset[int]:
        return frozenset(self.graph.of_source(source))

    @cached_property
    def _begins(self) -> Mapping[str, _Sum]:
        """What a source has behind it before it enters the graph: a wireless microphone."""
        found: dict[str, _Sum] = {}
        for source in self.rig.file.sources:
            total = _NOTHING
            for part in self._before(source):
                total = _joined(total, _timed(part.delay_ms))
            found[source.id] = total
        return found

    def _is_wireless(self, source: Source) -> bool:
        start = source.start
        if start is None or start.gear not in self.rig.gear:
            return False
        timed = any(s.delay_ms for s in self.rig.type_of(start.gear).inside.stages)
        return self.rig.type_of(start.gear).class_ == "receiver" and timed

    def _before(self, source: Source) -> Iterator[Part]:
        """The delay of a receiver that a source is said to come out of."""
        if source.start is None or not self._is_wireless(source):
            return
        for stage in self.rig.type_of(source.start.gear).inside.stages:
            if stage.delay_ms:
                place = f"{source.start.gear}.{stage.id}"
                yield Part("wireless microphone", place, stage.delay_ms)

    # Results

    def _latency(self, source: str, listener: str, monitor: Monitor, met: _Met) -> Latency:
        short, long = met.short, met.long
        first, second = met.widest
        shortest = _way(short)
        missing = short.missing | long.missing
        return Latency(
            source,
            listener,
            monitor,
            shortest,
            shortest if long is short else _way(long),
            self._named(missing) if missing else (),
            _ORDER[max(short.weakest, long.weakest)],
            self._left_out.get(source, ()),
            None if second is first else parallel_comb(_way(first), _way(second)),
        )

    @cached_property
    def _left_out(self) -> Mapping[str, tuple[str, ...]]:
        """What lies before the rig, of the sources that come in by radio."""
        return {
            source.id: (sentence("the transmitter of {source}", source=source.name),)
            for source in self.rig.file.sources
            if self._is_wireless(source)
        }

    def _own(self, source: Source, latency: Latency) -> OwnSound:
        instrument = _STUDIED.get(source.family)
        bounds: dict[Grade, float] = {}
        if instrument is not None:
            for grade in ("good", "fair"):
                bounds[grade] = latency_bound_ms(
                    instrument=instrument, monitor=latency.monitor, grade=grade
                )
        voice = source.family == "voices" and latency.monitor == "in-ear"
        head_ms = air_ms(distance_m=MOUTH_TO_EAR_M, speed_m_per_s=speed_of_sound_m_per_s(ROOM_DEGC))
        return OwnSound(
            source,
            latency,
            _verdict(latency.shortest.delay_ms, bounds),
            bounds.get("good"),
            bounds.get("fair"),
            own_comb(latency.shortest, 0.0) if voice else None,
            own_comb(latency.shortest, head_ms) if voice else None,
        )

    # Parts

    def _chain_hops(self, node: int) -> list[int]:
        found: list[int] = []
        while (number := self.chains.step_to(node)) is not None:
            found.append(number)
            node = self.graph.hops[number].start
        return found[::-1]

    def _longest_hops(self, node: int, end: int) -> list[int]:
        """The hops of the longest way from the end of a chain to a place."""
        behind = self.chains.behind(end)
        far: dict[int, float] = {end: 0.0}
        onward: dict[int, int] = {}
        for place, numbers in zip(behind.order, behind.hops, strict=True):
            for number in numbers:
                start = self.graph.hops[number].start
                total = far[place] + self._hops.get(number, _NOTHING).delay_ms
                if total > far.get(start, -1.0):
                    far[start], onward[start] = total, number
        found: list[int] = []
        while node != end:
            found.append(onward[node])
            node = self.graph.hops[onward[node]].end
        return found

    def timed(self, source: str, hops: Sequence[Hop]) -> Mapping[int, Quantity]:
        """What each hop of a way adds, by its place in the way.

        Where a line was measured as a whole, its last hop has all of it and the others nothing.
        """
        found: dict[int, Quantity] = {}
        read = self.figures.readings.delays
        for place, hop in enumerate(hops):
            if hop.end in read:
                way = read[hop.end].way
                for before in range(place + 1 - len(way.hops) + way.plugged, place + 1):
                    found.pop(before, None)
                found[place] = read[hop.end].way_ms
            elif (stated := self.stated(source, hop)) is not None:
                found[place] = stated
        return found

    def _parts_of(self, source: str, hops: Sequence[int]) -> Iterator[Part]:
        way = [self.graph.hops[number] for number in hops]
        read = self.figures.readings.delays
        for place, delay_ms in self.timed(source, way).items():
            hop = way[place]
            if delay_ms and hop.means != "plug":  # a receiver's part stands before the way
                node = self.graph.nodes[hop.end]
                kind = "measured" if hop.end in read else _kind(hop, node.kind)
                yield Part(kind, node.key, delay_ms)


def parallel_comb(short: Way, long: Way) -> Comb | None:
    """What two ways of one source to one place do to it; None where they arrive together.

    The louder of the two counts as the sound, the other as its copy.
    """
    apart = long.delay_ms - short.delay_ms
    if apart < SAME_TIME_MS:
        return None
    copy_db = None
    if short.gain_db is not None and long.gain_db is not None:
        copy_db = -abs(long.gain_db - short.gain_db)
    notch = inverted_notch_hz if short.inverted != long.inverted else notch_hz
    depth = comb_notch_db(copy_db) if copy_db is not None else None
    return Comb(apart, notch(delay_ms=apart), copy_db, depth)


def own_comb(way: Way, other_ms: float) -> Comb | None:
    """A voice in the ears with the same voice by a way of the head that takes so long."""
    apart = way.delay_ms - other_ms
    if apart < SAME_TIME_MS:
        return None
    notch = inverted_notch_hz if way.inverted else notch_hz
    return Comb(apart, notch(delay_ms=apart), None, None)


def sum_ms(parts: Sequence[Part]) -> Quantity:
    """The delay of a way from its parts."""
    return Quantity(sum(p.delay_ms for p in parts), weakest(*(p.delay_ms for p in parts)))


def _verdict(delay_ms: float, bounds: Mapping[Grade, float]) -> Verdict:
    if not bounds:
        return "not studied"
    if delay_ms <= bounds["good"]:
        return "good"
    return "fair" if delay_ms <= bounds["fair"] else "late"


def _joined(first: _Sum, then: _Sum) -> _Sum:
    if then is _NOTHING:  # most hops are wires
        return first
    if first is _NOTHING:
        return then
    return _Sum(
        first.delay_ms + then.delay_ms,
        first.gain_db + then.gain_db,
        first.inverted != then.inverted,
        first.missing | then.missing,
        max(first.weakest, then.weakest),
        first.low_ms + then.low_ms,
        first.high_ms + then.high_ms,
    )


def _timed(delay_ms: Quantity, gain_db: float = 0.0, *, inverted: bool = False) -> _Sum:
    """What one stated delay adds, with the range that it likely lies in."""
    low, high = spread_ratio(delay_ms.provenance)
    ms = float(delay_ms)
    rank = _ORDER.index(delay_ms.provenance) if ms else 0
    return _Sum(ms, gain_db, inverted, 0, rank, ms * low, ms * high)


def _between(one: tuple[_Sum, _Sum], two: tuple[_Sum, _Sum]) -> tuple[_Sum, _Sum]:
    """The shortest and the longest of two pairs; of equals the first."""
    return (
        two[0] if two[0].delay_ms < one[0].delay_ms else one[0],
        two[1] if two[1].delay_ms > one[1].delay_ms else one[1],
    )


def _way(found: _Sum) -> Way:
    gain_db = None if isnan(found.gain_db) else found.gain_db
    return Way(found.delay_ms, gain_db, found.inverted, found.low_ms, found.high_ms)


def _kind(hop: Hop, place: str) -> Kind:
    if hop.means in {"stream", "radio"}:
        return "stream" if hop.means == "stream" else "radio"
    return "converter" if place == "converter" else "processing"
