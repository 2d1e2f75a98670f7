"""The patch as people use it: by channel, by socket in the order of plugging, and read back."""

from collections.abc import Iterator
from functools import cached_property

import msgspec

from rigproof.rig import Rig
from rigproof.rig.band import Source
from rigproof.rig.lanes import Socket, sockets
from rigproof.rig.plan import PatchRow
from rigproof.rig.where import NOWHERE


class ChannelRow(msgspec.Struct, frozen=True):
    """One channel of the band's mixer: a lane of a source, a held place, or nothing."""

    number: int
    source: Source | None
    lane: int
    row: PatchRow | None
    socket: str  # where the source is plugged, e.g. split-a.in.7; empty where it is wired inside
    held: str  # why the place is kept open

    @property
    def name(self) -> str:
        return self.source.lane_names[self.lane] if self.source else ""

    @property
    def first_of_pair(self) -> bool:
        return self.source is not None and self.source.stereo and self.lane == 0


class WalkStep(msgspec.Struct, frozen=True):
    """One plug to put in: the box and face, the socket, and what belongs there."""

    gear: str
    face: str
    bank: str
    number: int
    source: Source
    lane: int
    row: PatchRow

    @property
    def socket(self) -> str:
        return f"{self.gear}.{self.bank}.{self.number}"

    @property
    def name(self) -> str:
        return self.source.lane_names[self.lane]


class PatchLists(msgspec.Struct, frozen=True, dict=True):
    """All three readings of one patch."""

    rig: Rig

    @cached_property
    def channels(self) -> tuple[ChannelRow, ...]:
        """Every channel up to the last one in use or held."""
        used = {row.number: row for row in self._used()}
        held = {n: hold.why for hold in self.rig.file.holds for n in hold.channels or ()}
        last = max([*used, *held], default=0)
        return tuple(
            used.get(n) or ChannelRow(n, None, 0, None, "", held.get(n, ""))
            for n in range(1, last + 1)
        )

    def _used(self) -> Iterator[ChannelRow]:
        for row in self.rig.file.patch:
            source = self.rig.sources[row.source]
            plugs = [socket.key for socket in self._sockets(row)]
            for lane, number in enumerate(row.channel or ()):
                if lane < source.lanes:
                    socket = plugs[lane] if lane < len(plugs) else ""
                    yield ChannelRow(number, source, lane, row, socket, "")

    @cached_property
    def without_channel(self) -> tuple[Source, ...]:
        """Sources that have no place on the band's mixer."""
        placed = {row.source for row in self.rig.file.patch if row.channel is not None}
        return tuple(s for s in self.rig.file.sources if s.id not in placed)

    @cached_property
    def walk(self) -> tuple[WalkStep, ...]:
        """The plugs of a show in the order of the sockets, box after box from the bottom up.

        What is wired for good is not walked.
        """
        height = sorted(self.rig.file.gear, key=lambda gear: (gear.unit or 0, gear.id))
        order = {gear.id: place for place, gear in enumerate(height)}
        return tuple(sorted(self._steps(), key=lambda s: (order[s.gear], s.face, s.bank, s.number)))

    @property
    def read_back(self) -> tuple[WalkStep, ...]:
        """The same plugs the other way round: errors hide when read as they were written."""
        return tuple(reversed(self.walk))

    def panels(self) -> tuple[tuple[str, str, tuple[WalkStep, ...]], ...]:
        """The walk, box by box and face by face."""
        found: dict[tuple[str, str], list[WalkStep]] = {}
        for step in self.walk:
            found.setdefault((step.gear, step.face), []).append(step)
        return tuple((gear, face, tuple(steps)) for (gear, face), steps in found.items())

    def _steps(self) -> Iterator[WalkStep]:
        for row in self.rig.file.patch:
            source = self.rig.sources[row.source]
            if source.plugged == "for good":
                continue
            for lane, socket in enumerate(self._sockets(row)[: source.lanes]):
                if socket.port is not None:
                    face, bank = socket.port.face, socket.port.id
                    yield WalkStep(socket.gear, face, bank, socket.number, source, lane, row)

    def _sockets(self, row: PatchRow) -> tuple[Socket, ...]:
        if row.plug is None:
            return ()
        return sockets(self.rig.gear_types, row.plug, NOWHERE)
