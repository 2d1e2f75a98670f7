"""Colours on labels: a scheme that the user chooses, told by words and letters beside each patch.

No colour carries a fact alone: the number or the name stands beside it, and every patch bears the
letters of its colour, which a copier keeps.
"""

from collections.abc import Mapping
from typing import Literal, get_args

from rigproof.physics.colours import DIGIT_COLOURS, number_colours
from rigproof.rig import Rig
from rigproof.rig.band import Source

Scheme = Literal["none", "digits", "players"]
SCHEMES: tuple[Scheme, ...] = get_args(Scheme)

# Tones of our own for paint on paper; the code says words and no tones.
TONES: Mapping[str, str] = {
    "black": "#1a1a1a", "brown": "#7a4a21", "red": "#d0342c", "orange": "#ee8722",
    "yellow": "#f5d327", "green": "#2e9448", "blue": "#2b62c0", "violet": "#7a44a8",
    "grey": "#9aa0a6", "white": "#ffffff", "pink": "#ef8fb2", "gold": "#b8952f",
    "turquoise": "#2fb3ad", "silver": "#c3c7cc",
}  # fmt: skip


def players(rig: Rig) -> Mapping[str, str]:
    """A colour for each person, in the order of the file; nobody beyond the tenth gets one."""
    return dict(zip(rig.people, (*DIGIT_COLOURS[1:], DIGIT_COLOURS[0]), strict=False))


def of_number(scheme: Scheme, number: int | str) -> tuple[str, ...]:
    """The rings of a number, where the scheme is one of numbers."""
    return number_colours(str(number)) if scheme == "digits" and str(number).isdigit() else ()


def of_source(scheme: Scheme, rig: Rig, source: Source | None, number: int) -> tuple[str, ...]:
    """The colours of a place: of its number, or of whoever plays what is there."""
    if scheme == "players":
        colour = players(rig).get(source.player or "") if source is not None else None
        return (colour,) if colour else ()
    return of_number(scheme, number)
