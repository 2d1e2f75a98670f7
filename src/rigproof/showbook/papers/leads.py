"""Leads: the schedule with both ends of each, the looms drawn, and what to cut and to solder."""

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby

from rigproof.checks.rule import View
from rigproof.rig import Lead
from rigproof.rig.geartype import LeadEnd
from rigproof.rig.lanes import sockets
from rigproof.rig.quantity import Metres
from rigproof.rig.ref import HOUSE
from rigproof.showbook import naming
from rigproof.showbook.blocks import (
    Block,
    Cell,
    Drawing,
    amount,
    caution,
    cell,
    column,
    heading,
    left_out,
    numbers,
    remark,
    say,
    table,
)
from rigproof.showbook.drawings.looms import Branch, Loom, Words, loom
from rigproof.showbook.lead_schedule import Run, schedule
from rigproof.showbook.papers import Order, Sheet
from rigproof.signal import words
from rigproof.wording.connectors import connector
from rigproof.wording.sentences import sentence


def sheets(order: Order) -> Iterator[Sheet]:
    """The schedule, the looms and the cut list: three sheets for three pairs of hands."""
    runs = schedule(order.view)
    if not runs:
        return
    yield Sheet(
        id="leads-schedule",
        title=order.say("leads.schedule"),
        lead=order.say("leads.schedule_lead"),
        flipped=True,
        blocks=tuple(_schedule(order, runs)),
    )
    looms = tuple(_looms(order))
    if looms:
        yield Sheet(
            id="leads-looms",
            title=order.say("leads.looms"),
            lead=order.say("leads.looms_lead"),
            blocks=looms,
        )
    yield Sheet(
        id="leads-cut-list",
        title=order.say("leads.cut_list"),
        blocks=tuple(_cut_list(order, runs)),
    )


# The schedule


def _schedule(order: Order, runs: Sequence[Run]) -> Iterator[Block]:
    rows: list[list[Cell]] = []
    groups: list[tuple[int, str]] = []
    for group, members in groupby(runs, key=lambda run: run.group):
        groups.append((len(rows), order.say(f"leads.group_{group}")))
        rows += [_row(order, run) for run in members]
    yield say(order.say("leads.how_planned"))
    yield table(
        [
            column(order.say("leads.label"), 1.1),
            numbers(order.say("leads.count"), 0),
            column(order.say("leads.kind"), 1.8),
            column(order.say("leads.from"), 2),
            column(order.say("leads.plug_there"), 1.2),
            column(order.say("leads.to"), 2),
            column(order.say("leads.plug_there"), 1.2),
            numbers(order.say("leads.length"), 1.1),
            column(order.say("leads.loom_colour"), 1.4),
            column(order.say("leads.plugged"), 0),
        ],
        rows,
        groups=groups,
    )


def _row(order: Order, run: Run) -> list[Cell]:
    return [
        remark(run.label),
        amount(run.count),
        remark(kind_of(order, run)),
        remark(end_words(order, run.start)),
        remark(plug_words(order, run.a)),
        remark(end_words(order, run.end)),
        remark(plug_words(order, run.b)),
        length_cell(order, run),
        remark(_looks(order, run.lead)),
        cell(_plugged(order, run)),
    ]


def kind_of(order: Order, run: Run) -> str:
    """What kind of lead it is."""
    if run.type_id is not None:
        return naming.type_name(order.rig, run.type_id, order.edition)
    if run.group != "mains":
        return order.say("leads.plain")
    gear = order.rig.gear.get(run.end)
    supply = order.rig.types[gear.type].power if gear else None
    own = supply is not None and supply.external_supply
    return order.say("leads.own_supply" if own else "leads.power_cord")


def end_words(order: Order, place: str) -> str:
    """Where one end of a run is: a socket, a box, a source or the wall."""
    if place == "wall":
        return order.say("leads.wall")
    if place.startswith("source:"):
        return order.rig.sources[place.removeprefix("source:")].name
    if "." not in place:
        return words.box(order.rig, place, order.edition.language)
    return words.place(order.rig, place, order.edition.language)


def plug_words(order: Order, end: LeadEnd) -> str:
    """The connectors of one end, counted where it has several; nothing where nobody says."""
    if end.connector == "bare":
        return ""
    said = connector(end.connector, order.edition.language)
    return said if end.count == 1 else order.say("leads.times", n=end.count, what=said)


def length_cell(order: Order, run: Run) -> Cell:
    """The length stated, the one planned, or that nobody knows it."""
    if run.length_m is None:
        return cell("" if run.group == "mains" else order.say("leads.unknown"))
    length = order.edition.length(float(run.length_m))
    if run.planned:
        return cell(order.say("leads.planned", length=length))
    return cell(length, run.length_m.provenance)


