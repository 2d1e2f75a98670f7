"""Labels: true to the millimetre, every lead at both ends, codes that another reader reads."""

import json
from collections import Counter, defaultdict
from collections.abc import Iterator
from functools import cache

import msgspec
import numpy as np
import pypdfium2 as pdfium
import pytest
import zxingcpp
from numpy.typing import NDArray

from rigproof.checks.rule import View, look
from rigproof.checks.verdict import check
from rigproof.rig import Rig
from rigproof.rig.ref import PortRef
from rigproof.rigfile.edit import Rename, apply
from rigproof.rigfile.load import parse
from rigproof.showbook.edition import Edition
from rigproof.showbook.labels import (
    KINDS,
    PRESETS,
    Asked,
    Card,
    Flag,
    Kind,
    Label,
    LabelSheets,
    Sheets,
    StockError,
    Strip,
    calibration,
    every_label,
    labels_pdf,
    reprint,
    stock,
)
from rigproof.showbook.labels.colouring import Scheme
from rigproof.showbook.labels.stock import plain_room_mm
from rigproof.showbook.papers import Order
from rigproof.showbook.pocket import pocket_book
from tests.bands import WHOLE, seen, whole

LONGEST_MM = plain_room_mm("a4", flipped=True)[0]
WITHIN_MM = 0.2
# Where plain paper begins: the first label's upper left corner; strips have a caption above.
LEFT_MM, TOP_MM, CAPTION_MM = 12.0, 20.0, 3.4


def asked(*kinds: Kind, about: str = "", scheme: Scheme = "none") -> Asked:
    return Asked(kinds=kinds or KINDS, about=(about,) if about else (), scheme=scheme)


def made_of(view: View, wanted: Asked) -> tuple[Label, ...]:
    return every_label(view, wanted, LONGEST_MM)


def printed(view: View, wanted: Asked, sheets: Sheets | None = None) -> bytes:
    return labels_pdf(view.rig, made_of(view, wanted), wanted, sheets or Sheets()).pdf


def raster(pdf: bytes, page: int, dots_per_inch: float) -> NDArray[np.uint8]:
    """One page in grey, 0 black."""
    document = pdfium.PdfDocument(pdf)
    found = document[page].render(scale=dots_per_inch / 72, grayscale=True).to_numpy()
    return np.asarray(found[:, :, 0] if found.ndim == 3 else found, dtype=np.uint8)


def centres_mm(row: NDArray[np.uint8], per_mm: float) -> list[float]:
    """The middles of the dark runs along a line of dots."""
    dark = np.flatnonzero(row < 160)
    runs = np.split(dark, np.flatnonzero(np.diff(dark) > 1) + 1) if dark.size else []
    return [float(run[0] + run[-1] + 1) / 2 / per_mm for run in runs]


def cut_size_mm(pdf: bytes, top_mm: float = TOP_MM) -> tuple[float, float]:
    """Width and height of the only label of a page, from crop mark to crop mark."""
    per_mm = 20.0
    picture = raster(pdf, 0, per_mm * 25.4)
    above = picture[round((top_mm - 2) * per_mm), :]
    beside = picture[:, round((LEFT_MM - 2) * per_mm)]
    xs = centres_mm(above, per_mm)
    ys = [y for y in centres_mm(beside, per_mm) if y > top_mm - 1]
    return xs[-1] - xs[0], ys[1] - ys[0]


def words_of(pdf: bytes) -> str:
    document = pdfium.PdfDocument(pdf)
    return "\n".join(page.get_textpage().get_text_range() for page in document)


# --- true scale ---


@pytest.mark.published("ISO/IEC 7810:2019, ID-1: 85.60 x 53.98 mm")
def test_a_card_is_cut_to_the_size_of_every_card() -> None:
    width, height = cut_size_mm(printed(whole("demo"), asked("cards", about="tamsin")))
    assert width == pytest.approx(85.6, abs=WITHIN_MM)
    assert height == pytest.approx(53.98, abs=WITHIN_MM)


