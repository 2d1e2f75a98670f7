"""The show book, read back by a reader of PDF that knows nothing of how it was made."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import msgspec
import numpy as np
import pypdfium2
import pytest

import rigproof
from benchmarks.scale import write
from rigproof.checks.verdict import Verdict, check
from rigproof.patch import PatchLists
from rigproof.rig import Rig
from rigproof.rigfile.load import load
from rigproof.showbook import Book, assembly, book, house_fit
from rigproof.showbook.assembly import book_data
from rigproof.showbook.edition import Edition, Size
from rigproof.showbook.paper import fitted
from rigproof.showbook.papers import Order
from rigproof.signal import words

DEMO = Path(rigproof.__file__).parent / "demo"
SIZES: tuple[Size, ...] = get_args(Size)
HOSTILE = r"""#eval("x") *b* _i_ $x$ \ " ' <a> @b `c` [d] {e} // /* = #"""


@pytest.fixture(scope="module")
def rig() -> Rig:
    return load(DEMO)


@pytest.fixture(scope="module")
def verdict(rig: Rig) -> Verdict:
    return check(rig)


@pytest.fixture(scope="module")
def demo(verdict: Verdict) -> Book:
    return book(verdict)


@pytest.fixture(scope="module")
def pages(demo: Book) -> list[str]:
    return texts(demo)


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Books without drawings, for tests of other pages."""
    drawings = {"stage-plot", "rack", "signal-flow"}
    monkeypatch.setattr(
        assembly, "BOUND", tuple(name for name in assembly.BOUND if name not in drawings)
    )


def texts(made: Book) -> list[str]:
    """The text of each page, lines joined: where a cell wraps is the page's business."""
    document = pypdfium2.PdfDocument(made.pdf)
    return [" ".join(page.get_textpage().get_text_range().split()) for page in document]


def changed(old: Rig, /, **parts: Any) -> Rig:
    return Rig(msgspec.structs.replace(old.file, **parts), old.types, old.path)


def written(folder: Path, text: str) -> Rig:
    (folder / "rig.yaml").write_text(f"format: 1\n{text}", "utf-8")
    return load(folder)


def of_chapter(pages: list[str], name: str) -> list[str]:
    """The pages that carry this chapter in their running head, the cover's list of them apart."""
    return [text for text in pages[1:] if f" {name} " in text[: 90 + len(name)]]


def named_last(pages: list[str]) -> str:
    return pages[-1]


# What stands on every page


def test_every_page_says_whose_which_until_when_and_which_of_how_many(
    rig: Rig, pages: list[str]
) -> None:
    about = rig.about
    assert about.contact is not None
    for number, text in enumerate(pages, start=1):
        assert about.band in text
        assert f"version {about.version}" in text
        assert f"valid until {about.valid_until}" in text
        assert f"page {number} of {len(pages)}" in text
        assert f"Call {about.contact.name}, {about.contact.phone}" in text


def test_the_book_counts_its_own_pages(demo: Book, pages: list[str]) -> None:
    assert demo.pages == len(pages)


def test_the_same_rig_gives_the_same_bytes(demo: Book, rig: Rig) -> None:
    assert book(check(rig)).pdf == demo.pdf


# The cover


def test_the_cover_says_the_verdict_and_names_the_gravest(
    rig: Rig, verdict: Verdict, pages: list[str]
) -> None:
    cover = pages[0]
    assert verdict.count("stop") == 1
    assert "Not ready: one fault to mend first" in cover
    stop = verdict.findings[0]
    assert stop.severity == "stop"
    assert stop.says in cover
    assert f"{len(rig.people)} PEOPLE" in cover.upper()
    assert f"{len(rig.sources)} SOURCES" in cover.upper()


def test_the_cover_lists_each_chapter_with_its_page(pages: list[str]) -> None:
    cover = pages[0]
    listed = re.findall(
        r"(Stage plot|Input list|Who hears what|What was not checked)\D*(\d+)", cover
    )
    assert len(listed) == 4
    for name, number in listed:
        assert f" {name} " in pages[int(number) - 1][:120]
        assert f" {name} " not in pages[int(number) - 2][:120]


def test_no_sheet_promises_more_than_was_looked_at(verdict: Verdict, pages: list[str]) -> None:
    whole = " ".join(pages).lower()
    assert not re.search(r"\bsafe(ly)?\b", whole)
    last = named_last(pages)
    for matter in verdict.not_looked_at:
        assert matter[1:] in last


# Input list and patch


