"""The pages of figures, read back from the PDF and recomputed with a pencil's arithmetic."""

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import log10
from pathlib import Path
from shutil import copytree
from typing import Any

import msgspec
import pypdfium2
import pytest

import rigproof
from rigproof.checks.rule import look
from rigproof.checks.verdict import Verdict, check
from rigproof.mixes.exposure import CRITERIA
from rigproof.network.plan import address_plan
from rigproof.rig import Rig
from rigproof.rigfile.load import load
from rigproof.showbook import Book
from rigproof.showbook.assembly import book_data, book_with_numbers
from rigproof.showbook.binding import bound
from rigproof.showbook.blocks import plain
from rigproof.showbook.edition import Edition
from rigproof.showbook.numbers import chapters, ladders
from rigproof.showbook.numbers.reckoned import Reckoned
from rigproof.showbook.papers import Order, Sheet
from rigproof.signal.gainplan import GainPlan
from tests.bands import WHOLE

DEMO = Path(rigproof.__file__).parent / "demo"
HOSTILE = r"""#eval("x") *b* _i_ $x$ \ " ' <a> @b `c` [d] {e} // /* = #"""
TITLES = (
    "Gain settings",
    "Level ladders",
    "Splits and 48 V",
    "Delay",
    "Exposure",
    "Power",
    "Weight and lifting",
    "Leads",
    "Network and radio",
)


@pytest.fixture(scope="module")
def verdict() -> Verdict:
    return check(load(DEMO))


@pytest.fixture(scope="module")
def reckoned(verdict: Verdict) -> Reckoned:
    return Reckoned(verdict.view)


@pytest.fixture(scope="module")
def demo(verdict: Verdict) -> Book:
    return book_with_numbers(verdict)


@pytest.fixture(scope="module")
def pages(demo: Book) -> list[str]:
    return texts(demo)


def texts(made: Book) -> list[str]:
    document = pypdfium2.PdfDocument(made.pdf)
    read = (page.get_textpage().get_text_range() for page in document)
    # The reader marks a hyphen at the end of a line.
    return [" ".join(text.replace("\ufffe", "-").split()) for text in read]


def of_chapter(pages: list[str], name: str) -> list[str]:
    return [text for text in pages[1:] if f" {name} " in text[: 90 + len(name)]]


def figures(text: str) -> str:
    """The words of a page without its spaces: where a cell wraps is the page's business."""
    return "".join(text.split())


def said(cell: Mapping[str, str]) -> str:
    return cell.get("v", cell.get("note", ""))


def number(text: str) -> float:
    found = re.match("[+\u2212]?[0-9.]+", text)
    assert found, text
    return float(found[0].replace("\u2212", "-"))


def tables(blocks: Sequence[Mapping[str, Any]], title: str) -> list[Mapping[str, Any]]:
    """The tables that stand right under the headings that begin so."""
    return [
        after
        for before, after in pairwise(blocks)
        if before["kind"] == "heading" and before["title"].startswith(title)
    ]


def chapter(verdict: Verdict, title: str) -> Sequence[Mapping[str, Any]]:
    found: Any = next(one for one in chapters(verdict.view) if one["title"] == title)
    blocks: Sequence[Mapping[str, Any]] = found["blocks"]
    return blocks


def by_person(verdict: Verdict) -> dict[str, list[Mapping[str, Any]]]:
    found: dict[str, list[Mapping[str, Any]]] = {}
    name = ""
    for block in chapter(verdict, "Level ladders"):
        if block["kind"] == "page":
            name = block["title"]
        found.setdefault(name, []).append(block)
    return found


# Where they stand


def test_the_numbers_follow_the_hand_offs_and_come_before_the_findings(pages: list[str]) -> None:
    first = [pages.index(of_chapter(pages, title)[0]) for title in TITLES]
    assert first == sorted(first)
    assert first[0] > max(pages.index(text) for text in pages[1:] if "Hand-off:" in text[:60])
    assert first[-1] < pages.index(of_chapter(pages, "Findings and fixes")[0])


