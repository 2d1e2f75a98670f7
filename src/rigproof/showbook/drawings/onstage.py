"""What stands on the stage and what is to be written beside it: no ink, no paper."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from rigproof.handoff.lines import HandOff, hand_off
from rigproof.mains.outlets import needs_mains
from rigproof.rig import Gear, Person, Rig, Source, Venue
from rigproof.rig.ref import HOUSE, PortRef
from rigproof.showbook.edition import ENGLISH, Edition
from rigproof.signal import Graph

Mark = Literal["microphone", "DI", "line", "wireless"]


@dataclass(frozen=True, slots=True)
class Line:
    """One source as a plan shows it: a mark, the channel and a word."""

    source: Source
    mark: Mark
    channel: str
    word: str


@dataclass(frozen=True, slots=True)
class Player:
    """One person with their lines and what they hear through."""

    person: Person
    lines: tuple[Line, ...]
    hears: str


def _transmits(rig: Rig, plug: PortRef) -> bool:
    """Whether what is plugged here goes on by radio."""
    ports = rig.type_of(plug.gear).ports if plug.gear in rig.gear else ()
    return any(port.carries == "rf" and port.way == "out" for port in ports)


def channel_of(rig: Rig, source: Source) -> str:
    """The channels of a source on the band's mixer, or a dash."""
    row = rig.rows.get(source.id)
    return str(row.channel) if row and row.channel else "–"


def line_of(rig: Rig, source: Source) -> Line:
    """A source as a plan shows it."""
    mark: Mark = "line"
    row = rig.rows.get(source.id)
    if row and row.plug and _transmits(rig, row.plug):
        mark = "wireless"
    elif source.start is not None and source.start.gear in rig.gear:
        if rig.type_of(source.start.gear).class_ == "receiver":
            mark = "wireless"
    elif source.mic is not None:
        mark = "microphone"
    elif source.di is not None:
        mark = "DI"
    return Line(source, mark, channel_of(rig, source), source.label or source.name)


def begins_in_a_box(rig: Rig, source: Source) -> bool:
    """Whether nothing of it stands on the stage: playback, a click, a line of the house."""
    return (
        source.start is not None
        and source.start.gear in rig.gear
        and rig.type_of(source.start.gear).class_ != "receiver"
    )


def from_house(source: Source) -> bool:
    """Whether the house sends it to us."""
    return source.start is not None and source.start.gear == HOUSE


def players(rig: Rig, edition: Edition = ENGLISH) -> tuple[Player, ...]:
    """The people on stage, in the order of the file."""
    lines: dict[str, list[Line]] = {}
    for source in rig.file.sources:
        on_stage = not begins_in_a_box(rig, source) and not from_house(source)
        if source.player is not None and source.at_m is None and on_stage:
            lines.setdefault(source.player, []).append(line_of(rig, source))
    return tuple(
        Player(person, tuple(lines.get(person.id, ())), hears(rig, person, edition))
        for person in rig.file.people
        if person.on_stage
    )


def hears(rig: Rig, person: Person, edition: Edition) -> str:
    """Through what a person hears, in a few words."""
    plug = person.ears.plug if person.ears else None
    if plug is not None and plug.gear in rig.gear:
        gear = rig.gear[plug.gear]
        name = gear.label or gear.name or gear.id
        number = f" {plug.numbers[0]}" if plug.numbers else ""
        if any(port.carries == "rf" for port in rig.type_of(gear.id).ports):
            return edition.say("stage-plot.ears_radio", box=name)
        return edition.say("stage-plot.ears_lead", box=f"{name}{number}")
    if person.wedge is not None:
        gear_or_none = rig.gear.get(person.wedge.gear)
        name = (gear_or_none.label or gear_or_none.name) if gear_or_none else ""
        if name:
            return edition.say("stage-plot.wedge", box=name)
        return edition.say("stage-plot.wedge_any")
    return ""


def inside_the_case(rig: Rig) -> tuple[Line, ...]:
    """Sources that begin in a box of the case."""
    return tuple(line_of(rig, s) for s in rig.file.sources if begins_in_a_box(rig, s))


