"""The hand-off: each line the house can plug, what is on it, and what goes when lines are few."""

from collections import Counter
from collections.abc import Iterator, Mapping, Set

import msgspec

from rigproof.rig import Rig, Show, Venue
from rigproof.rig.band import Source
from rigproof.rig.geartype import Port, Stage
from rigproof.rig.outside import Desk
from rigproof.rig.ref import HOUSE
from rigproof.signal import Graph, Hop
from rigproof.signal.phantom import PhantomLine, phantom_lines
from rigproof.wording.sentences import sentence


class HouseLine(msgspec.Struct, frozen=True):
    """One end in the house's hands: a plug of a tail, or a channel of a stream or link."""

    number: int
    means: str  # "tail", "stream" or "mix"
    carrier: str  # the lead or stream that brings it
    source: Source | None
    lane: int  # of the source, from 0
    channel: int | None  # on the band's mixer
    isolated: bool
    phantom_passes: bool  # 48 V fed by the house gets to the source
    works_off: bool  # it passes with the rack dead
    status: str = "use"  # "use", "ignore", "held", "spare", "dropped"
    why: str = ""
    house_number: int | None = None  # where the house should plug it
    sent_from: str = ""  # the socket and lane it leaves us by, e.g. card.net.tx.22
    level: str = ""  # "mic", "line" or "digital"; empty where nothing is sent
    mix: str = ""  # the mix of ours that it carries, by id

    @property
    def name(self) -> str:
        return self.source.lane_names[self.lane] if self.source else ""


class HandOff(msgspec.Struct, frozen=True):
    """What one venue gets, for one show or for any night."""

    venue: Venue
    show: Show | None
    lines: tuple[HouseLine, ...]
    needed: int  # by the way that the desk takes; tails beside it have sockets of their own
    free: int | None  # lines the house says it has for us
    dropped: tuple[HouseLine, ...]
    returns: tuple[str, ...]  # sources the house sends to us, by name
    mixes: tuple[str, ...]  # mixes of ours on the way to the house
    dead: tuple[HouseLine, ...]  # what still passes when the rack is dead
    dead_if_fed: tuple[HouseLine, ...]  # what passes then as well once the house feeds 48 V
    drop_order: tuple[HouseLine, ...] = ()  # every used line, the first to be left out first

    @property
    def used(self) -> tuple[HouseLine, ...]:
        return tuple(line for line in self.lines if line.status == "use")

    @property
    def tails_beside(self) -> tuple[HouseLine, ...]:
        """The tails that are plugged beside the way that the desk takes."""
        return tuple(line for line in self.lines if _beside(line, self.venue.desk))


Phantoms = Mapping[str, PhantomLine]


def hand_off(rig: Rig, graph: Graph, venue: Venue) -> HandOff:
    """What one venue's desk gets from the rig on any night."""
    absent = _absent_leads(rig, venue)
    laid = tuple(_Ends(rig, graph).lines(absent))
    return _hand_off(rig, venue, None, laid, phantom_lines(graph, rig))


def hand_offs(
    rig: Rig, graph: Graph, show: Show | None = None, phantoms: Phantoms | None = None
) -> tuple[HandOff, ...]:
    """The hand-off for the show's venue, or for every venue of the rig.

    `phantoms` saves work where the 48 V of every source is known already.
    """
    venues = [rig.venues[show.venue]] if show else rig.file.venues
    known = phantom_lines(graph, rig) if phantoms is None else phantoms
    # Most venues differ only in their desks: what arrives at the ends is worked out once for them.
    ends = _Ends(rig, graph)
    lines: dict[frozenset[str], tuple[HouseLine, ...]] = {}
    found = []
    for venue in venues:
        absent = _absent_leads(rig, venue)
        if absent not in lines:
            lines[absent] = tuple(ends.lines(absent))
        found.append(_hand_off(rig, venue, show, lines[absent], known))
    return tuple(found)