def test_the_cover_says_where_each_of_them_is(pages: list[str]) -> None:
    for title in TITLES:
        found = re.search(rf"{title}\s(\d+)", pages[0])
        assert found, title
        assert f" {title} " in pages[int(found[1]) - 1][: 90 + len(title)]


def test_each_pair_of_ears_has_one_page(reckoned: Reckoned, pages: list[str]) -> None:
    ears = reckoned.levels.ears
    found = of_chapter(pages, "Level ladders")
    assert len(ears) == 8
    assert len(found) == len(ears)
    for ear, text in zip(ears, found, strict=True):
        assert reckoned.view.rig.people[ear.person].name in text
        assert "LEFT OUT" in text


@pytest.mark.parametrize("name", ["trio", "twelve"])
def test_each_pair_of_ears_keeps_its_page_where_words_are_long_and_paper_short(name: str) -> None:
    verdict = check(load(WHOLE[name]))
    order = Order(verdict=verdict, edition=Edition(language="de", size="letter"))
    blocks = tuple(ladders.blocks(Reckoned(verdict.view)))
    sheet = Sheet(id="ladders", title="Pegelleitern", blocks=blocks)
    document = pypdfium2.PdfDocument(bound(order, [sheet]).pdf)
    ears = Reckoned(verdict.view).levels.ears
    assert len(document) == len(ears)
    for ear, page in zip(ears, document, strict=True):
        text = page.get_textpage().get_text_range()
        assert verdict.view.rig.people[ear.person].name in text
        assert "NICHT GERECHNET" in text


def test_every_chapter_says_what_it_leaves_out(pages: list[str]) -> None:
    for title in TITLES:
        assert any("LEFT OUT" in text for text in of_chapter(pages, title)), title


@pytest.mark.parametrize(
    ("title", "word"),
    [
        ("Exposure", "Hearing"),
        ("Power", "Mains"),
        ("Weight and lifting", "Lift"),
        ("Splits and 48 V", "48 V"),
    ],
)
def test_what_can_hurt_stands_under_a_caution(pages: list[str], title: str, word: str) -> None:
    text = of_chapter(pages, title)[0]
    assert f"CAUTION {word}" in text
    assert not re.search(r"\bsafe(ly)?\b", text.lower())


# With a pencil


def test_each_line_of_a_ladder_follows_from_the_one_above(verdict: Verdict) -> None:
    """Level above + gain = level, to what two roundings to one decimal may be off."""
    seen = 0
    for name, blocks in by_person(verdict).items():
        (ladder,) = [t for kind in ("Own", "The loudest sound") for t in tables(blocks, kind)]
        before = None
        for row in ladder["rows"]:
            gain, level = said(row[2]), number(said(row[3]))
            if before is not None:
                step = number(gain) if gain else 0.0
                assert level == pytest.approx(before + step, abs=0.151), (name, said(row[0]))
                seen += 1
            if said(row[4]) and said(row[5]):
                room = number(said(row[5])) + 3.0 - number(said(row[4]))
                assert number(said(row[6])) == pytest.approx(room, abs=0.151)
            before = level
    assert seen > 60


def test_the_hiss_can_be_summed_from_the_page(verdict: Verdict, reckoned: Reckoned) -> None:
    for ear, blocks in zip(reckoned.levels.ears, by_person(verdict).values(), strict=True):
        (table,) = tables(blocks, "What hisses")
        power = sum(10 ** (number(said(row[4])) / 10) for row in table["rows"])
        printed = number(said(table["foot"][4]))
        assert printed == pytest.approx(10 * log10(power), abs=0.11)
        assert printed == pytest.approx(ear.hiss_dba, abs=0.051)
        assert sum(number(said(row[5])) for row in table["rows"]) == pytest.approx(100, abs=0.5)
        for row in table["rows"]:
            if said(row[2]):
                ends = number(said(row[2])) + number(said(row[3]))
                assert number(said(row[4])) == pytest.approx(ends, abs=0.151)


