"""Which labels to print again, and which to take off: content against content, by identifier."""

from collections import Counter
from collections.abc import Sequence

import msgspec

from rigproof.showbook.labels.content import Label, Strip


class Reprint(msgspec.Struct, frozen=True):
    """What changed between two sets of labels."""

    to_print: tuple[Label, ...]  # in the order of the new set
    anew: tuple[Label, ...]  # of these, those whose text or size is another
    gone: tuple[Label, ...]  # to be taken off


def reprint(before: Sequence[Label], after: Sequence[Label]) -> Reprint:
    """The labels of `after` that nobody has in hand yet, and those of `before` that now lie.

    A version number does not count, nor what the file calls a box: a label that says the same
    stays right.
    """
    old = {label.id: label for label in before}
    new = {label.id: label for label in after}
    gone = [label for label in before if label.id not in new]
    in_hand = Counter(_printed(label) for label in gone)
    to_print: list[Label] = []
    for label in after:
        if old.get(label.id) == label:
            continue
        if label.id not in old and in_hand[_printed(label)]:
            in_hand[_printed(label)] -= 1
        else:
            to_print.append(label)
    void: list[Label] = []
    for label in gone:
        if in_hand[_printed(label)]:
            in_hand[_printed(label)] -= 1
            void.append(label)
    return Reprint(
        to_print=tuple(to_print),
        anew=tuple(label for label in to_print if label.id in old),
        gone=tuple(void),
    )


def _printed(label: Label) -> Label:
    """A label without the names that only the file has for it."""
    if isinstance(label, Strip):
        return msgspec.structs.replace(label, id="", gear="")
    return msgspec.structs.replace(label, id="")
