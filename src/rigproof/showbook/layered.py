"""Layered drawings: boxes in columns, wires from port to port at right angles.

The layout engine is elkjs (`vendor/elkjs`), run in an embedded JavaScript interpreter; nothing of
it shows outside this module.

The engine sees sizes and connections, never a name. So a drawing stays as it was when something
is renamed, provided the caller does not size boxes by their names: give every box of a kind the
same width and let long names be cut or wrapped inside it.
"""

import hashlib
import json
import os
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any, TypeAlias

from rigproof.showbook import aside, nets
from rigproof.showbook.boxes import (
    Box,
    End,
    Graph,
    Group,
    LayoutError,
    Placed,
    PlacedBox,
    PlacedWire,
    Point,
    Port,
    Spacing,
    Wire,
    anyhow,
    evenly,
    refuse_contradictions,
)

__all__ = [
    "Box",
    "End",
    "Graph",
    "Group",
    "LayoutError",
    "Placed",
    "PlacedBox",
    "PlacedWire",
    "Point",
    "Port",
    "Spacing",
    "Wire",
    "anyhow",
    "ask",
    "busy",
    "evenly",
    "layout",
    "rest",
    "wake",
]

_WORKER = Path(__file__).parent / "vendor/elkjs/elk-worker.min.js"
_ENGINE = "elkjs 0.12.1, settings 1"
"""Part of every cache key: change it when the same graph may come out differently."""

_TIME_LIMIT_S = 60
_MEMORY_LIMIT_BYTES = 512 << 20
_STACK_LIMIT_BYTES = aside.STACK_BYTES // 2
_LAYOUTS_KEPT = 64

_Json: TypeAlias = dict[str, Any]  # what goes to and comes from the engine


def layout(graph: Graph, *, cache_folder: Path | None = None) -> Placed:
    """Place the boxes and route the wires of a graph.

    Layouts are remembered in the process and, where a folder is given, in it, under a hash of the
    sizes and connections alone. A damaged or unwritable folder costs time and nothing else.
    """
    return ask(graph, cache_folder=cache_folder)()


def ask(graph: Graph, *, cache_folder: Path | None = None) -> Callable[[], Placed]:
    """Begin to lay out a graph, as `layout` does; call what is returned to have it.

    The engine works in a thread of its own, so that the caller may do something else meanwhile.
    """
    refuse_contradictions(graph)
    if not graph.boxes:
        nothing = Placed(width=0.0, height=0.0, boxes=(), wires=(), groups=())
        return lambda: nothing
    first = _begin(graph, nets.tangled(graph.wires), cache_folder)

    def finished() -> Placed:
        placed = first()
        if not nets.confused(graph, placed):
            return placed
        # Where two wires want to change lanes the engine cuts a trunk in two, and hangs branches
        # of it on the wrong half. Without any trunk there is nothing to hang wrongly.
        return _begin(graph, frozenset(range(len(graph.wires))), cache_folder)()

    return finished


def _begin(graph: Graph, alone: frozenset[int], cache_folder: Path | None) -> Callable[[], Placed]:
    """Have a graph laid out, with lines of their own for some wires."""
    question = json.dumps(_question(graph, alone), sort_keys=True, separators=(",", ":"))
    key = hashlib.sha256(f"{_ENGINE}\n{question}".encode()).hexdigest()
    kept = _recall(key, cache_folder)
    if kept is not None:
        with suppress(LayoutError):
            known = _placed(graph, json.loads(kept))
            return lambda: known
    answering = _asked_once(key, question)

    def finished() -> Placed:
        try:
            answer = answering.result()
            placed = _placed(graph, answer)
            _remember(key, json.dumps(answer, separators=(",", ":")), cache_folder)
        finally:
            _asked.pop(key, None)
        return placed

    return finished


def busy() -> bool:
    """Whether something that was asked for is still being laid out."""
    return any(not asked.done() for asked in tuple(_asked.values()))


def wake() -> None:
    """Start the engine without waiting: this takes a third of a second.

    Once it was let go, what it laid out is remembered, and it starts again only where it is asked.
    """
    if not _engine.rested:
        _engine_thread().submit(_engine.wake)


def rest() -> None:
    """Let the engine go, which holds much memory; whatever was asked for is laid out before."""
    _engine_thread().submit(_engine.rest)


# ---- the question: sizes and connections, by number ------------------------------------------