def test_the_loudest_can_be_summed_from_the_page(verdict: Verdict, reckoned: Reckoned) -> None:
    for ear, blocks in zip(reckoned.levels.ears, by_person(verdict).values(), strict=True):
        (table,) = tables(blocks, "The loudest possible")
        first, *rest = table["rows"]
        level = number(said(first[3])) + sum(number(said(row[2])) for row in rest)
        assert level == pytest.approx(ear.loudest_spl, abs=0.05 * (len(rest) + 2))
        assert said(table["foot"][3]) == f"{plain(ear.loudest_spl or 0)} dB SPL"


def test_every_figure_of_a_ladder_page_is_on_the_paper(verdict: Verdict, pages: list[str]) -> None:
    found = of_chapter(pages, "Level ladders")
    for text, blocks in zip(found, by_person(verdict).values(), strict=True):
        paper = figures(text)
        for block in blocks:
            for row in [*block.get("rows", ()), block.get("foot", ())]:
                if block["kind"] != "table":
                    continue
                for cell in row:
                    assert figures(said(cell)) in paper, said(cell)
                    assert cell.get("p", "").replace(" ", "") in paper


def test_every_source_in_an_ear_has_its_level_on_its_page(
    reckoned: Reckoned, pages: list[str]
) -> None:
    rig = reckoned.view.rig
    found = of_chapter(pages, "Level ladders")
    for ear, text in zip(reckoned.levels.ears, found, strict=True):
        paper = figures(text)
        for source, level in ear.levels_spl.items():
            assert figures(rig.sources[source].name) in paper
            assert plain(level) in paper, (ear.person, source)


def test_who_reads_the_gain_page_knows_which_knob_to_turn_to_what(
    reckoned: Reckoned, pages: list[str]
) -> None:
    plan = reckoned.plan
    assert isinstance(plan, GainPlan)
    paper = figures(" ".join(of_chapter(pages, "Gain settings")))
    for knob in plan.knobs:
        name = knob.name.removeprefix(f"{knob.kind} of ").removeprefix("level of ")
        assert figures(name) in paper
        assert plain(abs(knob.planned_db)) in paper


# The other pages


def test_delay_power_and_weight_print_what_was_reckoned(verdict: Verdict, pages: list[str]) -> None:
    view = verdict.view
    late = figures(" ".join(of_chapter(pages, "Delay")))
    for one in view.delays.own:
        assert figures(one.source.name) in late
        assert plain(one.latency.longest.delay_ms, 2) in late
    power = figures(" ".join(of_chapter(pages, "Power")))
    assert plain(view.load.most_w.value, 0) in power
    for place in view.mains_places:
        assert figures(place.name)[1:] in power
    weight = figures(" ".join(of_chapter(pages, "Weight and lifting")))
    assert f"{plain(view.weights.case_kg.value, 0)}kg" in weight
    for name in view.weights.missing:
        assert figures(f"the weight of {name}") in weight
    leads = figures(" ".join(of_chapter(pages, "Leads")))
    for way in view.lead_ways:
        assert figures(way.name) in leads
        assert plain(way.route_m) in leads


def test_a_missing_figure_is_said_and_not_guessed() -> None:
    """No source states a level: each page says what it needs."""
    rig = load(DEMO)
    bare = tuple(
        msgspec.structs.replace(source, level_dbu=None, spl_db=None) for source in rig.file.sources
    )
    stripped = Rig(msgspec.structs.replace(rig.file, sources=bare), rig.types, rig.path)
    found = texts(book_with_numbers(check(stripped)))
    ladders = of_chapter(found, "Level ladders")
    ears = Reckoned(check(stripped).view).levels.ears
    assert " ".join(ladders).count("annot judge: needs the level of") >= len(ears) == 8
    weights = " ".join(of_chapter(found, "Weight and lifting"))
    assert "annot judge: needs the weight of" in weights


