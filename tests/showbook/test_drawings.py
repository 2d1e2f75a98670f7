"""The drawings: true to the model, true to scale, readable, and the same every time.

What is checked is what came out, read back by other means: the SVG as XML, letters and lines from
the rendered page.
"""

import itertools
import math
import random
import re
import subprocess
import sys
import time
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import msgspec
import pypdfium2 as pdfium
import pytest
from fontTools.ttLib import TTFont

from rigproof.checks.rule import View
from rigproof.checks.verdict import check
from rigproof.rig import Rig
from rigproof.rigfile.load import load
from rigproof.showbook import layered
from rigproof.showbook.drawings import (
    Drawing,
    elevations,
    ink,
    lettering,
    signal_flow,
    stage_plot,
)
from rigproof.showbook.drawings.flowsheets import sheets
from rigproof.showbook.drawings.placing import Area, Wanted, place
from rigproof.showbook.glyphs import FONT_DIR, printable_ranges
from rigproof.showbook.typeset import pdf

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "src/rigproof/demo"
RIGS = {"demo": DEMO, "trio": ROOT / "examples/trio", "twelve": ROOT / "examples/twelve"}

SVG = "{http://www.w3.org/2000/svg}"
DOTS_PER_MM = 10.0  # 254 dpi

# The drawing alone on a page of its size: a place on the page is a place in the drawing.
BARE = b"""#import "/style.typ": *
#let d = json(bytes(sys.inputs.data))
#set document(title: "Drawing")
#set page(width: d.width * 1mm, height: d.height * 1mm, margin: 0mm)
#set par(spacing: 0mm)
#drawing(d.svg, alt: d.alt, width: d.width * 1mm, height: d.height * 1mm)
"""

