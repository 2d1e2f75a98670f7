"""YAML 1.2 text to plain data in which every mapping knows its place.

The parser is a library's; only the meaning of plain scalars is ours, because that library reads
`no`, `on` and `12:30` by the rules of YAML 1.1 (`no` would be false and `12:30` the number 750).
"""

import re
from typing import Any

import yaml

from rigproof.rig.entry import Spot
from rigproof.rig.quantity import PROVENANCES, Provenance, Quantity
from rigproof.rig.where import RigError, Where

LARGEST_BYTES = 16_000_000
DEEPEST = 40

# YAML 1.2.2, 10.3.2 core schema; integers in decimal only, because 010 is no channel number.
_INTEGER = re.compile(r"^[-+]?(?:0|[1-9]\d*)$")
_FLOAT = re.compile(r"^[-+]?(?:\.\d+|\d+(?:\.\d*)?)(?:[eE][-+]?\d+)?$")
_CONSTANTS = {"true": True, "false": False, "null": None, "~": None, "": None}

# A key that ends in one of these holds a figure: its value travels with a provenance.
UNITS = frozenset(
    [
        "mm",
        "m",
        "mm2",
        "kg",
        "wh",
        "db",
        "dbu",
        "dba",
        "ohm",
        "mw",
        "w",
        "watts",
        "v",
        "a",
        "ma",
        "s",
        "ms",
        "h",
        "hz",
        "mhz",
        "min",
        "uv",
        "pa",
        "eur",
        "units",
        "percent",
    ]
)
_MINUS_WORDS = frozenset({"units", "percent"})
# Figures whose key does not end in its unit.
_WITHOUT_SUFFIX = frozenset(
    {"watts", "watts_max", "volts_max", "power_factor", "pan"}
)


class _Composer(yaml.CSafeLoader):
    """No implicit types: every plain scalar arrives as the text it is."""

    yaml_implicit_resolvers: dict[str, Any] = {}  # noqa: RUF012 (the library's own class attribute)


_STR = "tag:yaml.org,2002:str"
_KNOWN_TAGS = {_STR, "tag:yaml.org,2002:map", "tag:yaml.org,2002:seq"}


def read(raw: bytes, file: str) -> tuple[Any, list[RigError]]:
    """Plain data (mappings as `Spot`) and the faults met on the way; None with a fatal fault."""
    text, fault = _decoded(raw, file)
    if fault is not None:
        return None, [fault]
    try:
        node = yaml.compose(text, Loader=_Composer)
    except yaml.MarkedYAMLError as error:
        return None, [_syntax_fault(error, text, file)]
    except yaml.YAMLError as error:
        return None, [_bare_fault(error, file)]
    except (RecursionError, MemoryError):
        return None, [_too_deep(Where(file))]
    if node is None:
        return None, [RigError(at=Where(file), says="the file is empty.", fix=_START)]
    reader = _Reader(file)
    return reader.value(node, "", "assumed", 0), reader.faults


_START = 'Start one with "rigproof new FOLDER".'