def test_a_flag_is_as_long_as_two_halves_and_the_jacket() -> None:
    view = whole("demo")
    wanted = asked("flags", about="stage-link")
    flag = made_of(view, wanted)[0]
    assert isinstance(flag, Flag)
    diameter = view.rig.types["lead-network-locking"].lead
    assert diameter is not None
    assert diameter.diameter_mm is not None
    assert 0 <= flag.wrap_mm - 3.14159 * float(diameter.diameter_mm) < 0.5
    made = labels_pdf(view.rig, [flag], wanted)
    width, height = cut_size_mm(made.pdf)
    assert width == pytest.approx(2 * 34 + flag.wrap_mm, abs=WITHIN_MM)
    assert height == pytest.approx(18, abs=WITHIN_MM)


@pytest.mark.parametrize(("gear", "bank", "pitch_mm"), [("split-a", "in", 27), ("mixer", "in", 28)])
def test_a_strip_divides_where_the_sockets_do(gear: str, bank: str, pitch_mm: float) -> None:
    view = whole("demo")
    strip = next(
        x
        for x in made_of(view, asked("strips", about=gear))
        if isinstance(x, Strip) and x.bank == bank
    )
    pdf = labels_pdf(view.rig, [strip], asked("strips")).pdf
    top = TOP_MM + CAPTION_MM
    width, _ = cut_size_mm(pdf, top)
    assert width == pytest.approx(8 * pitch_mm, abs=WITHIN_MM)
    per_mm = 20.0
    # A line just under the upper edge meets nothing but the lines between two sockets.
    row = raster(pdf, 0, per_mm * 25.4)[round((top + 0.4) * per_mm), :]
    lines = centres_mm(row, per_mm)
    assert lines == pytest.approx([LEFT_MM + n * pitch_mm for n in range(1, 8)], abs=WITHIN_MM)


def test_the_words_of_a_strip_stand_in_the_middle_of_their_socket() -> None:
    """Read from the text layer: the middle of each label is at (n - 1/2) x pitch."""
    view = whole("demo")
    strip = made_of(view, asked("strips", about="split-a"))[0]
    assert isinstance(strip, Strip)
    page = pdfium.PdfDocument(labels_pdf(view.rig, [strip], asked("strips")).pdf)[0]
    text = page.get_textpage()
    for place, cell in enumerate(strip.cells):
        for said in (cell.number, cell.short or cell.full):
            found = [sum(edges) / 2 * 25.4 / 72 - LEFT_MM for edges in _runs_of(text, said)]
            assert any(
                middle == pytest.approx((place + 0.5) * strip.pitch_mm, abs=WITHIN_MM)
                for middle in found
            ), (said, found)


def _runs_of(text: pdfium.PdfTextPage, said: str) -> Iterator[tuple[float, float]]:
    search = text.search(said, match_case=True)
    while (found := search.get_next()) is not None:
        boxes = [text.get_charbox(found[0] + n, loose=True) for n in range(found[1])]
        yield min(box[0] for box in boxes), max(box[2] for box in boxes)


@pytest.mark.published("EIA-310-D: a panel is 482.6 mm (19 in) wide")
def test_the_pieces_of_a_legend_make_up_the_panel() -> None:
    rows: dict[tuple[str, str, int], float] = defaultdict(float)
    for label in made_of(whole("demo"), asked("legends")):
        assert isinstance(label, Strip)
        rows[label.gear, label.bank, label.row] += label.width_mm
    assert rows
    assert all(width == pytest.approx(482.6, abs=0.01) for width in rows.values())


@pytest.mark.parametrize("offset", [(0.0, 0.0), (1.5, -0.7)])
def test_a_label_sheet_is_met_where_its_labels_are(offset: tuple[float, float]) -> None:
    sheet = stock("70x37", paper="a4")
    pdf = calibration(whole("demo").rig, Asked(), Sheets(stock=sheet, offset_mm=offset))
    per_mm = 20.0
    picture = raster(pdf, 0, per_mm * 25.4)
    # 3 x 8 labels of 70 x 37 mm on A4: the first line between two columns stands at 70 mm.
    # Dashed: a few millimetres of the page seen at once.
    row = picture[round(18 * per_mm) : round(23 * per_mm), :].min(axis=0)
    assert any(x == pytest.approx(70 + offset[0], abs=WITHIN_MM) for x in centres_mm(row, per_mm))
    # Upper edges at 0.5 + 37 n mm, met in the middle of the third column.
    column = picture[:, round(186 * per_mm) : round(191 * per_mm)].min(axis=1)
    found = centres_mm(column, per_mm)
    for n in range(1, 8):
        assert any(y == pytest.approx(0.5 + 37 * n + offset[1], abs=WITHIN_MM) for y in found)


