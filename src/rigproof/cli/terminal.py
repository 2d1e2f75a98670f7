"""Text on a terminal: rows that wrap, tables, colour where it can be seen, and clean characters.

Whatever is printed goes through `Screen.show`, so a name in a rig file cannot move the cursor,
colour the screen or turn the reading direction of what follows.
"""

import codecs
import os
import sys
import threading
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import Literal, NamedTuple, TextIO, TypeAlias

Tone = Literal["plain", "strong", "faint", "stop", "risk", "advice", "unknown", "good"]

_CODES: dict[Tone, str] = {
    "strong": "1",
    "faint": "2",
    "stop": "1;31",
    "risk": "1;33",
    "advice": "1;36",
    "unknown": "1;35",
    "good": "1;32",
}
_NARROWEST, _WIDEST, _OFF_TERMINAL = 40, 100, 88
# They turn the reading direction of everything after them.
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
# What a terminal of few characters gets in place of our own signs.
_PLAIN_SIGNS = {"→": "->", "–": "-", "·": "-", "…": "...", "×": "x", "Ω": "ohm", "µ": "u"}


class Row(NamedTuple):
    """One paragraph: wrapped at the width, its lines hanging under the first after `lead`."""

    text: str = ""
    indent: int = 0
    lead: str = ""
    tone: Tone = "plain"
    lead_tone: Tone = "plain"


class Table(NamedTuple):
    """Columns as wide as their content; the column `wraps` gives way where the screen is narrow."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    indent: int = 0
    wraps: int = 0
    right: frozenset[int] = frozenset()  # columns of figures


class Verbatim(NamedTuple):
    """A text as it is, for a file or a pipe; on a terminal its steering characters are shown."""

    text: str


Part: TypeAlias = Row | Table | Verbatim


class Screen(NamedTuple):
    """Where a command prints: how wide, and whether colours show."""

    out: TextIO
    width: int
    colour: bool
    terminal: bool

    def show(self, *parts: Part) -> None:
        """Print, and mind neither a reader who has left nor one with few characters."""
        write(self.out, "".join(map(self._text, parts)))

    def _text(self, part: Part) -> str:
        if isinstance(part, Verbatim):
            return "\n".join(map(clean, part.text.split("\n"))) if self.terminal else part.text
        return "".join(f"{line}\n" for line in self._lines(part))

    def _lines(self, part: Row | Table) -> Iterator[str]:
        if isinstance(part, Table):
            yield from self._table(part)
            return
        margin, lead, text = " " * part.indent, clean(part.lead), clean(part.text)
        hang = cells(lead)
        if text and hang > self.width // 3:  # a long path: the text runs on behind it
            hidden, hang = hang, 2
            first, *rest = wrapped("_" * (hidden - 1) + f" {text}", self.width - part.indent)
            lines = [first[hidden:], *wrapped(" ".join(rest), self.width - part.indent - hang)]
            lines = lines if rest else lines[:1]
        else:
            lines = wrapped(text, self.width - part.indent - hang)
        for number, line in enumerate(lines):
            front = self._toned(lead, part.lead_tone) if not number else " " * hang
            yield f"{margin}{front}{self._toned(line, part.tone)}".rstrip()

    def _table(self, table: Table) -> Iterator[str]:
        grid = [tuple(clean(cell) for cell in row) for row in (table.head, *table.rows)]
        kept = [c for c in range(len(table.head)) if any(row[c] for row in grid[1:])]
        widths = {c: max(cells(row[c]) for row in grid) for c in kept}
        spare = self.width - table.indent - sum(widths.values()) - 2 * (len(kept) - 1)
        if self.terminal and table.wraps in widths:  # a file or a pipe has all the width there is
            full = widths[table.wraps]
            widths[table.wraps] = min(full, max(12, full + spare))
        for number, row in enumerate(grid):
            broken = {c: wrapped(row[c], widths[c]) for c in kept}
            for line in range(max(len(lines) for lines in broken.values())):
                texts = [
                    _padded(
                        lines[line] if line < len(lines) else "", widths[c], right=c in table.right
                    )
                    for c, lines in broken.items()
                ]
                text = " " * table.indent + "  ".join(texts).rstrip()
                yield self._toned(text, "faint") if number == 0 else text

    def _toned(self, text: str, tone: Tone) -> str:
        code = _CODES.get(tone)
        return f"\x1b[{code}m{text}\x1b[0m" if self.colour and code and text.strip() else text


def screen(out: TextIO) -> Screen:
    """The screen behind a stream."""
    if not out.isatty():
        return Screen(out, _OFF_TERMINAL, colour=False, terminal=False)
    width = max(_NARROWEST, min(_columns(out) - 1, _WIDEST))
    return Screen(out, width, colour=_shows_colour(), terminal=True)


def _columns(out: TextIO) -> int:
    """How wide a terminal is; `COLUMNS` wins, as it does elsewhere."""
    stated = os.environ.get("COLUMNS", "")
    if stated.isdecimal() and int(stated):
        return int(stated)
    try:
        return os.get_terminal_size(out.fileno()).columns or 80
    except (OSError, ValueError):
        return 80


def _shows_colour() -> bool:
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return False
    # The old Windows console prints colour codes as rubbish; the newer terminal says who it is.
    return os.name != "nt" or "WT_SESSION" in os.environ


def write(out: TextIO, text: str) -> None:
    """Write text; a reader who has left (`| head`) is no fault."""
    try:
        out.write(text)
        out.flush()
    except OSError as error:
        _hush(out)
        # Windows says 22 of a closed pipe.
        if not isinstance(error, BrokenPipeError) and (os.name != "nt" or error.errno != 22):
            raise


def _hush(out: TextIO) -> None:
    """Let what is still to come go nowhere, also what Python flushes when it ends."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, out.fileno())
        os.close(nowhere)


