"""Single papers: who gets which, what never leaves the band, and that all of them can be set."""

from pathlib import Path

import pytest

from rigproof.cli.demo import demo_files
from rigproof.showbook.edition import READERS
from rigproof.showbook.papers import PAPERS, for_reader
from tests.cli.conftest import Run
from tests.cli.test_papers import pages, squeezed


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo")
    for name, content in demo_files().items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return folder


def test_every_paper_is_listed_with_its_readers(run: Run) -> None:
    outcome = run("papers", "--list")
    assert outcome.code == 0
    available = run("papers", "--list", "--json").json["result"]["available"]
    assert [one["id"] for one in available] == [paper.id for paper in PAPERS]
    assert all(one["for"] for one in available)
    for paper in PAPERS:
        assert paper.id in outcome.out


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("reader", [r for r in READERS if for_reader(r)])
def test_a_set_of_papers_for_each_reader(
    run: Run, demo: Path, tmp_path: Path, reader: str, language: str
) -> None:
    target = tmp_path / "set.pdf"
    outcome = run("papers", demo, "--for", reader, "--language", language, "-o", target, "--json")
    assert outcome.code == 0
    result = outcome.json["result"]
    assert result["left_out"] == []
    ids = [sheet["id"] for sheet in result["sheets"]]
    assert len(set(ids)) == len(ids)
    printed = [squeezed(text) for text in pages(target)]
    whom = "Call Yusra" if language == "en" else "Yusra (keys), +00 555 0142 anrufen"
    for text in printed:
        # Common practice, no source: every page says whose, which version, until when, whom to ask.
        assert "The Lantern Ceilidh Engine" in text
        assert "2027-03-01" in text
        assert "2027-10-31" in text
        assert whom in text
    for sheet in result["sheets"]:
        assert any(squeezed(sheet["title"]) in text for text in printed), sheet


@pytest.mark.parametrize("reader", [r for r in READERS if r != "band" and for_reader(r)])
def test_nothing_private_reaches_a_stranger(
    run: Run, demo: Path, tmp_path: Path, reader: str
) -> None:
    """A telephone number, a password, a price and a serial of our own in every place for one."""
    target = tmp_path / "set.pdf"
    assert run("papers", demo, "--for", reader, "-o", target).code == 0
    text = " ".join(pages(target))
    assert "own 0001" not in text  # a serial number
    assert "nine-wet-goats" not in text  # the password of the rack's Wi-Fi
    assert "lantern-rig" not in text  # and its name
    assert "\u20ac" not in text
    assert "EUR" not in text


def test_each_sheet_counts_its_own_pages(run: Run, demo: Path, tmp_path: Path) -> None:
    target = tmp_path / "set.pdf"
    run("papers", demo, "--only", "line-check", "--venue", "club", "-o", target)
    printed = [squeezed(text) for text in pages(target)]
    for number, text in enumerate(printed, 1):
        assert f"page {number} of {len(printed)}" in text


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--only", "line-chek"], 'Did you mean "line-check"?'),
        (["--person", "tamsn"], 'Did you mean "tamsin"?'),
        (["--venue", "hal"], 'Did you mean "hall"?'),
        (["--for", "everybody"], "band or house or deputy or shop"),
        (["-o", "papers.txt"], "does not end in .pdf"),
    ],
)
def test_what_cannot_be_printed(run: Run, demo: Path, words: list[str], says: str) -> None:
    outcome = run("papers", demo, *words)
    assert outcome.code == 2
    assert says in squeezed(outcome.err)


def test_the_pocket_book_is_one_file_beside_the_rig(run: Run, demo: Path) -> None:
    result = run("pocket", demo, "--for", "deputy", "--json").json["result"]
    written = demo / "pocket-book.html"
    assert result["bytes"] == written.stat().st_size
    assert [file.name for file in demo.glob("*.html")] == ["pocket-book.html"]
    outcome = run("pocket", demo, "-o", demo / "rig.yaml")
    assert outcome.code == 2
    assert "does not end in .html" in squeezed(outcome.err)
