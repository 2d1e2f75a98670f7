"""What a sheet is made of: sentences, tables, cautions, drawings. Every form of paper reads these.

Their texts may be such that can be said again: whoever sets them says in which language.

The same blocks are set on pages, shown in the pocket book and written into spreadsheets, so a
sheet is composed once. A cell is a text with the provenance of its figure beside it. Long texts
are told apart from short ones, because paper holds more of a remark than of a name.
"""

from collections.abc import Iterable, Iterator, Sequence
from math import ceil
from typing import Literal

import msgspec

from rigproof.rig.quantity import Quantity
from rigproof.rig.spread import Likely
from rigproof.wording.sentences import Figure, joined, sentence

_WIDE = 128  # letters of a table's size in a line from margin to margin
MINUS = "\u2212"
DASH = "\u2013"

# How a column is set: words, figures to the right, the number a row is found by, a name that
# stands out, a second voice, a box to tick, a line to write on.
Look = Literal["words", "figures", "number", "name", "small", "tick", "write"]


class Cell(msgspec.Struct, frozen=True, omit_defaults=True):
    """A text: short under `v`, up to a sentence under `note`; `p` says what a figure is worth.

    `n` is the number that the text shows, for forms that reckon with it.
    """

    v: str = ""
    note: str = ""
    p: str = ""
    n: float | None = None

    @property
    def text(self) -> str:
        return self.v or self.note


class Column(msgspec.Struct, frozen=True):
    """A column of a table. `fr`: its share of the width; 0 takes what its texts need."""

    title: str
    unit: str = ""
    fr: float = 1
    look: Look = "words"

    @property
    def right(self) -> bool:
        return self.look in {"figures", "number"}


class Block(msgspec.Struct, frozen=True, tag_field="kind", kw_only=True):
    """A part of a sheet that is set as one."""


class Table(Block, frozen=True, kw_only=True, tag="table"):
    """Rows under columns; `foot`, where there is one, is a sum and stands out.

    `groups`: at which rows a named group opens. `roomy`: set to be read at arm's length, with
    ticks made by hand; else as tight as figures allow. `halves`: rows so short that paper sets
    the second half of them beside the first.
    """

    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    foot: tuple[Cell, ...] = ()
    groups: tuple[tuple[int, str], ...] = ()
    roomy: bool = False
    halves: bool = False


class Say(Block, frozen=True, kw_only=True, tag="say"):
    text: str


class Run(Block, frozen=True, kw_only=True, tag="run"):
    said: str
    p: str


class Heading(Block, frozen=True, kw_only=True, tag="heading"):
    title: str


class NewPage(Block, frozen=True, kw_only=True, tag="page"):
    """`lines`: about how many it holds where it must stay one page; 0 where it may run on."""

    title: str
    lines: int = 0


class Fold(Block, frozen=True, kw_only=True, tag="fold"):
    """Where a side may end that cannot hold all: what follows stands on its back.

    A sheet with folds is one leaf. Its last fold opens first, and only where rows that stand as
    close as they may do not bring everything onto one side.
    """


class Fact(msgspec.Struct, frozen=True):
    label: str
    value: str
    note: str = ""


class Facts(Block, frozen=True, kw_only=True, tag="facts"):
    rows: tuple[Fact, ...]


class LeftOut(Block, frozen=True, kw_only=True, tag="left-out"):
    text: str


class Caution(Block, frozen=True, kw_only=True, tag="caution"):
    title: str
    text: str


class Items(Block, frozen=True, kw_only=True, tag="items"):
    """Short sentences in a row: with a box before each to tick, or numbered, or with a dash."""

    before: Literal["tick", "number", "dash"]
    rows: tuple[Cell, ...]


class Remedy(msgspec.Struct, frozen=True):
    """What one notices, and what to try, in this order."""

    sign: str
    steps: tuple[Cell, ...]


class Remedies(Block, frozen=True, kw_only=True, tag="remedies"):
    """A card for trouble: `titles` stand over the signs and over their steps."""

    titles: tuple[str, str]
    rows: tuple[Remedy, ...]


class Drawing(Block, frozen=True, kw_only=True, tag="drawing"):
    """An SVG drawing; `alt` says in words what it shows. `width_mm` 0 fills the column."""

    svg: str
    alt: str
    caption: str = ""
    width_mm: float = 0


def plain(value: float, decimals: int = 1) -> str:
    """A figure to so many decimals, with a true minus sign and no minus before a nought.

    >>> plain(-0.04), plain(-12.34)
    ('0.0', '\u221212.3')
    """
    text = f"{value:.{decimals}f}"
    if not text.strip("-0."):
        text = text.lstrip("-")
    return Figure(text.replace("-", MINUS))


def signed(value: float, decimals: int = 1) -> str:
    """A gain: its sign always shows.

    >>> signed(3), signed(-3)
    ('+3.0', '\u22123.0')
    """
    text = plain(value, decimals)
    return text if text.startswith(MINUS) else Figure(f"+{text}")


def between(low: float, high: float, decimals: int = 1) -> str:
    """A likely range."""
    return sentence("{low} to {high}", low=plain(low, decimals), high=plain(high, decimals))


def cell(text: str, provenance: str = "") -> Cell:
    """A short text or a figure, and what the figure is worth."""
    return Cell(v=text, p=provenance)


def amount(value: int) -> Cell:
    """A whole number: a channel, a count."""
    return Cell(v=str(value), n=value)


def remark(text: str, provenance: str = "") -> Cell:
    """A text that may be a sentence long."""
    return Cell(note=text, p=provenance)