def _question(graph: Graph, alone: frozenset[int]) -> _Json:
    """What the engine is told. Wires `alone` share no line with another."""
    frame_options = _frame_options(graph.spacing)
    turned = _turned_wires(graph)
    crowds = _crowds(graph, alone)
    groups = {group.name: place for place, group in enumerate(graph.groups)}
    ports: dict[tuple[End, int], str] = {}
    free: list[_Json] = []
    framed: list[list[_Json]] = [[] for _ in graph.groups]
    for place, box in enumerate(graph.boxes):
        asked = _box_question(box, f"b{place}", crowds, ports)
        (free if box.group is None else framed[groups[box.group]]).append(asked)
    frames: list[_Json] = [
        {
            "id": f"g{place}",
            "layoutOptions": {
                **frame_options,
                **_layer_option(group.layer),
                "elk.padding": _padding(graph.spacing.frame, head=group.head),
            },
            "children": framed[place],
        }
        for place, group in enumerate(graph.groups)
    ]
    return {
        "id": "drawing",
        "layoutOptions": {
            **frame_options,
            "elk.algorithm": "layered",
            "elk.hierarchyHandling": "INCLUDE_CHILDREN" if frames else "SEPARATE_CHILDREN",
            "elk.json.edgeCoords": "ROOT",
            "elk.json.shapeCoords": "ROOT",
            "elk.padding": _padding(0.0, head=0.0),
        },
        "children": free + frames,
        "edges": [
            {
                "id": f"w{place}",
                "sources": [ends[place in turned]],
                "targets": [ends[place not in turned]],
            }
            for place, ends in enumerate(
                [ports[end, place] for end in (wire.source, wire.target)]
                for place, wire in enumerate(graph.wires)
            )
        ],
    }


def _crowds(graph: Graph, alone: frozenset[int]) -> dict[End, list[list[int]]]:
    """At each port, the wires that may share a line from there: one list for each line."""
    crowds: dict[End, list[list[int]]] = {}
    for place, wire in enumerate(graph.wires):
        for end in (wire.source, wire.target):
            lines = crowds.setdefault(end, [])
            shared = next((line for line in lines if line[0] not in alone), None)
            if place in alone or shared is None:
                lines.append([place])
            else:
                shared.append(place)
    return crowds


def _turned_wires(graph: Graph) -> frozenset[int]:
    """Wires that run back to a lower layer of their frame, by number.

    The engine ignores layers inside a frame and would break a loop anywhere. Told that these
    wires run the other way, it meets no loop; what it draws is the same line.
    """
    boxes = {box.name: box for box in graph.boxes}

    def runs_back(wire: Wire) -> bool:
        source, target = boxes[wire.source.box], boxes[wire.target.box]
        return (
            source.group is not None
            and source.group == target.group
            and source.layer is not None
            and target.layer is not None
            and source.layer > target.layer
        )

    return frozenset(place for place, wire in enumerate(graph.wires) if runs_back(wire))


def _frame_options(spacing: Spacing) -> dict[str, str]:
    return {
        "elk.direction": "RIGHT",
        "elk.edgeRouting": "ORTHOGONAL",
        "elk.partitioning.activate": "true",
        # Parts without a wire between them would be packed anywhere, whatever their layer.
        "elk.separateConnectedComponents": "false",
        # The smallest of the four alignments of this placement. Against their average (BALANCED)
        # it left a quarter fewer corners on drawings of 45 and 60 boxes and took less time; the
        # engine's default placement takes three times as long.
        "elk.layered.nodePlacement.strategy": "BRANDES_KOEPF",
        "elk.layered.nodePlacement.bk.fixedAlignment": "NONE",
        # Seven rounds against crossings by default; after the third nothing changed.
        "elk.layered.thoroughness": "3",
        "elk.spacing.edgeEdge": str(spacing.wires),
        "elk.layered.spacing.edgeEdgeBetweenLayers": str(spacing.wires),
        "elk.spacing.nodeNode": str(spacing.boxes),
        "elk.spacing.edgeNode": str(spacing.wire_to_box),
        "elk.layered.spacing.edgeNodeBetweenLayers": str(spacing.wire_to_box),
        "elk.layered.spacing.nodeNodeBetweenLayers": str(spacing.columns),
    }


def _padding(frame: float, *, head: float) -> str:
    return f"[top={frame + head},left={frame},bottom={frame},right={frame}]"


def _layer_option(layer: int | None) -> dict[str, str]:
    return {} if layer is None else {"elk.partitioning.partition": str(layer)}


