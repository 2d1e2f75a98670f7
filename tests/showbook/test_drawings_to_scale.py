"""The stage and the case: true to the model and to the scale they state."""

import itertools
import math
from collections.abc import Mapping
from functools import cache

import msgspec
import pypdfium2 as pdfium
import pytest

from rigproof.checks.rule import View
from rigproof.checks.verdict import check
from rigproof.rack import elevation
from rigproof.rig import Rig
from rigproof.rigfile.load import load
from rigproof.showbook.drawings import Drawing, elevations, ink, signal_flow, stage_plot
from rigproof.showbook.drawings.placing import Area, Wanted, place
from rigproof.showbook.typeset import pdf
from tests.showbook.drawn import (
    BARE,
    DEMO,
    SVG,
    drawn,
    every,
    figure,
    group,
    named,
    parsed,
    scale_of,
    texts,
    view_of,
    with_file,
)


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
    about = msgspec.structs.replace(rig.file.rig, mixer=None, patch_owner=None, gain_owner=None)
    nothing = with_file(rig, people=(), sources=(), groups=(), gear=(), leads=(), patch=(),
                        holds=(), routes=(), mixes=(), feeds=(), streams=(), clocks=(), radio=(),
                        talk=(), control=None, power=None, case=None, venues=(), shows=(),
                        consumables=(), tested=None, backups=(), scenes=(), log=(),
                        rig=about)  # fmt: skip
    assert "Nothing is wired yet." in texts(parsed(signal_flow(nothing)[0]))
    assert parsed(stage_plot(nothing)).tag == f"{SVG}svg"


@pytest.mark.published("1 ft = 0.3048 m, 1 in = 0.0254 m (yard and pound agreement, 1959)")
@pytest.mark.parametrize(
    ("metres", "said"), [(0.3048, "1 ft"), (3.048, "10 ft"), (1.8288, "6 ft"), (2.0, "6 ft 7 in")]
)
def test_feet(metres: float, said: str) -> None:
    assert ink.feet(metres) == said


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


DOTS_PER_MM = 10.0  # 254 dpi


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
        if one.get("x1") == one.get("x2") and figure(one, "stroke-width") == ink.FIRM
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
