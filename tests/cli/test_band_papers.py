"""The band's own papers, printed and read back: held against the rig file and sums by hand."""

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pypdfium2
import pytest
from pypdfium2 import raw

from rigproof.checks.rule import View, look
from rigproof.cli.demo import demo_files
from rigproof.rig import Person
from rigproof.rigfile.load import load
from tests.cli.conftest import Run
from tests.cli.test_papers import pages, squeezed

Print = Callable[..., list[str]]


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo")
    for name, content in demo_files().items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return folder


@pytest.fixture(scope="module")
def usual(demo: Path) -> View:
    return look(load(demo / "rig.yaml"))


@pytest.fixture(scope="module")
def already() -> dict[tuple[str, ...], list[str]]:
    """What was printed for a test before: the same words print the same paper."""
    return {}


@pytest.fixture
def printed(
    run: Run, demo: Path, tmp_path: Path, already: dict[tuple[str, ...], list[str]]
) -> Print:
    """Pages of one paper, each as one line of text; nothing may be cut or lack a letter."""

    def printed(paper: str, *words: str) -> list[str]:
        if (paper, *words) in already:
            return already[paper, *words]
        target = tmp_path / f"{paper}.pdf"
        outcome = run("papers", demo, "--only", paper, *words, "-o", target, "--json")
        assert outcome.code == 0
        assert outcome.json["result"]["left_out"] == []
        already[paper, *words] = [squeezed(text) for text in pages(target)]
        return already[paper, *words]

    return printed


GERMAN_LETTER = ("--language", "de", "--paper", "letter")


# One page for each person


TRIO, TWELVE = (Path(__file__).parents[2] / "examples" / name for name in ("trio", "twelve"))


@pytest.mark.parametrize("words", [(), GERMAN_LETTER, ("--for", "deputy", *GERMAN_LETTER)])
def test_one_side_holds_what_a_stage_needs(
    run: Run, demo: Path, usual: View, words: list[str], tmp_path: Path
) -> None:
    """Plugs, ears and the card for trouble share a side; a back tells who hears me."""
    target = tmp_path / "p.pdf"
    asked = ("--only", "person", "--venue", "club", *words, "-o", target, "--json")
    sheets = run("papers", demo, *asked).json["result"]["sheets"]
    assert [sheet["id"] for sheet in sheets] == [f"person-{one}" for one in usual.rig.people]
    fronts = [text for text in map(squeezed, pages(target)) if re.search(FIRST, text)]
    backs = [text for text in map(squeezed, pages(target)) if not re.search(FIRST, text)]
    for sheet, front in zip(sheets, fronts, strict=True):
        assert sheet["title"] in front
        for heading in (PLUGS, EARS, CARD):
            assert re.search(heading, front), sheet["title"]
    # Two drum or key sets with a personal mixer each; all others have but one side.
    assert len(backs) <= 2
    assert all(re.search(CARRY, text) for text in backs)
    assert all(re.search(CARRY, text) for text in fronts if re.search("(of|von) 1$", text))


FIRST = r"(page|Seite) 1 (of|von) \d+"
PLUGS, EARS = "Where I plug|Wo ich stecke", "In my ears|In meinen Ohren"
CARD, CARRY = "When something fails|Wenn etwas ausf", "I carry|Ich trage"


@pytest.mark.parametrize("words", [("--paper", "letter"), ("--language", "de")])
def test_a_small_band_has_one_side_each(run: Run, words: list[str], tmp_path: Path) -> None:
    target = tmp_path / "p.pdf"
    assert run("papers", TRIO, "--only", "person", *words, "-o", target).code == 0
    found = list(map(squeezed, pages(target)))
    assert len(found) == 3
    for heading in (PLUGS, EARS, CARD, CARRY):
        assert all(re.search(heading, text) for text in found)


def test_more_plugs_and_knobs_than_a_side_holds_turn_the_leaf(run: Run, tmp_path: Path) -> None:
    """Thirteen plugs and forty places of a personal mixer: the card stands whole on the back."""
    target = tmp_path / "p.pdf"
    asked = ("--only", "person", "--person", "bram", "--venue", "ballroom", "-o", target)
    assert run("papers", TWELVE, *asked).code == 0
    front, back = map(squeezed, pages(target))
    assert re.search(PLUGS, front)
    assert "13 Earphones" in front
    assert "39-40 Amb" in front
    assert not re.search(CARD, front)
    assert re.search(CARD, back)
    assert "Whole rack dead" in back
    assert re.search(CARRY, back)


