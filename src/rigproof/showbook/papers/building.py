"""The build order: box by box from the bottom up, with screws, leads, and the check after each.

Common practice, from memory: heavy boxes low, the loom before the box that closes it in, mains and
signal on two sides, each box proved before the next one hides it.
"""

from collections.abc import Iterator, Sequence

import msgspec

from rigproof.mains.outlets import gives_mains
from rigproof.rack.mass import lead_count
from rigproof.rack.occupancy import Seat, seats
from rigproof.rack.weight import load_kg
from rigproof.rig import Lead
from rigproof.rig.ref import HOUSE, PortRef
from rigproof.showbook.blocks import (
    Block,
    Cell,
    amount,
    caution,
    cell,
    column,
    facts,
    heading,
    left_out,
    numbers,
    remark,
    table,
    ticks,
)
from rigproof.showbook.ear_way import knob_at, outlet_of
from rigproof.showbook.holdings import screws, screws_for, weight
from rigproof.showbook.papers import Order, Sheet
from rigproof.signal import words


class Step(msgspec.Struct, frozen=True):
    """One box: the leads that are laid in with it, and those whose other end is there."""

    seat: Seat
    screws: int
    lay: tuple[Lead, ...]
    join: tuple[Lead, ...]
    outlet: PortRef | None  # where its own mains goes
    waits: bool  # the strip with that outlet comes later
    feeds: tuple[str, ...]  # boxes below whose mains leads wait for this strip


def sheets(order: Order) -> Iterator[Sheet]:
    """One sheet, on its side: a row for each box."""
    if order.rig.file.case is None and not seats(order.rig):
        return
    yield Sheet(
        id="building",
        title=order.say("building.title"),
        lead=order.say("building.lead"),
        flipped=True,
        blocks=tuple(_blocks(order)),
    )


def _blocks(order: Order) -> Iterator[Block]:
    rig = order.rig
    found = tuple(build_order(order))
    whole = order.view.weights.case_kg.value
    mass = weight(order.edition, whole)
    if order.view.weights.case_missing:
        mass = order.say("building.at_least", mass=mass)
    yield facts(
        [
            (order.say("building.boxes"), str(len(found)), ""),
            (order.say("building.screws"), str(screws(rig)), ""),
            (order.say("building.weight"), mass, order.say("building.with_case")),
        ]
    )
    yield left_out(order.say("building.left_out"))
    yield heading(order.say("building.before"))
    yield ticks(
        order.say(f"building.before_{name}") for name in ("rails", "sides", "labels", "off")
    )
    if found:
        yield _table(order, found)
    yield heading(order.say("building.last"))
    yield ticks(order.say(f"building.last_{name}") for name in ("lids", "shake", "scale"))
    yield from _homes(order)
    yield caution(order.say("building.lifting_title"), order.say("building.lifting"))
    yield caution(order.say("building.mains_title"), order.say("building.mains"))


def build_order(order: Order) -> Iterator[Step]:
    """From the bottom up; a lead is plugged with the upper of its two boxes."""
    rig = order.rig
    inside = [
        lead
        for lead in rig.file.leads
        if lead.plugged == "for good"
        and HOUSE not in (lead.from_.gear, lead.to.gear)
        and all(rig.gear[end].placed == "case" for end in (lead.from_.gear, lead.to.gear))
    ]
    there: set[str] = set()
    trays: set[tuple[int, str]] = set()
    waiting: dict[str, str] = {}  # box -> the strip that its mains lead waits for
    for seat in seats(rig):
        mine = {seat.gear.id, *(rider.id for rider in seat.riders)}
        here = [lead for lead in inside if mine & {lead.from_.gear, lead.to.gear}]
        there |= mine
        join = tuple(lead for lead in here if {lead.from_.gear, lead.to.gear} <= there)
        lay = tuple(lead for lead in here if lead not in join)
        tray = (seat.low, seat.face)
        count = 0
        if tray not in trays:
            count = screws_for(seat.units, rear_support=seat.gear.rear_support)
        trays.add(tray)
        outlet = outlet_of(rig, seat.gear.id)
        waits = outlet is not None and outlet.gear not in there
        fed = tuple(box for box, strip in waiting.items() if strip == seat.gear.id)
        if outlet is not None and waits:
            waiting[seat.gear.id] = outlet.gear
        yield Step(seat, count, lay, join, outlet, waits, fed)


