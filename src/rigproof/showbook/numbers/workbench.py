"""Leads: how long the stage wants them, which to buy, and what to cut and solder."""

from collections.abc import Iterable, Iterator, Mapping

from rigproof.checks.rule import View
from rigproof.physics.connectors import PINS, insert_pins, line_pins, phones_pins
from rigproof.rack import Cut, Way, cut_list
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
from rigproof.signal import words
from rigproof.wording import opening, some
from rigproof.wording.connectors import connector

_KINDS = {
    "xlr": "XLR",
    "jack-trs": "three-pole jack",
    "jack-ts": "two-pole jack",
    "mini-trs": "small three-pole jack",
    "rca": "phono plug",
}


def blocks(view: View) -> Iterator[Block]:
    """Lengths on the stage, then the cut list."""
    ways = view.lead_ways
    rig = view.rig
    if ways:
        yield heading("How long on the stage")
        yield table(
            [
                column("Lead", 1.1),
                column("From", 1.4),
                column("To", 1.2),
                numbers("Way", 1.3, unit="m"),
                numbers("With slack", 0.7, unit="m"),
                numbers("Stock", 0.7, unit="m"),
                numbers("Has", 1.2, unit="m"),
                column("Longest way, and where", 4),
            ],
            [_way(view, way) for way in ways],
        )
    else:
        yield say(f"{opening(needs(['where people, sources and the case stand']))}.")
    found = cut_list(rig)
    if found.cuts:
        yield heading("Cut list")
        yield table(
            [
                numbers("How many", 0.7),
                column("Kind", 2.2),
                numbers("Length", 1, unit="m"),
                numbers("Metres in all", 0.9),
                column("Plugs in all", 2.4),
                column("Labels", 3),
                column("Plugged", 0.9),
            ],
            [_cut(cut) for cut in found.cuts],
        )
        plugs = "; ".join(f"{count} {connector(name)}" for name, count in found.plugs.items())
        yield say(f"Plugs in all: {plugs}.")
        pins = "; ".join(_pins(found.plugs))
        if pins:
            yield run(f"Pins: {pins}.", "")
    if found.without_length:
        names = [f"the length of {name}" for name in found.without_length]
        yield say(f"{opening(needs(names, most=8))}.")
    yield left_out(
        "how a lead climbs a riser, what is coiled at its ends beyond a tenth to spare, and the "
        "leads to the house, whose box stands where the house says. Ways go at right angles, with "
        "half a metre up at the case, one at an instrument, one and a half at a microphone."
    )


def _way(view: View, way: Way) -> list[Cell]:
    where = way.venue.name if way.venue is not None else "as usual"
    if way.case_side:
        where += f", {way.case_side}" + ("" if way.agreed else " if told so")
    if way.short_m:
        where += f"; {plain(way.short_m)} m short"
    return [
        remark(way.name),
        remark(_end(view, way.start)),
        remark(_end(view, way.end)),
        cell(plain(way.route_m), way.provenance),
        cell(plain(way.needed_m)),
        cell(f"{way.stock_m:g}" if way.stock_m is not None else DASH),
        figure(way.has_m),
        remark(where),
    ]


def _end(view: View, name: str) -> str:
    if name in view.rig.sources:
        return words.source(view.rig, name)
    return words.box(view.rig, name)


def _pins(plugs: Iterable[str]) -> Iterator[str]:
    """What goes where in the plugs that are soldered; each kind once."""
    for family in dict.fromkeys(name.rpartition("-")[0] for name in plugs):
        if family not in PINS:
            continue
        told = f"{_KINDS[family]} {_poles(line_pins(family))}"
        if family == "jack-trs":
            told += f", for earphones {_poles(phones_pins())}, as an insert {_poles(insert_pins())}"
        yield told


def _poles(pins: Mapping[str, str]) -> str:
    return ", ".join(f"{pole} {carries}" for pole, carries in pins.items())


def _cut(cut: Cut) -> list[Cell]:
    total = cut.total_m
    return [
        cell(str(cut.count)),
        remark(cut.name),
        figure(cut.length_m),
        cell(plain(total) if total is not None else DASH),
        remark("; ".join(f"{count} {connector(name)}" for name, count in cut.plugs)),
        remark(some(cut.labels)),
        cell("for good" if cut.for_good else "every show"),
    ]
