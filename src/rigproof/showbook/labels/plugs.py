"""Flags for both ends of every lead: one for each plug, the pieces of a set told apart."""

from collections.abc import Iterator, Sequence
from math import ceil, pi
from typing import Literal

from rigproof.checks.joints import Run
from rigproof.checks.rule import View
from rigproof.rig.lanes import Socket, sockets
from rigproof.rig.ref import HOUSE
from rigproof.rig.where import NOWHERE
from rigproof.showbook.labels import codes, colouring
from rigproof.showbook.labels.content import Asked, Flag, Place

# From memory: the jacket of a usual microphone cable, and of one tail of a fan.
USUAL_DIAMETER_MM = 6.5


def flags(view: View, asked: Asked) -> Iterator[Flag]:
    """A flag for each plug of each lead, both ends of a piece one after the other."""
    for run in view.runs:
        if not asked.about or run.lead.id in asked.about:
            yield from _of_lead(view, asked, run)


def _of_lead(view: View, asked: Asked, run: Run) -> Iterator[Flag]:
    starts, ends = run.starts, (*run.ends, *_back(view, run))
    pieces = _pieces(run, starts, ends)
    for number, (near, far) in enumerate(pieces, 1):
        for end, plugs in (("A", near), ("B", far)):
            for place, socket in enumerate(plugs, 1):
                several = len(plugs) > 1
                counted = _counted(len(pieces), number, len(plugs), place)
                whole = near if end == "A" else far
                yield _flag(
                    view,
                    asked,
                    run,
                    "A" if end == "A" else "B",
                    f"flag-{run.lead.id}-{number}-{end.lower()}{place if several else ''}",
                    counted,
                    (socket,) if end == "A" else _other(near, place, len(whole)),
                    (socket,) if end == "B" else _other(far, place, len(whole)),
                )


def _counted(pieces: int, piece: int, plugs: int, plug: int) -> str:
    """The number on a flag: of the piece, of the plug, or of both."""
    if pieces > 1 and plugs > 1:
        return f"{piece}.{plug}"
    if pieces > 1:
        return str(piece)
    return str(plug) if plugs > 1 else ""


def _other(far: Sequence[Socket], place: int, plugs: int) -> tuple[Socket, ...]:
    """Where the other end goes: of a fan the same core, else every plug there."""
    return (far[place - 1],) if len(far) == plugs else tuple(far)


def _pieces(
    run: Run, starts: Sequence[Socket], ends: Sequence[Socket]
) -> list[tuple[tuple[Socket, ...], tuple[Socket, ...]]]:
    """The sockets of each piece of a set of like leads."""
    first, last = run.body.a.count, run.body.b.count
    if -(-len(starts) // first) != -(-len(ends) // last):
        turned = -(-len(starts) // last) == -(-len(ends) // first)
        first, last = (last, first) if turned else (max(1, len(starts)), max(1, len(ends)))
    number = max(1, -(-len(starts) // first), -(-len(ends) // last))
    return [
        (
            tuple(starts[at * first : (at + 1) * first]),
            tuple(ends[at * last : (at + 1) * last]),
        )
        for at in range(number)
    ]


def _back(view: View, run: Run) -> tuple[Socket, ...]:
    """The plug by which an insert lead comes back."""
    back = run.lead.back
    return sockets(view.rig.gear_types, back, NOWHERE) if back is not None else ()


def _flag(
    view: View,
    asked: Asked,
    run: Run,
    end: Literal["A", "B"],
    name: str,
    number: str,
    goes_from: Sequence[Socket],
    goes_to: Sequence[Socket],
) -> Flag:
    lead = run.lead
    thick = float(run.body.diameter_mm or USUAL_DIAMETER_MM)
    wrap_mm = pi * (min(thick, USUAL_DIAMETER_MM) if _fans(run) else thick)
    length = lead.length_m
    return Flag(
        id=name,
        lead=lead.id,
        name=lead.label or lead.id,
        number=number,
        end=end,
        goes_from=tuple(_place(view, asked, socket) for socket in goes_from),
        goes_to=tuple(_place(view, asked, socket) for socket in goes_to),
        length=asked.edition.length(float(length)) if length else "",
        colour=lead.colour,
        wrap_mm=ceil(wrap_mm * 2) / 2,
        address=codes.address(view.rig.about),
        colours=colouring.of_number(asked.scheme, number.rpartition(".")[2]),
    )


def _fans(run: Run) -> bool:
    """Whether an end splits into several plugs, each on a thin tail of its own."""
    return max(run.body.a.count, run.body.b.count) > 1


def _place(view: View, asked: Asked, socket: Socket) -> Place:
    if socket.gear == HOUSE or socket.port is None:
        full = asked.edition.say("labels.house_line", n=socket.number)
        return Place(full, asked.edition.say("labels.house_short", n=socket.number))
    port = socket.port
    bank = port.name or port.id.replace("-", " ")
    which = f"{bank} {socket.number}" if port.count > 1 else bank
    box = view.rig.box_names[socket.gear]
    return Place(f"{box} {which}", f"{view.rig.gear[socket.gear].label or box} {which}")
