"""Things as the sheets call them: names people read before names the file uses."""

from rigproof.checks.rule import View
from rigproof.rig import Rig
from rigproof.rig.band import Source
from rigproof.rig.quantity import Quantity
from rigproof.showbook.edition import ENGLISH, Edition
from rigproof.signal import words
from rigproof.wording.connectors import connector
from rigproof.wording.phrases import subject


def person(rig: Rig, name: str | None) -> str:
    """A person by name; nothing where the file names none."""
    return rig.people[name].name if name is not None and name in rig.people else ""


def player(rig: Rig, source: Source) -> str:
    """Who plays it, where the name of the source does not say so already."""
    name = person(rig, source.player)
    return "" if name and name in source.name else name


def show(view: View, edition: Edition = ENGLISH) -> str:
    """A show by its date, its name and where it is."""
    if view.show is None:
        return edition.say("paper.every_night")
    venue = view.rig.venues[view.show.venue].name
    return ", ".join(part for part in (view.show.date, view.show.name, venue) if part)


def type_name(rig: Rig, name: str, edition: Edition = ENGLISH) -> str:
    """A kind of gear in the edition's language; one of the user's own as the user calls it."""
    said = rig.types[name].name
    key = f"types.{name}"
    known = subject("types")
    if key in known and known[key]["en"] == said:
        return edition.say(key)
    return said


def box(rig: Rig, gear: str, edition: Edition = ENGLISH) -> str:
    """A box by its name, and in brackets what is written on it."""
    label = rig.gear[gear].label
    return edition.tell(words.box(rig, gear)) + (f" [{label}]" if label else "")


def microphone(rig: Rig, source: Source, edition: Edition = ENGLISH) -> str:
    """Whose and what stands before the source: a microphone, a DI, or the box it comes out of."""
    parts = [
        _kind(type_name(rig, name, edition), edition)
        for name in (source.mic, source.di)
        if name is not None
    ]
    if not parts and source.start is not None:
        if source.start.gear == "house":
            return edition.say("paper.from_the_house")
        parts = [_kind(words.box(rig, source.start.gear, edition.language), edition)]
    if not parts and source.connector:
        plug = connector(source.connector, edition.language)
        parts = [edition.say("paper.straight_in", plug=plug)]
    if not parts:
        return edition.say(f"paper.owner_{source.owner}")
    return edition.say(f"paper.brings_{source.owner}", what=" + ".join(parts))


def _kind(name: str, edition: Edition) -> str:
    """The name of a type within a sentence, and as short as the trade has it."""
    if edition.language == "de":  # nouns keep their capitals
        return name
    name = name.replace("icrophone", "ic")
    return name[:1].lower() + name[1:] if name[1:2].islower() else name


def level(value: Quantity | None, edition: Edition = ENGLISH) -> str:
    """A send level with a true minus sign; a dot where a knob decides."""
    return "\u2022" if value is None else edition.number(float(value), 6)


def stage_side(x_m: float, edition: Edition = ENGLISH) -> str:
    """Left or right as a performer facing the audience has it; x runs to stage left."""
    if abs(x_m) < 0.5:
        return edition.say("paper.centre")
    return edition.say("paper.stage_left" if x_m > 0 else "paper.stage_right")


def side(name: str, edition: Edition = ENGLISH) -> str:
    """A side of the stage as the file names it, in the edition's language."""
    return edition.say(f"paper.{name.replace(' ', '_')}")
