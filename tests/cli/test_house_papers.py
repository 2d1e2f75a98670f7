"""Papers for the house: what each says of the demo, in both languages, and that copies read."""

import os
import re
import shutil
import subprocess
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from pypdfium2 import raw

from rigproof.cli.demo import demo_files
from rigproof.showbook.papers import PAPERS, for_reader
from tests.cli.conftest import Run
from tests.cli.test_papers import pages, squeezed

Printed = Callable[..., str]


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo")
    for name, content in demo_files().items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return folder


@pytest.fixture
def printed(run: Run, demo: Path, tmp_path: Path) -> Printed:
    """The text of one paper at one venue, as a reader of PDF has it."""

    def printed(paper: str, *options: object, rig: Path = demo) -> str:
        target = tmp_path / "paper.pdf"
        outcome = run("papers", rig, "--only", paper, "-o", target, *options)
        assert outcome.code == 0, outcome.err
        assert "too long" not in outcome.out
        return " ".join(squeezed(text) for text in pages(target))

    return printed


CLUB = ("--for", "house", "--venue", "club")


# What stands on them. The lines of the demo are read off its rig file by hand.


def test_the_tail_map_tells_each_end(printed: Printed) -> None:
    text = printed("tail-map", *CLUB)
    assert "T1 1-8 (brown): 8 ends, XLR male, 10 m" in text
    assert re.search(r" 1 Kick mic – isolated 1 ", text)
    assert re.search(r" 11 Tuba mic from us isolated 3 ", text)
    assert re.search(r" 3 Hi-hat mic from us isolated out ", text)
    assert re.search(r" 28 Band talk: DO NOT PLUG ", text)
    assert re.search(r" 6 kept free: a second snare or a guest's drum ", text)
    assert "Do not plug: 28." in text
    assert re.search(r" 33 House talk XLR female 10 m", text)


def test_the_monitor_sheet_counts_what_a_house_would_need(printed: Printed) -> None:
    text = printed("monitor-sheet", *CLUB)
    # Eight stereo mixes are sixteen outputs; talk, click, cue and a pair of audience microphones
    # are five lines that the house does not get otherwise.
    assert "16 outputs for 8 mixes" in text
    assert "5 more lines into your desk" in text
    assert "You offer 0: 16 short" in text
    assert re.search(r"Tamsin, lead voice ears by radio, P1 · bus 1-2, stereo Lead voice ", text)
    assert "House talk goes to all ears, while the switch is held." in text


def test_the_rider_is_short_and_enough(printed: Printed) -> None:
    text = printed("rider", "--for", "house")
    assert "page 1 of 1" in text
    assert "27 labelled XLR lines on 4 tails (10 m)" in text
    assert "No monitors are needed" in text
    assert "Please put your box stage left, beside our case." in text
    assert "1 point at our case. 1 point on stage: Laptop (Yusra)." in text
    assert "A riser for Runa: 2 × 2 m (6 ft 7 in × 6 ft 7 in)." in text
    assert "Not for you, and not to be plugged: Band talk, Click, Spoken cues and Audience." in text
    assert "All microphones and DI boxes are ours." in text
    assert "Before the day: Yusra (keys)" in text


def test_the_rider_for_one_venue_knows_its_side(printed: Printed) -> None:
    assert "Technical rider: Tallow Lane Club" in printed("rider", *CLUB)


def test_the_line_check_says_what_meters_show_and_which_knobs_to_set(printed: Printed) -> None:
    text = printed("line-check", "--venue", "club")
    assert "page 1 of 1" in text
    assert "Router: mode switch to the left" in text
    # From memory: 15 to 20 s a line; 33 lines of the patch are in use.
    assert "33 lines at 15 to 20 s: 8 to 11 min" in text
    assert re.search(r" 1 Kick Split A, in 1 1 −\d+ ±\d+ assumed ", text)
    assert "mode switch" not in printed("line-check", *CLUB)


@pytest.mark.parametrize("size", ["a4", "letter"])
@pytest.mark.parametrize("language", ["en", "de"])
def test_forty_lines_are_one_page(
    printed: Printed, tmp_path: Path, size: str, language: str
) -> None:
    sources = "".join(
        f"  - {{id: s{n}, name: Quite a voice {n}, family: voices, mic: mic-vocal-dynamic,"
        f" spl_db: 104}}\n"
        for n in range(1, 41)
    )
    patch = "".join(
        f"  - {{source: s{n}, plug: box{(n - 1) // 8 + 1}.in.{(n - 1) % 8 + 1}, channel: {n},"
        f" gain_db: 40}}\n"
        for n in range(1, 41)
    )
    gear = "".join(
        f"  - {{id: box{t}, type: splitter-active-8, home: lid open}}\n" for t in range(1, 6)
    )
    (tmp_path / "rig.yaml").write_text(
        "format: 1\nrig: {name: Choir, mixer: mixer}\n"
        f"sources:\n{sources}gear:\n  - {{id: mixer, type: mixer-core-64}}\n{gear}"
        f"patch:\n{patch}"
        "venues: [{id: a, name: Hall, desk: {takes: tails}}]\n",
        encoding="utf-8",
    )
    text = printed("line-check", "--paper", size, "--language", language, rig=tmp_path / "rig.yaml")
    assert " 40 Quite a voice 40 " in text
    assert re.search("(page|Seite) 1 (of|von) 1", text)


