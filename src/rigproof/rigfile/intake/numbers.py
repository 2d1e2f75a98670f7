"""Channel numbers as people write them: 7, "07", "CH 7", 7.0, "7/8", "7-8", "7+8"."""

import re

from rigproof.rigfile.intake.cells import Value

_MOST, _LONGEST = 9_999, 40
_WRITTEN = re.compile(
    r"(?:ch(?:annel|an)?|in(?:put)?|kanal|k|nr|no|#)?\s*[.:#]?\s*"
    r"(?P<first>[0-9]{1,4})(?:\s*(?:[-/+&,\u2013]|to|bis)\s*(?P<last>[0-9]{1,4}))?\s*[.:)]?",
    re.IGNORECASE,
)


def numbers_of(value: Value) -> tuple[int, int] | None:
    """The first and last channel that a cell means, or none.

    >>> numbers_of(7.0), numbers_of("CH 07"), numbers_of("7/8"), numbers_of("A7"), numbers_of(0)
    ((7, 7), (7, 7), (7, 8), None, None)
    """
    if isinstance(value, bool):
        return None
    if isinstance(value, int | float):
        whole = int(value) if value == value and abs(value) <= _MOST else 0
        return (whole, whole) if whole == value and whole > 0 else None
    found = _WRITTEN.fullmatch(value.strip()) if len(value) <= _LONGEST else None
    if found is None:
        return None
    first = int(found["first"])
    last = int(found["last"] or first)
    return (first, last) if 0 < first <= last <= _MOST else None
