"""One label as a drawing in millimetres, at the very size it is cut to."""

from collections.abc import Sequence
from functools import lru_cache

import msgspec

from rigproof.physics.colours import colour_letters
from rigproof.rig import About
from rigproof.showbook.drawings import ink
from rigproof.showbook.drawings.lettering import width_mm
from rigproof.showbook.edition import Edition
from rigproof.showbook.labels import codes
from rigproof.showbook.labels.colouring import TONES
from rigproof.showbook.labels.content import CARD_MM, Card, Flag, Label, Place, Strip
from rigproof.showbook.labels.fitting import Loss, Pen

STRIP_MM = 11.0
LEGEND_MM = 15.0
FLAG_MM = (34.0, 18.0)  # each half of a flag on plain paper
LEAST_FLAG_MM = (14.0, 9.0)  # and on any: below it nothing can be read
_EDGE_MM = 1.2
# Halves of a flag that have room for our own words beside the names, and for any: the mark that
# shows where the flag hangs, and the order from above to below, are on all.
_ROOMY_MM, _WORDS_MM = 28.0, 20.0
_BESIDE_MM, _BELOW_MM = 9.0, 5.0  # what a name needs beside a code, or below it
# Letters: the largest that look well, the smallest that are read in bad light (from memory: 6 pt).
_SMALLEST_MM = 2.1


class Drawn(msgspec.Struct, frozen=True):
    """A label ready to be placed. `folds`: where it is creased, from its left edge."""

    id: str
    title: str
    width_mm: float
    height_mm: float
    svg: str
    alt: str
    losses: tuple[Loss, ...]
    folds: tuple[float, ...] = ()