def test_flags_on_a_label_sheet_begin_at_the_label_asked_for() -> None:
    view = whole("demo")
    wanted = asked("flags", about="stage-link")
    sheets = Sheets(stock=stock("70x37", paper="a4"), first=5)
    pdf = printed(view, wanted, sheets)
    picture = raster(pdf, 0, 100)
    per_mm = 100 / 25.4
    inked = [
        bool(
            (picture[_slice(37 * row + 0.5, 37, per_mm), _slice(70 * col, 70, per_mm)] < 128).any()
        )
        for row in range(8)
        for col in range(3)
    ]
    assert [place + 1 for place, one in enumerate(inked) if one] == [5, 6]


def _slice(start_mm: float, long_mm: float, per_mm: float) -> slice:
    return slice(round((start_mm + 0.3) * per_mm), round((start_mm + long_mm - 0.3) * per_mm))


@pytest.mark.published("ANSI/ASME Y14.1, size A: 8.5 x 11 in")
def test_a_label_sheet_brings_its_own_paper() -> None:
    sheets = Sheets(stock=stock("66.7x25.4", paper="a4"))
    pdf = printed(whole("demo"), asked("flags", about="stage-link"), sheets)
    for page in pdfium.PdfDocument(pdf):
        assert [side * 25.4 / 72 for side in page.get_size()] == pytest.approx(
            [215.9, 279.4], abs=0.05
        )


def test_usual_sheets_fit_their_paper() -> None:
    for size in PRESETS:
        sheet = stock(size, paper="a4")
        x, y = sheet.corner(sheet.places - 1)
        wide, high = {"a4": (210, 297), "letter": (215.9, 279.4)}[sheet.paper]
        assert x + sheet.width_mm + sheet.left_mm == pytest.approx(wide, abs=0.01)
        assert y + sheet.height_mm + sheet.top_mm == pytest.approx(high, abs=0.01)


@pytest.mark.parametrize(
    ("size", "grid", "says"),
    [
        ("70x37", (4, 8), "the paper has 210 x 297 mm"),
        ("33x44", None, "--grid"),
        ("-5x20", (1, 1), "the paper has"),
        ("wide", None, "not two numbers"),
        ("nanx3", (1, 1), "not two lengths"),
    ],
)
def test_a_sheet_that_cannot_be(size: str, grid: tuple[int, int] | None, says: str) -> None:
    with pytest.raises(StockError, match=says):
        stock(size, paper="a4", grid=grid)


# --- every lead, both ends ---


def sockets_in(ref: PortRef, view: View) -> int:
    """How many sockets a reference names, counted from its text alone."""
    if ref.numbers is not None:
        low, high = ref.numbers
        bank = view.rig.type_of(ref.gear).banks[ref.bank] if ref.gear in view.rig.gear else None
        return high - low + 1 if bank is None or bank.count > 1 else 1
    bank = view.rig.type_of(ref.gear).banks[ref.bank] if ref.gear in view.rig.gear else None
    return bank.count if bank is not None else 1


@pytest.mark.parametrize("name", ["demo", "trio", "twelve"])
def test_every_plug_of_every_lead_has_one_flag(name: str) -> None:
    view = whole(name)
    flags = [label for label in made_of(view, asked("flags")) if isinstance(label, Flag)]
    assert len({flag.id for flag in flags}) == len(flags)
    ends = Counter((flag.lead, flag.end) for flag in flags)
    for lead in view.rig.file.leads:
        back = sockets_in(lead.back, view) if lead.back else 0
        assert ends[lead.id, "A"] == sockets_in(lead.from_, view), lead.id
        assert ends[lead.id, "B"] == sockets_in(lead.to, view) + back, lead.id
    # No two flags at one socket, and both ends of a piece name the same two places.
    where = Counter(
        (flag.goes_from if flag.end == "A" else flag.goes_to, flag.end, flag.lead) for flag in flags
    )
    assert max(where.values()) == 1