def _looks(order: Order, lead: Lead | None) -> str:
    if lead is None:
        return ""
    at = [order.rig.venues[name].name for name in lead.at_venues]
    parts = [
        order.say("leads.loom", name=lead.loom) if lead.loom else "",
        lead.colour,
        lead.route,
        order.say("leads.only_at", places=order.edition.listed(at)) if at else "",
    ]
    return ", ".join(part for part in parts if part)


def _plugged(order: Order, run: Run) -> str:
    good = run.group == "mains" or (run.lead is not None and run.lead.plugged == "for good")
    return order.say("leads.for_good" if good else "leads.every_show")


# Looms


def _looms(order: Order) -> Iterator[Block]:
    view = order.view
    said = Words(
        not_to_scale=order.say("leads.not_to_scale"),
        scale=order.say("leads.scale", scale="{scale}"),
        length=order.edition.small,
    )
    for name, leads in _bundles(view):
        one = Loom(
            name=_title(order, name, leads),
            starts=tuple(_branches(order, leads, "from")),
            ends=tuple(_branches(order, leads, "to")),
            trunk=_trunk_words(order, leads),
        )
        drawn = loom(one, said)
        yield heading(one.name)
        yield Drawing(svg=drawn.svg, alt=drawn.alt, caption=drawn.caption, width_mm=drawn.width_mm)
        yield say(" ".join(_lengths(order, leads)))


def _bundles(view: View) -> Iterator[tuple[str, list[Lead]]]:
    """What is tied together by name, then each jacket that holds several lines."""
    named: dict[str, list[Lead]] = {}
    for lead in view.rig.file.leads:
        if lead.loom:
            named.setdefault(lead.loom, []).append(lead)
    yield from named.items()
    for lead in view.rig.file.leads:
        body = view.rig.types[lead.type].lead
        if not lead.loom and body is not None and max(body.a.count, body.b.count) > 2:
            yield lead.label or lead.id, [lead]


def _title(order: Order, name: str, leads: Sequence[Lead]) -> str:
    if not leads[0].loom:
        kind = naming.type_name(order.rig, leads[0].type, order.edition)
        return order.say("leads.fan_title", name=name, kind=kind)
    return order.say(
        "leads.loom_title", name=name, leads=", ".join(lead.label or lead.id for lead in leads)
    )


def _trunk_words(order: Order, leads: Sequence[Lead]) -> str:
    lengths = {float(lead.length_m) for lead in leads if lead.length_m is not None}
    return order.edition.length(max(lengths)) if lengths else "?"


def _branches(order: Order, leads: Sequence[Lead], side: str) -> Iterator[Branch]:
    """The ends on one side, box by box."""
    rig = order.rig
    found: dict[tuple[str, str, str], list[str]] = {}
    for lead in leads:
        body = rig.types[lead.type].lead
        if body is None:
            continue
        ref, end = (lead.from_, body.a) if side == "from" else (lead.to, body.b)
        near, far = (
            sockets(rig.gear_types, one, lead.where)
            for one in (ref, lead.to if side == "from" else lead.from_)
        )
        for place, socket in enumerate(near):
            tape = _tape(order, socket.key)
            if not tape and len(far) == len(near):
                tape = _tape(order, far[place].key)  # what goes in at the other end
            number = socket.key.rpartition(".")[2]
            number = number if number.isdigit() else socket.key.partition(".")[2]
            row = f"{number}  {tape}" if tape else number
            found.setdefault((ref.gear, ref.bank, end.connector), []).append(row)
    for (gear, bank, plug), rows in found.items():
        kind = connector(plug, order.edition.language)
        what = order.say("leads.times", n=len(rows), what=kind)
        if gear == HOUSE:
            box = order.edition.tell(sentence("the house"))
        else:
            box = words.place(rig, f"{gear}.{bank}", order.edition.language)
        pins = plug.endswith("-m") or plug in {"iec-c14", "iec-c20"}
        yield Branch(box, what, tuple(rows), pins, _height_mm(order.view, gear))


def _height_mm(view: View, gear: str) -> float | None:
    """The middle of a box in the case, from the lower edge of unit 1."""
    case = view.elevation
    if case is None:
        return None
    return next(
        (box.y_mm + box.height_mm / 2 for box in case.boxes if box.seat.gear.id == gear), None
    )


