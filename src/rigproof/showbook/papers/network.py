"""The network card for the lid: what somebody needs who must fix it, on one page."""

from collections.abc import Iterator

from rigproof.network import Link
from rigproof.network.addresses import addressed
from rigproof.network.cabling import HANDS_ON
from rigproof.network.plan import address_plan
from rigproof.rig.lanes import inner_lanes, sockets
from rigproof.rig.plan import Clock
from rigproof.rig.quantity import Quantity
from rigproof.rig.ref import HOUSE, PortRef
from rigproof.showbook import naming
from rigproof.showbook.blocks import (
    Block,
    Cell,
    amount,
    cell,
    column,
    facts,
    fold,
    heading,
    numbers,
    remark,
    roomy,
    say,
    steps,
    table,
)
from rigproof.showbook.ear_way import free_sockets
from rigproof.showbook.papers import Order, Sheet
from rigproof.signal import words

_NAMED = frozenset({"control", "network", "link", "usb"})


def sheets(order: Order) -> Iterator[Sheet]:
    """One card for the usual night."""
    blocks = tuple(_blocks(order))
    if blocks:
        yield Sheet(
            id="network",
            title=order.say("network.title"),
            lead=order.say("network.lead"),
            blocks=blocks,
        )


def _blocks(order: Order) -> Iterator[Block]:
    rig = order.rig
    if not (rig.file.control or rig.file.clocks or rig.file.radio or addressed(rig)):
        return
    yield from _head(order)
    yield from _addresses(order)
    yield from _ports(order)
    yield from _streams(order)
    yield from _clock(order)
    yield from _control(order)
    yield fold()
    yield from _radio(order)


def _head(order: Order) -> Iterator[Block]:
    control = order.rig.file.control
    told: list[tuple[str, str, str]] = []
    if control is not None:
        unknown = order.say("network.not_stated")
        channel = (
            order.say("network.channel", channel=control.channel)
            if control.channel is not None
            else ""
        )
        if order.edition.private:
            told.append((order.say("network.wifi"), control.network_name or unknown, ""))
            told.append((order.say("network.password"), control.password or unknown, ""))
        told.append((order.say("network.band"), control.band or unknown, channel))
    leaders = [clock for clock in order.rig.file.clocks if clock.follows is None]
    if leaders:
        first = next((clock for clock in leaders if clock.pinned), leaders[0])
        rate = f"{order.edition.number(float(first.rate_hz) / 1000)} kHz"
        box = words.box(order.rig, first.gear)
        told.append((order.say("network.rate"), rate, order.say("network.leads_clock", box=box)))
    if told:
        yield facts(told)


def _addresses(order: Order) -> Iterator[Block]:
    found = addressed(order.rig)
    yield heading(order.say("network.addresses"))
    if not found:
        yield say(order.say("network.none_stated"))
    else:
        # Read with a torch, in a lid: the largest figures of the card.
        yield roomy(
            [
                column(order.say("network.box"), 3, look="name"),
                column(order.say("network.address"), 1.6, look="number"),
                column(order.say("network.mask"), 2),
                column(order.say("network.unit"), 0, look="figures"),
                column(order.say("network.firmware"), 1),
            ],
            [
                [
                    remark(_box(order, one.gear.id)),
                    cell(one.address),
                    cell(one.netmask, "assumed" if one.assumed_mask else ""),
                    cell(str(one.gear.unit) if one.gear.unit is not None else ""),
                    remark(one.gear.firmware),
                ]
                for one in sorted(found, key=lambda one: _order(one.address))
            ],
        )
    for network in address_plan(order.rig, order.view.cables):
        stated = {one.subnet for one in found}
        if network.leased is not None and f"{network.range}0" in stated:
            first, last = network.leased
            yield say(order.say("network.leased", first=first, last=last))


def _order(address: str) -> tuple[int, ...]:
    return tuple(int(part) for part in address.split("."))


def _box(order: Order, gear: str) -> str:
    if gear == HOUSE:
        return words.place(order.rig, f"{HOUSE}.1", order.edition.language).partition(",")[0]
    return naming.box(order.rig, gear, order.edition)


# Ports


def _ports(order: Order) -> Iterator[Block]:
    links = order.view.cables.links
    if not links:
        return
    language = order.edition.language
    rows = [
        [
            remark(words.place(order.rig, link.start.key, language)),
            remark(words.place(order.rig, link.end.key, language)),
            remark(link.lead.label or link.lead.id),
            remark(_carries(order, link)),
        ]
        for link in sorted(links, key=lambda link: (_kind(link), link.start.key, link.end.key))
    ]
    rows += _free(order)
    yield heading(order.say("network.ports"))
    yield table(
        [
            column(order.say("network.port"), 2.4),
            column(order.say("network.holds"), 2.4),
            column(order.say("network.label"), 1.4),
            column(order.say("network.carries"), 1.4),
        ],
        rows,
    )


def _kind(link: Link) -> str:
    return min(link.carries) if link.carries else ""


def _carries(order: Order, link: Link) -> str:
    kind = _kind(link)
    name = kind if kind in _NAMED else "other"
    return order.say(f"network.carries_{name}")