def test_the_tails_of_the_demo_by_hand() -> None:
    flags = {x.id: x for x in made_of(whole("demo"), asked("flags")) if isinstance(x, Flag)}
    third = flags["flag-tail-2-1-b3"]
    assert (third.name, third.number, third.end) == ("T2 9-16", "3", "B")
    assert third.goes_from[0].full == "Split A iso 11"
    assert third.goes_to[0].full == "the house, line 11"
    assert third.length == "10 m"
    assert third.colour == "red"
    both = flags["flag-to-amp-2-b"]  # a Y: two plugs out of the stage box, one into the amplifier
    assert [place.full for place in both.goes_from] == ["Stage box out 3", "Stage box out 4"]
    assert both.goes_to[0].full == "Headphone amplifier in 2"
    assert {"flag-to-amp-2-a1", "flag-to-amp-2-a2"} <= set(flags)


# --- codes ---


@cache
def flags_of_the_demo(size: str) -> LabelSheets:
    view, wanted = whole("demo"), asked("flags")
    sheets = Sheets(stock=stock(size, paper="a4")) if size else Sheets()
    return labels_pdf(view.rig, made_of(view, wanted), wanted, sheets)


@pytest.mark.parametrize(("bits", "size"), [(8, ""), (1, ""), (1, "48.5x25.4")])
def test_a_reader_of_another_make_reads_every_code(bits: int, size: str) -> None:
    """At 300 dots to the inch, in grey and in black and white, also on small labels."""
    view = whole("demo")
    made = flags_of_the_demo(size)
    read: Counter[str] = Counter()
    for page in range(made.pages):
        picture = raster(made.pdf, page, 300)
        if bits == 1:
            picture = np.where(picture < 128, 0, 255).astype(np.uint8)
        for code in zxingcpp.read_barcodes(
            picture, try_rotate=False, try_downscale=False, try_invert=False
        ):
            read[code.text] += 1
    # Round a thick lead a small label has no room for a code, and that is told.
    without = {loss.label for loss in made.losses if loss.how == "code"}
    assert bool(without) == bool(size)
    flags = Counter(
        label.lead
        for label in made_of(view, asked("flags"))
        if isinstance(label, Flag) and label.title not in without
    )
    assert len(flags) > 10
    assert read == Counter({f"The red case 8 · lead {lead}": n for lead, n in flags.items()})


def test_with_an_address_a_code_leads_there() -> None:
    view = seen(
        """
people: [{id: ana, name: Ana}]
"""
    )
    file = view.rig.file
    about = msgspec.structs.replace(file.rig, pocket_book="https://band.example/rig.html#top")
    rig = type(view.rig)(msgspec.structs.replace(file, rig=about), view.rig.types)
    card = made_of(view, asked("cards"))[0]
    picture = raster(labels_pdf(rig, [card], asked("cards")).pdf, 0, 300)
    (code,) = zxingcpp.read_barcodes(picture)
    assert code.text == "https://band.example/rig.html#person-ana"


def test_every_code_leads_to_an_entry_of_the_pocket_book() -> None:
    order = Order(verdict=check(whole("trio").stated))
    book = pocket_book(order).html
    labels = made_of(whole("trio"), asked("flags", "cards"))
    anchors = {f"lead-{x.lead}" for x in labels if isinstance(x, Flag)}
    anchors |= {x.anchor for x in labels if isinstance(x, Card) and x.anchor}
    assert anchors
    for anchor in anchors:
        assert f'id="{anchor}"' in book


# --- what stands on them ---


def test_strips_name_what_is_there() -> None:
    labels = made_of(whole("demo"), asked("strips"))
    cells = {
        (x.gear, x.bank, int(cell.number)): cell.short or cell.full
        for x in labels
        if isinstance(x, Strip)
        for cell in x.cells
    }
    expected = {
        ("split-a", "in", 1): "Kick",  # plugged there
        ("split-a", "in", 6): "(held)",
        ("split-a", "in", 7): "OH SR",  # a pair that counts from the stage's right
        ("split-b", "iso", 6): "LV Tam",  # arrives from the receiver
        ("mixer", "out", 3): "Delphine L",  # a mix
        ("stage-box", "out", 2): "Mirek R",  # a mix by way of the stage link
        ("stage-box", "out", 7): "Hall L",
        ("amp", "phones", 1): "Mirek",  # whose earphones hang there
        ("hub", "out", 1): "PM1",  # the box at the other end
        ("power", "outlet", 2): "MIX",
        ("pm-runa", "slot", 7): "Keys L",
        ("mixer", "line", 3): "TB Hse",
    }
    assert {key: cells[key] for key in expected} == expected


