"""One dark ink on white: the few marks that every drawing is made of, as SVG in millimetres.

Each function gives the text of one SVG element. Numbers are rounded the same way everywhere and a
user's text is always escaped, so the same rig gives the same bytes and a name stays a name.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from rigproof.showbook.drawings.lettering import (
    TEXT_FAMILY,
    Style,
    fitted,
    runs,
    width_mm,
)

INK = "#16202e"

# A wire is wider than a dot of 100 to the inch: thinner ones lose stretches in a poor copy.
HAIR = 0.16
THIN = 0.3
FIRM = 0.4
HEAVY = 0.6

PT = 25.4 / 72
SMALL = 6.5 * PT  # the smallest letters of any drawing
TEXT = 7.4 * PT
NAME = 8.6 * PT
HEAD = 10.5 * PT

CAPS_EM = 0.08  # our own words stand in spaced capitals, a user's name keeps its letters
_CAP_HEIGHT = 0.69  # of the text face, in em

_WEIGHTS: Mapping[Style, str] = {
    "regular": "",
    "medium": ' font-weight="500"',
    "bold": ' font-weight="700"',
}
Anchor = Literal["start", "middle", "end"]
Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Drawing:
    """A finished drawing at its true size on paper.

    `alt` says in words what it shows; `notes` is what is to be read with it, such as what the rig
    file leaves out; `key` explains its marks.
    """

    svg: str
    width_mm: float
    height_mm: float
    title: str
    alt: str
    caption: str = ""
    notes: tuple[str, ...] = ()
    key: tuple[str, ...] = ()

    @property
    def wide(self) -> bool:
        """Whether it wants the page turned."""
        return self.width_mm > PORTRAIT_MM[0]

    @property
    def folded(self) -> bool:
        """Whether it needs a sheet of twice the size."""
        tall = LANDSCAPE_MM[1] if self.wide else PORTRAIT_MM[1]
        return self.width_mm > LANDSCAPE_MM[0] + 0.01 or self.height_mm > tall + 0.01

    def data(self) -> dict[str, object]:
        """As the page templates take it."""
        return {
            "svg": self.svg,
            "width": self.width_mm,
            "height": self.height_mm,
            "title": self.title,
            "alt": self.alt,
            "caption": self.caption,
            "notes": list(self.notes),
            "key": list(self.key),
            "wide": self.wide,
            "fold": self.folded,
        }


# What A4 and US Letter both leave for a drawing between its title and its caption.
PORTRAIT_MM: Place = (172.0, 210.0)
LANDSCAPE_MM: Place = (239.0, 136.0)
FOLD_OUT_MM: Place = (376.0, 222.0)  # the same for A3


@lru_cache(maxsize=1 << 14)  # drawings repeat themselves
def number(value: float) -> str:
    """A length to a thousandth of a millimetre, without a tail of zeros.

    >>> number(2.50004), number(-0.0001)
    ('2.5', '0')
    """
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def escaped(text: str) -> str:
    """A text that no reader of SVG takes for markup."""
    return (
        text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")
    )


def _stroke(weight: float, dash: Sequence[float], fill: str) -> str:
    dashes = f' stroke-dasharray="{" ".join(map(number, dash))}"' if dash else ""
    return f' fill="{fill}" stroke="{INK}" stroke-width="{number(weight)}"{dashes}'


def line(
    start: Place,
    end: Place,
    *,
    weight: float = THIN,
    dash: Sequence[float] = (),
) -> str:
    """A straight line."""
    (x1, y1), (x2, y2) = start, end
    return (
        f'<line x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}"'
        f"{_stroke(weight, dash, 'none')}/>"
    )


def rect(
    corner: Place,
    size: Place,
    *,
    weight: float = THIN,
    dash: Sequence[float] = (),
    fill: str = "none",
    round_mm: float = 0,
) -> str:
    """A rectangle by its upper left corner."""
    rounded = f' rx="{number(round_mm)}"' if round_mm else ""
    return (
        f'<rect x="{number(corner[0])}" y="{number(corner[1])}" width="{number(size[0])}"'
        f' height="{number(size[1])}"{rounded}{_stroke(weight, dash, fill)}/>'
    )


def circle(
    centre: Place,
    radius: float,
    *,
    weight: float = THIN,
    fill: str = "none",
    dash: Sequence[float] = (),
) -> str:
    """A circle."""
    return (
        f'<circle cx="{number(centre[0])}" cy="{number(centre[1])}" r="{number(radius)}"'
        f"{_stroke(weight, dash, fill)}/>"
    )


def ellipse(centre: Place, radii: Place, *, weight: float = THIN, fill: str = "white") -> str:
    """An ellipse with level axes."""
    return (
        f'<ellipse cx="{number(centre[0])}" cy="{number(centre[1])}" rx="{number(radii[0])}"'
        f' ry="{number(radii[1])}"{_stroke(weight, (), fill)}/>'
    )


def dot(centre: Place, radius: float) -> str:
    """A full circle."""
    return (
        f'<circle cx="{number(centre[0])}" cy="{number(centre[1])}" r="{number(radius)}"'
        f' fill="{INK}"/>'
    )


def polyline(
    points: Iterable[Place],
    *,
    weight: float = THIN,
    dash: Sequence[float] = (),
    fill: str = "none",
    closed: bool = False,
) -> str:
    """Straight lines from corner to corner."""
    corners = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    shape = "polygon" if closed else "polyline"
    return f'<{shape} points="{corners}" stroke-linejoin="round"{_stroke(weight, dash, fill)}/>'


def solid(points: Iterable[Place]) -> str:
    """A filled shape."""
    corners = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    return f'<polygon points="{corners}" fill="{INK}"/>'


def arc(centre: Place, radius: float, *, start: float, end: float, weight: float = THIN) -> str:
    """A part of a circle, angles in degrees clockwise from the right."""
    (x1, y1), (x2, y2) = (
        (
            centre[0] + radius * math.cos(math.radians(angle)),
            centre[1] + radius * math.sin(math.radians(angle)),
        )
        for angle in (start, end)
    )
    far = int(abs(end - start) > 180)
    return (
        f'<path d="M{number(x1)} {number(y1)}A{number(radius)} {number(radius)} 0 {far} 1'
        f' {number(x2)} {number(y2)}"{_stroke(weight, (), "none")}/>'
    )


def text(
    at: Place,
    words: str,
    *,
    size: float = TEXT,
    style: Style = "medium",
    anchor: Anchor = "start",
    within: float | None = None,
    spaced_em: float = 0,
    turned: float = 0,
) -> str:
    """One line of text on its baseline; a user's text is cut to `within`."""
    shown = fitted(words, within_mm=within or 400, size_mm=size, style=style)
    if not shown:
        return ""
    pieces = list(runs(shown, style))
    if len(pieces) == 1 and pieces[0][0] == TEXT_FAMILY:
        body = escaped(shown)
    else:
        # The typesetter finds one stand-in face for a text and no second one: each is named.
        body = "".join(
            f'<tspan font-family="{family}">{escaped(piece)}</tspan>' for family, piece in pieces
        )
    spacing = f' letter-spacing="{number(spaced_em * size)}"' if spaced_em else ""
    anchored = "" if anchor == "start" else f' text-anchor="{anchor}"'
    turn = f' transform="rotate({number(turned)} {number(at[0])} {number(at[1])})"'
    return (
        f'<text x="{number(at[0])}" y="{number(at[1])}" font-size="{number(size)}"'
        f'{_WEIGHTS[style]}{anchored}{spacing} fill="{INK}"{turn if turned else ""}'
        f' xml:space="preserve">{body}</text>'
    )