def _tape(order: Order, key: str) -> str:
    """What a line carries, in the words of its strip: a mix, or the one source on it."""
    view = order.view
    for mix in view.rig.file.mixes:
        if mix.out is None:
            continue
        outs = [socket.key for socket in sockets(view.rig.gear_types, mix.out, mix.where)]
        if key in outs:
            lane = f" {'LR'[outs.index(key)]}" if len(outs) == 2 else ""
            return (mix.label or mix.name or mix.id) + lane
    at = view.graph.index.get(key)
    lanes = view.lanes.at((at,)) if at is not None else ()
    if len(lanes) != 1:
        return ""
    source = view.rig.sources[lanes[0][0]]
    label = source.label or source.name
    if source.stereo:
        label += f" {source.lane_names[lanes[0][1] - 1].rpartition(' ')[2]}"
    return label


def _lengths(order: Order, leads: Sequence[Lead]) -> Iterator[str]:
    """Of each lead what runs in the trunk, and what is left for its ends."""
    edition = order.edition
    for lead in leads:
        if lead.length_m is None:
            continue
        name, length = lead.label or lead.id, edition.length(float(lead.length_m))
        low, high = (_height_mm(order.view, ref.gear) for ref in (lead.from_, lead.to))
        if low is None or high is None:
            yield order.say("leads.one_length", lead=name, length=length)
            continue
        run_m = abs(high - low) / 1000
        rest_m = float(lead.length_m) - run_m
        run = edition.length(run_m)
        if rest_m <= 0:
            yield order.say("leads.too_short", lead=name, length=length, run=run)
        else:
            rest = edition.length(rest_m)
            yield order.say("leads.left_for_ends", lead=name, length=length, run=run, rest=rest)


# What to cut


def _cut_list(order: Order, runs: Sequence[Run]) -> Iterator[Block]:
    made = [run for run in runs if run.group != "mains" and run.type_id is not None]
    merged = _merged(made)
    yield left_out(order.say("leads.left_out"))
    yield table(
        [
            numbers(order.say("leads.count"), 0),
            column(order.say("leads.kind"), 2.4),
            numbers(order.say("leads.length"), 1.5),
            numbers(order.say("leads.metres"), 0.9),
            column(order.say("leads.plugs"), 2.9),
            column(order.say("leads.labels"), 2.7),
        ],
        [_cut(order, alike) for alike in merged],
    )
    plugs: Counter[str] = Counter()
    metres: dict[str, float] = {}
    for run in made:
        if run.length_m is not None and float(run.length_m) == 0:
            continue
        plugs.update(run.plugs)
        if run.type_id is not None and run.total_m is not None:
            metres[run.type_id] = metres.get(run.type_id, 0.0) + run.total_m
    yield heading(order.say("leads.by_plug"))
    language = order.edition.language
    yield table(
        [column(order.say("leads.plug"), 3), numbers(order.say("leads.count"), 1)],
        [[remark(connector(name, language)), amount(n)] for name, n in sorted(plugs.items())],
        [cell(order.say("leads.sum")), amount(sum(plugs.values()))],
    )
    yield heading(order.say("leads.by_metre"))
    yield table(
        [column(order.say("leads.cable"), 3), numbers(order.say("leads.length"), 1)],
        [
            [
                remark(naming.type_name(order.rig, kind, order.edition)),
                cell(order.edition.length(m)),
            ]
            for kind, m in sorted(metres.items())
        ],
        [cell(order.say("leads.sum")), cell(order.edition.length(sum(metres.values())))],
    )
    yield caution(order.say("leads.mains_title"), order.say("leads.mains_caution"))


def _merged(runs: Sequence[Run]) -> list[list[Run]]:
    """Runs of one kind and length together; what has no cable is no work for the bench."""
    found: dict[tuple[str, float], list[Run]] = {}
    for run in runs:
        length = float(run.length_m) if run.length_m is not None else -1.0
        if length and run.type_id is not None:
            found.setdefault((run.type_id, length), []).append(run)
    return [found[key] for key in sorted(found)]


def _cut(order: Order, alike: Sequence[Run]) -> list[Cell]:
    first = alike[0]
    count = sum(run.count for run in alike)
    plugs: Counter[str] = Counter()
    for run in alike:
        plugs.update(run.plugs)
    total = Metres(float(first.length_m) * count) if first.length_m is not None else None
    said = "; ".join(
        order.say("leads.times", n=n, what=connector(name, order.edition.language))
        for name, n in sorted(plugs.items())
    )
    return [
        amount(count),
        remark(kind_of(order, first)),
        length_cell(order, first),
        cell(order.edition.length(float(total)) if total is not None else ""),
        remark(said),
        remark(", ".join(dict.fromkeys(run.label for run in alike))),
    ]
