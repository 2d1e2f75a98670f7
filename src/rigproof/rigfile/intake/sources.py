"""What a sheet came to: its sources, the channels it keeps free, and the fate of every cell."""

from typing import Literal

import msgspec

from rigproof.rig.band import Family
from rigproof.rigfile.intake.cells import Grid, Place, at
from rigproof.rigfile.intake.columns import Column, Head

Became = Literal["used", "kept as note", "left out"]
Phantom = Literal["must", "never", "on", "none"]

NOTE_MOST = 10_000  # characters of a text in a rig file
LABEL_MOST = 64
WHY_MOST = 500


class Fate(msgspec.Struct, frozen=True):
    """What became of one cell."""

    place: Place
    value: str
    became: Became
    what: str

    @property
    def cell(self) -> str:
        return at(self.place)


class Input(msgspec.Struct, frozen=True, kw_only=True):
    """One source as the sheet has it."""

    row: int
    name: str
    channels: tuple[int, int] | None = None
    stereo: bool = False
    pair: Literal["left-right", "stage-right-left"] = "left-right"
    player: str = ""
    mic: str = ""
    whose: str = ""
    phantom: Phantom | None = None
    stand: str = ""
    line: str = ""
    label: str = ""
    alternative: str = ""
    notes: tuple[str, ...] = ()
    family: Family = "other"


class Free(msgspec.Struct, frozen=True):
    """Channels that the sheet keeps open, and why."""

    row: int
    channels: tuple[int, int]
    why: str


class Understood(msgspec.Struct, frozen=True, kw_only=True):
    """A sheet as it was understood."""

    grid: Grid
    head: Head
    inputs: tuple[Input, ...]
    free: tuple[Free, ...]
    notes: tuple[str, ...]  # of the whole list: titles and rows that are no source
    fates: tuple[Fate, ...]
    remarks: tuple[str, ...]

    @property
    def columns(self) -> tuple[Column, ...]:
        return tuple(column for one in self.head.lists for column in one)