ANSWERS = """{date: 2027-04-20, by: Wren, lines_free: 18, lines_tested: false, phantom: "on",
      talkback: false, side: stage right, distance_m: 14, changeover_min: 8}"""


def test_the_advance_sheet_asks_and_sets_answers_beside(
    printed: Printed, demo: Path, tmp_path: Path
) -> None:
    text = printed("advance", *CLUB)
    assert "How many lines are really free for us at your stage box? 27 lines" in text
    assert "How far is it from our case, along the way of the cable? at most 10 m" in text
    assert "823.2, 825.1, 827.6, 830.4, 863.3, 863.9 MHz" in text
    assert "Back to rack@lantern-ceilidh.example" in text
    assert "Answers" not in text
    assert "When to send it" not in text
    # A month and a week before 2027-05-08, counted in a calendar.
    band = printed("advance", "--venue", "club")
    assert "by 2027-04-10 and again by 2027-05-01" in band
    assert "Sent 2027-03-02, version 8." in band
    assert "They hold version 7; this is 8." in printed("advance", "--venue", "festival")
    assert "Nothing is noted as sent yet." in printed("advance", "--venue", "hall")


def test_answers_that_contradict_are_told(printed: Printed, demo: Path, tmp_path: Path) -> None:
    folder = tmp_path / "answered"
    folder.mkdir()
    for name, content in demo_files().items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    rig = folder / "rig.yaml"
    told = f"venue: club, answers: {ANSWERS}, "
    text = rig.read_text(encoding="utf-8")
    assert "venue: club, " in text
    rig.write_text(text.replace("venue: club, ", told, 1), encoding="utf-8")
    text = printed("advance", "--venue", "club", rig=folder)
    assert "Answers of 2027-04-20, Wren" in text
    assert "How many lines are really free for us at your stage box? 27 lines 18 lines" in text
    assert "You have 18 lines, we bring 27: Hi-hat," in text
    assert "The lines are not tested" in text
    assert "You have no talk line" in text
    assert "Your box is 14 m from our case, and our shortest tail is 10 m." in text
    assert "Our papers have your box stage left; you say stage right." in text
    # 33 lines at 20 s are 11 min.
    assert "8 min for the changeover, and the line check alone takes up to 11 min." in text
    assert "Sent 2027" not in printed("advance", *CLUB, rig=folder)


def test_what_fits_is_said_too(printed: Printed, tmp_path: Path) -> None:
    (tmp_path / "rig.yaml").write_text(
        "format: 1\nrig: {name: Duo}\n"
        "venues: [{id: a, name: Hall, desk: {takes: tails}}]\n"
        "shows: [{id: one, date: 2027-05-08, venue: a, answers: {lines_free: 12}}]\n",
        encoding="utf-8",
    )
    text = printed("advance", rig=tmp_path / "rig.yaml")
    assert "Nothing in the answers contradicts what we count on." in text


# Languages and measures


def test_german_papers_are_german(printed: Printed) -> None:
    text = printed("hand-off", *CLUB, "--language", "de")
    for word in (
        "32 × XLR männlich an 4 Peitschen, je 8- fach, 10 m lang",
        "Alle über Übertrager getrennt",
        "28 Band talk NICHT STECKEN",
        "PHANTOMSPEISUNG 48 V",
        "eigen: Gesangsmikrofon, dynamisch, Niere",
        "Wenn unser Rack ausfällt".upper(),
        "Netzspannung kann töten",
    ):
        assert word in text, word
    left = re.findall(r"\b(the|our|your|and|with|from|never|page|is|are)\b", text)
    # The user's own words: "small club with a house desk", "the spare vocal: microphone and stand".
    assert set(left) <= {"and", "the", "with"}


