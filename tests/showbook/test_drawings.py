"""What every drawing is held to: one ink, readable, on its page, and any name a name."""

import itertools
import random
import re
import subprocess
import sys
import time
from typing import Any

import msgspec
import pypdfium2 as pdfium
import pytest

from rigproof.checks.rule import View
from rigproof.rig.quantity import Coordinate
from rigproof.rigfile.load import load
from rigproof.showbook.drawings import Drawing, elevations, ink, lettering, signal_flow, stage_plot
from rigproof.showbook.edition import Edition, head
from rigproof.showbook.glyphs import printable_ranges
from rigproof.showbook.typeset import pdf
from tests.showbook.drawn import (
    BARE,
    DEMO,
    PAGES,
    SVG,
    collisions,
    drawn,
    every,
    figure,
    letters,
    parsed,
    renamed,
    view_of,
    with_file,
)


@every
def test_each_is_well_formed_and_as_large_as_it_says(rig: str) -> None:
    assert len(drawn(rig)) >= 7
    for one in drawn(rig):
        root = parsed(one)
        assert root.get("width") == f"{ink.number(one.width_mm)}mm"
        assert root.get("height") == f"{ink.number(one.height_mm)}mm"
        assert one.alt
        assert one.title
        assert one.caption
        names = [group.get("id") for group in root.iter(f"{SVG}g")]
        assert len(set(names)) == len(names)


@every
def test_one_ink_and_no_letter_below_six_and_a_half_points(rig: str) -> None:
    for one in drawn(rig):
        ratio = one.width_mm / float(parsed(one).get("viewBox", "").split()[2])
        for element in parsed(one).iter():
            for colour in (element.get("fill"), element.get("stroke")):
                assert colour in {None, "none", "white", ink.INK}
            if element.tag == f"{SVG}text":
                assert figure(element, "font-size") * ratio >= 6.5 * 25.4 / 72 - 0.001
            weight = element.get("stroke-width")
            # 0.35 pt: what a worn copier keeps. From memory.
            assert weight is None or float(weight) * ratio >= 0.35 * 25.4 / 72


@every
def test_no_letter_lies_on_another(rig: str) -> None:
    for one in drawn(rig):
        assert list(collisions(one)) == [], one.title


def test_the_check_for_collisions_sees_one() -> None:
    marks = [ink.text((5, 5), "Kick"), ink.text((6, 5.4), "Snare")]
    assert list(collisions(Drawing(ink.sheet(40, 10, marks), 40, 10, "t", "a")))


@every
@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_each_takes_one_page_and_stays_on_it(rig: str, paper: str) -> None:
    edition = Edition()
    data = {
        "drawings": [one.data() for one in drawn(rig)],
        "paper": paper,
        "head": head(view_of(rig).rig, edition),
        "words": edition.words("drawing.marks", "drawing.note"),
    }
    document = pdfium.PdfDocument(pdf(PAGES, data))
    assert len(document) == len(drawn(rig))
    for page, one in zip(document, drawn(rig), strict=True):
        width, height = page.get_size()
        assert (width > height) == (one.wide or one.folded)
        text = page.get_textpage()
        assert one.title in text.get_text_range()
        for number in range(text.count_chars()):
            left, low, right, high = text.get_charbox(number)
            assert left >= -0.5
            assert low >= -0.5
            assert right <= width + 0.5
            assert high <= height + 0.5


def test_the_same_rig_gives_the_same_bytes_in_another_process() -> None:
    script = (
        "import hashlib, pathlib, sys\n"
        "from rigproof.rigfile.load import load\n"
        "from rigproof.checks.verdict import check\n"
        "from rigproof.showbook.drawings import elevations, signal_flow, stage_plot\n"
        "view = check(load(pathlib.Path(sys.argv[1]))).view\n"
        "made = [stage_plot(view), *elevations(view), *signal_flow(view)]\n"
        "print(hashlib.sha256(''.join(one.svg for one in made).encode()).hexdigest())\n"
    )
    sums = {
        subprocess.run(
            [sys.executable, "-c", script, str(DEMO)],
            check=True,
            capture_output=True,
            text=True,
            env={"PYTHONHASHSEED": seed, "PATH": ""},
        ).stdout
        for seed in ("1", "2")
    }
    assert len(sums) == 1