def test_where_i_plug_is_what_the_patch_says(printed: Print, usual: View) -> None:
    for person in usual.rig.file.people:
        front = printed("person", "--person", person.id, "--venue", "club")[0]
        for source, socket, channel in _plugs(usual, person):
            assert re.search(
                rf"\d {re.escape(source)} .*?{re.escape(socket)} .*?\b{channel}\b", front
            ), (person.id, source)
        assert person.ears is not None
        assert person.ears.plug is not None
        box = usual.rig.gear[person.ears.plug.gear].name
        assert f"{box}, phones" in front


def _plugs(view: View, person: Person) -> Iterator[tuple[str, str, str]]:
    boxes = {"split-a": "Split A", "split-b": "Split B", "stage-box": "Stage box"}
    for row in view.rig.file.patch:
        source = view.rig.sources[row.source]
        if source.player == person.id and row.plug is not None:
            low, high = row.plug.numbers or (0, 0)
            number = str(low) if low == high else f"{low}-{high}"
            yield source.name, f"{boxes[row.plug.gear]}, in {number}", str(row.channel)


def test_what_is_on_each_knob(printed: Print, usual: View) -> None:
    """The strip of a personal mixer, place by place, as the feed of the rig file has it."""
    front = printed("person", "--person", "runa", "--venue", "club")[0]
    for slot in usual.rig.file.feeds[0].slots:
        assert f"{slot.slot} {slot.label} " in front
    pack = printed("person", "--person", "tamsin", "--venue", "club")[0]
    assert "823.2 MHz" in pack
    assert "Tamsin's pack, phones at \u221247 dB; Mixer, out 1-2 at 4 dB" in pack
    wired = printed("person", "--person", "ossian", "--venue", "club")[0]
    assert "Headphone amplifier, phones 2 at \u221236 dB" in wired  # lanes 3-4 are one socket
    assert "Lead voice 0, Backing voices \u22129, Keys \u22126" in pack


def test_who_hears_me(printed: Print) -> None:
    """Of the mixes and feeds of the rig file, read by eye."""
    front = printed("person", "--person", "mirek", "--venue", "club")[0]
    heard = re.search(r"IN THE EARS OF \(DB, OR SLOT\) Accordion (.*?) I carry", front)
    assert heard is not None
    assert heard[1] == (
        "Runa slot 9-10, Ossian \u22128, Mirek 0, Delphine \u22126, Tamsin \u22129, Ade \u221210,"
        " Yusra slot 9-10"
    )


def _card(found: list[str]) -> str:
    return " ".join(found).partition("When something fails")[2]


def test_trouble_names_what_this_persons_sound_hangs_on(printed: Print) -> None:
    back = _card(printed("person", "--person", "bo", "--venue", "club"))
    # The plug in the hand works when no app does; then the boxes from the ear backwards.
    assert "Pull the plug out of Bo's pack, phones" in back
    assert "Bo's transmitter [TX4] (unit 16): lamp, 830.4 MHz" in back
    assert "Mixer, out 7 is left, Mixer, out 8 is right" in back
    assert "the mix Bo (bus 7-8)" in back
    wired = _card(printed("person", "--person", "ossian", "--venue", "club"))
    assert "Headphone amplifier" in wired
    assert "MHz" not in wired.partition("Control app")[0]
    # 60 + 38 + 12 + 10 + 6 + 12 + 1 s: the slowest box of each step of the rig file.
    assert "about 139 s" in wired


def test_a_guest_and_whoever_plugs_otherwise_that_night(
    run: Run, demo: Path, tmp_path: Path
) -> None:
    target = tmp_path / "p.pdf"
    result = run("papers", demo, "--only", "person", "-o", target, "--json").json["result"]
    extra = [s["id"] for s in result["sheets"] if s["id"].endswith("-meadow")]
    # Ines comes; the feed of the two personal mixers changes for her; nobody else plugs otherwise.
    assert sorted(extra) == ["person-ines-meadow", "person-runa-meadow", "person-yusra-meadow"]
    text = " ".join(squeezed(page) for page in pages(target) if "Ines: my place" in squeezed(page))
    assert "Split A, in 6" in text.partition("When something fails")[0]
    # The place kept free is hers that night, so it is offered to nobody.
    assert "Free line: Split A" not in text
    assert "Free line" not in text


