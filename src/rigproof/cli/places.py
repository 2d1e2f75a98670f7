"""Places of the signal graph in words, several lanes of one kind as one place."""

from collections.abc import Iterable

from rigproof.rig import Rig
from rigproof.rig.geartype import Port, Stage
from rigproof.signal import Node
from rigproof.wording import listed, ranges

_SIDES = {1: "left", 2: "right"}


def bank_key(node: Node) -> tuple[str, str, str]:
    """What a lane shares with its neighbours: its box, its bank, and the way in or out."""
    if node.bank is None:
        return node.kind, node.key.rpartition(":")[2].partition(".")[0], ""
    local = node.key.removeprefix(f"{node.gear}.")
    way = next((word for word in ("rx", "tx") if word in local.split(".")), "")
    return node.gear.partition(".")[0], node.bank.id, way


def words_for(rig: Rig, nodes: Iterable[Node]) -> str:
    """Some lanes of one bank, as people say them: `Split A, in 3-4`."""
    return ", ".join(part for part in place_parts(rig, nodes) if part)


def place_parts(rig: Rig, nodes: Iterable[Node]) -> tuple[str, str]:
    """The box and what of it; no box for a source, an ear or the house."""
    lanes = list(dict.fromkeys(nodes))
    node = lanes[0]
    if node.bank is None:
        return "", _outer(rig, lanes)
    many = node.bank.count > 1 or _lanes(node.bank) > 1
    numbers = " " + _spelled([_number(lane) for lane in lanes]) if many else ""
    return gear_words(rig, node.gear), f"{_bank(rig, node)}{numbers}"


def _lanes(bank: Port | Stage) -> int:
    return max(bank.lanes, bank.lanes_rx, bank.lanes_tx) if isinstance(bank, Port) else 1


def _number(node: Node) -> tuple[int, ...]:
    """The numbers in a lane's name: of the socket, and of the lane where it carries several."""
    local = node.key.removeprefix(f"{node.gear}.")
    return tuple(int(part) for part in local.split(".")[1:] if part.isdigit())


def _spelled(numbers: list[tuple[int, ...]]) -> str:
    """`3`, `3-4`, or `2, lanes 1-2` where a socket carries several signals."""
    if all(len(number) < 2 for number in numbers):
        return ranges(number[0] for number in numbers if number)
    found: dict[int, list[int]] = {}
    for number in numbers:
        found.setdefault(number[0], []).append(number[-1])
    return listed(f"{socket} (lanes {ranges(lanes)})" for socket, lanes in found.items())


def _outer(rig: Rig, lanes: list[Node]) -> str:
    kind, name, _ = bank_key(lanes[0])
    if kind == "house":
        numbers = [int(lane.key.rpartition(".")[2]) for lane in lanes]
        return f"the house, {'lines' if len(numbers) > 1 else 'line'} {ranges(numbers)}"
    tails = [lane.key.rpartition(".")[2] for lane in lanes]
    numbers = sorted({int(tail) for tail in tails if tail.isdigit()})
    if kind == "source":
        source = rig.sources[name]
        if len(numbers) == 1:
            return source.lane_names[numbers[0] - 1]
        return source.name
    who = rig.people[name].name
    if kind == "wedge":
        return f"{who}, wedge"
    return f"{who}, {listed(_SIDES[number] for number in numbers)} ear"


def gear_words(rig: Rig, gear: str) -> str:
    """A box by its name; a microphone or DI by the source it belongs to."""
    name, _, part = gear.partition("/")
    if part:
        source = rig.sources[name].name
        return f"{source} {'DI box' if part.startswith('di') else 'microphone'}"
    box = rig.gear[gear]
    return box.name or rig.types[box.type].name


def _bank(rig: Rig, node: Node) -> str:
    bank = node.bank
    assert bank is not None
    if isinstance(bank, Stage):
        return bank.name or _stage(rig, node, bank)
    way = bank_key(node)[2]
    direction = {"rx": " receiving", "tx": " sending"}.get(way, "")
    return f"{bank.name or bank.id.replace('-', ' ')}{direction}"


def _stage(rig: Rig, node: Node, stage: Stage) -> str:
    type_ = rig.types[rig.gear[node.gear].type] if node.gear in rig.gear else None
    alike = sum(1 for _ in type_.stages(stage.kind)) if type_ is not None else 1
    if alike == 1 or stage.id == stage.kind:
        return stage.kind
    return f"{stage.kind} ({stage.id})"


def need_words(rig: Rig, need: str) -> str:
    """What a hop depends on, in words."""
    _, _, part = need.partition("/")
    if part == "lead":
        return "the plug on stage"
    if part in {"ear", "wedge"}:
        return "the earphones" if part == "ear" else "the wedge"
    if part or need in rig.gear:
        return gear_words(rig, need)
    return need
