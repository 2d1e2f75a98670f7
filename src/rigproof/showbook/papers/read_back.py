"""The plugs read back by a second person, from the last to the first."""

from collections.abc import Iterator

from rigproof.showbook import walk
from rigproof.showbook.blocks import cell, column, remark, roomy
from rigproof.showbook.papers import Order, Sheet


def sheets(order: Order) -> Iterator[Sheet]:
    """One list; none where nothing is plugged."""
    said = walk.read_back(order.view, order.edition)
    if not said["back"]:
        return
    yield Sheet(
        id="read-back",
        title=order.say("read-back.title"),
        lead=order.say("read-back.lead"),
        form="read-back",
        data=said,
        blocks=(
            roomy(
                [
                    column(order.say("patch.socket"), 1.2),
                    column(order.say("patch.must_read"), look="name"),
                    column(order.say("patch.right"), 0, look="tick"),
                ],
                [[remark(row["socket"]), cell(row["source"]), cell("")] for row in said["back"]],
            ),
        ),
    )
