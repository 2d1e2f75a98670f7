"""Boxes and wires to be laid out, and where they came to stand.

Sizes and places are in any one unit; a name tells one box from another and is never looked at.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from types import MappingProxyType
from typing import NamedTuple


class LayoutError(Exception):
    """A drawing could not be laid out: the graph contradicts itself, or it took too long."""


@dataclass(frozen=True, slots=True)
class Port:
    """A place on the side of a box where wires end.

    `down` is the distance from the top of the box, in the unit of the box's size.
    """

    name: str
    down: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A box of fixed size; its ports stand in the given order, top to bottom.

    `layer` orders columns: a box of a lower layer stands left of one of a higher layer. A box
    without one stands where its wires put it. `group` names the frame of the box; inside a frame
    only boxes that are joined by wires are ordered by their layers.
    """

    name: str
    width: float
    height: float
    west: tuple[Port, ...] = ()
    east: tuple[Port, ...] = ()
    layer: int | None = None
    group: str | None = None


class End(NamedTuple):
    """One end of a wire."""

    box: str
    port: str


@dataclass(frozen=True, slots=True)
class Wire:
    """A wire, drawn from left to right where that is possible."""

    name: str
    source: End
    target: End


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A frame around the boxes that name it; `head` is the room kept for its title."""

    name: str
    head: float = 14.0
    layer: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Spacing:
    """Clear distances, in the unit of the boxes."""

    wires: float = 6.0
    boxes: float = 14.0
    wire_to_box: float = 8.0
    columns: float = 18.0
    frame: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Graph:
    boxes: tuple[Box, ...]
    wires: tuple[Wire, ...]
    groups: tuple[Group, ...] = ()
    spacing: Spacing = field(default_factory=Spacing)


class Point(NamedTuple):
    """From the top left corner of the drawing, to the right and down."""

    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedBox:
    name: str
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedWire:
    """The corners of a wire from its source port to its target port, both included.

    `junctions` are where it leaves or joins another wire of the same port: draw a dot there.
    """

    name: str
    points: tuple[Point, ...]
    junctions: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A finished layout. Boxes, wires and groups come in the order of the graph."""

    width: float
    height: float
    boxes: tuple[PlacedBox, ...]
    wires: tuple[PlacedWire, ...]
    groups: tuple[PlacedBox, ...]

    @property
    def box(self) -> Mapping[str, PlacedBox]:
        return MappingProxyType({one.name: one for one in self.boxes})


def anyhow(graph: Graph) -> Placed:
    """A layout in which nothing has its place: what a drawing shows besides can be seen in it."""
    boxes = tuple(
        PlacedBox(name=box.name, x=0, y=0, width=box.width, height=box.height)
        for box in graph.boxes
    )
    stub = (Point(0, 0), Point(1, 0))
    wires = tuple(PlacedWire(name=wire.name, points=stub, junctions=()) for wire in graph.wires)
    return Placed(width=0, height=0, boxes=boxes, wires=wires, groups=())


def evenly(names: Sequence[str], *, height: float, top: float = 0.0) -> tuple[Port, ...]:
    """Ports at equal distances between `top` and the foot of a box of this height.

    >>> [port.down for port in evenly(["1", "2"], height=50, top=10)]
    [20.0, 40.0]
    """
    pitch = (height - top) / max(len(names), 1)
    return tuple(Port(name, top + pitch * (place + 0.5)) for place, name in enumerate(names))


def refuse_contradictions(graph: Graph) -> None:
    """Raise for a graph that no layout can fulfil."""
    for kind, names in (
        ("box", [box.name for box in graph.boxes]),
        ("wire", [wire.name for wire in graph.wires]),
        ("group", [group.name for group in graph.groups]),
    ):
        for name in sorted({name for name in names if names.count(name) > 1}):
            raise LayoutError(f'two {kind} entries are called "{name}"')
    groups = {group.name for group in graph.groups}
    for box in graph.boxes:
        if not (_is_length(box.width) and _is_length(box.height)):
            raise LayoutError(f'box "{box.name}" has no size')
        if box.group is not None and box.group not in groups:
            raise LayoutError(f'box "{box.name}" stands in a group "{box.group}" that is not there')
        ports = [port.name for port in box.west + box.east]
        if len(set(ports)) < len(ports):
            raise LayoutError(f'box "{box.name}" has two ports of the same name')
        for side in (box.west, box.east):
            downs = [port.down for port in side]
            if not all(0 <= down <= box.height for down in downs):
                raise LayoutError(f'a port of box "{box.name}" lies outside its side')
            if any(low >= high for low, high in pairwise(downs)):
                raise LayoutError(
                    f'the ports of box "{box.name}" do not follow each other downwards'
                )
    ends = {(box.name, port.name) for box in graph.boxes for port in box.west + box.east}
    for wire in graph.wires:
        for end in (wire.source, wire.target):
            if end not in ends:
                raise LayoutError(
                    f'wire "{wire.name}" ends at port "{end.port}" of box "{end.box}", '
                    "which is not there"
                )
    filled = {box.group for box in graph.boxes}
    for group in graph.groups:
        if group.name not in filled:
            raise LayoutError(f'group "{group.name}" has no boxes')


def _is_length(value: float) -> bool:
    return math.isfinite(value) and value > 0
