"""The most that can reach an ear, and the place that limits it.

Every source is taken to overload what it meets, and a converter back to analogue to be driven to
full scale, by whichever fader; each place then passes at most what it bears, and a limiter of a mix
what it is set to. Asked twice: with every knob at its stop, and with the knobs as the file says.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from math import inf

import msgspec

from rigproof.rig import Rig
from rigproof.rig.geartype import Port, Stage
from rigproof.rig.plan import Mix
from rigproof.rig.quantity import Quantity
from rigproof.signal.build import bus_lanes
from rigproof.signal.chains import Chains
from rigproof.signal.figures import Figures
from rigproof.signal.graph import Graph, planned
from rigproof.wording.sentences import sentence

# The earphones themselves give no more than their maker says.
EARPHONES = sentence("the earphones themselves")

_Top = tuple[float, int]  # a level, and the place that limits it


class Loudest(msgspec.Struct, frozen=True):
    """The most that can reach an ear, and the place that limits it.

    `driven_spl` is what the place `by` drives them to; it is more than the level where the
    earphones give no more, and are the place themselves.
    """

    level_spl: float
    place: str
    driven_spl: float
    by: str


class Ceilings:
    """The highest levels of a rig. `knobs`: hops through a knob that nobody wrote down."""

    def __init__(
        self,
        graph: Graph,
        rig: Rig,
        chains: Chains,
        figures: Figures,
        knobs: Mapping[int, str],
    ) -> None:
        self.graph = graph
        self.rig = rig
        self.chains = chains
        self.figures = figures
        self._knobs = knobs

    def loudest(self, person: str, ends: Sequence[int]) -> Loudest | None:
        """With every knob at its stop."""
        return self._loudest(person, ends, self._at_stops)

    def limited(self, person: str, ends: Sequence[int]) -> Loudest | None:
        """With the knobs as the file says and those it leaves open at the stop.

        None where no limiter of a mix lies on a way to these ears.
        """
        limiters = self.limiters.keys()
        for end in ends:
            behind = self.chains.behind(end)
            if not limiters.isdisjoint(behind.order or self.chains.trail(end)):
                return self._loudest(person, ends, self._as_written)
        return None

    def bears(self, node: int) -> Quantity | None:
        """What a place gives out at most: what it bears, or what the limiter there holds."""
        clip, limiter = self.figures.clip_db(node), self.limiters.get(node)
        if clip is None or limiter is None:
            return clip if limiter is None else limiter
        return min(limiter, clip)

    @cached_property
    def limiters(self) -> Mapping[int, Quantity]:
        """Place -> the level in dBu that the limiter of a mix holds there.

        A mix is limited before it leaves its box or the next: at the first analogue output behind
        it, and at the converter in front of that.
        """
        found: dict[int, Quantity] = {}
        for mix in self.rig.file.mixes:
            if mix.limiter_dbu is not None:
                for node in self._mix_nodes(mix):
                    for place in self._first_outputs(node):
                        found[place] = min(found.get(place, mix.limiter_dbu), mix.limiter_dbu)
        return found

    def _mix_nodes(self, mix: Mix) -> Iterator[int]:
        gear = mix.on or (self.rig.mixer.id if self.rig.mixer else None)
        if gear is None or gear not in self.rig.gear:
            return
        type_ = self.rig.type_of(gear)
        if type_.class_ == "personal-mixer":
            lanes = [
                f"{s.id}.{n}" if s.count > 1 else s.id
                for s in type_.stages("sum")
                for n in range(1, s.count + 1)
            ]
        else:
            lanes = bus_lanes(type_, mix.bus, mix.bank) if mix.bus else []
        for lane in lanes:
            if f"{gear}.{lane}" in self.graph.index:
                yield self.graph.index[f"{gear}.{lane}"]

    def _first_outputs(self, node: int) -> Iterator[int]:
        """The analogue outputs behind a mix, not beyond the first."""
        queue, seen = [node], {node}
        for here in queue:  # grows as it goes
            for number in self.graph.leaving[here]:
                hop = self.graph.hops[number]
                if not planned(hop) or hop.end in seen:
                    continue
                seen.add(hop.end)
                place = self.graph.nodes[hop.end]
                if isinstance(place.bank, Port) and place.bank.way == "out" and not place.digital:
                    yield hop.end
                    continue
                if place.kind == "converter" and self.figures.unit(hop.end) == "dBu":
                    yield hop.end
                if place.kind not in {"ear", "wedge", "house", "bus", "sum"}:
                    queue.append(hop.end)

    def _loudest(self, person: str, ends: Sequence[int], highest: "_Highest") -> Loudest | None:
        found = [top for end in ends if (top := highest.at(end)) is not None]
        if not found:
            return None
        level, node = max(found)
        earphone = self.figures.earphone(person)
        bears = earphone.max_spl_db if earphone is not None else None
        place = self.graph.nodes[node].key
        if bears is not None and level > bears:
            return Loudest(float(bears), EARPHONES, level, place)
        return Loudest(level, place, level, place)

    @cached_property
    def _at_stops(self) -> "_Highest":
        return self._highest(n for n in self.figures.acting if self._turns(n))

    @cached_property
    def _as_written(self) -> "_Highest":
        acting = self.figures.acting
        return self._highest(n for n, step in acting.items() if step.missing or n in self._knobs)

    def _highest(self, turned: Iterable[int]) -> "_Highest":
        """With the knobs of some hops at their stops, and the others as they stand."""
        gains = self._standing | {number: self._at_stop_db(number) for number in turned}
        return _Highest(self.chains, gains, self._bearing, self._capped)

    @cached_property
    def _standing(self) -> dict[int, float]:
        return {n: step.gain_db for n, step in self.figures.acting.items() if step.gain_db}

    def _turns(self, number: int) -> bool:
        """Whether a hop has a knob that goes further than it stands, or no end that sounds."""
        hop = self.graph.hops[number]
        bank = self.graph.nodes[hop.end].bank
        return hop.means == "ear" or (
            isinstance(bank, Stage) and bank.kind in {"amplifier", "preamp"}
        )

    def _at_stop_db(self, number: int) -> float:
        if self.figures.acting[number].missing and self.graph.hops[number].means == "ear":
            return -inf  # what no figure of the earphones turns into sound
        return self.figures.highest_gain_db(number)

    @cached_property
    def _bearing(self) -> Mapping[int, tuple[float, bool] | None]:
        """What each place bears, and whether a fader reaches it anyhow; None at a limiter.

        Somebody's fader can drive a converter to full scale.
        """
        found: dict[int, tuple[float, bool] | None] = {}
        for number, (clip, node) in enumerate(
            zip(self.figures.clips_db, self.graph.nodes, strict=True)
        ):
            if clip is not None:
                bank = node.bank
                found[number] = clip, isinstance(bank, Stage) and bank.kind == "converter"
        return found | dict.fromkeys(self.limiters)

    def _capped(self, node: int, top: _Top | None) -> _Top:
        """What the limiter of a mix lets out of a place."""
        clip, limiter = self.figures.clips_db[node], float(self.limiters[node])
        held = limiter if clip is None else min(limiter, clip)
        # Somebody's fader can drive a mix into its limiter; what a limiter holds already is driven
        # no further by what comes behind it.
        if top is None or top[1] not in self.limiters or top[0] > held:
            return held, node
        return top


class _Highest:
    """The highest level at each place, for one setting of the knobs.

    `gains_db` of the hops that have any; `bearing` of the places that bear only so much, where
    `capped` is asked at a limiter.
    """

    def __init__(
        self,
        chains: Chains,
        gains_db: Mapping[int, float],
        bearing: Mapping[int, tuple[float, bool] | None],
        capped: Callable[[int, _Top | None], _Top],
    ) -> None:
        self.chains = chains
        self._gains_db = gains_db
        self._bearing = bearing
        self._capped = capped

    def at(self, end: int) -> _Top | None:
        """The highest at one place, and the place that limits it."""
        behind = self.chains.behind(end)
        if not behind.order:
            return self._along[end]
        tops: dict[int, _Top | None] = {}
        starts, along, gains_db = self.chains.starts, self._along, self._gains_db
        bearing = self._bearing
        for node, numbers in zip(reversed(behind.order), reversed(behind.hops), strict=True):
            best: _Top | None = None
            for number in numbers:
                start = starts[number]
                top = tops[start] if start in tops else along.get(start)
                if top is not None and number in gains_db:
                    top = _further(top, gains_db[number])
                if top is not None and (best is None or top > best):
                    best = top
            tops[node] = self._held(node, best) if node in bearing else best
        return tops[end]

    def _held(self, node: int, top: _Top | None) -> _Top:
        """What a place that bears only so much gives on."""
        bears = self._bearing[node]
        if bears is None:
            return self._capped(node, top)
        if top is None or bears[1] or top[0] > bears[0]:
            return bears[0], node
        return top

    @cached_property
    def _along(self) -> Mapping[int, _Top | None]:
        held: dict[int, _Top | None] = {}
        entering, starts = self.chains.entering, self.chains.starts
        gains_db, bearing = self._gains_db, self._bearing
        for node in self.chains.order:
            top: _Top | None = None
            for number in entering[node]:  # one, or none at the head
                top = held[starts[number]]
                if top is not None and number in gains_db:
                    top = _further(top, gains_db[number])
            held[node] = self._held(node, top) if node in bearing else top
        return held


def _further(top: _Top, gain_db: float) -> _Top | None:
    return None if gain_db == -inf else (top[0] + gain_db, top[1])
