"""What was measured at the channels, as far as it still speaks of the lines as they are now.

A measurement tells what a whole line came to at its channel; which of its boxes did what, it does
not. So a reading stands at the channel: from there on it takes the place of the sum of the figures
before it, and their errors with it. It counts while the line runs through the same types of boxes.
A knob that was turned since moves it by as much as the rig file says.
"""

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from math import hypot, log10
from typing import TYPE_CHECKING, Literal

import msgspec

from rigproof.rig.band import Source
from rigproof.rig.lanes import sockets
from rigproof.rig.measured import Kept, KeptLine, newest
from rigproof.rig.quantity import LevelDbu, Milliseconds, Provenance, Quantity, weakest
from rigproof.rig.spread import spread_db

if TYPE_CHECKING:
    from rigproof.signal.figures import Figures

# Quieter than this no converter is: that was a muted channel or a gate. From memory: the best state
# some 120 dB(A) under full scale.
NO_LINE_DBA = -125.0
_KNOB_OFF_DB = 0.5  # as for every knob that is written down
# What a player of up to 100 ohm loses into a line, and how well its full scale is known.
_PLAYER_OFF_DB = 0.5
_STANDS_DB = 0.01  # a knob that went less has not been turned


class LineWay(msgspec.Struct, frozen=True, kw_only=True):
    """The way of one lane of a source to its channel on the band's mixer.

    `hops`: from the source on; those before `plugged` lie before its socket. `through`: the types
    of the boxes from there on; `taken_with`: of the microphone or DI; `microphone`: whether it is
    one. `knobs_db`: how the knobs on it stand together; None where a gain is not known. `fixed_db`:
    what the rest of it does.
    `alone`: nothing else comes in on the way.
    """

    channel: int
    source: str
    socket: str
    node: int
    hops: tuple[int, ...]
    plugged: int
    through: tuple[str, ...]
    taken_with: str
    microphone: bool
    knobs_db: float | None
    fixed_db: float
    alone: bool

    @property
    def identity(self) -> tuple[int, str, str]:
        return self.channel, self.source, self.socket


class LevelReading(msgspec.Struct, frozen=True, kw_only=True):
    """How loud a source was at its channel. `sent_dbu` is what it then sends into its line.

    `off_db`: how far off the level at the channel likely is now. `nodes`: of the channels whose
    levels were read.
    """

    way: LineWay
    read_dbfs: Quantity
    sent_dbu: LevelDbu
    now_dbfs: float
    off_db: float
    nodes: frozenset[int]


class NoiseReading(msgspec.Struct, frozen=True, kw_only=True):
    """How much a line hissed at its channel, and what its figures make of that.

    `heard`: of the places on the way, the first whose noise was in it: in a proof the player stands
    in for the microphone. `turn_db`: by how much the noises from there on are turned so that they
    come to what was measured. The player and the room are in it too, so where it lies above what
    the figures could likely make, it says nothing of the line, and `turn_db` is None.
    `all_off_db`: how far off all noise at the channel likely is, with that of the places before.
    """

    way: LineWay
    heard: int
    read_dba: Quantity
    now_dba: float
    off_db: float
    reckoned_dba: float
    reckoned_off_db: float
    turn_db: float | None
    all_off_db: float


class DelayReading(msgspec.Struct, frozen=True, kw_only=True):
    """How long a line takes from its socket to its channel. `reckoned_ms`: by its figures."""

    way: LineWay
    way_ms: Milliseconds
    reckoned_ms: float
    reckoned_from: Provenance


class GainReading(msgspec.Struct, frozen=True, kw_only=True):
    """What a line does to a level from its socket to its channel, in dBFS over dBu.

    `apart_db`: how far that is from what the figures add up to. `off_db`: how far off it likely is
    now, which stands for all errors of those figures.
    """

    way: LineWay
    read_db: Quantity
    way_db: Quantity
    reckoned_db: float
    reckoned_off_db: float
    off_db: float

    @property
    def apart_db(self) -> float:
        return self.way_db - self.reckoned_db


class Stood(msgspec.Struct, frozen=True, kw_only=True):
    """A figure that was measured at a channel, what it is taken for now, and whether it counts."""

    what: Literal[
        "loudest three seconds", "hiss of the line", "delay of the line", "gain of the line"
    ]
    now: float
    unit: str
    read: Quantity
    counts: bool


class Stale(msgspec.Struct, frozen=True, kw_only=True):
    """A line that runs otherwise now than when it was measured last."""

    way: LineWay
    kept: Kept
    line: KeptLine