def test_a_deputy_is_warned_of_earphones_that_are_louder(printed: Print) -> None:
    text = " ".join(printed("person", "--person", "bo", "--for", "deputy"))
    assert "The marks hold for Earphones, one armature only" in text
    assert "nine-wet-goats" not in text
    assert "lantern-rig" not in text
    assert "lantern-rig" in " ".join(printed("person", "--person", "bo"))


def test_commissioning_tries_what_no_file_shows(printed: Print) -> None:
    """Of the demo: two splits, four boxes on one clock, 32 tails and two leads to the house."""
    (page,) = printed("commissioning")
    assert "One line plays through Split A and Split B. Turn gain and 48 V at one desk" in page
    assert "off, ten seconds, on again: Mixer, Stage box, Playback interface and Network" in page
    assert "34 ends: pins 1, 2 and 3" in page
    assert "between instrument and microphone of Ade and Yusra" in page
    assert "a telephone that was never on lantern-rig tries to get on" in page
    assert "the tablet by lead into Router, port 3" in page
    assert "from the copy that is kept elsewhere: Mixer and Laptop" in page
    assert "Bo, who stands nearest, throws the switch of PWR" in page


def test_what_is_ticked_keeps_its_boxes_however_close_a_sheet_stands(
    run: Run, demo: Path, tmp_path: Path
) -> None:
    """Letter in German is the shortest sheet with the longest words: still a box for each trial."""
    target = tmp_path / "c.pdf"
    asked = ("--only", "commissioning", *GERMAN_LETTER, "-o", target)
    assert run("papers", demo, *asked).code == 0
    document = pypdfium2.PdfDocument(target)
    (page,) = document
    boxes = [
        drawn
        for drawn in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH])
        for left, low, right, top in [drawn.get_bounds()]
        if abs(right - left - (top - low)) < 0.1 and 6 < right - left < 12
    ]
    document.close()
    assert len(boxes) == 15


def test_commissioning_leaves_out_what_a_rig_does_not_have(run: Run, tmp_path: Path) -> None:
    target = tmp_path / "c.pdf"
    assert run("papers", TRIO, "--only", "commissioning", "-o", target).code == 0
    (page,) = map(squeezed, pages(target))
    assert "Clock after a restart" not in page
    assert "Computer that plays" not in page
    assert "8 ends: pins 1, 2 and 3" in page


# Leads


def test_every_lead_is_in_the_schedule(printed: Print, usual: View) -> None:
    text = " ".join(printed("leads"))
    for lead in usual.rig.file.leads:
        assert (lead.label or lead.id) in text
    for source in ("HH", "OH", "Fiddle", "BV Yus", "Amb"):
        assert source in text
    # No plan of a stage says where the audience microphones stand.
    assert "Amb 2 XLR lead Audience XLR female Stage box, in 15-16 XLR male to be measured" in text


def test_plugs_counted_by_hand(printed: Print) -> None:
    """Sixteen and fourteen to the inputs, two from the receiver, 8 to transmitters, 2 to the hall,
    26 lanes of microphones and DIs; tails 4 x 8; two Y-leads with 2 each; one return; two of the
    tracks end in XLR.
    """
    text = " ".join(printed("leads"))
    assert "XLR female 105" in text  # 16 + 14 + 2 + 8 + 2 + 26 + 32 + 4 + 1
    assert "XLR male 102" in text  # 16 + 14 + 2 + 8 + 2 + 26 + 32 + 2
    assert "locking network plug 8" in text
    assert "Tails, eight XLR 40 m" in text


@pytest.mark.published("EIA-310-D: one rack unit is 44.45 mm")
def test_branches_leave_the_trunk_at_the_heights_of_the_boxes(printed: Print) -> None:
    text = " ".join(printed("leads"))
    # Units 7-8 to units 2-4: 7 x 44.45 - 2.5 x 44.45. Units 9-10 to 5-6: 4 x 44.45.
    assert "200 mm" in text
    assert "178 mm" in text
    assert "1 m, of which 0.2 m run along the trunk; 0.8 m are left" in text
    # 7.87 and 7 in: four and a half units of 1.75 in, and four.
    # Both ends of a lead bear the same tape: mix 5-6 of the mixer is Ade's.
    assert text.count("Ade L") == 2
    feet = " ".join(printed("leads", "--measures", "imperial"))
    assert "7.9 in" in feet
    assert "7 in" in feet


