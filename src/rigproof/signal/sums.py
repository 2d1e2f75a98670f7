"""What each pair of ears gets, quickly: for verdicts that ask for sums and not for every share.

The same figures as `levels`, found along chains: level of every source, hiss, and the loudest
there can be, with and without the limiters that the mixes state. Knobs that nobody wrote down
are named, because whatever runs through them is not planned but at the mercy of a hand.
"""

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from math import inf, log10

import msgspec

from rigproof.rig import Rig
from rigproof.rig.band import Source
from rigproof.rig.geartype import Port, Stage
from rigproof.rig.plan import Mix
from rigproof.rig.quantity import Provenance, Quantity, weakest
from rigproof.signal.build import bus_lanes
from rigproof.signal.chains import Behind, Chains
from rigproof.signal.figures import Figures, Noise, Step
from rigproof.signal.graph import Graph, planned

# The earphones themselves give no more than their maker says.
EARPHONES = "the earphones themselves"


_Top = tuple[float, int]  # a level, and the place that limits it


class Loudest(msgspec.Struct, frozen=True):
    """The most that can reach an ear, and the place that limits it.

    `driven_spl` is what the place drives them to; it is more than the level where the earphones
    give no more.
    """

    level_spl: float
    place: str
    driven_spl: float


class EarSum(msgspec.Struct, frozen=True):
    """What comes to one person's ears; the louder side counts.

    `floor_dba` is the hiss that no knob turns down: of what lies behind the last knob that nobody
    wrote down, or of everything where all are written. `unwritten`: places of those knobs;
    `open_sends`: personal mixers whose sends are left to the player.
    `limited`: the most that the limiters of the mixes let through, the knobs as the file says and
    those it leaves open at the stop; None without a limiter.
    """

    person: str
    levels_spl: Mapping[str, float]
    hiss_dba: float | None
    floor_dba: float | None
    unwritten: tuple[str, ...]
    open_sends: tuple[str, ...]
    missing: tuple[str, ...]
    limited: Loudest | None
    provenance: Provenance

    @property
    def planned(self) -> bool:
        """Whether the file says where every knob and send on the way stands."""
        return not (self.unwritten or self.open_sends)

    @property
    def total_spl(self) -> float | None:
        """All sources at once, as powers."""
        if not self.levels_spl:
            return None
        return 10 * log10(sum(10 ** (level / 10) for level in self.levels_spl.values()))


class HissShare(msgspec.Struct, frozen=True):
    """How much one thing adds to the hiss of an ear."""

    place: str
    name: str
    level_dba: float
    share_ratio: float


