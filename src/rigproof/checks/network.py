"""Rules about network leads, switches, addresses and power over them."""

from collections import Counter
from collections.abc import Iterator, Mapping

from rigproof.checks.rule import Finding, Rule, View
from rigproof.network import Cabling, Link, addressed, passed, stream_ways
from rigproof.network.addresses import COMMON_RANGES
from rigproof.network.cabling import COPPER_LONGEST_M
from rigproof.rig import Gear
from rigproof.rig.ref import HOUSE
from rigproof.signal.words import box, kind_of, place
from rigproof.wording import listed, some
from rigproof.wording.sentences import sentence

# What a class of twisted pair carries over 100 m: ANSI/TIA-568, IEEE 802.3, from memory.
_CLASS_MBPS = {
    "3": 10, "5": 100, "5e": 1_000, "6": 1_000, "6a": 10_000, "7": 10_000, "8": 40_000,
}  # fmt: skip
SIX_LONGEST_M = 55.0  # up to here cat 6 carries 10 000 Mb/s


def stream_without_way(view: View) -> Iterator[Finding]:
    """A stream between two boxes that no network lead joins.

    Why: the routing on the screen looks right and nothing arrives.
    Fix: lay network leads from both boxes to one switch, or from one to the other.
    Source: common practice, no source.

    Fails:
        gear:
          - {id: card, type: card-network-audio-32}
          - {id: recorder, type: recorder-32}
        streams: [{id: rec, from: card.net.tx.1-8, to: recorder.net.rx.1-8}]
    Passes:
        gear:
          - {id: card, type: card-network-audio-32}
          - {id: recorder, type: recorder-32}
          - {id: switch, type: switch-8-managed}
        leads:
          - {id: one, type: lead-network-locking, from: card.net, to: switch.port.1}
          - {id: two, type: lead-network-locking, from: recorder.net, to: switch.port.2}
        streams: [{id: rec, from: card.net.tx.1-8, to: recorder.net.rx.1-8}]
    """
    ways = stream_ways(view.rig, view.cables)
    for stream in view.rig.file.streams:
        if ways.get(stream.id) == ():
            start, end = stream.from_.gear, stream.to.gear
            yield Finding(
                at=stream.where,
                says=sentence(
                    "The stream {stream} runs from {box} to {box2}, and no network leads "
                    "join them.",
                    stream=stream.name or stream.id,
                    box=box(view.rig, start),
                    box2=box(view.rig, end),
                ),
            )


def two_ways_share(view: View) -> Iterator[Finding]:
    """The two ways of a redundant stream pass the same box or lead.

    Why: what was bought and laid twice still falls silent at once.
    Fix: a switch of its own for each of the two networks, and leads of their own.
    Source: common practice, no source: two networks with nothing in common.

    Fails:
        gear:
          - {id: card, type: card-network-audio-32}
          - {id: box, type: stage-box-16x8-network}
          - {id: switch, type: switch-8-managed}
        leads:
          - {id: one, type: lead-network-locking-plain, from: card.net, to: switch.port.1}
          - {id: two, type: lead-network-locking-plain, from: card.net-second, to: switch.port.2}
          - {id: three, type: lead-network-locking-plain, from: box.net, to: switch.port.3}
          - {id: four, type: lead-network-locking-plain, from: box.net-second, to: switch.port.4}
        streams: [{id: stage, from: box.net.tx.1-16, to: card.net.rx.1-16}]
    Passes:
        gear:
          - {id: card, type: card-network-audio-32}
          - {id: box, type: stage-box-16x8-network}
          - {id: switch, type: switch-8-managed}
          - {id: other, type: switch-8-managed}
        leads:
          - {id: one, type: lead-network-locking-plain, from: card.net, to: switch.port.1}
          - {id: two, type: lead-network-locking-plain, from: card.net-second, to: other.port.1}
          - {id: three, type: lead-network-locking-plain, from: box.net, to: switch.port.3}
          - {id: four, type: lead-network-locking-plain, from: box.net-second, to: other.port.2}
        streams: [{id: stage, from: box.net.tx.1-16, to: card.net.rx.1-16}]
    """
    ways = stream_ways(view.rig, view.cables)
    told: set[frozenset[str]] = set()
    for stream in view.rig.file.streams:
        found = ways.get(stream.id, ())
        ends = {stream.from_.gear, stream.to.gear}
        shared = frozenset.intersection(*(passed(way, ends) for way in found)) if found else None
        if len(found) > 1 and shared and shared not in told:
            told.add(shared)
            yield Finding(
                at=stream.where,
                says=sentence(
                    "Both ways of the stream {stream} pass {names}.",
                    stream=stream.name or stream.id,
                    names=listed(box(view.rig, name) for name in sorted(shared)),
                ),
            )