def _box_question(
    box: Box,
    box_id: str,
    crowds: Mapping[End, Sequence[Sequence[int]]],
    ports: dict[tuple[End, int], str],
) -> _Json:
    # Ports by position, not by index: the engine counts an index from the top on one side and from
    # the bottom on the other, and would move ports that the caller has drawn labels at.
    asked: list[_Json] = []
    for side, x, placed in (("WEST", 0.0, box.west), ("EAST", box.width, box.east)):
        for port in placed:
            end = End(box.name, port.name)
            # The engine joins all wires of a port; wires alone get one each, at the same place.
            for line in crowds.get(end, ((),)):
                port_id = f"{box_id}p{len(asked)}"
                ports.update({(end, place): port_id for place in line})
                asked.append(
                    {
                        "id": port_id,
                        "x": x,
                        "y": port.down,
                        "width": 0,
                        "height": 0,
                        "layoutOptions": {"elk.port.side": side},
                    }
                )
    return {
        "id": box_id,
        "width": box.width,
        "height": box.height,
        "ports": asked,
        "layoutOptions": {
            "elk.portConstraints": "FIXED_POS",
            **_layer_option(box.layer),
        },
    }


# ---- the answer ------------------------------------------------------------------------------


def _placed(graph: Graph, answer: _Json) -> Placed:
    try:
        shapes = {shape["id"]: shape for shape in _shapes(answer)}
        turned = _turned_wires(graph)
        routes = {edge["id"]: edge for edge in answer.get("edges", ())}
        boxes = tuple(
            _placed_box(box.name, shapes[f"b{place}"]) for place, box in enumerate(graph.boxes)
        )
        ways = nets.straightened(
            [
                _corners(routes[f"w{place}"], turned=place in turned)
                for place in range(len(graph.wires))
            ],
            boxes,
            least=graph.spacing.wires / 2,
        )
        dots = _junctions(graph, ways)
        return Placed(
            width=_length(answer["width"]),
            height=_length(answer["height"]),
            boxes=boxes,
            wires=tuple(
                PlacedWire(name=wire.name, points=ways[place], junctions=tuple(dots[place]))
                for place, wire in enumerate(graph.wires)
            ),
            groups=tuple(
                _placed_box(group.name, shapes[f"g{place}"])
                for place, group in enumerate(graph.groups)
            ),
        )
    except (KeyError, TypeError, ValueError, AttributeError, IndexError) as error:
        raise LayoutError(
            f"the layout engine gave an answer that cannot be read: {error}"
        ) from error


def _shapes(frame: _Json) -> Iterator[_Json]:
    for shape in frame.get("children", ()):
        yield shape
        yield from _shapes(shape)


def _placed_box(name: str, shape: _Json) -> PlacedBox:
    return PlacedBox(
        name=name,
        x=_length(shape["x"]),
        y=_length(shape["y"]),
        width=_length(shape["width"]),
        height=_length(shape["height"]),
    )


def _corners(edge: _Json, *, turned: bool) -> tuple[Point, ...]:
    (section,) = edge["sections"]
    places = (section["startPoint"], *section.get("bendPoints", ()), section["endPoint"])
    corners = [_point(place) for place in places]
    distinct = [
        corner for place, corner in enumerate(corners) if place == 0 or corner != corners[place - 1]
    ]
    return tuple(reversed(distinct) if turned else distinct)


def _junctions(graph: Graph, ways: Sequence[tuple[Point, ...]]) -> list[list[Point]]:
    """For each wire, where it leaves or joins another wire of the same port."""
    found: list[list[Point]] = [[] for _ in ways]
    ends: dict[End, list[tuple[int, tuple[Point, ...]]]] = {}
    for place, (wire, way) in enumerate(zip(graph.wires, ways, strict=True)):
        ends.setdefault(wire.source, []).append((place, way))
        ends.setdefault(wire.target, []).append((place, way[::-1]))
    for company in ends.values():
        partings = nets.partings([way for _, way in company])
        for (place, _), parting in zip(company, partings, strict=True):
            if parting is not None:
                found[place].append(parting)
    return found


def _point(place: _Json) -> Point:
    return Point(_length(place["x"]), _length(place["y"]))


def _length(value: float) -> float:
    # A thousandth is finer than any printer, and hides the last bits in which two corners of a
    # straight line may differ. Adding zero turns -0.0 into 0.0.
    return round(float(value), 3) + 0.0


# ---- memory ----------------------------------------------------------------------------------

_kept: OrderedDict[str, str] = OrderedDict()
_kept_lock = threading.Lock()


def _recall(key: str, folder: Path | None) -> str | None:
    with _kept_lock:
        if key in _kept:
            _kept.move_to_end(key)
            return _kept[key]
    if folder is None:
        return None
    try:
        check, _, text = (folder / f"{key}.layout").read_text(encoding="ascii").partition("\n")
    except (OSError, ValueError):
        return None
    if check != hashlib.sha256(text.encode()).hexdigest():
        return None
    _keep(key, text)
    return text


