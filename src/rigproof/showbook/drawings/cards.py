"""The labels of the stage plot: a name, what is played, and each line with its mark and number."""

from collections.abc import Iterator
from dataclasses import dataclass

from rigproof.showbook.drawings import ink
from rigproof.showbook.drawings.lettering import fitted, one_line, width_mm
from rigproof.showbook.drawings.onstage import Line, Mark
from rigproof.showbook.edition import Edition

_PITCH = 2.95  # from line to line
_MARK = 3.6  # the column of marks
_GAP = 2.6  # between two columns of lines
_WORD_MOST = 21.0
_TITLE_MOST = 38.0
_NOTE_MOST = 44.0
_ONE_COLUMN = 4  # lines that still stand in one column


@dataclass(frozen=True, slots=True)
class Card:
    """What is written beside one thing. Forms: 0 all of it, 1 without marks and notes, 2 a name."""

    title: str
    under: str
    lines: tuple[Line, ...]
    notes: tuple[str, ...]
    channels: str = ""  # all of them in one line, for when there is no room for words
    plain: bool = False  # a small title, for boxes and circuits


def _title_size(card: Card) -> float:
    return ink.SMALL if card.plain else ink.NAME


def _title(card: Card) -> str:
    return fitted(card.title, within_mm=_TITLE_MOST, size_mm=_title_size(card), style="bold")


def _rows(card: Card, form: int) -> tuple[str, ...]:
    """The lines of plain text under the title."""
    if form == 2:
        return ()
    if form == 1:
        return tuple(filter(None, (card.channels,)))
    return tuple(filter(None, card.notes))


@dataclass(frozen=True, slots=True)
class _Columns:
    count: int
    rows: int
    number: float
    word: float

    @property
    def width(self) -> float:
        one = _MARK + self.number + 1.0 + self.word
        return self.count * one + (self.count - 1) * _GAP if self.rows else 0.0


