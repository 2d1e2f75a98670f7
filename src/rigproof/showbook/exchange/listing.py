"""The lists that other programs get: channels, plugs, lines to each house, leads, boxes.

A list has typed values, so that a number stays a number; every form of export writes the same
ones. Who may read which list, and which columns of it, is decided here and nowhere else.
"""

from collections.abc import Callable, Iterator, Mapping

import msgspec

from rigproof.checks.rule import View
from rigproof.handoff import HandOff, HouseLine
from rigproof.patch import ChannelRow, PatchLists
from rigproof.rig import Gear, Lead, Rig
from rigproof.rig.band import Source
from rigproof.rig.plan import PatchRow
from rigproof.rig.quantity import Quantity
from rigproof.rigfile.intake.vocabulary import FIELDS
from rigproof.showbook import naming
from rigproof.showbook.papers import Order, for_reader
from rigproof.showbook.walk import count
from rigproof.signal import words
from rigproof.signal.phantom import need_of

Value = str | int | float | None
Row = Mapping[str, Value]


class Heading(msgspec.Struct, frozen=True):
    """A column: the key of its values, what stands over it, the unit of its figures."""

    key: str
    title: str
    unit: str = ""

    @property
    def text(self) -> str:
        return f"{self.title} ({self.unit})" if self.unit else self.title


class Listing(msgspec.Struct, frozen=True, kw_only=True):
    """A list: rows of values by the keys of its headings; a value that nobody states is None."""

    id: str
    title: str
    headings: tuple[Heading, ...]
    rows: tuple[Row, ...]

    def values(self, row: Row) -> tuple[Value, ...]:
        return tuple(row.get(heading.key) for heading in self.headings)


# Who may have the paper may have the list that says the same.
_PAPER_OF: Mapping[str, str] = {
    "inputs": "input-list",
    "patch": "patch",
    "hand-off": "hand-off",
    "leads": "leads",
    "gear": "parts",
}
_UNITS = {"length": "m", "weight": "kg", "price": "EUR"}
# Columns that no stranger gets.
PRIVATE = frozenset({"serial", "price", "address", "firmware"})


def listings(order: Order) -> Iterator[Listing]:
    """The lists that the reader of an order may have: the usual night, then what shows change."""
    papers = {paper.id for paper in for_reader(order.edition.reader)}
    given = {name for name, paper in _PAPER_OF.items() if paper in papers}
    if "inputs" in given:
        yield from _with_changes(order, _inputs)
    if "patch" in given:
        yield from _with_changes(order, _patch)
    if "hand-off" in given:
        for view in order.verdict.views:
            for hand in view.hand_offs:
                if not order.venues or hand.venue.id in order.venues:
                    yield _hand_off(order, view, hand)
    if "leads" in given:
        yield _leads(order)
    if "gear" in given:
        yield _gear(order)


def _with_changes(order: Order, made: Callable[[Order, View], Listing]) -> Iterator[Listing]:
    """A list of the usual night, and that of each show where it says something else."""
    usual = made(order, order.view)
    yield usual
    for view in order.verdict.views[1:]:
        theirs = made(order, view)
        if theirs.rows != usual.rows:
            yield theirs


def _headings(order: Order, *keys: str) -> tuple[Heading, ...]:
    kept = keys if order.edition.private else [key for key in keys if key not in PRIVATE]
    return tuple(Heading(key, order.say(f"exchange.{key}"), _UNITS.get(key, "")) for key in kept)


def _named(order: Order, view: View, kind: str) -> tuple[str, str]:
    """The name and title of a list; those of a show say which."""
    title = order.say(f"exchange.{kind}_title")
    if view.show is None:
        return kind, title
    return f"{kind}-{view.show.id}", f"{title}: {naming.show(view, order.edition)}"


def _figure(value: Quantity | None) -> float | None:
    return None if value is None else float(value)


# --- the input list -----------------------------------------------------------------------------

SIDES = {"left-right": ("L", "R"), "stage-right-left": ("SR", "SL")}


