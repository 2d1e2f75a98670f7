"""The places of a rig in words: boxes, sockets, lanes, people, and the way a signal takes.

Every reader meets the same words: on paper, in findings and in the terminal. A place goes by the
name the graph or the rig file gives it; lanes of one bank are told together. What boxes and their
sockets are called stays as the file has it in every language: that is what stands on the box. Where
no language is asked for, the words can be said again in any.
"""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from rigproof.rig import Rig
from rigproof.rig.geartype import Port, Stage
from rigproof.rig.ref import HOUSE, PortRef, Range
from rigproof.signal.graph import Graph, Hop
from rigproof.wording import listed, ranges
from rigproof.wording.phrases import Language
from rigproof.wording.sentences import joined, keyed, said_in, sentence

_SIDES = {1: "left", 2: "right"}
_WAYS = {"rx": "{bank} receiving", "tx": "{bank} sending"}


class Kin(NamedTuple):
    """What a lane shares with its neighbours: its box, its bank, and the way in or out."""

    box: str  # of a source, an ear, a wedge or the house the kind of it
    bank: str
    way: str = ""


def kin(key: str) -> Kin:
    """The kin of a place."""
    kind, colon, name = key.partition(":")
    if colon:
        return Kin(kind, name.partition(".")[0])
    ref = PortRef(key)
    return Kin(ref.gear, ref.bank, ref.way or "")


def _in(language: Language | None, text: str) -> str:
    return text if language is None else said_in(language, text)


def box(rig: Rig, gear: str, language: Language | None = None) -> str:
    """A box by its name; a microphone or DI by the source it belongs to."""
    return _in(language, _box(rig, gear))


def _box(rig: Rig, gear: str) -> str:
    if gear in rig.gear:
        name, kind = rig.box_names[gear], rig.gear[gear].type
        if rig.gear[gear].name:
            return name
        said = keyed(rig.types[kind].name.partition(",")[0], f"types.{kind}")
        return said if said == name else sentence("{kind} ({id})", kind=said, id=gear)
    owner, _, part = gear.partition("/")
    if owner in rig.sources and part:
        kind, _, number = part.partition("-")  # of a pair with a box for each side
        which = f" {number}" if number else ""
        name = rig.sources[owner].name
        if kind == "di":
            return sentence("{source} DI box{which}", source=name, which=which)
        return sentence("{source} microphone{which}", source=name, which=which)
    return gear


def kind_of(rig: Rig, type_id: str) -> str:
    """A kind of gear; one of the user's own is called in every language as the user calls it."""
    return keyed(rig.types[type_id].name, f"types.{type_id}")


def person(rig: Rig, identifier: str) -> str:
    """A person by name; one who is not there tonight by identifier."""
    return rig.people[identifier].name if identifier in rig.people else identifier


def source(rig: Rig, name: str) -> str:
    """A source or a group of them by its name."""
    if name in rig.groups:
        return rig.groups[name].name or name
    return rig.sources[name].name if name in rig.sources else name


def place(rig: Rig, key: str, language: Language | None = None) -> str:
    """A socket, a lane or a run of them: `Split A, in 3-4`."""
    return _in(language, _place(rig, [key]))


def places(rig: Rig, keys: Iterable[str], language: Language | None = None) -> str:
    """Several places in a row, those of one bank together."""
    found: dict[Kin, list[str]] = {}
    for key in keys:
        found.setdefault(kin(key), []).append(key)
    return _in(language, listed(_place(rig, alike) for alike in found.values()))


def within(rig: Rig, key: str, language: Language | None = None) -> str:
    """A socket or a lane where its box has been named."""
    return _in(language, _parts(rig, [key])[1])


def place_parts(rig: Rig, keys: Sequence[str], language: Language | None = None) -> tuple[str, str]:
    """The box and what of it, of lanes that are kin; no box for a source, an ear or the house."""
    box_, part = _parts(rig, keys)
    return _in(language, box_), _in(language, part)


def _place(rig: Rig, keys: Sequence[str]) -> str:
    return joined(", ", filter(None, _parts(rig, keys)))


