"""Every lead of the rig in one list: those of the file, the plain ones to the microphones, mains.

A length is the one that the file states, else the planned one: the way on the stage with a tenth to
spare, rounded up to what is sold. The papers for the bench, the shop and the van read this list.
"""

from collections import Counter
from collections.abc import Iterator
from typing import Literal

import msgspec

from rigproof.checks.rule import View
from rigproof.mains.outlets import feeds, gives_mains, needs_mains
from rigproof.rack.leadruns import plain_xlr
from rigproof.rack.mass import lead_count
from rigproof.rig import Lead, Rig
from rigproof.rig.connectors import CONNECTORS, Connector, mate
from rigproof.rig.geartype import LeadEnd
from rigproof.rig.lanes import sockets
from rigproof.rig.quantity import Metres
from rigproof.rig.ref import HOUSE

Group = Literal["case", "stage", "microphones", "house", "mains"]
GROUPS: tuple[Group, ...] = ("case", "stage", "microphones", "house", "mains")


class Run(msgspec.Struct, frozen=True, kw_only=True):
    """Like leads from one place to another. `start` and `end` are sockets, sources or "wall".

    `source` is set for the plain lead of a microphone or DI, which the file has no entry for.
    """

    group: Group
    label: str
    type_id: str | None
    count: int
    start: str
    end: str
    a: LeadEnd
    b: LeadEnd
    length_m: Metres | None
    planned: bool
    lead: Lead | None = None
    source: str = ""

    @property
    def total_m(self) -> float | None:
        return None if self.length_m is None else self.count * float(self.length_m)

    @property
    def plugs(self) -> Counter[str]:
        """All connectors of these leads."""
        found: Counter[str] = Counter()
        for end in (self.a, self.b):
            found[end.connector] += self.count * end.count
        return found


def schedule(view: View) -> tuple[Run, ...]:
    """All leads, group by group, each group in the order of the file."""
    found = [*_stated(view), *_plain(view), *_mains(view.rig)]
    return tuple(sorted(found, key=lambda run: GROUPS.index(run.group)))


def _stated(view: View) -> Iterator[Run]:
    rig = view.rig
    planned = {way.lead.id: way.stock_m for way in view.lead_ways if way.lead is not None}
    for lead in rig.file.leads:
        body = rig.types[lead.type].lead
        if body is None:
            continue
        stock = planned.get(lead.id)
        length = lead.length_m
        if length is None and stock is not None:
            length = Metres(stock, "assumed")
        yield Run(
            group=_group(rig, lead),
            label=lead.label or lead.id,
            type_id=lead.type,
            count=lead_count(rig, lead),
            start=str(lead.from_),
            end=str(lead.to),
            a=body.a,
            b=body.b,
            length_m=length,
            planned=lead.length_m is None,
            lead=lead,
        )


def _group(rig: Rig, lead: Lead) -> Group:
    ends = (lead.from_.gear, lead.to.gear)
    if HOUSE in ends:
        return "house"
    inside = all(rig.gear[end].placed == "case" for end in ends)
    return "case" if inside and lead.plugged == "for good" else "stage"


def _plain(view: View) -> Iterator[Run]:
    """From each microphone and DI to its socket: the file states the socket only."""
    rig = view.rig
    ways = {way.start: way for way in view.lead_ways if way.lead is None}
    usual = plain_xlr(rig)
    for row in rig.file.patch:
        source = rig.sources[row.source]
        if row.plug is None or row.plug.gear not in rig.gear or source.start is not None:
            continue
        way = ways.get(row.source)
        type_id = way.type_id if way is not None else usual
        body = rig.types[type_id].lead if type_id else None
        stock = way.stock_m if way is not None else None
        yield Run(
            group="microphones",
            label=source.label or source.name,
            type_id=type_id,
            count=source.lanes,
            start=f"source:{source.id}",
            end=str(row.plug),
            a=body.a if body else LeadEnd(connector="bare"),
            b=body.b if body else LeadEnd(connector="bare"),
            length_m=Metres(stock, "assumed") if stock is not None else None,
            planned=True,
            source=source.id,
        )


def _mains(rig: Rig) -> Iterator[Run]:
    """From each outlet to the box on it, and from the wall to the rack."""
    power = rig.file.power
    by_outlet = feeds(rig)
    fed = {feed.gear for feed in by_outlet}
    for gear in rig.file.gear:
        supply = rig.types[gear.type].power
        first = gives_mains(rig.types[gear.type]) and gear.id not in fed
        if not first or power is None or supply is None:
            continue
        yield Run(
            group="mains",
            label=gear.label or gear.id,
            type_id=power.lead_type,
            count=1,
            start="wall",
            end=gear.id,
            a=LeadEnd(connector=_counterpart(_wall(rig))),
            b=LeadEnd(connector=_counterpart(supply.inlet)),
            length_m=power.lead_m,
            planned=False,
        )
    for feed in by_outlet:
        supply = rig.type_of(feed.gear).power
        if feed.outlet.gear == HOUSE or not needs_mains(rig.type_of(feed.gear)):
            continue
        outlet = sockets(rig.gear_types, feed.outlet, feed.where)[0].port
        yield Run(
            group="mains",
            label=rig.gear[feed.gear].label or feed.gear,
            type_id=None,
            count=1,
            start=str(feed.outlet),
            end=feed.gear,
            a=LeadEnd(connector=_counterpart(outlet.connector if outlet else None)),
            b=LeadEnd(connector=_counterpart(supply.inlet if supply else None)),
            length_m=None,
            planned=True,
        )


def _wall(rig: Rig) -> Connector | None:
    """The mains socket of the venues, where all have the same."""
    found = {circuit.socket for venue in rig.file.venues for circuit in venue.circuits}
    return found.pop() if len(found) == 1 else None


def _counterpart(of: Connector | None) -> Connector:
    """What goes into a mains socket, or onto a mains inlet; a bare end where nobody says."""
    if of is None:
        return "bare"
    return next((c for c in CONNECTORS if mate(c, of) == _AS_MEANT), "bare")


_AS_MEANT = mate("iec-c13", "iec-c14")
