"""What a page of figures is made of: sentences, tables, cautions; set by `numbers.typ`.

A cell is a text with the provenance of its figure beside it. Long texts stand under another key
than short ones, because paper holds more of a remark than of a name.
"""

from collections.abc import Iterable, Sequence

from rigproof.rig.quantity import Quantity
from rigproof.rig.spread import Likely

Cell = dict[str, str]
Block = dict[str, object]
MINUS = "\u2212"
DASH = "\u2013"


def plain(value: float, decimals: int = 1) -> str:
    """A figure to so many decimals, with a true minus sign and no minus before a nought.

    >>> plain(-0.04), plain(-12.34)
    ('0.0', '\u221212.3')
    """
    text = f"{value:.{decimals}f}"
    if not text.strip("-0."):
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def signed(value: float, decimals: int = 1) -> str:
    """A gain: its sign always shows.

    >>> signed(3), signed(-3)
    ('+3.0', '\u22123.0')
    """
    text = plain(value, decimals)
    return text if text.startswith(MINUS) else f"+{text}"


def between(low: float, high: float, decimals: int = 1) -> str:
    """A likely range."""
    return f"{plain(low, decimals)} to {plain(high, decimals)}"


def cell(text: str, provenance: str = "") -> Cell:
    """A short text or a figure, and what the figure is worth."""
    return {"v": text, "p": provenance}


def remark(text: str, provenance: str = "") -> Cell:
    """A text that may be a sentence long."""
    return {"note": text, "p": provenance}


def figure(value: Quantity | None, unit: str = "", decimals: int = 1) -> Cell:
    """A stated figure; a dash where nobody states it."""
    if value is None:
        return cell(DASH)
    return cell(f"{plain(float(value), decimals)}{unit}", value.provenance)


def ranged(found: Likely | None, decimals: int = 0) -> Cell:
    """A figure with its likely range; a dash where nobody states it."""
    if found is None:
        return cell(DASH)
    value = plain(found.value, decimals)
    if found.low == found.high:
        return cell(value, found.provenance)
    return cell(f"{value} ({between(found.low, found.high, decimals)})", found.provenance)


def needs(names: Iterable[str], most: int = 3) -> str:
    """What a figure waits for, in the words that every sheet has for it."""
    row = list(dict.fromkeys(names))
    more = f" and {len(row) - most} more" if len(row) > most else ""
    return f"cannot judge: needs {', '.join(row[:most])}{more}"


def column(title: str, fr: float = 1, *, unit: str = "") -> dict[str, object]:
    """A column of words."""
    return {"title": title, "unit": unit, "fr": fr, "right": False}


def numbers(title: str, fr: float = 1, *, unit: str = "") -> dict[str, object]:
    """A column of figures, set to the right."""
    return {"title": title, "unit": unit, "fr": fr, "right": True}


def table(
    columns: Sequence[dict[str, object]],
    rows: Sequence[Sequence[Cell]],
    foot: Sequence[Cell] = (),
) -> Block:
    """A table; its last line, where there is one, is a sum and stands out."""
    return {
        "kind": "table",
        "columns": list(columns),
        "rows": [list(row) for row in rows],
        "foot": list(foot),
    }


def say(text: str) -> Block:
    """A sentence."""
    return {"kind": "say", "text": text}


def run(text: str, provenance: str) -> Block:
    """Many figures of one worth in running text: names, each with its figure."""
    return {"kind": "run", "said": text, "p": provenance}


def heading(title: str) -> Block:
    """A heading within a chapter."""
    return {"kind": "heading", "title": title}


def new_page(title: str) -> Block:
    """A heading at the head of a new page, but for the first of a chapter."""
    return {"kind": "page", "title": title}


def facts(pairs: Sequence[tuple[str, str, str]]) -> Block:
    """The few figures that matter most: label, figure, remark."""
    return {
        "kind": "facts",
        "rows": [{"label": a, "value": b, "note": c} for a, b, c in pairs],
    }


def left_out(text: str) -> Block:
    """What a page does not count."""
    return {"kind": "left-out", "text": text}


def caution(title: str, text: str) -> Block:
    """The usual caution where something can hurt somebody."""
    return {"kind": "caution", "title": title, "text": text}
