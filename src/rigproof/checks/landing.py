"""Where sources land on the channels of the band's own mixer, as claimed and as wired."""

from collections.abc import Iterator

from rigproof.checks.rule import View
from rigproof.rig.geartype import Stage
from rigproof.rig.plan import PatchRow
from rigproof.signal.arrival import Lane


def channel_bank(view: View) -> tuple[str, Stage] | None:
    """The channels of the band's own mixer."""
    mixer = view.rig.mixer
    bank = next(view.rig.types[mixer.type].stages("channel"), None) if mixer else None
    return (mixer.id, bank) if mixer is not None and bank is not None else None


def channel_node(view: View, gear: str, bank: Stage, number: int) -> int:
    """The place of one channel in the graph."""
    name = f"{gear}.{bank.id}.{number}" if bank.count > 1 else f"{gear}.{bank.id}"
    return view.graph.index[name]


def landed_lanes(view: View) -> dict[str, list[tuple[int, int]]]:
    """Source -> (channel, lane) of every channel of the mixer that it arrives at."""
    found: dict[str, list[tuple[int, int]]] = {}
    bank = channel_bank(view)
    if bank is not None:
        for number in range(1, bank[1].count + 1):
            lane: Lane
            for lane in view.lanes.at([channel_node(view, *bank, number)]):
                found.setdefault(lane[0], []).append((number, lane[1]))
    return found


def claims(view: View) -> Iterator[PatchRow]:
    """The rows that claim channels the mixer has, of sources that are plugged somewhere."""
    bank = channel_bank(view)
    if bank is None:
        return
    for row in view.rig.rows.values():
        plugged = row.plug is not None or view.rig.sources[row.source].start is not None
        if row.channel is not None and plugged and row.channel.last <= bank[1].count:
            yield row
