"""QR codes: the way from a lead or a person's card to its entry in the pocket book."""

from collections.abc import Iterator, Sequence
from functools import cache

import msgspec
import segno

from rigproof.rig import About

_QUIET = 4  # ISO/IEC 18004: four modules of white all round
# From memory: below this a phone in bad light, or a printer of 203 dots to the inch, fails.
LEAST_MODULE_MM = 0.38
_LONGEST_NAME = 24


def address(about: About) -> str:
    """Where the pocket book is kept, without an entry of it; empty where nobody says."""
    return about.pocket_book.strip().partition("#")[0]


def says(about: About, anchor: str, subject: str) -> str:
    """What a code says: the address of the entry, or, without one, whose and what it is."""
    if address(about) and anchor:
        return f"{address(about)}#{anchor}"
    name = " ".join(about.name.split())[:_LONGEST_NAME].strip()
    version = f" {about.version}" if about.version else ""
    return f"{name}{version} \u00b7 {subject}"


class Code(msgspec.Struct, frozen=True):
    """A code: its modules along a side, and its black runs as a path with a module to the unit."""

    side: int  # without the quiet zone
    steps: str

    @property
    def module_count(self) -> int:
        """Modules along a side, the quiet zone among them."""
        return self.side + 2 * _QUIET

    def least_mm(self) -> float:
        """The smallest side at which it is still read."""
        return self.module_count * LEAST_MODULE_MM

    def svg(self, x_mm: float, y_mm: float, side_mm: float) -> str:
        """One path of black runs on the white of the paper."""
        module_mm = side_mm / self.module_count
        place = f"translate({x_mm:.4f} {y_mm:.4f}) scale({module_mm:.6f})"
        return f'<path d="{self.steps}" transform="{place}" fill="#000"/>'


def _runs(rows: Sequence[Sequence[int]]) -> Iterator[str]:
    for row, modules in enumerate(rows, _QUIET):
        start = None
        for column, dark in enumerate((*modules, 0), _QUIET):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                yield f"M{start} {row}h{column - start}v1h{start - column}z"
                start = None


@cache
def code(text: str) -> Code | None:
    """The code of a text; none where the text is longer than any label can hold."""
    try:
        made = segno.make_qr(text, error="m", boost_error=True)
    except (segno.DataOverflowError, UnicodeEncodeError):
        return None
    return Code(len(made.matrix), "".join(_runs(made.matrix)))