def protocols_differ(view: View) -> Iterator[Finding]:
    """The two ends of a link speak different protocols.

    Why: the plugs fit and the lamps may even light up, but no sound passes.
    Fix: use a socket of the same protocol at both ends, or a box that translates.
    Source: common practice, no source.

    Fails:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: pm, type: personal-mixer-16}
        leads: [{id: feed, type: lead-network-locking, from: mixer.link, to: pm.feed}]
    Passes:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: hub, type: hub-16}
        leads: [{id: feed, type: lead-network-locking, from: mixer.feed, to: hub.feed}]
    """
    for link in view.cables.links:
        one, other = link.start.port, link.end.port
        if one is None or other is None or not one.protocol or not other.protocol:
            continue
        if one.protocol != other.protocol:
            yield Finding(
                at=link.lead.where,
                says=sentence(
                    "{place} speaks {protocol}, {place2} speaks {protocol2}.",
                    place=place(view.rig, link.start.key),
                    protocol=sentence(one.protocol),
                    place2=place(view.rig, link.end.key),
                    protocol2=sentence(other.protocol),
                ),
            )


def lead_too_long(view: View) -> Iterator[Finding]:
    """A lead is longer than its kind may be.

    Why: it works in the rehearsal room and drops out on the cold, wet or long night.
    Fix: shorten the way, or take a kind that reaches further, such as fibre.
    Source: ISO/IEC 11801 and ANSI/TIA-568 (100 m for copper network leads, plugs to plugs);
        otherwise the figure of the lead's type.

    Fails:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: box, type: stage-box-16x8}
        leads:
          - {id: l, type: lead-network-locking, from: box.link, to: mixer.link, length_m: 120}
    Passes:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: box, type: stage-box-16x8}
        leads:
          - {id: l, type: lead-network-locking, from: box.link, to: mixer.link, length_m: 60}
    """
    for lead in view.rig.file.leads:
        type_ = view.rig.types[lead.type]
        if lead.length_m is None or type_.lead is None:
            continue
        limit = type_.lead.longest_m
        if limit is None and type_.lead.conductors == "pair":
            limit_m = COPPER_LONGEST_M
        elif limit is None:
            continue
        else:
            limit_m = float(limit)
        if lead.length_m > limit_m:
            yield Finding(
                at=lead.where.of("length_m"),
                says=sentence(
                    "The lead {label} ({type}) is {length_m:g} m long; its kind goes to "
                    "{limit_m:g} m.",
                    label=lead.label or lead.id,
                    type=kind_of(view.rig, lead.type),
                    length_m=lead.length_m,
                    limit_m=limit_m,
                ),
                found=float(lead.length_m),
                limit=limit_m,
                unit="m",
            )


def _audio_switches(view: View) -> Iterator[tuple[Gear, tuple[Link, ...], Cabling]]:
    """The switches and routers that boxes with network audio are plugged in."""
    cables = view.cables
    for gear in view.rig.file.gear:
        if view.rig.types[gear.type].class_ in {"switch", "router"}:
            links = cables.audio_through(gear.id)
            if links:
                yield gear, links, cables


def lead_class(view: View) -> Iterator[Finding]:
    """A network lead is of a class that its sockets are too fast for.

    Why: the link comes up slower than it is counted with, or drops packets when the lead is long,
        coiled or warm; nobody sees it until the ears click.
    Fix: take a lead of the class that is named, or a better one.
    Source: ANSI/TIA-568 and IEEE 802.3, from memory: cat 5 for 100 Mb/s, 5e for 1000, 6a for
        10 000 (6 up to 55 m).

    Fails:
        gear:
          - {id: one, name: Switch, type: switch-8-managed}
          - {id: two, name: Other switch, type: switch-8-managed}
        leads: [{id: l, type: lead-network-old, from: one.port.1, to: two.port.1, length_m: 20}]
    Passes:
        gear:
          - {id: one, name: Switch, type: switch-8-managed}
          - {id: two, name: Other switch, type: switch-8-managed}
        leads: [{id: l, type: lead-network-plain, from: one.port.1, to: two.port.1, length_m: 20}]
    """
    for link in view.cables.links:
        body = view.rig.types[link.lead.type].lead
        speeds = [
            end.port.speed_mbps
            for end in (link.start, link.end)
            if end.port is not None and end.port.speed_mbps is not None
        ]
        if body is None or body.category is None or not speeds:
            continue
        carries_mbps = _CLASS_MBPS[body.category]
        if body.category == "6" and (link.lead.length_m or 0) <= SIX_LONGEST_M:
            carries_mbps = _CLASS_MBPS["6a"]
        if min(speeds) > carries_mbps:
            enough = next((c for c, mbps in _CLASS_MBPS.items() if mbps >= min(speeds)), None)
            yield Finding(
                at=link.lead.where,
                says=sentence(
                    "The lead {label} is cat {category}, made for {carries_mbps} Mb/s; its sockets "
                    "run at {speed_mbps}.",
                    label=link.lead.label or link.lead.id,
                    category=body.category,
                    carries_mbps=carries_mbps,
                    speed_mbps=min(speeds),
                ),
                fix=sentence("Take a lead of cat {category} or better.", category=enough)
                if enough is not None
                else sentence("No twisted pair carries that: join them by fibre."),
                found=carries_mbps,
                limit=min(speeds),
                unit="Mb/s",
            )