def test_faders_where_somebody_measured_them() -> None:
    view = seen(
        """
sources:
  - {id: kick, name: Kick, label: Kick, family: drums, mic: mic-kick-dynamic}
  - {id: keys, name: Keys, family: keys, stereo: true, di: di-passive-stereo,
     connector: jack-ts-f}
gear: [{id: desk, type: mixer-analogue-16}]
patch:
  - {source: kick, plug: desk.in.1, channel: 1}
  - {source: keys, plug: desk.in.3-4, channel: 3-4}
"""
    )
    rows = [x for x in made_of(view, asked("strips")) if isinstance(x, Strip) and x.bank == "ch"]
    assert [cell.short or cell.full for cell in rows[0].cells[:4]] == [
        "Kick",
        "",
        "Keys L",
        "Keys R",
    ]
    assert rows[0].pitch_from == "typical"


def test_what_does_not_fit_is_told() -> None:
    view = seen(
        """
sources:
  - {id: a, name: A name that goes on far beyond any label that one could cut for it,
     family: drums, mic: mic-kick-dynamic}
  - {id: b, name: "Beat \U0001f941", family: drums, mic: mic-kick-dynamic}
  - {id: c, name: Thirteen long, family: drums, mic: mic-kick-dynamic}
gear: [{id: mixer, type: mixer-rack-12}]
patch:
  - {source: a, plug: mixer.in.1}
  - {source: b, plug: mixer.in.2}
  - {source: c, plug: mixer.in.3}
"""
    )
    wanted = asked("strips")
    made = labels_pdf(view.rig, made_of(view, wanted), wanted)
    how = {(loss.text[:6], loss.how) for loss in made.losses}
    assert {("A name", "cut"), ("Beat \U0001f941", "letters"), ("Thirte", "device")} <= how
    key = words_of(made.pdf)
    assert "no type for some of its letters" in key
    assert "too long for the label" in key


@pytest.mark.published("IEC 60062: digits by colour; IEC 60757: letters of the colours")
def test_colours_are_said_in_letters_too() -> None:
    view = whole("demo")
    wanted = asked("strips", about="split-a", scheme="digits")
    labels = made_of(view, wanted)
    cells = {cell.number: cell.colours for x in labels if isinstance(x, Strip) for cell in x.cells}
    assert cells["10"] == ("brown", "black")
    assert cells["16"] == ("brown", "blue")
    made = labels_pdf(view.rig, labels, wanted)
    page = pdfium.PdfDocument(made.pdf)[0].get_textpage().get_text_range()
    for letters in ("BK", "BN", "RD", "OG", "YE", "GN", "BU", "VT", "GY", "WH"):
        assert letters in page.split()
    key = words_of(made.pdf)
    for word in ("brown", "violet", "grey"):
        assert word in key


def test_a_colour_for_each_player_and_a_word_for_those_without() -> None:
    people = "\n".join(f"  - {{id: p{n}, name: Person {n}}}" for n in range(12))
    view = seen(
        f"""
people:
{people}
sources:
  - {{id: a, name: A, family: keys, player: p0, mic: mic-kick-dynamic}}
  - {{id: z, name: Z, family: keys, player: p11, mic: mic-kick-dynamic}}
gear: [{{id: mixer, type: mixer-rack-12}}]
patch: [{{source: a, plug: mixer.in.1}}, {{source: z, plug: mixer.in.2}}]
"""
    )
    wanted = asked("strips", scheme="players")
    labels = made_of(view, wanted)
    assert isinstance(labels[0], Strip)
    assert labels[0].cells[0].colours == ("brown",)
    assert labels[0].cells[1].colours == ()
    assert "No colour is left for Person 10 and Person 11." in " ".join(
        words_of(labels_pdf(view.rig, labels, wanted).pdf).split()
    )


# --- only what changed ---


