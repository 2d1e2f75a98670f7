"""Plain data to model, with every fault of form found in one reading.

The library that builds the model stops at the first fault. So a sound file takes its fast way,
and only a faulty one is walked piece by piece, asking the same library about each.
"""

import math
import re
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from functools import lru_cache
from itertools import islice
from typing import Any, TypeVar
from unicodedata import combining, normalize

import msgspec
from msgspec import inspect as form

from rigproof.rig import Where
from rigproof.rig.entry import PLACE_KEY, Entry, Spot
from rigproof.rig.quantity import PARTS, PROVENANCES, Quantity
from rigproof.rig.where import RigError
from rigproof.rigfile.yaml12 import MOST_FAULTS, cut

_E = TypeVar("_E", bound=Entry)
WHOLE = ""  # in place of a key: the whole file


def _figure(type_: type, value: object) -> object:
    if type_ is Where:
        return value
    if isinstance(value, Spot):  # a figure spelled out has no use for its place
        value = {part: value[part] for part in value if part != PLACE_KEY}
    return type_.stated(value)  # type: ignore[attr-defined]


def build(data: object, type_: type[_E], at: Where) -> tuple[_E | None, list[RigError]]:
    """The entry that plain data describe, or None and everything that is wrong with them."""
    try:
        return msgspec.convert(data, type_, dec_hook=_figure), []
    except msgspec.ValidationError as first:
        faults = list(islice(_faults(data, _info(type_), at, WHOLE), MOST_FAULTS))
        # The walk asks about the same things; if it sees nothing, say what the library said.
        return None, faults or [_unplaced(str(first), at)]


def _unplaced(says: str, at: Where) -> RigError:
    says, _, place = says.partition(" - at `$")
    says = f"something in this file does not fit: {says[:1].lower()}{says[1:]}."
    return RigError(at=at, says=says, fix=f"Look at {place.rstrip('`')}." if place else "")


@lru_cache
def _info(type_: type) -> form.Type:
    return form.type_info(type_)


def _faults(value: object, info: form.Type, at: Where, key: str) -> Iterator[RigError]:
    if isinstance(info, form.Metadata):
        info = info.type
    if isinstance(info, form.UnionType):
        if value is None:
            return
        info = next(t for t in info.types if not isinstance(t, form.NoneType))
    if isinstance(info, form.StructType):
        yield from _struct_faults(value, info, at, key)
    elif isinstance(info, form.VarTupleType):
        if not isinstance(value, list):
            yield _wrong(value, "a list: one line with a dash for each", at, key)
            return
        for item in value:
            place = item.where if isinstance(item, Spot) else at
            yield from _faults(item, info.item_type, place, _ENTRY + key.removeprefix(_ENTRY))
        if info.min_length and len(value) < info.min_length:
            yield RigError(at=at, says=f'"{key}" is empty.', fix="Write at least one.")
    elif isinstance(info, form.TupleType):
        if not isinstance(value, list) or len(value) != len(info.item_types):
            yield _wrong(value, f"{len(info.item_types)} values in brackets: [1, 2]", at, key)
            return
        for item, item_info in zip(value, info.item_types, strict=True):
            yield from _faults(item, item_info, at, key)
    elif isinstance(info, form.CustomType):
        yield from _figure_faults(value, info.cls, at, key)
    else:
        expected = _expected(info)
        if not _fits(value, info):
            yield _wrong(value, expected, at, key, _words(value, info))


def _fits(value: object, info: form.Type) -> bool:
    if isinstance(info, form.IntType):
        if isinstance(value, bool) or not isinstance(value, int):
            return False
        return (info.ge is None or value >= info.ge) and (info.le is None or value <= info.le)
    if isinstance(info, form.FloatType):
        if isinstance(value, bool) or not isinstance(value, int | float):
            return False
        return (info.ge is None or value >= info.ge) and (info.le is None or value <= info.le)
    if isinstance(info, form.StrType):
        if not isinstance(value, str):
            return False
        if not (info.min_length or 0) <= len(value) <= (info.max_length or len(value)):
            return False
        return info.pattern is None or re.search(info.pattern, value) is not None
    if isinstance(info, form.BoolType):
        return isinstance(value, bool)
    if isinstance(info, form.LiteralType):
        return value in info.values and not isinstance(value, bool)
    return True


