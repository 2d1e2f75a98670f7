"""YAML 1.2 text to plain data in which every mapping knows its place.

The parser is a library's; only the meaning of plain scalars is ours, because that library reads
`no`, `on` and `12:30` by the rules of YAML 1.1 (`no` would be false and `12:30` the number 750).
"""

import operator
import re
from functools import lru_cache
from typing import Any

import yaml

from rigproof.rig.collecting import no_collecting
from rigproof.rig.entry import Spot
from rigproof.rig.quantity import PROVENANCES, Provenance, Quantity
from rigproof.rig.where import RigError, Where

LARGEST_BYTES = 16_000_000
# Marks that begin a value, counted before any is read: 16 MB of "[]," would cost minutes and GBs.
MOST_MARKS = 2_000_000
DEEPEST = 40
MOST_FAULTS = 500

# YAML 1.2.2, 10.3.2 core schema; integers in decimal only, because 010 is no channel number.
_INTEGER = re.compile(r"^[-+]?(?:0|[1-9][0-9]*)$")
_FLOAT = re.compile(r"^[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?$")
_BEGINS_NUMBER = frozenset("0123456789+-.")
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
        "dbm",
        "degc",
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
    {
        *("watts", "watts_max", "volts_max", "volts_tolerance_percent", "power_factor", "pan"),
        "turns_ratio",
    }
)


_STR = "tag:yaml.org,2002:str"
_TAG_OF: dict[type[yaml.Node], str] = {
    yaml.ScalarNode: _STR,
    yaml.SequenceNode: "tag:yaml.org,2002:seq",
    yaml.MappingNode: "tag:yaml.org,2002:map",
}
_KNOWN_TAGS = frozenset(_TAG_OF.values())


class _Composer(yaml.CSafeLoader):
    """No implicit types: every plain scalar arrives as the text it is."""

    yaml_implicit_resolvers: dict[str, Any] = {}  # noqa: RUF012 (the library's own class attribute)

    def resolve(self, kind: type[yaml.Node], _value: Any, _implicit: Any) -> str:
        """The tag of a node that wears none: with no implicit types its kind decides."""
        return _TAG_OF[kind]

    # Asked at every node whether types are set by the way there. None are, and to be told so by
    # the library's own methods is a tenth of the reading.
    descend_resolver: Any = staticmethod(operator.is_)
    ascend_resolver: Any = staticmethod(bool)


def read(raw: bytes, file: str) -> tuple[Any, list[RigError]]:
    """Plain data (mappings as `Spot`) and the faults met on the way; None with a fatal fault."""
    text, fault = _decoded(raw, file)
    if fault is not None:
        return None, [fault]
    try:
        with no_collecting():
            node = compose(text)
    except yaml.MarkedYAMLError as error:
        return None, [_syntax_fault(error, text, file)]
    except yaml.YAMLError as error:
        return None, [_bare_fault(error, file)]
    except (RecursionError, MemoryError):
        return None, [_too_deep(Where(file))]
    if node is None:
        return None, [RigError(at=Where(file), says="the file is empty.", fix=_START)]
    reader = _Reader(file, aliases="*" in text)
    try:
        with no_collecting():
            data = reader.value(node, "", "assumed", 0)
    except _TooManyFaults:
        return None, reader.faults
    if data is None and not reader.faults:
        reader.faults.append(RigError(at=Where(file), says="the file is empty.", fix=_START))
    return data, reader.faults


def compose(text: str) -> yaml.Node | None:
    """The tree of a text, every node with its first and last character; plain scalars unread.

    Raises:
        yaml.YAMLError: the text is no YAML.
    """
    node: yaml.Node | None = yaml.compose(text, Loader=_Composer)
    return node


class _TooManyFaults(Exception):
    """What stands in the file is no rig at all; the first faults say enough."""


def plain_value(text: str) -> bool | int | float | str | None:
    """What a plain scalar means by the core schema of YAML 1.2."""
    if text in _CONSTANTS:
        return _CONSTANTS[text]
    if text[0] not in _BEGINS_NUMBER:
        return text
    if _INTEGER.match(text) and len(text) < 18:
        return int(text)
    if _FLOAT.match(text):
        return float(text)
    return text


_START = 'Start one with "rigproof new FOLDER".'


