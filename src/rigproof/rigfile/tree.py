"""A YAML text and its tree: which characters belong to which entry, and how entries are addressed.

A path is written with slashes: `rig/version`, `sources/kick-in/level_dbu`, `power/volts_v`. In a
list, an entry is addressed by its `id`; one without by what it is about, the first of `source`,
`gear`, `slot`, `from`, `type`, `channels`, `sockets`, `at_unit` that it has (`patch/kick-in`,
`mixes/ann/sends/voices`, `clocks/mixer`); a plain word by itself (`mixes/ann/listeners/bo`). Any
entry can be addressed by its number, from 1, behind a `#`: `patch/#3`. A name that two entries
of a list share addresses neither.
"""

from bisect import bisect_left
from collections.abc import Sequence
from functools import cached_property
from typing import Any

import msgspec
import yaml

from rigproof.rigfile import yaml12

ABOUT_KEYS = ("id", "source", "gear", "slot", "from", "type", "channels", "sockets", "at_unit")
BOM = "\ufeff"

Path = tuple[str, ...]


class NoSuchPlace(LookupError):
    """A path leads nowhere; says where it ends and what is there."""


def steps(path: str) -> Path:
    """A written path as its steps."""
    return tuple(path.strip("/").split("/"))


class Member(msgspec.Struct, frozen=True):
    """One key of a map or one entry of a list: its characters and its value."""

    start: int  # of the key or the dash; of the value in a flow list
    end: int
    key: str  # the key, or the name an entry of a list answers to
    value: yaml.Node


class Tree:
    """A text with its tree.

    Raises:
        yaml.YAMLError: the text is no YAML.
    """

    def __init__(self, text: str) -> None:
        self.text = text
        root = yaml12.compose(text)
        if not isinstance(root, yaml.MappingNode):
            raise yaml.YAMLError("the text is not a map of keys")
        self.root: yaml.Node = root
        # A planner sets hundreds of keys over one tree: each list is looked through once.
        self._members: dict[int, list[Member]] = {}
        self._names: dict[int, dict[str, list[int]]] = {}

    @cached_property
    def newline(self) -> str:
        """The line ending of the text, by its first line."""
        at = next((n for n, char in enumerate(self.text) if char in "\r\n"), -1)
        return "\n" if at < 0 else "\r\n" if self.text[at : at + 2] == "\r\n" else self.text[at]

    @cached_property
    def _dashes(self) -> list[int]:
        return self._tokens(yaml.BlockEntryToken)

    @cached_property
    def commas(self) -> list[int]:
        return self._tokens(yaml.FlowEntryToken)

    def _tokens(self, kind: type[yaml.Token]) -> list[int]:
        tokens = yaml.scan(self.text, Loader=yaml.CSafeLoader)
        return [token.start_mark.index for token in tokens if isinstance(token, kind)]

    def end(self, node: yaml.Node) -> int:
        """Behind the last character that is part of a value, without comments and blank lines."""
        if isinstance(node, yaml.ScalarNode):
            return self._block_text_end(node) if node.style in ("|", ">") else _index(node, "end")
        if isinstance(node, yaml.MappingNode) and not in_brackets(node) and node.value:
            key, value = node.value[-1]
            return max(self.end(value), _index(key, "end"))
        if isinstance(node, yaml.SequenceNode) and not in_brackets(node) and node.value:
            return max(self.end(node.value[-1]), self._dashes_in(node)[-1] + 1)
        return _index(node, "end")

    def _block_text_end(self, node: yaml.ScalarNode) -> int:
        start, end = _index(node, "start"), _index(node, "end")
        text = self.text[start:end]
        header = text.splitlines()[0].split("#")[0]
        if "+" not in header:
            return start + len(text.rstrip(" \r\n"))
        # Its blank lines are part of it, all but the last line ending.
        return end - (2 if text.endswith("\r\n") else 1 if text[-1] in "\r\n" else 0)

    def _dashes_in(self, node: yaml.SequenceNode) -> list[int]:
        """The dash of each entry: the last one before its value that is not an inner list's."""
        first = _index(node, "start")
        column = node.start_mark.column
        found: list[int] = []
        at = bisect_left(self._dashes, first)
        for item in node.value:
            limit = max(_index(item, "start"), first + 1)
            while at < len(self._dashes) and self._column(self._dashes[at]) != column:
                at += 1
            found.append(self._dashes[at])
            at = bisect_left(self._dashes, max(limit, self.end(item)), at + 1)
        return found

    def _column(self, index: int) -> int:
        return index - self.line_start(index)

    def line_start(self, index: int) -> int:
        return max(self.text.rfind("\n", 0, index), self.text.rfind("\r", 0, index)) + 1

    def line_end(self, index: int) -> int:
        """Behind the last character of a line, before its line ending."""
        found = [self.text.find(char, index) for char in "\r\n"]
        return min((n for n in found if n >= 0), default=len(self.text))

    def after_line(self, index: int) -> int:
        end = self.line_end(index)
        return end + (2 if self.text[end : end + 2] == "\r\n" else 1 if end < len(self.text) else 0)

    def members(self, node: yaml.Node) -> list[Member]:
        """The keys of a map or the entries of a list, in file order."""
        known = self._members.get(id(node))
        if known is None:
            known = self._members[id(node)] = self._found_members(node)
        return known

    def _found_members(self, node: yaml.Node) -> list[Member]:
        if isinstance(node, yaml.MappingNode):
            return [
                Member(_index(k, "start"), max(_index(k, "end"), self.end(v)), k.value, v)
                for k, v in node.value
            ]
        if not isinstance(node, yaml.SequenceNode):
            return []
        if in_brackets(node):
            starts = [_index(item, "start") for item in node.value]
        else:
            starts = self._dashes_in(node)
        return [
            Member(start, max(start + (not in_brackets(node)), self.end(item)), name_of(item), item)
            for start, item in zip(starts, node.value, strict=True)
        ]

    def find(self, path: Path) -> yaml.Node:
        """The value at a path.

        Raises:
            NoSuchPlace: there is none.
        """
        node = self.root
        for n, step in enumerate(path):
            node = self.member(node, step, path[:n]).value
        return node

    def member(self, node: yaml.Node, step: str, above: Path = ()) -> Member:
        """The member of a map or list that a step of a path names.

        Raises:
            NoSuchPlace: there is none, or more than one.
        """
        members = self.members(node)
        if id(node) not in self._names:
            names = self._names[id(node)] = {}
            for n, member in enumerate(members):
                names.setdefault(member.key, []).append(n)
        found = self._names[id(node)].get(step, ())
        if len(found) == 1 and not step.startswith("#"):
            return members[found[0]]
        return members[position([m.key for m in members], step, is_list(node), above)]