def _columns(card: Card, form: int) -> _Columns:
    lines = card.lines if form == 0 else ()
    if not lines:
        return _Columns(0, 0, 0, 0)
    count = 1 if len(lines) <= _ONE_COLUMN else 2
    number = max(width_mm(line.channel, size_mm=ink.SMALL, style="bold") for line in lines)
    word = max(width_mm(one_line(line.word), size_mm=ink.SMALL) for line in lines)
    return _Columns(count, -(-len(lines) // count), number, min(word, _WORD_MOST))


def card_size(card: Card, form: int) -> tuple[float, float]:
    """Width and height on paper."""
    widths = [width_mm(_title(card), size_mm=_title_size(card), style="bold")]
    height = _title_size(card) + 0.6 if card.title else 0.0
    if card.under and form < 2:
        under = fitted(card.under, within_mm=_NOTE_MOST, size_mm=ink.SMALL, style="medium")
        widths.append(width_mm(under, size_mm=ink.SMALL, style="medium"))
        height += _PITCH
    columns = _columns(card, form)
    widths.append(columns.width)
    height += columns.rows * _PITCH
    for words in _rows(card, form):
        shown = fitted(words, within_mm=_NOTE_MOST, size_mm=ink.SMALL)
        widths.append(width_mm(shown, size_mm=ink.SMALL))
        height += _PITCH
    return max(widths) + 0.4, height + 0.4


def card_marks(card: Card, form: int, corner: ink.Place) -> Iterator[str]:
    """The card with its upper left corner here, on white: no line runs through its words."""
    x, y = corner
    size = card_size(card, form)
    yield (
        f'<rect x="{ink.number(x)}" y="{ink.number(y)}" width="{ink.number(size[0])}"'
        f' height="{ink.number(size[1])}" fill="white"/>'
    )
    x += 0.2
    if card.title:
        title = _title_size(card)
        y += title + 0.6
        yield ink.text((x, y - 0.9), card.title, size=title, style="bold", within=_TITLE_MOST)
    if card.under and form < 2:
        y += _PITCH
        yield ink.text((x, y - 0.9), card.under, size=ink.SMALL, style="medium", within=_NOTE_MOST)
    columns = _columns(card, form)
    for place, line in enumerate(card.lines if columns.rows else ()):
        column, row = divmod(place, columns.rows)
        left = x + column * ((columns.width - (columns.count - 1) * _GAP) / columns.count + _GAP)
        foot = y + _PITCH * (row + 1) - 0.9
        yield from line_mark(line.mark, (left + 1.3, foot - 0.8))
        right = left + _MARK + columns.number
        yield ink.text((right, foot), line.channel, size=ink.SMALL, style="bold", anchor="end")
        yield ink.text((right + 1.0, foot), line.word, size=ink.SMALL, within=columns.word + 0.05)
    y += columns.rows * _PITCH
    for words in _rows(card, form):
        y += _PITCH
        yield ink.text((x, y - 0.9), words, size=ink.SMALL, within=_NOTE_MOST)


def line_mark(mark: Mark, centre: ink.Place) -> Iterator[str]:
    """Our own marks: a head on a stick, a box with a slash, two waves, a plug."""
    x, y = centre
    if mark == "microphone":
        yield ink.circle((x + 0.35, y - 0.35), 0.72, weight=ink.THIN)
        yield ink.line((x - 0.16, y + 0.16), (x - 1.05, y + 1.05), weight=ink.FIRM)
    elif mark == "DI":
        yield ink.rect((x - 1.0, y - 0.8), (2.0, 1.6), weight=ink.THIN)
        yield ink.line((x - 1.0, y + 0.8), (x + 1.0, y - 0.8), weight=ink.THIN)
    elif mark == "wireless":
        yield ink.dot((x - 0.85, y + 0.6), 0.36)
        for radius in (1.0, 1.75):
            yield ink.arc((x - 0.85, y + 0.6), radius, start=-80, end=-10)
    else:
        yield ink.line((x - 1.1, y), (x - 0.2, y), weight=ink.THIN)
        yield ink.solid(((x - 0.3, y - 0.65), (x + 0.95, y), (x - 0.3, y + 0.65)))


_KEY: tuple[tuple[Mark, str], ...] = (
    ("microphone", "stage-plot.key_microphone"),
    ("DI", "stage-plot.key_di"),
    ("wireless", "stage-plot.key_wireless"),
    ("line", "stage-plot.key_line"),
)


def key_marks(corner: ink.Place, width: float, edition: Edition) -> Iterator[str]:
    """The marks of the plan with their words, on one line that ends at the right edge."""
    lines = [(mark, edition.say(key)) for mark, key in _KEY]
    outlet, mixer, case = (
        edition.say(key)
        for key in (
            "stage-plot.key_outlet",
            "stage-plot.key_personal_mixer",
            "stage-plot.key_case",
        )
    )
    entries = [*(words for _, words in lines), outlet, mixer, case]
    wide = sum(width_mm(words, size_mm=ink.SMALL) + 9.0 for words in entries) - 5.0
    x, y = width - wide, corner[1]
    for mark, words in lines:
        yield from line_mark(mark, (x, y - 0.8))
        yield ink.text((x + 2.4, y), words, size=ink.SMALL)
        x += width_mm(words, size_mm=ink.SMALL) + 9.0
    yield ink.circle((x, y - 0.8), 1.1, weight=ink.FIRM)
    yield ink.dot((x - 0.42, y - 0.8), 0.22)
    yield ink.dot((x + 0.42, y - 0.8), 0.22)
    yield ink.text((x + 2.4, y), outlet, size=ink.SMALL)
    x += width_mm(outlet, size_mm=ink.SMALL) + 9.0
    yield ink.rect((x - 1.3, y - 1.8), (2.6, 2.0))
    for step in (-0.6, 0.0, 0.6):
        yield ink.line((x + step, y - 1.4), (x + step, y - 0.2))
    yield ink.text((x + 2.4, y), mixer, size=ink.SMALL)
    x += width_mm(mixer, size_mm=ink.SMALL) + 9.0
    yield ink.rect((x - 1.2, y - 2.0), (2.4, 2.4), weight=ink.FIRM)
    yield ink.line((x - 1.2, y - 2.0), (x + 1.2, y + 0.4), weight=ink.HAIR)
    yield ink.line((x - 1.2, y + 0.4), (x + 1.2, y - 2.0), weight=ink.HAIR)
    yield ink.text((x + 2.4, y), case, size=ink.SMALL)