def energy_saving(view: View) -> Iterator[Finding]:
    """A switch with energy saving that cannot be turned off carries network audio.

    Why: a sleeping socket wakes too late for the clock; it jitters and boxes drop out.
    Fix: take a switch without it, or one where it can be turned off, and turn it off.
    Source: IEEE 802.3az (waking takes up to 30 us at 100 Mb/s, a quarter of a 125 us packet).

    Fails:
        gear:
          - {id: card, type: card-network-audio-32}
          - {id: switch, type: switch-5-saving}
        leads: [{id: net, type: lead-network-locking-plain, from: card.net, to: switch.port.1}]
    Passes:
        gear:
          - {id: card, type: card-network-audio-32}
          - {id: switch, type: switch-8-managed}
        leads: [{id: net, type: lead-network-locking-plain, from: card.net, to: switch.port.1}]
    """
    for gear, links, cables in _audio_switches(view):
        if view.rig.types[gear.type].energy_saving == "on":
            users = (cables.beyond(link, gear.id).gear for link in links)
            yield Finding(
                at=gear.where,
                says=sentence(
                    "{box} saves energy and cannot be told not to; network audio of {names} "
                    "runs through it.",
                    box=box(view.rig, gear.id),
                    names=some(box(view.rig, user) for user in users),
                ),
            )


def no_multicast_filter(view: View) -> Iterator[Finding]:
    """Network audio shares a switch without multicast filtering with other boxes.

    Why: every stream floods every socket; slow ones, and a Wi-Fi access point, drown in it.
    Fix: take a switch that filters (IGMP snooping, with a querier), or give audio its own switch.
    Source: RFC 4541 (without snooping, multicast goes to all ports).

    Fails:
        gear:
          - {id: card, type: card-network-audio-32}
          - {id: switch, type: switch-8-plain}
          - {id: wifi, type: access-point}
        leads:
          - {id: net, type: lead-network-locking-plain, from: card.net, to: switch.port.1}
          - {id: air, type: lead-network-plain, from: wifi.port, to: switch.port.2}
    Passes:
        gear:
          - {id: card, type: card-network-audio-32}
          - {id: switch, type: switch-8-managed}
          - {id: wifi, type: access-point}
        leads:
          - {id: net, type: lead-network-locking-plain, from: card.net, to: switch.port.1}
          - {id: air, type: lead-network-plain, from: wifi.port, to: switch.port.2}
    """
    for gear, links, cables in _audio_switches(view):
        type_ = view.rig.types[gear.type]
        others = _others(cables, gear.id, links)
        if type_.igmp or not others:
            continue
        names = some(box(view.rig, name) for name in others)
        if type_.igmp is None and type_.class_ == "switch":
            yield Finding(
                at=gear.where,
                severity="unknown",
                says=sentence(
                    "Nothing says whether {box} filters multicast; {names} would get every stream.",
                    box=box(view.rig, gear.id),
                    names=names,
                ),
                fix=sentence("State igmp in its gear type, from the data sheet."),
            )
        else:
            yield Finding(
                at=gear.where,
                says=sentence(
                    "{box} does not filter multicast and sends every stream of network audio to "
                    "{names} too.",
                    box=box(view.rig, gear.id),
                    names=names,
                ),
            )