def _expected(info: form.Type) -> str:
    if isinstance(info, form.IntType):
        if info.le is not None:
            return f"a whole number from {info.ge} to {info.le}"
        return f"a whole number from {info.ge}" if info.ge is not None else "a whole number"
    if isinstance(info, form.FloatType):
        return f"a number from {info.ge} to {info.le}"
    if isinstance(info, form.StrType):
        if info.pattern and r"\d" in info.pattern:
            return "a day such as 2027-03-01"
        if info.pattern and "A" not in info.pattern and "a-z" in info.pattern:
            return "a short word of small letters, digits and hyphens, such as kick-in"
        if info.pattern:
            return "an address such as 10.73.4.2"
        if info.max_length and info.max_length < 10_000:
            return f"text of at most {info.max_length} characters"
        return "text (put it in quotes if it looks like a number)"
    if isinstance(info, form.BoolType):
        return "true or false"
    if isinstance(info, form.LiteralType):
        return "a word that it can be" if len(info.values) > 1 else f"the number {info.values[0]}"
    return "something else"


def _words(value: object, info: form.Type) -> str:
    if not isinstance(info, form.LiteralType):
        return ""
    words = [str(word) for word in info.values]
    if len(words) == 1:
        return f"Write {words[0]}, without quotes."
    near = _near(cut(str(value)).lower(), words) if _is_word(value) else []
    shown = [word for word in words if near and word[:3] == near[0][:3]] or words
    shown = shown if len(words) > 24 else words
    more = f" and {len(words) - len(shown)} more" if len(shown) < len(words) else ""
    known = f"It can be: {', '.join(shown)}{more}."
    return f'Did you mean "{near[0]}"? {known}' if near else known


def _near(word: str, words: list[str]) -> list[str]:
    """The word meant: one that this one begins with (xlr-female: xlr-f), else the most alike."""
    begun = [known for known in words if word.startswith(known) and len(known) > 2]
    return [max(begun, key=len)] if begun else get_close_matches(word, words, n=1)


def _is_word(value: object) -> bool:
    return isinstance(value, str | int)


def _figure_faults(value: object, cls: type, at: Where, key: str) -> Iterator[RigError]:
    if issubclass(cls, Quantity) and isinstance(value, Mapping):
        place = value.where if isinstance(value, Spot) else at
        for part in value:
            if part not in (*PARTS, PLACE_KEY):
                yield RigError(
                    at=place.of(part),
                    says=f'"{cut(part)}" is not a part of a figure.',
                    fix=f"Its parts are: {', '.join(PARTS)}.",
                )
        if value.get("from", "assumed") not in PROVENANCES:
            yield _wrong(value["from"], "one of: " + ", ".join(PROVENANCES), place, "from")
        for part in ("date", "note"):
            if not isinstance(value.get(part, ""), str):
                yield _wrong(value[part], "text", place.of(part), part)
        if "value" not in value:
            yield RigError(at=place, says=f'"{key}" has no value.', fix="Add value: and a number.")
        else:
            inner = value["value"]
            if isinstance(inner, Mapping):
                yield _wrong(inner, "a number", place.of("value"), "value")
            else:
                yield from _figure_faults(inner, cls, place.of("value"), key)
        return
    try:
        cls.stated(value)  # type: ignore[attr-defined]
    except ValueError as expected:
        yield _wrong(value, str(expected), at, key)


def _struct_faults(value: object, info: form.StructType, at: Where, key: str) -> Iterator[RigError]:
    thing = _thing(info.cls)
    if not isinstance(value, Mapping):
        yield _wrong(value, f"{_a(thing)}: keys and values", at, key)
        return
    at = value.where if isinstance(value, Spot) else at
    fields = {f.encode_name: f for f in info.fields if f.encode_name != PLACE_KEY}
    for name, part in value.items():
        if name == PLACE_KEY:
            continue
        if name not in fields:
            yield _unknown_key(name, fields, thing, at)
            continue
        place = at.of(name)
        inner = part.where if isinstance(part, Spot) else place
        if part is None and fields[name].required:
            yield RigError(at=place, says=f'"{name}" is empty.', fix="Write a value behind it.")
        elif part is None:
            # An empty key is a slip of the keyboard as often as a wish: do not guess.
            if not _may_be_nothing(fields[name].type):
                yield RigError(
                    at=place,
                    says=f'"{name}" is empty.',
                    fix="Write a value or delete the line.",
                )
        else:
            yield from _faults(part, fields[name].type, inner, name)
    for name, wanted in fields.items():
        if wanted.required and name not in value:
            yield RigError(
                at=at,
                says=f'{_a(thing, "this")} has no "{name}".',
                fix=f"Add {name}: to it.",
            )


