"""The signal flow as line drawings: from the sources to the mixer, and on to ears and house.

Boxes and wires come from `flowsheets`; where they stand is worked out by the layout engine from
sizes and connections alone.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from rigproof.checks.rule import View
from rigproof.rig.ref import HOUSE
from rigproof.showbook import layered
from rigproof.showbook.drawings import ink
from rigproof.showbook.drawings.cards import line_mark
from rigproof.showbook.drawings.flowsheets import (
    A3,
    HEAD,
    PITCH,
    Join,
    Node,
    Row,
    Sheet,
    least_height,
    sheets,
    whole,
)
from rigproof.showbook.drawings.lettering import fitted, width_mm
from rigproof.showbook.drawings.runs import Kind
from rigproof.showbook.edition import ENGLISH, Edition

_WIDTHS: Mapping[str, float] = {"player": 34.0, "source": 34.0, "person": 34.0, HOUSE: 34.0}
# Five columns of these go on A4 at full size: sources, receivers, split, stage box, mixer.
_GEAR_WIDTH, _MIXER_WIDTH = 36.0, 52.0
_SPACING = layered.Spacing(wires=1.9, boxes=3.4, wire_to_box=1.8, columns=4.4)

# Told apart by the line itself and by a word at the socket; colour would not survive copying.
_DASHES: Mapping[Kind, tuple[float, ...]] = {
    "analogue": (),
    "digital": (3.2, 0.8),
    "network": (3.2, 0.8, 0.5, 0.8),
    "radio": (0.5, 0.9),
}


def signal_flow(
    view: View, cache: Path | None = None, edition: Edition = ENGLISH
) -> tuple[ink.Drawing, ...]:
    """The sheets of the signal flow. Layouts are kept in the folder `cache` where one is given."""
    return begin_signal_flow(view, cache, edition)()


def begin_signal_flow(
    view: View, cache: Path | None = None, edition: Edition = ENGLISH
) -> Callable[[], tuple[ink.Drawing, ...]]:
    """Have the sheets laid out in the background; call what is returned to draw them."""
    made = sheets(view, edition)
    if not made:
        return lambda: (_nothing_wired(edition),)
    asked = [layered.ask(_graph(sheet, _mixer(view)), cache_folder=cache) for sheet in made]
    return lambda: tuple(
        _drawing(sheet, done, (number, len(made)), edition, _ratio(*_size(done)))
        for number, (sheet, placed) in enumerate(zip(made, asked, strict=True), start=1)
        for done in (placed(),)
    )


def whole_flow(
    view: View, cache: Path | None = None, edition: Edition = ENGLISH
) -> tuple[ink.Drawing, ...]:
    """The whole signal flow on one A3 sheet; on as few as hold it where that would be too small."""
    return begin_whole_flow(view, cache, edition)()


def begin_whole_flow(
    view: View, cache: Path | None = None, edition: Edition = ENGLISH
) -> Callable[[], tuple[ink.Drawing, ...]]:
    """Have the whole signal flow laid out in the background; call what is returned to draw it."""
    sheet = whole(view, edition)
    if not sheet.nodes:
        return lambda: (_nothing_wired(edition),)
    # A column that cannot fit need not be laid out, which takes longest where it is hopeless.
    if ink.fill(1, least_height(sheet)) < _SMALLEST_RATIO:
        return lambda: _in_pieces(view, cache, edition)
    asked = layered.ask(_graph(sheet, _mixer(view)), cache_folder=cache)

    def drawn() -> tuple[ink.Drawing, ...]:
        placed = asked()
        ratio = ink.fill(*_size(placed))
        if ratio < _SMALLEST_RATIO:
            return _in_pieces(view, cache, edition)
        return (_drawing(sheet, placed, (1, 1), edition, min(ratio, _LARGEST_RATIO)),)

    return drawn


def _in_pieces(view: View, cache: Path | None, edition: Edition) -> tuple[ink.Drawing, ...]:
    """The whole signal flow on as few large sheets as hold it in letters that can be read."""
    made = sheets(view, edition, A3)
    asked = [layered.ask(_graph(sheet, _mixer(view)), cache_folder=cache) for sheet in made]
    laid = [placed() for placed in asked]
    # All at one size, so that they hang beside each other as one.
    ratio = min(_LARGEST_RATIO, *(ink.fill(*_size(placed)) for placed in laid))
    drawings = [
        _drawing(sheet, placed, (number, len(made)), edition, ratio)
        for number, (sheet, placed) in enumerate(zip(made, laid, strict=True), start=1)
    ]
    split = edition.say("whole-flow.split", points=f"{SMALLEST_PT:g}", n=len(made))
    return (replace(drawings[0], notes=(split, *drawings[0].notes)), *drawings[1:])


def unplaced_flow(view: View, edition: Edition) -> tuple[object, ...]:
    """All that the drawings of the signal flow show, but for where it stands.

    Two flows of which this is the same are drawn the same; to compare them needs no layout.
    """
    return tuple(_unplaced(view, sheets(view, edition), edition))


def unplaced_whole(view: View, edition: Edition) -> tuple[object, ...]:
    """The same of the whole flow, on one sheet and in pieces."""
    made = whole(view, edition), *sheets(view, edition, A3)
    return tuple(_unplaced(view, made, edition))


def _unplaced(view: View, made: Sequence[Sheet], edition: Edition) -> Iterator[object]:
    for sheet in made:
        graph = _graph(sheet, _mixer(view))
        yield graph, _drawing(sheet, layered.anyhow(graph), (1, 1), edition, 1)


SMALLEST_PT = 6.0  # letters that a person still reads at arm's length; from memory
_SMALLEST_RATIO = SMALLEST_PT * ink.PT / ink.SMALL
_LARGEST_RATIO = 1.5  # a sheet for the wall may be larger than life, and needs not be a poster


def _ratio(width: float, height: float) -> float:
    """How much a sheet of the book shrinks: to a page if it stays legible, else to a fold-out."""
    page = min(1.0, ink.LANDSCAPE_MM[0] / width, ink.LANDSCAPE_MM[1] / height)
    return page if page >= _SMALLEST_RATIO else ink.fit(width, height)


def _mixer(view: View) -> str:
    return view.rig.mixer.id if view.rig.mixer else ""


def _nothing_wired(edition: Edition) -> ink.Drawing:
    width, height = ink.LANDSCAPE_MM[0], 40.0
    words, fix = edition.say("signal-flow.nothing"), edition.say("signal-flow.nothing_fix")
    marks = [
        ink.text((width / 2, 16), words, size=ink.HEAD, style="medium", anchor="middle"),
        ink.text((width / 2, 24), fix, size=ink.TEXT, anchor="middle"),
    ]
    return ink.Drawing(
        ink.sheet(width, height, marks),
        width,
        height,
        edition.say("signal-flow.title"),
        f"{words} {fix}",
    )


def _drawing(
    sheet: Sheet,
    placed: layered.Placed,
    place: tuple[int, int],
    edition: Edition,
    paper: float,
) -> ink.Drawing:
    """One sheet at a part (or a multiple) of its size on paper."""
    width, height = _size(placed)
    left = (width - placed.width) / 2
    marks = [ink.group("wires", _wires(sheet, placed, left))]
    for node in sheet.nodes:
        box = placed.box[node.key]
        corner = (box.x + left, box.y + 0.5)
        marks.append(
            ink.group(f"box-{node.key}", _box(node, corner, (box.width, box.height), edition))
        )
    boxes = [fitted(node.title, within_mm=40, size_mm=ink.SMALL) for node in sheet.nodes]
    body = ink.sheet(width, height, marks)
    say, (number, count) = edition.say, place
    points = edition.number(paper * ink.SMALL / ink.PT)
    shrunk = say("signal-flow.shrunk", percent=f"{paper * 100:.0f}", points=points)
    alone = count == 1 and number == 1
    caption = (
        say("whole-flow.caption")
        if alone
        else say("signal-flow.caption", number=number, count=count)
    )
    return ink.Drawing(
        body if paper == 1 else ink.resized(body, width, height, paper),
        width * paper,
        height * paper,
        sheet.title,
        say("signal-flow.alt", boxes=edition.listed(boxes), n=len(sheet.joins)),
        caption=caption,
        notes=() if paper >= 1 else (shrunk,),
        key=(
            say("signal-flow.key_analogue"),
            say("signal-flow.key_digital"),
            say("signal-flow.key_network"),
            say("signal-flow.key_radio"),
            say("signal-flow.key_isolated"),
            say("signal-flow.key_private"),
            *(() if alone else (say("signal-flow.key_onward"),)),
        ),
    )


def _size(placed: layered.Placed) -> ink.Place:
    """The size of a drawing on paper: as wide as a page at least."""
    return max(ink.LANDSCAPE_MM[0], placed.width + 1), placed.height + 1


# ---- what the layout engine is asked ---------------------------------------------------------


def _graph(sheet: Sheet, mixer: str) -> layered.Graph:
    boxes = tuple(
        layered.Box(
            name=node.key,
            width=_width(node.key, mixer),
            height=node.height,
            west=tuple(_ports(node.west)),
            east=tuple(_ports(node.east)),
            layer=_layer(node),
        )
        for node in sheet.nodes
    )
    wires = tuple(
        layered.Wire(str(place), layered.End(*join.start), layered.End(*join.end))
        for place, join in enumerate(sheet.joins)
    )
    return layered.Graph(boxes=boxes, wires=wires, spacing=_SPACING)


def _width(key: str, mixer: str) -> float:
    if key == mixer:
        return _MIXER_WIDTH
    return _WIDTHS.get(key.partition(":")[0], _GEAR_WIDTH)


def _layer(node: Node) -> int:
    """Where it all begins, and where it ends; between them the wires say what comes first."""
    kind = node.key.partition(":")[0]
    if kind == "person" or (node.key == HOUSE and any(row.wired for row in node.west)):
        return 2
    return 1 if any(row.wired for row in node.west) else 0


def _ports(rows: Sequence[Row]) -> Iterator[layered.Port]:
    for row, middle in _heights(rows):
        if row.wired:
            yield layered.Port(row.key, middle)


def _heights(rows: Sequence[Row]) -> Iterator[tuple[Row, float]]:
    """Each row with the height of its middle under the top of the box."""
    down = HEAD
    for row in rows:
        high = PITCH * (len(row.lines) or 1)
        yield row, round(down + high / 2, 3)
        down += high


# ---- ink ---------------------------------------------------------------------------------------


def _wires(sheet: Sheet, placed: layered.Placed, left: float) -> Iterator[str]:
    for join, wire in zip(sheet.joins, placed.wires, strict=True):
        points = [(point.x + left, point.y + 0.5) for point in wire.points]
        weight = ink.FIRM if join.run.kind in {"digital", "network"} else ink.THIN
        yield ink.polyline(points, weight=weight, dash=_DASHES[join.run.kind])
        yield ink.arrow(points[-1], "right" if points[-1][0] >= points[-2][0] else "left", 1.4)
        if _marked_isolated(join):
            yield from _isolated(points[0])
        for junction in wire.junctions:
            yield ink.dot((junction.x + left, junction.y + 0.5), 0.45)


def _marked_isolated(join: Join) -> bool:
    return join.run.isolated and not join.run.start.box.startswith("source:")


def _isolated(start: ink.Place) -> Iterator[str]:
    x, y = start
    for step in (0.6, 1.2):  # before the nearest wire that turns
        yield ink.line((x + step, y - 0.9), (x + step, y + 0.9), weight=ink.FIRM)


def _box(node: Node, corner: ink.Place, size: ink.Place, edition: Edition) -> Iterator[str]:
    kind = node.key.partition(":")[0]
    people = kind in {"player", "person", "source"}
    weight = ink.HEAVY if node.key == HOUSE else ink.FIRM
    yield ink.rect(corner, size, weight=weight, fill="white", round_mm=1.5 if people else 0)
    x, y = corner
    yield ink.line((x, y + HEAD - 0.7), (x + size[0], y + HEAD - 0.7), weight=ink.HAIR)
    at, room = x + 1.4, size[0] - 2.8
    if node.label:
        label = fitted(node.label, within_mm=room / 3, size_mm=ink.SMALL, style="bold")
        yield ink.text((at, y + 2.95), label, size=ink.SMALL, style="bold")
        wide = width_mm(label, size_mm=ink.SMALL, style="bold") + 1.4
        at, room = at + wide, room - wide
    yield ink.text((at, y + 2.95), node.title, size=ink.TEXT, style="medium", within=room)
    used: dict[float, float] = {}
    for row, down in _heights(node.west):
        words = _row_words(row, size[0] - 2.8)
        used[down] = sum(wide for _, wide in words)
        yield from _written(words, (x + 1.4, y + down), "start")
    for row, down in _heights(node.east):
        if row.lines:
            yield from _bracket(row, (x, y + down), size[0], edition)
            continue
        words = _row_words(row, size[0] - 3.6 - used.get(down, 0.0))
        yield from _written(words, (x + size[0] - 1.4, y + down), "end")


def _row_words(row: Row, room: float) -> list[tuple[str, float]]:
    """The socket and whose signal it is, each with its width, as far as there is room."""
    found: list[tuple[str, float]] = []
    for words in (row.words, row.whose):
        shown = fitted(words, within_mm=room, size_mm=ink.SMALL) if room > 4 else ""
        if shown:
            wide = width_mm(shown, size_mm=ink.SMALL) + 1.2
            found.append((shown, wide))
            room -= wide
    return found


def _written(
    words: Sequence[tuple[str, float]], at: ink.Place, anchor: ink.Anchor
) -> Iterator[str]:
    x, y = at[0], ink.middle(at[1], ink.SMALL)
    for shown, wide in words:
        yield ink.text((x, y), shown, size=ink.SMALL, anchor=anchor)
        x += wide if anchor == "start" else -wide


def _bracket(row: Row, at: ink.Place, width: float, edition: Edition) -> Iterator[str]:
    """The sources of one run, one under the other, gathered at the wire."""
    left, middle = at
    right = left + width
    top = middle - PITCH * len(row.lines) / 2
    if len(row.lines) > 1:
        high = PITCH * (len(row.lines) - 1)
        edge = right - 1.3
        yield ink.line((edge, top + PITCH / 2), (edge, top + PITCH / 2 + high), weight=ink.THIN)
        yield ink.line((edge, middle), (right, middle), weight=ink.THIN)
    for place, line in enumerate(row.lines):
        centre = top + PITCH * (place + 0.5)
        y = ink.middle(centre, ink.SMALL)
        yield from line_mark(line.mark, (left + 2.6, centre))
        yield ink.text((left + 5.0, y), line.word, size=ink.SMALL, within=width - 17.5)
        if line.source.private:
            words = edition.say("signal-flow.band_only")
            yield ink.text((right - 2.2, y), words, size=ink.SMALL, anchor="end")