def figure(value: Quantity | None, unit: str = "", decimals: int = 1) -> Cell:
    """A stated figure; a dash where nobody states it."""
    if value is None:
        return cell(DASH)
    text = plain(float(value), decimals)
    if unit:
        return cell(sentence("{figure}{unit}", figure=text, unit=unit), value.provenance)
    return Cell(v=text, p=value.provenance, n=round(float(value), decimals))


def ranged(found: Likely | None, decimals: int = 0) -> Cell:
    """A figure with its likely range; a dash where nobody states it."""
    if found is None:
        return cell(DASH)
    value = plain(found.value, decimals)
    if found.low == found.high:
        return Cell(v=value, p=found.provenance, n=round(found.value, decimals))
    likely = between(found.low, found.high, decimals)
    return cell(sentence("{figure} ({likely})", figure=value, likely=likely), found.provenance)


def needs(names: Iterable[str], most: int = 3) -> str:
    """What a figure waits for, in the words that every sheet has for it."""
    row = list(dict.fromkeys(names))
    told = joined(", ", row[:most])
    if len(row) > most:
        told = sentence("{names} and {count} more", names=told, count=len(row) - most)
    return sentence("cannot judge: needs {names}", names=told)


def column(title: str, fr: float = 1, *, unit: str = "", look: Look = "words") -> Column:
    """A column of words, unless it is to look otherwise."""
    return Column(title, unit, fr, look)


def numbers(title: str, fr: float = 1, *, unit: str = "") -> Column:
    """A column of figures, set to the right."""
    return Column(title, unit, fr, "figures")


def table(
    columns: Sequence[Column],
    rows: Sequence[Sequence[Cell]],
    foot: Sequence[Cell] = (),
    groups: Sequence[tuple[int, str]] = (),
) -> Table:
    """A table, a name over each group of rows; its last line, if any, is a sum and stands out."""
    return Table(
        columns=tuple(columns),
        rows=tuple(map(tuple, rows)),
        foot=tuple(foot),
        groups=tuple(groups),
    )


def roomy(
    columns: Sequence[Column],
    rows: Sequence[Sequence[Cell]],
    groups: Sequence[tuple[int, str]] = (),
) -> Table:
    """A table for a stage: large numbers, room to tick, a name over each group of rows."""
    return Table(
        columns=tuple(columns), rows=tuple(map(tuple, rows)), groups=tuple(groups), roomy=True
    )


def halves(columns: Sequence[Column], rows: Sequence[Sequence[Cell]]) -> Table:
    """A long table of short rows: on paper its second half stands beside the first."""
    return Table(columns=tuple(columns), rows=tuple(map(tuple, rows)), halves=True)


def say(text: str) -> Say:
    """A sentence."""
    return Say(text=text)


def run(text: str, provenance: str) -> Run:
    """Many figures of one worth in running text: names, each with its figure."""
    return Run(said=text, p=provenance)


def heading(title: str) -> Heading:
    """A heading within a chapter."""
    return Heading(title=title)


def new_page(title: str) -> NewPage:
    """A heading at the head of a new page, but for the first of a chapter."""
    return NewPage(title=title)


def fold() -> Fold:
    """A place where a leaf may be turned."""
    return Fold()


def one_page(title: str, blocks: Sequence[Block]) -> Iterator[Block]:
    """A page that stays one: its rows close up where they would run over."""
    yield NewPage(title=title, lines=lines(blocks))
    yield from blocks


def lines(blocks: Iterable[Block]) -> int:
    """About how many lines of text they take: enough to know which pages need a closer look."""
    return sum(map(_lines, blocks))


def _lines(block: Block) -> int:
    if isinstance(block, Heading):
        return 2
    if isinstance(block, Facts | Caution):
        return 6
    if isinstance(block, Table):
        widths = [max(1.0, _WIDE * c.fr / sum(c.fr for c in block.columns)) for c in block.columns]
        rows = (*block.rows, block.foot) if block.foot else block.rows
        return 2 + sum(
            max(ceil(len(cell.text) / wide) for cell, wide in zip(row, widths, strict=True))
            for row in rows
        )
    text = block.said if isinstance(block, Run) else getattr(block, "text", "")
    return ceil(len(text) / _WIDE)


def facts(pairs: Sequence[tuple[str, str, str]]) -> Facts:
    """The few figures that matter most: label, figure, remark."""
    return Facts(rows=tuple(Fact(a, b, c) for a, b, c in pairs))


def left_out(text: str) -> LeftOut:
    """What a page does not count."""
    return LeftOut(text=text)


def caution(title: str, text: str) -> Caution:
    """The usual caution where something can hurt somebody."""
    return Caution(title=title, text=text)


def remedies(sign: str, tries: str, rows: Iterable[tuple[str, Iterable[str]]]) -> Remedies:
    """A card for trouble, with a title over what one notices and one over what to try."""
    return Remedies(
        titles=(sign, tries),
        rows=tuple(Remedy(name, tuple(map(remark, texts))) for name, texts in rows),
    )


def ticks(texts: Iterable[str]) -> Items:
    """Things to do or to have, each with a box before it."""
    return Items(before="tick", rows=tuple(map(remark, texts)))


def steps(texts: Iterable[str]) -> Items:
    """Things to do in this order."""
    return Items(before="number", rows=tuple(map(remark, texts)))


def points(texts: Iterable[str]) -> Items:
    """Things said in no order."""
    return Items(before="dash", rows=tuple(map(remark, texts)))
