"""What each pair of ears gets: the level of every source, the hiss, and what nobody wrote down.

The only place where levels and noises are summed; verdicts, ladders, plans and pages all ask here.
Sums run along chains: from a source to the mixing there is one way, the same for everybody who
hears it, so it is walked once, and for each ear only the few places behind the mixing are walked.
One source over several ways adds as voltages in phase (the loud side); different sources, the two
lanes of a pair and noises add as powers.

Knobs that nobody wrote down are named, because whatever runs through them is not planned but at
the mercy of a hand.
"""

from collections.abc import Collection, Mapping, Sequence, Set
from functools import cached_property
from math import log10

import msgspec

from rigproof.rig import Rig
from rigproof.rig.band import Source
from rigproof.rig.geartype import Stage
from rigproof.rig.quantity import Provenance, Quantity, weakest
from rigproof.signal.ceilings import Ceilings, Loudest
from rigproof.signal.chains import Behind, Chains
from rigproof.signal.figures import Figures, Noise, Step
from rigproof.signal.graph import Graph, planned
from rigproof.wording.sentences import sentence


class EarSum(msgspec.Struct, frozen=True, kw_only=True):
    """What comes to one person's ears; the louder side counts.

    `hiss_off_db`: how far off the hiss may likely be. `floor_dba` is the hiss that no knob turns
    down: of what lies behind the last knob that nobody wrote down, or of everything where all are
    written. `unwritten`: places of those knobs; `open_sends`: personal mixers whose sends are left
    to the player. `limited`: the most that the limiters of the mixes let through, the knobs as the
    file says and those it leaves open at the stop; None without a limiter.
    `side`: the ear that hisses most, by node.
    """

    person: str
    levels_spl: Mapping[str, float]
    total_spl: float | None  # all sources together, as powers
    hiss_dba: float | None
    hiss_off_db: float
    floor_dba: float | None
    unwritten: tuple[str, ...]
    open_sends: tuple[str, ...]
    missing: tuple[str, ...]
    limited: Loudest | None
    provenance: Provenance
    side: int

    @property
    def planned(self) -> bool:
        """Whether the file says where every knob and send on the way stands."""
        return not (self.unwritten or self.open_sends)


class Share(msgspec.Struct, frozen=True):
    """How much one thing adds to the hiss in an ear."""

    noise: Noise
    place: str
    spl_dba: float
    share_ratio: float


class _Held(msgspec.Struct, frozen=True, gc=False):
    """What a chain brings to one of its places.

    `ratio`: voltage gain from its head; 0 behind a missing figure. `power`: of all noise so far;
    `floor`: of that which no open knob turns down; `squares`: of the errors of that power.
    `hissing`: the places that made it; `mute`: those of which a noise is due that nobody states;
    the nearest first.
    """

    ratio: float = 1.0
    power: float = 0.0
    floor: float = 0.0
    squares: float = 0.0
    knobs: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    hissing: tuple[int, ...] = ()
    mute: tuple[int, ...] = ()


class _Hiss(msgspec.Struct, frozen=True, gc=False):
    """Powers of the noise at one end, as those of a chain."""

    power: float
    floor: float
    squares: float


def _hissing(held: _Held, node: int, own: _Hiss) -> _Held:
    """What a chain brings to a place that hisses itself."""
    return _Held(
        held.ratio,
        held.power + own.power,
        held.floor + own.floor,
        held.squares + own.squares,
        held.knobs,
        held.missing,
        (node, *held.hissing),
        held.mute,
    )


_HEAD = _Held()
_SILENT = _Hiss(0.0, 0.0, 0.0)