class Draughtsman(msgspec.Struct, frozen=True):
    """Draws the labels of one rig. `flag_mm`: the size of a whole flag, where a sheet gives it."""

    about: About
    edition: Edition
    flag_mm: tuple[float, float] | None = None

    def size_mm(self, label: Label) -> tuple[float, float]:
        """How wide and how high a label is cut."""
        match label:
            case Strip():
                return label.width_mm, LEGEND_MM if label.legend else STRIP_MM
            case Flag():
                return self.flag_mm or (2 * FLAG_MM[0] + label.wrap_mm, FLAG_MM[1])
            case Card():
                return CARD_MM

    def drawn(self, label: Label) -> Drawn:
        """One label. The last ones are kept: most stay as they are when a rig changes."""
        return _drawn(self, label)

    def draw(self, label: Label) -> Drawn:
        """One label, drawn anew."""
        width, height = self.size_mm(label)
        pen = Pen(label.title)
        folds: tuple[float, ...] = ()
        match label:
            case Strip():
                _strip(pen, label, height)
            case Flag():
                half = (width - label.wrap_mm) / 2
                folds = (half, width - half)
                self._flag(pen, label, half, height, width - half)
            case Card():
                self._card(pen, label)
        return Drawn(
            label.id,
            label.title,
            width,
            height,
            _black(ink.sheet(width, height, pen.marks)),
            f"{label.title}: {', '.join(pen.said)}",
            tuple(pen.losses),
            folds,
        )

    # --- flags ---

    def _flag(self, pen: Pen, flag: Flag, half: float, height: float, back_x: float) -> None:
        self._front(pen, flag, half, height)
        self._back(pen, flag, half, height, back_x)

    def _front(self, pen: Pen, flag: Flag, half: float, height: float) -> None:
        say = self.edition.say
        room = half - 2 * _EDGE_MM
        badge = f"{say('labels.end')} {flag.end}" if half >= _ROOMY_MM else flag.end
        badge_mm = 11 if half >= _ROOMY_MM else 4
        size = min(4.6, height * 0.26, half * 0.135)
        counted = width_mm(f" {flag.number}", size_mm=size, style="bold") if flag.number else 0
        # The number is never cut: without it sixteen leads of a loom are one.
        named_mm = pen.write(
            (_EDGE_MM, height * 0.29),
            flag.name,
            within_mm=room - badge_mm - counted - 1,
            largest_mm=size,
            smallest_mm=1.8,
            style="bold",
        )
        pen.write(
            (_EDGE_MM + named_mm + size * 0.25, height * 0.29),
            flag.number,
            within_mm=room - badge_mm - named_mm,
            largest_mm=size,
            smallest_mm=1.8,
            style="bold",
        )
        pen.write(
            (half - _EDGE_MM, height * 0.29),
            badge,
            within_mm=badge_mm,
            largest_mm=min(3, height * 0.17),
            smallest_mm=1.6,
            style="bold",
            anchor="end",
        )
        pen.marks.append(
            ink.line((_EDGE_MM, height * 0.35), (half - _EDGE_MM, height * 0.35), weight=ink.HAIR)
        )
        for word, places, at, here in (
            (say("labels.from"), flag.goes_from, 0.53, flag.end == "A"),
            (say("labels.to"), flag.goes_to, 0.73, flag.end == "B"),
        ):
            _way(pen, word, places, half, height, height * at, here=here)
        worn = [flag.length, flag.colour]
        swatches_mm = _swatches_mm(flag.colours)
        pen.write(
            (_EDGE_MM, height * 0.93),
            " \u00b7 ".join(part for part in worn if part),
            within_mm=room - swatches_mm,
            largest_mm=min(2.6, height * 0.15),
            smallest_mm=1.8,
            style="regular",
        )
        _swatches(pen, (half - _EDGE_MM - swatches_mm, height * 0.93), flag.colours)

    def _back(self, pen: Pen, flag: Flag, half: float, height: float, left: float) -> None:
        """The code, and beside or below it what is read without a phone."""
        made = codes.code(codes.says(self.about, f"lead-{flag.lead}", f"lead {flag.lead}"))
        side = min(half, height)
        if made is None or side < made.least_mm():
            pen.losses.append(Loss(flag.title, "QR", "", "code"))
            _beside(pen, flag, left, half, height)
        elif half - side >= _BESIDE_MM:
            pen.marks.append(made.svg(left, (height - side) / 2, side))
            _beside(pen, flag, left + side, half - side, height)
        else:
            side = max(made.least_mm(), min(half, height - _BELOW_MM))
            pen.marks.append(made.svg(left + (half - side) / 2, 0, side))
            _below(pen, flag, left + half / 2, half, side, height)

    # --- cards ---

    def _card(self, pen: Pen, card: Card) -> None:
        width, height = CARD_MM
        edge, code_mm = 4.0, 21.0
        said = codes.says(self.about, card.anchor, card.subject)
        made = codes.code(said) if card.anchor else None
        has_code = made is not None and code_mm >= made.least_mm()
        if made is not None and has_code:
            pen.marks.append(made.svg(width - code_mm - 1.5, 1.5, code_mm))
        room = width - 2 * edge - (code_mm if has_code else 0)
        pen.write(
            (edge, 9.6),
            card.name,
            within_mm=room,
            largest_mm=7,
            smallest_mm=2.6,
            style="bold",
        )
        pen.write(
            (edge, 14.4), card.below, within_mm=room, largest_mm=3.2, smallest_mm=_SMALLEST_MM
        )
        version = self.about.version
        edition = self.edition.say("paper.version", version=version) if version else ""
        pen.write(
            (edge, 18.6),
            " \u00b7 ".join(filter(None, (card.band, edition))),
            card.band,
            within_mm=room,
            largest_mm=2.5,
            smallest_mm=1.9,
            style="regular",
        )
        top, bottom = 20.8, height - 6.2
        pen.marks.append(ink.line((edge, top - 0.6), (width - edge - code_mm, top - 0.6)))
        most = int((bottom - top) / 2.9)
        rows = card.rows if len(card.rows) <= most else card.rows[: most - 1]
        step = min(4.8, (bottom - top) / max(1, len(rows) + (len(rows) < len(card.rows))))
        for place, (key, said) in enumerate(rows):
            y = top + step * place + step * 0.75
            beyond = y < code_mm + 3 and has_code
            pen.write((edge, y), key, within_mm=17, largest_mm=2.3, smallest_mm=1.8)
            pen.write(
                (edge + 18, y),
                said,
                within_mm=width - 2 * edge - 18 - (code_mm if beyond else 0),
                largest_mm=min(3, step * 0.82),
                smallest_mm=_SMALLEST_MM,
                style="bold",
            )
        if len(rows) < len(card.rows):
            left = len(card.rows) - len(rows)
            more = self.edition.say("labels.more", n=left)
            pen.write(
                (edge, top + step * len(rows) + step * 0.75),
                more,
                within_mm=width - 2 * edge,
                largest_mm=2.6,
                smallest_mm=1.8,
            )
            texts = "; ".join(said for _, said in card.rows[len(rows) :])
            pen.losses.append(Loss(card.title, texts[:200], more, "full"))
        pen.write(
            (edge, height - 3),
            card.foot,
            within_mm=width - 2 * edge,
            largest_mm=2.8,
            smallest_mm=_SMALLEST_MM,
            style="regular",
        )


@lru_cache(maxsize=2048)
def _drawn(hand: Draughtsman, label: Label) -> Drawn:
    return hand.draw(label)


def _black(svg: str) -> str:
    """In black instead of the ink of the sheets: a label printer has no other, and would dot it."""
    for attribute in ("fill", "stroke"):
        svg = svg.replace(f'{attribute}="{ink.INK}"', f'{attribute}="#000"')
    return svg


def _beside(pen: Pen, flag: Flag, left: float, wide: float, height: float) -> None:
    last = f"{flag.number} {flag.end}".strip()
    for text, at, largest in ((flag.name, 0.36, 4.6), (last, 0.86, 8)):
        pen.write(
            (left + (wide - _EDGE_MM) / 2, height * at),
            text,
            within_mm=wide - _EDGE_MM,
            largest_mm=min(largest, height * largest / 16),
            smallest_mm=1.8,
            style="bold",
            anchor="middle",
        )