class EarSums:
    """The sums at all ears."""

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
            if (ends := self._ears_of(person.id))
        }

    def loudest(self, person: str) -> Loudest | None:
        """The most that can reach somebody's ears with every knob at its stop and no limiter."""
        return self._loudest(person, self._ears_of(person), limited=False)

    def shares(self, person: str) -> tuple[HissShare, ...]:
        """What hisses in somebody's ears, the loudest first."""
        best: list[tuple[Noise, float]] = []
        for end in self._ears_of(person):
            gains, _ = self._gains(end)
            found = [
                (noise, 10 ** (noise.level_db / 10) * gain * gain)
                for noise in self.figures.noises
                if (gain := self._gain_from(noise.node, gains))
            ]
            if sum(power for _, power in found) > sum(power for _, power in best):
                best = found
        total = sum(power for _, power in best)
        nodes = self.graph.nodes
        rows = [
            HissShare(nodes[n.node].key, n.name, 10 * log10(power), power / total)
            for n, power in best
        ]
        return tuple(sorted(rows, key=lambda row: (-row.share_ratio, row.place)))

    def _ears_of(self, person: str) -> tuple[int, ...]:
        ends = self.graph.of_listener(person)
        return tuple(n for n in ends if self.graph.nodes[n].kind == "ear")

    # Along chains

    @cached_property
    def _ratios(self) -> Mapping[int, float]:
        """Voltage gain from the head of its chain to each place on it; 0 behind a missing one."""
        ratio = self._hop_ratios
        return self.chains.along(1.0, lambda before, number: before * ratio[number])

    @cached_property
    def _hop_ratios(self) -> Sequence[float]:
        """The voltage gain of each planned hop; 0 where a figure is missing."""
        found = [0.0] * len(self.graph.hops)
        for number, step in self._steps:
            if not step.missing:
                found[number] = 10 ** (step.gain_db / 20) if step.parts else 1.0
        return found

    @cached_property
    def _lacking(self) -> Mapping[int, tuple[str, ...]]:
        """The few hops that lack figures."""
        return {number: step.missing for number, step in self._steps if step.missing}

    @cached_property
    def _steps(self) -> Sequence[tuple[int, Step]]:
        hops, step = self.graph.hops, self.figures.step
        return [(number, step(number)) for number, hop in enumerate(hops) if not hop.open]

    @cached_property
    def _noise_here(self) -> Mapping[int, float]:
        found: dict[int, float] = {}
        for noise in self.figures.noises:
            found[noise.node] = found.get(noise.node, 0.0) + 10 ** (noise.level_db / 10)
        return found

    @cached_property
    def _noise_along(self) -> Mapping[int, tuple[float, float]]:
        """The noise of all that lies before each place on a chain, as power there.

        And the part of it that no unwritten knob turns down.
        """
        held: dict[int, tuple[float, float]] = {}
        for node in self.chains.order:
            total = floor = self._noise_here.get(node, 0.0)
            number = self.chains.step_to(node)
            if number is not None:
                before, certain = held[self.chains.starts[number]]
                squared = self._hop_ratios[number] ** 2
                total += before * squared
                floor += 0.0 if number in self._knobs else certain * squared
            held[node] = (total, floor)
        return held

    @cached_property
    def _knobs_along(self) -> Mapping[int, tuple[str, ...]]:
        def with_(before: tuple[str, ...], number: int) -> tuple[str, ...]:
            return (*before, self._knobs[number]) if number in self._knobs else before

        return self.chains.along((), with_)

    @cached_property
    def _missing_along(self) -> Mapping[int, tuple[str, ...]]:
        lacking = self._lacking

        def with_(before: tuple[str, ...], number: int) -> tuple[str, ...]:
            return (*before, *lacking[number]) if number in lacking else before

        return self.chains.along((), with_)

    def clear_db(self, node: int) -> float | None:
        """How far a source stands above the noise at a place on its chain; None where unknown."""
        source = self._source_of.get(self.chains.head[node])
        level = self._sent[source.id] if source is not None else None
        ratio, noise = self._ratios.get(node, 0.0), self._noise_along.get(node, (0.0, 0.0))[0]
        if level is None or ratio <= 0 or noise <= 0:
            return None
        return level + 20 * log10(ratio) - 10 * log10(noise)

    # From an ear back

    def _gains(self, end: int) -> tuple[dict[int, float], dict[int, bool]]:
        """Voltage gain from each place behind the chains, and from their ends, to one ear.

        With it, whether a knob that nobody wrote down lies between.
        """
        behind = self.chains.behind(end)
        gains, loose = {end: 1.0}, {end: False}
        ratio, starts, knobs = self._hop_ratios, self.chains.starts, self._knobs
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
        return gains, loose

    def _gain_from(self, node: int, gains: Mapping[int, float]) -> float:
        """From any place to the ear of these gains."""
        if self.chains.head[node] < 0:
            return gains.get(node, 0.0)
        onward = self._ends_on_chain.get(node)
        if onward is None:
            onward = self._ends_on_chain[node] = self._reachable(node)
        return sum(gains[end] * ratio for end, ratio in onward if end in gains)

    @cached_property
    def _ends_on_chain(self) -> dict[int, tuple[tuple[int, float], ...]]:
        return {}

    def _reachable(self, node: int) -> tuple[tuple[int, float], ...]:
        """The places further along chains, with the gain to each; chains can branch."""
        found = [(node, 1.0)]
        for here, ratio in found:
            for number in self.graph.leaving[here]:
                hop = self.graph.hops[number]
                if planned(hop) and self.chains.head[hop.end] >= 0:
                    found.append((hop.end, ratio * self._hop_ratios[number]))
        return tuple(found)

    def unwritten_at(self, number: int) -> str:
        """The knob that a hop runs through, if it has one and nobody wrote it down."""
        return self._knobs.get(number, "")

    @cached_property
    def _knobs(self) -> Mapping[int, str]:
        """The few hops that run through an unwritten knob, and its place."""
        # Whatever turns has a part of its own in the step, so hops that do nothing are passed over.
        knobs = ((number, self._knob_at(number)) for number, step in self._steps if step.parts)
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

    # One person

    def _ear(self, person: str, ends: Sequence[int]) -> EarSum:
        levels: dict[str, float] = {}
        missing: set[str] = set()
        unwritten: set[str] = set()
        sends: set[str] = set()
        hiss: list[tuple[float, float]] = []
        used: list[Quantity] = []
        for end in ends:
            behind = self.chains.behind(end)
            gains, loose = self._gains(end)
            lanes = self._lanes(gains, missing, unwritten)
            for head, reach in lanes.items():
                source = self._source_of[head]
                level = self._sent[source.id]
                if level is None:
                    missing.add(f"the level of {source.name}")
                    continue
                used.append(level)
                here = level + 20 * log10(reach)
                levels[source.id] = max(levels.get(source.id, here), here)
            hiss.append(self._hiss(gains, loose))
            for numbers in behind.hops:
                for number in numbers:
                    if number in self._lacking:
                        missing.update(self._lacking[number])
                    if number in self._knobs:
                        send = self.graph.hops[number].means == "send"
                        (sends if send else unwritten).add(self._knobs[number])
            if not behind.order:
                missing.update(self._missing_along[end])
                unwritten.update(self._knobs_along[end])
        total = max(h for h, _ in hiss)
        floor = max(f for _, f in hiss)
        return EarSum(
            person,
            {s: levels[s] for s in self.rig.sources if s in levels},
            10 * log10(total) if total > 0 else None,
            10 * log10(floor) if floor > 0 else None,
            tuple(sorted(unwritten)),
            tuple(sorted(sends)),
            tuple(sorted(missing)),
            self._loudest(person, ends, limited=True) if self._limited(ends) else None,
            weakest(Quantity(0, "measured"), *used),
        )

    def _lanes(
        self, gains: Mapping[int, float], missing: set[str], unwritten: set[str]
    ) -> dict[int, float]:
        """Lane of a source -> its voltage gain to the ear."""
        lanes: dict[int, float] = {}
        for node, gain in gains.items():
            head = self.chains.head[node]
            if head in self._source_of:
                reach = gain * self._ratios[node]
                missing.update(self._missing_along[node])
                unwritten.update(self._knobs_along[node])
                if reach > 0:
                    lanes[head] = lanes.get(head, 0.0) + reach
        return lanes

    @cached_property
    def _source_of(self) -> Mapping[int, Source]:
        return {n: s for s in self.rig.file.sources for n in self.graph.of_source(s.id)}

    @cached_property
    def _sent(self) -> Mapping[str, Quantity | None]:
        """Source -> the level it sends."""
        return {source.id: self.figures.source_dbu(source) for source in self.rig.file.sources}

    def _hiss(self, gains: Mapping[int, float], loose: Mapping[int, bool]) -> tuple[float, float]:
        """The power of all noise at an ear, and of that which no open knob turns down."""
        here = self._noise_here
        along = self._noise_along
        # Of two ends on one chain the further one holds the noise of the nearer: what a source's
        # noise makes by two ways adds as voltages, as the source does.
        ends = [node for node in gains if self.chains.head[node] >= 0]
        total = floor = 0.0
        for node, gain in gains.items():
            if self.chains.head[node] < 0:
                power = here.get(node, 0.0) * gain * gain
                total += power
                floor += 0.0 if loose[node] else power
        heads: dict[int, list[int]] = {}
        for node in ends:
            heads.setdefault(self.chains.head[node], []).append(node)
        for nodes in heads.values():
            if len(nodes) == 1:
                squared = gains[nodes[0]] ** 2
                power, certain = along[nodes[0]][0] * squared, along[nodes[0]][1] * squared
            else:
                power = certain = self._forked(nodes, gains)
            total += power
            floor += 0.0 if all(loose[n] for n in nodes) else certain
        return total, floor

    def _forked(self, nodes: Sequence[int], gains: Mapping[int, float]) -> float:
        """The noise of a chain that leads to an ear from several of its places."""
        places: set[int] = set()
        for node in nodes:
            places.update(self._trail(node))
        return sum(
            self._noise_here[place] * self._gain_from(place, gains) ** 2
            for place in places
            if place in self._noise_here
        )

    # The loudest there can be

    @cached_property
    def limiters(self) -> Mapping[int, float]:
        """Place -> the level in dBu that the limiter of a mix holds there.

        A mix is limited before it leaves its box or the next: at the first analogue output behind
        it, and at the converter in front of that.
        """
        found: dict[int, float] = {}
        for mix in self.rig.file.mixes:
            if mix.limiter_dbu is not None:
                for node in self._mix_nodes(mix):
                    for place in self._first_outputs(node):
                        found[place] = min(found.get(place, 1e9), float(mix.limiter_dbu))
        return found

    def _limited(self, ends: Sequence[int]) -> bool:
        """Whether a limiter of a mix lies on a way to these ears."""
        limiters = self.limiters.keys()
        for end in ends:
            behind = self.chains.behind(end)
            if not limiters.isdisjoint(behind.order or self._trail(end)):
                return True
        return False

    def _trail(self, node: int) -> Iterator[int]:
        """A place on a chain and all before it."""
        yield node
        while (number := self.chains.step_to(node)) is not None:
            node = self.graph.hops[number].start
            yield node

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

    def _loudest(self, person: str, ends: Sequence[int], *, limited: bool) -> Loudest | None:
        found = [top for end in ends if (top := self._top(end, limited=limited)) is not None]
        if not found:
            return None
        level, node = max(found)
        earphone = self.figures.earphone(person)
        bears = earphone.max_spl_db if earphone is not None else None
        if bears is not None and level > bears:
            return Loudest(float(bears), EARPHONES, level)
        return Loudest(level, self.graph.nodes[node].key, level)

    def _top(self, end: int, *, limited: bool) -> _Top | None:
        behind: Behind = self.chains.behind(end)
        chains = self._tops_limited if limited else self._tops
        if not behind.order:
            return chains[end]
        tops: dict[int, _Top | None] = {}
        starts = self.chains.starts
        for node, numbers in zip(reversed(behind.order), reversed(behind.hops), strict=True):
            best: _Top | None = None
            for number in numbers:
                start = starts[number]
                top = tops[start] if start in tops else chains.get(start)
                if top is not None:
                    here = self._onward(top, number, limited=limited)
                    if here is not None and (best is None or here > best):
                        best = here
            tops[node] = self._capped(node, best, limited=limited)
        return tops[end]

    @cached_property
    def _tops(self) -> Mapping[int, _Top | None]:
        return self._tops_along(limited=False)

    @cached_property
    def _tops_limited(self) -> Mapping[int, _Top | None]:
        return self._tops_along(limited=True)

    def _tops_along(self, *, limited: bool) -> dict[int, _Top | None]:
        held: dict[int, _Top | None] = {}
        for node in self.chains.order:
            number = self.chains.step_to(node)
            top = None if number is None else held[self.chains.starts[number]]
            if top is not None and number is not None:
                top = self._onward(top, number, limited=limited)
            held[node] = self._capped(node, top, limited=limited)
        return held

    def _onward(self, top: _Top, number: int, *, limited: bool) -> _Top | None:
        known = self._as_written if limited else self._highest
        gain = known.get(number)
        if gain is None:
            step = self.figures.step(number)
            if step.missing and self.graph.hops[number].means == "ear":
                gain = -inf
            elif limited and not step.missing and number not in self._knobs:
                gain = step.gain_db
            else:
                gain = self.figures.highest_gain_db(number)
            known[number] = gain
        if gain == -inf:
            return None
        return (top[0] + gain, top[1]) if gain else top

    @cached_property
    def _highest(self) -> dict[int, float]:
        return {}

    @cached_property
    def _as_written(self) -> dict[int, float]:
        return {}

    @cached_property
    def _clips(self) -> list[float | None]:
        """What each place bears."""
        bears = (self.figures.clip_db(node) for node in range(len(self.graph.nodes)))
        return [None if clip is None else float(clip) for clip in bears]

    def _capped(self, node: int, top: _Top | None, *, limited: bool) -> _Top | None:
        clip = self._clips[node]
        limiter = self.limiters.get(node) if limited else None
        if clip is None and limiter is None:
            return top
        # Somebody's fader can drive a converter to full scale, and a mix into its limiter.
        driven = self.graph.nodes[node].kind == "converter"
        if limiter is not None:
            clip = limiter if clip is None else min(limiter, clip)
            # What a limiter holds already is driven no further by what comes behind it.
            driven = top is None or top[1] not in self.limiters
        if clip is not None and (top is None or top[0] > clip or driven):
            return clip, node
        return top