def test_each_line_of_the_input_list_is_whole(rig: Rig, verdict: Verdict, pages: list[str]) -> None:
    text = " ".join(of_chapter(pages, "Input list"))
    for row in PatchLists(verdict.view.rig).channels:
        if row.source is None:
            assert re.search(rf" {row.number} (kept )?free", text)
            assert row.held in text
            continue
        found = re.search(rf" {row.number} (48 V |on |never )?\S+ (Hse )?{row.name} ", text)
        assert found, row.name
        entry = text[found.start() : found.start() + 160]
        assert row.source.stand in entry
        if row.socket:
            assert words.place(rig, row.socket) in entry
        if row.source.mic and "condenser" in row.source.mic:
            assert "48 V" in entry[:12]


@pytest.mark.published("common practice: a stereo source takes two rows, odd then even")
def test_a_pair_is_two_rows(pages: list[str]) -> None:
    text = " ".join(of_chapter(pages, "Input list"))
    assert re.search(r" 17 B1 Keys L .* 18 B2 Keys R ", text)
    assert re.search(r" 7 48 V A7 Overheads SR .* 8 48 V A8 Overheads SL ", text)


def test_the_guest_show_is_told_as_a_change(pages: list[str]) -> None:
    text = " ".join(of_chapter(pages, "Input list"))
    change = text[text.index("Only on 2027-06-26") :]
    assert re.search(r" 6 48 V A6 Hurdy-gurdy ", change)
    assert re.search(r" 27 B11 Ines voice ", change)
    assert "Kick" not in change


def test_the_patch_is_walked_and_read_back_the_other_way(
    rig: Rig, verdict: Verdict, pages: list[str]
) -> None:
    walk = " ".join(of_chapter(pages, "Patch by panel"))
    back = " ".join(of_chapter(pages, "Read it back"))
    steps = PatchLists(verdict.view.rig).walk
    assert "Yusra owns the patch" in walk
    at = -1
    for step in steps:
        here = walk.find(f"{step.number} {step.name} ", at + 1)
        assert here > at, f"{step.name} is out of order"
        at = here
    at = -1
    for step in reversed(steps):
        here = back.find(f"{words.place(rig, step.socket)} {step.name}", at + 1)
        assert here > at, f"{step.name} is out of order"
        at = here


# Who hears what


def test_slots_name_who_shares_a_knob(pages: list[str]) -> None:
    text = " ".join(of_chapter(pages, "Who hears what"))
    assert "slot 5 Low end Tuba and Bass synth move on one knob for Runa and Yusra" in text
    assert "No place is free" in text


def test_every_person_and_source_is_in_the_matrix(rig: Rig, pages: list[str]) -> None:
    text = " ".join(of_chapter(pages, "Who hears what"))
    for name in (*(p.name for p in rig.file.people), *(s.name for s in rig.file.sources)):
        assert name in text


# Hand-off pages


