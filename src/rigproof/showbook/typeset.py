"""From a page template and plain data to a PDF, or to pictures of its pages.

Whatever a user typed reaches a template as a value inside one JSON text, and a value is never
read as markup: a band may be called `#eval("x")` and that is what is printed. Templates must not
hand data to `eval`; a test reads them all.

The same data give the same bytes: no clock, no fonts of the machine, no network.
"""

import hashlib
import json
import math
import re
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from functools import cache, cached_property
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Literal

import msgspec

from rigproof.showbook import aside
from rigproof.showbook.glyphs import FONT_DIR, as_printed, printable

if TYPE_CHECKING:
    import typst

TEMPLATE_DIR = Path(__file__).parent

_ANY_DPI = 96.0  # the typesetter wants a number even where nothing is drawn in dots
_Form = Literal["pdf", "png", "svg"]


class Written(msgspec.Struct, frozen=True):
    """A part of the data as the text that the typesetter reads; it can be kept, and used again."""

    text: str


class TypesettingError(Exception):
    """A sheet could not be set. This is a fault of the program or of its installation.

    Nothing a user writes in a rig file should be able to cause it.
    """

    def __init__(self, template: str, says: str, hints: Sequence[str] = ()) -> None:
        self.template = template
        self.says = says
        self.hints = tuple(hints)
        advice = "".join(f"\n  {hint}" for hint in self.hints)
        super().__init__(
            f'the sheet "{template}" could not be set: {says}{advice}\n'
            "  This is a fault in Rigproof, not in your rig. Please report it with this message."
        )


def pdf(template: str | bytes, data: Mapping[str, object]) -> bytes:
    """Set a template with these data as a tagged, accessible PDF (PDF/UA-1).

    `template` is a file in this package ("book.typ"), or the text of a template as bytes, which
    may `#import "/style.typ"`. It finds its data with `#let d = json(bytes(sys.inputs.data))`.

    `data` holds strings, numbers, booleans, None, and mappings and sequences of them, or under a
    key of its own a list of parts that were `written` before. Keys are sorted on the way: whatever
    has an order belongs in a list. Strings come out as `printable` makes them; ask `unprintable`
    first if the user should hear about it.
    """
    return begin(template, data)()


def begin(template: str | bytes, data: Mapping[str, object]) -> Callable[[], bytes]:
    """Begin to set a PDF as `pdf` does; call what is returned to have it.

    The caller may do something else meanwhile.
    """
    pages = _begin(template, data, "pdf", _ANY_DPI)
    return lambda: pages()[0]


def written(value: object) -> Written:
    """A part of some data, written for any template."""
    return Written(_as_json("(a part of a sheet)", value))


def pages_png(
    template: str | bytes, data: Mapping[str, object], *, dots_per_inch: float = 96.0
) -> tuple[bytes, ...]:
    """Each page as a PNG picture."""
    return _begin(template, data, "png", dots_per_inch)()


def pages_svg(template: str | bytes, data: Mapping[str, object]) -> tuple[str, ...]:
    """Each page as an SVG drawing, its letters as outlines: it needs no font where it is shown."""
    return tuple(page.decode("utf-8") for page in _begin(template, data, "svg", _ANY_DPI)())


def _begin(
    template: str | bytes, data: Mapping[str, object], form: _Form, dots_per_inch: float
) -> Callable[[], tuple[bytes, ...]]:
    name = template if isinstance(template, str) else "(a template given as text)"
    text = _with_data(template, _document(name, data))
    press = _press(name)
    return press.thread.submit(press.pages, name, text, form, dots_per_inch).result


@cache
def _fonts() -> "typst.Fonts":
    import typst

    return typst.Fonts(include_system_fonts=False, font_paths=[FONT_DIR])


