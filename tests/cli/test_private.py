"""What the band keeps to itself: a mark in every private place of a rig, looked for in all that
leaves the band's hands."""

import io
import json
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pypdfium2
import pytest

import rigproof
from rigproof.rigfile.load import load
from rigproof.showbook.edition import READERS
from rigproof.showbook.exchange.whole import plain
from tests.cli.conftest import Run

DEMO = Path(rigproof.__file__).parent / "demo"
# By field. A note is for the band; what stands in that of a source says how it is plugged.
TEXTS = frozenset({"note", "phone", "serial", "password", "kept", "fault", "mended"})
OPEN = frozenset({("Source", "note"), ("Contact", "phone")})
PRICE = 77_123.0
MARK = "Qzxqj"  # of letters that nothing else is likely to have in this order


def marked(value: Any) -> Any:
    """A part of a rig with a mark of its own in each private field."""
    if isinstance(value, tuple):
        return tuple(map(marked, value))
    if not isinstance(value, msgspec.Struct):
        return value
    kind = type(value).__name__
    changes: dict[str, object] = {}
    for field in value.__struct_fields__:
        if field in TEXTS and (kind, field) not in OPEN:
            changes[field] = f"{MARK}{kind}{field}"
        elif field == "price_eur":
            changes[field] = PRICE
        else:
            changes[field] = marked(getattr(value, field))
    return msgspec.structs.replace(value, **changes)


@pytest.fixture(scope="module")
def secretive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("secretive")
    rig = load(DEMO)
    (folder / "gear").mkdir()
    for own in (DEMO / "gear").iterdir():
        (folder / "gear" / own.name).write_bytes(own.read_bytes())
    # A text in JSON is one in YAML too.
    document = json.dumps(plain(marked(rig.file)), ensure_ascii=False)
    (folder / "rig.yaml").write_text(document, encoding="utf-8")
    return folder


def text_of(path: Path) -> Iterator[str]:
    """What can be read in a file, or in every file of a folder."""
    if path.is_dir():
        for inner in sorted(path.rglob("*")):
            if inner.is_file():
                yield from text_of(inner)
    elif path.suffix == ".pdf":
        document = pypdfium2.PdfDocument(path)
        yield from (page.get_textpage().get_text_bounded() for page in document)
        document.close()
    elif path.suffix == ".xlsx":
        with zipfile.ZipFile(io.BytesIO(path.read_bytes())) as archive:
            yield from (
                archive.read(name).decode("utf-8", "replace") for name in archive.namelist()
            )
    else:
        yield path.read_text(encoding="utf-8", errors="replace")


OUTPUTS = {
    "papers": ("papers", "set.pdf"),
    "pocket": ("pocket", "pocket.html"),
    "workbook": ("export", "set.xlsx", "--as", "xlsx"),
    "lists": ("export", "lists", "--as", "csv"),
    "data": ("export", "set.json", "--as", "json"),
    "drawings": ("export", "drawings", "--as", "svg"),
}


def leaked(run: Run, rig: Path, target: Path, words: tuple[str, ...], reader: str) -> set[str]:
    command, _, *options = words
    outcome = run(command, rig, "--for", reader, "-o", target, *options)
    if outcome.code != 0:
        assert "nothing to write" in outcome.err  # this reader gets none of these
        return set()
    found: set[str] = set()
    for text in text_of(target):
        flat = "".join(text.split())
        start = flat.find(MARK)
        while start >= 0:
            found.add(flat[start : start + 24])
            start = flat.find(MARK, start + 1)
        if "77123" in flat or "77,123" in flat or "77.123" in flat:
            found.add("a price")
    return found


@pytest.mark.parametrize("output", OUTPUTS)
@pytest.mark.parametrize("reader", [reader for reader in READERS if reader != "band"])
def test_nothing_private_leaves_the_band(
    run: Run, secretive: Path, tmp_path: Path, output: str, reader: str
) -> None:
    words = OUTPUTS[output]
    assert leaked(run, secretive, tmp_path / words[1], words, reader) == set()


def test_the_marks_are_there_for_the_band(run: Run, secretive: Path, tmp_path: Path) -> None:
    """The check above can fail."""
    found = leaked(run, secretive, tmp_path / "set.json", OUTPUTS["data"], "band")
    assert {"a price"} < found
    kinds = " ".join(found)
    for mark in ("Personphone", "Gearserial", "Venuenote", "PatchRownote"):
        assert f"{MARK}{mark}" in kinds
