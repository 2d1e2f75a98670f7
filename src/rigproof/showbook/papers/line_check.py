"""The line-check sheet: every line in patch order, to tick at our end and at the house's."""

from collections.abc import Iterator, Mapping, Sequence

from rigproof.checks.rule import View
from rigproof.handoff import HandOff
from rigproof.patch import ChannelRow, PatchLists
from rigproof.showbook import naming
from rigproof.showbook.blocks import Block, Cell, amount, cell, column, remark, roomy, say, steps
from rigproof.showbook.papers import Order, Sheet
from rigproof.signal import words

# Common practice, from memory: somebody plays, somebody answers, next.
SECONDS_A_LINE = (15, 20)


def sheets(order: Order) -> Iterator[Sheet]:
    """One sheet for each hand-off: every venue on a usual night, and each show that differs."""
    for view in order.verdict.views:
        for hand in view.hand_offs:
            if order.venues and hand.venue.id not in order.venues:
                continue
            where = hand.venue.name if view.show is None else naming.show(view, order.edition)
            yield Sheet(
                id=f"line-check-{view.show.id if view.show else hand.venue.id}",
                title=order.say("line-check.title_at", where=where),
                lead=_lead(order, view, hand),
                blocks=tuple(_blocks(order, view, hand)),
            )


def _lead(order: Order, view: View, hand: HandOff) -> str:
    used = [row for row in PatchLists(view.rig).channels if row.source is not None]
    low, high = (len(used) * seconds / 60 for seconds in SECONDS_A_LINE)
    owner = naming.person(view.rig, view.rig.about.patch_owner)
    caller = (
        order.say("line-check.caller", name=owner) if owner else order.say("line-check.no_caller")
    )
    took = order.say("line-check.takes", n=len(used), low=f"{low:.0f}", high=f"{high:.0f}")
    limit = hand.venue.changeover_min
    change = (
        order.say("line-check.changeover", minutes=order.edition.number(limit))
        if limit is not None
        else ""
    )
    return " ".join(part for part in (took, caller, change) if part)


def _blocks(order: Order, view: View, hand: HandOff) -> Iterator[Block]:
    tails = _at_the_house(hand)
    rows = [
        _row(order, view, channel, tails)
        for channel in PatchLists(view.rig).channels
        if channel.source is not None
    ]
    yield roomy(
        [
            column(order.say("line-check.number"), 0, look="number"),
            column(order.say("line-check.source"), 2.4, look="name"),
            column(order.say("line-check.socket"), 1.8),
            column(order.say("line-check.theirs"), 0, look="figures"),
            column(order.say("line-check.ours_ticked"), 0, look="tick"),
            column(order.say("line-check.house_ticked"), 0, look="tick"),
            column(order.say("line-check.fault"), 2.2, look="write"),
        ],
        rows,
    )
    yield say(order.say("line-check.tails_apart"))
    yield steps(order.say(f"line-check.step_{n}") for n in range(1, 5))


def _at_the_house(hand: HandOff) -> Mapping[tuple[str, int], Sequence[str]]:
    """Source and lane -> the numbers of the house's ends that carry it."""
    found: dict[tuple[str, int], list[str]] = {}
    for line in hand.used:
        if line.source is not None:
            number = line.house_number or line.number
            found.setdefault((line.source.id, line.lane), []).append(str(number))
    return found


def _row(
    order: Order,
    view: View,
    channel: ChannelRow,
    tails: Mapping[tuple[str, int], Sequence[str]],
) -> list[Cell]:
    assert channel.source is not None
    socket = words.place(view.rig, channel.socket) if channel.socket else ""
    theirs = ", ".join(tails.get((channel.source.id, channel.lane), ()))
    return [
        amount(channel.number),
        cell(channel.name),
        remark(socket or order.say("line-check.wired")),
        cell(theirs),
        cell(""),
        cell(""),
        cell(""),
    ]
