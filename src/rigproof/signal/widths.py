"""How far off the sums at an ear may likely be: of all sources together, and of the loudest.

As with a hiss, every figure errs by what it is worth, independently of the others and of the first
order: by the share of the sound that passes it. An earphone touches all of it, one microphone only
its own. What was measured at a channel is as good as that measurement from there on.
"""

from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from math import hypot, log10

import msgspec

from rigproof.rig.band import Source
from rigproof.rig.quantity import PROVENANCES, Provenance, Quantity
from rigproof.rig.spread import spread_db, weaker
from rigproof.signal.ceilings import EARPHONES, Loudest
from rigproof.signal.figures import KNOB_OFF_DB, Figures, Part
from rigproof.signal.ladder import Told
from rigproof.signal.sums import EarSums

_WAYS = 12  # looked at from the limiting place to an ear; the one that makes the level is told


class _Along(msgspec.Struct, frozen=True, gc=False):
    """The way of a source along its chain, back from one of its places.

    `hops`: those that do something, as far back as the errors count; `measured`: whether the level
    was read on the way, so that nothing before counts.
    """

    ratio: float
    hops: tuple[int, ...]
    measured: bool


class Passed(msgspec.Struct, frozen=True):
    """A hop behind the place that limits: its knob at the stop, if it is turned, and the rest."""

    hop: int
    stop: Quantity | None
    parts: tuple[Part, ...]

    @property
    def gain_db(self) -> float:
        return (self.stop or 0.0) + sum(part.value_db for part in self.parts)


class Most(msgspec.Struct, frozen=True):
    """The most that can come to an ear: `place` gives out what it `bears`, then comes the `way`.

    `held`: a limiter of a mix stands there. Hops that do nothing are left out of the way.
    """

    told: Told
    place: int
    bears: Quantity
    held: bool
    way: tuple[Passed, ...]