class EarSums:
    """The sums at all ears, and at any other place that is asked for."""

    def __init__(self, graph: Graph, rig: Rig, chains: Chains, figures: Figures) -> None:
        self.graph = graph
        self.rig = rig
        self.chains = chains
        self.figures = figures

    @cached_property
    def ears(self) -> Mapping[str, EarSum]:
        """Person -> what comes to the ears, for everyone with a plug in a socket."""
        return {
            person.id: self._ear(person.id, ends)
            for person in self.rig.file.people
            if (ends := self.ears_of(person.id))
        }

    def ears_of(self, person: str) -> tuple[int, ...]:
        """The places of somebody's two ears; none without earphones in a socket."""
        ends = self.graph.of_listener(person)
        return tuple(n for n in ends if self.graph.nodes[n].kind == "ear")

    @cached_property
    def ceilings(self) -> Ceilings:
        """The most that can reach a place."""
        return Ceilings(self.graph, self.rig, self.chains, self.figures, self._knobs)

    def loudest(self, person: str) -> Loudest | None:
        """The most that limiters let through to somebody's ears with every knob at its stop."""
        return self.ceilings.loudest(person, self.ears_of(person))

    def shares(self, person: str, *, least_ratio: float = 0.0) -> tuple[Share, ...]:
        """What hisses in somebody's ears, the loudest first; on the side that hisses more.

        What adds no more than the least share is left out.
        """
        gains = self.gains_to(self.ears[person].side)
        own, along = self._own, self._along
        arriving: dict[int, float] = {}
        for node, gain in gains.items():
            if node in along:
                for place, ratio in self._brought(node):
                    arriving[place] = arriving.get(place, 0.0) + gain * ratio
            elif node in own:
                arriving[node] = gain
        found = [
            (noise, power * gain * gain)
            for node, gain in arriving.items()
            if gain
            for noise, power in own[node]
        ]
        total = sum(power for _, power in found)
        nodes = self.graph.nodes
        rows = [
            Share(n, nodes[n.node].key, 10 * log10(power), power / total)
            for n, power in found
            if power > total * least_ratio
        ]
        return tuple(sorted(rows, key=lambda row: (-row.share_ratio, row.place, row.noise.name)))

    def unheard(self, person: str) -> tuple[str, ...]:
        """The noise figures that nobody states, of places that lead to somebody's ears."""
        ends = self.ears_of(person)
        unstated, along = self.figures.unstated_noises, self._along
        places: set[int] = set()
        for node in {node for end in ends for node in self.gains_to(end)}:
            if node in along:
                places.update(along[node].mute)
            elif node in unstated:
                places.add(node)
        return tuple(sorted(map(unstated.__getitem__, places)))

    def together_db(self, places: Collection[int]) -> dict[int, float]:
        """The level of everything that arrives at each of some places, as powers."""
        found = {}
        for place in places:
            powers = self._powers(self.gains_to(place))
            if total := sum(powers.values()):
                found[place] = 10 * log10(total)
        return found

    def gain_ratio(self, start: int, end: int) -> float:
        """The voltage gain of all ways from one place to another; 0 where there is none."""
        return self._gain_from(start, self.gains_to(end))

    def gains_to(self, end: int) -> Mapping[int, float]:
        """Voltage gain to one end from each place behind the chains, and from their ends."""
        return self._gains(end)[0]

    def clear_db(self, node: int) -> float | None:
        """How far a source stands above the noise at a place on its chain; None where unknown."""
        source = self.source_of.get(self.chains.head[node])
        level = self.sent_dbu[source.id] if source is not None else None
        held = self._along.get(node, _HEAD)
        if level is None or held.ratio <= 0 or held.power <= 0:
            return None
        return level + 20 * log10(held.ratio) - 10 * log10(held.power)

    @property
    def unwritten_hops(self) -> Set[int]:
        """The hops that run through a knob nobody wrote down."""
        return self._knobs.keys()

    @cached_property
    def sent_dbu(self) -> Mapping[str, Quantity | None]:
        """Source -> the level it sends."""
        return {source.id: self.figures.source_dbu(source) for source in self.rig.file.sources}

    # Hops that do something; most are wires

    @property
    def _steps(self) -> Mapping[int, Step]:
        return self.figures.acting

    @property
    def _ratios(self) -> Sequence[float]:
        return self.figures.ratios

    @cached_property
    def _offs(self) -> Mapping[int, float]:
        return {number: step.off_db for number, step in self._steps.items() if step.off_db}

    @cached_property
    def _lacking(self) -> Mapping[int, tuple[str, ...]]:
        """The few hops that lack figures."""
        return {number: step.missing for number, step in self._steps.items() if step.missing}

    @cached_property
    def _knobs(self) -> Mapping[int, str]:
        """The few hops that run through a knob nobody wrote down, and its place."""
        # Whatever turns has a part of its own in the step, so hops that do nothing are passed over.
        knobs = ((number, self._knob_at(number)) for number, s in self._steps.items() if s.parts)
        return {number: knob for number, knob in knobs if knob}

    def _knob_at(self, number: int) -> str:
        hop = self.graph.hops[number]
        if hop.gain_db is not None:
            return ""
        node = self.graph.nodes[hop.end]
        if hop.means == "send":
            return node.gear if node.kind == "sum" else ""
        stage = node.bank
        turns = isinstance(stage, Stage) and stage.kind == "amplifier"
        if turns and isinstance(stage, Stage) and stage.gain_max_db is not None:
            return "" if node.key in self.figures.settings else node.key
        return ""

    # Along chains

    @cached_property
    def _own(self) -> Mapping[int, Sequence[tuple[Noise, float]]]:
        """The noises that are made at each place that makes any, with their powers."""
        found: dict[int, list[tuple[Noise, float]]] = {}
        for noise in self.figures.noises:
            found.setdefault(noise.node, []).append((noise, 10 ** (noise.level_db / 10)))
        return found

    @cached_property
    def _hisses(self) -> Mapping[int, _Hiss]:
        """The same, together."""
        found: dict[int, _Hiss] = {}
        for node, noises in self._own.items():
            total = sum(power for _, power in noises)
            squares = sum((power * noise.off_db) ** 2 for noise, power in noises)
            found[node] = _Hiss(total, total, squares)
        return found

    @cached_property
    def _along(self) -> Mapping[int, _Held]:
        """What each place on a chain holds; places behind a mere wire share it."""
        steps, hisses, starts = self._steps, self._hisses, self.chains.starts
        unstated = self.figures.unstated_noises
        settled = self.figures.readings.settled
        held: dict[int, _Held] = {}
        entering = self.chains.entering
        for node in self.chains.order:
            number = entering[node][0] if entering[node] else None
            here = _HEAD if number is None else held[starts[number]]
            if number is not None and number in steps:
                here = self._further(here, number)
            if node in hisses:
                here = _hissing(here, node, hisses[node])
            if node in unstated:
                here = msgspec.structs.replace(here, mute=(node, *here.mute))
            if node in settled:
                # All errors up to here are in what was measured, and that has its own.
                squares = (here.power * settled[node]) ** 2
                here = msgspec.structs.replace(here, squares=squares)
            held[node] = here
        return held

    def _further(self, held: _Held, number: int) -> _Held:
        """What is left of a chain one hop further on."""
        ratio = self._ratios[number]
        squared = ratio * ratio
        power = held.power * squared
        off_db = self._offs.get(number, 0.0)
        turned, lacking = self._knobs.get(number), self._lacking.get(number)
        return _Held(
            held.ratio * ratio,
            power,
            held.floor * squared if turned is None else 0.0,
            held.squares * squared * squared + (power * off_db) ** 2,
            held.knobs if turned is None else (*held.knobs, turned),
            held.missing if lacking is None else (*held.missing, *lacking),
            held.hissing,
            held.mute,
        )

    # From an end back

    def _gains(self, end: int) -> tuple[dict[int, float], dict[int, bool]]:
        """Those gains, and whether a knob that nobody wrote down lies between."""
        known = self._gains_to.get(end)
        if known is not None:
            return known
        behind = self.chains.behind(end)
        gains, loose = {end: 1.0}, {end: False}
        ratio, starts, knobs = self._ratios, self.chains.starts, self._knobs
        for node, numbers in zip(behind.order, behind.hops, strict=True):
            onward, turned = gains[node], loose[node]
            for number in numbers:
                start = starts[number]
                if start in gains:
                    gains[start] += onward * ratio[number]
                    loose[start] = loose[start] or turned or number in knobs
                else:
                    gains[start] = onward * ratio[number]
                    loose[start] = turned or number in knobs
        self._gains_to[end] = gains, loose
        return gains, loose

    @cached_property
    def _gains_to(self) -> dict[int, tuple[dict[int, float], dict[int, bool]]]:
        return {}

    def _gain_from(self, node: int, gains: Mapping[int, float]) -> float:
        """From any place to the end of these gains."""
        if self.chains.head[node] < 0:
            return gains.get(node, 0.0)
        onward = self._ends_on_chain.get(node)
        if onward is None:
            onward = self._ends_on_chain[node] = self._reachable(node)
        return sum(gains[end] * ratio for end, ratio in onward if end in gains)

    @cached_property
    def _ends_on_chain(self) -> dict[int, tuple[tuple[int, float], ...]]:
        return {}

    def _brought(self, node: int) -> Sequence[tuple[int, float]]:
        """The places along its chain that hiss and lead to a place, with the gain of each to it."""
        found = self._brought_to.get(node)
        if found is None:
            found = self._brought_to[node] = []
            entering, starts, ratios = self.chains.entering, self.chains.starts, self._ratios
            here, ratio = node, 1.0
            for place in self._along[node].hissing:
                while here != place:
                    number = entering[here][0]
                    here = starts[number]
                    ratio *= ratios[number]
                found.append((place, ratio))
        return found

    @cached_property
    def _brought_to(self) -> dict[int, list[tuple[int, float]]]:
        return {}

    def _reachable(self, node: int) -> tuple[tuple[int, float], ...]:
        """The places further along chains, with the gain to each; chains can branch."""
        found = [(node, 1.0)]
        for here, ratio in found:
            for number in self.graph.leaving[here]:
                hop = self.graph.hops[number]
                if planned(hop) and self.chains.head[hop.end] >= 0:
                    found.append((hop.end, ratio * self._ratios[number]))
        return tuple(found)

    # One person

    def _ear(self, person: str, ends: Sequence[int]) -> EarSum:
        powers: dict[str, float] = {}
        missing: set[str] = set()
        unwritten: set[str] = set()
        sends: set[str] = set()
        hisses: list[tuple[_Hiss, int]] = []
        totals: list[float] = []
        for end in ends:
            behind = self.chains.behind(end)
            gains, loose = self._gains(end)
            here = self._powers(gains)
            totals.append(sum(here.values()))
            for source, power in here.items():
                powers[source] = max(powers.get(source, power), power)
            for node in self._open_ends.keys() & gains.keys():
                lacks, knobs = self._open_ends[node]
                missing.update(lacks)
                unwritten.update(knobs)
            for node, numbers in zip(behind.order, behind.hops, strict=True):
                if node in self._untold:
                    for number in self._untold[node].intersection(numbers):
                        missing.update(self._lacking.get(number, ()))
                        if number in self._knobs:
                            send = self.graph.hops[number].means == "send"
                            (sends if send else unwritten).add(self._knobs[number])
            hisses.append((self._hiss(behind, gains, loose), end))
        most, side = max(hisses, key=lambda found: found[0].power)
        floor = max(hiss.floor for hiss, _ in hisses)
        heard = sorted(powers, key=self._rank.__getitem__)
        sent = [level for s in heard if (level := self.sent_dbu[s]) is not None]
        total = max(totals)
        return EarSum(
            person=person,
            levels_spl={s: 10 * log10(powers[s]) for s in heard},
            total_spl=10 * log10(total) if total > 0 else None,
            hiss_dba=10 * log10(most.power) if most.power > 0 else None,
            hiss_off_db=most.squares**0.5 / most.power if most.power > 0 else 0.0,
            floor_dba=10 * log10(floor) if floor > 0 else None,
            unwritten=tuple(sorted(unwritten)),
            open_sends=tuple(sorted(sends)),
            missing=tuple(sorted(missing)),
            limited=self.ceilings.limited(person, ends),
            provenance=weakest(Quantity(0, "measured"), *sent),
            side=side,
        )

    def _powers(self, gains: Mapping[int, float]) -> dict[str, float]:
        """Source -> its power at the end of these gains, its lanes added as powers."""
        lanes: dict[int, float] = {}
        heads, sources, along = self.chains.head, self.source_of, self._along
        for node, gain in gains.items():
            head = heads[node]
            if head in sources:
                lanes[head] = lanes.get(head, 0.0) + gain * along[node].ratio
        powers: dict[str, float] = {}
        sent = self._sent_powers
        for head, ratio in lanes.items():
            source = sources[head].id
            if source in sent and ratio > 0:
                powers[source] = powers.get(source, 0.0) + ratio * ratio * sent[source]
        return powers

    @cached_property
    def _sent_powers(self) -> Mapping[str, float]:
        """Source -> the power it sends, where its level is known."""
        return {s: 10 ** (level / 10) for s, level in self.sent_dbu.items() if level is not None}

    @cached_property
    def _open_ends(self) -> Mapping[int, tuple[tuple[str, ...], tuple[str, ...]]]:
        """Of the places on chains where something is open: what is missing so far, and the knobs.

        Missing is also the level of the source that the chain begins at.
        """
        mute = {
            head: (sentence("the level of {source}", source=source.name),)
            for head, source in self.source_of.items()
            if self.sent_dbu[source.id] is None
        }
        found: dict[int, tuple[tuple[str, ...], tuple[str, ...]]] = {}
        heads = self.chains.head
        for node, held in self._along.items():
            if held.missing or held.knobs or heads[node] in mute:
                found[node] = (*held.missing, *mute.get(heads[node], ())), held.knobs
        return found

    @cached_property
    def _untold(self) -> Mapping[int, set[int]]:
        """Place -> the few hops to it that lack figures or run through a knob nobody wrote down."""
        found: dict[int, set[int]] = {}
        for number in self._lacking.keys() | self._knobs.keys():
            found.setdefault(self.graph.hops[number].end, set()).add(number)
        return found

    @cached_property
    def source_of(self) -> Mapping[int, Source]:
        """The places that sources begin at."""
        return {n: s for s in self.rig.file.sources for n in self.graph.of_source(s.id)}

    @cached_property
    def _rank(self) -> Mapping[str, int]:
        return {source: number for number, source in enumerate(self.rig.sources)}

    def _hiss(self, behind: Behind, gains: Mapping[int, float], loose: Mapping[int, bool]) -> _Hiss:
        """The power of all noise at an end, and of that which no open knob turns down.

        The errors are of the first order: each figure's, weighed by the noise that it touches (of
        a hop, all that passes it); a root sum of squares, as the figures err independently.
        """
        total = floor = squares = 0.0
        heads: dict[int, list[int]] = {}
        head_of, hisses, along = self.chains.head, self._hisses, self._along
        for node, gain in gains.items():
            head = head_of[node]
            if head >= 0:
                heads.setdefault(head, []).append(node)
            elif (own := hisses.get(node)) is not None:
                squared = gain * gain
                total += own.power * squared
                floor += 0.0 if loose[node] else own.floor * squared
                squares += own.squares * squared * squared
        touched: dict[int, float] = {}  # by what comes from each chain
        for nodes in heads.values():
            if len(nodes) == 1:
                (node,) = nodes
                squared, held = gains[node] ** 2, along[node]
                touched[node] = held.power * gains[node]
                total += held.power * squared
                floor += 0.0 if loose[node] else held.floor * squared
                squares += held.squares * squared * squared
                continue
            here = self._forked(nodes, gains, touched)
            total += here.power
            floor += 0.0 if all(loose[n] for n in nodes) else here.floor
            squares += here.squares
        return _Hiss(total, floor, squares + self._hop_squares(behind, gains, touched))

    def _forked(
        self, nodes: Sequence[int], gains: Mapping[int, float], touched: dict[int, float]
    ) -> _Hiss:
        """The noise of a chain that leads to an end from several of its places.

        What makes its noise by two ways adds as voltages, as a source does.
        """
        trails = (reversed([*self.chains.trail(node)]) for node in nodes)
        power = squares = 0.0
        for place in dict.fromkeys(place for trail in trails for place in trail):
            onward = self._gain_from(place, gains)
            own = self._hisses.get(place, _SILENT)
            power += own.power * onward**2
            squares += own.squares * onward**4
            touched[place] = own.power * onward
            number = self.chains.step_to(place)
            if number is not None:
                passed = touched[self.chains.starts[number]] * self._ratios[number]
                touched[place] += passed
                squares += (passed * onward * self._offs.get(number, 0.0)) ** 2
        return _Hiss(power, power, squares)

    def _hop_squares(
        self, behind: Behind, gains: Mapping[int, float], touched: dict[int, float]
    ) -> float:
        """The errors of the hops behind the mixing, each by the noise that it touches.

        `touched`: at a place, of each noise the power where it is made times its gain to here
        times its gain to the end; that times the gain from here is what an error here changes.
        """
        squares = 0.0
        starts, ratio, offs = self.chains.starts, self._ratios, self._offs
        hisses = self._hisses
        for node, numbers in zip(reversed(behind.order), reversed(behind.hops), strict=True):
            own = hisses.get(node)
            here = own.power * gains[node] if own is not None else 0.0
            for number in numbers:
                passed = touched[starts[number]] * ratio[number]
                here += passed
                if number in offs:
                    squares += (passed * gains[node] * offs[number]) ** 2
            touched[node] = here
        return squares