def few_characters(error: UnicodeError) -> tuple[str, int]:
    """What stands in for characters that a stream cannot encode: plain signs, else their code."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    missing = error.object[error.start : error.end]
    return "".join(_PLAIN_SIGNS.get(sign) or _escaped(sign) for sign in missing), error.end


def prepare() -> None:
    """Make the standard streams print what they cannot encode in some other way, not fail."""
    codecs.register_error("rigproof", few_characters)
    # A program started without them (from a desktop, or with them closed) has None.
    sys.stdout = sys.stdout or open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115
    sys.stderr = sys.stderr or open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="rigproof")


def clean(text: str) -> str:
    """Text without characters that steer a terminal; they are shown as their codes."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(_escaped(sign) if _steers(sign) else sign for sign in text)


def _steers(sign: str) -> bool:
    return sign in _TURNING or unicodedata.category(sign) in {"Cc", "Cs", "Zl", "Zp"}


def _escaped(sign: str) -> str:
    number = ord(sign)
    if number < 0x100:
        return f"\\x{number:02x}"
    return f"\\u{number:04x}" if number < 0x10000 else f"\\U{number:08x}"


def cells(text: str) -> int:
    """How many columns a text fills: two for the wide characters of East Asian scripts."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(sign) else 2 if unicodedata.east_asian_width(sign) in "WF" else 1
        for sign in text
    )


def wrapped(text: str, width: int) -> list[str]:
    """The lines of a paragraph, each as far in as its first; `width` counts that in.

    A word longer than a line stays whole: it may be a path to copy.
    """
    words = text.lstrip(" ")
    margin = " " * (len(text) - len(words))
    return [f"{margin}{line}" for line in _filled(words, width - len(margin))]


def _filled(text: str, width: int) -> list[str]:
    lines: list[str] = []
    line, used = "", 0
    for word in text.split(" "):
        need = cells(word)
        if line and used + 1 + need > width:
            lines.append(line)
            line, used = word, need
        else:
            line = f"{line} {word}" if line else word
            used += need + (1 if used else 0)
    return [*lines, line]


def _padded(text: str, width: int, *, right: bool) -> str:
    space = " " * (width - cells(text))
    return space + text if right else text + space


def columns(pairs: Sequence[tuple[str, str]], *, indent: int = 2) -> Iterable[Row]:
    """Terms with their meanings, the meanings in one column."""
    width = max((cells(clean(term)) for term, _ in pairs), default=0)
    return [
        Row(text, indent, lead=_padded(term, width, right=False) + "  ") for term, text in pairs
    ]


@contextmanager
def working(what: str) -> Iterator[None]:
    """Tell a person at a terminal what takes so long, from the first second on."""
    out = sys.stderr
    if not out.isatty():
        yield
        return
    done = threading.Event()

    def tell() -> None:
        seconds = 1
        while not done.wait(1):
            write(out, f"\r{clean(what)} ... {seconds} s")
            seconds += 1
        if seconds > 1:
            write(out, "\r" + " " * (cells(what) + 12) + "\r")

    teller = threading.Thread(target=tell, daemon=True)
    teller.start()
    try:
        yield
    finally:
        done.set()
        teller.join()
