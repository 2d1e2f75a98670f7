"""What the band owns and carries, counted by kind, with what each weighs and costs.

The parts list, the shopping list and the pack list read the same counts. What the house or a guest
brings is not in them.
"""

from collections.abc import Iterator
from typing import Literal

import msgspec

from rigproof.checks.rule import View
from rigproof.rack.occupancy import seats
from rigproof.rig import Rig
from rigproof.rig.band import Source
from rigproof.rig.quantity import Euros, Kilograms, Metres, Quantity, weakest
from rigproof.showbook.edition import Edition
from rigproof.showbook.lead_schedule import Run, schedule

Kind = Literal["case", "gear", "microphone", "di", "earphone", "lead", "spare"]
KINDS: tuple[Kind, ...] = ("case", "gear", "microphone", "di", "earphone", "lead", "spare")

# Holes that a front panel is fixed by: two on each side, on the outermost units of a taller one
# four. Common practice, no source.
SCREWS_LOW = 4
SCREWS_TALL = 8
TALL_UNITS = 4
REAR_SCREWS = 4


class Item(msgspec.Struct, frozen=True, kw_only=True):
    """Things of one kind. `each_*` is None where nobody states it. `names`: who or what for."""

    kind: Kind
    type_id: str
    count: int
    names: tuple[str, ...] = ()
    length_m: Metres | None = None
    each_kg: Quantity | None = None
    each_eur: Quantity | None = None
    colours: tuple[str, ...] = ()
    serials: tuple[str, ...] = ()

    @property
    def all_kg(self) -> Quantity | None:
        return _times(self.each_kg, self.count)

    @property
    def all_eur(self) -> Quantity | None:
        return _times(self.each_eur, self.count)


def _times(each: Quantity | None, count: int) -> Quantity | None:
    return None if each is None else Quantity(float(each) * count, each.provenance)


def holdings(view: View) -> tuple[Item, ...]:
    """Everything, like things together, in the order of KINDS and of the types' names."""
    rig = view.rig
    found = [
        *_case(rig),
        *_gear(rig),
        *_at_sources(rig),
        *_earphones(rig),
        *_leads(view),
        *_spares(rig),
    ]
    found = [item for item in found if not _mere_contact(item)]
    merged: dict[tuple[object, ...], Item] = {}
    for item in found:
        key = (item.kind, item.type_id, item.length_m, item.each_kg, item.each_eur)
        known = merged.get(key)
        if known is not None:
            item = msgspec.structs.replace(
                item,
                count=known.count + item.count,
                names=known.names + item.names,
                colours=known.colours + item.colours,
                serials=known.serials + item.serials,
            )
        merged[key] = item
    order = {type_id: number for number, type_id in enumerate(sorted(rig.types))}
    return tuple(
        sorted(
            merged.values(),
            key=lambda i: (KINDS.index(i.kind), order[i.type_id], float(i.length_m or 0.0)),
        )
    )


def _mere_contact(item: Item) -> bool:
    """A card in its slot, for one: joined by something that nobody buys or carries."""
    figures = (item.each_eur, item.each_kg)
    return all(figure is not None and float(figure) == 0 for figure in figures)


def _case(rig: Rig) -> Iterator[Item]:
    case = rig.file.case
    if case is None:
        return
    type_ = rig.types[case.type]
    weight = case.weight_kg if case.weight_kg is not None else type_.weight_kg
    yield Item(
        kind="case",
        type_id=case.type,
        count=1,
        names=(case.name or case.id,),
        each_kg=weight,
        each_eur=type_.price_eur,
    )


def _gear(rig: Rig) -> Iterator[Item]:
    for gear in rig.file.gear:
        if gear.owner != "band":
            continue
        type_ = rig.types[gear.type]
        yield Item(
            kind="gear",
            type_id=gear.type,
            count=1,
            names=(rig.box_names[gear.id],),
            serials=(gear.serial,) if gear.serial else (),
            each_kg=gear.weight_kg if gear.weight_kg is not None else type_.weight_kg,
            each_eur=gear.price_eur if gear.price_eur is not None else type_.price_eur,
        )


def _at_sources(rig: Rig) -> Iterator[Item]:
    for source in rig.file.sources:
        if source.owner != "band":
            continue
        if source.mic is not None:
            yield _plain(rig, "microphone", source.mic, source.lanes, source.name)
        if source.di is not None:
            yield _plain(rig, "di", source.di, boxes_of(rig, source), source.name)