PAGES = b"""#import "/style.typ": *
#import "/drawings.typ": *
#let d = json(bytes(sys.inputs.data))
#show: sheet.with(band: "B", title: "T", paper: d.paper)
#drawing-pages(d.drawings)
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


# ---- every drawing ---------------------------------------------------------------------------

every = pytest.mark.parametrize("rig", sorted(RIGS))


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


def test_the_check_for_collisions_sees_one() -> None:
    marks = [ink.text((5, 5), "Kick"), ink.text((6, 5.4), "Snare")]
    assert list(collisions(Drawing(ink.sheet(40, 10, marks), 40, 10, "t", "a")))


@every
@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_each_takes_one_page_and_stays_on_it(rig: str, paper: str) -> None:
    data = {"drawings": [one.data() for one in drawn(rig)], "paper": paper}
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


def test_a_new_name_moves_no_box_of_the_signal_flow() -> None:
    def places(view: View) -> list[list[tuple[str, ...]]]:
        return [
            [
                tuple(one.get(key, "") for key in ("x", "y", "width", "height"))
                for one in parsed(drawing).iter(f"{SVG}rect")
                if one.get("stroke-width") in {"0.32", "0.55"}
            ]
            for drawing in signal_flow(view)
        ]

    assert places(renamed(load(DEMO), "Wilhelmina von und zu Quappendorf")) == places(
        view_of("demo")
    )


# ---- the stage -------------------------------------------------------------------------------


def scale_of(drawing: Drawing) -> int:
    found = re.search(r"Scale 1:(\d+)", drawing.caption)
    assert found
    return int(found[1])


def heads(drawing: Drawing, view: View) -> Mapping[str, tuple[float, float]]:
    found = {}
    for person in view.rig.file.people:
        if person.on_stage and person.at_m is not None:
            circles = group(drawing, f"person-{person.id}").findall(f"{SVG}circle")
            (head,) = circles
            found[person.id] = figure(head, "cx"), figure(head, "cy")
    return found


@every
def test_heads_stand_where_the_model_says(rig: str) -> None:
    view = view_of(rig)
    for one in drawn(rig):
        if not one.title.startswith("Stage plot"):
            continue
        per_metre = 1000 / scale_of(one)
        found = heads(one, view)
        assert len(found) >= 3
        for first, second in itertools.combinations(found, 2):
            a, b = view.rig.people[first].at_m, view.rig.people[second].at_m
            assert a is not None
            assert b is not None
            # x to stage left is to the right of the sheet, upstage is up: y falls.
            assert found[second][0] - found[first][0] == pytest.approx(
                (b[0] - a[0]) * per_metre, abs=0.1
            )
            assert found[first][1] - found[second][1] == pytest.approx(
                (b[1] - a[1]) * per_metre, abs=0.1
            )


@every
def test_the_stage_has_the_size_of_the_venue_and_its_front_edge_under_the_band(rig: str) -> None:
    view = view_of(rig)
    for venue in view.rig.file.venues:
        drawing = stage_plot(view, venue)
        if venue.stage_m is None:
            continue
        outline = group(drawing, "stage").findall(f"{SVG}rect")[0]
        per_metre = 1000 / scale_of(drawing)
        assert figure(outline, "width") == pytest.approx(venue.stage_m[0] * per_metre, abs=0.1)
        assert figure(outline, "height") == pytest.approx(venue.stage_m[1] * per_metre, abs=0.1)
        foot = figure(outline, "y") + figure(outline, "height")
        middle = figure(outline, "x") + figure(outline, "width") / 2
        for name, (x, y) in heads(drawing, view).items():
            at_m = view.rig.people[name].at_m
            assert at_m is not None
            assert x == pytest.approx(middle + at_m[0] * per_metre, abs=0.1)
            assert y == pytest.approx(foot - at_m[1] * per_metre, abs=0.1)


@pytest.mark.published(
    "stage left is the performer's left, facing the audience (usage, from memory)"
)
def test_nobody_can_mistake_left_for_right() -> None:
    view = view_of("demo")
    for venue in (None, *view.rig.file.venues):
        drawing = stage_plot(view, venue)
        words = {
            "".join(one.itertext()): (figure(one, "x"), figure(one, "y"))
            for one in group(drawing, "frame").iter(f"{SVG}text")
        }
        lowest = max(y for _, y in heads(drawing, view).values())
        assert words["AUDIENCE"][1] > lowest
        # The audience is below, so the performer looks down the sheet: his left is our right.
        assert words["STAGE LEFT"][0] > words["AUDIENCE"][0] > words["STAGE RIGHT"][0]
        arrows = group(drawing, "frame").findall(f"{SVG}polygon")
        assert len(arrows) == 2
        for arrow in arrows:
            points = [tuple(map(float, p.split(","))) for p in arrow.get("points", "").split()]
            tip = max(points, key=lambda point: point[1])
            assert [p[1] for p in points].count(tip[1]) == 1  # it ends in a point, at the foot


def test_everybody_and_everything_of_the_demo_is_on_the_plan() -> None:
    view = view_of("demo")
    for venue in (None, *view.rig.file.venues):
        drawing = stage_plot(view, venue)
        said = " ".join(texts(parsed(drawing))) + " ".join(drawing.notes)
        for person in view.rig.file.people:
            label = texts(group(drawing, f"label-person-{person.id}"))
            assert person.name in label
            assert person.plays in label
            for source in view.rig.file.sources:
                row = view.rig.rows[source.id]
                if source.player == person.id and source.start is None:
                    assert str(row.channel) in label
                    assert source.label in label
        for source in view.rig.file.sources:
            assert source.label in said or source.name in said
        for gear in ("pm-runa", "pm-yusra", "laptop"):
            assert texts(group(drawing, f"label-gear-{gear}"))
        assert "The red case" in said
        assert "Hand-off" in said
        assert "mains" in said
        assert "riser 2 × 2 m (6 ft 7 in × 6 ft 7 in)" in said


def test_labels_keep_off_every_symbol() -> None:
    view = view_of("demo")
    for venue in (None, *view.rig.file.venues):
        drawing = stage_plot(view, venue)
        symbols = heads(drawing, view).values()
        for one in parsed(drawing).iter(f"{SVG}g"):
            if not (one.get("id") or "").startswith("label-"):
                continue
            (card,) = one.findall(f"{SVG}rect[@fill='white']")[:1]
            left, top = figure(card, "x"), figure(card, "y")
            for x, y in symbols:
                inside = left < x < left + figure(card, "width") and top < y < top + figure(
                    card, "height"
                )
                assert not inside


def test_what_the_file_leaves_out_is_said() -> None:
    rig = load(DEMO)
    people = tuple(msgspec.structs.replace(one, at_m=None) for one in rig.file.people)
    gear = tuple(msgspec.structs.replace(one, at_m=None) for one in rig.file.gear)
    view = with_file(
        rig, people=people, gear=gear, case=None, leads=(), patch=(), venues=(), shows=()
    )
    drawing = stage_plot(view)
    said = " ".join(texts(parsed(drawing)))
    for person in people:
        assert person.name in said
    assert "PLACE ON STAGE NOT STATED" in said
    assert "Where the case stands is not stated." in drawing.notes
    (case,) = elevations(view)
    assert "No case is described yet." in texts(parsed(case))
    about = msgspec.structs.replace(rig.file.rig, mixer=None, patch_owner=None)
    nothing = with_file(rig, people=(), sources=(), groups=(), gear=(), leads=(), patch=(),
                        holds=(), routes=(), mixes=(), feeds=(), streams=(), clocks=(), radio=(),
                        talk=(), control=None, power=None, case=None, venues=(), shows=(),
                        rig=about)  # fmt: skip
    assert "Nothing is wired yet." in texts(parsed(signal_flow(nothing)[0]))
    assert parsed(stage_plot(nothing)).tag == f"{SVG}svg"


@pytest.mark.published("1 ft = 0.3048 m, 1 in = 0.0254 m (yard and pound agreement, 1959)")
@pytest.mark.parametrize(
    ("metres", "said"), [(0.3048, "1 ft"), (3.048, "10 ft"), (1.8288, "6 ft"), (2.0, "6 ft 7 in")]
)
def test_feet(metres: float, said: str) -> None:
    assert ink.feet(metres) == said


# ---- labels ----------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(12))
def test_placed_labels_never_overlap(seed: int) -> None:
    def spread(number: int, factor: float, room: float) -> float:
        return (math.sin(seed * 12.9898 + number * 78.233) * 43758.5453 * factor) % 1 * room

    wanted = [
        Wanted(f"label {n}", spread(n, 1, 180) + 10, spread(n, 3, 100) + 10, 2.0,
               ((12 + spread(n, 7, 25), 4 + spread(n, 11, 14)), (10.0, 3.0)))
        for n in range(24)
    ]  # fmt: skip
    taken = [Area(one.x - 1.5, one.y - 1.5, 3, 3) for one in wanted]
    bounds = Area(0, 0, 200, 120)
    put = place(wanted, bounds=bounds, taken=taken)
    assert len(put) >= 20
    areas = [one.area for one in put.values()]
    for (ax, ay, aw, ah), (bx, by, bw, bh) in itertools.chain(
        itertools.combinations(areas, 2), itertools.product(areas, taken)
    ):
        apart = ax + aw <= bx or bx + bw <= ax or ay + ah <= by or by + bh <= ay
        assert apart
    for x, y, width, height in areas:
        assert x >= 0
        assert y >= 0
        assert x + width <= 200
        assert y + height <= 120


def test_a_label_with_room_stands_at_its_symbol() -> None:
    put = place([Wanted("one", 50, 50, 2.0, ((20.0, 8.0),))], bounds=Area(0, 0, 100, 100), taken=[])
    assert put["one"].leader is None
    away = math.dist(put["one"].area.nearest(50, 50), (50, 50))
    assert 2.0 <= away <= 4.0


# ---- the case --------------------------------------------------------------------------------


@cache
def dark_rows(title: str, x_mm: float) -> tuple[float, ...]:
    """Middles of the dark runs in one column of the rendered drawing, in millimetres."""
    drawing = named("demo", title)
    page = pdfium.PdfDocument(pdf(BARE, drawing.data()))[0]
    picture = page.render(scale=DOTS_PER_MM * 25.4 / 72, grayscale=True).to_numpy()
    column = picture[:, round(x_mm * DOTS_PER_MM)].reshape(-1)
    runs: list[list[int]] = []
    for row, shade in enumerate(column):
        if shade < 128:
            if runs and row == runs[-1][-1] + 1:
                runs[-1].append(row)
            else:
                runs.append([row])
    return tuple((run[0] + run[-1] + 1) / 2 / DOTS_PER_MM for run in runs)


@pytest.mark.published("EIA-310-D: one unit is 44.45 mm")
def test_one_unit_is_44_45_mm_at_the_stated_scale_on_the_rendered_page() -> None:
    drawing = named("demo", "The case cut along its depth")
    scale = scale_of(drawing)
    upright = [
        one
        for one in group(drawing, "case").findall(f"{SVG}line")
        if one.get("x1") == one.get("x2") and one.get("stroke-width") == "0.32"
    ]
    rear = max(figure(one, "x1") for one in upright if figure(one, "y2") - figure(one, "y1") > 100)
    ticks = dark_rows(drawing.title, rear + 0.6)
    grid = [y for y in ticks if any(abs(abs(y - z) - 44.45 / scale) < 0.3 for z in ticks)]
    assert len(grid) >= 20
    pitches = [b - a for a, b in itertools.pairwise(grid)]
    assert all(pitch == pytest.approx(44.45 / scale, abs=0.2) for pitch in pitches)
    assert grid[-1] - grid[0] == pytest.approx((len(grid) - 1) * 44.45 / scale, abs=0.2)


@pytest.mark.published("EIA-310-D: panels are 482.6 mm wide")
@every
def test_panels_are_as_wide_and_as_high_as_the_standard_says(rig: str) -> None:
    view = view_of(rig)
    front = next(one for one in drawn(rig) if one.title == "The case from the front")
    scale = scale_of(front)
    for gear in view.rig.file.gear:
        if gear.unit is None or gear.face != "front":
            continue
        panel = group(front, f"box-{gear.id}").findall(f"{SVG}rect")[0]
        size = view.rig.type_of(gear.id).size
        units = (size.units if size else None) or 1
        wide = 482.6 / 2 if gear.half else 482.6
        assert figure(panel, "width") == pytest.approx(wide / scale, abs=0.01)
        # IEC 60297-3-100: a panel is 0.8 mm lower than its units.
        assert figure(panel, "height") == pytest.approx((44.45 * units - 0.8) / scale, abs=0.01)


def test_units_count_from_the_bottom() -> None:
    for title in ("The case from the front", "The case from the rear"):
        drawing = named("demo", title)
        numbers = [
            (int(words), figure(one, "y"))
            for one in group(drawing, "case").iter(f"{SVG}text")
            if (words := "".join(one.itertext())).isdigit()
        ]
        assert [number for number, _ in numbers] == list(range(1, 21))
        assert [y for _, y in numbers] == sorted((y for _, y in numbers), reverse=True)


def test_the_rear_is_the_front_in_a_mirror() -> None:
    front = named("demo", "The case from the front")
    rear = named("demo", "The case from the rear")
    panels = [group(front, name).findall(f"{SVG}rect") for name in ("box-mixer", "box-tx-tamsin")]
    left, wide = figure(panels[0][0], "x"), figure(panels[0][0], "width")
    half = panels[1][0]
    back = group(rear, "back-tx-tamsin").findall(f"{SVG}rect")[0]
    seen_from_front = figure(half, "x") + figure(half, "width") / 2 - left
    seen_from_rear = figure(back, "x") + figure(back, "width") / 2 - left
    assert seen_from_front < wide / 2 < seen_from_rear
    assert seen_from_front + seen_from_rear == pytest.approx(wide, abs=2.0)
    assert figure(half, "y") == pytest.approx(figure(back, "y"), abs=0.01)


@pytest.mark.parametrize(
    ("title", "name", "count"),
    [
        ("The case from the front", "box-split-a", 16),
        ("The case from the front", "box-stage-box", 24),
        ("The case from the rear", "back-split-a", 32),
        ("The case from the rear", "back-mixer", 16 + 8),
    ],
)
def test_as_many_sockets_as_the_box_has(title: str, name: str, count: int) -> None:
    element = group(named("demo", title), name)
    numbered = [words for words in texts(element) if words.isdigit()]
    assert len(numbered) == count
    # A ring of 24 mm for each, true to scale.
    rings = [c for c in element.iter(f"{SVG}circle") if figure(c, "r") == pytest.approx(2.4)]
    assert len(rings) >= count


def test_depths_are_to_scale_and_clashes_are_hatched() -> None:
    from rigproof.rack import elevation

    view = view_of("demo")
    case = elevation(view.rig)
    assert case is not None
    drawing = named("demo", "The case cut along its depth")
    scale = scale_of(drawing)
    for box in case.boxes:
        if box.depth_mm is None:
            continue
        body = group(drawing, f"box-{box.seat.gear.id}").findall(f"{SVG}rect")[1]
        assert figure(body, "width") == pytest.approx(box.depth_mm / scale, abs=0.01)
    hatched = group(drawing, "clashes").findall(f"{SVG}rect")
    assert len(hatched) == len(case.hits)
    for rect, hit in zip(hatched, case.hits, strict=True):
        assert figure(rect, "width") == pytest.approx(max(hit.short_mm / scale, 0.8), abs=0.01)
    said = " ".join(texts(group(drawing, "list")))
    assert all(hit.box.seat.name in said for hit in case.hits)


def test_an_unknown_depth_is_a_broken_line_with_the_words() -> None:
    rig = load(DEMO)
    types = dict(rig.types)
    name = rig.gear["hub"].type
    size = types[name].size
    assert size is not None
    types[name] = msgspec.structs.replace(
        types[name], size=msgspec.structs.replace(size, depth_mm=None)
    )
    drawing = elevations(check(Rig(rig.file, types, rig.path)).view)[2]
    assert "depth not known" in texts(group(drawing, "names"))
    assert group(drawing, "box-hub").findall(f"{SVG}line[@stroke-dasharray]")


# ---- the signal flow -------------------------------------------------------------------------


@every
def test_wires_end_at_a_row_of_a_box(rig: str) -> None:
    wires = 0
    for drawing in signal_flow(view_of(rig)):
        boxes = []
        for one in parsed(drawing).iter(f"{SVG}g"):
            if not (one.get("id") or "").startswith("box-"):
                continue
            outline = one.findall(f"{SVG}rect")[0]
            left, width = figure(outline, "x"), figure(outline, "width")
            # Letters stand around their row: capitals are 0.69 of the size of the text face.
            rows = [
                figure(text, "y") - figure(text, "font-size") * 0.69 / 2
                for text in one.iter(f"{SVG}text")
            ]
            gathered = [
                figure(mark, "y1")
                for mark in one.iter(f"{SVG}line")
                if mark.get("y1") == mark.get("y2")
            ]
            boxes.append((left, left + width, rows + gathered))
        for wire in group(drawing, "wires").findall(f"{SVG}polyline"):
            points = [tuple(map(float, p.split(","))) for p in wire.get("points", "").split()]
            (x1, y1), (x2, y2) = points[0], points[-1]
            assert any(
                abs(right - x1) < 0.01 and any(abs(row - y1) < 0.06 for row in rows)
                for _, right, rows in boxes
            )
            assert any(
                abs(left - x2) < 0.01 and any(abs(row - y2) < 0.06 for row in rows)
                for left, _, rows in boxes
            )
            for (ax, ay), (bx, by) in itertools.pairwise(points):
                assert abs(ax - bx) < 0.002 or abs(ay - by) < 0.002  # right angles
            wires += 1
    assert wires >= 6


@every
def test_every_person_box_and_lead_that_carries_sound_is_drawn(rig: str) -> None:
    view = view_of(rig)
    made = sheets(view)
    boxes = {node.key for sheet in made for node in sheet.nodes}
    joined = {(join.start[0], join.end[0]) for sheet in made for join in sheet.joins}
    for person in view.rig.people:
        if view.graph.of_listener(person):
            assert f"person:{person}" in boxes
    for source in view.rig.file.sources:
        if source.start is None and source.player and view.rig.rows.get(source.id):
            assert f"player:{source.player}" in boxes

    def drawn_as(name: str) -> str:
        gear = view.rig.gear.get(name)
        worn = gear and view.rig.type_of(name).class_ in {"pack", "personal-mixer"}
        return f"person:{gear.with_person}" if gear and worn and gear.with_person else name

    # Leads that the graph has a signal on, one way or the other.
    carrying = {
        name
        for hop in view.graph.hops
        if hop.means == "lead" and view.arriving.bits[hop.start]
        for name in hop.needs
    }
    assert carrying
    for lead in view.rig.file.leads:
        if lead.id in carrying:
            ends = drawn_as(lead.from_.gear), drawn_as(lead.to.gear)
            assert ends in joined or ends[::-1] in joined, lead.id


def test_kinds_of_wire_differ_by_line_and_by_word() -> None:
    drawings = signal_flow(view_of("demo"))
    dashes = {
        wire.get("stroke-dasharray")
        for drawing in drawings
        for wire in group(drawing, "wires").findall(f"{SVG}polyline")
    }
    assert len(dashes) == 4
    said = " ".join(words for drawing in drawings for words in texts(parsed(drawing)))
    for word in ("digital", "network", "radio", "isolated", "band only"):
        assert word in said


def test_a_line_that_goes_on_says_where() -> None:
    drawings = signal_flow(view_of("demo"))
    for number, drawing in enumerate(drawings, start=1):
        for words in texts(parsed(drawing)):
            found = re.search(r"[→←] (\d[\d, -]*)$", words)
            if found:
                pages = {int(page) for page in re.findall(r"\d+", found[1])}
                assert number not in pages
                assert max(pages) <= len(drawings)
    into = " ".join(texts(group(drawings[0], "box-split-a")))
    house = next(n for n, one in enumerate(drawings, start=1) if one.title.endswith("the house"))
    assert f"iso 1-16 → {house}" in into


def test_a_layout_is_kept_in_the_folder(tmp_path: Path) -> None:
    layered._kept.clear()
    first = signal_flow(view_of("demo"), tmp_path)
    assert len(list(tmp_path.iterdir())) >= 3
    layered._kept.clear()
    started = time.process_time()
    assert signal_flow(view_of("demo"), tmp_path) == first
    assert time.process_time() - started < 0.5  # without the engine


# ---- ten times the demo ----------------------------------------------------------------------


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
                changes["at_m"] = (x + 3.1 * (number % 4), y + 2.3 * (number // 4))
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


# ---- lettering -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("style", "file"),
    [("regular", "Regular"), ("medium", "Medium"), ("bold", "Bold"), ("italic", "Italic")],
)
def test_widths_are_those_of_the_font(style: lettering.Style, file: str) -> None:
    with TTFont(FONT_DIR / f"FiraSans-{file}.ttf") as font:
        glyphs, advances, em = font.getBestCmap(), font["hmtx"], font["head"].unitsPerEm
        for words in ("Kick in", "Wärmflasche", "0123456789-–…"):
            wide = sum(advances[glyphs[ord(letter)]][0] for letter in words) / em
            found = lettering.width_mm(words, size_mm=1, style=style)
            assert found == pytest.approx(wide, abs=1e-9)


@pytest.mark.parametrize(
    "file", ["NotoSansJP-Subset", "NotoSansHebrew-Regular", "NotoSansSymbols-Subset"]
)
def test_the_other_faces_are_read_whole(file: str) -> None:
    with TTFont(FONT_DIR / f"{file}.ttf") as font:
        em, advances = font["head"].unitsPerEm, font["hmtx"]
        expected = {code: advances[name][0] / em for code, name in font.getBestCmap().items()}
    assert lettering._advances(f"{file}.ttf") == pytest.approx(expected)


@pytest.mark.parametrize("name", ["Kick", "w" * 10_000, "太鼓" * 50, "a b c d e f g", ""])
@pytest.mark.parametrize("within", [0.5, 4.0, 18.0])
def test_a_name_is_cut_to_its_room(name: str, within: float) -> None:
    cut = lettering.fitted(name, within_mm=within, size_mm=2.3)
    assert lettering.width_mm(cut, size_mm=2.3) <= within + 1e-9
    assert cut == name or cut == "" or cut.endswith("…")


def test_wrapped_text_keeps_its_words() -> None:
    lines = lettering.wrapped("keys, tracks and voice", within_mm=16, size_mm=2.3, lines=3)
    assert " ".join(lines) == "keys, tracks and voice"
    assert len(lines) > 1
