"""Recovery cards: each single failure by what one notices, with what to try; and the dead rack.

The failures come from the signal graph, one thing taken out at a time. Those that sound alike stand
together, because nobody on a stage knows yet which of them it is.
"""

from collections.abc import Iterator, Sequence

import msgspec

from rigproof.checks.rule import View
from rigproof.mains import starts
from rigproof.mains.outlets import gives_mains, supplies
from rigproof.rig import Rig
from rigproof.rig.connectors import mate
from rigproof.rig.geartype import Port
from rigproof.rig.plan import RadioLink
from rigproof.showbook import naming
from rigproof.showbook.blocks import (
    Block,
    Cell,
    caution,
    cell,
    column,
    heading,
    left_out,
    remark,
    run,
    steps,
    table,
)
from rigproof.showbook.ear_way import outlet_of, root_strip
from rigproof.showbook.papers import Order, Sheet
from rigproof.signal import words
from rigproof.whatif import Failure, Suspect, failures
from rigproof.wording import ranges

# What fails first: plugs of every night, batteries, the air, boxes, leads that nobody touches.
# Common practice, from memory.
_LIKELY = ("lead every show", "battery", "radio", "box", "stream", "lead for good")


# Names in a title.
_FEW = 3


class Sign(msgspec.Struct, frozen=True):
    """Failures that one cannot tell apart by ear, the likeliest first."""

    title: str
    found: tuple[Failure, ...]


def sheets(order: Order) -> Iterator[Sheet]:
    """One sheet for the usual night."""
    view = order.view
    found = view.once(_found)
    if not found:
        return
    yield Sheet(
        id="failures",
        title=order.say("failures.title"),
        lead=order.say("failures.lead"),
        blocks=tuple(_blocks(order, found)),
    )


def _found(view: View) -> tuple[Failure, ...]:
    return failures(view.rig, view.graph, view.lanes, view.lines)


def _blocks(order: Order, found: Sequence[Failure]) -> Iterator[Block]:
    grave = [failure for failure in found if not _slight(failure)]
    slight = [failure for failure in found if _slight(failure)]
    yield left_out(order.say("failures.left_out"))
    yield caution(order.say("failures.hearing_title"), order.say("failures.hearing"))
    yield _table(order, tuple(_signs(order, grave)))
    if slight:
        yield heading(order.say("failures.less"))
        names = ", ".join(_name(order, one.suspect) for one in slight)
        yield run(order.say("failures.less_row", suspects=names), "")
    if order.rig.mixer is not None:
        yield heading(order.say("failures.rack"))
        yield steps(_rack(order))


def _slight(failure: Failure) -> bool:
    """One source or one line: everything else plays on."""
    missed = {
        source for loss in failure.losses.values() for source in (*loss.sources, *loss.halves)
    }
    deaf = failure.silent or any(loss.side for loss in failure.losses.values())
    return not deaf and len(missed) <= 1 and len(failure.lines) <= 2


def _signs(order: Order, found: Sequence[Failure]) -> Iterator[Sign]:
    """Those of one title together, in the order of their harm."""
    groups: dict[str, list[Failure]] = {}
    for failure in found:
        groups.setdefault(_title(order, failure), []).append(failure)
    for title, alike in groups.items():
        yield Sign(title, tuple(sorted(alike, key=lambda one: _likelihood(order.rig, one))))


def _likelihood(rig: Rig, failure: Failure) -> tuple[int, str]:
    suspect = failure.suspect
    kind: str = suspect.kind
    if kind == "lead":
        lead = next(lead for lead in rig.file.leads if lead.id == suspect.name)
        kind = f"lead {lead.plugged}"
    elif kind == "box":
        power = rig.type_of(suspect.name).power
        kind = "battery" if power is not None and power.by == "battery" else "box"
    return _LIKELY.index(kind), suspect.name


# What one notices


def _title(order: Order, failure: Failure) -> str:
    """What is missing, in a line; failures of one shape share it, and their rows name whom."""
    rig = order.rig
    silent = failure.silent
    listeners = [p for p in rig.people if order.view.graph.of_listener(p)]
    if silent:
        said = (
            order.say("failures.all_silent")
            if len(silent) == len(listeners)
            else order.say(
                "failures.silent", names=order.edition.some(_named(order, silent), most=5)
            )
        )
        return order.say("failures.and_house", what=said) if failure.lines else said
    if any(loss.side for loss in failure.losses.values()):
        return order.say("failures.one_side")
    if failure.losses:
        missed = _missed(failure)
        names = order.edition.some([words.source(rig, source) for source in missed], most=_FEW)
        if len(failure.losses) == len(listeners):
            said = order.say("failures.missing", sources=names)
        else:
            who = order.edition.some(_named(order, tuple(failure.losses)), most=_FEW)
            said = order.say("failures.missing_for", sources=names, names=who)
        return order.say("failures.and_house", what=said) if failure.lines else said
    return order.say("failures.lines")


