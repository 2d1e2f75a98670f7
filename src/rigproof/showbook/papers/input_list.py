"""The input list: what is on each channel, for whoever plugs, mixes or replaces."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from rigproof.showbook.blocks import Block, Cell, amount, cell, column, heading, remark, roomy, say
from rigproof.showbook.input_list import page
from rigproof.showbook.papers import Order, Sheet


def sheets(order: Order) -> Iterator[Sheet]:
    """One list: the usual night, and under it what each differing show changes."""
    said = page(order.view, order.verdict.views[1:], order.edition)
    yield Sheet(
        id="input-list",
        title=order.say("input-list.title"),
        form="input-list",
        data=said,
        blocks=tuple(_blocks(order, said)),
    )


def _blocks(order: Order, said: Mapping[str, Any]) -> Iterator[Block]:
    """The same list in plain form."""
    if not said["rows"]:
        yield say(said["words"]["nothing"])
        return
    yield _table(order, said["rows"])
    yield say(order.say("input-list.key_plain"))
    if said["outside"]:
        yield heading(order.say("input-list.outside"))
        yield roomy(
            [
                column(order.say("input-list.source_alone"), look="name"),
                column(order.say("input-list.player")),
                column(order.say("input-list.microphone_short"), look="small"),
                column(order.say("input-list.stand"), look="small"),
                column(order.say("input-list.plugged"), look="small"),
            ],
            [
                [
                    cell(row["source"]),
                    cell(row["player"]),
                    remark(row["microphone"]),
                    remark(row["stand"]),
                    remark(row["socket"]),
                ]
                for row in said["outside"]
            ],
        )
    for change in said["changes"]:
        yield heading(change["title"])
        if change["note"]:
            yield say(change["note"])
        if change["rows"]:
            yield _table(order, change["rows"])
        if change["gone"]:
            yield say(change["gone"])


def _table(order: Order, rows: Sequence[Mapping[str, Any]]) -> Block:
    return roomy(
        [
            column(order.say("input-list.number"), 0, look="number"),
            column(order.say("input-list.phantom"), 0),
            column(order.say("input-list.line"), 0, look="figures"),
            column(order.say("input-list.source_alone"), 1.3, look="name"),
            column(order.say("input-list.player"), 0.8),
            column(order.say("input-list.microphone_short"), 1.8, look="small"),
            column(order.say("input-list.stand"), look="small"),
            column(order.say("input-list.socket"), look="small"),
            column(order.say("input-list.note"), look="small"),
        ],
        [_row(row) for row in rows],
    )


def _row(row: Mapping[str, Any]) -> list[Cell]:
    if row["held"]:
        return [
            amount(row["number"]),
            *[cell("")] * 2,
            cell(row["source"]),
            *[cell("")] * 4,
            remark(row["note"]),
        ]
    return [
        amount(row["number"]),
        cell(row["phantom"]),
        cell(row["line"]),
        cell(row["source"]),
        cell(row["player"]),
        remark(row["microphone"]),
        remark(row["stand"]),
        remark(row["socket"]),
        remark(row["note"]),
    ]