def _may_be_nothing(info: form.Type) -> bool:
    return isinstance(info, form.UnionType) and any(
        isinstance(t, form.NoneType) for t in info.types
    )


def _unknown_key(name: str, fields: Mapping[str, Any], thing: str, at: Where) -> RigError:
    near = get_close_matches(cut(name), fields, n=1)
    known = ", ".join(fields)
    return RigError(
        at=at.of(name),
        says=f'{_a(thing)} has no key "{cut(name)}".',
        fix=f'Did you mean "{near[0]}"?' if near else f"Its keys are: {known}.",
    )


def _wrong(value: object, expected: str, at: Where, key: str, fix: str = "") -> RigError:
    fix = fix or _advice(value, expected)
    return RigError(at=at, says=f"{_subject(key)} is {_shown(value)}, not {expected}.", fix=fix)


_ENTRY = "an entry of "


def _subject(key: str) -> str:
    if key == WHOLE:
        return "the file"
    if key.startswith(_ENTRY):
        return f'{_ENTRY}"{cut(key.removeprefix(_ENTRY))}"'
    return f'"{cut(key)}"'


_NUMBER = re.compile(r"[-+]?[0-9]+(?:\.[0-9]+)?")
_WITH_UNIT = re.compile(r"[-+]?[0-9]+(?:[.,][0-9]+)? ?[^\W\d_]+")
_YES_NO = {"yes": "true", "on": "true", "no": "false", "off": "false"}


def _advice(value: object, expected: str) -> str:
    if not isinstance(value, str):
        return ""
    if expected.startswith("a short word"):
        plain = _plain(value)
        if plain:
            return f'Write "{plain}".'
        return "Use its id, in plain Latin letters; only a name may be in any script."
    if expected == "true or false" and value.lower() in _YES_NO:
        return f"Write {_YES_NO[value.lower()]}."
    if "number" in expected and _NUMBER.fullmatch(value):
        return "Take the quotes away."
    if "number" in expected and _WITH_UNIT.fullmatch(value):
        return "Write the number alone; the unit stands in the key."
    if "number" in expected and "," in value:
        return "Write the decimal point as a point."
    return ""


def _plain(text: str) -> str:
    """What an id made of this text would be; empty where its script has no such letters."""
    bare = "".join(c for c in normalize("NFKD", text[:48]) if not combining(c)).lower()
    word = re.sub(r"[^\w]+|_", "-", bare).strip("-")
    return word if word.isascii() else ""


def _shown(value: object) -> str:
    if value is None or value == "":
        return "empty"
    if isinstance(value, Mapping):
        return "a map of keys"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float | int):
        return f"{value:g}" if math.isfinite(value) else "a number too large"
    return f'"{cut(str(value))}"'


_THINGS = {
    "RigFile": "rig file",
    "GearFile": "gear file",
    "About": "rig",
    "PatchRow": "patch row",
    "Hold": "held place",
    "MainsPower": "power",
    "MainsFeed": "mains feed",
    "LeadBody": "lead",
    "LeadEnd": "lead end",
    "ClockAbility": "clock",
    "CaseSize": "case",
    "GearType": "gear type",
    "RadioLink": "radio link",
    "Ears": "ears",
    "Opening": "obstacle",
    "FirmwareTested": "firmware",
    "LogEntry": "log entry",
    "Sent": "sent paper",
    "Answers": "set of answers",
    "Kept": "measurement",
    "KeptLine": "measured line",
    "KeptPair": "pair",
}


def _thing(cls: type) -> str:
    return _THINGS.get(cls.__name__, cls.__name__.lower())


def _a(thing: str, article: str = "") -> str:
    if article:
        return f"{article} {thing}"
    return f"an {thing}" if thing[0] in "aeiou" else f"a {thing}"
