"""The numbers: the second part of the book, for the band. Figures, and what they are worth."""

from collections.abc import Callable, Iterable, Mapping, Sequence

import msgspec

from rigproof.checks.rule import View
from rigproof.showbook.blocks import Block, lines
from rigproof.showbook.edition import ENGLISH, Edition
from rigproof.showbook.numbers import (
    dose,
    ladders,
    lateness,
    mains_card,
    network_card,
    splitcard,
    tape,
    weighing,
    workbench,
)
from rigproof.showbook.numbers.reckoned import Reckoned
from rigproof.wording.sentences import sentence

_LEAD = "Beside each figure: measured, datasheet, typical or assumed."


def chapters(view: View, edition: Edition = ENGLISH) -> list[Mapping[str, object]]:
    """The chapters of figures of the usual night, in the order in which they are wanted."""
    reckoned = Reckoned(view)
    pages: tuple[tuple[str, str, Callable[[], Iterable[Block]]], ...] = (
        ("Gain settings", _LEAD, lambda: tape.blocks(reckoned)),
        ("Level ladders", "", lambda: ladders.blocks(reckoned)),
        ("Splits and 48 V", "", lambda: splitcard.blocks(view)),
        ("Delay", "", lambda: lateness.blocks(view)),
        ("Exposure", "", lambda: dose.blocks(reckoned)),
        ("Power", "", lambda: mains_card.blocks(view, edition)),
        ("Weight and lifting", "", lambda: weighing.blocks(view, edition)),
        ("Leads", "", lambda: workbench.blocks(view, edition)),
        ("Network and radio", "", lambda: network_card.blocks(view, edition)),
    )
    return [_chapter(title, lead, list(made()), edition) for title, lead, made in pages]


def _chapter(
    title: str, lead: str, blocks: Sequence[Block], edition: Edition
) -> Mapping[str, object]:
    """`lines`: about how many it holds, so that a page that runs over a little can close up."""
    return {
        "title": edition.tell(sentence(title)),
        "lead": edition.tell(sentence(lead)),
        "blocks": msgspec.to_builtins(blocks, enc_hook=edition.letters),
        "lines": lines(blocks),
    }
