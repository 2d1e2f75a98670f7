"""The tail map: every end that lies in the house's hands, tail by tail."""

from collections.abc import Iterator

from rigproof.checks.rule import View
from rigproof.handoff import HandOff, HouseLine
from rigproof.rig import Lead
from rigproof.rig.ref import HOUSE
from rigproof.showbook.blocks import Block, Cell, amount, cell, column, heading, remark, roomy, say
from rigproof.showbook.house_means import places
from rigproof.showbook.house_page import fed_by, name_of, own_number
from rigproof.showbook.papers import Order, Sheet
from rigproof.showbook.papers.hand_off import hands, id_of, place_of
from rigproof.signal import words
from rigproof.wording import ranges
from rigproof.wording.connectors import connector


def sheets(order: Order) -> Iterator[Sheet]:
    """One map for each hand-off that gets anything."""
    for view, hand in hands(order):
        if hand.lines:
            yield Sheet(
                id=id_of("tail-map", hand),
                title=order.say("tail-map.title_at", where=place_of(hand)),
                lead=_lead(order, view, hand),
                blocks=tuple(_blocks(order, view, hand)),
            )


def _lead(order: Order, view: View, hand: HandOff) -> str:
    used = order.say("tail-map.lead", used=len(hand.used), all=len(hand.lines))
    stray = [own_number(line) for line in hand.lines if line.status == "ignore"]
    ignored = order.say("tail-map.ignored", numbers=ranges(stray)) if stray else ""
    stands = places(view.rig, hand.venue, order.edition)
    return " ".join(part for part in (used, ignored, stands) if part)


def _blocks(order: Order, view: View, hand: HandOff) -> Iterator[Block]:
    by_carrier: dict[str, list[HouseLine]] = {}
    for line in hand.lines:
        by_carrier.setdefault(line.carrier, []).append(line)
    rows: list[list[Cell]] = []
    groups: list[tuple[int, str]] = []
    for carrier, lines in by_carrier.items():
        groups.append((len(rows), _group(order, view, carrier, lines)))
        rows += [_row(order, view, hand, line) for line in lines]
    yield roomy(
        [
            column(order.say("tail-map.number"), 0, look="number"),
            column(order.say("tail-map.source"), 2.4, look="name"),
            column(order.say("tail-map.level"), 0),
            column(order.say("tail-map.phantom"), 0),
            column(order.say("tail-map.leg"), 0),
            column(order.say("tail-map.theirs"), 0, look="figures"),
        ],
        rows,
        groups,
    )
    if any(line.means == "tail" for line in hand.lines):
        yield say(order.say("tail-map.key"))
    back = [lead for lead in view.rig.file.leads if lead.from_.gear == HOUSE]
    if back:
        yield heading(order.say("tail-map.back"))
        yield _back(order, view, back)


def _group(order: Order, view: View, carrier: str, lines: list[HouseLine]) -> str:
    """What a tail is called, and what its ends are like."""
    lead = next((lead for lead in view.rig.file.leads if lead.id == carrier), None)
    if lead is None:
        stream = next((one for one in view.rig.file.streams if one.id == carrier), None)
        name = (stream.name if stream else "") or carrier
        count = order.say("tail-map.channels", n=len(lines))
        return order.say("tail-map.group", name=name, ends=count)
    body = view.rig.types[lead.type].lead
    plug = connector(body.b.connector, order.edition.language) if body else ""
    name = f"{lead.label or lead.id}{f' ({lead.colour})' if lead.colour else ''}"
    if lead.length_m is None:
        ends = order.say("tail-map.ends_short", n=len(lines), plug=plug)
    else:
        length = order.edition.length(lead.length_m)
        ends = order.say("tail-map.ends", n=len(lines), plug=plug, length=length)
    return order.say("tail-map.group", name=name, ends=ends)


def _row(order: Order, view: View, hand: HandOff, line: HouseLine) -> list[Cell]:
    say_ = order.say
    number = amount(own_number(line))
    leg = ""
    if line.means == "tail":
        leg = say_("tail-map.isolated" if line.isolated else "tail-map.direct")
    if line.status == "ignore":
        name = f"{line.name}: {say_('hand-off.do_not_plug')}"
        return [number, cell(name), cell(""), cell(""), cell(leg), cell("")]
    if line.status in {"held", "spare"}:
        kept = say_("hand-off.kept_free" if line.status == "held" else "hand-off.free")
        name = f"{kept}: {line.why}" if line.status == "held" and line.why else kept
        return [number, remark(name), cell(""), cell(""), cell(leg), cell("")]
    known = view.lines.get(line.source.id) if line.source else None
    fed = fed_by(known, hand, line)
    theirs = str(line.house_number or "")
    return [
        number,
        cell(name_of(view.rig, hand, line, order.edition)),
        cell(say_(f"hand-off.level_{line.level}") if line.level else ""),
        cell(say_(f"hand-off.{fed}") if fed else ""),
        cell(leg),
        cell(say_("hand-off.out") if line.status == "dropped" else theirs),
    ]


def _back(order: Order, view: View, leads: list[Lead]) -> Block:
    rig = view.rig
    rows = []
    for lead in leads:
        body = rig.types[lead.type].lead
        plug = connector(body.a.connector, order.edition.language) if body else ""
        what = [s.name for s in rig.file.sources if s.start is not None and _same(s.start, lead)]
        numbers = lead.from_.numbers
        rows.append(
            [
                cell(ranges(range(numbers[0], numbers[1] + 1)) if numbers else ""),
                remark(order.edition.listed(what) or words.place(rig, str(lead.to))),
                cell(plug),
                cell(order.edition.length(lead.length_m) if lead.length_m is not None else ""),
            ]
        )
    return roomy(
        [
            column(order.say("tail-map.back_number"), 0, look="number"),
            column(order.say("tail-map.back_what"), 2, look="name"),
            column(order.say("tail-map.back_plug"), 1),
            column(order.say("tail-map.back_length"), 0, look="figures"),
        ],
        rows,
    )


def _same(start: object, lead: Lead) -> bool:
    return str(start) == str(lead.from_)