def line_ways(figures: "Figures") -> Iterator[LineWay]:
    """Every lane of a source that has a channel on the band's mixer, in the order of the patch."""
    rig, graph = figures.rig, figures.graph
    mixer = rig.mixer
    bank = next(rig.type_of(mixer.id).stages("channel"), None) if mixer else None
    if mixer is None or bank is None:
        return
    for row in rig.file.patch:
        if row.channel is None:
            continue
        source = rig.sources[row.source]
        plugs = sockets(rig.gear_types, row.plug, row.where) if row.plug else ()
        for lane, number in enumerate(tuple(row.channel)[: source.lanes]):
            name = f"{bank.id}.{number}" if bank.count > 1 else bank.id
            node = graph.index.get(f"{mixer.id}.{name}")
            if node is not None:
                socket = plugs[lane].key if lane < len(plugs) else ""
                way = _way(figures, source, number, socket, node)
                if way is not None:
                    yield way


def _way(figures: "Figures", source: Source, number: int, socket: str, node: int) -> LineWay | None:
    graph = figures.graph
    heads = set(graph.of_source(source.id))
    hops: list[int] = []
    place, alone = node, True
    while place not in heads:
        bringing = graph.bringing[place]
        if len(bringing) != 1:  # where a source starts at a socket of ours, its box lies behind it
            alone = False
            bringing = [hop for hop in bringing if graph.starts[hop] in heads]
        if len(bringing) != 1 or len(hops) > len(graph.nodes):
            return None  # several things come together before the channel
        hops.append(bringing[0])
        place = graph.starts[bringing[0]]
    hops.reverse()
    keys = [graph.nodes[graph.hops[hop].end].key for hop in hops]
    here = [n for n, key in enumerate(keys, 1) if socket and f"{key}.".startswith(f"{socket}.")]
    plugged = here[0] if here else 0
    boxes = [graph.nodes[graph.hops[hop].end].gear for hop in hops]
    types = [figures.rig.gear[box].type for box in dict.fromkeys(boxes) if box in figures.rig.gear]
    steps = [figures.stated_step(hop) for hop in hops]
    knobs_db = sum(part.value_db for step in steps for part in step.parts if part.knob)
    known = not any(step.missing for step in steps)
    return LineWay(
        channel=number,
        source=source.id,
        socket=socket,
        node=node,
        hops=tuple(hops),
        plugged=plugged,
        through=tuple(types),
        taken_with=" ".join(filter(None, (source.mic, source.di))),
        microphone=source.mic is not None,
        knobs_db=knobs_db if known else None,
        fixed_db=sum(step.gain_db for step in steps) - knobs_db,
        alone=alone,
    )