def _below(pen: Pen, flag: Flag, middle: float, wide: float, top: float, height: float) -> None:
    room = height - top
    if room >= 3:
        pen.write(
            (middle, top + min(room - 0.8, 4.4)),
            " ".join(part for part in (flag.name, flag.number, flag.end) if part),
            f"{flag.number} {flag.end}".strip(),
            within_mm=wide - 2 * _EDGE_MM,
            largest_mm=min(4, room * 0.75),
            smallest_mm=1.8,
            style="bold",
            anchor="middle",
        )


def _way(
    pen: Pen,
    word: str,
    places: Sequence[Place],
    half: float,
    height: float,
    y: float,
    *,
    here: bool,
) -> None:
    """Where one end goes; the end that the flag hangs at is bold, with a mark before it."""
    word_mm = min(8.5, half * 0.26) if half >= _WORDS_MM else 2.6
    if half >= _WORDS_MM:
        pen.write(
            (_EDGE_MM + (2.2 if here else 0), y),
            word,
            within_mm=word_mm - (2.4 if here else 0.4),
            largest_mm=min(2.1, height * 0.14),
            smallest_mm=1.4,
            style="medium",
        )
    if here:
        size = min(2.0, height * 0.12)
        pen.marks.append(
            ink.solid(
                (
                    (_EDGE_MM, y - size),
                    (_EDGE_MM + size * 0.85, y - size / 2),
                    (_EDGE_MM, y),
                )
            )
        )
    pen.write(
        (_EDGE_MM + word_mm, y),
        ", ".join(place.full for place in places),
        ", ".join(place.short for place in places),
        within_mm=half - 2 * _EDGE_MM - word_mm,
        largest_mm=min(3.2, height * 0.18),
        smallest_mm=1.9,
        style="bold" if here else "regular",
    )


# --- strips and legends ---


def _strip(pen: Pen, strip: Strip, height: float) -> None:
    for place, cell in enumerate(strip.cells):
        left = strip.left_mm + place * strip.pitch_mm
        middle, room = left + strip.pitch_mm / 2, strip.pitch_mm - 2 * 0.7
        if place or strip.left_mm:
            pen.marks.append(ink.line((left, 0), (left, height), weight=ink.HAIR))
        pen.write(
            (middle, height * (0.42 if strip.legend else 0.32 if cell.colours else 0.36)),
            cell.number,
            within_mm=room,
            largest_mm=height * (0.28 if cell.colours else 0.32),
            smallest_mm=1.8,
            style="bold",
            anchor="middle",
        )
        texts = (cell.full, cell.short) if strip.legend else (cell.short or cell.full,)
        pen.write(
            (middle, height * (0.64 if cell.colours else 0.74 if strip.legend else 0.78)),
            *texts,
            within_mm=room,
            largest_mm=3.6,
            smallest_mm=_SMALLEST_MM,
            style="medium",
            anchor="middle",
        )
        wide = _swatches_mm(cell.colours)
        _swatches(pen, (middle - wide / 2, height - 0.7), cell.colours)
        shown = cell.short or cell.full
        if strip.chars is not None and len(shown) > strip.chars and not strip.legend:
            pen.losses.append(Loss(strip.title, shown, shown[: strip.chars], "device"))
    _beside_row(pen, strip, height)


def _beside_row(pen: Pen, strip: Strip, height: float) -> None:
    """What the panel has left and right of its sockets: the box's name, the bank's."""
    last = strip.width_mm - strip.right_mm
    if strip.right_mm:
        pen.marks.append(ink.line((last, 0), (last, height), weight=ink.HAIR))
    for x, wide in ((0.0, strip.left_mm), (last, strip.right_mm)):
        if wide >= 8:
            for text, y in ((strip.box, 0.42), (strip.bank, 0.74)):
                pen.write(
                    (x + wide / 2, height * y),
                    text,
                    within_mm=wide - 2,
                    largest_mm=3.2,
                    smallest_mm=1.8,
                    style="bold" if text == strip.box else "regular",
                    anchor="middle",
                )


# --- colours ---

_SWATCH_MM, _LETTERS_MM, _LETTERS_WIDE_MM = 2.2, 2.1, 3.6


def _swatches_mm(colours: Sequence[str]) -> float:
    return len(colours) * (_SWATCH_MM + _LETTERS_WIDE_MM)


def _swatches(pen: Pen, at: ink.Place, colours: Sequence[str]) -> None:
    """Patches in a row, the letters of each beside it; `at` is the lower left corner."""
    x, y = at
    for colour in colours:
        letters = colour_letters(colour)
        pen.marks.append(
            ink.rect(
                (x, y - _LETTERS_MM), (_SWATCH_MM, _LETTERS_MM), weight=0.15, fill=TONES[colour]
            )
        )
        pen.marks.append(
            ink.text((x + _SWATCH_MM + 0.4, y), letters, size=_LETTERS_MM, style="bold")
        )
        pen.said.append(letters)
        x += _SWATCH_MM + _LETTERS_WIDE_MM
