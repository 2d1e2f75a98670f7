"""Which lanes meet where a plug goes in, and which preamp a plugged source arrives at."""

from collections.abc import Callable, Iterable, Mapping, Sequence

from rigproof.rig import Rig
from rigproof.rig.equipment import Lead
from rigproof.rig.geartype import GearType, Port
from rigproof.rig.lanes import Socket, inner_lanes, lane_range, sockets
from rigproof.rig.plan import PatchRow
from rigproof.rig.quantity import Quantity
from rigproof.rig.ref import HOUSE, PortRef
from rigproof.rig.where import Where
from rigproof.signal.blueprint import blueprint


def lane_pairs(out: Sequence[str], into: Sequence[str]) -> Iterable[tuple[str, str]]:
    """Which lane of one end of a lead meets which of the other: straight, split or joined."""
    if len(out) == 1:
        return [(out[0], end) for end in into]
    if len(into) == 1:
        return [(start, into[0]) for start in out]
    return zip(out, into, strict=False)


def picked(
    types: Mapping[str, GearType], ref: PortRef, ends: Sequence[Socket], way: str
) -> list[str]:
    """The lanes of some sockets, narrowed to the lanes the reference names."""
    wanted = None if ref.gear == HOUSE else lane_range(ref, types[ref.gear])
    lanes: list[str] = []
    for socket in ends:
        found = socket.lanes(way)
        lanes.extend(found if wanted is None else found[wanted[0] - 1 : wanted[1]])
    return lanes


def plug_lanes(types: Mapping[str, GearType], row: PatchRow) -> list[str]:
    """The lanes a source enters where it is plugged in."""
    if row.plug is None:
        return []
    at = row.where.of("plug")
    return picked(types, row.plug, sockets(types, row.plug, at), "rx")


def start_lanes(types: Mapping[str, GearType], ref: PortRef, at: Where) -> list[str]:
    """The lanes where a source comes out of a box, or enters it where a microphone is built in."""
    if ref.gear == HOUSE:
        return [socket.key for socket in sockets(types, ref, at)]
    bank = types[ref.gear].banks[ref.bank]
    entering = isinstance(bank, Port) and bank.way == "in"
    return [f"{ref.gear}.{n}" for n in inner_lanes(types[ref.gear], ref, entering=entering, at=at)]


def preamps(
    types: Mapping[str, GearType],
    lanes: Sequence[str],
    onward: Mapping[str, Sequence[str]],
    suits: Callable[[str], bool] = lambda _gear: True,
) -> list[str]:
    """The preamps that serve a source plugged at some lanes: there, or where leads carry it on.

    A splitter or panel has none; the band's own box behind it has. The house's are not ours.
    Of several boxes behind it, one that `suits`.
    """
    found: list[str] = []
    for lane in lanes:
        queue, seen = [lane], {lane}
        for place in queue:
            gear, _, local = place.partition(".")
            inner = blueprint(types[gear]).ahead.get(local, ()) if gear in types else ()
            amps = [name for name, is_preamp in inner if is_preamp]
            if amps and suits(gear):
                found.append(f"{gear}.{amps[0]}")
                break
            for far in (*(f"{gear}.{name}" for name, _ in inner), *onward.get(place, ())):
                if far not in seen:
                    seen.add(far)
                    queue.append(far)
    return found


def preamp_gains(
    rig: Rig, types: Mapping[str, GearType], onward: Mapping[str, list[str]]
) -> dict[str, Quantity]:
    """Preamp -> gain, for the preamps whose gain a patch row sets. `onward`: ends of leads."""
    gains: dict[str, Quantity] = {}
    for row in rig.file.patch:
        start = rig.sources[row.source].start
        lanes = plug_lanes(types, row) or (start_lanes(types, start, row.where) if start else [])
        if row.gain_db is not None:
            for key in own_preamps(types, row, lanes, onward):
                gains[key] = row.gain_db
        for one in row.also:
            if one.gain_db is not None:
                for key in preamps(types, lanes, onward, one.on.__eq__):
                    gains[key] = one.gain_db
    return gains


def own_preamps(
    types: Mapping[str, GearType],
    row: PatchRow,
    lanes: Sequence[str],
    onward: Mapping[str, Sequence[str]],
) -> list[str]:
    """The preamps that the gain of a row sets: not those of the other mixers it names."""
    others = {one.on for one in row.also}
    return preamps(types, lanes, onward, lambda gear: gear not in others)


def lead_ends(rig: Rig, types: Mapping[str, GearType]) -> Mapping[str, list[str]]:
    """Lane -> the lanes that leads carry it to."""
    return ends_of((lead, *lead_lanes(types, lead)) for lead in rig.file.leads)


def ends_of(ways: Iterable[tuple[Lead, Sequence[str], Sequence[str]]]) -> Mapping[str, list[str]]:
    """The same of leads whose lanes are known."""
    found: dict[str, list[str]] = {}
    for _, out, into in ways:
        for start, end in lane_pairs(out, into):
            found.setdefault(start, []).append(end)
    return found


def lead_lanes(types: Mapping[str, GearType], lead: Lead) -> tuple[Sequence[str], Sequence[str]]:
    """The lanes that leave a box at one end of a lead, and those that enter one at the other."""
    return (
        picked(types, lead.from_, sockets(types, lead.from_, lead.where), "tx"),
        picked(types, lead.to, sockets(types, lead.to, lead.where), "rx"),
    )


def both_ways(types: Mapping[str, GearType], ref: PortRef) -> bool:
    """Whether a socket carries signals into its box and out of it."""
    bank = None if ref.gear == HOUSE else types[ref.gear].banks[ref.bank]
    return isinstance(bank, Port) and bank.way == "both"
