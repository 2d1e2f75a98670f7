"""By which means the sound gets to the house: tails, a stream or link, or a mix of ours."""

from rigproof.handoff import HandOff
from rigproof.network.clocks import follows
from rigproof.rig import Lead, Rig, Stream, Venue
from rigproof.showbook import house_split, naming
from rigproof.signal import words
from rigproof.wording import counted, listed, ranges
from rigproof.wording.connectors import connector


def handed(rig: Rig, hand: HandOff) -> list[str]:
    """What the house finds at its box: how many, with which plug, how long, from which side."""
    takes = hand.venue.desk.takes
    if takes == "nothing":
        return ["Nothing: this house has no desk for us."]
    if not hand.lines:
        return ["Nothing leads here yet: no line of the rig suits this desk."]
    if house_split.theirs(hand):
        return [*house_split.handed(hand), _places(hand.venue)]
    if hand.lines[0].means == "stream":
        return _streams(rig, hand)
    return _tails(rig, hand)


def _tails(rig: Rig, hand: HandOff) -> list[str]:
    leads = {lead.id: lead for lead in rig.file.leads}
    used = [leads[c] for c in dict.fromkeys(li.carrier for li in hand.lines) if c in leads]
    kinds: dict[str, list[Lead]] = {}
    for lead in used:
        body = rig.types[lead.type].lead
        end = connector(body.b.connector) if body else ""
        length = naming.metres(lead.length_m) if lead.length_m is not None else "unknown length"
        fan = f"{body.b.count}-way" if body and body.b.count > 1 else "single"
        kinds.setdefault(f"{end}|{fan}|{length}", []).append(lead)
    said = []
    for kind, same in kinds.items():
        end, fan, length = kind.split("|")
        ids = {lead.id for lead in same}
        lines = sum(line.carrier in ids for line in hand.lines)
        pieces = (
            counted(lines, "single lead")
            if fan == "single"
            else f"{counted(len(same), 'tail')}, {fan},"
        )
        said.append(f"{lines} × {end} on {pieces} of {length}.")
    labels = [
        f"{lead.label}{f' ({lead.colour})' if lead.colour else ''}" for lead in used if lead.label
    ]
    if labels:
        said.append(f"Labelled {listed(labels)}.")
    said.append(_legs(hand))
    said.append(_places(hand.venue))
    return said


def mixed(rig: Rig, hand: HandOff) -> list[str]:
    """What a house without a desk hears from us."""
    found = []
    for name in dict.fromkeys(line.mix for line in hand.used if line.mix):
        sends = rig.mixes[name].sends
        names = [words.source(rig, send.from_) for send in sends if send.from_ is not None]
        found.append(f"{listed(names)}." if names else "")
    return found


def _legs(hand: HandOff) -> str:
    tails = [line for line in hand.lines if line.means == "tail"]
    if not tails:
        return "We mix: leave tone flat, and set how loud it is in the room."
    isolated = [line.number for line in tails if line.isolated]
    if len(isolated) == len(tails):
        return "All isolated by transformer."
    if not isolated:
        return "All direct: no transformer between your desk and our sources."
    return f"Isolated by transformer: {ranges(isolated)}; the rest direct."


def _places(venue: Venue) -> str:
    parts = []
    if venue.case_at_m is not None:
        parts.append(f"Our case stands {naming.stage_side(float(venue.case_at_m[0]))}")
    desk = venue.desk
    if desk.side is not None:
        case = "it" if parts else "our case"
        metres = naming.metres(desk.distance_m) if desk.distance_m is not None else ""
        far = f", {metres} from {case}" if metres else ""
        wanted = f"your box {desk.side}{far}"
        parts.append(wanted if parts else f"We count on {wanted}")
    return "; ".join(parts) + "." if parts else ""


def _streams(rig: Rig, hand: HandOff) -> list[str]:
    desk = hand.venue.desk
    streams = {stream.id: stream for stream in rig.file.streams}
    used = [s for c in dict.fromkeys(li.carrier for li in hand.lines) if (s := streams.get(c))]
    kind = desk.protocol or ("network audio" if desk.takes == "network" else "stage link")
    plug = f" on one {connector(desk.connector)}" if desk.connector else ""
    said = [f"{counted(len(hand.used), 'channel')} of {kind}{plug}."]
    said += [_stream(rig, stream) for stream in used]
    said += dict.fromkeys(clock for s in used if (clock := _clock(rig, s)))
    said.append("The gain of these channels is ours; set your level with trim.")
    said.append(_places(hand.venue))
    return said


def _stream(rig: Rig, stream: Stream) -> str:
    box = rig.gear.get(stream.from_.gear)
    where = f" at {box.address}" if box is not None and box.address else ""
    late = f", {naming.number(stream.latency_ms)} ms" if stream.latency_ms is not None else ""
    return f"Take them from {words.box(rig, stream.from_.gear)}{where}{late}."


def _clock(rig: Rig, stream: Stream) -> str:
    """The rate of the box that sends, and who leads it on our side."""
    clocks = follows(rig)
    if stream.from_.gear not in clocks:
        return ""
    leader = stream.from_.gear
    seen = {leader}
    while (up := clocks[leader].follows if leader in clocks else None) and up not in seen:
        leader = up
        seen.add(up)
    khz = naming.number(clocks[stream.from_.gear].rate_hz / 1000)
    return f"{khz} kHz; with us {words.box(rig, leader)} leads the clock. Who leads at yours?"
