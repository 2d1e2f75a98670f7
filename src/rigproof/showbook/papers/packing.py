"""The pack list: what travels in what, counted and weighed, ticked out and back."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property

import msgspec

from rigproof.rig import Bag
from rigproof.rig.quantity import Quantity
from rigproof.showbook import naming
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
    remark,
    roomy,
    say,
    table,
)
from rigproof.showbook.holdings import Item, holdings, lead_item, weight
from rigproof.showbook.lead_schedule import Run, schedule
from rigproof.showbook.papers import Order, Sheet

# Where airlines change the price of a piece, or refuse it. From memory; no source.
AIRLINE_STEPS_KG = (23.0, 32.0)

PACKED = (
    "microphones",
    "DI boxes",
    "stands",
    "earphones",
    "stage gear",
    "stage leads",
    "tails",
    "mains leads",
    "spares",
    "consumables",
)


class Thing(msgspec.Struct, frozen=True):
    """One line of the list: so many of one kind. `mass_kg` is that of all that is known of it."""

    count: int
    what: str
    which: str = ""
    mass_kg: float | None = None
    missing: tuple[str, ...] = ()  # what of it has a weight that nobody states


class Pack(msgspec.Struct, frozen=True):
    """What travels as one piece."""

    name: str
    things: tuple[Thing, ...]
    carried_by: str = ""
    rides: bool = False  # inside the case: no piece of its own

    @property
    def pieces(self) -> int:
        return sum(thing.count for thing in self.things)

    @property
    def mass_kg(self) -> float:
        return sum(thing.mass_kg for thing in self.things if thing.mass_kg is not None)

    @property
    def whole(self) -> bool:
        """Whether the weight of everything in it is known."""
        return not any(thing.missing for thing in self.things)


def sheets(order: Order) -> Iterator[Sheet]:
    """One list for the usual night."""
    packs = tuple(_packs(order))
    if packs:
        yield Sheet(
            id="packing",
            title=order.say("packing.title"),
            lead=order.say("packing.lead"),
            blocks=tuple(_blocks(order, packs)),
        )


def _blocks(order: Order, packs: Sequence[Pack]) -> Iterator[Block]:
    total = sum(pack.mass_kg for pack in packs)
    pieces = sum(not pack.rides for pack in packs)
    case = [pack for pack in packs if pack.name == order.say("packing.case")]
    told = [
        (
            order.say("packing.everything"),
            _mass(order, total, whole=all(pack.whole for pack in packs)),
            order.say("packing.pieces", n=pieces),
        )
    ]
    if case:
        # What lies in its drawers rolls with it.
        rolling = [*case, *(pack for pack in packs if pack.rides)]
        mass = _mass(order, sum(p.mass_kg for p in rolling), whole=all(p.whole for p in rolling))
        told.append((order.say("packing.rolling"), mass, ""))
    yield facts(told)
    yield _list(order, packs)
    yield heading(order.say("packing.who"))
    yield _carrying(order, packs)
    nameless = [name for pack in packs for thing in pack.things for name in thing.missing]
    if nameless:
        yield say(order.say("packing.no_weight", names=order.edition.some(nameless)))
    yield say(_airline(order, packs))
    yield say(order.say("packing.fault"))
    yield caution(order.say("packing.lifting_title"), order.say("packing.lifting"))
    yield left_out(order.say("packing.left_out"))


def _mass(order: Order, mass_kg: float, *, whole: bool) -> str:
    said = weight(order.edition, mass_kg)
    return said if whole else order.say("packing.at_least", mass=said)


def _list(order: Order, packs: Sequence[Pack]) -> Block:
    rows: list[list[Cell]] = []
    groups: list[tuple[int, str]] = []
    for pack in packs:
        mass = _mass(order, pack.mass_kg, whole=pack.whole)
        key = "packing.bag_carried" if pack.carried_by else "packing.bag"
        said = {"name": pack.name, "n": pack.pieces, "mass": mass}
        if pack.carried_by:
            said["who"] = pack.carried_by
        groups.append((len(rows), order.say(key, **said)))
        rows += [
            [
                amount(thing.count),
                remark(thing.what),
                remark(thing.which),
                _thing_mass(order, thing),
                cell(""),
                cell(""),
            ]
            for thing in pack.things
        ]
    return roomy(
        [
            column(order.say("packing.count"), 0, look="number"),
            column(order.say("packing.what"), 3),
            column(order.say("packing.which"), 2.6, look="small"),
            column(order.say("packing.weight"), 0, look="figures"),
            column(order.say("packing.out"), 0, look="tick"),
            column(order.say("packing.back"), 0, look="tick"),
        ],
        rows,
        groups,
    )


def _thing_mass(order: Order, thing: Thing) -> Cell:
    if thing.mass_kg is None:
        return cell("?" if thing.missing else "")
    return cell(_mass(order, thing.mass_kg, whole=not thing.missing))


def _carrying(order: Order, packs: Sequence[Pack]) -> Block:
    found: dict[str, list[Pack]] = {}
    for pack in packs:
        if not pack.rides:
            found.setdefault(pack.carried_by or order.say("packing.nobody"), []).append(pack)
    return table(
        [
            column(order.say("packing.person"), 1),
            column(order.say("packing.carries"), 3),
            column(order.say("packing.weight"), 1, look="figures"),
        ],
        [
            [
                remark(who),
                remark(", ".join(pack.name for pack in carried)),
                cell(
                    _mass(
                        order,
                        sum(pack.mass_kg for pack in carried),
                        whole=all(pack.whole for pack in carried),
                    )
                ),
            ]
            for who, carried in found.items()
        ],
    )


def _airline(order: Order, packs: Sequence[Pack]) -> str:
    beyond = [
        order.say("packing.at", name=pack.name, mass=weight(order.edition, pack.mass_kg))
        for pack in packs
        if not pack.rides and pack.mass_kg > AIRLINE_STEPS_KG[0]
    ]
    first, second = (order.edition.mass(step_kg, 0) for step_kg in AIRLINE_STEPS_KG)
    steps = {"first": first, "second": second}
    if not beyond:
        return order.say("packing.airline_none", **steps)
    return order.say("packing.airline", names=", ".join(beyond), **steps)


# What goes into what


class Stock(msgspec.Struct, frozen=True, dict=True):
    """Everything there is, by the kinds that a bag can hold."""

    order: Order

    @cached_property
    def items(self) -> tuple[Item, ...]:
        return holdings(self.order.view)

    @cached_property
    def runs(self) -> tuple[Run, ...]:
        return schedule(self.order.view)

    def of(self, kind: str, but: frozenset[str]) -> tuple[Thing, ...]:
        """The things of one kind; boxes that a bag names are not among them."""
        order = self.order
        if kind in _ITEM_KINDS:
            return tuple(self._thing(i) for i in self.items if i.kind == _ITEM_KINDS[kind])
        if kind in _RUN_GROUPS:
            return self._leads([r for r in self.runs if r.group in _RUN_GROUPS[kind]])
        if kind == "mains leads":
            return self._leads([r for r in self.runs if r.start == "wall"])
        if kind == "stage gear":
            return tuple(
                self.box(gear.id)
                for gear in order.rig.file.gear
                if gear.placed != "case" and gear.owner == "band" and gear.id not in but
            )
        if kind == "stands":
            own = [s for s in order.rig.file.sources if s.owner == "band"]
            stands = Counter(source.stand for source in own if source.stand)
            return tuple(
                Thing(count, said, missing=(said,))
                for stand, count in sorted(stands.items())
                for said in (order.say("packing.stand", stand=stand),)
            )
        return tuple(
            Thing(
                one.count,
                one.what,
                order.say("packing.per_show", n=one.per_show) if one.per_show else "",
            )
            for one in order.rig.file.consumables
        )

    def _thing(self, item: Item) -> Thing:
        kind = naming.type_name(self.order.rig, item.type_id, self.order.edition)
        if item.kind == "spare":
            kind = self.order.say("packing.spare", what=kind)
        if item.length_m is not None:
            kind = f"{kind}, {self.order.edition.length(float(item.length_m))}"
        return _weighed(item.count, kind, ", ".join(item.names), item.all_kg)

    def _leads(self, runs: Sequence[Run]) -> tuple[Thing, ...]:
        """Leads of one kind and length on one line: that is how they are counted."""
        found: dict[tuple[str, float], list[Run]] = {}
        for run in runs:
            key = (run.type_id or "", float(run.length_m) if run.length_m is not None else 0.0)
            found.setdefault(key, []).append(run)
        return tuple(self._lead(alike) for _, alike in sorted(found.items()))

    def _lead(self, alike: Sequence[Run]) -> Thing:
        first, count = alike[0], sum(run.count for run in alike)
        rig, edition = self.order.rig, self.order.edition
        mass = None
        kind = self.order.say("packing.mains_leads")
        if first.type_id is not None:
            each = lead_item(rig, first).each_kg
            mass = None if each is None else Quantity(float(each) * count, each.provenance)
            kind = naming.type_name(rig, first.type_id, edition)
        if first.length_m is not None:
            kind = f"{kind}, {edition.length(float(first.length_m))}"
        return _weighed(count, kind, ", ".join(dict.fromkeys(run.label for run in alike)), mass)

    def box(self, gear_id: str) -> Thing:
        """One box by its name."""
        rig = self.order.rig
        gear = rig.gear[gear_id]
        stated = gear.weight_kg if gear.weight_kg is not None else rig.types[gear.type].weight_kg
        return _weighed(1, rig.box_names[gear_id], gear.label, stated)


_ITEM_KINDS: Mapping[str, str] = {
    "microphones": "microphone",
    "DI boxes": "di",
    "earphones": "earphone",
    "spares": "spare",
}
_RUN_GROUPS: Mapping[str, frozenset[str]] = {
    "stage leads": frozenset({"stage", "microphones"}),
    "tails": frozenset({"house"}),
}


def _packs(order: Order) -> Iterator[Pack]:
    stock = Stock(order)
    named = frozenset(name for bag in order.rig.file.bags for name in bag.gear)
    if order.rig.file.case is not None:
        yield Pack(order.say("packing.case"), tuple(_case(order, stock)))
    held: set[str] = set()
    for bag in order.rig.file.bags:
        yield _bag(order, stock, bag, named, held)
        held.update(bag.holds)
    for kind in PACKED:
        things = stock.of(kind, named) if kind not in held else ()
        if things:
            yield Pack(_loose(order, kind), things)


def _loose(order: Order, kind: str) -> str:
    """What no bag holds stands by its kind, and says so where the band has bags at all."""
    key = kind.lower().replace(" ", "_")
    name = order.say(f"packing.{key}")
    if not order.rig.file.bags:
        return name
    return f"{order.say('packing.nowhere')}: {name}"


def _bag(order: Order, stock: Stock, bag: Bag, named: frozenset[str], held: set[str]) -> Pack:
    name = bag.name or bag.id
    things: list[Thing] = []
    if bag.weight_kg is not None:
        things.append(Thing(1, order.say("packing.bag_itself"), "", float(bag.weight_kg)))
    for kind in bag.holds:
        if kind not in held:
            things += stock.of(kind, named)
    things += [stock.box(gear) for gear in bag.gear]
    things += [Thing(1, what) for what in bag.also]
    if bag.inside is not None:
        drawer = order.rig.box_names[bag.inside]
        name = order.say("packing.in_drawer", name=name, drawer=drawer)
    return Pack(
        name,
        tuple(things),
        naming.person(order.rig, bag.carried_by),
        rides=bag.inside is not None,
    )


def _case(order: Order, stock: Stock) -> Iterator[Thing]:
    """The case and what stays in it: counted, because a box lent out is missed too late."""
    rig = order.rig
    case = next(item for item in stock.items if item.kind == "case")
    yield _weighed(1, order.say("packing.case_itself"), case.names[0], case.all_kg)
    boxes = [gear for gear in rig.file.gear if gear.placed == "case" and gear.owner == "band"]
    if boxes:
        labels = ", ".join(gear.label or gear.id for gear in boxes)
        parts = [stock.box(gear.id) for gear in boxes]
        yield _together(order.say("packing.case_boxes"), labels, parts)
    inside = [run for run in stock.runs if run.group == "case"]
    if inside:
        parts = [_weighed(r.count, r.label, "", lead_item(rig, r).all_kg) for r in inside]
        yield _together(order.say("packing.case_leads"), "", parts)
    cords = sum(run.count for run in stock.runs if run.group == "mains" and run.start != "wall")
    if cords:
        yield Thing(cords, order.say("packing.case_mains"))


def _weighed(count: int, what: str, which: str, mass_kg: Quantity | None) -> Thing:
    if mass_kg is None:
        return Thing(count, what, which, missing=(what,))
    return Thing(count, what, which, float(mass_kg))


def _together(what: str, which: str, parts: Sequence[Thing]) -> Thing:
    return Thing(
        sum(part.count for part in parts),
        what,
        which,
        sum(part.mass_kg for part in parts if part.mass_kg is not None),
        tuple(name for part in parts for name in part.missing),
    )