def test_labels_that_still_hold_are_not_printed_again() -> None:
    view = whole("demo")
    file = view.rig.file
    before = made_of(view, asked())
    about = msgspec.structs.replace(file.rig, version="9", date="2027-04-01")
    later = type(view.rig)(msgspec.structs.replace(file, rig=about), view.rig.types)
    assert reprint(before, made_of(look(later), asked())).to_print == ()
    fiddle = view.rig.sources["fiddle"]
    renamed = msgspec.structs.replace(fiddle, label="Fddl")
    changed = later.changed(
        sources=tuple(renamed if s.id == "fiddle" else s for s in file.sources),
        leads=tuple(
            msgspec.structs.replace(lead, length_m=type(lead.length_m)(12.0))
            if lead.id == "feed" and lead.length_m is not None
            else lead
            for lead in file.leads
            if lead.id != "rx-control"
        ),
    )
    found = reprint(before, made_of(look(changed), asked("strips", "flags")))
    printed_again = {label.id for label in found.to_print}
    assert printed_again == {
        "strip-split-b-in-1-1",
        "strip-split-b-direct-1-1",
        "strip-split-b-iso-1-1",
        "strip-stage-box-in-1-1",
        "flag-feed-1-a",
        "flag-feed-1-b",
        "strip-router-port-1-1",
    }
    assert {x.id for x in found.gone if isinstance(x, Flag)} == {
        "flag-rx-control-1-a",
        "flag-rx-control-1-b",
    }


def test_an_address_for_the_codes_makes_every_flag_anew_and_a_renamed_box_none() -> None:
    view = whole("trio")
    before = made_of(view, asked())
    about = msgspec.structs.replace(view.rig.about, pocket_book="https://band.example/book")
    there = Rig(msgspec.structs.replace(view.stated.file, rig=about), view.rig.types)
    flags = {label.id for label in before if label.kind in {"flags", "cards"}}
    found = reprint(before, made_of(look(there), asked()))
    assert {x.id for x in found.to_print} == {name for name in flags if "addresses" not in name}
    text = (WHOLE["trio"] / "rig.yaml").read_text(encoding="utf-8")
    renamed = parse(apply(text, [Rename("gear/amp", "phones-amp")]).encode())
    found = reprint(before, made_of(look(renamed), asked()))
    assert (found.to_print, found.gone) == ((), ())


# --- whatever the name ---

HOSTILE = [
    '#eval("x")',
    "*bold* $x^2$ <b>&amp;",
    '"]]><script>',
    "=1+1",
    "../../etc",
    "שלום abc",
    "مرحبا",
    "e\u0301\u0301\u0301",
    "\u202eevil",
    "word " * 2000,
    "x" * 10_000,
    "\U0001f941",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_labels_hold_whatever_the_name(name: str) -> None:
    said = json.dumps(name, ensure_ascii=False)
    label = json.dumps(name[:64], ensure_ascii=False)
    view = seen(
        f"""
people: [{{id: ana, name: {said}, plays: {said}, ears: {{plug: amp.phones.1}}}}]
sources:
  - {{id: a, name: {said}, label: {label}, family: drums, player: ana, mic: mic-kick-dynamic}}
gear:
  - {{id: mixer, name: {said}, label: {label}, type: mixer-rack-12, unit: 1, address: 10.9.8.7}}
  - {{id: amp, name: {said}, type: headphone-amp-4, unit: 3}}
leads:
  - {{id: l, type: lead-xlr, from: mixer.out.1-2, to: amp.in.1-2, label: {label},
     colour: {said}}}
patch: [{{source: a, plug: mixer.in.1}}]
"""
    )
    for wanted in (asked(scheme="digits"), Asked(edition=Edition(language="de", size="letter"))):
        labels = made_of(view, wanted)
        assert {label.kind for label in labels} == set(KINDS)
        made = labels_pdf(view.rig, labels, wanted)
        document = pdfium.PdfDocument(made.pdf)
        for page in document:
            width, height = page.get_size()
            text = page.get_textpage()
            for place in range(text.count_chars()):
                left, bottom, right, top = text.get_charbox(place)
                assert left > -0.5
                assert bottom > -0.5
                assert right < width + 0.5
                assert top < height + 0.5
    if len(name) > 1000:
        assert any(loss.how == "cut" for loss in made.losses)
    if name == "\U0001f941":
        assert any(loss.how == "letters" for loss in made.losses)


def test_a_card_for_each_person_and_one_for_the_addresses() -> None:
    cards = [x for x in made_of(whole("demo"), asked("cards")) if isinstance(x, Card)]
    assert [card.subject for card in cards] == [*whole("demo").rig.people, "addresses"]
    runa = cards[0]
    assert ("I plug", "Kick: Split A, in 1") in runa.rows
    assert ("My ears", "Runa's personal mixer, phones") in runa.rows
    assert ("192.168.0.20", "Mixer") in cards[-1].rows
