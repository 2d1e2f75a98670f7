"""Leads: how long the stage wants them, which to buy, and what to cut and solder."""

from collections.abc import Iterable, Iterator, Mapping

from rigproof.checks.rule import View
from rigproof.physics.connectors import PINS, insert_pins, line_pins, phones_pins
from rigproof.rack import Cut, Way, cut_list
from rigproof.rig.quantity import Quantity
from rigproof.showbook import naming
from rigproof.showbook.blocks import (
    DASH,
    Block,
    Cell,
    cell,
    column,
    figure,
    heading,
    left_out,
    needs,
    numbers,
    plain,
    remark,
    run,
    say,
    table,
)
from rigproof.showbook.edition import Edition
from rigproof.signal import words
from rigproof.wording import opening, some
from rigproof.wording.connectors import connector
from rigproof.wording.sentences import Figure, joined, sentence

_KINDS = {
    "xlr": "XLR",
    "jack-trs": sentence("three-pole jack"),
    "jack-ts": sentence("two-pole jack"),
    "mini-trs": sentence("small three-pole jack"),
    "rca": sentence("phono plug"),
}


def blocks(view: View, edition: Edition) -> Iterator[Block]:
    """Lengths on the stage, then the cut list."""
    ways = view.lead_ways
    rig = view.rig
    if ways:
        yield heading(sentence("How long on the stage"))
        yield table(
            [
                column(sentence("Lead"), 1.1),
                column(sentence("From"), 1.4),
                column(sentence("To"), 1.2),
                numbers(sentence("Way"), 1.3, unit=edition.length_unit),
                numbers(sentence("With slack"), 0.8, unit=edition.length_unit),
                numbers(sentence("Stock"), 0.8, unit=edition.length_unit),
                numbers(sentence("Has"), 1.2, unit=edition.length_unit),
                column(sentence("Longest way, and where"), 3.8),
            ],
            [_way(view, way, edition) for way in ways],
        )
    else:
        yield say(
            sentence(
                "{needs}.",
                needs=opening(needs([sentence("where people, sources and the case stand")])),
            )
        )
    found = cut_list(rig)
    if found.cuts:
        yield heading(sentence("Cut list"))
        yield table(
            [
                numbers(sentence("How many"), 0.7),
                column(sentence("Kind"), 2.2),
                numbers(sentence("Length"), 1, unit=edition.length_unit),
                numbers(_in_all(edition), 0.9),
                column(sentence("Plugs in all"), 2.4),
                column(sentence("Labels"), 3),
                column(sentence("Plugged"), 0.9),
            ],
            [_cut(view, cut, edition) for cut in found.cuts],
        )
        yield say(sentence("Plugs in all: {plugs}.", plugs=_plugs(found.plugs.items(), edition)))
        pins = joined("; ", _pins(found.plugs))
        if pins:
            yield run(sentence("Pins: {pins}.", pins=pins), "")
    if found.without_length:
        names = [sentence("the length of {name}", name=name) for name in found.without_length]
        yield say(sentence("{needs}.", needs=opening(needs(names, most=8))))
    yield left_out(
        sentence(
            "how a lead climbs a riser, what is coiled at its ends beyond a tenth to "
            "spare, and the leads to the house, whose box stands where the house "
            "says. Ways go at right angles, with half a metre up at the case, one at "
            "an instrument, one and a half at a microphone."
        )
    )


def _way(view: View, way: Way, edition: Edition) -> list[Cell]:
    where = way.venue.name if way.venue is not None else sentence("as usual")
    if way.case_side:
        side = sentence(way.case_side)
        where = joined(
            ", ", (where, side if way.agreed else sentence("{side} if told so", side=side))
        )
    if way.short_m:
        where = joined(
            "; ", (where, sentence("{length} short", length=edition.length(way.short_m)))
        )
    return [
        remark(way.name),
        remark(_end(view, way.start)),
        remark(_end(view, way.end)),
        cell(plain(edition.lengths(way.route_m)), way.provenance),
        cell(plain(edition.lengths(way.needed_m))),
        _stock(way.stock_m, edition),
        _length(way.has_m, edition),
        remark(where),
    ]


def _stock(length_m: float | None, edition: Edition) -> Cell:
    if length_m is None:
        return cell(DASH)
    if edition.measures == "imperial":
        return cell(plain(edition.lengths(length_m)))
    return cell(Figure(f"{length_m:g}"))


def _length(length_m: Quantity | None, edition: Edition) -> Cell:
    if length_m is None:
        return figure(None)
    return figure(Quantity(edition.lengths(length_m), length_m.provenance))


def _in_all(edition: Edition) -> str:
    if edition.measures == "imperial":
        return sentence("Feet in all")
    return sentence("Metres in all")


def _plugs(plugs: Iterable[tuple[str, int]], edition: Edition) -> str:
    named = (
        sentence("{count} {plug}", count=count, plug=connector(name, edition.language))
        for name, count in plugs
    )
    return joined("; ", named)


def _end(view: View, name: str) -> str:
    if name in view.rig.sources:
        return words.source(view.rig, name)
    return words.box(view.rig, name)


def _pins(plugs: Iterable[str]) -> Iterator[str]:
    """What goes where in the plugs that are soldered; each kind once."""
    for family in dict.fromkeys(name.rpartition("-")[0] for name in plugs):
        if family not in PINS:
            continue
        told = sentence("{plug} {poles}", plug=_KINDS[family], poles=_poles(line_pins(family)))
        if family == "jack-trs":
            told = sentence(
                "{line}, for earphones {phones}, as an insert {insert}",
                line=told,
                phones=_poles(phones_pins()),
                insert=_poles(insert_pins()),
            )
        yield told


def _poles(pins: Mapping[str, str]) -> str:
    return joined(
        ", ",
        (
            sentence("{pole} {carries}", pole=sentence(pole), carries=sentence(carries))
            for pole, carries in pins.items()
        ),
    )


def _cut(view: View, cut: Cut, edition: Edition) -> list[Cell]:
    total = cut.total_m
    return [
        cell(str(cut.count)),
        remark(naming.type_name(view.rig, cut.type_id, edition)),
        _length(cut.length_m, edition),
        cell(plain(edition.lengths(total)) if total is not None else DASH),
        remark(_plugs(cut.plugs, edition)),
        remark(some(cut.labels)),
        cell(sentence("for good") if cut.for_good else sentence("every show")),
    ]
