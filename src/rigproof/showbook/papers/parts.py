"""Parts and shopping list: what the rig is made of, counted, weighed and, for the band, priced."""

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby

from rigproof.rig.quantity import Quantity, weakest
from rigproof.showbook import naming
from rigproof.showbook.blocks import (
    Block,
    Cell,
    Column,
    amount,
    cell,
    column,
    facts,
    halves,
    heading,
    left_out,
    numbers,
    remark,
    say,
    table,
)
from rigproof.showbook.holdings import (
    REAR_SCREWS,
    SCREWS_LOW,
    SCREWS_TALL,
    TALL_UNITS,
    Item,
    holdings,
    screws,
    weight,
)
from rigproof.showbook.lead_schedule import schedule
from rigproof.showbook.papers import Order, Sheet
from rigproof.wording.connectors import connector

_CORDED = frozenset({"lead", "spare"})


def sheets(order: Order) -> Iterator[Sheet]:
    """One sheet; the shop's has no prices and says what to order, not for whom."""
    found = holdings(order.view)
    if not found:
        return
    yield Sheet(
        id="parts",
        title=order.say("parts.title"),
        lead=order.say("parts.lead"),
        blocks=tuple(_blocks(order, found)),
    )


def _blocks(order: Order, found: Sequence[Item]) -> Iterator[Block]:
    private = order.edition.private
    if private:
        yield from _totals(order, found)
    yield left_out(order.say("parts.left_out" if private else "parts.left_out_shop"))
    yield heading(order.say("parts.boxes"))
    yield _table(order, [item for item in found if item.kind not in _CORDED])
    corded = [item for item in found if item.kind in _CORDED]
    if corded:
        yield heading(order.say("parts.leads"))
        yield _table(order, corded)
    yield heading(order.say("parts.small"))
    yield halves(
        [numbers(order.say("parts.count"), 0), column(order.say("parts.what"), 5)],
        [[amount(count), remark(what)] for count, what in _small(order)],
    )


def _totals(order: Order, found: Sequence[Item]) -> Iterator[Block]:
    weights = [item.all_kg for item in found if item.all_kg is not None]
    prices = [item.all_eur for item in found if item.all_eur is not None]
    yield facts(
        [
            (order.say("parts.weight"), order.edition.mass(sum(weights)), _worth(order, weights)),
            (
                order.say("parts.price"),
                f"{order.edition.number(sum(prices), 0)} EUR",
                _worth(order, prices),
            ),
        ]
    )
    unknown = []
    for key, nameless in (
        ("parts.no_price", [item for item in found if item.each_eur is None]),
        ("parts.no_weight", [item for item in found if item.each_kg is None]),
    ):
        if nameless:
            names = order.edition.some(
                naming.type_name(order.rig, i.type_id, order.edition) for i in nameless
            )
            unknown.append(order.say(key, names=names))
    if unknown:
        yield say(" ".join(unknown))


def _worth(order: Order, parts: Sequence[Quantity]) -> str:
    worth = order.say(f"paper.{weakest(*parts)}") if parts else ""
    return order.say("parts.worth", worth=worth) if worth else ""


# The tables


def _table(order: Order, found: Sequence[Item]) -> Block:
    corded = found[0].kind in _CORDED if found else False
    rows: list[list[Cell]] = []
    groups: list[tuple[int, str]] = []
    for kind, members in groupby(found, key=lambda item: item.kind):
        groups.append((len(rows), order.say(f"parts.group_{kind}")))
        rows += [_row(order, item, corded=corded) for item in members]
    columns = _columns(order, corded=corded)
    foot: list[Cell] = [cell("")] * len(columns)
    foot[1] = cell(order.say("parts.sum"))
    weights = [item.all_kg for item in found if item.all_kg is not None]
    prices = [item.all_eur for item in found if item.all_eur is not None]
    if order.edition.private:
        foot[-1] = cell(order.edition.number(sum(prices), 0))
        foot[-3] = cell(order.edition.mass(sum(weights)))
    else:
        foot[-1] = cell(order.edition.mass(sum(weights)))
    return table(columns, rows, foot, groups)