def _table(order: Order, found: Sequence[Step]) -> Block:
    rows: list[list[Cell]] = []
    running, known = 0.0, True
    for number, step in enumerate(found, start=1):
        load = load_kg(order.rig, step.seat)
        running += float(load) if load is not None else 0.0
        known = known and load is not None
        so_far = weight(order.edition, running)
        units = f"{step.seat.low}"
        if step.seat.units > 1:
            units += f"\u2013{step.seat.high}"
        rows.append(
            [
                amount(number),
                cell(units),
                remark(_box(order, step.seat)),
                cell(weight(order.edition, float(load)), load.provenance)
                if load is not None
                else cell("?"),
                cell(so_far if known else order.say("building.so_far_known", mass=so_far)),
                amount(step.screws) if step.screws else cell(""),
                remark(", ".join(_laid(order, step))),
                remark(", ".join(_joined(order, step))),
                remark(_check(order, step.seat)),
            ]
        )
    return table(
        [
            column(order.say("building.step"), 0, look="number"),
            column(order.say("building.unit"), 0, look="figures"),
            column(order.say("building.box"), 2.7),
            numbers(order.say("building.kg"), 0.9),
            numbers(order.say("building.running"), 0.7),
            numbers(order.say("building.nuts"), 0),
            column(order.say("building.lay"), 2.3),
            column(order.say("building.join"), 2.3),
            column(order.say("building.check"), 3.1),
        ],
        rows,
    )


def _box(order: Order, seat: Seat) -> str:
    label = f" [{seat.gear.label}]" if seat.gear.label else ""
    said = f"{seat.name}{label}"
    if seat.riders:
        riders = order.edition.listed(words.box(order.rig, rider.id) for rider in seat.riders)
        said = order.say("building.rider", box=said, riders=riders)
    if seat.face == "rear":
        said = order.say("building.rear", box=said)
    if seat.gear.rear_support:
        said = order.say("building.supported", box=said)
    if seat.depth_mm is not None:
        depth = float(seat.depth_mm) + float(seat.plugs_rear_mm or 0.0)
        said = order.say("building.deep", box=said, depth=order.edition.small(depth))
    return said


def _lead(order: Order, lead: Lead) -> str:
    said = {"label": lead.label or lead.id, "count": lead_count(order.rig, lead)}
    if lead.loom:
        return order.say("building.lead_loom", loom=lead.loom, **said)
    return order.say("building.lead_count", **said)


def _laid(order: Order, step: Step) -> Iterator[str]:
    if step.outlet is not None and step.waits:
        place = words.place(order.rig, str(step.outlet), order.edition.language)
        yield order.say("building.mains_waits", outlet=place)
    yield from (_lead(order, lead) for lead in step.lay)


def _joined(order: Order, step: Step) -> Iterator[str]:
    if step.outlet is not None and not step.waits:
        place = words.place(order.rig, str(step.outlet), order.edition.language)
        yield order.say("building.mains_to", outlet=place)
    for box in step.feeds:
        yield order.say("building.mains_of", box=words.box(order.rig, box))
    yield from (_lead(order, lead) for lead in step.join)


# What to look at after each box, by its kind.
_CHECKS = {
    "splitter": "splitter",
    "mixer": "mixer",
    "stage-box": "stage_box",
    "transmitter": "transmitter",
    "headphone-amp": "headphone_amp",
    "hub": "hub",
    "receiver": "receiver",
    "router": "router",
    "drawer": "drawer",
    "interface": "computer",
    "computer": "computer",
}


def _check(order: Order, seat: Seat) -> str:
    power = seat.type.power
    said: dict[str, object] = {"seconds": ""}
    if power is not None and power.boot_s is not None and float(power.boot_s):
        seconds = order.edition.number(float(power.boot_s), 0)
        said["seconds"] = f" {order.say('building.seconds', seconds=seconds)}"
    if gives_mains(seat.type):
        return order.say("building.check_power")
    kind = _CHECKS.get(seat.type.class_, "box")
    if kind == "transmitter":
        links = [link for link in order.rig.file.radio if link.from_.gear == seat.gear.id]
        mhz = links[0].frequency_mhz if links else None
        said["mhz"] = order.edition.number(float(mhz), 3) if mhz is not None else "?"
    if kind == "router":
        said["address"] = seat.gear.address or "?"
    return order.say(f"building.check_{kind}", **said)


def _homes(order: Order) -> Iterator[Block]:
    rows = [
        [remark(words.box(order.rig, gear.id)), remark(gear.home)]
        for gear in order.rig.file.gear
        if gear.home
    ]
    rows += [
        [
            remark(words.place(order.rig, knob_at(order.rig, one.at), order.edition.language)),
            cell(
                order.say("building.level", level=order.edition.number(float(one.gain_db))),
                one.gain_db.provenance,
            ),
        ]
        for one in order.rig.file.settings
    ]
    if not rows:
        return
    yield heading(order.say("building.home"))
    half = -(-len(rows) // 2)
    blank = [cell(""), cell("")]
    yield table(
        [
            column(order.say("building.where"), 2.4),
            column(order.say("building.stands"), 2),
            column(order.say("building.where"), 2.4),
            column(order.say("building.stands"), 2),
        ],
        [
            [*rows[place], *(rows[place + half] if place + half < len(rows) else blank)]
            for place in range(half)
        ],
    )
