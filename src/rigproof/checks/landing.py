"""Where sources land on the channels of mixers, as claimed and as wired."""

from collections.abc import Iterator

import msgspec

from rigproof.checks.rule import View
from rigproof.rig.band import Source
from rigproof.rig.geartype import Stage
from rigproof.rig.plan import PatchRow
from rigproof.rig.ref import Numbers
from rigproof.rig.where import Where
from rigproof.signal.arrival import Lane
from rigproof.wording.sentences import sentence


class Claim(msgspec.Struct, frozen=True):
    """Channels that a patch row claims for its source on one mixer, and where it says so."""

    row: PatchRow
    source: Source
    mixer: str
    bank: Stage
    channel: Numbers
    at: Where

    @property
    def exists(self) -> bool:
        return self.channel.last <= self.bank.count


def channel_bank(view: View) -> tuple[str, Stage] | None:
    """The channels of the band's own mixer."""
    mixer = view.rig.mixer
    bank = _channels(view, mixer.id) if mixer else None
    return (mixer.id, bank) if mixer is not None and bank is not None else None


def _channels(view: View, mixer: str) -> Stage | None:
    return next(view.rig.type_of(mixer).stages("channel"), None)


def channel_node(view: View, gear: str, bank: Stage, number: int) -> int:
    """The place of one channel in the graph."""
    name = f"{gear}.{bank.id}.{number}" if bank.count > 1 else f"{gear}.{bank.id}"
    return view.graph.index[name]


Landed = dict[tuple[str, str], list[tuple[int, int]]]


def landed_lanes(view: View) -> Landed:
    """Mixer and source -> (channel, lane) of every channel there that it arrives at."""
    return view.once(_landed_lanes)


def _landed_lanes(view: View) -> Landed:
    found: Landed = {}
    for mixer, bank in {claim.mixer: claim.bank for claim in every_claim(view)}.items():
        for number in range(1, bank.count + 1):
            lane: Lane
            for lane in view.lanes.at([channel_node(view, mixer, bank, number)]):
                found.setdefault((mixer, lane[0]), []).append((number, lane[1]))
    return found


def every_claim(view: View) -> Iterator[Claim]:
    """What the rows claim: of the band's own mixer first, then of the others."""
    own = channel_bank(view)
    rows = view.rig.rows.values()
    for row in rows if own is not None else ():
        if row.channel is not None and own is not None:
            source = view.rig.sources[row.source]
            yield Claim(row, source, *own, row.channel, row.where.of("channel"))
    for row in rows:
        for one in row.also:
            bank = _channels(view, one.on)
            if bank is not None:
                source, at = view.rig.sources[row.source], one.where.of("channel")
                yield Claim(row, source, one.on, bank, one.channel, at)


def claims(view: View) -> Iterator[Claim]:
    """The claims of channels that are there, for sources that are plugged somewhere."""
    for claim in every_claim(view):
        plugged = claim.row.plug is not None or claim.source.start is not None
        if plugged and claim.exists:
            yield claim


def on_mixer(view: View, claim: Claim) -> str:
    """Whose channel it is, where it is not that of the band's own mixer, which everybody means."""
    own = view.rig.mixer
    if own is not None and own.id == claim.mixer:
        return ""
    return sentence(" of {box}", box=view.rig.box_names[claim.mixer])
