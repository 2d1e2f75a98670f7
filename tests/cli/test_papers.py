"""The commands that print: the book and the demo."""

from pathlib import Path

import pypdfium2
import pytest

from rigproof.cli.demo import demo_files
from tests.cli.conftest import Run


def pages(path: Path) -> list[str]:
    document = pypdfium2.PdfDocument(path)
    try:
        return [page.get_textpage().get_text_bounded() for page in document]
    finally:
        document.close()


def squeezed(text: str) -> str:
    return " ".join(text.split())


def test_book_is_a_pdf_with_the_rigs_name_in_it(run: Run, small: Path, tmp_path: Path) -> None:
    target = tmp_path / "papers.pdf"
    outcome = run("book", small, "-o", target)
    assert outcome.code in (0, 1)
    assert str(target) in squeezed(outcome.out)
    printed = pages(target)
    assert "Mossgate Three" in printed[0]
    answer = run("book", small, "-o", target, "--json").json
    assert answer["result"]["pages"] == len(printed)
    assert answer["exit"] == run("check", small).code


def test_book_goes_beside_the_rig(run: Run, small: Path) -> None:
    assert run("book", small / "rig.yaml", "--paper", "letter").code in (0, 1)
    assert pages(small / "show-book.pdf")


def test_book_never_lands_on_the_rig(run: Run, small: Path) -> None:
    before = (small / "rig.yaml").read_bytes()
    outcome = run("book", small, "-o", small / "rig.yaml")
    assert outcome.code == 2
    assert "does not end in .pdf" in squeezed(outcome.err)
    assert (small / "rig.yaml").read_bytes() == before


@pytest.mark.parametrize("target", ["nowhere/deep/book.pdf", "rig.yaml/book.pdf"])
def test_a_book_that_cannot_be_written(run: Run, small: Path, target: str) -> None:
    outcome = run("book", small, "-o", small / target)
    assert outcome.code == 2
    assert outcome.err
    assert "mistake in Rigproof" not in outcome.err


def test_what_paper_cannot_hold_is_said(run: Run, small: Path, tmp_path: Path) -> None:
    text = (small / "rig.yaml").read_text(encoding="utf-8")
    # Cuneiform, of which no font of the book has a letter.
    (small / "rig.yaml").write_text(
        text.replace("name: Lead voice", "name: \U00012000\U00012001 voice"), encoding="utf-8"
    )
    outcome = run("book", small, "-o", tmp_path / "x.pdf", "--json")
    assert any("no type for" in matter for matter in outcome.json["result"]["left_out"])


def test_demo_writes_its_rig_and_its_book(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    outcome = run("demo", folder)
    assert outcome.code == 0, outcome.err
    assert "Found: " in outcome.out
    assert "Not looked at:" in outcome.out
    assert str(folder / "show-book.pdf") in squeezed(outcome.out)
    for name, content in demo_files().items():
        assert (folder / name).read_bytes() == content
    assert pages(folder / "show-book.pdf")
    # A second time changes nothing, and says the same.
    assert run("demo", folder).out == outcome.out
    verdict = run("demo", folder, "--json").json["result"]["verdict"]
    assert verdict == run("check", folder, "--json").json["result"]


def test_demo_leaves_a_strangers_folder_alone(run: Run, small: Path, tmp_path: Path) -> None:
    before = (small / "rig.yaml").read_bytes()
    outcome = run("demo", small)
    assert outcome.code == 2
    assert "nothing there was touched" in squeezed(outcome.err)
    assert (small / "rig.yaml").read_bytes() == before
    assert sorted(path.name for path in small.iterdir()) == ["rig.yaml"]
    file = tmp_path / "file"
    file.write_text("mine", encoding="utf-8")
    assert run("demo", file).code == 2


def test_demo_takes_the_usual_name(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run("demo").code == 0
    assert (tmp_path / "rigproof-demo" / "rig.yaml").is_file()


def test_a_changed_demo_is_not_overwritten(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    run("demo", folder)
    mine = (folder / "rig.yaml").read_text(encoding="utf-8") + "# mine\n"
    (folder / "rig.yaml").write_text(mine, encoding="utf-8")
    assert run("demo", folder).code == 2
    assert (folder / "rig.yaml").read_text(encoding="utf-8") == mine


def test_the_whole_signal_flow_is_one_a3_sheet(run: Run, small: Path) -> None:
    target = small / "flow.pdf"
    answer = run("papers", small, "--only", "whole-flow", "-o", target, "--json").json
    assert [sheet["id"] for sheet in answer["result"]["sheets"]] == ["whole-flow"]
    document = pypdfium2.PdfDocument(target)
    try:
        sizes_mm = [[side * 25.4 / 72 for side in page.get_size()] for page in document]
    finally:
        document.close()
    assert sizes_mm == [pytest.approx((420, 297), abs=0.1)]  # ISO 216, A3 turned


@pytest.mark.parametrize(("drop", "agreed"), [("", False), ("drop: 1, ", True)])
def test_a_house_short_of_lines_is_told_who_decided(
    run: Run, small: Path, drop: str, agreed: bool
) -> None:
    rig = small / "rig.yaml"
    text = rig.read_text(encoding="utf-8").replace("name: Keys, fam", f"name: Keys, {drop}fam")
    few = "venues: [{id: bar, name: Bar, desk: {takes: tails, lines_free: 1}}]\n"
    rig.write_text(text + few, encoding="utf-8")
    run("papers", small, "--only", "hand-off", "-o", small / "hand.pdf")
    said = squeezed(" ".join(pages(small / "hand.pdf")))
    assert "Leave out, in this order: Keys" in said
    assert ("has not agreed on this" in said) != agreed