def boxes_of(rig: Rig, source: Source) -> int:
    """A DI with an input for each side is one box for a pair."""
    assert source.di is not None
    ports = rig.types[source.di].ports
    inputs = sum(port.count for port in ports if port.way == "in")
    return 1 if inputs >= source.lanes else source.lanes


def _earphones(rig: Rig) -> Iterator[Item]:
    for person in rig.file.people:
        if person.ears is not None and person.ears.earphones is not None:
            yield _plain(rig, "earphone", person.ears.earphones, 1, person.name)


def _plain(rig: Rig, kind: Kind, type_id: str, count: int, name: str) -> Item:
    type_ = rig.types[type_id]
    return Item(
        kind=kind,
        type_id=type_id,
        count=count,
        names=(name,),
        each_kg=type_.weight_kg,
        each_eur=type_.price_eur,
    )


def _leads(view: View) -> Iterator[Item]:
    for run in schedule(view):
        if run.type_id is not None:
            yield lead_item(view.rig, run)


def lead_item(rig: Rig, run: Run) -> Item:
    """The leads of one run; what each weighs and costs is its plugs and so much for each metre."""
    assert run.type_id is not None
    each_kg, each_eur = one_lead(rig, run.type_id, run.length_m)
    colour = run.lead.colour if run.lead else ""
    return Item(
        kind="lead",
        type_id=run.type_id,
        count=run.count,
        names=(run.label,),
        length_m=run.length_m,
        each_kg=each_kg,
        each_eur=each_eur,
        colours=(colour,) if colour else (),
    )


def one_lead(
    rig: Rig, type_id: str, length_m: Metres | None
) -> tuple[Kilograms | None, Euros | None]:
    """Weight and price of one lead; None where its length or a figure is missing."""
    type_ = rig.types[type_id]
    body = type_.lead
    kg = _by_metre(type_.weight_kg, body.weight_kg_per_m if body else None, length_m)
    eur = _by_metre(type_.price_eur, body.price_eur_per_m if body else None, length_m)
    return (
        Kilograms(float(kg), kg.provenance) if kg is not None else None,
        Euros(float(eur), eur.provenance) if eur is not None else None,
    )


def _by_metre(
    plugs: Quantity | None, per_metre: Quantity | None, length_m: Metres | None
) -> Quantity | None:
    if per_metre is None:
        return plugs
    if length_m is None:
        return None
    parts = [part for part in (plugs, per_metre) if part is not None]
    # A length that is only planned makes the sum no better.
    worth = weakest(*parts, length_m)
    return Quantity(float(plugs or 0.0) + float(per_metre) * float(length_m), worth)


def _spares(rig: Rig) -> Iterator[Item]:
    for spare in rig.file.spares:
        each_kg, each_eur = one_lead(rig, spare.type, spare.length_m)
        yield Item(
            kind="spare",
            type_id=spare.type,
            count=spare.count,
            length_m=spare.length_m,
            each_kg=each_kg,
            each_eur=each_eur,
        )


def weight(edition: Edition, mass_kg: float) -> str:
    """A weight as lists of small things have it: to a hundredth below one kilogram or pound.

    >>> weight(Edition(), 0.03), weight(Edition(), 7.41), weight(Edition(measures="imperial"), 0.02)
    ('0.03 kg', '7.4 kg', '0.04 lb')
    """
    return edition.mass(mass_kg, 1 if edition.masses(mass_kg) >= 1 else 2)


def screws(rig: Rig) -> int:
    """Rack screws, each with a cage nut, for every box on the rails."""
    seen: set[tuple[int, str]] = set()
    count = 0
    for seat in seats(rig):
        if (seat.low, seat.face) in seen:
            continue  # the other half of a tray
        seen.add((seat.low, seat.face))
        count += screws_for(seat.units, rear_support=seat.gear.rear_support)
    return count


def screws_for(units: int, *, rear_support: bool) -> int:
    """Screws for one box: four, or eight for a tall one, and four more at a rear support."""
    front = SCREWS_LOW if units < TALL_UNITS else SCREWS_TALL
    return front + (REAR_SCREWS if rear_support else 0)