def _parts(rig: Rig, keys: Sequence[str]) -> tuple[str, str]:
    if ":" in keys[0]:
        return "", _outer(rig, keys)
    refs = [PortRef(key) for key in dict.fromkeys(keys)]
    first = refs[0]
    if first.gear == HOUSE:
        numbers = [n for ref in refs for n in _run(ref.numbers)]
        if len(numbers) > 1:
            return "", sentence("the house, lines {numbers}", numbers=ranges(numbers))
        return "", sentence("the house, line {numbers}", numbers=ranges(numbers))
    bank = _banks(rig, first.gear).get(first.bank)
    if bank is None:
        return _box(rig, first.gear), first.bank
    words = _bank(rig, first.gear, bank)
    if first.way in _WAYS:
        words = sentence(_WAYS[first.way], bank=words)
    which = _spelled(refs, bank)
    return _box(rig, first.gear), sentence(
        "{bank} {which}", bank=words, which=which
    ) if which else words


def _banks(rig: Rig, gear: str) -> dict[str, Port | Stage]:
    if gear in rig.gear:
        return dict(rig.type_of(gear).banks)
    owner, _, part = gear.partition("/")
    source = rig.sources.get(owner)
    name = (source.di if part.startswith("di") else source.mic) if source else None
    return dict(rig.types[name].banks) if name else {}


def _run(numbers: Range | None) -> range:
    return range(numbers[0], numbers[1] + 1) if numbers else range(0)


def _spelled(refs: Sequence[PortRef], bank: Port | Stage) -> str:
    """`3-4`, or `2 (lanes 1-2)` where a socket carries several signals; nothing for the one."""
    lanes: dict[int, set[int]] = {}
    for ref in refs:
        for number in _run(ref.numbers) or (0,):
            lanes.setdefault(number, set()).update(_run(ref.lanes))
    if bank.count == 1 and isinstance(bank, Port) and _several(bank) and not lanes.get(0):
        # The only socket needs no number of its own, so what stands there counts its lanes.
        return ranges(set(lanes) - {0} | {n for found in lanes.values() for n in found})
    if not any(lanes.values()):
        return ranges(number for number in lanes if number) if bank.count > 1 else ""
    if set(lanes) == {0}:
        return ranges(lanes[0])
    return listed(_with_lanes(number, found) for number, found in sorted(lanes.items()))


def _with_lanes(number: int, lanes: set[int]) -> str:
    if not lanes:
        return str(number)
    if len(lanes) > 1:
        return sentence("{number} (lanes {lanes})", number=number, lanes=ranges(lanes))
    return sentence("{number} (lane {lanes})", number=number, lanes=ranges(lanes))


def _several(port: Port) -> bool:
    return max(port.lanes, port.lanes_rx, port.lanes_tx) > 1


def _bank(rig: Rig, gear: str, bank: Port | Stage) -> str:
    if isinstance(bank, Port) or bank.name:
        return bank.name or bank.id.replace("-", " ")
    alike = sum(1 for _ in rig.type_of(gear).stages(bank.kind)) if gear in rig.gear else 1
    kind = sentence(bank.kind)
    return (
        kind
        if alike == 1 or bank.id == bank.kind
        else sentence("{kind} ({id})", kind=kind, id=bank.id)
    )


def _outer(rig: Rig, keys: Sequence[str]) -> str:
    """A source by name, with the side of a pair; ears and wedges by the person's."""
    kind, name, _ = kin(keys[0])
    tails = {key.rpartition(".")[2] for key in keys}
    numbers = sorted(int(tail) for tail in tails if tail.isdigit())
    if kind == "source":
        source = rig.sources[name]
        return source.lane_names[numbers[0] - 1] if len(numbers) == 1 else source.name
    who = person(rig, name)
    if kind == "wedge":
        return sentence("{who}, wedge", who=who)
    if not numbers:
        return sentence("{who}, ear", who=who)
    sides = listed(sentence(_SIDES[number]) for number in numbers)
    return sentence("{who}, {sides} ear", who=who, sides=sides)


def way_words(rig: Rig, graph: Graph, path: Sequence[Hop]) -> tuple[str, ...]:
    """A path as the places it passes; a source stands for its own microphone and DI box."""
    if not path:
        return ()
    keys = [graph.nodes[n].key for n in (path[0].start, *(hop.end for hop in path))]
    return tuple(place(rig, key) for key in keys if "/" not in key and ".?" not in key)


def need(rig: Rig, name: str) -> str:
    """What a hop depends on."""
    _, _, part = name.partition("/")
    if part == "lead":
        return sentence("the plug on stage")
    if part in {"ear", "wedge"}:
        return sentence("the earphones") if part == "ear" else sentence("the wedge")
    return _box(rig, name)