@pytest.mark.parametrize(
    ("paper", "words"),
    [
        ("stage-plot", ("BÜHNENPLAN", "VOM SPIELER AUS RECHTS", "IN-EAR PER FUNK, P1")),
        ("input-list", ("INPUTLISTE", "FREIGEHALTEN", "MIKROFON/DI", "LEITUNG")),
        ("patch", ("PATCH NACH ANSCHLUSSFELD", "HAUS, LEITUNGEN 1-8", "VORN")),
        ("read-back", ("RÜCKWÄRTS LESEN", "MUSS HEISSEN")),
        ("hearing", ("WER HÖRT WAS", "REGELT SELBST", "GEHÖR")),
        ("rack", ("DAS CASE VON VORN", "HE ZÄHLEN VON UNTEN", "SCHNITT")),
        ("signal-flow", ("SIGNALFLUSS", "NUR BAND", "ZU DEN OHREN")),
    ],
)
def test_pages_of_the_book_in_german(printed: Printed, paper: str, words: tuple[str, ...]) -> None:
    text = printed(paper, "--language", "de").upper()
    for word in words:
        assert word in text, word


@pytest.mark.published("international foot, 0.3048 m: 10 m are 32.8 ft; 6.5 m are 21 ft 4 in")
def test_feet_where_feet_are_asked_for(printed: Printed) -> None:
    assert "of 32.8 ft" in printed("hand-off", *CLUB, "--measures", "imperial")
    plot = printed("stage-plot", *CLUB, "--measures", "imperial")
    assert "21 ft 4 in (6.5 m)" in plot
    assert "6.5 m (21 ft 4 in)" in printed("stage-plot", *CLUB)


def test_the_book_speaks_german(run: Run, demo: Path, tmp_path: Path) -> None:
    target = tmp_path / "buch.pdf"
    run("book", demo, "--language", "de", "-o", target)
    found = [squeezed(text) for text in pages(target)]
    assert "Nicht bereit: erst ein Fehler zu beheben" in found[0]
    assert "Was nicht geprüft wurde" in found[-1]
    assert "ob das Rig gebaut ist wie gezeichnet".upper() in found[-1].upper()
    findings = next(text for text in found[1:] if "Befunde und Abhilfe" in text)
    assert "Die Steuerung läuft auf 2,4 GHz, wo die Telefone des Publikums sind." in findings
    assert "5 GHz oder besser nehmen, und ein Kabel bereithalten." in findings


# What copying leaves


