"""The patch by panel: what goes into which socket, box by box, to tick as it goes in."""

from collections.abc import Iterator, Mapping
from typing import Any

from rigproof.showbook import walk
from rigproof.showbook.blocks import Block, Cell, cell, column, heading, remark, roomy, say
from rigproof.showbook.papers import Order, Sheet


def sheets(order: Order) -> Iterator[Sheet]:
    """One walk, the plugs that a show changes, and the leads that go with it."""
    said = walk.page(order.view, order.verdict.views[1:], order.edition)
    yield Sheet(
        id="patch",
        title=order.say("patch.title"),
        lead=walk.lead(order.rig, order.edition),
        form="patch",
        data=said,
        blocks=tuple(_blocks(order, said)),
    )


def _blocks(order: Order, said: Mapping[str, Any]) -> Iterator[Block]:
    """The same walk in plain form."""
    say_ = order.say
    rows: list[list[Cell]] = []
    groups: list[tuple[int, str]] = []
    for panel in said["panels"]:
        groups.append((len(rows), panel["group"]))
        rows += [
            [
                cell(""),
                cell(row["socket"]),
                cell(row["source"]),
                cell(row["label"]),
                cell(row["player"]),
                remark(row["microphone"]),
                remark(row["stand"]),
                cell(row["channel"]),
            ]
            for row in panel["rows"]
        ]
    if rows:
        yield roomy(
            [
                column(say_("patch.in"), 0, look="tick"),
                column(say_("patch.socket"), 0, look="number"),
                column(say_("patch.source"), 1.3, look="name"),
                column(say_("patch.label"), 0.8),
                column(say_("patch.player"), 0.7),
                column(say_("patch.microphone"), 2, look="small"),
                column(say_("patch.stand"), 1.2, look="small"),
                column(say_("patch.channel"), 0, look="figures"),
            ],
            rows,
            groups,
        )
    else:
        yield say(say_("patch.nothing"))
    if said["held"]["text"]:
        yield say(said["held"]["text"])
    for change in said["changes"]:
        yield heading(change["title"])
        if change["new"]:
            yield roomy(
                [
                    column(say_("patch.socket"), 1.2),
                    column(say_("patch.must_read"), look="name"),
                    column(say_("patch.on_label")),
                    column(say_("patch.in"), 0, look="tick"),
                ],
                [
                    [remark(row["socket"]), cell(row["source"]), cell(row["label"]), cell("")]
                    for row in change["new"]
                ],
            )
        if change["gone"]:
            yield say(change["gone"])
    if said["leads"]:
        yield heading(say_("patch.leads"))
        yield _leads(order, said)
    mains = said["mains"]
    if mains["text"]:
        yield heading(say_("patch.mains"))
        yield say(mains["text"])
    if mains["rows"]:
        yield roomy(
            [
                column(say_("patch.on"), 0, look="tick"),
                column(say_("patch.step"), 0, look="number"),
                column(say_("patch.switch_on"), 4, look="name"),
                column(say_("patch.ready"), 1, look="figures"),
            ],
            [
                [cell(""), cell(row["step"]), remark(row["names"]), cell(row["ready"])]
                for row in mains["rows"]
            ],
        )


def _leads(order: Order, said: Mapping[str, Any]) -> Block:
    say_ = order.say
    return roomy(
        [
            column(say_("patch.in"), 0, look="tick"),
            column(say_("patch.label"), 0.9, look="name"),
            column(say_("patch.how_many"), 0, look="figures"),
            column(say_("patch.what"), 1.3, look="small"),
            column(say_("patch.from"), 1.3),
            column(say_("patch.to"), 1.3),
            column(say_("patch.long"), 0, look="figures"),
            column(say_("patch.note"), 0.9, look="small"),
        ],
        [
            [
                cell(""),
                cell(row["label"]),
                cell(row["count"]),
                remark(row["kind"]),
                remark(row["from"]),
                remark(row["to"]),
                cell(row["length"]),
                remark(row["note"]),
            ]
            for row in said["leads"]
        ],
    )