def _columns(order: Order, *, corded: bool) -> list[Column]:
    what = column(order.say("parts.what"), 3.2 if corded else 3)
    made = [numbers(order.say("parts.count"), 0), what]
    if corded:
        made += [
            numbers(order.say("parts.length"), 0),
            column(order.say("parts.plugs"), 3.6),
        ]
    else:
        made.append(numbers(order.say("parts.units"), 0))
    if order.edition.reader != "shop" and not corded:
        made.append(column(order.say("parts.for_what"), 2.9))
    if not corded:
        made.append(numbers(order.say("parts.each_kg"), 1.45))
    # A weight and what it is worth stand in one line: of leads here, of boxes at the weight of one.
    made.append(numbers(order.say("parts.all_kg"), 1.5 if corded else 0.9))
    if order.edition.private:
        made += [
            numbers(order.say("parts.each_eur"), 1.2, unit="EUR"),
            numbers(order.say("parts.all_eur"), 0.8, unit="EUR"),
        ]
    return made


def _row(order: Order, item: Item, *, corded: bool) -> list[Cell]:
    edition = order.edition
    type_ = order.rig.types[item.type_id]
    what = naming.type_name(order.rig, item.type_id, edition)
    if item.colours:
        what = f"{what} ({', '.join(dict.fromkeys(item.colours))})"
    row = [amount(item.count), remark(what)]
    if corded:
        row += [
            cell(edition.length(float(item.length_m)) if item.length_m is not None else ""),
            remark(_ends(order, item)),
        ]
    else:
        units = type_.size.units if type_.size else None
        row.append(amount(units * item.count) if units else cell(""))
    if edition.reader != "shop" and not corded:
        row.append(remark(_for(order, item)))
    if not corded:
        row.append(_mass(order, item.each_kg))
    row.append(_mass(order, item.all_kg, told=corded))
    if edition.private:
        row += [_euros(order, item.each_eur), _euros(order, item.all_eur, told=False)]
    return row


def _for(order: Order, item: Item) -> str:
    """What it is for; the band's list, which insurers and customs ask for, has the serials too."""
    names = order.edition.some(item.names)
    if not item.serials or not order.edition.private:
        return names
    return order.say("parts.serials", names=names, serials=", ".join(item.serials))


def _mass(order: Order, value: Quantity | None, *, told: bool = True) -> Cell:
    """A weight; where it comes from stands at the weight of one."""
    if value is None:
        return cell("?")
    return cell(weight(order.edition, float(value)), value.provenance if told else "")


def _euros(order: Order, value: Quantity | None, *, told: bool = True) -> Cell:
    if value is None:
        return cell("?")
    return Cell(
        v=order.edition.number(float(value), 2), p=value.provenance if told else "", n=float(value)
    )


def _ends(order: Order, item: Item) -> str:
    body = order.rig.types[item.type_id].lead
    if body is None:
        return ""
    language = order.edition.language
    said = []
    for end in (body.a, body.b):
        words = connector(end.connector, language)
        said.append(words if end.count == 1 else f"{end.count} \u00d7 {words}")
    return " \u2013 ".join(said)


# Small parts


def _small(order: Order) -> Iterator[tuple[int, str]]:
    rig = order.rig
    if count := screws(rig):
        yield (
            count,
            order.say(
                "parts.small_screws",
                low=SCREWS_LOW,
                high=SCREWS_TALL,
                tall=TALL_UNITS,
                rear=REAR_SCREWS,
            ),
        )
    runs = schedule(order.view)
    if runs:
        yield 2 * sum(run.count for run in runs), order.say("parts.small_labels")
    cords: Counter[tuple[str, str]] = Counter()
    for run in runs:
        bought = run.group == "mains" and run.type_id is None
        supply = rig.types[rig.gear[run.end].type].power if run.end in rig.gear else None
        if bought and supply is not None and not supply.external_supply:
            cords[run.a.connector, run.b.connector] += run.count
    for (a, b), count in sorted(cords.items()):
        language = order.edition.language
        ends = {"a": connector(a, language), "b": connector(b, language)}
        yield count, order.say("parts.small_mains", **ends)
    stands = Counter(s.stand for s in rig.file.sources if s.stand and s.owner == "band")
    for stand, count in sorted(stands.items()):
        yield count, order.say("parts.small_stand", stand=stand)
    for one in rig.file.consumables:
        yield one.count, order.say("parts.small_consumable", what=one.what)