# Parts


def test_the_price_is_the_sum_of_what_the_types_state(printed: Print, usual: View) -> None:
    rig = usual.rig
    boxes = sum(float(rig.types[gear.type].price_eur or 0) for gear in rig.file.gear)
    heard = sum(
        float(rig.types[person.ears.earphones].price_eur or 0)
        for person in rig.file.people
        if person.ears is not None and person.ears.earphones is not None
    )
    # By hand, from the library: shotgun 2, clip 3, instrument 3, kick, small condenser 3,
    # gooseneck, tom 2, vocal 4; DI active, two for piezos, two stereo.
    played = sum(
        count * float(rig.types[name].price_eur or 0)
        for name, count in {
            "mic-audience-shotgun": 2,
            "mic-clip-condenser": 3,
            "mic-instrument-dynamic": 3,
            "mic-kick-dynamic": 1,
            "mic-small-condenser": 3,
            "mic-talkback-gooseneck": 1,
            "mic-tom-dynamic": 2,
            "mic-vocal-dynamic": 4,
            "di-active": 1,
            "di-active-piezo": 2,
            "di-passive-stereo": 2,
        }.items()
    )
    case = float(rig.types["case-20-castors"].price_eur or 0)
    text = " ".join(printed("parts"))
    assert f"{boxes + heard + played + case:.0f} Leads and spares" in text
    assert "No weight stated, so not in the sum: Split of the band, 16 lines, transformer" in text
    assert "Mixer; serial own 0001" in text  # insurers and customs ask for it


def test_a_shop_gets_what_to_order_and_no_prices(printed: Print) -> None:
    text = " ".join(printed("parts", "--for", "shop"))
    assert "EUR" not in text
    assert "1890" not in text  # what the mixer costs
    assert "own 0001" not in text
    assert "brown, red, orange, yellow" in text
    assert "8 \u00d7 XLR female \u2013 8 \u00d7 XLR male" in text


def test_screws_counted_by_hand(printed: Print) -> None:
    """Fourteen places on the rails with four screws each, and four more behind the mixer."""
    assert "60 rack screws" in " ".join(printed("parts"))
    assert "SCREWS WITH CAGE NUTS 60" in squeezed(" ".join(printed("building")))


# Packing


def test_everything_is_in_one_bag_and_counted(printed: Print, usual: View) -> None:
    text = " ".join(printed("packing"))
    lanes = sum(s.lanes for s in usual.rig.file.sources if s.mic is not None)
    boxes = 1 + 2 + 2  # DIs: one active, two for piezos, two stereo
    assert f"Microphone bag: {lanes + boxes + 1} pieces" in text  # and the bag itself
    assert "4 spare: XLR lead, 10 m" in text
    assert "24 AA batteries 12 are used at a show" in text
    assert "Not in any bag yet" not in text
    assert "Beyond the first: The case" in text


def test_what_no_bag_holds_is_told(run: Run, demo: Path, tmp_path: Path) -> None:
    folder = tmp_path / "loose"
    for name, content in demo_files().items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content.replace(b"holds: [stands], ", b""))
    target = tmp_path / "pack.pdf"
    assert run("papers", folder, "--only", "packing", "-o", target).code == 0
    text = squeezed(" ".join(pages(target)))
    assert "Not in any bag yet: Stands" in text


# Network


def test_the_card_has_every_address_and_port(printed: Print, usual: View) -> None:
    text = " ".join(printed("network"))
    for gear in usual.rig.file.gear:
        if gear.address is not None:
            assert f"{gear.name} [{gear.label}] {gear.address} {gear.netmask}" in text
    assert "Mixer, control Router, port 1 mixer-control control" in text
    assert "Router, port 3 free" in text
    assert "Mixer [MIX] leads, pinned by preference 48" in text
    for link in usual.rig.file.radio:
        assert f"{float(link.frequency_mhz or 0):g}" in text
    assert "nine-wet-goats" in text


def test_no_password_on_a_deputys_card(printed: Print) -> None:
    text = " ".join(printed("network", "--for", "deputy"))
    assert "nine-wet-goats" not in text
    assert "lantern-rig" not in text
    assert "192.168.0.20" in text


# Building