class Readings:
    """The readings of a rig that still hold, by what they are of."""

    def __init__(self, figures: "Figures") -> None:
        self.figures = figures
        self.graph, self.rig = figures.graph, figures.rig

    @cached_property
    def ways(self) -> tuple[LineWay, ...]:
        """The lines, where anything was measured at all."""
        return tuple(line_ways(self.figures)) if self.rig.measured else ()

    @cached_property
    def _kept(self) -> Mapping[tuple[int, str, str], Sequence[tuple[KeptLine, Kept]]]:
        """What is kept of each line, the newest first."""
        found: dict[tuple[int, str, str], list[tuple[KeptLine, Kept]]] = {}
        for line, kept in newest(self.rig.measured):
            found.setdefault(line.identity, []).append((line, kept))
        return found

    def _of(self, way: LineWay) -> Iterator[tuple[KeptLine, Kept]]:
        """What is kept of a line as it runs now."""
        for line, kept in self._kept.get(way.identity, ()):
            if line.through == way.through:
                yield line, kept

    @cached_property
    def stale(self) -> tuple[Stale, ...]:
        """The lines of which nothing is kept but as they ran before."""
        found = []
        for way in self.ways:
            kept = [
                (line, one)
                for line, one in self._kept.get(way.identity, ())
                if line.through is not None
            ]
            if kept and not any(line.through == way.through for line, _ in kept):
                found.append(Stale(way=way, kept=kept[0][1], line=kept[0][0]))
        return tuple(found)

    # Levels

    @cached_property
    def levels(self) -> Mapping[str, LevelReading]:
        """Source -> its newest level, where nobody states a measured one."""
        return {
            source: reading
            for source, reading in self.read_levels.items()
            if not stated_measured(self.rig.sources[source])
        }

    @cached_property
    def read_levels(self) -> Mapping[str, LevelReading]:
        """Source -> its newest level, whatever the file states; of a pair, of the louder side."""
        found: dict[str, LevelReading] = {}
        for way in self.ways:
            reading = self._level(way)
            if reading is None:
                continue
            other = found.get(way.source)
            if other is not None:
                louder = max(other, reading, key=lambda one: float(one.sent_dbu))
                reading = msgspec.structs.replace(louder, nodes=other.nodes | reading.nodes)
            found[way.source] = reading
        return found

    def _level(self, way: LineWay) -> LevelReading | None:
        for line, kept in self._of(way):
            read, then = line.loudest_dbfs, line.knobs_db
            if read is None or then is None or line.taken_with != way.taken_with:
                continue
            if way.knobs_db is None:
                return None
            turned = _turned(then, way.knobs_db)
            gain = self.gains.get(way.hops[-1])
            rest_db = way.fixed_db + (gain.apart_db if gain is not None else 0.0)
            return LevelReading(
                way=way,
                read_dbfs=_of_day(read, kept),
                sent_dbu=LevelDbu(read - then - rest_db, "measured", kept.date, kept.method),
                now_dbfs=read + turned,
                off_db=hypot(spread_db("measured"), _KNOB_OFF_DB if turned else 0.0),
                nodes=frozenset({way.node}),
            )
        return None

    def worth_before(self, reading: LevelReading, place: int) -> tuple[float, Provenance] | None:
        """How far off the level is at a place before the channel, and what it is worth there.

        None for a place that does not lie on the way. What is known at the channel is reckoned back
        from there, through figures that have errors of their own.
        """
        way = reading.way
        ends = self._places(way)
        if place not in ends:
            return None
        at = ends.index(place)
        gain = self.gains.get(way.hops[-1])
        if gain is None or at > way.plugged:
            steps = [self.figures.stated_step(hop) for hop in way.hops[at:]]
            errors, known = [], []
        else:
            steps = [self.figures.stated_step(hop) for hop in way.hops[at : way.plugged]]
            errors, known = [gain.off_db], [gain.way_db]
        off_db = hypot(reading.off_db, *errors, *(step.off_db for step in steps))
        parts = [part.figure for step in steps for part in step.parts]
        return off_db, weakest(reading.read_dbfs, *known, *parts)

    def worth_at_source(self, reading: LevelReading) -> tuple[float, Provenance]:
        """The same where the source starts."""
        worth = self.worth_before(reading, self.graph.starts[reading.way.hops[0]])
        assert worth is not None  # the way begins there
        return worth

    # Gains

    @cached_property
    def gains(self) -> Mapping[int, GainReading]:
        """The hop into a channel -> what its whole line does to a level, where it was measured."""
        return {
            way.hops[-1]: reading
            for way in self.ways
            if way.alone and way.plugged and (reading := self._gain(way)) is not None
        }

    def _gain(self, way: LineWay) -> GainReading | None:
        if way.knobs_db is None or self.figures.unit(way.node) != "dBFS":
            return None
        steps = [self.figures.stated_step(hop) for hop in way.hops[way.plugged :]]
        if not steps or any(step.missing for step in steps):
            return None
        for line, kept in self._of(way):
            if line.way_db is None or line.knobs_db is None:
                continue
            turned = _turned(line.knobs_db, way.knobs_db)
            return GainReading(
                way=way,
                read_db=_of_day(line.way_db, kept),
                way_db=_of_day(line.way_db + turned, kept),
                reckoned_db=sum(step.gain_db for step in steps),
                reckoned_off_db=hypot(*(step.off_db for step in steps)),
                off_db=hypot(
                    spread_db("measured"), _PLAYER_OFF_DB, _KNOB_OFF_DB if turned else 0.0
                ),
            )
        return None

    @cached_property
    def covered(self) -> frozenset[int]:
        """The hops whose errors are in what was measured of their lines."""
        return frozenset(
            hop
            for reading in self.gains.values()
            for hop in reading.way.hops[reading.way.plugged : -1]
        )

    def worth_behind(self, reading: GainReading) -> tuple[float, Provenance]:
        """How far off a source's level is at the channel of its measured line, and its worth."""
        source = self.rig.sources[reading.way.source]
        sent = self.figures.source_dbu(source)
        steps = [self.figures.stated_step(hop) for hop in reading.way.hops[: reading.way.plugged]]
        off_db = hypot(
            self.figures.source_off_db(source), reading.off_db, *(step.off_db for step in steps)
        )
        parts = [part.figure for step in steps for part in step.parts]
        return off_db, weakest(reading.way_db, *([sent] if sent is not None else ()), *parts)

    # Noises

    @cached_property
    def noises(self) -> Mapping[int, NoiseReading]:
        """Channel -> the newest noise of its line, by node."""
        found = {}
        for way in self.ways:
            reading = self._noise(way) if way.alone else None
            if reading is not None:
                found[way.node] = reading
        return found

    @cached_property
    def turned(self) -> Mapping[int, NoiseReading]:
        """Place on a line -> the reading that turns its noise."""
        found: dict[int, NoiseReading] = {}
        for reading in self.noises.values():
            if reading.turn_db is not None:
                for place in self._places(reading.way)[reading.heard :]:
                    found.setdefault(place, reading)
        return found

    @cached_property
    def settled(self) -> Mapping[int, float]:
        """Channel -> how far off its noise is, where it was measured, by node."""
        return {
            node: reading.all_off_db
            for node, reading in self.noises.items()
            if reading.turn_db is not None
        }

    def _places(self, way: LineWay) -> tuple[int, ...]:
        """The places of a way, from the source on."""
        return (self.graph.starts[way.hops[0]], *(self.graph.hops[hop].end for hop in way.hops))

    def _noise(self, way: LineWay) -> NoiseReading | None:
        for line, kept in self._of(way):
            read, then = line.noise_dba, line.knobs_db
            if read is None or then is None or read < NO_LINE_DBA:
                continue
            heard = way.plugged if kept.kind == "proof" else 0
            if way.knobs_db is None or (kept.kind == "proof" and not heard):
                return None
            # What a preamp makes rises with its knob, what a converter makes does not: the loud
            # side counts, and how far the knob went is not known of the noise.
            turned = _turned(then, way.knobs_db)
            now_dba = read + max(0.0, turned)
            off_db = hypot(spread_db("measured"), turned)
            power, squares = self._reckoned(way, heard, len(way.hops) + 1)
            if power <= 0:
                return None
            reckoned, reckoned_off = 10 * log10(power), squares**0.5 / power
            fits = now_dba <= reckoned + hypot(off_db, reckoned_off)
            before, before_squares = self._reckoned(way, 0, heard)
            now = 10 ** (now_dba / 10)
            all_off_db = (before_squares + (now * off_db) ** 2) ** 0.5 / (before + now)
            return NoiseReading(
                way=way,
                heard=heard,
                read_dba=_of_day(read, kept),
                now_dba=now_dba,
                off_db=off_db,
                reckoned_dba=reckoned,
                reckoned_off_db=reckoned_off,
                turn_db=now_dba - reckoned if fits else None,
                all_off_db=all_off_db,
            )
        return None

    def _reckoned(self, way: LineWay, first: int, last: int) -> tuple[float, float]:
        """The power at the channel of what hisses at some places of a way, by the figures.

        With it the squares of its errors.
        """
        power = squares = 0.0
        for number, place in enumerate(self._places(way)):
            if number:
                step = self.figures.step(way.hops[number - 1])
                squared = 10 ** (step.gain_db / 10)
                power *= squared
                squares = squares * squared * squared + (power * step.off_db) ** 2
            if first <= number < last:
                for noise in self.figures.stated_noises(place):
                    own = 10 ** (noise.level_db / 10)
                    power += own
                    squares += (own * noise.off_db) ** 2
        return power, squares

    # Delays

    @cached_property
    def delays(self) -> Mapping[int, DelayReading]:
        """Channel -> how long its line takes, by node."""
        found = {}
        for way in self.ways:
            for line, kept in self._of(way):
                if line.way_ms is None or line.way_ms < 0 or not (way.alone and way.plugged):
                    continue
                stated = [
                    delay
                    for hop in way.hops[way.plugged :]
                    if (delay := self.graph.hops[hop].delay_ms) is not None
                ]
                found[way.node] = DelayReading(
                    way=way,
                    way_ms=Milliseconds(line.way_ms, "measured", kept.date, kept.method),
                    reckoned_ms=sum(map(float, stated)),
                    reckoned_from=weakest(*stated),
                )
                break
        return found

    def at(self, node: int) -> Iterator[Stood]:
        """Everything that was measured at a place."""
        for source, level in self.read_levels.items():
            if node in level.nodes:
                counts = source in self.levels
                yield Stood(
                    what="loudest three seconds",
                    now=level.now_dbfs,
                    unit="dBFS",
                    read=level.read_dbfs,
                    counts=counts,
                )
        if (noise := self.noises.get(node)) is not None:
            yield Stood(
                what="hiss of the line",
                now=noise.now_dba,
                unit="dBFS(A)",
                read=noise.read_dba,
                counts=noise.turn_db is not None,
            )
        for gain in self.gains.values():
            if gain.way.node == node:
                yield Stood(
                    what="gain of the line",
                    now=float(gain.way_db),
                    unit="dB",
                    read=gain.read_db,
                    counts=True,
                )
        if (late := self.delays.get(node)) is not None:
            yield Stood(
                what="delay of the line",
                now=float(late.way_ms),
                unit="ms",
                read=late.way_ms,
                counts=True,
            )


def stated_measured(source: Source) -> bool:
    """Whether the file itself states a measured level for a source."""
    stated = source.level_dbu if source.level_dbu is not None else source.spl_db
    return stated is not None and stated.provenance == "measured"


def _turned(then_db: float, now_db: float) -> float:
    turned = now_db - then_db
    return turned if abs(turned) > _STANDS_DB else 0.0


def _of_day(value: float, kept: Kept) -> Quantity:
    return Quantity(value, "measured", kept.date, kept.method)
