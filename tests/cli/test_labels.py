"""Labels from the command line: what is asked for, only what changed, and what cannot be."""

from pathlib import Path

import pypdfium2 as pdfium
import pytest

from rigproof.cli.demo import demo_files
from tests.cli.conftest import Run

squeezed = " ".join


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    folder = tmp_path / "demo"
    for name, content in demo_files().items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return folder


def test_all_labels_of_a_small_rig(run: Run, small: Path) -> None:
    outcome = run("labels", small, "--json")
    assert outcome.code == 0
    result = outcome.json["result"]
    kinds = {label["kind"] for label in result["printed"]}
    assert kinds == {"strips", "flags", "cards"}  # nothing sits in a rack, so no legend
    pages = pdfium.PdfDocument(small / "labels.pdf")
    assert len(pages) == result["pages"] + 1  # and the key
    assert "Print at 100 %" in run("labels", small).out


def test_only_these(run: Run, demo: Path, tmp_path: Path) -> None:
    target = tmp_path / "some.pdf"
    words = ["--only", "flags", "--about", "tail-1", "--about", "feed", "-o", target, "--json"]
    printed = run("labels", demo, *words).json["result"]["printed"]
    assert len(printed) == 16 + 2
    assert {label["kind"] for label in printed} == {"flags"}


def test_a_show_needs_a_few_more(run: Run, demo: Path, tmp_path: Path) -> None:
    words = ["--show", "meadow", "--since", demo, "-o", tmp_path / "x.pdf", "--json"]
    printed = run("labels", demo, *words).json["result"]["printed"]
    ids = {label["id"] for label in printed}
    assert {"flag-to-amp-ines-1-b", "card-person-ines", "strip-split-a-in-1-1"} <= ids
    assert not any(label["title"].startswith("Split A, in 9") for label in printed)


def test_what_changed_since_a_version(run: Run, demo: Path, tmp_path: Path) -> None:
    run("history", demo, "--keep", "as it was")
    rig = demo / "rig.yaml"
    text = rig.read_text(encoding="utf-8")
    rig.write_text(text.replace("label: Fiddle, family", "label: Fid, family"), encoding="utf-8")
    target = tmp_path / "x.pdf"
    words = ["--since", "1", "--only", "strips", "-o", target]
    outcome = run("labels", demo, *words, "--json")
    assert len(outcome.json["result"]["printed"]) == 4
    rig.write_text(text, encoding="utf-8")
    target.unlink()
    outcome = run("labels", demo, *words)
    assert "the labels in hand still hold" in outcome.out
    assert not target.exists()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--sheet", "70"], "not two numbers"),
        (["--sheet", "33x44"], "--grid"),
        (["--sheet", "70x37", "--first", "25"], "labels 1 to 24"),
        (["--first", "2"], "about label sheets"),
        (["--sheet", "30x10", "--grid", "4x4"], "a flag needs"),
        (["--sheet", "70x37", "--only", "cards"], "print it on plain paper"),
        (["--about", "splitt-a"], 'Did you mean "split-a"?'),
        (["--show", "medow"], 'Did you mean "meadow"?'),
        (["--only", "stickers"], "strips or legends or flags or cards"),
        (["--since", "7"], "there is no version 7"),
        (["--offset-mm", "1"], "not two numbers"),
        (["-o", "labels.txt"], "does not end in .pdf"),
    ],
)
def test_what_cannot_be_printed(run: Run, demo: Path, words: list[str], says: str) -> None:
    outcome = run("labels", demo, *words)
    assert outcome.code == 2
    assert says in squeezed(outcome.err.split())
    assert not (demo / "labels.pdf").exists()


def test_the_calibration_page(run: Run, small: Path, tmp_path: Path) -> None:
    target = tmp_path / "page.pdf"
    outcome = run("labels", small, "--calibrate", "--sheet", "63.5x38,1", "-o", target)
    assert outcome.code == 0
    assert len(pdfium.PdfDocument(target)) == 1
    assert "--offset-mm" in outcome.out