class Letters:
    """The letters of a page with their boxes, and the page as a poor copier has it: one bit."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.wide, self.high = page.get_size()
        self.text = page.get_textpage()
        self.copy, self.fine = self._bits(100), self._bits(300)

    def _bits(self, dots_per_inch: int) -> tuple[Any, float]:
        scale = dots_per_inch / 72
        grey = self.page.render(scale=scale, grayscale=True).to_numpy()
        return grey.reshape(grey.shape[0], grey.shape[1]) < 128, scale

    def words(self) -> Iterator[tuple[str, list[float]]]:
        """Each word with the share of the ink of each letter that the copy keeps."""
        word, kept = "", list[float]()
        for number in range(self.text.count_chars()):
            letter = self.text.get_text_range(number, 1)
            if not letter.isalnum():
                if word:
                    yield word, kept
                word, kept = "", []
                continue
            word += letter
            kept.append(self._kept_ratio(number))
        if word:
            yield word, kept

    def _kept_ratio(self, number: int) -> float:
        box = self.text.get_charbox(number)
        if box[0] < 0 or box[1] < 0 or box[2] > self.wide or box[3] > self.high:
            return 1.0
        fine = self._ink(self.fine, box)
        return self._ink(self.copy, box) / fine if fine else 1.0

    def _ink(self, picture: tuple[Any, float], box: tuple[float, ...]) -> float:
        bits, scale = picture
        left, low, right, top = box
        rows = slice(int((self.high - top) * scale), int(np.ceil((self.high - low) * scale)))
        part = bits[rows, int(left * scale) : int(np.ceil(right * scale))]
        return float(part.sum()) / scale**2


LOST = 0.25  # of a letter's ink: less, and it is a speck
FAINT = 1 / 200  # of all letters may be specks


@pytest.mark.parametrize(
    ("reader", "language", "size"), [("band", "en", "letter"), ("band", "de", "a4")]
)
def test_a_poor_copy_of_every_paper_reads(
    run: Run, demo: Path, tmp_path: Path, reader: str, language: str, size: str
) -> None:
    """At 100 dots per inch in one bit no figure is lost, and of no word more than one letter.

    The band may have every paper.
    """
    assert for_reader("band") == PAPERS
    target = tmp_path / "set.pdf"
    options = ("--for", reader, "--language", language, "--paper", size)
    assert run("papers", demo, *options, "-o", target).code == 0
    letters = specks = 0
    document = pypdfium2.PdfDocument(target)
    for place, page in enumerate(document, start=1):
        for word, kept in Letters(page).words():
            lost = [letter for letter, share in zip(word, kept, strict=True) if share < LOST]
            assert not any(map(str.isdigit, lost)), f"page {place}: {word}"
            assert len(lost) < 2, f"page {place}: {word} loses {lost}"
            letters += len(word)
            specks += len(lost)
    document.close()
    assert letters > 500
    assert specks / letters < FAINT


@pytest.mark.skipif(shutil.which("tesseract") is None, reason="needs a reader of printed letters")
def test_a_reader_of_printed_letters_reads_a_poor_copy(
    run: Run, demo: Path, tmp_path: Path
) -> None:
    """Words of four letters and more, read off the picture alone. The reader is made for three
    times as many dots; it gets each dot as two by two.
    """
    target, picture = tmp_path / "set.pdf", tmp_path / "copy.png"
    asked = ("--only", "rider", "--only", "person", "--person", "ossian", "-o", target)
    assert run("papers", demo, *asked).code == 0
    document = pypdfium2.PdfDocument(target)
    assert len(document) == 2
    for page in document:
        bits, _ = Letters(page).copy
        copy = Image.fromarray(np.where(bits, 0, 255).astype(np.uint8))
        copy.resize((2 * copy.width, 2 * copy.height), Image.Resampling.BICUBIC).save(picture)
        command = ["tesseract", str(picture), "-", "--psm", "4", "--dpi", "200"]
        heard = subprocess.run(
            command, env={**os.environ, "OMP_THREAD_LIMIT": "1"}, capture_output=True, text=True
        )
        printed, read = (
            Counter(re.findall(r"[^\W\d_]{4,}", text))
            for text in (page.get_textpage().get_text_range(), heard.stdout)
        )
        assert (printed & read).total() / printed.total() > 0.93
    document.close()


TICK_MM = 3.3  # with the strokes as the reader of the file counts them


def test_boxes_to_tick_and_most_lines_of_a_table_outlive_a_poor_copy(
    run: Run, demo: Path, tmp_path: Path
) -> None:
    """A box that has lost a side is no box; a row without its line is read in the next one."""
    target = tmp_path / "line-check.pdf"
    asked = ("--only", "line-check", "--venue", "club", "-o", target)
    assert run("papers", demo, *asked).code == 0
    document = pypdfium2.PdfDocument(target)
    page = document[0]
    bits, scale = Letters(page).copy
    sides, rules = [], []
    for drawn in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH]):
        left, low, right, top = drawn.get_bounds()
        x0, x1 = left * scale, right * scale
        y0, y1 = bits.shape[0] - top * scale, bits.shape[0] - low * scale
        wide_mm, high_mm = (right - left) * 25.4 / 72, (top - low) * 25.4 / 72
        if abs(wide_mm - TICK_MM) < 0.2 and abs(high_mm - TICK_MM) < 0.2:
            across, down = slice(round(x0) + 3, round(x1) - 3), slice(round(y0) + 3, round(y1) - 3)
            sides += [bits[edge, across].any(axis=0).mean() for edge in _edges(y0, y1)]
            sides += [bits[down, edge].any(axis=1).mean() for edge in _edges(x0, x1)]
        elif wide_mm > 100 and high_mm < 1:
            rows = slice(round(y0) - 1, round(y1) + 2)
            rules.append(bits[rows, round(x0) : round(x1)].any(axis=0).mean())
    document.close()
    assert len(sides) > 4 * 60
    assert min(sides) > 0.9
    assert len(rules) > 10
    assert np.mean([share > 0.9 for share in rules]) > 0.7


def _edges(low: float, high: float) -> tuple[slice, slice]:
    return slice(round(low), round(low) + 3), slice(round(high) - 3, round(high))


def test_the_check_of_copies_sees_a_grey_page(tmp_path: Path) -> None:
    document = pypdfium2.PdfDocument.new()
    page = document.new_page(200, 100)
    font = raw.FPDFText_LoadStandardFont(document.raw, b"Helvetica")
    text = raw.FPDFPageObj_CreateTextObj(document.raw, font, 5.0)
    said = "illicit".encode("utf-16-le") + b"\x00\x00"
    raw.FPDFText_SetText(text, (raw.FPDF_WCHAR * (len(said) // 2)).from_buffer_copy(said))
    raw.FPDFPageObj_SetFillColor(text, 120, 120, 120, 255)
    raw.FPDFPageObj_Transform(text, 1, 0, 0, 1, 20.3, 50)
    raw.FPDFPage_InsertObject(page.raw, text)
    raw.FPDFPage_GenerateContent(page.raw)
    ((_, kept),) = Letters(page).words()
    assert sum(share < LOST for share in kept) > 1