def _decoded(raw: bytes, file: str) -> tuple[str, RigError | None]:
    at = Where(file)
    if len(raw) > LARGEST_BYTES:
        return "", RigError(
            at=at,
            says=f"the file has {len(raw) / 1e6:.0f} MB; "
            f"a rig has at most {LARGEST_BYTES / 1e6:.0f} MB.",
            fix="Is this the right file?",
        )
    # Latin letters in UTF-16 are every other byte a NUL, marked as such or not.
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")) or raw[:200].count(0) * 3 > len(raw[:200]):
        return "", RigError(
            at=at, says="the text is UTF-16, not UTF-8.", fix="Save it as UTF-8 in your editor."
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8-sig")
        return "", RigError(
            at=_place(file, before, len(before)),
            says=f"a letter here is not UTF-8 text (byte 0x{raw[error.start]:02x}).",
            fix="Save the file as UTF-8 in your editor.",
        )
    bad = _NO_TEXT.search(text)
    if bad:
        return "", RigError(
            at=_place(file, text, bad.start()),
            says=f"an invisible control character (code {ord(bad[0])}) stands here.",
            fix="Delete it, or type the word before it anew.",
        )
    marks = sum(map(text.count, ",:\n?[{"))
    if marks > MOST_MARKS:
        return "", RigError(
            at=at,
            says=f"the file holds about {marks / 1e6:.1f} million values, far more than any rig.",
            fix="Is this the right file?",
        )
    return text, None


# What YAML 1.2.2 (5.1) keeps out of a text, and the two characters that are none at all.
_NO_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ufffe\uffff]")


def _place(file: str, text: str, index: int) -> Where:
    lines = _LINE_END.split(text[:index])
    return Where(file, len(lines), len(lines[-1]) + 1)


_LINE_END = re.compile(r"\r\n|\r|\n")


def cut(text: str) -> str:
    """A text as a message can show it: on one line, and not without end."""
    line = "".join(char if char.isprintable() else ascii(char)[1:-1] for char in text[:41])
    return f"{line[:40]}..." if len(text) > 40 else line


def _tag(tag: str) -> str:
    return cut(tag.replace("tag:yaml.org,2002:", "!!"))


def _too_deep(at: Where) -> RigError:
    return RigError(
        at=at,
        says=f"lists and maps are nested more than {DEEPEST} deep.",
        fix="A rig needs about six levels; look for a bracket that is never closed.",
    )


def _bare_fault(error: yaml.YAMLError, file: str) -> RigError:
    return RigError(
        at=Where(file),
        says=f"this is not YAML text ({error}).".replace("\n", " "),
        fix="Is this the right file?",
    )


# What the parser finds, in a musician's words: what is wrong, what to do.
_SYNTAX = {
    "mapping values are not allowed": (
        "there is a second colon in this line, or this line is indented too far.",
        'Put text that holds ": " in quotes, or line this up with the key above.',
    ),
    "did not find expected key": (
        "this line does not line up with the ones before it.",
        "Give it the same indent as the line it belongs with, and look for a stray quote.",
    ),
    "did not find expected '-' indicator": (
        "this line does not belong to the list above it.",
        "Begin it with a dash in the list's column, or with less indent.",
    ),
    "could not find expected ':'": (
        "a key without a colon stands before this place.",
        "Write key: value, with a space behind the colon; an entry of a list begins with a dash.",
    ),
    "did not find expected ',' or '": (
        "a bracket opened before this place is not closed, or a comma is missing.",
        "Look for the [ or { and close it; put commas between the values.",
    ),
    "did not find expected node content": (
        "a value is missing between brackets or commas.",
        "Delete the extra comma, or close the bracket.",
    ),
    "unexpected end of stream": (
        "a quote or bracket opened before this place is never closed.",
        "Close it.",
    ),
    "unexpected document indicator": (
        "a line of three dashes or dots breaks off a quoted text.",
        "Close the quote before it.",
    ),
    "but found another document": (
        "the line --- starts a second document; a rig file holds one.",
        "Delete that line, or move the rest to a file of its own.",
    ),
    "cannot start any token": (
        "no value can begin with this character.",
        "Put the text in quotes.",
    ),
    "undefined alias": (
        "a word that begins with * stands for a part that no & names.",
        "Put text that begins with * in quotes.",
    ),
    "undefined tag handle": ("a word that begins with ! is a tag.", "Put the text in quotes."),
    "tab character": ("a tab indents this line.", "Indent with spaces."),
    "found duplicate anchor": (
        "two parts carry the same & name.",
        "Leave out the & names; text that begins with & goes in quotes.",
    ),
    "unknown escape character": (
        "this backslash in double quotes means nothing.",
        "Write it twice, or use single quotes.",
    ),
    "incompatible YAML document": (
        "the line %YAML names a version this program does not read.",
        "Delete that line.",
    ),
    "block sequence entries are not allowed": (
        "a list cannot begin in this place.",
        "Begin it on the next line, one dash per line, or write [a, b].",
    ),
    "block mapping": (
        "the indent is off.",
        "Line the keys of one entry up under each other.",
    ),
}


