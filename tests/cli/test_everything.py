"""All papers in one go: what each command prints by itself, and nothing of an earlier rig."""

import io
from pathlib import Path

import openpyxl
import pytest

from tests.cli.conftest import Run
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
