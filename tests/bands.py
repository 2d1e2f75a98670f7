"""Rigs that the tests share: small ones as text, and the three whole ones that ship."""

from functools import cache
from pathlib import Path

from rigproof.checks.rule import View, look
from rigproof.rig import Rig
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
