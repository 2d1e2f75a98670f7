"""All papers in one go: what each command prints by itself, and nothing of an earlier rig."""

import hashlib
import io
import json
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import openpyxl
import pytest

from tests.cli.conftest import SMALL, Run
from tests.cli.test_papers import pages, squeezed

SET = ["show-book.pdf", "papers-band.pdf", "labels.pdf", "pocket-book.html", "rig-band.xlsx"]


def words(path: Path) -> str:
    if path.suffix == ".pdf":
        return squeezed(" ".join(pages(path)))
    if path.suffix == ".html":
        return path.read_text(encoding="utf-8")
    book = openpyxl.load_workbook(io.BytesIO(path.read_bytes()))
    return " ".join(
        str(cell) for sheet in book for row in sheet.iter_rows(values_only=True) for cell in row
    )


def test_a_new_name_reaches_everything(run: Run, small: Path, tmp_path: Path) -> None:
    folder, alone = tmp_path / "set", tmp_path / "alone"
    alone.mkdir()
    first = run("papers", small, "--all", "-o", folder, "--json").json["result"]
    assert [Path(name).name for name in first["written"]] == SET
    assert first["left_out"] == []
    assert all("Lead voice" in words(folder / name) for name in SET)
    rig = small / "rig.yaml"
    rig.write_text(rig.read_text("utf-8").replace("Lead voice", "Alto"), "utf-8")
    run("papers", small, "--all", "-o", folder)
    for name in SET:
        assert "Alto" in words(folder / name), name
        assert "Lead voice" not in words(folder / name), name
    run("book", small, "-o", alone / SET[0])
    run("papers", small, "-o", alone / SET[1])
    run("labels", small, "-o", alone / SET[2])
    run("pocket", small, "-o", alone / SET[3])
    run("export", small, "--as", "xlsx", "-o", alone / SET[4])
    for name in SET:
        assert (alone / name).read_bytes() == (folder / name).read_bytes(), name


# One thing that changes at a time.
CHANGES = {
    "a name": ("name: Lead voice,", "name: Alto,"),
    "a person": ("name: Bo, plays: keys", "name: Boel, plays: organ"),
    "a lead": ("to: mixer.in.1-8, length_m: 1}", "to: mixer.in.1-8, length_m: 2.5}"),
}


def digests(run: Callable[..., object], folder: Path, names: Sequence[str]) -> dict[str, str]:
    """Of each paper of each version, in this order, all of them printed by this process."""
    found = {}
    for name in names:
        (folder / "rig.yaml").write_text(SMALL.replace(*CHANGES[name]), "utf-8")
        run("papers", str(folder), "--all", "-o", str(folder / "set"))
        for paper in SET:
            data = (folder / "set" / paper).read_bytes()
            found[f"{name}: {paper}"] = hashlib.sha256(data).hexdigest()
    return found


def test_what_was_printed_before_leaves_no_mark(run: Run, tmp_path: Path) -> None:
    """Two processes that print the same versions one after the other, in opposite orders."""
    here, there = tmp_path / "here", tmp_path / "there"
    here.mkdir()
    there.mkdir()
    script = (
        "import json, sys; from pathlib import Path; from rigproof.cli import main\n"
        "from tests.cli.test_everything import CHANGES, digests\n"
        "run = lambda *words: main(list(words))\n"
        "found = digests(run, Path(sys.argv[1]), list(reversed(CHANGES)))\n"
        "Path(sys.argv[1], 'found.json').write_text(json.dumps(found))"
    )
    subprocess.run(
        [sys.executable, "-c", script, str(there)],
        check=True,
        cwd=Path(__file__).parents[2],
        capture_output=True,
    )
    found = json.loads((there / "found.json").read_text("utf-8"))
    mine = digests(run, here, list(CHANGES))
    assert mine == found
    assert len(set(mine.values())) > 0.7 * len(mine)


def test_a_stranger_gets_neither_book_nor_labels(run: Run, small: Path) -> None:
    assert run("papers", small, "--all", "--for", "house").code == 0
    written = sorted(path.name for path in (small / "papers-house").iterdir())
    assert written == ["papers-house.pdf", "pocket-book.html", "rig-house.xlsx"]


def test_a_rig_with_nothing_for_the_reader(run: Run, tmp_path: Path) -> None:
    (tmp_path / "rig.yaml").write_text("format: 1\nrig: {name: Empty}\n", encoding="utf-8")
    assert run("papers", tmp_path, "--all", "--for", "shop").code == 0
    written = sorted(path.name for path in (tmp_path / "papers-shop").iterdir())
    assert written == ["pocket-book.html", "rig-shop.xlsx"]


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--only", "person"], "--only is a part of it"),
        (["-o", "rig.yaml"], "is a file, and --all is several"),
        (["-o", "papers.pdf"], "is a file, and --all is several"),
    ],
)
def test_everything_and_a_part_of_it_contradict(
    run: Run, small: Path, monkeypatch: pytest.MonkeyPatch, more: list[str], says: str
) -> None:
    monkeypatch.chdir(small)
    outcome = run("papers", ".", "--all", *more)
    assert outcome.code == 2
    assert says in squeezed(outcome.err)