HOSTILE = [
    '<script>alert("x")</script> & "quotes" \'and\' ]]> -->',
    "</text></svg><svg>",
    "tab\tand\nnew line and \x07 bell \x00 nought",
    "long " * 2000,
    "w" * 10_000,
    "שלום עולם",
    "مرحبا بالعالم",
    "\u202eturned round\u202c",
    "太鼓と笛",
    "e\u0301" * 40,
    "\ud800 half of a character",
    "🥁🎸",
    "",
]


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_a_name_stays_a_name(name: str) -> None:
    view = renamed(load(DEMO), name)
    venue = view.rig.file.venues[0]
    for one in (stage_plot(view, venue), *elevations(view), *signal_flow(view)):
        root = parsed(one)
        tags = {element.tag.removeprefix(SVG) for element in root.iter()}
        assert tags <= {"svg", "g", "text", "tspan", "rect", "line", "circle", "ellipse",
                        "polyline", "polygon", "path"}  # fmt: skip
        assert not re.search(r"[\x00-\x08\x0b-\x1f\u202a-\u202e]", one.svg)
        assert len(one.svg) < 200_000
        assert list(collisions(one)) == []
        for letter in letters(one):
            assert letter.left > -1
            assert letter.low > -1
            assert letter.right < one.width_mm / 25.4 * 72 + 1
            assert letter.high < one.height_mm / 25.4 * 72 + 1


@pytest.mark.parametrize("seed", range(3))
def test_every_printable_letter_can_stand_in_a_drawing(seed: int) -> None:
    """An accessible document is refused as a whole for one letter of one name."""
    dice = random.Random(seed)
    blocks: dict[int, list[str]] = {}
    for low, high in printable_ranges():
        for code in range(low, high + 1):
            blocks.setdefault(code >> 7, []).append(chr(code))
    names = ["".join(dice.choices(letters_, k=30)) for letters_ in blocks.values() for _ in "12345"]
    for first in range(0, len(names), 300):
        some = names[first : first + 300]
        marks = [
            ink.text((2 + 95 * (n % 2), 4 + 3 * (n // 2)), name, within=90)
            for n, name in enumerate(some)
        ]
        drawing = Drawing(ink.sheet(200, 460, marks), 200, 460, "t", "a")
        assert pdf(BARE, drawing.data())
    for name in names:
        assert lettering.one_line(lettering.one_line(name)) == lettering.one_line(name)


def tenfold() -> View:
    """The demo ten times over: the same boxes, people and leads under ten names each."""
    rig = load(DEMO)
    file = rig.file

    def copies(entries: tuple[Any, ...]) -> tuple[Any, ...]:
        found = list(entries)
        for number, entry in itertools.product(range(2, 11), entries):
            changes: dict[str, object] = {"id": f"{entry.id}-{number}"}
            if getattr(entry, "player", None):
                changes["player"] = f"{entry.player}-{number}"
            if entry.at_m is not None:
                x, y = entry.at_m
                moved = (x + 3.1 * (number % 4), y + 2.3 * (number // 4))
                changes["at_m"] = tuple(map(Coordinate, moved))
            if getattr(entry, "ears", None) is not None:
                changes["ears"] = None
            found.append(msgspec.structs.replace(entry, **changes))
        return tuple(found)

    return with_file(
        rig,
        people=copies(file.people),
        sources=copies(tuple(one for one in file.sources if one.start is None))
        + tuple(one for one in file.sources if one.start is not None),
        shows=(),
    )


def test_ten_times_the_demo_is_drawn_in_bounded_time() -> None:
    view = tenfold()
    assert len(view.rig.file.people) == 80
    started = time.process_time()
    plot = stage_plot(view, view.rig.file.venues[1])
    elevations(view)
    assert time.process_time() - started < 12
    placed = sum(
        (one.get("id") or "").startswith("label-person-") for one in parsed(plot).iter(f"{SVG}g")
    )
    left_out = " ".join(plot.notes)
    assert placed == 80 or "No room on the plan" in left_out
    assert list(collisions(plot)) == []
    started = time.process_time()
    flow = signal_flow(view)
    assert time.process_time() - started < 60
    assert flow
