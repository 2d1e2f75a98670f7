"""Plain data as YAML text: quoted where quotes are needed, in the style of the text around it.

A word is left plain only where YAML 1.2 reads it back as itself. What merely looks like a number
to people or to older readers (`12:30`, `010`, `1_000`, a date) is quoted too.
"""

import math
import re
from collections.abc import Mapping, Sequence
from typing import TypeAlias

from rigproof.rigfile.yaml12 import plain_value

Plain: TypeAlias = "bool | int | float | str | Sequence[Plain] | Mapping[str, Plain] | None"

# Begins with a letter or digit of any script; then anything printable but the signs of YAML.
_PLAIN = re.compile(
    r"[^\W_](?:[^\x00-\x1f\x7f-\xa0#:,\[\]{}\u2028\u2029\ufeff]|:(?=[^\s,\[\]{}]))*"
)
# A range such as 7-8 looks like nothing else; a date or a clock time does.
_LIKE_A_NUMBER = re.compile(
    r"(?![1-9][0-9]{0,3}-[1-9][0-9]{0,3}$)[-+.]?[0-9][0-9_:.,/xXoOeETtZz+-]*[0-9a-fA-FZ]*"
)
_ESCAPES = {"\n": "\\n", "\t": "\\t", "\r": "\\r", '"': '\\"', "\\": "\\\\", "\0": "\\0"}
LONGEST_KEY = 1000  # a parser looks no further than 1024 characters for the colon of a key
LINE_LENGTH = 96


class NoText(ValueError):
    """A value that no rig file can hold; says why."""


def inline(value: Plain, quote: str = "") -> str:
    """A value on one line; a text keeps the quotes (`quote`) its predecessor had."""
    if isinstance(value, str):
        return _text(value, quote)
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return _number(value)
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key_text(k)}: {inline(v)}" for k, v in value.items()) + "}"
    return "[" + ", ".join(map(inline, value)) + "]"


def key_text(key: str) -> str:
    """A key as text."""
    if len(key) > LONGEST_KEY:
        raise NoText(f"a key of {len(key)} characters is too long")
    return _text(key, "")


def _number(value: float) -> str:
    if isinstance(value, int):
        if abs(value) >= 10**17:
            raise NoText("a number of more than 17 digits is no figure")
        return str(value)
    if not math.isfinite(value):
        raise NoText(f"{value} is no figure")
    number = float(value)  # a figure with its provenance shows itself in another way
    return str(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)


def _text(text: str, quote: str) -> str:
    if quote != '"' and not quote and _stays_plain(text):
        return text
    if quote == "'" and text.isprintable():
        return "'" + text.replace("'", "''") + "'"
    return '"' + "".join(map(_escaped, text)) + '"'


def _stays_plain(text: str) -> bool:
    return (
        _PLAIN.fullmatch(text) is not None
        and text == text.strip()
        and isinstance(plain_value(text), str)
        and _LIKE_A_NUMBER.fullmatch(text) is None
        and text.isprintable()
    )


def _escaped(char: str) -> str:
    if char in _ESCAPES:
        return _ESCAPES[char]
    if char.isprintable():
        return char
    code = ord(char)
    if 0xD800 <= code <= 0xDFFF:
        raise NoText("half a character (a lone surrogate) is no text")
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def block(value: Plain, indent: int) -> list[str]:
    """A list or map over several lines, the first without its indent."""
    pad = " " * indent
    lines: list[str] = []
    if isinstance(value, Mapping):
        for key, part in value.items():
            lines += entry_lines(key, part, indent)
    elif isinstance(value, Sequence) and not isinstance(value, str):
        for part in value:
            lines += item_lines(part, indent, "- ", flow=fits_inline(part, indent + 2))
    return [line if n == 0 else pad + line for n, line in enumerate(lines)]


def entry_lines(key: str, value: Plain, indent: int) -> list[str]:
    """`key: value` over as many lines as it needs, all without the indent."""
    name = key_text(key)
    if fits_inline(value, indent + len(name) + 2):
        return [f"{name}: {inline(value)}"]
    step = 2
    inner = block(value, indent + step)
    pad = " " * step
    return [f"{name}:", *(pad + line[indent + step if n else 0 :] for n, line in enumerate(inner))]


def item_lines(value: Plain, indent: int, dash: str, *, flow: bool) -> list[str]:
    """`- value` over as many lines as it needs, all without the indent."""
    if flow or not isinstance(value, Mapping) or not value:
        return [dash + inline(value)]
    width = indent + len(dash)
    inner = block(value, width)
    pad = " " * len(dash)
    return [dash + inner[0], *(pad + line[width:] for line in inner[1:])]


def fits_inline(value: Plain, column: int) -> bool:
    """Whether a value is better on one line: no list of maps in it, and short enough."""
    if not isinstance(value, Mapping | Sequence) or isinstance(value, str) or not value:
        return True
    if isinstance(value, Sequence) and any(isinstance(part, Mapping) for part in value):
        return False
    return column + len(inline(value)) <= LINE_LENGTH and _depth(value) <= 2


def _depth(value: Plain) -> int:
    if isinstance(value, str) or not isinstance(value, Mapping | Sequence):
        return 0
    parts = value.values() if isinstance(value, Mapping) else value
    return 1 + max(map(_depth, parts), default=0)
