"""Which labels to print again, and which to take off: content against content, by identifier."""

from collections.abc import Sequence

import msgspec

from rigproof.showbook.labels.content import Label


class Reprint(msgspec.Struct, frozen=True):
    """What changed between two sets of labels."""

    to_print: tuple[Label, ...]  # in the order of the new set
    anew: tuple[Label, ...]  # of these, those whose text or size is another
    gone: tuple[Label, ...]  # to be taken off


def reprint(before: Sequence[Label], after: Sequence[Label]) -> Reprint:
    """The labels of `after` that nobody has in hand yet, and those of `before` that now lie.

    A version number does not count: a label that says the same stays right.
    """
    old = {label.id: label for label in before}
    new = {label.id for label in after}
    to_print = tuple(label for label in after if old.get(label.id) != label)
    return Reprint(
        to_print=to_print,
        anew=tuple(label for label in to_print if label.id in old),
        gone=tuple(label for label in before if label.id not in new),
    )
