"""Every socket, lane and inner stage that a rig file names must be there, and fit its use.

What could not be drawn is refused here, so that nothing behind the reader has to doubt a name. What
can be drawn and is unwise (a plug in an output, a lead with too few ends) is a rule's business.
"""

from collections.abc import Iterator, Mapping

from rigproof.rig import GearType, Mix, RigFile, Route, Source, Stream
from rigproof.rig.equipment import Setting
from rigproof.rig.geartype import Port
from rigproof.rig.lanes import bank_of, inner_lanes, lane_range, sockets
from rigproof.rig.plan import Feed, RadioLink
from rigproof.rig.ref import HOUSE, PortRef
from rigproof.rig.where import RigError, Where
from rigproof.rigfile.names import port_refs

Types = Mapping[str, GearType]


def socket_faults(file: RigFile, types: Types) -> Iterator[RigError]:
    """References to what the gear does not have, or cannot do there."""
    boxes = (*file.gear, *(gear for show in file.shows for gear in show.gear))
    of = {gear.id: types[gear.type] for gear in boxes}
    sound: set[tuple[object, ...]] = set()  # what is named alike, of a box of the same type
    for entry, field, key, ref in port_refs(file):
        alike = id(of.get(ref.gear)), type(entry), field, ref[len(ref.gear) :]
        if alike in sound:
            continue
        at = entry.where.of(key)
        fault = (
            _inner(entry, field, ref, at, of)
            if isinstance(entry, _INSIDE)
            else _plugged(ref, at, of)
        )
        if fault is not None:
            yield fault
        elif ref.gear in of and not isinstance(entry, Route):  # which has two boxes to compare
            sound.add(alike)
    yield from _foreign_ways_out(file, of)
    yield from _channels_nowhere(file, of)


# Entries whose references may also mean a place inside a box.
_INSIDE = (Route, Source, Feed, Stream, RadioLink, Mix, Setting)


def _plugged(ref: PortRef, at: Where, of: Types) -> RigError | None:
    """A plug goes into a connector; where lanes are named, the connector carries that many."""
    try:
        found = sockets(of, ref, at)
    except RigError as fault:
        return fault
    wanted = None if ref.gear == HOUSE else lane_range(ref, of[ref.gear])
    ways = (ref.way,) if ref.way else ("rx", "tx")
    lanes = max(len(found[0].lanes(way)) for way in ways)
    if wanted is None or wanted[1] <= lanes:
        return None
    return RigError(
        at=at,
        says=f'"{ref}" asks for lane {wanted[1]}, and this connector carries {lanes}.',
        fix=f"Use lanes 1 to {lanes}." if lanes > 1 else "Leave the lane out.",
    )


def _inner(entry: object, field: str, ref: PortRef, at: Where, of: Types) -> RigError | None:
    """Where a signal is taken from a box or given to it, lane by lane."""
    if ref.gear == HOUSE:
        if isinstance(entry, Source | Stream | RadioLink):
            return None
        return RigError(
            at=at,
            says=f'"{ref}" is at the house, and this is set inside a box of yours.',
            fix="Name the box and its socket, and lay a lead or a stream to the house.",
        )
    if ref.gear not in of:
        return _no_box(ref, at)
    if isinstance(entry, Route) and entry.from_.gear != entry.to.gear:
        return _between_boxes(entry, at) if field == "to" else None
    try:
        bank = bank_of(of[ref.gear], ref, at)
        if isinstance(entry, Stream | RadioLink) and not isinstance(bank, Port):
            sockets(of, ref, at)  # says what the box's sockets are
        entering = _entering(entry, field, bank)
        inner_lanes(of[ref.gear], ref, entering=entering, at=at)
    except RigError as fault:
        return fault
    return None


def _entering(entry: object, field: str, bank: object) -> bool:
    """Whether the reference means signals as they come into the box."""
    if isinstance(entry, Route):
        return field == "from_"
    if isinstance(entry, Setting):
        return True  # as the knob turns what comes in
    if isinstance(entry, Stream | RadioLink):
        return field == "to"
    # A source comes out of a box, or into it where its microphone is built in.
    return isinstance(entry, Source) and isinstance(bank, Port) and bank.way == "in"


def _no_box(ref: PortRef, at: Where) -> RigError:
    return RigError(
        at=at,
        says=f'"{ref}": the case is no box with sockets.',
        fix="Name the box that stands in it.",
    )


def _between_boxes(route: Route, at: Where) -> RigError:
    return RigError(
        at=at,
        says=f'a route is set inside one box, and this one runs from "{route.from_.gear}" to '
        f'"{route.to.gear}".',
        fix="Write a lead or a stream between the boxes, and a route within each.",
    )


def _foreign_ways_out(file: RigFile, of: Types) -> Iterator[RigError]:
    """Mixes that leave by another box than the one they are made on."""
    mixers = [gear for gear, type_ in of.items() if type_.class_ == "mixer"]
    own = file.rig.mixer or (mixers[0] if len(mixers) == 1 else None)
    for mix in (*file.mixes, *(mix for show in file.shows for mix in show.mixes)):
        made_on = mix.on or own
        if mix.out is None or made_on is None or mix.out.gear in (made_on, HOUSE):
            continue
        if mix.out.gear in of:
            yield RigError(
                at=mix.where.of("out"),
                says=f'a mix leaves by a socket of the box it is made on, "{made_on}", and this '
                f'is one of "{mix.out.gear}".',
                fix=f"Name a socket of {made_on}; a lead or link carries the mix on from there.",
            )


def _channels_nowhere(file: RigFile, of: Types) -> Iterator[RigError]:
    """Channels on a box that has none."""
    for row in (*file.patch, *(row for show in file.shows for row in show.patch)):
        for one in row.also:
            if one.on in of and next(of[one.on].stages("channel"), None) is None:
                yield RigError(
                    at=one.where.of("on"),
                    says=f'"{one.on}" has no channels: {of[one.on].name} is no mixer.',
                    fix="Name a mixer, or say with leads how the signal goes there.",
                )
