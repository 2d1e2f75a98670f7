"""Things as the sheets call them: names people read before names the file uses."""

from rigproof.rig import Rig
from rigproof.rig.band import Source
from rigproof.rig.quantity import Quantity
from rigproof.signal import words
from rigproof.wording.connectors import connector

MINUS = "\u2212"


def person(rig: Rig, name: str | None) -> str:
    """A person by name; nothing where the file names none."""
    return rig.people[name].name if name is not None and name in rig.people else ""


def player(rig: Rig, source: Source) -> str:
    """Who plays it, where the name of the source does not say so already."""
    name = person(rig, source.player)
    return "" if name and name in source.name else name


def microphone(rig: Rig, source: Source) -> str:
    """Whose and what stands before the source: a microphone, a DI, or the box it comes out of."""
    whose = {"band": "own", "house": "house", "guest": "guest\u2019s"}[source.owner]
    parts = [_kind(rig.types[name].name) for name in (source.mic, source.di) if name is not None]
    if not parts and source.start is not None:
        if source.start.gear == "house":
            return "comes from the house"
        parts = [_kind(words.box(rig, source.start.gear))]
    if not parts and source.connector:
        parts = [f"{connector(source.connector)}, straight in"]
    return f"{whose} {' + '.join(parts)}" if parts else whose


def _kind(name: str) -> str:
    """The name of a type within a sentence, and as short as the trade has it."""
    name = name.replace("icrophone", "ic")
    return name[:1].lower() + name[1:] if name[1:2].islower() else name


def level(value: Quantity | None) -> str:
    """A send level with a true minus sign; a dot where a knob decides."""
    if value is None:
        return "\u2022"
    return number(float(value)).replace("-", MINUS)


def number(value: float) -> str:
    """A figure without zeros that say nothing.

    Derived: wording only.

    >>> number(10.0), number(2.25)
    ('10', '2.25')
    """
    return f"{value:.6g}"


def metres(value: float) -> str:
    """A length as it is written on a tail."""
    return f"{number(value)} m"


def stage_side(x_m: float) -> str:
    """Left or right as a performer facing the audience has it; x runs to stage left."""
    if abs(x_m) < 0.5:
        return "centre"
    return "stage left" if x_m > 0 else "stage right"
