"""Who hears what: the mixes as a table, and what shares a knob."""

from collections.abc import Iterator, Mapping
from typing import Any

from rigproof.showbook.blocks import (
    Block,
    Cell,
    caution,
    cell,
    column,
    heading,
    numbers,
    points,
    remark,
    roomy,
    say,
)
from rigproof.showbook.hearing import page
from rigproof.showbook.papers import Order, Sheet


def sheets(order: Order) -> Iterator[Sheet]:
    """One table of all people, their feeds, and what a show adds."""
    said = page(order.view, order.verdict.views[1:], order.edition)
    yield Sheet(
        id="hearing",
        title=order.say("hearing.title"),
        form="hearing",
        data=said,
        blocks=tuple(_blocks(said)),
    )


def _blocks(said: Mapping[str, Any]) -> Iterator[Block]:
    """The same in plain form."""
    words: Mapping[str, str] = said["words"]
    if not said["tables"]:
        yield say(words["nobody"])
    for one in said["tables"]:
        yield _matrix(one, words)
        yield from (say(person["missing"]) for person in one["people"] if person["missing"])
    if said["tables"]:
        yield say(f"{words['key_1']} \u2022 {words['key_3']}")
        yield caution(words["hearing"], words["caution"])
    for feed in said["feeds"]:
        yield from _feed(feed, feed["name"], words)
    for change in said["changes"]:
        yield heading(change["title"])
        for one in change["tables"]:
            yield _matrix(one, words)
        if change["also"]:
            yield say(change["also"])
        for feed in change["feeds"]:
            yield from _feed(feed, feed["title"], words)


def _matrix(one: Mapping[str, Any], words: Mapping[str, str]) -> Block:
    return roomy(
        [
            column(words["source"], 1.6, look="name"),
            *(numbers(f"{person['name']}, {person['way']}") for person in one["people"]),
        ],
        [
            [cell(row["source"]), *(_level(level, words) for level in row["cells"])]
            for row in one["rows"]
        ],
    )


def _level(level: Mapping[str, str], words: Mapping[str, str]) -> Cell:
    if level["slot"]:
        return cell(f"{words['slot']} {level['slot']}")
    return cell(level["level"])


def _feed(feed: Mapping[str, Any], title: str, words: Mapping[str, str]) -> Iterator[Block]:
    yield heading(title)
    yield say(feed["said"])
    yield roomy(
        [
            column(words["slot"], 0, look="number"),
            column(words["named"], 0.8, look="name"),
            column(words["label"], 0.7),
            column(words["holds"], 2),
            column(words["made"], 0.8, look="small"),
        ],
        [
            [
                cell(row["slot"]),
                cell(row["name"]),
                cell(row["label"]),
                remark(row["names"]),
                remark(row["made"]),
            ]
            for row in feed["rows"]
        ],
    )
    if feed["lost"]:
        yield heading(words["loses"])
        yield points(f"{one['slot']}, {one['name']}: {one['text']}" for one in feed["lost"])
