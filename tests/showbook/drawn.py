"""Drawings of three rigs, and ways to read them back that know nothing of how they were made.

The SVG is read as XML, letters from the page that the typesetter made of it.
"""

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import msgspec
import pypdfium2 as pdfium
import pytest

from rigproof.checks.rule import View
from rigproof.checks.verdict import check
from rigproof.rig import Rig
from rigproof.rigfile.load import load
from rigproof.showbook.drawings import Drawing, elevations, signal_flow, stage_plot
from rigproof.showbook.typeset import pdf

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "src/rigproof/demo"
RIGS = {"demo": DEMO, "trio": ROOT / "examples/trio", "twelve": ROOT / "examples/twelve"}

SVG = "{http://www.w3.org/2000/svg}"

# The drawing alone on a page of its size: a place on the page is a place in the drawing.
BARE = b"""#import "/style.typ": *
#let d = json(bytes(sys.inputs.data))
#set document(title: "Drawing")
#set page(width: d.width * 1mm, height: d.height * 1mm, margin: 0mm)
#set par(spacing: 0mm)
#drawing(d.svg, alt: d.alt, width: d.width * 1mm, height: d.height * 1mm)
"""

PAGES = b"""#import "/frame.typ": bound
#import "/drawn.typ": drawn
#let d = json(bytes(sys.inputs.data))
#show: bound.with(d.head, "T", d.paper)
#drawn("T", d.drawings, d.words)
"""


@cache
def view_of(name: str) -> View:
    return check(load(RIGS[name])).view


@cache
def drawn(name: str) -> tuple[Drawing, ...]:
    view = view_of(name)
    venues = view.rig.file.venues
    plots = [stage_plot(view), *(stage_plot(view, venue) for venue in venues)]
    return (*plots, *elevations(view), *signal_flow(view))


def named(name: str, title: str) -> Drawing:
    return next(one for one in drawn(name) if one.title == title)


def parsed(drawing: Drawing) -> ET.Element:
    return ET.fromstring(drawing.svg)


def group(drawing: Drawing, name: str) -> ET.Element:
    found = [one for one in parsed(drawing).iter(f"{SVG}g") if one.get("id") == name]
    assert len(found) == 1, name
    return found[0]


def texts(element: ET.Element) -> list[str]:
    return ["".join(one.itertext()) for one in element.iter(f"{SVG}text")]


def figure(element: ET.Element, name: str) -> float:
    return float(element.get(name, "nan"))


def with_file(given: Rig, **changes: Any) -> View:
    file = msgspec.structs.replace(given.file, **changes)
    return check(Rig(file, given.types, given.path)).view


def renamed(rig: Rig, name: str) -> View:
    """The rig with every name a person can give replaced by one text."""

    def call(entry: msgspec.Struct) -> msgspec.Struct:
        fields = {"name", "label", "plays", "stand"} & set(entry.__struct_fields__)
        texts = {key: name[:64] if key == "label" else name for key in fields}
        return msgspec.structs.replace(entry, **texts)

    file = rig.file
    changes = {
        key: tuple(call(entry) for entry in getattr(file, key))
        for key in ("people", "sources", "gear", "venues", "mixes", "feeds")
    }
    assert file.case is not None
    return with_file(rig, case=msgspec.structs.replace(file.case, name=name), **changes)


every = pytest.mark.parametrize("rig", sorted(RIGS))


class Letter(NamedTuple):
    place: int
    letter: str
    left: float
    low: float
    right: float
    high: float

    @property
    def size(self) -> float:
        return (self.right - self.left) * (self.high - self.low)


def letters(drawing: Drawing) -> Iterator[Letter]:
    text = pdfium.PdfDocument(pdf(BARE, drawing.data()))[0].get_textpage()
    for number in range(text.count_chars()):
        letter = text.get_text_range(number, 1)
        if letter.strip():
            yield Letter(number, letter, *text.get_charbox(number))


def collisions(drawing: Drawing) -> Iterator[tuple[str, str]]:
    """Pairs of letters that share more than a quarter of the smaller one's box.

    Letters that make one sign (fi) or reach under an f (ft) on the same line are no pair.
    """
    cells: dict[tuple[int, int], list[Letter]] = {}
    for one in letters(drawing):
        places = [
            (x, y)
            for x in range(int(one.left // 8), int(one.right // 8) + 1)
            for y in range(int(one.low // 8), int(one.high // 8) + 1)
        ]
        for other in {letter for cell in places for letter in cells.get(cell, ())}:
            wide = min(one.right, other.right) - max(one.left, other.left)
            tall = min(one.high, other.high) - max(one.low, other.low)
            smaller = min(one.size, other.size)
            near = abs(one.low - other.low) < 1.6  # an italic f goes under the line
            pair = {one.letter, other.letter}
            one_sign = near and ("f" in pair or pair == {"."})  # "…" is read as three
            if wide > 0 and tall > 0 and wide * tall > smaller / 4 and not one_sign:
                yield other.letter, one.letter
        for cell in places:
            cells.setdefault(cell, []).append(one)


def scale_of(drawing: Drawing) -> int:
    found = re.search(r"Scale 1:(\d+)", drawing.caption)
    assert found
    return int(found[1])
