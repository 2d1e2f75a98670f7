"""The sentences of the program, found in its text: what a translator has to know."""

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import rigproof
from rigproof.checks.catalogue import rules

SOURCE = Path(rigproof.__file__).parent
PLACES = re.compile(r"\{[^{}]*\}")
# Words, not units: `dB SPL` and `mm` are the same everywhere.
WORDS = re.compile(r"\b(?!(?:mm|cm|kg|ms)\b)[A-Z]?[a-z]{2,}|\b(?:A|a|I)\b")
SAYS = re.compile(r"\b(?:sentence|counted|noun|listed|Finding)\b")


def needs_words(english: str) -> bool:
    """Whether a sentence holds anything that another language says otherwise."""
    return WORDS.search(PLACES.sub("", english)) is not None


def sentences_of(text: str) -> Iterator[str]:
    """What a module says that can be said again; sentences chosen by a name, as far as it shows."""
    tree = ast.parse(text)
    named = {
        target.id: node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None
        for target in (node.targets if isinstance(node, ast.Assign) else [node.target])
        if isinstance(target, ast.Name)
    }
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
            continue
        name, given = node.func.id, node.args
        if name == "partial" and isinstance(given[0], ast.Name):
            name, given = given[0].id, given[1:]
        if name == "sentence" and given:
            yield from _texts(given[0], named)
        elif name in {"counted", "noun"}:
            words = [text for part in given[1:] for text in _texts(part, named)]
            words += [f"{words[0]}s"] if len(words) == 1 else []
            yield from (f"{{n}} {word}" if name == "counted" else word for word in words)
        elif name == "listed" and len(given) > 1:
            yield from (f"{{names}} {last} {{last}}" for last in _texts(given[1], named))
        elif name == "Finding":
            yield from (
                text for key in node.keywords if key.arg == "unit" for text in _texts(key.value, {})
            )


def _texts(node: ast.expr, named: dict[str, ast.expr]) -> Iterator[str]:
    """The texts that an expression may come to."""
    match node:
        case ast.Constant(value=str(text)):
            yield text
        case ast.IfExp(body=first, orelse=second):
            yield from _texts(first, named)
            yield from _texts(second, named)
        case ast.Dict(values=values):
            for value in values:
                yield from _texts(value, named)
        case ast.Subscript(value=ast.Name(id=name)) | ast.Name(id=name) if name in named:
            yield from _texts(named[name], {})
        case _:
            return


@cache
def texts() -> dict[str, str]:
    """Module -> its text, without the terminal's: that speaks English."""
    paths = {path.relative_to(SOURCE): path for path in sorted(SOURCE.rglob("*.py"))}
    return {
        place.with_suffix("").as_posix().replace("/", "-"): path.read_text(encoding="utf-8")
        for place, path in paths.items()
        if place.parts[0] not in {"cli", "wording"}
    }


@cache
def all_sentences() -> dict[str, list[str]]:
    """Module -> what it says and has words in it, in order, each sentence once."""
    found: dict[str, list[str]] = {}
    seen: set[str] = set()
    for module, text in texts().items():
        if not SAYS.search(text):
            continue
        for english in sentences_of(text):
            if english not in seen and needs_words(english):
                seen.add(english)
                found.setdefault(module, []).append(english)
    for rule in rules():
        if rule.fix not in seen:
            seen.add(rule.fix)
            module = rule.check.__module__.partition(".")[2].replace(".", "-")
            found.setdefault(module, []).append(rule.fix)
    return found