def test_hostile_names_stay_names() -> None:
    rig = load(DEMO)
    people = tuple(
        msgspec.structs.replace(person, name=f"{HOSTILE} {n}"[:28] if n else HOSTILE)
        for n, person in enumerate(rig.file.people)
    )
    sources = tuple(
        msgspec.structs.replace(source, name=f"{n} {HOSTILE}")
        for n, source in enumerate(rig.file.sources)
    )
    hostile = Rig(
        msgspec.structs.replace(rig.file, people=people, sources=sources), rig.types, rig.path
    )
    found = texts(book_with_numbers(check(hostile)))
    assert any('#eval("x")' in text for text in of_chapter(found, "Level ladders"))
    assert any('#eval("x")' in text for text in of_chapter(found, "Gain settings"))


@pytest.mark.parametrize(
    "text",
    ["", "people: [{id: ann, name: Ann}]\nsources: [{id: a, name: A, family: voices}]"],
)
def test_a_rig_without_figures_still_has_its_pages(tmp_path: Path, text: str) -> None:
    (tmp_path / "rig.yaml").write_text(f"format: 1\nrig: {{name: Bare}}\n{text}\n", "utf-8")
    verdict = check(load(tmp_path))
    data, _, _ = book_data(Order(verdict=verdict), chapters)
    assert data["second"] == list(TITLES)
    assert len(texts(book_with_numbers(verdict))) > len(TITLES)


def test_the_margins_of_the_pages_of_figures_stay_white(demo: Book, pages: list[str]) -> None:
    """Nothing is printed within 12 mm of the edge: common practice, no source."""
    document = pypdfium2.PdfDocument(demo.pdf)
    for place, text in enumerate(pages):
        if not any(f" {title} " in text[: 90 + len(title)] for title in TITLES) or not place:
            continue
        page = document[place]
        dark = page.render(scale=1, grayscale=True).to_numpy() < 128
        edge = round(12 / 25.4 * 72)
        assert not dark[:, :edge].any()
        assert not dark[:, -edge:].any()
        assert not dark[:edge].any()
        assert not dark[-edge:].any()


def test_no_setting_is_printed_while_a_level_is_missing() -> None:
    # Without the level of one source the plan turns everything up to the wish; that must not
    # reach the tape.
    rig = load(DEMO)
    sources = tuple(
        msgspec.structs.replace(source, spl_db=None) if source.id == "snare" else source
        for source in rig.file.sources
    )
    cold = tuple(msgspec.structs.replace(row, gain_db=None) for row in rig.file.patch)
    file = msgspec.structs.replace(rig.file, sources=sources, patch=cold)
    made = {page["title"]: str(page) for page in chapters(look(Rig(file, rig.types, rig.path)))}
    assert "No settings are given" in made["Gain settings"]
    assert "Snare" in made["Gain settings"]
    assert all("write them on tape" not in page for page in made.values())
    whole = {page["title"]: str(page) for page in chapters(look(rig))}
    assert "No settings are given" not in whole["Gain settings"]


# The pages on lines and on the network


def test_the_page_on_splits_says_who_feeds_each_line_in_each_state(verdict: Verdict) -> None:
    blocks = chapter(verdict, "Splits and 48 V")
    (states,) = tables(blocks, "Who feeds 48 V")
    rig = verdict.view.rig
    by_name = {said(row[0]): row for row in states["rows"]}
    hat = by_name[rig.sources["hat"].name]
    assert [said(cell) for cell in hat[1:5]] == [
        "must have",
        "Mixer, in 3",
        "Mixer, in 3",
        "nobody",
    ]
    for line in verdict.view.lines.values():
        if line.feeds or line.could_feed or line.house:
            assert rig.sources[line.source].name in by_name