def _decoded(raw: bytes, file: str) -> tuple[str, RigError | None]:
    at = Where(file)
    if len(raw) > LARGEST_BYTES:
        return "", RigError(
            at=at,
            says=f"the file has {len(raw) / 1e6:.0f} MB; a rig has at most {LARGEST_BYTES / 1e6:.0f} MB.",
            fix="Is this the right file?",
        )
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "", RigError(
            at=at, says="the text is UTF-16.", fix="Save it as UTF-8 in your editor."
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        column = error.start - (raw.rfind(b"\n", 0, error.start) + 1) + 1
        return "", RigError(
            at=Where(file, line, column),
            says=f"byte 0x{raw[error.start]:02x} is not UTF-8 text.",
            fix="Save the file as UTF-8 in your editor.",
        )
    for index, char in enumerate(text):
        if char < " " and char not in "\n\r\t":
            line = text.count("\n", 0, index) + 1
            column = index - (text.rfind("\n", 0, index) + 1) + 1
            return "", RigError(
                at=Where(file, line, column),
                says=f"a control character (code {ord(char)}) stands here.",
                fix="Delete it; a text file holds none.",
            )
    return text, None


def _too_deep(at: Where) -> RigError:
    return RigError(
        at=at,
        says=f"lists and maps are nested more than {DEEPEST} deep.",
        fix="A rig needs about six levels; look for a bracket that is never closed.",
    )


def _bare_fault(error: yaml.YAMLError, file: str) -> RigError:
    return RigError(
        at=Where(file),
        says=f"this is not YAML text ({error}).",
        fix="Is this the right file?",
    )


def _syntax_fault(error: yaml.MarkedYAMLError, text: str, file: str) -> RigError:
    mark = error.problem_mark or error.context_mark
    at = Where(file, mark.line + 1, mark.column + 1) if mark else Where(file)
    lines = text.splitlines()
    if mark and mark.line < len(lines) and "\t" in lines[mark.line][: mark.column + 1]:
        return RigError(
            at=at, says="a tab indents this line.", fix="Indent with spaces."
        )
    problem = str(error.problem or "the text breaks off").removeprefix("found ")
    return RigError(
        at=at,
        says=f"the text cannot be read from here: {problem}.",
        fix="Often a colon, quote, bracket or indent in this line or the one before it.",
    )


class _Reader:
    def __init__(self, file: str) -> None:
        self.file = file
        self.faults: list[RigError] = []
        self.seen: set[int] = set()

    def at(self, node: yaml.Node) -> Where:
        return Where(self.file, node.start_mark.line + 1, node.start_mark.column + 1)

    def fault(self, node: yaml.Node, says: str, fix: str) -> None:
        self.faults.append(RigError(at=self.at(node), says=says, fix=fix))

    def value(self, node: yaml.Node, key: str, figures: Provenance, depth: int) -> Any:
        if isinstance(node, yaml.ScalarNode):
            return self.scalar(node, key, figures)
        if id(node) in self.seen:
            self.fault(
                node,
                "an alias (*) repeats this part.",
                "Write it out where it is needed.",
            )
            return None
        self.seen.add(id(node))
        if depth > DEEPEST:
            self.faults.append(_too_deep(self.at(node)))
            return None
        if node.tag not in _KNOWN_TAGS:
            self.fault(
                node, f'the tag "{node.tag}" means nothing here.', "Leave it out."
            )
        if isinstance(node, yaml.SequenceNode):
            return [self.value(item, key, figures, depth + 1) for item in node.value]
        assert isinstance(node, yaml.MappingNode)
        return self.mapping(node, key, figures, depth)

    def mapping(
        self, node: yaml.MappingNode, key: str, figures: Provenance, depth: int
    ) -> Spot:
        places: dict[str, tuple[int, int]] = {}
        mark = node.start_mark
        spot = Spot(Where(self.file, mark.line + 1, mark.column + 1, places))
        for name_node, value_node in node.value:
            if not isinstance(name_node, yaml.ScalarNode):
                self.fault(
                    name_node,
                    "a list or map stands where a key belongs.",
                    "Use a word.",
                )
                continue
            name = name_node.value
            place = (name_node.start_mark.line + 1, name_node.start_mark.column + 1)
            if name in places:
                first = places[name][0]
                self.fault(
                    name_node,
                    f'"{name}" is set twice here (first in line {first}).',
                    "Keep one.",
                )
                continue
            places[name] = place
            if name == "figures" and value_node.value in PROVENANCES:
                figures = value_node.value
        # A mapping under a figure's key is that figure spelled out: value, from, date, note.
        inner_key = key if _unit(key) else ""
        for name_node, value_node in node.value:
            if isinstance(name_node, yaml.ScalarNode) and name_node.value not in spot:
                name = name_node.value
                spot[name] = self.value(
                    value_node, inner_key or name, figures, depth + 1
                )
        if inner_key and "from" not in spot:
            spot["from"] = figures
        return spot

    def scalar(self, node: yaml.ScalarNode, key: str, figures: Provenance) -> Any:
        if id(node) in self.seen and node.value not in ("", None):
            self.fault(
                node,
                "an alias (*) repeats this part.",
                "Write it out where it is needed.",
            )
        self.seen.add(id(node))
        text = node.value
        if node.style or node.tag != _STR:
            if node.tag not in (_STR, "!"):
                self.fault(
                    node, f'the tag "{node.tag}" means nothing here.', "Leave it out."
                )
            return text
        if text in _CONSTANTS:
            return _CONSTANTS[text]
        number: int | float
        if _INTEGER.match(text) and len(text) < 18:
            number = int(text)
        elif _FLOAT.match(text):
            number = float(text)
        else:
            return text
        return Quantity(number, figures) if _unit(key) else number


def _unit(key: str) -> bool:
    head, _, tail = key.rpartition("_")
    if bool(head) and tail in UNITS and tail not in _MINUS_WORDS:
        return True
    return key in _WITHOUT_SUFFIX
