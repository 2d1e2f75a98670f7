"""How long the leads on the stage have to be: from where things stand, along edges, with slack.

Nobody lays a lead straight across a stage where people walk: ways go at right angles. Leads to
the house are another matter, because the house's box stands where the house says.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

import msgspec

from rigproof.physics import cablerun
from rigproof.rack.mass import lead_count
from rigproof.rig import Gear, Lead, Rig, Source, Venue
from rigproof.rig.band import Position
from rigproof.rig.quantity import Metres, Provenance, weakest
from rigproof.rig.ref import HOUSE
from rigproof.rig.spread import weaker

# How far a lead goes up and down at its ends. Common practice, no source.
AT_CASE_M = 0.5
AT_GEAR_M = 1.0  # a personal mixer on its arm, an instrument, a stomp box on the floor and up
AT_MICROPHONE_M = 1.5  # down the stand

_Point = tuple[float, float]


class Way(msgspec.Struct, frozen=True):
    """The way of one lead in one place, and what to take for it.

    `lead` is the entry of the file; None for the plain lead of a source that the file leaves out.
    """

    name: str
    start: str  # the box, or the source
    end: str
    lead: Lead | None
    type_id: str | None
    venue: Venue | None  # None: where the case usually stands
    case_side: str  # "stage left", "stage right", or "" where the case stands in the middle
    across_m: float
    along_m: float
    ups_m: tuple[float, float]  # at its two ends
    route_m: float
    needed_m: float  # with a tenth to spare
    stock_m: float | None  # the shortest that is sold and long enough; None: none is
    has_m: Metres | None
    agreed: bool  # whether the case is known to stand there; not the other side of the stage
    provenance: Provenance

    @property
    def short_m(self) -> float:
        """By how much the stated lead does not even reach; 0 where it does or none is stated."""
        return 0.0 if self.has_m is None else max(0.0, self.route_m - self.has_m)


def lead_ways(rig: Rig, venues: Iterable[Venue]) -> tuple[Way, ...]:
    """Each stage lead with the longest of its ways over these venues, in the order of the file.

    Where a venue does not say where the case stands, both sides of the stage are tried: the band
    is told at the door.
    """
    places = list(_case_places(rig, tuple(venues)))
    found: list[Way] = []
    for wanted in (*_stated(rig), *_plain(rig)):
        ways = [
            way
            for venue, at, agreed in places
            if (way := _way(rig, wanted, venue, at, agreed)) is not None
        ]
        if ways:
            # Of equal ways the one that is agreed on is the one to tell.
            found.append(max(ways, key=lambda way: (way.route_m, way.agreed)))
    return tuple(found)


def _case_places(
    rig: Rig, venues: tuple[Venue, ...]
) -> Iterator[tuple[Venue | None, Position | None, bool]]:
    case = rig.file.case
    usual = case.at_m if case else None
    if not venues:
        yield None, usual, True
    for venue in venues:
        if venue.case_at_m is not None:
            yield venue, venue.case_at_m, True
        elif usual is not None:
            yield venue, usual, True
            yield venue, (type(usual[0])(-usual[0], usual[0].provenance), usual[1]), False
        else:
            yield venue, None, True


_Wanted = tuple[str, str, str, Lead | None, str | None]


def _stated(rig: Rig) -> Iterator[_Wanted]:
    for lead in rig.file.leads:
        ends = (lead.from_.gear, lead.to.gear)
        if HOUSE in ends or all(rig.gear[end].placed == "case" for end in ends):
            continue
        yield lead.label or lead.id, *ends, lead, lead.type


def _plain(rig: Rig) -> Iterator[_Wanted]:
    """The leads from microphones and DIs to their sockets: the file states the socket only."""
    type_id = plain_xlr(rig)
    for row in rig.file.patch:
        source = rig.sources.get(row.source)
        if row.plug is None or row.plug.gear not in rig.gear or source is None or source.start:
            continue
        # A stereo pair has two of them, of the same length.
        yield source.label or source.name, f"source:{source.id}", row.plug.gear, None, type_id


def plain_xlr(rig: Rig) -> str | None:
    """The plain microphone lead among the types of this rig."""
    for type_id, type_ in sorted(rig.types.items()):
        body = type_.lead
        if body is None or body.a.count != 1 or body.b.count != 1 or body.a.lanes != 1:
            continue
        if (body.a.connector, body.b.connector) == ("xlr-f", "xlr-m"):
            return type_id
    return None


def _way(
    rig: Rig, wanted: _Wanted, venue: Venue | None, case_at: Position | None, agreed: bool
) -> Way | None:
    name, start, end, lead, type_id = wanted
    one, other = _place(rig, start, case_at), _place(rig, end, case_at)
    if one is None or other is None or start == end:
        return None
    (x1, y1), up_1, from_1 = one
    (x2, y2), up_2, from_2 = other
    route = float(
        cablerun.route_m(across_m=abs(x1 - x2), along_m=abs(y1 - y2), up_and_down_m=[up_1, up_2])
    )
    needed = float(cablerun.needed_m(route))
    body = rig.types[type_id].lead if type_id else None
    return Way(
        name,
        start.removeprefix("source:"),
        end,
        lead,
        type_id,
        venue,
        _side(case_at),
        abs(x1 - x2),
        abs(y1 - y2),
        (up_1, up_2),
        route,
        needed,
        cablerun.stock_m(needed, stock_m=map(float, body.stock_m)) if body else None,
        lead.length_m if lead else None,
        agreed,
        weaker(from_1, from_2, "assumed"),  # the ups and downs are
    )


def _side(case_at: Position | None) -> str:
    if case_at is None or not float(case_at[0]):
        return ""
    return "stage left" if case_at[0] > 0 else "stage right"


def _place(
    rig: Rig, name: str, case_at: Position | None
) -> tuple[_Point, float, Provenance] | None:
    """Where one end of a lead is, how far it goes up there, and where that is known from."""
    if name.startswith("source:"):
        source = rig.sources[name.removeprefix("source:")]
        at = _source_at(rig, source)
        up_m = AT_MICROPHONE_M if source.mic is not None else AT_GEAR_M
    else:
        gear = rig.gear[name]
        in_case = gear.placed == "case"
        at = case_at if in_case else _gear_at(rig, gear)
        up_m = AT_CASE_M if in_case else AT_GEAR_M
    if at is None:
        return None
    return (float(at[0]), float(at[1])), up_m, weakest(*at)


def _source_at(rig: Rig, source: Source) -> Position | None:
    if source.at_m is not None:
        return source.at_m
    player = rig.people.get(source.player) if source.player else None
    return player.at_m if player else None


def _gear_at(rig: Rig, gear: Gear) -> Position | None:
    if gear.at_m is not None:
        return gear.at_m
    person = rig.people.get(gear.with_person) if gear.with_person else None
    return person.at_m if person else None


class Cut(msgspec.Struct, frozen=True):
    """Leads of one kind and length: how many to make, and with which plugs."""

    type_id: str
    name: str
    length_m: Metres | None
    count: int
    plugs: tuple[tuple[str, int], ...]  # connector, how many for all of them
    labels: tuple[str, ...]
    for_good: bool

    @property
    def total_m(self) -> float | None:
        return None if self.length_m is None else self.count * self.length_m


class CutList(msgspec.Struct, frozen=True):
    """Everything to cut, solder and crimp; sorted by type and length."""

    cuts: tuple[Cut, ...]
    plugs: Mapping[str, int]  # connector -> how many in all
    metres: Mapping[str, float]  # type -> metres of cable in all, of the leads that state one
    without_length: tuple[str, ...]


def cut_list(rig: Rig) -> CutList:
    """The leads of a rig as a workbench wants them. Adapters without a cable are left out."""
    groups: dict[tuple[str, float, bool], list[Lead]] = {}
    for lead in rig.file.leads:
        if rig.types[lead.type].lead is None or (
            lead.length_m is not None and not float(lead.length_m)
        ):
            continue
        length = float(lead.length_m) if lead.length_m is not None else -1.0
        groups.setdefault((lead.type, length, lead.plugged == "for good"), []).append(lead)
    cuts = tuple(_cut(rig, key[0], leads) for key, leads in sorted(groups.items()))
    plugs: Counter[str] = Counter()
    metres: dict[str, float] = {}
    for cut in cuts:
        plugs.update(dict(cut.plugs))
        if cut.total_m is not None:
            metres[cut.type_id] = metres.get(cut.type_id, 0.0) + cut.total_m
    return CutList(
        cuts,
        dict(sorted(plugs.items())),
        dict(sorted(metres.items())),
        tuple(label for cut in cuts if cut.length_m is None for label in cut.labels),
    )


def _cut(rig: Rig, type_id: str, leads: list[Lead]) -> Cut:
    type_ = rig.types[type_id]
    body = type_.lead
    assert body is not None
    count = sum(lead_count(rig, lead) for lead in leads)
    plugs: Counter[str] = Counter()
    for end in (body.a, body.b):
        plugs[end.connector] += count * end.count
    return Cut(
        type_id,
        type_.name,
        leads[0].length_m,
        count,
        tuple(sorted(plugs.items())),
        tuple(lead.label or lead.id for lead in leads),
        leads[0].plugged == "for good",
    )
