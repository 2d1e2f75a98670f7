"""The single papers: what each is called, who may read it, and how it is made.

A paper is a module of this package with `sheets(order)`, and one entry in `PAPERS`; its phrases
stand in the catalogue under its own name, `ID.title` and `ID.purpose` among them. A sheet is made
of blocks, which every form of output reads; one with a drawn page of its own names a `form`.
"""

from collections.abc import Callable, Iterator, Mapping
from functools import cached_property
from importlib import import_module
from pathlib import Path
from typing import Any

import msgspec

from rigproof.checks.rule import View
from rigproof.checks.verdict import Verdict
from rigproof.rig import Rig
from rigproof.showbook.blocks import Block
from rigproof.showbook.edition import READERS, Edition, Reader


class Sheet(msgspec.Struct, frozen=True, kw_only=True):
    """One or more pages that belong in one pair of hands. `id` is unique in a set of papers.

    `form`: the template that sets it, which gets `data`; the blocks say the same in plain form.
    """

    id: str
    title: str
    lead: str = ""
    blocks: tuple[Block, ...] = ()
    flipped: bool = False
    form: str = "blocks"
    data: Mapping[str, object] = {}


class Order(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """What papers are asked for, and of what rig.

    `people` and `venues`: only these; all where none is named. `earlier`: the version that
    readers still have in their hands. `cache`: a folder for drawings that take long to lay out.
    """

    verdict: Verdict
    edition: Edition = Edition()
    people: tuple[str, ...] = ()
    venues: tuple[str, ...] = ()
    earlier: Rig | None = None
    cache: Path | None = None

    @property
    def view(self) -> View:
        """The usual night."""
        return self.verdict.view

    @property
    def rig(self) -> Rig:
        return self.view.rig

    @cached_property
    def made(self) -> dict[str, "_Once"]:
        """The sheets of each paper that was asked for: several ways of output share them."""
        return {}

    @cached_property
    def say(self) -> Callable[..., str]:
        """A phrase in the language of the edition."""
        return self.edition.say


class Paper(msgspec.Struct, frozen=True, kw_only=True):
    """A paper that can be asked for. `module`: where it is made; by default named after its id.

    `drawn`: it holds drawings only, which take long and which no worksheet can hold.
    `laid_out`: its one sheet is laid out by an engine; its module has `undrawn(order)`, all that
    it shows, so that two versions can be compared without that.
    """

    id: str
    readers: frozenset[Reader]
    module: str = ""
    drawn: bool = False
    laid_out: bool = False

    def sheets(self, order: Order) -> Iterator[Sheet]:
        """Its sheets; none where the rig has nothing for them. An order makes each sheet once."""
        if self.id not in order.made:
            order.made[self.id] = _Once(self._made_by.sheets(order))
        return order.made[self.id].read()

    def contents(self, order: Order) -> dict[str, tuple[str, object]]:
        """Sheet -> its title and all that it says, for comparing: the head of a page aside."""
        if self.laid_out:
            return {self.id: (order.say(f"{self.id}.title"), self._made_by.undrawn(order))}
        return {
            sheet.id: (sheet.title, (sheet.lead, sheet.blocks, dict(sheet.data)))
            for sheet in self.sheets(order)
        }

    @property
    def _made_by(self) -> Any:
        return import_module(f"{__name__}.{self.module or self.id.replace('-', '_')}")


class _Once:
    """Sheets that are made when somebody first reads them, and then remembered."""

    def __init__(self, source: Iterator[Sheet]) -> None:
        self._source = source
        self._made: tuple[Sheet, ...] | None = None

    def read(self) -> Iterator[Sheet]:
        if self._made is None:
            self._made = tuple(self._source)
        yield from self._made


def _paper(name: str, *readers: Reader) -> Paper:
    return Paper(id=name, readers=frozenset(readers))


def _drawings(name: str, *readers: Reader) -> Paper:
    return Paper(id=name, readers=frozenset(readers), drawn=True)


def _laid_out(name: str, *readers: Reader) -> Paper:
    return Paper(id=name, readers=frozenset(readers), drawn=True, laid_out=True)


# In the order in which a set of papers is bound.
PAPERS: tuple[Paper, ...] = (
    _paper("changes", "band", "house", "deputy"),
    _paper("hand-off", "band", "house"),
    _paper("rider", "band", "house"),
    _paper("advance", "band", "house"),
    _paper("tail-map", "band", "house", "deputy"),
    _paper("monitor-sheet", "band", "house"),
    _drawings("stage-plot", "band", "house", "deputy"),
    _paper("input-list", "band", "house", "deputy"),
    _paper("line-check", "band", "house", "deputy"),
    _paper("patch", "band", "deputy"),
    _paper("read-back", "band", "deputy"),
    _paper("hearing", "band", "deputy"),
    _paper("person", "band", "deputy"),
    _paper("failures", "band", "deputy"),
    _paper("leads", "band", "shop"),
    _paper("parts", "band", "shop"),
    _paper("building", "band"),
    _paper("commissioning", "band"),
    _paper("packing", "band", "deputy"),
    _paper("network", "band", "deputy"),
    _drawings("rack", "band"),
    _laid_out("signal-flow", "band"),
    _laid_out("whole-flow", "band"),
)


def for_reader(reader: Reader) -> tuple[Paper, ...]:
    """The papers that this reader may have."""
    return tuple(paper for paper in PAPERS if reader in paper.readers)


__all__ = ["PAPERS", "READERS", "Order", "Paper", "Sheet", "for_reader"]
