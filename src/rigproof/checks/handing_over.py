"""Rules about what each house gets: enough lines, long enough, with plugs that fit."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.handoff import HandOff
from rigproof.rig import Lead
from rigproof.rig.connectors import mate, same_family
from rigproof.rig.plan import Stream
from rigproof.rig.ref import HOUSE
from rigproof.wording import counted, listed, noun, ranges
from rigproof.wording.connectors import a_connector
from rigproof.wording.sentences import sentence


def too_few_lines(view: View) -> Iterator[Finding]:
    """A house has fewer free lines than the band hands over.

    Why: found at load-in it costs the sound check, and whoever shouts loudest decides what goes.
    Fix: agree the drop order with the band now, and send the house the page that shows it.
    Source: common practice, no source.

    Fails:
        sources: [{id: kick, name: Kick, family: drums, drop: 1}, {id: voice, name: Voice, family: voices}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: kick, plug: split.in.1}, {source: voice, plug: split.in.2}]
        leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}]
        venues: [{id: bar, name: The bar, desk: {takes: tails, lines_free: 1}}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums, drop: 1}, {id: voice, name: Voice, family: voices}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: kick, plug: split.in.1}, {source: voice, plug: split.in.2}]
        leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}]
        venues: [{id: bar, name: The bar, desk: {takes: tails, lines_free: 2}}]
    """  # noqa: E501 (an example row reads better whole)
    for hand in view.hand_offs:
        if hand.dropped:
            gone = listed(dict.fromkeys(line.source.name for line in hand.dropped if line.source))
            yield Finding(
                at=hand.venue.desk.where.of("lines_free"),
                says=sentence(
                    "{venue} has {free_lines} and the band brings {needed}: {gone} would go.",
                    venue=hand.venue.name,
                    free_lines=counted(hand.free or 0, "free line"),
                    needed=hand.needed,
                    gone=gone,
                ),
                found=hand.needed,
                limit=hand.free,
                unit=noun(hand.needed, "line"),
            )


def lines_not_known(view: View) -> Iterator[Finding]:
    """Nobody has asked how many lines a house has free.

    Why: a snake of 24 is often 18 once drive lines, lights and the other act took theirs.
    Fix: ask, and write the answer as lines_free under the venue's desk.
    Source: common practice, no source.

    Fails:
        sources: [{id: voice, name: Voice, family: voices}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: voice, plug: split.in.2}]
        leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}]
        venues: [{id: bar, name: The bar, desk: {takes: tails}}]
    Passes:
        venues: [{id: bar, name: The bar, desk: {takes: nothing}}]
    """
    for hand in view.hand_offs:
        if hand.free is None and hand.venue.desk.takes != "nothing" and hand.used:
            yield Finding(
                at=hand.venue.desk.where,
                says=sentence(
                    "{venue} must take {lines}, and how many it has free is not known.",
                    venue=hand.venue.name,
                    lines=counted(hand.needed, "line"),
                ),
                severity="unknown",
            )


def nothing_to_hand_over(view: View) -> Iterator[Finding]:
    """A house is to get signals and nothing leads there.

    Why: the desk stays silent; the rack was planned for another kind of house.
    Fix: lay tails, a stream or a house mix to the house, or change what the venue's desk takes.
    Source: common practice, no source.

    Fails:
        sources: [{id: voice, name: Voice, family: voices}]
        venues: [{id: bar, name: The bar, desk: {takes: tails, lines_free: 24}}]
    Passes:
        sources: [{id: voice, name: Voice, family: voices}]
        venues: [{id: bar, name: The bar, desk: {takes: nothing}}]
    """
    ways = {
        "tails": sentence("tails"),
        "link": sentence("a digital link"),
        "network": sentence("a network stream"),
        "mixed": sentence("a mix of yours"),
    }
    for hand in view.hand_offs:
        takes = hand.venue.desk.takes
        beside = {line.number for line in hand.tails_beside}
        if (
            takes not in ways
            or not view.rig.sources
            or any(line.number not in beside for line in hand.used)
        ):
            continue
        at, says = (
            hand.venue.desk.where.of("takes"),
            sentence("{venue} takes {way}, and ", venue=hand.venue.name, way=ways[takes]),
        )
        carriers = listed(sorted({line.carrier for line in hand.lines if line.carrier}))
        if carriers:
            yield Finding(
                at=at,
                says=sentence(
                    "{says}{carriers} leads there with no source on it.",
                    says=says,
                    carriers=carriers,
                ),
                fix=sentence(
                    "Bring sources to where {carriers} begins: a lead, or routes inside the box.",
                    carriers=carriers,
                ),
            )
        else:
            yield Finding(at=at, says=sentence("{says}nothing of the kind is laid.", says=says))


def tail_beside_not_laid(view: View) -> Iterator[Finding]:
    """A house is to take a tail beside its other way, and no tail has that number.

    Why: the line that was to come by copper is counted on, and nobody brings it.
    Fix: name ends of tails that are laid there, or lay one.
    Source: common practice, no source.

    Fails:
        sources: [{id: voice, name: Voice, family: voices}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: voice, plug: split.in.1}]
        leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}]
        venues: [{id: bar, name: The bar, desk: {takes: network, also_tails: [9]}}]
    Passes:
        sources: [{id: voice, name: Voice, family: voices}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: voice, plug: split.in.1}]
        leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}]
        venues: [{id: bar, name: The bar, desk: {takes: network, also_tails: [1]}}]
    """
    for hand in view.hand_offs:
        desk = hand.venue.desk
        laid = {line.number for line in hand.tails_beside}
        wanted = {number for numbers in desk.also_tails for number in numbers}
        if desk.takes != "tails" and wanted - laid:
            yield Finding(
                at=desk.where.of("also_tails"),
                says=sentence(
                    "{venue} is to take {ranges} by tail as well, and no tail of these "
                    "numbers is laid there.",
                    venue=hand.venue.name,
                    ranges=ranges(wanted - laid),
                ),
            )


def plug_does_not_fit_house(view: View) -> Iterator[Finding]:
    """The ends of the tails do not go into the house's box.

    Why: twenty turn-rounds are wanted at once, and nobody has them.
    Fix: order tails with the other end, or pack turn-rounds for this venue.
    Source: connector and gender as printed on the hand-over page; common practice, no source.

    Fails:
        sources: [{id: voice, name: Voice, family: voices}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: voice, plug: split.in.2}]
        leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}]
        venues: [{id: bar, name: The bar, desk: {takes: tails, lines_free: 8, connector: xlr-m}}]
    Passes:
        sources: [{id: voice, name: Voice, family: voices}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: voice, plug: split.in.2}]
        leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}]
        venues: [{id: bar, name: The bar, desk: {takes: tails, lines_free: 8, connector: xlr-f}}]
    """
    leads = {lead.id: lead for lead in view.rig.file.leads}
    for hand in view.hand_offs:
        socket = hand.venue.desk.connector
        if socket is None or hand.venue.desk.takes not in {"tails", "mixed"}:
            continue
        for lead, numbers in _tails(hand, leads):
            body = view.rig.types[lead.type].lead
            if body is None or mate(body.b.connector, socket).fits:
                continue
            turn = (
                sentence(" A turn-round each would do.")
                if same_family(body.b.connector, socket)
                else ""
            )
            yield Finding(
                at=lead.where,
                says=sentence(
                    "Lines {ranges} end in {plug}, and the box of {venue} has {plug2}.{turn}",
                    ranges=ranges(numbers),
                    plug=a_connector(body.b.connector),
                    venue=hand.venue.name,
                    plug2=a_connector(socket),
                    turn=turn,
                ),
            )


def tail_too_short(view: View) -> Iterator[Finding]:
    """A tail does not reach the house's box.

    Why: the box is on the other side of the stage, and the way round the riser is longer still.
    Fix: longer tails, an extension multicore, or ask for the box on your side.
    Source: common practice, no source.

    Fails:
        sources: [{id: voice, name: Voice, family: voices}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: voice, plug: split.in.2}]
        leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8, length_m: 5}]
        venues: [{id: bar, name: The bar, desk: {takes: tails, lines_free: 8, distance_m: 8}}]
    Passes:
        sources: [{id: voice, name: Voice, family: voices}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: voice, plug: split.in.2}]
        leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8, length_m: 10}]
        venues: [{id: bar, name: The bar, desk: {takes: tails, lines_free: 8, distance_m: 8}}]
    """
    leads = {lead.id: lead for lead in view.rig.file.leads}
    for hand in view.hand_offs:
        distance_m = hand.venue.desk.distance_m
        if distance_m is None:
            continue
        for lead, numbers in _tails(hand, leads):
            if lead.length_m is not None and lead.length_m < distance_m:
                yield Finding(
                    at=lead.where.of("length_m"),
                    says=sentence(
                        "Lines {ranges} are {length_m:g} m long, and the box of {venue} is "
                        "{distance_m:g} m away along the floor.",
                        ranges=ranges(numbers),
                        length_m=lead.length_m,
                        venue=hand.venue.name,
                        distance_m=distance_m,
                    ),
                    found=lead.length_m,
                    limit=distance_m,
                    unit="m",
                )


def house_line_used_twice(view: View) -> Iterator[Finding]:
    """Two leads or streams end in one line of the house.

    Why: one of them will be plugged elsewhere, and nobody knows which.
    Fix: give each its own number; what is only laid at one venue says so with at_venues.
    Source: common practice, no source.

    Fails:
        gear: [{id: split, type: splitter-transformer-8}]
        leads:
          - {id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}
          - {id: extra, type: lead-xlr, from: split.direct.1, to: house.8}
    Passes:
        gear: [{id: split, type: splitter-transformer-8}]
        leads:
          - {id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}
          - {id: extra, type: lead-xlr, from: split.direct.1, to: house.9}
    """
    first: dict[int, Lead | Stream] = {}
    carriers: list[Lead | Stream] = [*view.rig.file.leads, *view.rig.file.streams]
    for carrier in carriers:
        if carrier.to.gear != HOUSE or carrier.to.numbers is None:
            continue
        low, high = carrier.to.numbers
        clash = [n for n in range(low, high + 1) if n in first and _both_laid(first[n], carrier)]
        if clash:
            other = first[clash[0]]
            called = (
                sentence("lead {label}", label=other.label or other.id)
                if isinstance(other, Lead)
                else _stream(other)
            )
            yield Finding(
                at=carrier.where.of("to"),
                says=sentence(
                    "House line {ranges} has the {called} on it already.",
                    ranges=ranges(clash),
                    called=called,
                ),
            )
        for number in range(low, high + 1):
            first.setdefault(number, carrier)


def _stream(stream: Stream) -> str:
    return sentence("stream {stream}", stream=stream.name or stream.id)


def _both_laid(one: Lead | Stream, other: Lead | Stream) -> bool:
    # A stream is there whenever the network is.
    if isinstance(one, Stream) or isinstance(other, Stream):
        return True
    if not one.at_venues or not other.at_venues:
        return True
    return bool(set(one.at_venues) & set(other.at_venues))


def house_speaks_another_protocol(view: View) -> Iterator[Finding]:
    """The band's network port and the house's desk speak different protocols.

    Why: both plugs fit and nothing is heard.
    Fix: ask the house for an input of your protocol, carry a card or converter, or hand over tails.
    Source: common practice, no source.

    Fails:
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}]
        gear: [{id: box, type: stage-box-16x8-network}]
        patch: [{source: voice, plug: box.in.1}]
        streams: [{id: out, from: box.net.tx.1-16, to: house.1-16}]
        venues: [{id: bar, name: The bar, desk: {takes: network, lines_free: 16, protocol: other}}]
    Passes:
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}]
        gear: [{id: box, type: stage-box-16x8-network}]
        patch: [{source: voice, plug: box.in.1}]
        streams: [{id: out, from: box.net.tx.1-16, to: house.1-16}]
        venues: [{id: bar, name: The bar, desk: {takes: network, lines_free: 16}}]
    """
    for hand in view.hand_offs:
        wanted = hand.venue.desk.protocol
        if hand.venue.desk.takes != "network" or not wanted:
            continue
        for stream in view.rig.file.streams:
            if stream.to.gear != HOUSE:
                continue
            port = view.rig.type_of(stream.from_.gear).banks[stream.from_.bank]
            speaks = getattr(port, "protocol", "")
            if speaks and speaks != wanted:
                yield Finding(
                    at=hand.venue.desk.where.of("protocol"),
                    says=sentence(
                        "{venue} takes {wanted}, and {stream} speaks {speaks}.",
                        venue=hand.venue.name,
                        wanted=sentence(wanted),
                        stream=stream.name or stream.id,
                        speaks=sentence(speaks),
                    ),
                )


def foreign_order_leaves_sources_out(view: View) -> Iterator[Finding]:
    """A house's own line order does not name every source it gets.

    Why: what is not in the order lands at its end, where nobody looks for it.
    Fix: add the missing names to the order under the venue's desk, or leave the order out.
    Source: common practice, no source.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}, {id: voice, name: Voice, family: voices}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: kick, plug: split.in.1}, {source: voice, plug: split.in.2}]
        leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}]
        venues: [{id: bar, name: Bar, desk: {takes: tails, lines_free: 8, order: [voice]}}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums}, {id: voice, name: Voice, family: voices}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: kick, plug: split.in.1}, {source: voice, plug: split.in.2}]
        leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}]
        venues: [{id: bar, name: Bar, desk: {takes: tails, lines_free: 8, order: [voice, kick]}}]
    """
    for hand in view.hand_offs:
        order = set(hand.venue.desk.order)
        if not order:
            continue
        out = [
            line.source.name for line in hand.used if line.source and line.source.id not in order
        ]
        if out:
            yield Finding(
                at=hand.venue.desk.where.of("order"),
                says=sentence(
                    "The order of {venue} leaves out {names}.",
                    venue=hand.venue.name,
                    names=listed(dict.fromkeys(out)),
                ),
            )


def _tails(hand: HandOff, leads: dict[str, Lead]) -> Iterator[tuple[Lead, list[int]]]:
    """The leads that carry what the house plugs, with the numbers it plugs."""
    numbers: dict[str, list[int]] = {}
    for line in hand.used:
        if line.carrier in leads:
            numbers.setdefault(line.carrier, []).append(line.number)
    for name, found in numbers.items():
        yield leads[name], found


RULES = (
    Rule(id="handoff.too-few-lines", severity="risk", check=too_few_lines, since="0.1"),
    Rule(id="handoff.lines-not-known", severity="unknown", check=lines_not_known, since="0.1"),
    Rule(id="handoff.nothing-laid", severity="stop", check=nothing_to_hand_over, since="0.1"),
    Rule(
        id="handoff.tail-beside-not-laid",
        severity="risk",
        check=tail_beside_not_laid,
        since="0.1",
    ),
    Rule(id="handoff.wrong-plug", severity="risk", check=plug_does_not_fit_house, since="0.1"),
    Rule(id="handoff.tail-too-short", severity="stop", check=tail_too_short, since="0.1"),
    Rule(id="handoff.line-used-twice", severity="stop", check=house_line_used_twice, since="0.1"),
    Rule(
        id="handoff.other-protocol",
        severity="stop",
        check=house_speaks_another_protocol,
        since="0.1",
    ),
    Rule(
        id="handoff.order-incomplete",
        severity="advice",
        check=foreign_order_leaves_sources_out,
        since="0.1",
    ),
)
