"""The tutorial does what it says: typed in as a reader would, it answers as shown, and is clean."""

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest

from rigproof.cli import main

TUTORIAL = Path(__file__).parents[2] / "docs" / "tutorial.md"
BLOCK = re.compile(r"^```(\w+) ?([^\n]*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def blocks() -> Iterator[tuple[str, str, str]]:
    for match in BLOCK.finditer(TUTORIAL.read_text(encoding="utf-8")):
        yield match[1], match[2], match[3]


def typed(text: str, words: str, block: str) -> str:
    """The rig file after the reader did what the block's words say."""
    kind, _, name = words.partition(" ")
    if not kind:
        return text + block
    if kind == "under":
        start = text.index(f"{name}:\n")
        end = re.compile(r"^\S", re.MULTILINE).search(text, start + len(name) + 2)
        at = end.start() if end else len(text)
        return text[:at] + block + text[at:]
    if kind == "replace":
        section = block.partition("\n")[0]
        old = re.compile(rf"^{section}\n(?:[ ].*\n)*", re.MULTILINE)
        assert len(old.findall(text)) == 1
        return old.sub(lambda _: block, text)
    assert kind == "swap"
    front = block.partition(", earphones")[0]
    assert text.count(front) == 1
    return re.sub(rf"^{re.escape(front)}.*\n", lambda _: block, text, flags=re.MULTILINE)


def squeezed(text: str) -> str:
    return " ".join(text.split())


def test_typed_in_step_by_step(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    text, codes = "", []
    for language, words, block in blocks():
        if language == "yaml" and "/" in words:
            path = Path(words)
            path.parent.mkdir()
            path.write_text(block, encoding="utf-8")
        elif language == "yaml":
            text = typed(text, words, block)
            Path("rig.yaml").write_text(text, encoding="utf-8")
        elif words != "skip":
            for command, expected in commands(block):
                code, printed = done(command, capsys, monkeypatch)
                codes.append((command, code))
                place = 0
                for line in expected:
                    found = printed.find(squeezed(line), place)
                    assert found >= 0, f"{command}: no {line!r} in {printed}"
                    place = found
    last = [code for command, code in codes if command == "rigproof check"][-1]
    assert last == 0


def commands(block: str) -> Iterator[tuple[str, list[str]]]:
    for part in block.removeprefix("$ ").split("\n$ "):
        command, *expected = part.strip("\n").split("\n")
        yield command, expected


def done(
    command: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> tuple[int, str]:
    name, *words = shlex.split(command)
    if name == "mkdir":
        Path(words[0]).mkdir()
        return 0, ""
    if name == "cd":
        monkeypatch.chdir(words[0])
        return 0, ""
    assert name == "rigproof"
    code = main(words)
    answer = capsys.readouterr()
    assert not answer.err, answer.err
    return code, squeezed(answer.out)


def test_nothing_is_skipped_but_the_printing() -> None:
    skipped = [block for _, words, block in blocks() if words == "skip"]
    assert [block.split()[1:3] for block in skipped] == [["rigproof", "book"]]