class Widths:
    """The likely ranges of what comes to the ears of a rig; worked out on demand and kept."""

    def __init__(self, sums: EarSums) -> None:
        self.sums = sums
        self.figures: Figures = sums.figures
        self.graph, self.chains = sums.graph, sums.chains
        self._alongs: dict[int, _Along] = {}

    def together(self, person: str) -> Told | None:
        """All sources together at the louder of somebody's ears; None where nothing arrives."""
        found = [told for end in self.sums.ears_of(person) if (told := self._together(end))]
        return max(found, key=lambda told: told.value_db, default=None)

    def loudest(self, person: str) -> Told | None:
        """The loudest possible, every knob at its stop, as the limiting place drives it."""
        found = self.loudest_way(person)
        return None if found is None else found.told

    def limited(self, person: str) -> Told | None:
        """The most that limiters let through, the knobs as the file has them."""
        found = self.limited_way(person)
        return None if found is None else found.told

    def loudest_way(self, person: str) -> Most | None:
        """The same with the place that limits it and the way from there."""
        found = self.sums.loudest(person)
        return None if found is None else self._most(person, found, self._at_its_stop)

    def limited_way(self, person: str) -> Most | None:
        """The same with the place that limits it and the way from there."""
        found = self.sums.ears[person].limited
        if found is None:
            return None
        most = self._most(person, found, self._as_written)
        if most is None or found.place != EARPHONES:
            return most
        earphone = self.figures.earphone(person)
        own = earphone.max_spl_db if earphone is not None else None
        worth: Provenance = "assumed" if own is None else own.provenance
        told = Told(found.level_spl, spread_db(worth), worth)
        return msgspec.structs.replace(most, told=told)

    def _at_its_stop(self, number: int) -> Passed:
        return Passed(number, *self.figures.at_stop(number))

    def _as_written(self, number: int) -> Passed:
        if number in self.sums.unwritten_hops:
            return self._at_its_stop(number)
        return Passed(number, None, self.figures.step(number).parts)

    def _most(self, person: str, found: Loudest, passed: Callable[[int], Passed]) -> Most | None:
        """Of several ways from the limiting place to the ears, the one that makes the level."""
        graph = self.graph
        place = graph.index[found.by]
        bears = self.sums.ceilings.bears(place)
        ways = [
            [passed(graph.number_of(hop)) for hop in path]
            for path in graph.paths((place,), self.sums.ears_of(person), most=_WAYS)
        ]
        if bears is None or not ways:
            return None

        def apart(way: Sequence[Passed]) -> float:
            return abs(bears + sum(one.gain_db for one in way) - found.driven_spl)

        way = [one for one in min(ways, key=apart) if one.parts or one.stop is not None]
        squares, worth = self._bears_off_db(place, bears) ** 2, bears.provenance
        for one in way:
            stop = () if one.stop is None else (one.stop,)
            squares += sum(spread_db(figure.provenance) ** 2 for figure in stop)
            squares += sum(part.off_db**2 for part in one.parts)
            figures = *stop, *(part.figure for part in one.parts)
            worth = weaker(worth, *(figure.provenance for figure in figures))
        told = Told(found.driven_spl, squares**0.5, worth)
        held = place in self.sums.ceilings.limiters
        return Most(told, place, bears, held, tuple(way))

    def _bears_off_db(self, place: int, bears: Quantity) -> float:
        """A limiter stands where it was set, on the scale of the place it is in."""
        if place not in self.sums.ceilings.limiters:
            return spread_db(bears.provenance)
        scale = self.figures.clip_db(place)
        return hypot(KNOB_OFF_DB, spread_db(scale.provenance) if scale is not None else 0.0)

    # All sources together

    def _together(self, end: int) -> Told | None:
        chains, ratios, starts = self.chains, self.figures.ratios, self.chains.starts
        behind = chains.behind(end)
        onward = self.sums.gains_to(end)
        lanes: dict[int, list[tuple[int, _Along]]] = {}
        for node in onward:
            if chains.head[node] in self.sums.source_of:
                lanes.setdefault(chains.head[node], []).append((node, self._along(node)))
        powers: dict[str, float] = {}
        offs: dict[str, tuple[float, Provenance]] = {}
        touched: dict[int, float] = {}  # power that passes a hop, by the gain it has there
        carried: dict[int, float] = {}
        for head, ways in lanes.items():
            source = self.sums.source_of[head]
            volts = sum(along.ratio * onward[node] for node, along in ways)
            sent = self.sums.sent_dbu[source.id]
            if sent is None or volts <= 0:
                continue
            power = 10 ** (sent / 10) * volts**2
            powers[source.id] = powers.get(source.id, 0.0) + power
            offs[source.id] = self._source_off(source, sent, ways)
            for node, along in ways:
                carried[node] = power / volts * along.ratio
                for number in along.hops:
                    touched[number] = touched.get(number, 0.0) + carried[node] * onward[node]
        for node, numbers in zip(reversed(behind.order), reversed(behind.hops), strict=True):
            for number in numbers:
                passed = carried.get(starts[number], 0.0) * ratios[number]
                carried[node] = carried.get(node, 0.0) + passed
                touched[number] = touched.get(number, 0.0) + passed * onward[node]
        total = sum(powers.values())
        if total <= 0:
            return None
        return self._sum(total, powers, offs, touched)

    def _sum(
        self,
        total: float,
        powers: Mapping[str, float],
        offs: Mapping[str, tuple[float, Provenance]],
        touched: Mapping[int, float],
    ) -> Told:
        acting = self.figures.acting
        squares = sum((power * offs[name][0]) ** 2 for name, power in powers.items())
        worth = {provenance for _, provenance in offs.values()}
        for number, power in touched.items():
            if power > 0 and number in acting:
                squares += (power * acting[number].off_db) ** 2
                worth.update(part.figure.provenance for part in acting[number].parts)
        worst = max(worth, key=PROVENANCES.index)
        return Told(10 * log10(total), squares**0.5 / total, worst)

    def _source_off(
        self, source: Source, sent: Quantity, ways: Sequence[tuple[int, _Along]]
    ) -> tuple[float, Provenance]:
        reading = self.figures.readings.levels.get(source.id)
        if reading is None:
            return self.figures.source_off_db(source), sent.provenance
        if all(along.measured for _, along in ways):
            return reading.off_db, "measured"
        return self.figures.readings.worth_at_source(reading)

    def _along(self, node: int) -> _Along:
        found = self._alongs.get(node)
        if found is None:
            found = self._alongs[node] = self._walked(node)
        return found

    def _walked(self, node: int) -> _Along:
        chains, ratios, acting = self.chains, self.figures.ratios, self.figures.acting
        ratio, measured = 1.0, node in self._read
        # What was measured of a line whole stands at its last hop, with the errors of all of them.
        covered = self.figures.readings.covered
        hops: list[int] = []
        here = node
        while (number := chains.step_to(here)) is not None:
            if number in acting:
                ratio *= ratios[number]
                if not measured and number not in covered:
                    hops.append(number)
            here = chains.starts[number]
            measured = measured or here in self._read
        return _Along(ratio, tuple(hops), measured)

    @cached_property
    def _read(self) -> frozenset[int]:
        """The channels whose levels were measured."""
        levels = self.figures.readings.levels.values()
        return frozenset(node for reading in levels for node in reading.nodes)