def _hand_off(
    rig: Rig,
    venue: Venue,
    show: Show | None,
    laid: tuple[HouseLine, ...],
    phantoms: Phantoms,
) -> HandOff:
    """What this venue's desk gets from the rig, by the way its desk takes signals."""
    takes = venue.desk.takes
    streams = {stream.id for stream in rig.file.streams}
    lines = [
        line
        for line in laid
        if _suits(line, takes, line.carrier in streams) or _beside(line, venue.desk)
    ]
    lines = _with_status(rig, lines)
    plain = [line for line in lines if line.status == "use"]
    used = [line for line in plain if not _beside(line, venue.desk)]
    free = venue.desk.lines_free if venue.desk.lines_free is not None else venue.desk.lines
    dropped = _dropped(used, free) if takes in {"tails", "network", "link"} else ()
    gone = {line.number for line in dropped}
    plugged = [line for line in plain if line.number not in gone]
    alive, revived = _rack_dead(plugged, venue, phantoms)
    lines = _with_order(venue, [_marked(line, gone) for line in lines])
    lines.sort(key=lambda line: _beside(line, venue.desk))
    return HandOff(
        venue,
        show,
        tuple(lines),
        len(used),
        free,
        tuple(dropped),
        tuple(s.name for s in rig.file.sources if _from_house(s)),
        tuple(m.name or m.id for m in rig.file.mixes if m.purpose == "house"),
        alive,
        revived,
        tuple(_in_drop_order(used)),
    )


def _rack_dead(
    plugged: list[HouseLine], venue: Venue, phantoms: Phantoms
) -> tuple[tuple[HouseLine, ...], tuple[HouseLine, ...]]:
    """What still passes with the rack dead, and what would once the house feeds 48 V to it.

    A condenser on an isolated leg is lost: nobody is left who could feed it.
    """
    passing = [line for line in plugged if line.works_off and line.means == "tail"]
    within_reach = {
        _lane(line)
        for line in passing
        if line.source and f"{HOUSE}.{line.number}" in phantoms[line.source.id].house_rig_off
    }
    thirsty = [line for line in passing if line.source and phantoms[line.source.id].need == "must"]
    revived = [line for line in thirsty if _lane(line) in within_reach]
    if venue.desk.phantom == "on":
        thirsty, revived = [line for line in thirsty if line not in revived], []
    return tuple(line for line in passing if line not in thirsty), tuple(revived)


def _lane(line: HouseLine) -> tuple[str, int]:
    return (line.source.id if line.source else "", line.lane)


def _from_house(source: Source) -> bool:
    return source.start is not None and source.start.gear == HOUSE


def _suits(line: HouseLine, takes: str, streamed: bool) -> bool:
    """Which ends belong to which kind of desk, by what brings them.

    A mix of ours may come by any of these ways, beside lines or alone.
    """
    if takes == "tails":
        return line.means == "tail" or (line.means == "mix" and line.level != "digital")
    if takes == "network":
        return streamed
    if takes == "link":
        return not streamed and line.level == "digital"
    return takes == "mixed" and line.means == "mix"


def _beside(line: HouseLine, desk: Desk) -> bool:
    """Whether this is a tail that is plugged beside another way."""
    if desk.takes == "tails" or line.means == "stream" or line.level == "digital":
        return False
    return any(line.number in numbers for numbers in desk.also_tails)


def _absent_leads(rig: Rig, venue: Venue) -> frozenset[str]:
    """The leads that are not laid at this venue."""
    return frozenset(
        lead.id for lead in rig.file.leads if lead.at_venues and venue.id not in lead.at_venues
    )