def spot_sources(rig: Rig) -> tuple[Line, ...]:
    """Sources that state a place of their own."""
    return tuple(line_of(rig, s) for s in rig.file.sources if s.at_m is not None)


def lost_sources(rig: Rig) -> tuple[Line, ...]:
    """Sources on the stage that belong to nobody and state no place."""
    return tuple(
        line_of(rig, source)
        for source in rig.file.sources
        if source.at_m is None
        and source.player not in rig.people
        and not begins_in_a_box(rig, source)
        and not from_house(source)
    )


def standing_gear(rig: Rig) -> tuple[Gear, ...]:
    """Boxes with a place of their own on the stage."""
    return tuple(
        gear for gear in rig.file.gear if gear.at_m is not None and gear.placed != "with the house"
    )


def wants_mains(rig: Rig, gear: Gear) -> bool:
    """Whether a box on the stage needs an outlet that no strip of the rig gives it."""
    power = rig.file.power
    fed = {feed.gear for feed in power.feeds} if power else set()
    return gear.id not in fed and gear.owner == "band" and needs_mains(rig.types[gear.type])


def mains_words(rig: Rig, venue: Venue | None, edition: Edition) -> str:
    """What the one lead of the case wants from the venue."""
    power = rig.file.power
    volts = venue.volts_v if venue and venue.volts_v else (power.volts_v if power else None)
    parts = [edition.say("stage-plot.mains")]
    if volts is not None:
        parts.append(f"{edition.number(volts)} V")
    if power and power.circuit_a is not None:
        parts.append(f"{edition.number(power.circuit_a)} A")
    if power and power.lead_m is not None:
        parts.append(edition.say("stage-plot.own_lead", length=edition.length(power.lead_m)))
    return ", ".join(parts)


def hand_off_words(
    rig: Rig, graph: Graph, venue: Venue | None, edition: Edition
) -> tuple[str, ...]:
    """What the house gets here, from where, and how far it is."""
    say = edition.say
    if venue is None:
        tails = [lead for lead in rig.file.leads if lead.to.gear == HOUSE and not lead.at_venues]
        if not tails:
            return (say("stage-plot.no_lead"),)
        lengths = sorted({float(lead.length_m) for lead in tails if lead.length_m is not None})
        said = say("stage-plot.tails", n=len(tails))
        if lengths:
            reach = edition.listed(edition.number(edition.lengths(one)) for one in lengths)
            said = say(
                "stage-plot.tails_reach", tails=said, lengths=reach, unit=edition.length_unit
            )
        returns = tuple(source.name for source in rig.file.sources if from_house(source))
        back = (say("stage-plot.they_send", names=", ".join(returns)),) if returns else ()
        return (said, say("stage-plot.side_venue"), *back)
    given = hand_off(rig, graph, venue)
    return tuple(_venue_words(rig, given, venue, edition))


def _venue_words(rig: Rig, given: HandOff, venue: Venue, edition: Edition) -> Iterator[str]:
    say, used = edition.say, len(given.used)
    carriers = dict.fromkeys(line.carrier for line in given.lines)
    match venue.desk.takes:
        case "tails":
            lengths = {
                edition.number(edition.lengths(lead.length_m))
                for lead in rig.file.leads
                if lead.id in carriers and lead.length_m is not None
            }
            said = say("stage-plot.lines_on", n=len(carriers), lines=used)
            if lengths:
                reach = "/".join(sorted(lengths))
                said = say(
                    "stage-plot.lines_on_of", said=said, lengths=reach, unit=edition.length_unit
                )
            yield said
        case "network" | "link":
            yield say("stage-plot.by_network", count=used)
        case "mixed":
            yield say("stage-plot.our_mix", n=used)
        case _:
            yield say("stage-plot.nothing_handed")
            return
    if venue.desk.distance_m is not None:
        far = edition.length(venue.desk.distance_m)
        yield say("stage-plot.house_box", length=far)
    else:
        yield say("stage-plot.house_box_far")
    if given.returns:
        yield say("stage-plot.they_send", names=", ".join(given.returns))
