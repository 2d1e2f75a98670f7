"""A stranger who has nothing but the papers plugs the demo, and the rig file says whether rightly.

The papers are read where their words stand on the page; the rig file is read as plain YAML. None of
the program's own lists is asked.
"""

import re
from pathlib import Path
from typing import Any, NamedTuple

import pypdfium2
import pytest
import yaml

import rigproof
from tests.cli.conftest import Run

DEMO = Path(rigproof.__file__).parent / "demo"


class Word(NamedTuple):
    """Words in a row on a page; y counts down from its head, pages below one another."""

    x: float
    y: float
    text: str


def words(path: Path) -> list[Word]:
    found = []
    document = pypdfium2.PdfDocument(path)
    for number, page in enumerate(document):
        text = page.get_textpage()
        top = page.get_height() * (number + 1)
        for place in range(text.count_rects()):
            left, bottom, right, upper = text.get_rect(place)
            said = text.get_text_bounded(left, bottom, right, upper).strip()
            if said:
                found.append(Word(left, top - (bottom + upper) / 2, " ".join(said.split())))
    document.close()
    return sorted(found, key=lambda word: (word.y, word.x))


def beside(row: Word, all_words: list[Word], low: float, high: float) -> str:
    """What stands in the same row between two columns' edges."""
    return " ".join(
        word.text for word in all_words if low <= word.x < high and abs(word.y - row.y) < 4
    )


@pytest.fixture(scope="module")
def rig() -> Any:
    return yaml.safe_load((DEMO / "rig.yaml").read_text(encoding="utf-8"))


def numbers(ref: str) -> list[int]:
    low, _, high = ref.rpartition(".")[2].partition("-")
    return list(range(int(low), int(high or low) + 1))


def lanes(source: Any) -> list[str]:
    if not source.get("stereo"):
        return [source["name"]]
    left, right = ("SR", "SL") if source.get("pair") == "stage-right-left" else ("L", "R")
    return [f"{source['name']} {left}", f"{source['name']} {right}"]


def planned_plugs(rig: Any) -> dict[tuple[str, int], str]:
    """Box name and socket -> what the file plugs there."""
    boxes = {box["id"]: box["name"] for box in rig["gear"]}
    sources = {source["id"]: source for source in rig["sources"]}
    found = {}
    for row in rig["patch"]:
        if "plug" in row and sources[row["source"]].get("plugged") != "for good":
            box = boxes[row["plug"].partition(".")[0]]
            for number, name in zip(
                numbers(row["plug"]), lanes(sources[row["source"]]), strict=True
            ):
                found[box, number] = name
    return found


def test_every_plug_goes_where_the_file_has_it(run: Run, tmp_path: Path, rig: Any) -> None:
    """Patch by panel: under each panel's name, a socket's number and beside it the source."""
    paper = tmp_path / "patch.pdf"
    assert run("papers", DEMO, "--for", "deputy", "--only", "patch", "-o", paper).code == 0
    read = words(paper)
    socket = next(word for word in read if word.text == "SOCKET")
    source = next(word for word in read if word.text == "SOURCE")
    label = next(word for word in read if word.text == "LABEL")
    plugged, panel = {}, ""
    for word in read:
        heading = re.fullmatch(r"(.+), (?:front|rear) · unit \d+.*", word.text)
        if word.text == "Leads to stage and house":
            break
        if heading:
            panel = heading[1]
        elif panel and socket.x - 5 < word.x < source.x - 2 and word.text.isdigit():
            name = beside(word, read, source.x - 2, label.x - 2)
            if name:
                plugged[panel, int(word.text)] = name
    expected = planned_plugs(rig)
    assert {key: plugged.get(key) for key in expected} == expected
    # Nothing else is plugged on a usual night; what a show adds stands apart, under its own name.
    assert all(box in {key[0] for key in expected} for box, _ in plugged)


def test_the_mains_come_last_and_boxes_in_the_order_of_the_file(
    run: Run, tmp_path: Path, rig: Any
) -> None:
    """A deputy reads which boxes are switched on when; the rig file has a step at each."""
    paper = tmp_path / "patch.pdf"
    assert run("papers", DEMO, "--for", "deputy", "--only", "patch", "-o", paper).code == 0
    read = words(paper)
    last = next(word for word in read if word.text == "Mains, last")
    assert all(word.y < last.y for word in read if word.text in {"PM1", "T1 1-8", "Kick"})
    below = [word for word in read if word.y > last.y]
    told = " ".join(word.text for word in below)
    assert "Power [PWR] into the mains" in told
    steps: dict[int, list[str]] = {}
    for feed in rig["power"]["feeds"]:
        if "step" in feed:
            steps.setdefault(feed["step"], []).append(feed["gear"])
    labels = {box["id"]: box["label"] for box in rig["gear"] if "label" in box}
    places = {
        name: min(word.y for word in below if f"[{labels[name]}]" in word.text)
        for names in steps.values()
        for name in names
    }
    ordered = [name for step in sorted(steps) for name in steps[step]]
    assert len(steps) == 7
    assert [places[name] for name in ordered] == sorted(places.values())


def test_read_back_is_the_same_the_other_way_round(run: Run, tmp_path: Path, rig: Any) -> None:
    paper = tmp_path / "back.pdf"
    assert run("papers", DEMO, "--for", "deputy", "--only", "read-back", "-o", paper).code == 0
    read = words(paper)
    expected = planned_plugs(rig)
    names = [word for word in read if word.text in expected.values()]
    told = [word.text for word in sorted(names, key=lambda word: (round(word.x / 60), word.y))]
    assert sorted(told) == sorted(expected.values())
    places = {word.text for word in read}
    for box, number in expected:
        assert any(place.startswith(box) and place.endswith(f"in {number}") for place in places)


def test_every_tail_ends_at_the_number_the_file_gives(run: Run, tmp_path: Path, rig: Any) -> None:
    """Tail map of the club: the file's tails come from the splits, socket by socket."""
    paper = tmp_path / "tails.pdf"
    words_of = ("papers", DEMO, "--for", "house", "--only", "tail-map", "--venue", "club")
    assert run(*words_of, "-o", paper).code == 0
    read = words(paper)
    end = next(word for word in read if word.text == "END")
    source = next(word for word in read if word.text == "SOURCE")
    level = next(word for word in read if word.text == "LEVEL")
    told = {}
    for word in read:
        if end.x - 5 < word.x < source.x - 2 and word.text.isdigit():
            told[int(word.text)] = beside(word, read, source.x - 2, level.x - 2)
    plugs = planned_plugs(rig)
    boxes = {box["id"]: box["name"] for box in rig["gear"]}
    wired = {  # what the file wires into a split for good, box name and socket
        (boxes[lead["to"].partition(".")[0]], number): lead["from"]
        for lead in rig["leads"]
        if lead["to"].startswith("split-") and ".in." in lead["to"]
        for number in numbers(lead["to"])
    }
    for lead in rig["leads"]:
        if not lead["to"].startswith("house.") or ".iso." not in lead["from"]:
            continue
        box = boxes[lead["from"].partition(".")[0]]
        for socket, number in zip(numbers(lead["from"]), numbers(lead["to"]), strict=True):
            name = plugs.get((box, socket))
            if name is not None:
                private = name in {"Band talk"}
                said = told[number]
                assert (name in said) if not private else ("DO NOT PLUG" in said), (number, said)
            elif (box, socket) not in wired:
                assert told[number].startswith(("free", "kept free")), (number, told[number])