class _Ends:
    """What arrives at each end in the house's hands, worked out once for the leads it comes by."""

    def __init__(self, rig: Rig, graph: Graph) -> None:
        self.rig = rig
        self.graph = graph
        self.homes = {
            node: (source, lane)
            for source in rig.file.sources
            for lane, node in enumerate(graph.of_source(source.id))
        }
        self.house_mixes = _house_mixes(rig)
        numbers = {node: _number(graph, node) for node in graph.of_listener(HOUSE)}
        self.numbers = dict(sorted(numbers.items(), key=lambda pair: pair[1]))
        # With every lead laid: the line, and all hops that it may come by.
        self._usual: dict[int, tuple[HouseLine | None, frozenset[int]]] = {}

    def lines(self, absent: frozenset[str]) -> Iterator[HouseLine]:
        """The ends that something of ours arrives at, where some leads are not laid."""
        gone = {
            number
            for number, hop in enumerate(self.graph.hops if absent else ())
            if hop.means == "lead" and not absent.isdisjoint(hop.needs)
        }
        for node in self.numbers:
            usual = self._usual.get(node)
            if usual is None:
                met: list[int] = []
                usual = self._usual[node] = self._line(node, frozenset(), met), frozenset(met)
            line, met_by = usual
            if not met_by.isdisjoint(gone):
                line = self._line(node, gone, [])
            if line is not None:
                yield line

    def _line(self, node: int, gone: Set[int], met: list[int]) -> HouseLine | None:
        """What arrives at one end; None where the house sends or nothing comes."""
        rig, graph, homes = self.rig, self.graph, self.homes
        last = _entering(graph, node, gone, met)
        if not last or any(hop.start in homes for hop in last):
            return None  # the house sends on this one
        path, meeting = _way_back(graph, node, gone, met)
        line = _after_source(path)
        sender = graph.nodes[last[0].start]
        means = "stream" if sender.digital else "tail"
        if any(hop.means == "send" for hop in meeting):
            means = "mix"
        source, lane = homes.get(path[0].start, (None, 0)) if path else (None, 0)
        return HouseLine(
            self.numbers[node],
            means,
            next(iter(last[0].needs), ""),
            source if means != "mix" else None,
            lane,
            _channel(rig, source, lane),
            any(hop.isolated for hop in line),
            bool(line) and all(hop.phantom for hop in line),
            bool(line) and all(hop.works_off for hop in line) and not _powered(rig, source),
            sent_from=sender.key,
            level="digital" if sender.digital else _level(rig, graph, path),
            mix=_mix(self.house_mixes, graph, path) if means == "mix" else "",
        )


def _powered(rig: Rig, source: Source | None) -> bool:
    """Whether a source comes out of a box that makes no sound without mains."""
    if source is None or source.start is None or source.start.gear not in rig.gear:
        return False
    power = rig.type_of(source.start.gear).power
    return power is not None and power.by == "mains"


def _level(rig: Rig, graph: Graph, path: tuple[Hop, ...]) -> str:
    """What the last box that makes a signal of its own sends; passive boxes change nothing."""
    level = ""
    for hop in path:
        for node in (graph.nodes[hop.start], graph.nodes[hop.end]):
            if node.digital:
                level = "digital"
            elif (
                isinstance(node.bank, Port)
                and node.bank.way == "out"
                and not (level and _passive(rig, node.gear))
            ):
                level = "mic" if node.bank.carries == "mic" else "line"
    return level


def _passive(rig: Rig, gear: str) -> bool:
    # A microphone or DI is not in the list of gear, and its output is what starts the line.
    return gear in rig.gear and rig.type_of(gear).passive


def _house_mixes(rig: Rig) -> Mapping[tuple[str, int], str]:
    """Bank and number of a bus -> the house mix made there. Bank "": the only house mix."""
    mixes = [mix for mix in rig.file.mixes if mix.purpose == "house"]
    found = {(mix.bank, number): mix.id for mix in reversed(mixes) for number in mix.bus or ()}
    return found | {("", 0): mixes[0].id} if len(mixes) == 1 else found


def _mix(house_mixes: Mapping[tuple[str, int], str], graph: Graph, path: tuple[Hop, ...]) -> str:
    """The house mix made at the place this line begins."""
    start = graph.nodes[path[0].start] if path else None
    number = int(start.key.rpartition(".")[2]) if start and start.key[-1].isdigit() else 0
    bank = start.bank.id if start is not None and isinstance(start.bank, Stage) else ""
    return house_mixes.get((bank, number)) or house_mixes.get(("", 0), "")


def _number(graph: Graph, node: int) -> int:
    return int(graph.nodes[node].key.rpartition(".")[2])


