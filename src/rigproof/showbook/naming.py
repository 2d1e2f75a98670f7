"""Things as the sheets call them: names people read before names the file uses."""

from rigproof.rig import Rig
from rigproof.rig.band import Source
from rigproof.rig.quantity import Quantity

_CONNECTORS = {
    "xlr": "XLR",
    "combo": "combo socket",
    "jack-ts": "unbalanced jack",
    "jack-trs": "balanced jack",
    "mini-trs": "mini jack",
    "rca": "phono",
    "db25": "25-way D-sub",
    "multipin": "multi-pin",
    "rj45": "network connector",
    "rj45-lock": "locking network connector",
    "bnc": "BNC",
    "lc": "fibre, LC",
    "cee-7-7": "earthed mains plug, CEE 7/7",
    "cee-7-3": "earthed mains socket, CEE 7/3",
    "cee-7-16": "flat mains plug, CEE 7/16",
    "iec-c13": "IEC C13",
    "iec-c14": "IEC C14",
    "iec-c20": "IEC C20",
    "iec-c19": "IEC C19",
    "mains-twist": "twist-lock mains connector",
}
MINUS = "\u2212"


def connector(name: str | None) -> str:
    """A connector in words, its gender last."""
    if name is None:
        return ""
    if name in _CONNECTORS:
        return _CONNECTORS[name]
    family, _, gender = name.rpartition("-")
    word = _CONNECTORS.get(family, family or name)
    if family.startswith("rj45"):
        return word
    return f"{word} {({'m': 'male', 'f': 'female'}).get(gender, gender)}".strip()


def gear(rig: Rig, name: str) -> str:
    """A box by its name, else by what it is."""
    if name not in rig.gear:
        return name
    return rig.gear[name].name or rig.type_of(name).name


def person(rig: Rig, name: str | None) -> str:
    """A person by name; nothing where the file names none."""
    return rig.people[name].name if name is not None and name in rig.people else ""


def player(rig: Rig, source: Source) -> str:
    """Who plays it, where the name of the source does not say so already."""
    name = person(rig, source.player)
    return "" if name and name in source.name else name


def source_name(rig: Rig, name: str) -> str:
    """A source by its display name."""
    return rig.sources[name].name if name in rig.sources else name


def socket(rig: Rig, key: str) -> str:
    """A socket as one would say it: the box, its bank, the number."""
    box, _, rest = key.partition(".")
    if box == "house":
        return f"house {rest}"
    return f"{gear(rig, box)}, {rest.replace('.', ' ')}" if rest else gear(rig, box)


def microphone(rig: Rig, source: Source) -> str:
    """Whose and what stands before the source: a microphone, a DI, or the box it comes out of."""
    whose = {"band": "own", "house": "house", "guest": "guest\u2019s"}[source.owner]
    parts = [_kind(rig.types[name].name) for name in (source.mic, source.di) if name is not None]
    if not parts and source.start is not None:
        if source.start.gear == "house":
            return "comes from the house"
        parts = [_kind(gear(rig, source.start.gear))]
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
