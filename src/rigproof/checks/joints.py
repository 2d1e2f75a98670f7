"""Where a plug meets a socket: every joint of the rig, stated leads and the plain ones on stage."""

from collections.abc import Iterable, Iterator

import msgspec

from rigproof.rig import Rig
from rigproof.rig.band import Source
from rigproof.rig.connectors import mate
from rigproof.rig.equipment import Lead
from rigproof.rig.geartype import LeadBody, LeadEnd, Port
from rigproof.rig.lanes import Socket, sockets
from rigproof.rig.ref import HOUSE, PortRef
from rigproof.rig.where import Where
from rigproof.wording.sentences import sentence

# What joins the two families of analogue sockets that ordinary leads bridge.
_FAMILIES = {"combo-f": ("xlr", "jack-ts", "jack-trs")}


class Joint(msgspec.Struct, frozen=True):
    """One plug in one socket. `plug` is a connector at the end of a lead or of earphones."""

    what: str  # whose plug it is, for people
    plug: str
    socket: Socket
    at: Where

    @property
    def port(self) -> Port:
        assert self.socket.port is not None
        return self.socket.port


class Run(msgspec.Struct, frozen=True):
    """A stated lead with the sockets it joins: where the signal enters and where it leaves."""

    lead: Lead
    body: LeadBody
    starts: tuple[Socket, ...]
    ends: tuple[Socket, ...]

    @property
    def name(self) -> str:
        return self.lead.label or self.lead.id


def runs(rig: Rig) -> tuple[Run, ...]:
    """Every stated lead whose type says what it is."""
    return tuple(_runs(rig))


def _runs(rig: Rig) -> Iterator[Run]:
    types = {gear.id: rig.types[gear.type] for gear in rig.file.gear}
    for lead in rig.file.leads:
        body = rig.types[lead.type].lead
        if body is not None:
            starts = sockets(types, lead.from_, lead.where.of("from"))
            yield Run(lead, body, starts, sockets(types, lead.to, lead.where.of("to")))


def lead_joints(runs: Iterable[Run]) -> Iterator[Joint]:
    """Both ends of every stated lead, the first socket of each end standing for the rest."""
    for run in runs:
        first, last = run.body.a, run.body.b
        if _fits_turned(run):
            first, last = last, first
        for end, found, key in ((first, run.starts, "from"), (last, run.ends, "to")):
            if found and found[0].port is not None:
                yield Joint(
                    sentence("The lead {run}", run=run.name),
                    end.connector,
                    found[0],
                    run.lead.where.of(key),
                )


def _fits_turned(run: Run) -> bool:
    """Whether a lead between two-way sockets goes in the other way round."""
    start, end = run.starts[0].port, run.ends[0].port
    if start is None or end is None or start.way != "both" or end.way != "both":
        return False
    a, b = run.body.a.connector, run.body.b.connector
    return mate(b, start.connector).fits and mate(a, end.connector).fits


def earphone_joints(rig: Rig) -> Iterator[tuple[str, Port, Joint]]:
    """Person, the earphones' own plug, and the joint with the socket they hang on."""
    types = {gear.id: rig.types[gear.type] for gear in rig.file.gear}
    for person in rig.file.people:
        ears = person.ears
        if ears is None or ears.plug is None or ears.earphones is None:
            continue
        port = next((p for p in rig.types[ears.earphones].ports if p.way == "in"), None)
        found = sockets(types, ears.plug, ears.where)
        if port is not None and ears.plug.gear != HOUSE and found[0].port is not None:
            joint = Joint(
                sentence("{person}'s earphones", person=person.name),
                port.connector,
                found[0],
                ears.where,
            )
            yield person.name, port, joint


def sets(end: LeadEnd, found: tuple[Socket, ...]) -> int:
    """How many like leads it takes to fill these sockets with one end of the lead."""
    return -(-len(found) // end.count)


def way_out(rig: Rig, source: Source) -> tuple[str | None, Port | None]:
    """The connector that the plain lead of a source is plugged on, and its port if a box has it."""
    for name in (source.di, source.mic):
        if name is not None:
            port = next(
                (
                    p
                    for p in rig.types[name].ports
                    if p.way == "out" and p.carries in {"mic", "line"}
                ),
                None,
            )
            return (port.connector, port) if port is not None else (None, None)
    start = source.start
    if start is not None and start.gear in rig.gear:
        bank = rig.type_of(start.gear).banks[start.bank]
        if isinstance(bank, Port):
            return bank.connector, bank
    return source.connector, None


def plain_lead_bridges(out: str, into: str) -> bool:
    """Whether a plain lead of one family joins an output and an input: XLR, jack, or the like.

    An XLR lead has holes at the output's end and pins at the input's; a jack lead has plugs at
    both. A fixed cable plugs in by itself.
    """
    if mate(out, into).fits:
        return True
    output, _, gender = out.rpartition("-")
    families = _FAMILIES.get(into, (into.rpartition("-")[0],))
    jacks = {"jack-ts", "jack-trs"}
    if output not in families and not (output in jacks and jacks & set(families)):
        return False
    if output.startswith("xlr"):
        return gender == "m" and into.endswith("-f")
    return gender == "f" and into.endswith("-f")


def turned(connector: str) -> str:
    """The same connector of the other gender."""
    if connector.endswith("-m"):
        return f"{connector[:-1]}f"
    return f"{connector[:-1]}m" if connector.endswith("-f") else connector


def same_socket(one: PortRef, other: PortRef) -> bool:
    """Whether two references share a connector."""
    if (one.gear, one.bank) != (other.gear, other.bank):
        return False
    low, high = one.numbers or (1, 9999)
    other_low, other_high = other.numbers or (1, 9999)
    return low <= other_high and other_low <= high
