"""By which means the sound gets to the house: tails, a stream or link, or a mix of ours."""

from collections.abc import Sequence

import msgspec

from rigproof.handoff import HandOff, HouseLine
from rigproof.network.clocks import follows
from rigproof.rig import Lead, Rig, Stream, Venue
from rigproof.showbook import house_split, naming
from rigproof.showbook.edition import Edition
from rigproof.signal import words
from rigproof.wording import ranges
from rigproof.wording.connectors import connector


def handed(rig: Rig, hand: HandOff, edition: Edition) -> list[str]:
    """What the house finds at its box: how many, with which plug, how long, from which side."""
    takes = hand.venue.desk.takes
    if takes == "nothing":
        return [edition.say("hand-off.no_desk")]
    if not hand.lines:
        return [edition.say("hand-off.nothing_yet")]
    if house_split.theirs(hand):
        return [*house_split.handed(hand, edition), places(rig, hand.venue, edition)]
    beside = hand.tails_beside
    main = tuple(line for line in hand.lines if line not in beside)
    apart = msgspec.structs.replace(hand, lines=main)
    streamed = any(line.means == "stream" for line in main)
    said = (_streams if streamed else _tails)(rig, apart, edition) if main else []
    if beside:
        said.append(edition.say("hand-off.tails_beside", n=len(beside), numbers=_numbers(beside)))
        said += _tails(rig, msgspec.structs.replace(hand, lines=beside), edition)
    said.append(places(rig, hand.venue, edition))
    return said


def _numbers(lines: Sequence[HouseLine]) -> str:
    return ranges(line.number for line in lines)


def carriers(rig: Rig, hand: HandOff) -> list[Lead]:
    """The leads in the house's hands, in the order of their lines."""
    leads = {lead.id: lead for lead in rig.file.leads}
    return [leads[c] for c in dict.fromkeys(line.carrier for line in hand.lines) if c in leads]


def _tails(rig: Rig, hand: HandOff, edition: Edition) -> list[str]:
    used = carriers(rig, hand)
    kinds: dict[tuple[str, int, str], list[Lead]] = {}
    for lead in used:
        body = rig.types[lead.type].lead
        end = connector(body.b.connector, edition.language) if body else ""
        length = (
            edition.length(lead.length_m)
            if lead.length_m is not None
            else edition.say("hand-off.unknown_length")
        )
        kinds.setdefault((end, body.b.count if body else 1, length), []).append(lead)
    said = []
    for (end, way, length), same in kinds.items():
        ids = {lead.id for lead in same}
        lines = sum(line.carrier in ids for line in hand.lines)
        key, n = ("hand-off.tails", len(same)) if way > 1 else ("hand-off.single_leads", lines)
        said.append(edition.say(key, lines=lines, end=end, n=n, way=way, length=length))
    labels = [
        f"{lead.label}{f' ({lead.colour})' if lead.colour else ''}" for lead in used if lead.label
    ]
    if labels:
        said.append(edition.say("hand-off.labelled", labels=edition.listed(labels)))
    said.append(_legs(hand, edition))
    return said


def mixed(rig: Rig, hand: HandOff, edition: Edition) -> list[str]:
    """What a house without a desk hears from us."""
    found = []
    for name in dict.fromkeys(line.mix for line in hand.used if line.mix):
        sends = rig.mixes[name].sends
        names = [words.source(rig, send.from_) for send in sends if send.from_ is not None]
        found.append(f"{edition.listed(names)}." if names else "")
    return found


def _legs(hand: HandOff, edition: Edition) -> str:
    tails = [line for line in hand.lines if line.means == "tail"]
    if not tails:
        return edition.say("hand-off.we_mix")
    isolated = [line.number for line in tails if line.isolated]
    if len(isolated) == len(tails):
        return edition.say("hand-off.all_isolated")
    if not isolated:
        return edition.say("hand-off.all_direct")
    return edition.say("hand-off.some_isolated", numbers=ranges(isolated))


def places(rig: Rig, venue: Venue, edition: Edition) -> str:
    """Where our case stands, and where we count on the box of the house."""
    desk = venue.desk
    case = rig.file.case
    at_m = venue.case_at_m or (case.at_m if case is not None else None)  # as a rule, where not told
    stands = naming.stage_side(float(at_m[0]), edition) if at_m else ""
    box = naming.side(desk.side, edition) if desk.side else ""
    far = edition.length(desk.distance_m) if desk.side and desk.distance_m is not None else ""
    keys = {
        (True, True, True): "hand-off.case_and_box_far",
        (True, True, False): "hand-off.case_and_box",
        (True, False, False): "hand-off.case_stands",
        (False, True, True): "hand-off.box_far",
        (False, True, False): "hand-off.box_stands",
    }
    key = keys.get((bool(stands), bool(box), bool(far)))
    return edition.say(key, side=stands, box=box, far=far) if key else ""


def _streams(rig: Rig, hand: HandOff, edition: Edition) -> list[str]:
    desk = hand.venue.desk
    streams = {stream.id: stream for stream in rig.file.streams}
    used = [s for c in dict.fromkeys(li.carrier for li in hand.lines) if (s := streams.get(c))]
    network = desk.takes == "network"
    kind = desk.protocol
    if not kind or kind == "network audio":
        kind = edition.say("hand-off.network_audio" if network else "hand-off.stage_link")
    plug = connector(desk.connector, edition.language) if desk.connector else ""
    key = "hand-off.channels_on" if plug else "hand-off.channels"
    said = [edition.say(key, n=len(hand.used), kind=kind, plug=plug)]
    said += [_stream(rig, stream, edition) for stream in used]
    said += dict.fromkeys(clock for s in used if (clock := _clock(rig, s, edition)))
    said.append(edition.say("hand-off.trim"))
    return said


def _stream(rig: Rig, stream: Stream, edition: Edition) -> str:
    box = rig.gear.get(stream.from_.gear)
    at = ""
    if box is not None and box.address:
        at = f" {edition.say('hand-off.at_address', address=box.address)}"
    late = f", {edition.number(stream.latency_ms, 2)} ms" if stream.latency_ms is not None else ""
    name = words.box(rig, stream.from_.gear, edition.language)
    return edition.say("hand-off.take_from", box=name, at=at, late=late)


def _clock(rig: Rig, stream: Stream, edition: Edition) -> str:
    """The rate of the box that sends, and who leads it on our side."""
    clocks = follows(rig)
    if stream.from_.gear not in clocks:
        return ""
    leader = stream.from_.gear
    seen = {leader}
    while (up := clocks[leader].follows if leader in clocks else None) and up not in seen:
        leader = up
        seen.add(up)
    khz = edition.number(clocks[stream.from_.gear].rate_hz / 1000, 2)
    return edition.say("hand-off.clock", khz=khz, box=words.box(rig, leader, edition.language))