def _keep(key: str, text: str) -> None:
    with _kept_lock:
        _kept[key] = text
        _kept.move_to_end(key)
        while len(_kept) > _LAYOUTS_KEPT:
            _kept.popitem(last=False)


def _remember(key: str, text: str, folder: Path | None) -> None:
    _keep(key, text)
    if folder is None:
        return
    # Written aside and moved: a reader, or a power cut, meets the whole file or none.
    with suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        handle, part = tempfile.mkstemp(dir=folder, prefix=f"{key[:16]}.", suffix=".part")
        try:
            with os.fdopen(handle, "w", encoding="ascii") as file:
                file.write(f"{hashlib.sha256(text.encode()).hexdigest()}\n{text}")
            Path(part).replace(folder / f"{key}.layout")
        except OSError:
            Path(part).unlink(missing_ok=True)
            raise


# ---- the engine ------------------------------------------------------------------------------

# What the worker expects of a browser: messages, and timers that run once the caller is idle.
_BROWSER = """
var self = globalThis, waiting = [], reply = null;
globalThis.setTimeout = task => { waiting.push(task); return 0; };
globalThis.clearTimeout = () => {};
globalThis.console = {log() {}, warn() {}, error() {}};
var postMessage = message => { reply = message; };
self.postMessage = postMessage;
function ask(message) {
  reply = null;
  self.onmessage({data: message});
  while (waiting.length) waiting.shift()();
  if (reply === null) return JSON.stringify({error: "no reply"});
  // Only the message of an error: the rest of it refers to itself.
  return JSON.stringify(reply.error ? {error: String(reply.error.message || reply.error)} : reply);
}
0
"""


def _quickjs() -> Any:
    # By name, because it has no types: everything of it is Any in any case.
    return import_module("quickjs")


class _Engine:
    """The worker in its interpreter; to be used from one thread only."""

    def __init__(self) -> None:
        self._context: Any = None
        self.rested = False

    def rest(self) -> None:
        self._context = None
        self.rested = True

    def wake(self) -> None:
        if self._context is None:
            self._context = self._started(_quickjs())

    def lay_out(self, question: str) -> _Json:
        quickjs = _quickjs()
        try:
            self.wake()
            reply = self._context.eval(
                'ask({id: 1, cmd: "layout", layoutOptions: {}, options: {}, graph: '
                + question
                + "})"
            )
        except (quickjs.JSException, MemoryError) as error:
            # After an interruption the interpreter may be left in any state.
            self._context = None
            raise LayoutError(
                "the drawing is too large to lay out: the engine stopped "
                f"({str(error).strip() or 'out of memory'}). Split it into smaller drawings."
            ) from error
        answer: _Json = json.loads(reply)
        if "error" in answer:
            raise LayoutError(f"the layout engine refused the drawing: {answer['error']}")
        return _essence(answer["data"])

    @staticmethod
    def _started(quickjs: Any) -> Any:
        context = quickjs.Context()
        context.set_memory_limit(_MEMORY_LIMIT_BYTES)
        context.set_max_stack_size(_STACK_LIMIT_BYTES)
        context.set_time_limit(_TIME_LIMIT_S)
        context.eval(_BROWSER)
        context.eval(_WORKER.read_text(encoding="utf-8") + ";0")
        context.eval('ask({id: 0, cmd: "register", algorithms: ["layered"]})')
        return context


def _essence(answer: _Json) -> _Json:
    """Only what `_placed` reads: the engine adds marks that differ from call to call."""

    def shape(full: _Json) -> _Json:
        kept: _Json = {
            name: full[name] for name in ("id", "x", "y", "width", "height") if name in full
        }
        kept["children"] = [shape(child) for child in full.get("children", ())]
        return kept

    edges = [{"id": edge["id"], "sections": edge["sections"]} for edge in answer.get("edges", ())]
    return {**shape(answer), "edges": edges}


@cache
def _engine_thread() -> ThreadPoolExecutor:
    """The interpreter belongs to the thread that made it."""
    return aside.thread("drawing")


_engine = _Engine()


def _ask_engine(question: str) -> Future[_Json]:
    return _engine_thread().submit(_engine.lay_out, question)


# What was asked and is not yet remembered: two drawings may ask the same before it is answered.
_asked: dict[str, Future[_Json]] = {}


def _asked_once(key: str, question: str) -> Future[_Json]:
    if key not in _asked:
        _asked[key] = _ask_engine(question)
    return _asked[key]