def houses(pages: list[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for text in pages[1:]:
        title = re.search(r"Hand-off: (.+?) version \d", text[:150])
        if title:
            assert title[1] not in found, f"{title[1]} takes two pages"
            found[title[1]] = text
    return found


def test_each_venue_and_the_differing_show_get_one_page(rig: Rig, pages: list[str]) -> None:
    expected = {venue.name for venue in rig.file.venues} | {"Meadow stage with Ines"}
    assert set(houses(pages)) == expected


def test_the_club_reads_what_it_needs(pages: list[str]) -> None:
    club = houses(pages)["Tallow Lane Club"]
    assert "32 × XLR male on 4 tails, 8-way, of 10 m" in club
    assert "All isolated by transformer" in club
    assert re.search(r" 28 Band talk DO NOT PLUG ", club)
    assert "You have 20 lines, we bring 27".upper() in club.upper()
    assert "Hi-hat (3), Overheads (7-8), Rack tom (4), Floor tom (5) and Drum pads (9-10)" in club
    assert "We do not send Click, Spoken cues and Audience" in club
    assert re.search(r" 11 Tuba .*? from us mic 3 ", club)
    assert re.search(r" 22 Lead voice own wireless mics line 14 ", club)
    assert "House talk on line 33" in club
    assert re.search(r"16 A, shared with backline", club)
    assert "Silent, our 48 V is gone: 11-12, 14-16, 19" in club
    assert "Silent with the rack: 21-22, 29-30" in club
    assert "Yusra calls" in club


@pytest.mark.published("15 to 20 s a line: common practice, from memory")
def test_line_check_minutes(pages: list[str]) -> None:
    # 27 lines: 27 x 15 s = 6 min 45 s, 27 x 20 s = 9 min.
    assert "About 7 to 9 min: 27 lines" in houses(pages)["Harrow Meadow Festival"]


def test_a_network_house_and_a_hall_read_other_words(pages: list[str]) -> None:
    festival = houses(pages)["Harrow Meadow Festival"]
    assert "27 channels of network audio on one locking network socket" in festival
    assert "All channels go silent at once" in festival
    hall = houses(pages)["Aldergate Village Hall"]
    assert "Mix for the hall L line 1" in hall
    assert "the mix is made in it" in hall
    assert "you have none, so come to the stage and speak" in hall


@pytest.mark.usefixtures("undrawn")
def test_nothing_private_reaches_a_house(rig: Rig) -> None:
    people = tuple(
        msgspec.structs.replace(p, phone="+00 555 9999", note="owes me 40") for p in rig.file.people
    )
    gear = tuple(
        msgspec.structs.replace(g, note="Wi-Fi password: tuba", serial="S-777", price_eur=None)
        for g in rig.file.gear
    )
    found = houses(texts(book(check(changed(rig, people=people, gear=gear)))))
    assert len(found) == 4
    for text in found.values():
        assert "555 9999" not in text
        assert "tuba" not in text.replace("Tuba", "")
        assert "owes" not in text
        assert "S-777" not in text


# Ink


def ink(made: Book, dots_per_inch: float = 100) -> Iterator[np.ndarray[Any, Any]]:
    """Each page in one bit, as a poor copier has it: True where there is ink."""
    for page in pypdfium2.PdfDocument(made.pdf):
        grey = page.render(scale=dots_per_inch / 72, grayscale=True).to_numpy()
        yield grey.reshape(grey.shape[0], grey.shape[1]) < 128


def within_margins(made: Book, *, margin_mm: float) -> None:
    for number, page in enumerate(ink(made), start=1):
        edge = int(margin_mm / 25.4 * 100)
        assert page.any(), f"page {number} is blank"
        inner = page[edge:-edge, edge:-edge]
        assert page.sum() == inner.sum(), f"page {number} has ink in its margins"
        assert 0.002 < page.mean() < 0.25, f"page {number}: {page.mean():.4f} of it is ink"


def test_pages_hold_their_margins_in_one_bit(demo: Book) -> None:
    within_margins(demo, margin_mm=10)


def test_letter_is_letter(verdict: Verdict) -> None:
    made = book(verdict, Edition(size="letter"))
    sizes = {
        tuple(sorted(round(side) for side in page.get_size()))
        for page in pypdfium2.PdfDocument(made.pdf)
    }
    assert (612, 792) in sizes
    assert (595, 842) not in sizes
    within_margins(made, margin_mm=10)
    assert len(houses(texts(made))) == 4


# Rigs that are hard to print


def test_findings_are_in_feet_and_pounds_where_they_are_asked_for(verdict: Verdict) -> None:
    feet = Edition(measures="imperial")
    told = [
        feet.tell(text)
        for finding in verdict.findings
        for text in (finding.says, finding.fix, finding.figure, *finding.path)
    ]
    assert not [text for text in told if re.search(r"\d[ \u00a0](mm|cm|m|kg)(?!\w)", text)]
    # 120 mm of 60 mm under the lid; 5 m of a kind that goes to 4 m.
    assert any(
        re.search(r"stand out 4\.72 in, and the closed lid leaves 2\.36 in", t) for t in told
    )
    assert "16.4 ft (limit 13.1 ft)" in told


def test_a_rig_with_nothing_in_it(tmp_path: Path) -> None:
    made = book(check(written(tmp_path, "rig: {name: Nothing yet}\n")))
    found = texts(made)
    assert "No channel is in use yet" in " ".join(found)
    assert "no version, no date" in found[0]
    assert not made.unprintable
    within_margins(made, margin_mm=10)


def test_hostile_and_endless_names_stay_text_and_in_their_place(rig: Rig) -> None:
    file = rig.file
    sources = list(file.sources)
    sources[0] = msgspec.structs.replace(sources[0], name=HOSTILE)
    sources[1] = msgspec.structs.replace(sources[1], name="S" * 10_000)
    sources[5] = msgspec.structs.replace(sources[5], name="O" * 10_000)
    people = list(file.people)
    people[0] = msgspec.structs.replace(people[0], name="P" * 10_000)
    people[1] = msgspec.structs.replace(people[1], name="many words " * 900)
    venues = list(file.venues)
    venues[0] = msgspec.structs.replace(venues[0], name="V" * 10_000, note="w" * 10_000)
    about = msgspec.structs.replace(file.rig, band="B" * 10_000, note="n " * 5_000)
    made = book(
        check(
            changed(
                rig,
                rig=about,
                sources=tuple(sources),
                people=tuple(people),
                venues=tuple(venues),
            )
        )
    )
    found = texts(made)
    whole = " ".join(found)
    squeezed = re.sub(r"\s+", "", whole)
    assert re.sub(r"\s+", "", HOSTILE) in squeezed
    assert "S" * 600 not in squeezed  # no sentence that names it is longer
    assert "…SR" in squeezed, "the two lanes of a pair look alike"
    assert "…SL" in squeezed, "the two lanes of a pair look alike"
    assert {cut.characters for cut in made.cut} >= {10_000}
    assert "was cut; the rig file has it whole" in named_last(found)
    assert len([text for text in found[1:] if "Hand-off:" in text[:200]]) == 4
    within_margins(made, margin_mm=10)


@pytest.mark.usefixtures("undrawn")
def test_letters_that_no_font_has_are_told(rig: Rig) -> None:
    sources = list(rig.file.sources)
    sources[0] = msgspec.structs.replace(sources[0], name="Beat 🥁")
    gear = list(rig.file.gear)
    gear[1] = msgspec.structs.replace(gear[1], name="Mixer 🎛")
    made = book(check(changed(rig, sources=tuple(sources), gear=tuple(gear))))
    assert {one.text for one in made.unprintable} >= {"Beat 🥁", "Mixer 🎛"}
    assert "U+1F941 DRUM WITH DRUMSTICKS" in texts(made)[-1]


@pytest.mark.usefixtures("undrawn")
def test_names_in_other_scripts_are_printed(rig: Rig) -> None:
    sources = list(rig.file.sources)
    sources[0] = msgspec.structs.replace(sources[0], name="太鼓")
    sources[1] = msgspec.structs.replace(sources[1], name="Żółw Ünder")
    made = book(check(changed(rig, sources=tuple(sources))))
    assert not made.unprintable
    whole = " ".join(texts(made))
    assert "太鼓" in whole
    assert "Żółw Ünder" in whole


@pytest.mark.usefixtures("undrawn")
def test_ten_times_the_demo_keeps_each_hand_off_on_one_page(tmp_path: Path) -> None:
    verdict = check(load(write(DEMO, tmp_path / "ten", 10)))
    found = texts(book(verdict))
    assert len(houses(found)) == 4
    assert " 752 " in houses(found)["Tallow Lane Club"]


# What keeps pages one page


@pytest.mark.usefixtures("undrawn")
@pytest.mark.parametrize("lines", [1, 8, 9, 33, 60, 61, 150])
def test_any_number_of_lines_is_one_page(tmp_path: Path, lines: int) -> None:
    tails = -(-lines // 8)
    sources = "".join(
        f"  - {{id: s{n}, name: Quite a long name {n}, family: voices, mic: mic-vocal-dynamic,"
        f" stand: tall boom with a clip, drop: {n}}}\n"
        for n in range(1, lines + 1)
    )
    rig = written(
        tmp_path,
        "rig: {name: Choir, band: The Choir, version: '1', valid_until: 2027-01-01}\n"
        f"sources:\n{sources}"
        "gear:\n"
        + "".join(
            f"  - {{id: split{t}, type: splitter-transformer-8}}\n" for t in range(1, tails + 1)
        )
        + "patch:\n"
        + "".join(
            f"  - {{source: s{n}, plug: split{(n - 1) // 8 + 1}.in.{(n - 1) % 8 + 1}}}\n"
            for n in range(1, lines + 1)
        )
        + "leads:\n"
        + "".join(
            f"  - {{id: tail{t}, type: tails-xlr-8, from: split{t}.iso.1-8,"
            f" to: house.{8 * t - 7}-{8 * t}}}\n"
            for t in range(1, tails + 1)
        )
        + "venues: [{id: a, name: Hall, desk: {takes: tails, lines_free: 300}}]\n",
    )
    for paper in SIZES:
        found = texts(book(check(rig), Edition(size=paper)))
        page = houses(found)["Hall"]
        assert f" {lines} Quite a long name {lines} " in page
        assert "LINE CHECK" in page


@pytest.mark.usefixtures("undrawn")
def test_a_page_that_surely_fits_is_not_measured(verdict: Verdict) -> None:
    data, _, _ = book_data(Order(verdict=verdict), lambda _view, _edition: [])
    sheets = data["sheets"]
    assert isinstance(sheets, list)
    read = [msgspec.json.decode(sheet.text) for sheet in sheets]
    pages = [sheet for sheet in read if sheet["form"] == "house"]
    assert [page["data"]["measure"] for page in pages] == [False] * 4
    said = pages[0]["data"]
    long = {**said, "sections": said["sections"] * 2}
    assert not house_fit.surely_fits(long, pages[0]["title"], "a4")


# Paper


def test_cutting_keeps_the_side_of_a_pair() -> None:
    made = fitted({"source": ["x" * 90 + " L", "x" * 90 + " R"]})
    assert isinstance(made.data, dict)
    left, right = made.data["source"]
    assert left.endswith("… L")
    assert right.endswith("… R")
    assert len(left) == len(right) == 56
    assert [cut.characters for cut in made.cut] == [92, 92]
