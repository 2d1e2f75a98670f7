"""Files of earlier formats, brought to the present one without losing a comment.

A step is a function from the text of a file in format n to its text in format n + 1, made of the
same edits as any other change; it also sets `format`. Reading takes the steps in memory, so that
an old file just works; the file on disk changes with the next edit, and its old text stays in the
history.
"""

import re
from collections.abc import Callable, Mapping
from typing import Any, TypeAlias

from rigproof.rig import FORMAT
from rigproof.rig.entry import Spot
from rigproof.rig.where import RigError
from rigproof.rigfile import yaml12

Steps: TypeAlias = Mapping[int, Callable[[str], str]]

# Format 1 is the first.
RIG_STEPS: dict[int, Callable[[str], str]] = {}
GEAR_STEPS: dict[int, Callable[[str], str]] = {}

_FORMAT_LINE = re.compile(r"^format *: *([0-9]{1,9}) *(?:#.*)?\r?$", re.MULTILINE)


def to_current(text: str, steps: Steps) -> str:
    """A text in the present format; as it is where no step leads there."""
    while True:
        found = _FORMAT_LINE.search(text)
        step = steps.get(int(found[1])) if found and int(found[1]) < FORMAT else None
        if step is None:
            return text
        text = step(text)


def read(raw: bytes, file: str, steps: Steps) -> tuple[Any, list[RigError]]:
    """Plain data in the present format and the faults met on the way; None with a fatal one.

    In a file of an earlier format, places are those of its text after the steps.
    """
    data, faults = yaml12.read(raw, file)
    found = data.get("format") if isinstance(data, Spot) else None
    if not faults and isinstance(found, int) and found in steps:
        text = to_current(raw.decode("utf-8-sig"), steps)
        data, faults = yaml12.read(text.encode("utf-8"), file)
    more = _format_faults(data)
    if more:
        data["format"] = FORMAT  # said once is enough
    return data, faults + more


def _format_faults(data: object) -> list[RigError]:
    if not isinstance(data, Spot):
        return []
    if "format" not in data:
        return [
            RigError(
                at=data.where,
                says="the file does not say which format it has.",
                fix=f"Add format: {FORMAT} as its first line.",
            )
        ]
    found = data["format"]
    at = data.where.of("format")
    if isinstance(found, bool) or not isinstance(found, int) or found == FORMAT:
        return []
    if found > FORMAT:
        return [
            RigError(
                at=at,
                says=f"this file has format {found}; this program reads formats up to {FORMAT}.",
                fix="Update the program; the file is as it was.",
            )
        ]
    return [
        RigError(
            at=at,
            says=f"there is no format {found}.",
            fix=f"Write format: {FORMAT}, the present one.",
        )
    ]