def test_boxes_go_in_from_the_bottom(printed: Print, usual: View) -> None:
    text = " ".join(printed("building"))
    units = sorted(
        (gear.unit, f"[{gear.label}]") for gear in usual.rig.file.gear if gear.unit is not None
    )
    places = [text.index(label) for _, label in units]
    assert places == sorted(places)
    # The mixer is below the splits: its loom is laid in first and plugged with the upper box.
    mixer, split = text.index("[MIX]"), text.index("Split A [A]")
    assert mixer < text.index("a-to-mixer (16, loom A)") < split
    assert split < text.rindex("a-to-mixer (16, loom A)")
    # Transmitters hang on a strip that comes above them: their mains waits for it.
    strip = text.index("Inner strip [STRIP]; ")
    assert strip < text.index("mains of Tamsin's transmitter")


# Failures


def test_the_worst_failure_comes_first_and_the_rack_has_a_plan(printed: Print) -> None:
    text = " ".join(printed("failures"))
    signs = [
        "Nobody hears anything in the ears",
        "Runa and Yusra: nothing in the ears",
        "Tamsin: nothing in the ears",
        "One ear silent",
        "Lines of the house silent, all ears go on",
        "The whole rack is dead",
    ]
    places = [text.index(sign) for sign in signs]
    assert places == sorted(places)
    assert "Mixer [MIX], and 1 box that hangs on it" in text
    assert "38 s datasheet" in text  # as its data sheet states it
    assert "All up after about 139 s" in text
    assert "meanwhile the pack on 825.1 MHz hears Delphine" in text


def test_what_the_house_keeps_is_what_needs_none_of_our_power(printed: Print, usual: View) -> None:
    """By hand: dynamic microphones and passive DIs on the transformer legs of the splits."""
    text = " ".join(printed("failures"))
    kept = re.search(r"Tallow Lane Club: without us the house still has lines ([0-9, -]+) of", text)
    assert kept is not None
    numbers = set()
    for part in kept[1].split(","):
        low, _, high = part.strip().partition("-")
        numbers |= set(range(int(low), int(high or low) + 1))
    by_channel = {
        number: usual.rig.sources[row.source]
        for row in usual.rig.file.patch
        for number in row.channel or ()
    }
    for number in numbers:
        source = by_channel[number]  # socket, line and channel carry one number in the demo
        assert source.start is None, source.id
        assert source.mic not in {"mic-small-condenser", "mic-clip-condenser"}
        assert source.di not in {"di-active", "di-active-piezo"}


# Other rigs


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("rig", ["trio", "twelve"])
def test_nothing_is_cut_on_the_papers_of_other_bands(
    run: Run, tmp_path: Path, rig: str, language: str
) -> None:
    folder = Path(__file__).parents[2] / "examples" / rig
    papers = [
        "patch",
        "hearing",
        "person",
        "failures",
        "leads",
        "parts",
        "building",
        "commissioning",
        "packing",
        "network",
    ]
    only = [word for paper in papers for word in ("--only", paper)]
    target = tmp_path / "set.pdf"
    outcome = run("papers", folder, *only, "--language", language, "-o", target, "--json")
    assert outcome.code == 0
    result = outcome.json["result"]
    assert result["left_out"] == []
    # A sheet of its own for everybody of the band.
    people = {person.id for person in load(folder / "rig.yaml").file.people}
    assert people <= {sheet["id"].removeprefix("person-") for sheet in result["sheets"]}


def test_a_name_is_never_markup_nor_a_place_to_fill(run: Run, small: Path, tmp_path: Path) -> None:
    text = (small / "rig.yaml").read_text(encoding="utf-8")
    name = "{who} #eval(1) <b>*x* \u05e9\u05dc\u05d5\u05dd {0}"
    (small / "rig.yaml").write_text(
        text.replace("name: Lead voice", f"name: '{name}'"), encoding="utf-8"
    )
    target = tmp_path / "set.pdf"
    assert run("papers", small, "--only", "person", "-o", target).code == 0
    text = " ".join(squeezed(page) for page in pages(target))
    assert "{who} #eval(1) <b>*x*" in text


def test_a_rig_with_nothing_has_nothing_to_print(run: Run, tmp_path: Path) -> None:
    (tmp_path / "rig.yaml").write_text("format: 1\nrig: {name: Bare}\n", encoding="utf-8")
    outcome = run("papers", tmp_path, "--only", "failures", "--only", "parts")
    assert outcome.code == 2
    assert "nothing to print" in outcome.err
