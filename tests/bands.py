"""Rigs that the tests share: small ones as text, and the three whole ones that ship."""

import json
from functools import cache
from pathlib import Path

from rigproof.checks.rule import View, look
from rigproof.rig import Rig
from rigproof.rig.entry import Entry
from rigproof.rig.quantity import Quantity
from rigproof.rig.ref import Numbers
from rigproof.rigfile.load import load, parse
from rigproof.signal import Graph

ROOT = Path(__file__).parent.parent
WHOLE = {
    "demo": ROOT / "src" / "rigproof" / "demo",
    "trio": ROOT / "examples" / "trio",
    "twelve": ROOT / "examples" / "twelve",
}


def stated(text: str) -> Rig:
    return parse(f"format: 1\nrig: {{name: Example}}\n{text}".encode())


def seen(text: str) -> View:
    return look(stated(text))


@cache
def whole(name: str) -> View:
    return look(load(WHOLE[name]))


def reached(graph: Graph, source: str) -> set[str]:
    """The keys of all places where a source arrives."""
    return {graph.nodes[n].key for n in graph.reached(graph.of_source(source))}


def way(graph: Graph, start: str, end: str) -> list[str] | None:
    """The keys along the shortest way from one place to another."""
    path = graph.shortest([graph.index[start]], [graph.index[end]])
    if path is None:
        return None
    return [graph.nodes[path[0].start].key, *(graph.nodes[hop.end].key for hop in path)]


def plain(value: object) -> object:
    """An entry as the plain data of its file: without places, and without what nobody wrote."""
    if isinstance(value, Entry):
        parts = {
            key: getattr(value, field)
            for field, key in zip(
                value.__struct_fields__, value.__struct_encode_fields__, strict=True
            )
            if field != "where"
        }
        return {key: plain(part) for key, part in parts.items() if part not in (None, (), "")}
    if isinstance(value, tuple):
        return [plain(part) for part in value]
    if isinstance(value, Quantity):
        return {"value": float(value), "from": value.provenance}
    return str(value) if isinstance(value, str | Numbers) else value


def written(rig: Rig) -> bytes:
    """A rig as a file; JSON is YAML."""
    return json.dumps(plain(rig.file), ensure_ascii=False).encode()
