"""What stands on a label, whatever it is printed on. Equal content needs no new print."""

from typing import Literal, TypeAlias, get_args

import msgspec

from rigproof.showbook.edition import Edition
from rigproof.showbook.labels.colouring import Scheme

Kind = Literal["strips", "legends", "flags", "cards"]
KINDS: tuple[Kind, ...] = get_args(Kind)

# ISO/IEC 7810, format ID-1: 85.60 x 53.98 mm.
CARD_MM = (85.6, 53.98)


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """Which labels are wanted, and how they are made out. `about`: only of these things, by id."""

    edition: Edition = Edition()
    kinds: tuple[Kind, ...] = KINDS
    about: tuple[str, ...] = ()
    scheme: Scheme = "none"


class Cell(msgspec.Struct, frozen=True):
    """One socket, knob or fader of a row: its number, what is there in short and in full."""

    number: str
    short: str = ""
    full: str = ""
    colours: tuple[str, ...] = ()


class Strip(msgspec.Struct, frozen=True, kw_only=True):
    """A row of places on a device, at the pitch they stand at; a legend is as wide as a panel.

    `pitch_from`: where the pitch is from; empty where it is what is usual for such a connector.
    `left_mm`, `right_mm`: what a legend's panel has beside this piece of the row.
    """

    id: str
    gear: str
    box: str
    bank: str
    row: int
    rows: int
    pitch_mm: float
    pitch_from: str
    cells: tuple[Cell, ...]
    chars: int | None = None
    legend: bool = False
    left_mm: float = 0
    right_mm: float = 0

    @property
    def kind(self) -> Kind:
        return "legends" if self.legend else "strips"

    @property
    def about(self) -> frozenset[str]:
        return frozenset({self.gear})

    @property
    def width_mm(self) -> float:
        return self.left_mm + self.pitch_mm * len(self.cells) + self.right_mm

    @property
    def title(self) -> str:
        first, last = self.cells[0].number, self.cells[-1].number
        return f"{self.box}, {self.bank} {first}" + (f"-{last}" if first != last else "")


class Place(msgspec.Struct, frozen=True):
    """A socket in full, and in the short form of its box's label."""

    full: str
    short: str


class Flag(msgspec.Struct, frozen=True, kw_only=True):
    """What hangs at one plug of one lead. `address`: of the pocket book that its code leads to."""

    id: str
    lead: str
    name: str
    number: str  # of the piece or of the plug within it; empty where there is but one
    end: Literal["A", "B"]
    goes_from: tuple[Place, ...]
    goes_to: tuple[Place, ...]
    length: str
    colour: str
    wrap_mm: float
    address: str
    colours: tuple[str, ...] = ()

    @property
    def kind(self) -> Kind:
        return "flags"

    @property
    def about(self) -> frozenset[str]:
        return frozenset({self.lead})

    @property
    def title(self) -> str:
        return f"{self.name}{f' {self.number}' if self.number else ''}, {self.end}"


class Card(msgspec.Struct, frozen=True, kw_only=True):
    """A card to laminate: a name, a second line, whose it is, and rows of two texts."""

    id: str
    subject: str
    anchor: str
    name: str
    below: str
    band: str
    address: str
    rows: tuple[tuple[str, str], ...]
    foot: str = ""

    @property
    def kind(self) -> Kind:
        return "cards"

    @property
    def about(self) -> frozenset[str]:
        return frozenset({self.subject})

    @property
    def title(self) -> str:
        return self.name


Label: TypeAlias = Strip | Flag | Card