def _others(cables: Cabling, switch: str, links: tuple[Link, ...]) -> list[str]:
    """What else is plugged in a switch that carries network audio."""
    return [
        cables.beyond(link, switch).gear
        for link in cables.at[switch]
        if link not in links and cables.beyond(link, switch).gear != HOUSE
    ]


def control_on_audio(view: View) -> Iterator[Finding]:
    """Control and network audio share a switch.

    Why: one phone that updates itself, or one loop, and both the sound and the way to repair it
        are gone.
    Fix: give control its own switch or router; join them only where a box needs both.
    Source: common practice, no source.

    Fails:
        gear:
          - {id: card, type: card-network-audio-32}
          - {id: switch, type: switch-8-managed}
          - {id: wifi, type: access-point}
        leads:
          - {id: net, type: lead-network-locking-plain, from: card.net, to: switch.port.1}
          - {id: air, type: lead-network-plain, from: wifi.port, to: switch.port.2}
        control: {band: 5 GHz, access_point: wifi, wired_fallback: true}
    Passes:
        gear:
          - {id: mixer, type: mixer-rack-24}
          - {id: router, type: router-wifi}
        leads: [{id: ctl, type: lead-network-plain, from: mixer.control, to: router.port.1}]
        control: {band: 5 GHz, access_point: router, wired_fallback: true}
    """
    for gear, links, cables in _audio_switches(view):
        sharing = [
            name
            for name in _others(cables, gear.id, links)
            if view.rig.type_of(name).class_ in {"access-point", "router"}
            or any(
                "control" in link.carries
                for link in cables.at[gear.id]
                if cables.beyond(link, gear.id).gear == name
            )
        ]
        if view.rig.types[gear.type].class_ == "router":
            sharing.insert(0, gear.id)
        if sharing:
            yield Finding(
                at=gear.where,
                says=sentence(
                    "{box} carries network audio and control together ({names}).",
                    box=box(view.rig, gear.id),
                    names=some(box(view.rig, name) for name in sharing),
                ),
            )


def no_poe(view: View) -> Iterator[Finding]:
    """A box that lives on power from its network lead gets none.

    Why: the box stays dark, and the socket for another supply does not exist.
    Fix: plug it in a socket with PoE (see poe_watts of the type), or put an injector between.
    Source: IEEE 802.3af, at, bt.

    Fails:
        gear:
          - {id: wifi, type: access-point-poe}
          - {id: switch, type: switch-8-plain}
        leads: [{id: net, type: lead-network-plain, from: wifi.port, to: switch.port.1}]
    Passes:
        gear:
          - {id: wifi, type: access-point-poe}
          - {id: switch, type: switch-8-poe}
        leads: [{id: net, type: lead-network-plain, from: wifi.port, to: switch.port.1}]
    """
    cables = view.cables
    for gear in view.rig.file.gear:
        power = view.rig.types[gear.type].power
        if power is None or power.by != "poe":
            continue
        far = [cables.beyond(link, gear.id) for link in cables.at.get(gear.id, ())]
        if not any(socket.port is not None and socket.port.poe_watts for socket in far):
            where = (
                sentence("; {place} gives none", place=place(view.rig, far[0].key))
                if far
                else sentence(" and is not plugged")
            )
            yield Finding(
                at=gear.where,
                says=sentence(
                    "{box} takes its power from the network lead{where}.",
                    box=box(view.rig, gear.id),
                    where=where,
                ),
            )


def doubled_address(view: View) -> Iterator[Finding]:
    """Two boxes have the same address.

    Why: whichever answers first is found; the other one disappears, and they take turns.
    Fix: give each box its own last number.
    Source: RFC 5227 (address conflicts).

    Fails:
        gear:
          - {id: mixer, type: mixer-rack-24, address: 10.47.3.10}
          - {id: rx, type: receiver-mic-dual, address: 10.47.3.10}
    Passes:
        gear:
          - {id: mixer, type: mixer-rack-24, address: 10.47.3.10}
          - {id: rx, type: receiver-mic-dual, address: 10.47.3.11}
    """
    seen: dict[str, str] = {}
    for found in addressed(view.rig):
        first = seen.setdefault(found.address, found.gear.id)
        if first != found.gear.id:
            yield Finding(
                at=found.gear.where.of("address"),
                says=sentence(
                    "{box} and {box2} both have the address {address}.",
                    box=box(view.rig, first),
                    box2=box(view.rig, found.gear.id),
                    address=found.address,
                ),
            )


