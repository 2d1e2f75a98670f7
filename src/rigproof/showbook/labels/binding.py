"""Labels onto paper: pages at true scale, then the key: what they are and what they lack."""

from collections.abc import Callable, Iterator, Sequence

import msgspec

from rigproof.rig import Rig
from rigproof.showbook import typeset
from rigproof.showbook.binding import SHEET_SIZES
from rigproof.showbook.drawings import ink
from rigproof.showbook.edition import Size, head
from rigproof.showbook.labels.content import KINDS, Asked, Label
from rigproof.showbook.labels.drawn import LEAST_FLAG_MM, Draughtsman, Drawn
from rigproof.showbook.labels.fitting import Loss
from rigproof.showbook.labels.key import key_blocks
from rigproof.showbook.labels.stock import (
    PAPER_MM,
    Page,
    Stock,
    StockError,
    on_stock,
    plain_sheets,
)
from rigproof.showbook.paper import Cut, Unprintable, fitted
from rigproof.showbook.remembered import Remembered

TEMPLATE = "labels.typ"
_TURNED = frozenset({"strips", "legends"})  # long labels lie along the long side of the paper
_CAPTION_MM = 3.4  # above a strip: what it is for, outside the cut
_MARK_MM, _OFF_MM = 2.4, 0.8  # a crop mark, and how far from the corner it ends


class Sheets(msgspec.Struct, frozen=True, kw_only=True):
    """On what labels are printed. `first`: the first free label of a used sheet."""

    stock: Stock | None = None
    first: int = 1
    offset_mm: tuple[float, float] = (0.0, 0.0)


class LabelSheets(msgspec.Struct, frozen=True):
    """Labels as a PDF, and what they do not bear as it is written."""

    pdf: bytes
    pages: int
    losses: tuple[Loss, ...]
    unprintable: tuple[Unprintable, ...] = ()
    cut: tuple[Cut, ...] = ()


def labels_pdf(
    rig: Rig,
    labels: Sequence[Label],
    asked: Asked,
    sheets: Sheets = Sheets(),  # noqa: B008 (cannot change)
    gone: Sequence[Label] = (),
) -> LabelSheets:
    """Print labels, and their key after them. `gone`: labels to be taken off, for the key.

    Raises:
        StockError: a label does not fit on the label sheet.
    """
    return begin_labels(rig, labels, asked, sheets, gone)()


def begin_labels(
    rig: Rig,
    labels: Sequence[Label],
    asked: Asked,
    sheets: Sheets = Sheets(),  # noqa: B008 (cannot change)
    gone: Sequence[Label] = (),
) -> Callable[[], LabelSheets]:
    """Begin to print labels as `labels_pdf` does; call what is returned to have them."""
    flag_mm = (sheets.stock.width_mm, sheets.stock.height_mm) if sheets.stock else None
    hand = Draughtsman(rig.about, asked.edition, flag_mm)
    if sheets.stock is not None:
        _all_fit(hand, labels, sheets.stock)
    drawn = {label.id: hand.drawn(label) for label in labels}
    pages = list(_pages(labels, drawn, asked, sheets))
    losses = tuple(dict.fromkeys(loss for one in drawn.values() for loss in one.losses))
    key = fitted(
        {
            "head": head(rig, asked.edition),
            "title": asked.edition.say("labels.title"),
            "lead": asked.edition.say("labels.lead", n=len(labels)),
            "running": rig.about.band or rig.about.name,
            "blocks": msgspec.to_builtins(
                key_blocks(rig, labels, asked, losses, gone), enc_hook=asked.edition.letters
            ),
        }
    )
    assert isinstance(key.data, dict)
    set_pages = [
        _page(page, kind, asked, place, len(pages), sheets)
        for place, (kind, page) in enumerate(pages, 1)
    ]
    data = {**key.data, "paper": _paper(asked, sheets), "pages": list(map(_written, set_pages))}
    made = typeset.begin(TEMPLATE, data)
    return lambda: LabelSheets(made(), len(pages), losses, key.unprintable, key.cut)


_written = Remembered(typeset.written, lambda one: len(one.text))


def calibration(rig: Rig, asked: Asked, sheets: Sheets) -> bytes:
    """A page to lay over a sheet of labels: rulers, crosses, and the outlines of the labels."""
    width, height = PAPER_MM[_size(asked, sheets)]
    marks = [_moved(_gauge(width, height, sheets.stock), sheets.offset_mm)]
    say = asked.edition.say
    words = [say(f"labels.calibrate_{n}") for n in range(1, 5)]
    data = {
        "head": head(rig, asked.edition),
        "title": say("labels.calibrate_title"),
        "lead": "",
        "running": rig.about.band or rig.about.name,
        "blocks": [],
        "paper": _paper(asked, sheets),
        "pages": [
            {
                "width": width,
                "height": height,
                "svg": ink.sheet(width, height, marks),
                "captions": [
                    {"x": 45 + sheets.offset_mm[0], "y": 62 + 5.2 * place, "text": one, "size": 9}
                    for place, one in enumerate(words)
                ],
                "head": "",
                "foot": "",
                "labels": [],
            }
        ],
    }
    made = fitted(data)
    assert isinstance(made.data, dict)
    return typeset.pdf(TEMPLATE, made.data)


def _size(asked: Asked, sheets: Sheets) -> Size:
    """The paper: that of the label sheet, where there is one."""
    return sheets.stock.paper if sheets.stock else asked.edition.size


def _paper(asked: Asked, sheets: Sheets) -> str:
    return SHEET_SIZES[_size(asked, sheets)]


