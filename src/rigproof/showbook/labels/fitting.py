"""Text made to fit a label: smaller letters, the short form, a cut; none of it in silence."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

import msgspec

from rigproof.showbook.drawings import ink
from rigproof.showbook.drawings.lettering import Style, fitted, one_line, width_mm
from rigproof.showbook.glyphs import unprintable

How = Literal["short", "cut", "full", "letters", "code", "device"]


class Loss(msgspec.Struct, frozen=True):
    """A text that a label does not bear as it is written.

    `how`: "short", its short form stands there; "cut", what did not fit is missing; "full", the
    card has no more lines; "letters", no shipped face has some of its letters; "code", no room for
    a code that a phone would read; "device", the box's own display is shorter than the label.
    """

    label: str
    text: str
    shown: str
    how: How


def alike(losses: Iterable[Loss]) -> Mapping[Loss, tuple[str, ...]]:
    """Losses of one text told once, with the labels that have it."""
    found: dict[tuple[str, str, How], list[Loss]] = {}
    for loss in losses:
        found.setdefault((loss.text, loss.shown, loss.how), []).append(loss)
    return {some[0]: tuple(dict.fromkeys(loss.label for loss in some)) for some in found.values()}


class Fitted(msgspec.Struct, frozen=True):
    """A text as it is set, and what became of it."""

    text: str
    size_mm: float
    how: Literal["", "short", "cut"] = ""


def fit(
    texts: Sequence[str],
    *,
    within_mm: float,
    largest_mm: float,
    smallest_mm: float,
    style: Style = "medium",
) -> Fitted:
    """The first of some texts, fullest first, that fits at a size no smaller than the smallest."""
    lines = [line for line in map(one_line, dict.fromkeys(texts)) if line]
    if not lines:
        return Fitted("", largest_mm)
    for place, line in enumerate(lines):
        needs = width_mm(line, size_mm=1, style=style)
        size = min(largest_mm, within_mm / needs) if needs else largest_mm
        if size >= smallest_mm:
            return Fitted(line, size, "short" if place else "")
    cut = fitted(lines[-1], within_mm=within_mm, size_mm=smallest_mm, style=style)
    return Fitted(cut, smallest_mm, "cut")


class Pen:
    """Writes on one label, and remembers what did not fit."""

    def __init__(self, label: str) -> None:
        self.label = label
        self.marks: list[str] = []
        self.losses: list[Loss] = []
        self.said: list[str] = []

    def write(
        self,
        at: ink.Place,
        *texts: str,
        within_mm: float,
        largest_mm: float,
        smallest_mm: float,
        style: Style = "medium",
        anchor: ink.Anchor = "start",
    ) -> float:
        """One line on its baseline, the fullest of these texts that fits; how wide it came out."""
        made = fit(
            texts,
            within_mm=within_mm,
            largest_mm=largest_mm,
            smallest_mm=smallest_mm,
            style=style,
        )
        wanted = next((text for text in texts if text), "")
        if made.how:
            whole = " ".join(wanted.split())[:200]
            self.losses.append(Loss(self.label, whole, made.text, made.how))
        if unprintable(wanted[:300]):
            self.losses.append(Loss(self.label, wanted[:200], made.text, "letters"))
        if made.text:
            self.said.append(made.text)
        self.marks.append(ink.text(at, made.text, size=made.size_mm, style=style, anchor=anchor))
        return width_mm(made.text, size_mm=made.size_mm, style=style)