def position(names: Sequence[str], step: str, in_list: bool, above: Path = ()) -> int:
    """Which of these names a step of a path means.

    Raises:
        NoSuchPlace: none of them, or more than one.
    """
    where = "/".join(above) or "the file"
    if in_list and step.startswith("#"):
        if step[1:].isdecimal() and 1 <= int(step[1:]) <= len(names):
            return int(step[1:]) - 1
        raise NoSuchPlace(f'{where} has {len(names)} entries, so no "{step}"')
    found = [n for n, name in enumerate(names) if name == step]
    if len(found) == 1:
        return found[0]
    if found:
        numbers = ", ".join(f"#{n + 1}" for n in found)
        raise NoSuchPlace(f'{where} has "{step}" {len(found)} times: say which by {numbers}')
    raise NoSuchPlace(f'{where} has no "{step}"')


def is_list(node: yaml.Node) -> bool:
    """Whether entries of this value have places, not keys."""
    return isinstance(node, yaml.SequenceNode)


def in_brackets(node: yaml.Node) -> bool:
    """Whether a list or map is written in brackets, not line by line."""
    return isinstance(node, yaml.CollectionNode) and bool(node.flow_style)


def quotes_of(node: yaml.Node) -> str:
    """The quotes around a text, if any; `|` or `>` before one of several lines."""
    return str(node.style or "") if isinstance(node, yaml.ScalarNode) else ""


def name_of(node: yaml.Node) -> str:
    """What an entry of a list answers to."""
    if isinstance(node, yaml.ScalarNode):
        return str(node.value)
    if isinstance(node, yaml.MappingNode):
        texts = {k.value: v.value for k, v in node.value if isinstance(v, yaml.ScalarNode)}
        return next((str(texts[key]) for key in ABOUT_KEYS if key in texts), "")
    return ""


def _index(node: yaml.Node, side: str) -> int:
    mark = node.start_mark if side == "start" else node.end_mark
    return int(mark.index)


def plain(node: yaml.Node) -> Any:
    """What a tree says: dicts, lists and scalars by YAML 1.2, apart from any comment or style."""
    if isinstance(node, yaml.MappingNode):
        return {str(key.value): plain(value) for key, value in node.value}
    if isinstance(node, yaml.SequenceNode):
        return [plain(item) for item in node.value]
    return node.value if quotes_of(node) else yaml12.plain_value(node.value)


def same(one: Any, other: Any) -> bool:
    """Whether two pieces of data say the same, the order of keys included; true is not 1."""
    if isinstance(one, dict) and isinstance(other, dict):
        return list(one) == list(other) and all(same(one[k], other[k]) for k in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, bool) or isinstance(other, bool) or isinstance(one, str):
        return type(one) is type(other) and bool(one == other)
    return bool(one == other)