def other_subnet(view: View) -> Iterator[Finding]:
    """Boxes on one network have addresses that cannot reach each other.

    Why: the tablet does not find the box, with every cable right.
    Fix: make the first numbers of all addresses alike, as far as the netmask says 255.
    Source: RFC 950 (subnets).

    Fails:
        gear:
          - {id: mixer, type: mixer-rack-24, address: 10.47.3.10}
          - {id: rx, type: receiver-mic-dual, address: 10.47.4.11}
          - {id: router, type: router-wifi, address: 10.47.3.1}
        leads:
          - {id: one, type: lead-network-plain, from: mixer.control, to: router.port.1}
          - {id: two, type: lead-network-plain, from: rx.control, to: router.port.2}
    Passes:
        gear:
          - {id: mixer, type: mixer-rack-24, address: 10.47.3.10}
          - {id: rx, type: receiver-mic-dual, address: 10.47.3.11}
          - {id: router, type: router-wifi, address: 10.47.3.1}
        leads:
          - {id: one, type: lead-network-plain, from: mixer.control, to: router.port.1}
          - {id: two, type: lead-network-plain, from: rx.control, to: router.port.2}
    """
    part = _joined(view.cables)
    groups: dict[str, list[int]] = {}
    boxes = addressed(view.rig)
    for number, found in enumerate(boxes):
        groups.setdefault(part.get(found.gear.id, found.gear.id), []).append(number)
    for numbers in groups.values():
        usual = Counter(boxes[n].subnet for n in numbers).most_common(1)[0][0]
        inside = next(boxes[n] for n in numbers if boxes[n].subnet == usual)
        for n in numbers:
            odd = boxes[n]
            if odd.subnet != usual:
                yield Finding(
                    at=odd.gear.where.of("address"),
                    says=sentence(
                        "{box} ({address}) is on another subnet than {box2} ({address2}), on the "
                        "same network.",
                        box=box(view.rig, odd.gear.id),
                        address=odd.address,
                        box2=box(view.rig, inside.gear.id),
                        address2=inside.address,
                    ),
                )


def _joined(cables: Cabling) -> Mapping[str, str]:
    """Box -> a name for everything that packets reach from it."""
    part: dict[str, str] = {}
    for start in cables.at:
        if start in part or start == HOUSE:
            continue
        part[start] = start
        queue = [start]
        while queue:
            here = queue.pop()
            for link in cables.at.get(here, ()):
                far = cables.beyond(link, here).gear
                if link.carries & {"network", "control"} and far not in part and far != HOUSE:
                    part[far] = start
                    queue.append(far)
    return part


def common_range(view: View) -> Iterator[Finding]:
    """The rig uses the address range that half the world uses.

    Why: plugged into a house network that starts there too, two boxes share an address and the
        control is gone; a phone on two networks does not know which one to ask.
    Fix: take a rare private range, such as 10.47.3.x, and never plug the rack in the house's LAN.
    Source: RFC 1918 for the private ranges; which are common is common practice, no source.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24, address: 192.168.1.20}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24, address: 10.47.3.20}]
    """
    for start in COMMON_RANGES:
        found = [a for a in addressed(view.rig) if a.address.startswith(start)]
        if found:
            names = some(box(view.rig, a.gear.id) for a in found)
            yield Finding(
                at=found[0].gear.where.of("address"),
                says=sentence(
                    "{names}: addresses {start}x are what most routers come with.",
                    names=names,
                    start=start,
                ),
            )


RULES = (
    Rule(id="network.stream-without-way", severity="stop", check=stream_without_way, since="0.1"),
    Rule(id="network.two-ways-share", severity="risk", check=two_ways_share, since="0.1"),
    Rule(id="network.protocols-differ", severity="stop", check=protocols_differ, since="0.1"),
    Rule(id="network.lead-too-long", severity="risk", check=lead_too_long, since="0.1"),
    Rule(id="network.lead-class", severity="risk", check=lead_class, since="0.1"),
    Rule(id="network.energy-saving-switch", severity="risk", check=energy_saving, since="0.1"),
    Rule(
        id="network.multicast-without-filter",
        severity="risk",
        check=no_multicast_filter,
        since="0.1",
    ),
    Rule(id="network.control-on-audio", severity="advice", check=control_on_audio, since="0.1"),
    Rule(id="network.poe-missing", severity="stop", check=no_poe, since="0.1"),
    Rule(id="address.doubled", severity="stop", check=doubled_address, since="0.1"),
    Rule(id="address.other-subnet", severity="stop", check=other_subnet, since="0.1"),
    Rule(id="address.common-range", severity="advice", check=common_range, since="0.1"),
)