def _syntax_fault(error: yaml.MarkedYAMLError, text: str, file: str) -> RigError:
    mark = error.problem_mark or error.context_mark
    at = Where(file)
    if mark:
        # The parser counts the end of the text as a line of its own.
        lines = text.splitlines() or [""]
        line = min(mark.line, len(lines) - 1)
        at = Where(file, line + 1, mark.column + 1 if line == mark.line else len(lines[line]) + 1)
        if "\t" in lines[line][: mark.column + 1].split("#")[0]:
            says, fix = _SYNTAX["tab character"]
            return RigError(at=at, says=says, fix=fix)
        if lines[line][: mark.column].rstrip().endswith(("}", "]")):
            return RigError(
                at=at,
                says="something stands behind the closing bracket.",
                fix="Take the bracket away, or what stands behind it.",
            )
    problem = str(error.problem or "the text breaks off").removeprefix("found ")
    if "maximum nesting depth" in problem:
        return _too_deep(at)
    for found, (says, fix) in _SYNTAX.items():
        if found in problem:
            return RigError(at=at, says=says, fix=f"{fix}{_open_quote(text, at)}")
    return RigError(
        at=at,
        says=f"the text cannot be read from here: {problem}.",
        fix="Often a colon, quote, bracket or indent in this line or the one before it.",
    )


def _open_quote(text: str, at: Where) -> str:
    """A hint at a quote that is opened and not closed in its line, at or before a fault.

    The parser notices it only at the next quote, which may be pages on.
    """
    for number, line in enumerate(text.splitlines()[: at.line], 1):
        bare = line.replace('\\"', "").split(" #")[0]
        if bare.count('"') % 2:
            return f" Or close the quote in line {number}."
    return ""


class _Reader:
    def __init__(self, file: str, *, aliases: bool) -> None:
        self.file = file
        self.aliases = aliases  # whether the text can have any
        self.faults: list[RigError] = []
        self.seen: set[int] = set()

    def at(self, node: yaml.Node) -> Where:
        return Where(self.file, node.start_mark.line + 1, node.start_mark.column + 1)

    def fault(self, node: yaml.Node, says: str, fix: str) -> None:
        self.add(RigError(at=self.at(node), says=says, fix=fix))

    def add(self, fault: RigError) -> None:
        self.faults.append(fault)
        if len(self.faults) == MOST_FAULTS:
            rest = RigError(
                at=fault.at,
                says=f"the first {MOST_FAULTS} faults end here; the rest of the file was not read.",
                fix="Mend these first, or look whether this is the right file.",
            )
            self.faults.append(rest)
            raise _TooManyFaults

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
            self.add(_too_deep(self.at(node)))
            return None
        if node.tag not in _KNOWN_TAGS:
            self.fault(node, f'the tag "{_tag(node.tag)}" means nothing here.', "Leave it out.")
        if isinstance(node, yaml.SequenceNode):
            return [self.value(item, key, figures, depth + 1) for item in node.value]
        assert isinstance(node, yaml.MappingNode)
        return self.mapping(node, key, figures, depth)

    def mapping(self, node: yaml.MappingNode, key: str, figures: Provenance, depth: int) -> Spot:
        places: dict[str, tuple[int, int]] = {}
        pairs: list[tuple[str, yaml.Node]] = []
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
            # The text as a whole has none; only an escape within double quotes makes one.
            if name_node.style == '"' and _NO_TEXT.search(name):
                self.fault(name_node, "this key holds a control character.", "Use a plain word.")
                pairs.append((name, value_node))
                continue
            if name in places:
                first = places[name][0]
                self.fault(
                    name_node,
                    f'"{cut(name)}" is set twice here (first in line {first}).',
                    "Keep one.",
                )
                continue
            at = name_node.start_mark
            places[name] = (at.line + 1, at.column + 1)
            pairs.append((name, value_node))
            if name == "figures" and value_node.value in PROVENANCES:
                figures = value_node.value
        # A mapping under a figure's key is that figure spelled out: value, from, date, note.
        inner_key = key if _unit(key) else ""
        for name, value_node in pairs:
            if name not in spot:
                if isinstance(value_node, yaml.ScalarNode):
                    spot[name] = self.scalar(value_node, inner_key or name, figures)
                else:
                    spot[name] = self.value(value_node, inner_key or name, figures, depth + 1)
        if inner_key and "from" not in spot:
            spot["from"] = figures
        return spot

    def scalar(self, node: yaml.ScalarNode, key: str, figures: Provenance) -> Any:
        text = node.value
        if self.aliases:
            if id(node) in self.seen and text not in ("", None):
                self.fault(
                    node,
                    "an alias (*) repeats this part.",
                    "Write it out where it is needed.",
                )
            self.seen.add(id(node))
        bad = _NO_TEXT.search(text) if node.style == '"' else None
        if bad:
            self.fault(
                node,
                f"this text holds a control character (code {ord(bad[0])}).",
                "Delete the backslash and what stands for the character behind it.",
            )
        if node.style or node.tag != _STR:
            if node.tag not in (_STR, "!"):
                self.fault(node, f'the tag "{_tag(node.tag)}" means nothing here.', "Leave it out.")
            return text
        meaning = plain_value(text)
        if isinstance(meaning, bool) or not isinstance(meaning, int | float):
            return meaning
        return Quantity(meaning, figures) if _unit(key) else meaning


@lru_cache(1024)
def _unit(key: str) -> bool:
    head, _, tail = key.rpartition("_")
    if bool(head) and tail in UNITS and tail not in _MINUS_WORDS:
        return True
    return key in _WITHOUT_SUFFIX
