"""The whole signal flow on one A3 sheet: complete, legible, and drawn without fault."""

from itertools import pairwise

from rigproof.showbook.drawings import Drawing, signal_flow, whole_flow
from rigproof.showbook.drawings.flow import _graph
from rigproof.showbook.drawings.flowsheets import A3, Sheet, sheets, whole
from rigproof.showbook.edition import ENGLISH
from rigproof.showbook.layered import layout
from tests.showbook.drawn import SVG, every, figure, parsed, texts, view_of
from tests.showbook.test_layered import faults

POINT_MM = 25.4 / 72
A3_MM = (420.0, 297.0)  # ISO 216
# The least that is asked of a drawing on A3.
SMALLEST_PT = 6.0


def smallest_pt(drawing: Drawing) -> float:
    """The smallest letters of a drawing as they stand on paper."""
    root = parsed(drawing)
    scale = drawing.width_mm / float(root.get("viewBox", "").split()[2])
    return min(figure(text, "font-size") for text in root.iter(f"{SVG}text")) * scale / POINT_MM


@every
def test_every_letter_can_be_read(rig: str) -> None:
    for drawing in whole_flow(view_of(rig)):
        assert smallest_pt(drawing) >= SMALLEST_PT
        assert drawing.width_mm < A3_MM[0] - 40  # within margins of 20 mm
        assert drawing.height_mm < A3_MM[1] - 46 - 25  # head and foot, title and caption


def test_the_demo_is_one_sheet_and_a_large_band_says_why_it_is_not() -> None:
    (demo,) = whole_flow(view_of("demo"))
    assert demo.notes == ()
    assert len(whole_flow(view_of("trio"))) == 1
    first, *others = whole_flow(view_of("twelve"))
    assert others
    assert "smaller than 6 pt" in first.notes[0]
    assert f"{len(others) + 1} sheets" in first.notes[0]


def made(rig: str) -> tuple[Sheet, ...]:
    """All sheets of all kinds."""
    view = view_of(rig)
    return (whole(view, ENGLISH), *sheets(view, ENGLISH), *sheets(view, ENGLISH, A3))


@every
def test_no_wire_runs_through_a_box_or_on_another(rig: str) -> None:
    for sheet in made(rig):
        graph = _graph(sheet, "mixer")
        assert list(faults(graph, layout(graph))) == []


@every
def test_sockets_stand_in_their_order(rig: str) -> None:
    seen = 0
    for sheet in made(rig):
        for node in sheet.nodes:
            for side in (node.west, node.east):
                rows = [row.order for row in side if row.wired]
                assert rows == sorted(rows)
                seen += len(rows)
        graph = _graph(sheet, "mixer")
        for box in graph.boxes:
            for ports in (box.west, box.east):
                assert all(a.down < b.down for a, b in pairwise(ports))
    assert seen > 20


@every
def test_nothing_of_the_pieces_is_missing_in_the_whole(rig: str) -> None:
    view = view_of(rig)
    one = whole(view, ENGLISH)
    pieces = sheets(view, ENGLISH)
    ends = {(join.start[0], join.end[0]) for sheet in pieces for join in sheet.joins}
    assert {(join.start[0], join.end[0]) for join in one.joins} == ends
    assert {node.key for node in one.nodes} == {n.key for sheet in pieces for n in sheet.nodes}
    # It goes on nowhere else.
    (drawing, *more) = whole_flow(view)
    if not more:
        assert not [words for words in texts(parsed(drawing)) if words.endswith("→ 2")]
        assert "goes on on sheet" not in " ".join(drawing.key)


@every
def test_in_the_book_it_is_cut_into_a4(rig: str) -> None:
    for drawing in signal_flow(view_of(rig)):
        assert not drawing.folded
        assert smallest_pt(drawing) >= SMALLEST_PT
