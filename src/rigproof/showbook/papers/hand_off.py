"""The hand-off: all that one house engineer needs, on exactly one sheet."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from rigproof.checks.rule import View
from rigproof.handoff import HandOff
from rigproof.showbook.blocks import (
    Block,
    caution,
    cell,
    column,
    heading,
    points,
    remark,
    roomy,
)
from rigproof.showbook.house_fit import placed
from rigproof.showbook.house_page import nights_of, page
from rigproof.showbook.papers import Order, Sheet


def sheets(order: Order) -> Iterator[Sheet]:
    """One page for each venue, then one for each show that differs from the usual night."""
    for view, hand in hands(order):
        yield _sheet(order, view, hand)


def hands(order: Order) -> Iterator[tuple[View, HandOff]]:
    """Every hand-off that papers were asked for."""
    for view in order.verdict.views:
        for hand in view.hand_offs:
            if not order.venues or hand.venue.id in order.venues:
                yield view, hand


def place_of(hand: HandOff) -> str:
    """Where it is, as titles have it: the show where it differs, else the venue."""
    return (hand.show.name if hand.show else "") or hand.venue.name


def id_of(paper: str, hand: HandOff) -> str:
    """The name of a sheet that there is one of for each hand-off."""
    return f"{paper}-{hand.show.id if hand.show else hand.venue.id}"


def _sheet(order: Order, view: View, hand: HandOff) -> Sheet:
    title = order.say("hand-off.title_at", where=place_of(hand))
    said = page(view, hand, nights_of(order.verdict.views, hand), order.edition)
    return Sheet(
        id=id_of("hand-off", hand),
        title=title,
        form="house",
        data=placed(said, title, order.edition.size),
        blocks=tuple(_blocks(said)),
    )


def _blocks(said: Mapping[str, Any]) -> Iterator[Block]:
    """The same page in plain form."""
    words: Mapping[str, str] = said["words"]
    rows: Sequence[Mapping[str, str]] = said["rows"]
    if rows:
        yield roomy(
            [
                column(words["ours"], 0, look="number"),
                column(words["name"], 2, look="name"),
                column(words["microphone"], 2.4, look="small"),
                column(words["phantom"], 0),
                column(words["level"], 0),
                column(words["theirs"], 0, look="figures"),
            ],
            [
                [
                    cell(str(row["number"])),
                    cell(row["name"]),
                    remark(_about(row, words)),
                    cell(row["phantom"]),
                    cell(row["level"]),
                    cell(row["theirs"]),
                ]
                for row in rows
            ],
        )
    for section in said["sections"]:
        yield heading(section["title"])
        yield points(line["said"] for line in section["lines"])
        if section["caution"]:
            yield caution(section["title"], words["mains_can_kill"])


def _about(row: Mapping[str, str], words: Mapping[str, str]) -> str:
    match row["status"]:
        case "ignore":
            return words["do_not_plug"]
        case "held":
            return ": ".join(part for part in (words["kept_free"], row["note"]) if part)
        case "spare":
            return words["free"]
        case "dropped":
            return words["out"]
        case _:
            return ", ".join(part for part in (row["microphone"], row["stand"]) if part)