class _Press:
    """A compiler, which works on one document at a time, in a thread of its own."""

    def __init__(self) -> None:
        self.thread = aside.thread("press")
        self._last: dict[str, tuple[bytes, tuple[bytes, ...]]] = {}

    @cached_property
    def _compiler(self) -> "typst.Compiler":
        import typst

        return typst.Compiler(root=TEMPLATE_DIR, font_paths=_fonts())

    def pages(self, name: str, text: bytes, form: _Form, dots_per_inch: float) -> tuple[bytes, ...]:
        """The document, or each of its pages. The last document of each template is kept."""
        key = hashlib.sha256(text).digest()
        last = self._last.get(name)
        if form == "pdf" and last is not None and last[0] == key:
            return last[1]
        made = self._set(name, text, form, dots_per_inch)
        if form == "pdf":
            self._last[name] = key, made
        return made

    def _set(self, name: str, text: bytes, form: _Form, dots_per_inch: float) -> tuple[bytes, ...]:
        import typst

        try:
            if form == "pdf":
                made = self._compiler.compile(text, format="pdf", timestamp=0, pdf_standards="ua-1")
            else:
                made = self._compiler.compile(text, format=form, timestamp=0, ppi=dots_per_inch)
        except typst.TypstError as error:
            raise TypesettingError(name, _first_place(error), error.hints) from error
        except (OSError, RuntimeError, ValueError) as error:
            raise TypesettingError(name, str(error)) from error
        if made is None:
            raise TypesettingError(name, "the typesetter returned no pages")
        return (made,) if isinstance(made, bytes) else tuple(made)


# Papers share sheets and pictures, and one press sets each once. With labels they have nothing in
# common: those are set beside them.
_BESIDE = frozenset({"labels.typ"})
_presses: dict[str, _Press] = {}
_one_at_a_time = Lock()


def _press(name: str) -> _Press:
    key = name if name in _BESIDE else ""
    with _one_at_a_time:
        if key not in _presses:
            _presses[key] = _Press()
        return _presses[key]


def _with_data(template: str | bytes, data: str) -> bytes:
    """The template with its data as one quoted text, under the name `sys.inputs.data`.

    Inputs handed to the typesetter itself count as a part of its library: with each new value it
    would forget every layout, and a book with one name changed would cost as much as a new one.
    """
    quoted = data.replace("\\", "\\\\").replace('"', '\\"')
    # On the first line, so that a complaint still names the right one.
    return b'#let sys = (inputs: (data: "%s"));' % quoted.encode() + _source(template)


def _source(template: str | bytes) -> bytes:
    if isinstance(template, bytes):
        return template
    main = TEMPLATE_DIR / template
    if Path(template).name != template or not main.is_file():
        raise TypesettingError(template, "there is no such sheet in this installation")
    return main.read_bytes()


def _first_place(error: "typst.TypstError") -> str:
    """The message and the first line of the diagnosis, which holds file and line."""
    place = next((line.strip() for line in error.diagnostic.splitlines() if "┌─" in line), "")
    return f"{error.message} ({place.removeprefix('┌─').strip()})" if place else error.message


def _document(template: str, data: Mapping[str, object]) -> str:
    """All data as one JSON text; parts that are written already are put in as they are."""
    parts = {
        key: [one.text for one in value if isinstance(one, Written)]
        for key, value in sorted(data.items())
        if isinstance(value, list) and value and isinstance(value[0], Written)
    }
    rest = _as_json(template, {key: value for key, value in data.items() if key not in parts})
    more = "".join(f"{json.dumps(key)}:[{','.join(texts)}]," for key, texts in parts.items())
    return f"{{{more}{rest[1:]}" if rest != "{}" else f"{{{more[:-1]}}}"


def _as_json(template: str, data: object) -> str:
    # Nearly always everything can be set as it stands, and a look at the whole text tells.
    with suppress(TypeError, ValueError):
        text = _json(data)
        odd = _ESCAPED.search(text) or any(sign in text for sign in _SIGNS)
        if not odd and as_printed(text):
            return text
    return _json(_plain(template, data, "data"))


# What is left of spaces and control signs that are no plain space and no new line. Each is looked
# for by itself: to look at every letter for any of them takes twenty times as long.
_ESCAPED = re.compile(r"\\[bfrtu]")
_SIGNS = "\x7f\x85\u2028\u2029"


def _json(data: object) -> str:
    return json.dumps(
        data, ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":")
    )


def _plain(template: str, value: object, at: str) -> object:
    """The value with every string made printable; refuse what JSON cannot carry unchanged."""
    if value is None or isinstance(value, bool | int):
        return value
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, float):
        if math.isfinite(value):
            return value
        raise TypesettingError(template, f"{at} is {value}, which is no number to print")
    if isinstance(value, Mapping):
        return {str(key): _plain(template, one, f"{at}.{key}") for key, one in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, bytes | bytearray):
        return [_plain(template, one, f"{at}[{place}]") for place, one in enumerate(value)]
    raise TypesettingError(template, f"{at} is a {type(value).__name__}, which a sheet cannot take")