def _inputs(order: Order, view: View) -> Listing:
    """Every channel, then the sources that have none."""
    name, title = _named(order, view, "inputs")
    lists = PatchLists(view.rig)
    rows = [_channel(order, view.rig, channel) for channel in lists.channels]
    for source in lists.without_channel:
        row = view.rig.rows.get(source.id)
        rows += [_input(order, view.rig, source, row, lane) for lane in range(source.lanes)]
    return Listing(id=name, title=title, headings=_headings(order, *FIELDS), rows=tuple(rows))


def _channel(order: Order, rig: Rig, channel: ChannelRow) -> Row:
    """A channel: what is in it; of an empty one why it is kept free."""
    if channel.source is None:
        return {"number": channel.number, "note": channel.held or None}
    found = _input(order, rig, channel.source, channel.row, channel.lane)
    return {"number": channel.number, **found, "socket": _place(order, rig, channel.socket)}


def _input(order: Order, rig: Rig, source: Source, row: PatchRow | None, lane: int) -> Row:
    side = SIDES[source.pair][lane] if source.stereo else None
    # What is noted at a source tells how it is plugged; all other notes are the band's.
    noted = row.note if row and order.edition.private else ""
    notes = [source.note, noted] if lane == 0 else []
    return {
        "source": source.lane_names[lane],
        "pair": side,
        "label": source.label or None,
        "player": naming.person(rig, source.player) or None,
        "mic": _before(order, rig, source) or None,
        "whose": order.say(f"paper.owner_{source.owner}"),
        "phantom": _phantom(order, rig, source, row),
        "stand": source.stand or None,
        "line": (row.line or None) if row else None,
        "socket": _place(order, rig, str(row.plug)) if row and row.plug else None,
        "alternative": source.alternative or None,
        "note": " \u00b7 ".join(note for note in notes if note) or None,
    }


def _before(order: Order, rig: Rig, source: Source) -> str:
    """The microphone or DI; of what comes out of a box of ours, that box."""
    parts = [
        naming.type_name(rig, name, order.edition)
        for name in (source.mic, source.di)
        if name is not None
    ]
    if not parts and source.start is not None and source.start.gear in rig.gear:
        parts = [words.box(rig, source.start.gear, order.edition.language)]
    return " + ".join(parts)


def _phantom(order: Order, rig: Rig, source: Source, row: PatchRow | None) -> str | None:
    need = need_of(rig, source)
    if need == "must":
        return order.say("exchange.phantom_must")
    if need == "never":
        return order.say("exchange.phantom_never")
    return order.say("exchange.phantom_on") if row and row.phantom == "on" else None


def _place(order: Order, rig: Rig, key: str) -> str | None:
    return words.place(rig, key, order.edition.language) if key else None


# --- the patch, panel by panel ------------------------------------------------------------------

_PATCH = (
    "box",
    "face",
    "unit",
    "bank",
    "plug",
    "source",
    "label",
    "player",
    "mic",
    "stand",
    "number",
    "lead",
)


def _patch(order: Order, view: View) -> Listing:
    name, title = _named(order, view, "patch")
    rig = view.rig
    rows: list[Row] = []
    for gear, face, steps in PatchLists(rig).panels():
        box = rig.gear[gear]
        for step in steps:
            source, row = step.source, step.row
            rows.append(
                {
                    "box": words.box(rig, gear, order.edition.language),
                    "face": order.say(f"exchange.{face}"),
                    "unit": box.unit,
                    "bank": step.bank,
                    "plug": step.number,
                    "source": step.name,
                    "label": source.label or None,
                    "player": naming.person(rig, source.player) or None,
                    "mic": _before(order, rig, source) or None,
                    "stand": source.stand or None,
                    "number": row.channel.first + step.lane if row.channel is not None else None,
                    "lead": row.lead or None,
                }
            )
    return Listing(id=name, title=title, headings=_headings(order, *_PATCH), rows=tuple(rows))


# --- what each house gets -----------------------------------------------------------------------

_HAND_OFF = (
    "house_number",
    "end",
    "means",
    "source",
    "player",
    "mic",
    "number",
    "status",
    "may_feed",
    "works_off",
    "level",
    "why",
)