def _free(order: Order) -> Iterator[list[Cell]]:
    """The free ports of what hands packets on: where the wire goes when the air fails."""
    for gear in order.rig.file.gear:
        type_ = order.rig.types[gear.type]
        if type_.class_ not in HANDS_ON:
            continue
        for port in type_.ports:
            if port.carries in {"control", "network"} and port.connector.startswith("rj45"):
                for key in free_sockets(order.rig, gear.id, port.id):
                    yield [
                        remark(words.place(order.rig, key, order.edition.language)),
                        remark(order.say("network.free")),
                        cell(""),
                        cell(""),
                    ]


def _streams(order: Order) -> Iterator[Block]:
    streams = order.rig.file.streams
    if not streams:
        return
    yield heading(order.say("network.stream"))
    language = order.edition.language
    yield table(
        [
            column(order.say("network.from"), 2.4),
            column(order.say("network.to"), 2.4),
            numbers(order.say("network.channels"), 0.8),
            numbers(order.say("network.latency"), 1.2, unit="ms"),
        ],
        [
            [
                remark(words.place(order.rig, str(stream.from_), language)),
                remark(words.place(order.rig, str(stream.to), language)),
                amount(_lanes(order, stream.from_, stream.to)),
                _milliseconds(order, stream.latency_ms),
            ]
            for stream in streams
        ],
    )


def _milliseconds(order: Order, value: Quantity | None) -> Cell:
    if value is None:
        return cell(order.say("network.not_stated"))
    return cell(order.edition.number(float(value), 2), value.provenance)


def _lanes(order: Order, start: PortRef, end: PortRef) -> int:
    """How many channels run: those that both ends name."""
    counts = []
    for ref, entering in ((start, False), (end, True)):
        if ref.gear == HOUSE:
            counts.append(len(sockets(order.rig.gear_types, ref, order.rig.about.where)))
        else:
            type_ = order.rig.type_of(ref.gear)
            at = order.rig.about.where
            counts.append(len(inner_lanes(type_, ref, entering=entering, at=at)))
    return min(counts)


# Clock and control


def _clock(order: Order) -> Iterator[Block]:
    if not order.rig.file.clocks:
        return
    yield heading(order.say("network.clock"))
    yield table(
        [
            column(order.say("network.box"), 2),
            column(order.say("network.role"), 3),
            numbers(order.say("network.rate"), 1, unit="kHz"),
        ],
        [
            [
                remark(_box(order, clock.gear)),
                remark(_role(order, clock)),
                cell(order.edition.number(float(clock.rate_hz) / 1000)),
            ]
            for clock in order.rig.file.clocks
        ],
    )
    yield say(order.say("network.clock_note"))


def _role(order: Order, clock: Clock) -> str:
    if clock.follows is None:
        return order.say("network.role_pinned" if clock.pinned else "network.role_leads")
    box = words.box(order.rig, clock.follows)
    if clock.over:
        return order.say("network.role_follows", box=box, over=clock.over)
    return order.say("network.role_follows_plain", box=box)


def _control(order: Order) -> Iterator[Block]:
    rig, control = order.rig, order.rig.file.control
    if control is None:
        return
    yield heading(order.say("network.control"))
    done: list[str] = []
    point = control.access_point
    if point is not None:
        done.append(order.say("network.control_wifi", box=_box(order, point)))
        free = [
            key
            for port in rig.type_of(point).ports
            if port.connector.startswith("rj45")
            for key in free_sockets(rig, point, port.id)
        ]
        if control.wired_fallback and free:
            socket = words.place(rig, free[0], order.edition.language)
            done.append(order.say("network.control_wire", socket=socket))
    if rig.mixer is not None:
        done.append(order.say("network.control_box", box=_box(order, rig.mixer.id)))
    if control.works_without:
        done.append(order.say("network.control_none", works=control.works_without))
    if control.kill:
        done.append(order.say("network.control_kill", kill=control.kill))
    yield steps(done)
    homes = [
        f"{_box(order, gear.id)}: {gear.home}"
        for gear in rig.file.gear
        if gear.home and (gear.address is not None or gear.id == point)
    ]
    if homes:
        yield say(order.say("network.home", homes="; ".join(homes)))
    yield say(order.say("network.wifi_test"))


def _radio(order: Order) -> Iterator[Block]:
    links = order.rig.file.radio
    if not links:
        return
    yield heading(order.say("network.radio"))
    yield table(
        [
            column(order.say("network.from"), 2),
            column(order.say("network.to"), 2),
            column(order.say("network.link"), 1.2),
            numbers(order.say("network.mhz"), 1, unit="MHz"),
        ],
        [
            [
                remark(_box(order, link.from_.gear)),
                remark(_box(order, link.to.gear)),
                remark(_for(order, link.from_.gear, link.to.gear)),
                cell(
                    order.edition.number(float(link.frequency_mhz), 3)
                    if link.frequency_mhz is not None
                    else "?"
                ),
            ]
            for link in sorted(links, key=lambda link: float(link.frequency_mhz or 0.0))
        ],
    )
    yield say(order.say("network.law"))


def _for(order: Order, *boxes: str) -> str:
    who = [
        order.rig.gear[box].with_person
        for box in boxes
        if box != HOUSE and order.rig.gear[box].with_person is not None
    ]
    return order.say("network.sent_for", who=naming.person(order.rig, who[0])) if who else ""
