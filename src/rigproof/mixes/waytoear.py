"""From the channels of the band's mixer to one pair of ears: how loud, how late, how hissy."""

from collections.abc import Sequence
from functools import cached_property
from math import log10

import msgspec

from rigproof.mixes.firstmix import Draft
from rigproof.rig import Rig
from rigproof.signal import Graph
from rigproof.signal.delay import Delays
from rigproof.signal.sums import EarSums


class Strand(msgspec.Struct, frozen=True, kw_only=True):
    """One channel at both ears. Gains are ratios: to dB SPL at ears, to dBFS at a bus."""

    channel: int
    source: str
    gains_ratio: tuple[float, float]
    delays_ms: tuple[float, float]


class Ways(msgspec.Struct, frozen=True, kw_only=True):
    """Everything of one listener that lies behind the channels.

    `in_spl`: the gains lead to sound pressure; False where a figure of the earphones or a box is
    missing (`missing`), and the mix is followed to its buses only. `hiss_dba`: of what lies behind
    the channels. `bus_spl`: what full scale on the buses comes to at the ears.
    """

    person: str
    strands: tuple[Strand, ...]
    in_spl: bool
    missing: tuple[str, ...]
    open_knobs: tuple[str, ...]
    hiss_dba: float | None
    bus_spl: float | None


class Reader:
    """Reads the ways of everybody in one completed rig."""

    def __init__(self, rig: Rig, graph: Graph, sums: EarSums, delays: Delays) -> None:
        self.rig, self.graph, self.sums, self.delays = rig, graph, sums, delays

    @cached_property
    def channels(self) -> tuple[tuple[int, str, int], ...]:
        """(channel, source, place) for each channel of the band's mixer that a source sits on.

        The place is where a recorder takes it: before the trim and what else the channel does.
        """
        mixer = self.rig.mixer
        bank = next(self.rig.type_of(mixer.id).stages("channel"), None) if mixer else None
        if mixer is None or bank is None:
            return ()
        found = []
        for row in self.rig.file.patch:
            lanes = self.rig.sources[row.source].lanes
            for number in tuple(row.channel or ())[:lanes]:
                key = (
                    f"{mixer.id}.{bank.id}.{number}" if bank.count > 1 else f"{mixer.id}.{bank.id}"
                )
                if key in self.graph.index:
                    found.append((number, row.source, self._tapped(self.graph.index[key])))
        return tuple(found)

    def _tapped(self, channel: int) -> int:
        """The place before a channel, if the sound is in numbers there already."""
        chains, nodes = self.sums.chains, self.graph.nodes
        entering = chains.step_to(channel) if chains.head[channel] >= 0 else None
        if entering is None:
            return channel
        before = self.graph.hops[entering].start
        return before if nodes[before].digital else channel

    def ways(self, person: str, draft: Draft) -> Ways:
        """From every channel to one listener, through whatever lies between."""
        ear = self.sums.ears.get(person)
        ends = self.sums.ears_of(person)
        strands = self._strands(ends)
        heard = any(max(strand.gains_ratio) > 0 for strand in strands)
        in_spl = ear is not None and heard
        buses = [self.graph.index[key] for key in draft.ends if key in self.graph.index]
        if not in_spl:
            strands = self._strands(buses)
        missing: tuple[str, ...] = ()
        if not in_spl:
            missing = (ear.missing if ear is not None else ()) or ("earphones in a socket",)
        gains = [self.sums.gain_ratio(bus, end) for bus in buses for end in ends] if in_spl else []
        top = max(gains, default=0.0)
        return Ways(
            person=person,
            strands=strands,
            in_spl=in_spl,
            missing=missing,
            open_knobs=ear.unwritten if ear is not None and in_spl else (),
            hiss_dba=self._hiss_dba(person) if in_spl else None,
            bus_spl=20 * log10(top) if top > 0 else None,
        )

    def _strands(self, ends: Sequence[int]) -> tuple[Strand, ...]:
        if not ends:
            return ()
        sides = (ends[0], ends[-1])
        late = [self.delays.at_places([end]) for end in sides]
        found = []
        for number, source, place in self.channels:
            gains = tuple(self.sums.gain_ratio(place, end) for end in sides)
            if not any(gains):
                continue
            before = self.delays.at_places([place])
            start_ms = before[source][0].delay_ms if source in before else 0.0
            delays = tuple(
                max(0.0, at[source][0].delay_ms - start_ms) if source in at else 0.0 for at in late
            )
            found.append(
                Strand(
                    channel=number,
                    source=source,
                    gains_ratio=(gains[0], gains[1]),
                    delays_ms=(delays[0], delays[1]),
                )
            )
        return tuple(found)

    @cached_property
    def _recorded(self) -> set[int]:
        """The places whose hiss is in a recording of the channels already."""
        return self.graph.feeding([place for _, _, place in self.channels])

    def _hiss_dba(self, person: str) -> float | None:
        powers = [
            10 ** (share.spl_dba / 10)
            for share in self.sums.shares(person)
            if share.noise.node not in self._recorded
        ]
        return 10 * log10(sum(powers)) if powers else None