def _entering(graph: Graph, node: int, gone: Set[int], met: list[int]) -> list[Hop]:
    """The hops that bring something here, of what is set and laid; all of them go into `met`."""
    hops, numbers = graph.hops, graph.bringing[node]
    met += numbers
    return [hops[number] for number in numbers if number not in gone]


def _way_back(
    graph: Graph, node: int, gone: Set[int], met: list[int]
) -> tuple[tuple[Hop, ...], list[Hop]]:
    """The one way a single line came, and the hops that meet where it begins.

    Behind a mix, where many come together, the way is empty or begins at the bus.
    """
    path: list[Hop] = []
    seen = {node}
    while True:
        entering = _entering(graph, node, gone, met)
        # Where a source is said to come out of a box, the box's own inside tells nothing more.
        ways = [hop for hop in entering if hop.means == "plug"] or entering
        if len(ways) != 1 or ways[0].means == "send" or ways[0].start in seen:
            return tuple(reversed(path)), entering
        path.append(ways[0])
        node = ways[0].start
        seen.add(node)


def _after_source(path: tuple[Hop, ...]) -> tuple[Hop, ...]:
    """From the plug on: what happens inside the microphone or DI is not the line's business."""
    for place, hop in enumerate(path):
        if hop.means == "plug" and hop.needs:
            return path[place:]
    return path[1:]


def _channel(rig: Rig, source: Source | None, lane: int) -> int | None:
    row = rig.rows.get(source.id) if source else None
    if row is None or row.channel is None or lane >= len(row.channel):
        return None
    return row.channel.first + lane


def _with_status(rig: Rig, lines: list[HouseLine]) -> list[HouseLine]:
    held = {n: hold.why for hold in rig.file.holds for n in hold.lines or ()}
    marked = []
    for line in lines:
        status, why = "use", ""
        if line.means == "mix":
            why = sentence("a mix made in the rack")
        elif line.source is None:
            status, why = ("held", held[line.number]) if line.number in held else ("spare", "")
        elif line.source.private:
            status, why = "ignore", sentence("for the band only")
        marked.append(msgspec.structs.replace(line, status=status, why=why))
    return marked


def _with_order(venue: Venue, lines: list[HouseLine]) -> list[HouseLine]:
    """The house's own order where it has one; else our tail numbers without the gaps."""
    order = {name: place for place, name in enumerate(venue.desk.order)}
    # Tails beside another way go into sockets of their own: they are not numbered along.
    used = [x for x in lines if x.status == "use" and not _beside(x, venue.desk)]
    used.sort(
        key=lambda line: (
            order.get(line.source.id, len(order)) if line.source and order else len(order),
            line.number,
        )
    )
    numbers = {line.number: place + 1 for place, line in enumerate(used)}
    return [msgspec.structs.replace(line, house_number=numbers.get(line.number)) for line in lines]


def _dropped(used: list[HouseLine], free: int | None) -> tuple[HouseLine, ...]:
    """The lines to leave out when the house has too few: whole sources, lowest `drop` first.

    A source without a `drop` goes last. A pair goes as a pair.
    """
    if free is None or len(used) <= free:
        return ()
    sizes = Counter(line.source.id for line in used if line.source)
    gone: set[str] = set()
    left = len(used)
    for source in _ranked(used):
        if left <= free:
            break
        gone.add(source.id)
        left -= sizes[source.id]
    return tuple(line for line in used if line.source and line.source.id in gone)


def _ranked(used: list[HouseLine]) -> list[Source]:
    return sorted(
        {line.source.id: line.source for line in used if line.source}.values(),
        key=lambda source: (source.drop if source.drop is not None else 10_000, source.id),
    )


def _in_drop_order(used: list[HouseLine]) -> Iterator[HouseLine]:
    by_source: dict[str, list[HouseLine]] = {}
    for line in used:
        if line.source is not None:
            by_source.setdefault(line.source.id, []).append(line)
    for source in _ranked(used):
        yield from by_source[source.id]


def _marked(line: HouseLine, gone: set[int]) -> HouseLine:
    if line.number not in gone:
        return line
    return msgspec.structs.replace(
        line, status="dropped", why=sentence("the house has too few lines")
    )
