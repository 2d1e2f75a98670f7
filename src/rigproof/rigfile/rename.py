"""Every place in a rig file where one thing is named, so that it can take another name.

Names live in kinds that may overlap: "ann" can be a person and a mix, and a show that goes
without "ann" then means the person. A use belongs to the first kind in `ORDER` that defines its
name, as the model reads it.
"""

import re
from collections.abc import Iterator

import msgspec
import yaml

from rigproof.rig import RigFile, Where
from rigproof.rig.ref import HOUSE
from rigproof.rig.where import RigErrors
from rigproof.rigfile import yaml12
from rigproof.rigfile.form import build
from rigproof.rigfile.names import Use, uses
from rigproof.rigfile.tree import NoSuchPlace, Tree

ORDER = ("person", "group", "source", "gear", "mix")


class Place(msgspec.Struct, frozen=True):
    """A scalar of the file and what it says once the thing is renamed."""

    node: yaml.Node
    text: str


def places(tree: Tree, node: yaml.Node, new: str) -> list[Place]:
    """All scalars that name the thing which the map `node` defines.

    Raises:
        NoSuchPlace: it defines nothing, or the new name will not do.
        RigErrors: the file does not hold together, so nobody knows what its names mean.
    """
    file = _model(tree)
    everything = list(uses(file))
    definition = _definition(everything, node)
    kind, old = definition.kinds[0], definition.name
    if re.fullmatch(r"[a-z0-9][a-z0-9-]{0,47}", new) is None:
        raise NoSuchPlace(f'"{new}" is no short word of small letters, digits and hyphens')
    kinds_of: dict[str, set[str]] = {}
    for use in everything:
        if use.defines:
            kinds_of.setdefault(use.name, set()).add(use.kinds[0])
    if new == HOUSE and kind == "gear":
        raise NoSuchPlace(f'"{HOUSE}" always means the house\'s ends of the tails')
    if new != old and kind in kinds_of.get(new, ()):
        raise NoSuchPlace(f'a {kind} is already called "{new}"')
    maps = {(m.start_mark.line + 1, m.start_mark.column + 1): m for m in _maps(tree.root)}
    found: list[Place] = []
    for use in everything:
        if use.name == new != old and not use.defines:
            now = kinds_of.get(new, set())
            if _meant(use.kinds, now | {kind}) != _meant(use.kinds, now):
                raise NoSuchPlace(f'"{new}" in line {use.at.line} would then mean this {kind}')
        if use.name != old or kind not in use.kinds or _meant(use.kinds, kinds_of[old]) != kind:
            continue
        after = (kinds_of[old] - {kind} if new == old else kinds_of.get(new, set())) | {kind}
        if not use.defines and _meant(use.kinds, after) != kind:
            raise NoSuchPlace(f'"{new}" in line {use.at.line} would then mean something else')
        where = use.entry.where
        entry = maps[where.line, where.column]
        found += _scalars(entry, use, old, new)
    return list({id(place.node): place for place in found}.values())


def unwritten(tree: Tree, node: yaml.Node) -> list[str]:
    """The key of a name that the file leaves to its default, and must now write."""
    definition = _definition(list(uses(_model(tree))), node)
    key = _key(definition)
    return [] if any(k.value == key for k, _ in node.value) else [key]


def _model(tree: Tree) -> RigFile:
    data, faults = yaml12.read(tree.text.encode(), "rig.yaml")
    built, more = build(data, RigFile, Where("rig.yaml"))
    if built is None or faults:
        raise RigErrors(faults + more)
    return built


def _definition(everything: list[Use], node: yaml.Node) -> Use:
    for use in everything:
        where = use.entry.where
        place = (node.start_mark.line + 1, node.start_mark.column + 1)
        if (
            use.defines
            and (where.line, where.column) == place
            and isinstance(node, yaml.MappingNode)
        ):
            return use
    raise NoSuchPlace("it has no name of its own; rename the thing that it names")


def _meant(kinds: tuple[str, ...], defined: set[str]) -> str:
    possible = [kind for kind in kinds if kind in defined]
    return min(possible, key=lambda k: ORDER.index(k) if k in ORDER else 0, default="")


def _maps(node: yaml.Node) -> Iterator[yaml.MappingNode]:
    if isinstance(node, yaml.MappingNode):
        yield node
        for _, value in node.value:
            yield from _maps(value)
    elif isinstance(node, yaml.SequenceNode):
        for item in node.value:
            yield from _maps(item)


def _key(use: Use) -> str:
    cls = type(use.entry)
    return cls.__struct_encode_fields__[cls.__struct_fields__.index(use.field)]


def _scalars(entry: yaml.MappingNode, use: Use, old: str, new: str) -> Iterator[Place]:
    for key, value in entry.value:
        if key.value != _key(use):
            continue
        for scalar in [value] if isinstance(value, yaml.ScalarNode) else value.value:
            text = str(scalar.value)
            if text == old:
                yield Place(scalar, new)
            elif text.startswith(f"{old}."):  # the gear part of a socket's name
                yield Place(scalar, new + text[len(old) :])
