"""Metric places of a sentence in feet, inches and pounds.

A sentence names its unit beside the place of a figure, "{length_m:g} m"; a place that stands alone
bears it at the end of its name. Figures come out as fine as they were told or finer, so that two
that differ in metres differ in feet.
"""

import re
from collections.abc import Mapping
from typing import Literal

from rigproof.wording.sentences import Figure

Measures = Literal["metric", "imperial"]

FEET_PER_METRE = 1 / 0.3048  # international foot: 0.3048 m exactly
INCHES_PER_MM = 1 / 25.4  # exactly
POUNDS_PER_KG = 1 / 0.45359237  # international pound: 0.45359237 kg exactly

# By metric unit: the other unit, how many of them make one, and decimals to add.
_OTHER: Mapping[str, tuple[str, float, int]] = {
    "mm": ("in", INCHES_PER_MM, 2),
    "cm": ("in", 10 * INCHES_PER_MM, 1),
    "m": ("ft", FEET_PER_METRE, 1),
    "kg": ("lb", POUNDS_PER_KG, 0),
}
_UNITS = "|".join(_OTHER)
_PLACE = re.compile(
    rf"\{{(\w+)(?::[^{{}}]*?(?:\.(\d))?[a-z]?)?\}}(?! m[²2])(?:([ \u00a0])({_UNITS})(?!\w))?"
)
_WRITTEN = re.compile(rf"(?<![\w.,{{])(\d+)(?:[.,](\d+))?([ \u00a0])({_UNITS})(?!\w)")
_TWO_PLACES = "{text0} {text1}"


def imperial(
    pattern: str, values: Mapping[str, object], decimal_sign: str = "."
) -> tuple[str, Mapping[str, object]]:
    """A sentence and its values in feet, inches and pounds.

    Derived: definitions of the international foot, inch and pound.

    >>> imperial("{a_kg:.0f} kg, {b:g} mm", {"a_kg": 50, "b": 254})[0]
    '{a_kg_lb} lb, {b_in} in'
    >>> imperial("{a_kg:.0f} kg, {b:g} mm", {"a_kg": 50, "b": 254})[1]
    {'a_kg': 50, 'b': 254, 'a_kg_lb': '110', 'b_in': '10'}
    """
    made = dict(values)
    if pattern == _TWO_PLACES and str(values["text1"]) in _OTHER:
        pattern = f"{{text0}} {values['text1']}"

    def placed(found: re.Match[str]) -> str:
        name, decimals, space, said = found.groups()
        value, unit = values.get(name), said or name.rpartition("_")[2]
        if unit not in _OTHER or not _is_number(value):
            return found[0]
        other = _OTHER[unit][0]
        if isinstance(value, Figure):
            decimals = str(len(value.partition(".")[2]))
        made[f"{name}_{other}"] = Figure(_in_other(float(str(value)), unit, int(decimals or 0)))
        return f"{{{name}_{other}}}" + (f"{space}{other}" if said else "")

    return written_imperial(_PLACE.sub(placed, pattern), decimal_sign), made


def written_imperial(text: str, decimal_sign: str = ".") -> str:
    """Lengths and weights that a sentence states itself, in feet, inches and pounds.

    Derived: definitions of the international foot, inch and pound.

    >>> written_imperial("about 15 mm"), written_imperial("2,5 m", ",")
    ('about 0.59 in', '8,2 ft')
    """

    def written(found: re.Match[str]) -> str:
        whole, part, space, unit = found.groups()
        other = _in_other(float(f"{whole}.{part or 0}"), unit, len(part or ""))
        return f"{other.replace('.', decimal_sign)}{space}{_OTHER[unit][0]}"

    return _WRITTEN.sub(written, text)


def _is_number(value: object) -> bool:
    if isinstance(value, Figure):
        return re.fullmatch(r"\d+(\.\d+)?", value) is not None
    return isinstance(value, int | float) and not isinstance(value, bool)


def _in_other(value: float, unit: str, decimals: int) -> str:
    _, per_unit, more = _OTHER[unit]
    text = f"{value * per_unit:.{decimals + more}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