def test_the_loss_of_each_line_for_one_to_four_desks(verdict: Verdict) -> None:
    """A voltage divider: what hangs there now, and the usual inputs beyond."""
    (loads,) = tables(chapter(verdict, "Splits and 48 V"), "What hangs on each line")
    for row in loads["rows"]:
        ohm, load = number(said(row[1])), number(said(row[2]))
        assert number(said(row[3])) == pytest.approx(-20 * log10(1 + ohm / load), abs=0.06)
        desks = [number(said(cell)) for cell in row[4:]]
        assert len(desks) == 4
        assert desks == sorted(desks, reverse=True)


def test_the_network_page_plans_an_address_for_each_box(verdict: Verdict, pages: list[str]) -> None:
    paper = figures(" ".join(of_chapter(pages, "Network and radio")))
    for network in address_plan(verdict.view.rig):
        for box in network.boxes:
            assert box.proposed in paper
            assert box.stated is None or box.stated in paper
        if network.leased is not None:
            assert all(end in paper for end in network.leased)


def test_the_control_link_is_a_sum_line_by_line(tmp_path: Path) -> None:
    text = (DEMO / "rig.yaml").read_text("utf-8")
    told = "band: 5 GHz, farthest_m: 18, through_audience: true, channel: 44, antenna_up_m: 1.2,"
    (tmp_path / "rig.yaml").write_text(text.replace("band: 2.4 GHz,", told), "utf-8")
    copytree(DEMO / "gear", tmp_path / "gear")
    blocks = chapter(check(load(tmp_path)), "Network and radio")
    (link,) = tables(blocks, "Control over Wi-Fi")
    first, *steps, wanted = link["rows"]
    level = number(said(first[2]))
    for row in steps:
        level += number(said(row[1]))
        assert number(said(row[2])) == pytest.approx(level, abs=0.16)
    assert number(said(wanted[3])) == pytest.approx(level - number(said(wanted[2])), abs=0.16)
    words = " ".join(str(block.get("text", block.get("said", ""))) for block in blocks)
    assert "44 as the file has it, 5210 to 5230" in words
    assert "not above the heads of a standing audience" in words
    assert "A wire is ready as well." in words


def test_the_chosen_criterion_stands_first_and_all_beside_it(verdict: Verdict) -> None:
    blocks = chapter(verdict, "Exposure")
    titled = [(b, [c["title"] for c in b["columns"]]) for b in blocks if b["kind"] == "table"]
    ((shares, titles),) = ((b, titles) for b, titles in titled if "By the chosen one" in titles)
    names = titles[4:]
    assert names == list(CRITERIA)
    for row in shares["rows"]:
        chosen = "80/40h" if said(row[1]) == "week" else "85/3"
        assert said(row[3]).startswith(f"{said(row[4 + names.index(chosen)])} (")


def test_outlets_stand_by_where_a_hand_finds_them(verdict: Verdict) -> None:
    (found,) = tables(chapter(verdict, "Power"), "Outlets")
    outlets = verdict.view.outlets
    assert sum(int(said(row[3])) for row in found["rows"]) == len(outlets)
    assert sum(int(said(row[4])) for row in found["rows"]) == sum(o.free for o in outlets)
    where = {said(row[2]) for row in found["rows"]}
    assert where == {"inside", "on the front"}


def test_the_volts_down_the_chain_add_up(verdict: Verdict) -> None:
    (told,) = (
        block["said"]
        for block in chapter(verdict, "Power")
        if str(block.get("said", "")).startswith("Volts down the chain")
    )
    lowest, taken, left = (
        float(figure)
        for found in re.findall(r"([0-9.]+) V where|takes ([0-9.]+)|([0-9.]+) V at", told)
        for figure in found
        if figure
    )
    assert lowest - taken == pytest.approx(left, abs=0.06)