def _missed(failure: Failure) -> tuple[str, ...]:
    return tuple(
        dict.fromkeys(
            source for loss in failure.losses.values() for source in (*loss.sources, *loss.halves)
        )
    )


def _whom(order: Order, failure: Failure) -> str:
    """Whose ear or which lines, where the title leaves it open."""
    deaf = [name for name, loss in failure.losses.items() if loss.side]
    if deaf and not failure.silent:
        return _people(order, deaf)
    return ranges(failure.lines) if failure.lines and not failure.losses else ""


def _named(order: Order, people: Sequence[str]) -> list[str]:
    return [naming.person(order.rig, name) for name in people]


def _people(order: Order, names: Sequence[str]) -> str:
    return order.edition.listed(_named(order, names))


def _table(order: Order, signs: Sequence[Sign]) -> Block:
    rows: list[list[Cell]] = []
    groups: list[tuple[int, str]] = []
    for sign in signs:
        groups.append((len(rows), sign.title))
        rows += [_row(order, failure) for failure in sign.found]
    return table(
        [
            column(order.say("failures.suspect"), 3),
            column(order.say("failures.try"), 4.4),
            column(order.say("failures.back"), 0, look="figures"),
            column(order.say("failures.part"), 2.2),
        ],
        rows,
        groups=groups,
    )


def _row(order: Order, failure: Failure) -> list[Cell]:
    tried, whom = _try(order, failure.suspect), _whom(order, failure)
    if failure.dry:
        names = order.edition.some([words.source(order.rig, name) for name in failure.dry], most=6)
        tried += f". {order.say('failures.dry', sources=names)}"
    return [
        remark(_name(order, failure.suspect) + (f": {whom}" if whom else "")),
        remark(tried),
        _back(order, failure),
        remark(_part(order, failure.suspect)),
    ]


def _name(order: Order, suspect: Suspect) -> str:
    rig = order.rig
    if suspect.kind == "box":
        gear = rig.gear[suspect.name]
        box = naming.box(rig, gear.id, order.edition)
        if len(suspect.taken) > 1:
            return order.say("failures.with_it", box=box, n=len(suspect.taken) - 1)
        if gear.unit is not None:
            return order.say("failures.unit", box=box, unit=gear.unit)
        return box
    if suspect.kind == "lead":
        lead = next(lead for lead in rig.file.leads if lead.id == suspect.name)
        label = lead.label or lead.id
        if suspect.one_of > 1:
            return order.say("failures.one_of", n=suspect.one_of, label=label)
        return order.say("failures.lead_row", label=label)
    if suspect.kind == "radio":
        return order.say("failures.radio_row", mhz=_mhz(order, _radio(rig, suspect.name)))
    stream = next(stream for stream in rig.file.streams if stream.id == suspect.name)
    return order.say("failures.stream_row", name=stream.name or stream.id)


def _radio(rig: Rig, name: str) -> RadioLink:
    return next(link for link in rig.file.radio if link.id == name)


def _mhz(order: Order, link: RadioLink) -> str:
    value = link.frequency_mhz
    return order.edition.number(float(value), 3) if value is not None else "?"


def _back(order: Order, failure: Failure) -> Cell:
    if failure.suspect.kind != "box" or not failure.suspect.taken:
        return cell("")
    if failure.back_s is None:
        passive = order.rig.type_of(failure.suspect.name).passive
        return cell("" if passive else order.say("failures.no_boot"))
    seconds = order.edition.number(float(failure.back_s), 0)
    return cell(order.say("failures.seconds", seconds=seconds), failure.back_s.provenance)


# What to try


def _try(order: Order, suspect: Suspect) -> str:
    rig, language = order.rig, order.edition.language
    if suspect.kind == "lead":
        lead = next(lead for lead in rig.file.leads if lead.id == suspect.name)
        a, b = (words.place(rig, str(ref), language) for ref in (lead.from_, lead.to))
        return order.say("failures.push", a=a, b=b)
    if suspect.kind == "radio":
        return _tune(order, _radio(rig, suspect.name))
    if suspect.kind == "stream":
        return order.say("failures.stream_try")
    return _try_box(order, suspect.name)


def _try_box(order: Order, gear: str) -> str:
    rig, language = order.rig, order.edition.language
    type_ = rig.type_of(gear)
    power = type_.power
    if gives_mains(type_):
        hung = sum(1 for s in supplies(rig) if s.through and s.through[-1] == gear)
        free = sum(1 for o in order.view.outlets if o.free and o.gear != gear)
        return order.say("failures.strip", n=hung, free=free)
    if power is not None and power.by == "battery":
        return order.say("failures.battery")
    if type_.passive:
        lead = _goes_round(rig, gear)
        return order.say("failures.bypass", lead=lead) if lead else order.say("failures.passive")
    outlet = outlet_of(rig, gear)
    if outlet is not None:
        return order.say("failures.cycle", outlet=words.place(rig, str(outlet), language))
    if power is not None and power.by == "poe":
        fed = next((lead for lead in rig.file.leads if lead.to.gear == gear), None)
        if fed is not None:
            return order.say("failures.cycle_lead", label=fed.label or fed.id)
    return order.say("failures.cycle_plain")