def _hand_off(order: Order, view: View, hand: HandOff) -> Listing:
    at = view.show.id if view.show else hand.venue.id
    where = hand.venue.name if view.show is None else naming.show(view, order.edition)
    return Listing(
        id=f"hand-off-{at}",
        title=order.say("exchange.hand-off_title", where=where),
        headings=_headings(order, *_HAND_OFF),
        rows=tuple(_line(order, view.rig, line) for line in hand.lines),
    )


def _line(order: Order, rig: Rig, line: HouseLine) -> Row:
    source = line.source
    mix = rig.mixes.get(line.mix)
    return {
        "house_number": line.house_number or line.number,
        "end": line.number,
        "means": order.say(f"exchange.means_{line.means}"),
        "source": line.name or (mix.name or mix.id if mix else None),
        "player": (naming.person(rig, source.player) or None) if source else None,
        "mic": (_before(order, rig, source) or None) if source else None,
        "number": line.channel,
        "status": order.say(f"exchange.status_{line.status}"),
        "may_feed": order.say("exchange.yes" if line.phantom_passes else "exchange.no"),
        "works_off": order.say("exchange.yes" if line.works_off else "exchange.no"),
        "level": order.say(f"exchange.level_{line.level}") if line.level else None,
        "why": order.edition.tell(line.why) or None,
    }


# --- leads and boxes ----------------------------------------------------------------------------

_LEADS = ("lead", "count", "type", "from", "to", "length", "colour", "loom", "plugged", "only_at")
_GEAR = (
    "box",
    "label",
    "type",
    "unit",
    "face",
    "where",
    "whose",
    "weight",
    "address",
    "firmware",
    "serial",
    "price",
    "home",
    "note",
)


def _leads(order: Order) -> Listing:
    rig = order.rig
    return Listing(
        id="leads",
        title=order.say("exchange.leads_title"),
        headings=_headings(order, *_LEADS, "note"),
        rows=tuple(_lead(order, rig, lead) for lead in rig.file.leads),
    )


def _lead(order: Order, rig: Rig, lead: Lead) -> Row:
    at = [rig.venues[name].name for name in lead.at_venues if name in rig.venues]
    every_show = lead.plugged == "every show"
    return {
        "lead": lead.label or lead.id,
        "count": count(rig, lead),
        "type": naming.type_name(rig, lead.type, order.edition),
        "from": _place(order, rig, str(lead.from_)),
        "to": _place(order, rig, str(lead.to)),
        "length": _figure(lead.length_m),
        "colour": lead.colour or None,
        "loom": lead.loom or None,
        "plugged": order.say("exchange.every_show" if every_show else "exchange.for_good"),
        "only_at": ", ".join(at) or None,
        "note": (lead.note if order.edition.private else "") or None,
    }


def _gear(order: Order) -> Listing:
    rig = order.rig
    return Listing(
        id="gear",
        title=order.say("exchange.gear_title"),
        headings=_headings(order, *_GEAR),
        rows=tuple(_box(order, rig, gear) for gear in rig.file.gear),
    )


def _box(order: Order, rig: Rig, gear: Gear) -> Row:
    type_ = rig.types[gear.type]
    placed = gear.placed.replace(" ", "_") if gear.placed else ""
    where = order.say(f"exchange.at_{placed}") if placed else ""
    if gear.with_person is not None and placed == "person":
        where = naming.person(rig, gear.with_person) or where
    if gear.inside is not None:
        where = order.say("exchange.in_box", box=words.box(rig, gear.inside))
    weight = gear.weight_kg if gear.weight_kg is not None else type_.weight_kg
    price = gear.price_eur if gear.price_eur is not None else type_.price_eur
    return {
        "box": rig.box_names[gear.id],
        "label": gear.label or None,
        "type": naming.type_name(rig, gear.type, order.edition),
        "unit": gear.unit,
        "face": order.say(f"exchange.{gear.face}") if gear.unit is not None else None,
        "where": where or None,
        "whose": order.say(f"paper.owner_{gear.owner}"),
        "weight": _figure(weight),
        "address": gear.address,
        "firmware": gear.firmware or None,
        "serial": gear.serial or None,
        "price": _figure(price),
        "home": gear.home or None,
        "note": (gear.note if order.edition.private else "") or None,
    }