def caps(
    at: Place,
    words: str,
    *,
    size: float = SMALL,
    anchor: Anchor = "start",
    style: Style = "medium",
    turned: float = 0,
    spaced_em: float = CAPS_EM,
) -> str:
    """Our own words in spaced capitals."""
    return text(
        at,
        words.upper(),
        size=size,
        style=style,
        anchor=anchor,
        spaced_em=spaced_em,
        turned=turned,
    )


def caps_width(words: str, size: float = SMALL, spaced_em: float = CAPS_EM) -> float:
    """How wide `caps` comes out."""
    return width_mm(words.upper(), size_mm=size, style="medium", spaced_em=spaced_em)


def middle(y: float, size: float) -> float:
    """The baseline that sets capitals and figures around this height."""
    return y + size * _CAP_HEIGHT / 2


def group(name: str, marks: Iterable[str]) -> str:
    """Marks that belong together, under an identifier that a reader of the file can find."""
    return f'<g id="{escaped(name)}">{"".join(marks)}</g>'


def hatched(corner: Place, size: Place, pitch: float = 0.9) -> str:
    """A rectangle under slanting lines, each cut at its edges: no pattern that a printer drops."""
    (x, y), (w, h) = corner, size
    marks = [rect(corner, size, weight=FIRM)]
    for step in range(1, int((w + h) / pitch) + 1):
        reach = step * pitch
        start = (x + max(0.0, reach - h), y + min(reach, h))
        end = (x + min(reach, w), y + max(0.0, reach - w))
        marks.append(line(start, end, weight=HAIR))
    return "".join(marks)


def arrow(tip: Place, towards: Literal["up", "down", "left", "right"], length: float = 1.8) -> str:
    """A slender arrow head."""
    dx, dy = {"up": (0, -1), "down": (0, 1), "left": (-1, 0), "right": (1, 0)}[towards]
    x, y = tip
    half = length * 0.32
    back = (x - dx * length, y - dy * length)
    return solid(
        (
            tip,
            (back[0] + dy * half, back[1] + dx * half),
            (back[0] - dy * half, back[1] - dx * half),
        )
    )


def sheet(width: float, height: float, marks: Iterable[str]) -> str:
    """The whole drawing."""
    w, h = number(width), number(height)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm"'
        f' viewBox="0 0 {w} {h}" font-family="{TEXT_FAMILY}" font-size="{number(TEXT)}">'
        f"{''.join(marks)}</svg>"
    )


def fit(width: float, height: float) -> float:
    """How much a drawing without a scale must shrink for the largest paper of the book."""
    return min(1.0, fill(width, height))


def fill(width: float, height: float) -> float:
    """How much a drawing may grow, or must shrink, to fill the largest paper of the book."""
    return min(FOLD_OUT_MM[0] / width, FOLD_OUT_MM[1] / height)


def resized(svg: str, width: float, height: float, ratio: float) -> str:
    """The same drawing at another size on paper."""
    before = f'width="{number(width)}mm" height="{number(height)}mm"'
    after = f'width="{number(width * ratio)}mm" height="{number(height * ratio)}mm"'
    return svg.replace(before, after, 1)


def feet(metres: float) -> str:
    """A length in feet and whole inches.

    1 ft = 0.3048 m. Source: international yard and pound agreement of 1959.

    >>> feet(6.5), feet(2.0), feet(1.82)
    ('21 ft 4 in', '6 ft 7 in', '6 ft')
    """
    inches = round(metres / 0.0254)
    whole, rest = divmod(inches, 12)
    return f"{whole} ft" if rest == 0 else f"{whole} ft {rest} in"