def _goes_round(rig: Rig, gear: str) -> str:
    """The leads behind a passive box that a lead before it would fit into."""
    ins = [p.connector for p in rig.type_of(gear).ports if p.way == "in"]
    for lead in rig.file.leads:
        if lead.from_.gear != gear or lead.to.gear not in rig.gear:
            continue
        body = rig.types[lead.type].lead
        port = rig.type_of(lead.to.gear).banks.get(lead.to.bank)
        takes = isinstance(port, Port) and port.carries == "mic"
        # What goes into the box today must go into the loose end of that lead.
        if body is not None and takes and any(_plugs_into(body.a.connector, i) for i in ins):
            return lead.label or lead.id
    return ""


def _plugs_into(loose: str, socket: str) -> bool:
    """Whether an end of a lead takes the plugs that this socket takes."""
    return loose == socket or (mate("xlr-m", loose).fits and mate("xlr-m", socket).fits)


def _tune(order: Order, link: RadioLink) -> str:
    """A pack can follow another transmitter of its kind while its own is silent."""
    rig = order.rig
    mine = _mhz(order, link)
    if link.to.gear in rig.gear and rig.type_of(link.to.gear).class_ == "pack":
        for other in rig.file.radio:
            alike = (
                other.id != link.id
                and other.frequency_mhz is not None
                and other.to.gear in rig.gear
                and rig.gear[other.to.gear].type == rig.gear[link.to.gear].type
                and other.from_.gear in rig.gear
                and link.from_.gear in rig.gear
                and rig.gear[other.from_.gear].type == rig.gear[link.from_.gear].type
            )
            who = naming.person(rig, rig.gear[other.to.gear].with_person) if alike else ""
            if alike and who:
                return order.say("failures.tune", mhz=mine, other=_mhz(order, other), name=who)
    return order.say("failures.tune_only", mhz=mine)


def _part(order: Order, suspect: Suspect) -> str:
    """What travels as a spare for it."""
    rig, edition = order.rig, order.edition
    type_id = ""
    if suspect.kind == "lead":
        type_id = next(lead for lead in rig.file.leads if lead.id == suspect.name).type
    elif suspect.kind == "box":
        type_id = rig.gear[suspect.name].type
        fed = [one for one in rig.file.consumables if suspect.name in one.feeds]
        if fed:
            return order.say("failures.spare", count=fed[0].count, what=fed[0].what)
    if not type_id:
        return ""
    for spare in rig.file.spares:
        if spare.type == type_id:
            what = naming.type_name(rig, type_id, edition)
            if spare.length_m is not None:
                what += f", {edition.length(float(spare.length_m))}"
            return order.say("failures.spare", count=spare.count, what=what)
    return order.say("failures.none")


# The whole rack


def _rack(order: Order) -> Iterator[str]:
    rig, view = order.rig, order.view
    leader = next((p.name for p in rig.file.people if p.leads_band), "")
    yield (
        order.say("failures.rack_ears", name=leader)
        if leader
        else order.say("failures.rack_ears_any")
    )
    root = root_strip(rig, rig.mixer.id) if rig.mixer else ""
    owner = naming.person(rig, rig.about.patch_owner) or leader
    if root and owner:
        yield order.say("failures.rack_power", name=owner, box=words.box(rig, root))
    for hand in view.hand_offs:
        if order.venues and hand.venue.id not in order.venues:
            continue
        if not any(line.means == "tail" for line in hand.used):
            yield order.say("failures.rack_house_none", venue=hand.venue.name)
            continue
        numbers = [line.house_number or line.number for line in hand.dead]
        text = (
            order.say(
                "failures.rack_house",
                venue=hand.venue.name,
                n=len(numbers),
                numbers=ranges(numbers),
            )
            if numbers
            else order.say("failures.rack_house_none", venue=hand.venue.name)
        )
        if hand.dead_if_fed:
            names = order.edition.some(line.name for line in hand.dead_if_fed)
            text += f" {order.say('failures.rack_house_fed', sources=names)}"
        yield text
    yield _start(order)
    yield order.say("failures.rack_back")
    contact = rig.about.contact
    if contact is not None:
        who = ", ".join(part for part in (contact.name, contact.phone) if part)
        yield order.say("failures.rack_call", who=who)


def _start(order: Order) -> str:
    found = starts(order.rig, order.view.load)
    if not found or not found[-1].ready_s:
        return order.say("failures.rack_start_plain")
    names = [
        " + ".join(
            order.rig.gear[name].label or words.box(order.rig, name, order.edition.language)
            for name in step.gear
        )
        for step in found
    ]
    seconds = order.edition.number(found[-1].ready_s, 0)
    return order.say("failures.rack_start", order=", ".join(names), seconds=seconds)