def _all_fit(hand: Draughtsman, labels: Sequence[Label], stock: Stock) -> None:
    for label in labels:
        width, height = hand.size_mm(label)
        if label.kind == "flags":
            wrap = getattr(label, "wrap_mm", 0.0)
            half = (width - wrap) / 2
            if half < LEAST_FLAG_MM[0] or height < LEAST_FLAG_MM[1]:
                raise StockError(
                    f"a flag needs {2 * LEAST_FLAG_MM[0] + wrap:g} x {LEAST_FLAG_MM[1]:g} mm "
                    f"round a lead as thick as {label.title}; these labels have "
                    f"{stock.width_mm:g} x {stock.height_mm:g} mm."
                )
        elif width > stock.width_mm + 0.01 or height > stock.height_mm + 0.01:
            raise StockError(
                f"{label.title} is {width:g} x {height:g} mm and these labels have "
                f"{stock.width_mm:g} x {stock.height_mm:g} mm: print it on plain paper."
            )


def _pages(
    labels: Sequence[Label], drawn: dict[str, Drawn], asked: Asked, sheets: Sheets
) -> Iterator[tuple[str, Page[Drawn]]]:
    if sheets.stock is not None:
        for page in on_stock([drawn[x.id] for x in labels], sheets.stock, sheets.first):
            yield "", page
        return
    for kind in KINDS:
        some = [drawn[label.id] for label in labels if label.kind == kind]
        sized = [(one, one.width_mm, one.height_mm) for one in some]
        turned = kind in _TURNED
        for page in plain_sheets(
            sized,
            asked.edition.size,
            flipped=turned,
            caption_mm=_CAPTION_MM if turned else 0,
        ):
            yield kind, page


def _page(
    page: Page[Drawn],
    kind: str,
    asked: Asked,
    number: int,
    pages: int,
    sheets: Sheets,
) -> dict[str, object]:
    plain = sheets.stock is None
    width, height = PAPER_MM[_size(asked, sheets)]
    width, height = (height, width) if page.flipped else (width, height)
    say = asked.edition.say
    dx, dy = sheets.offset_mm
    under: list[str] = []
    if plain:
        under = [_cutting(put.x_mm + dx, put.y_mm + dy, put.label) for put in page.puts]
        under.append(_measure(12 + dx, height - 9 + dy))
    return {
        "width": width,
        "height": height,
        "svg": ink.sheet(width, height, under) if under else "",
        "captions": [
            {
                "x": put.x_mm + dx + 1.4,
                "y": put.y_mm + dy - 3.5,
                "text": put.label.title[:90],
                "size": 6.6,
            }
            for put in page.puts
            if plain and kind in _TURNED
        ],
        "head": f"{say(f'labels.{kind}')} \u00b7 {say('paper.page_of', page=number, pages=pages)}"
        if plain
        else "",
        "foot": say("labels.true_scale") if plain else "",
        "labels": [
            {
                "x": put.x_mm + dx,
                "y": put.y_mm + dy,
                "width": put.label.width_mm,
                "height": put.label.height_mm,
                "svg": put.label.svg,
                "alt": put.label.alt,
            }
            for put in page.puts
        ],
    }


def _cutting(x: float, y: float, label: Drawn) -> str:
    """Crop marks at the corners, and ticks where a flag is folded."""
    right, foot = x + label.width_mm, y + label.height_mm
    marks = []
    for corner_x, side in ((x, -1), (right, 1)):
        for corner_y, end in ((y, -1), (foot, 1)):
            off, far = _OFF_MM, _OFF_MM + _MARK_MM
            across = (corner_x + side * off, corner_y), (corner_x + side * far, corner_y)
            along = (corner_x, corner_y + end * off), (corner_x, corner_y + end * far)
            marks += [ink.line(*across, weight=ink.HAIR), ink.line(*along, weight=ink.HAIR)]
    for fold in label.folds:
        marks.append(ink.line((x + fold, y), (x + fold, foot), weight=ink.HAIR, dash=(0.8, 0.8)))
    return "".join(marks)


def _measure(x: float, y: float) -> str:
    """A line of 100 mm with a tick every 10."""
    marks = [ink.line((x, y), (x + 100, y), weight=ink.HAIR)]
    for step in range(11):
        tall = 2.6 if step % 5 == 0 else 1.4
        marks.append(ink.line((x + 10 * step, y), (x + 10 * step, y - tall), weight=ink.HAIR))
    return "".join(marks)


def _gauge(width: float, height: float, stock: Stock | None) -> str:
    marks = []
    for x in (10.0, width - 10):
        for y in (10.0, height - 10):
            marks.append(ink.line((x - 6, y), (x + 6, y), weight=ink.HAIR))
            marks.append(ink.line((x, y - 6), (x, y + 6), weight=ink.HAIR))
            marks.append(ink.circle((x, y), 3, weight=ink.HAIR))
    for along in range(151):
        long = 5 if along % 10 == 0 else 3.4 if along % 5 == 0 else 2
        marks.append(ink.line((30 + along, 40), (30 + along, 40 - long), weight=ink.HAIR))
        marks.append(ink.line((30, 40 + along), (30 - long, 40 + along), weight=ink.HAIR))
        if along % 10 == 0:
            said = str(along)
            marks.append(ink.text((30 + along, 33.6), said, size=2.4, anchor="middle"))
            if along:
                at = (23.8, ink.middle(40 + along, 2.4))
                marks.append(ink.text(at, said, size=2.4, anchor="end"))
    for place in range(stock.places if stock else 0):
        assert stock is not None
        marks.append(
            ink.rect(
                stock.corner(place),
                (stock.width_mm, stock.height_mm),
                weight=ink.HAIR,
                dash=(1, 1),
            )
        )
    return "".join(marks)


def _moved(marks: str, offset_mm: tuple[float, float]) -> str:
    x, y = (ink.number(one) for one in offset_mm)
    return f'<g transform="translate({x} {y})">{marks}</g>'
