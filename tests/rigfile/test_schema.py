"""The published schema and the loader give the same verdict on the form of a file."""
# ruff: noqa: E501 (tables of cases read best one to a line)

import copy
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import msgspec
import pytest

import rigproof
from rigproof.rig import GearFile, RigFile, Where
from rigproof.rigfile import schema, yaml12
from rigproof.rigfile.form import build
from rigproof.rigfile.tree import plain
from tests.rigfile.sound import GEAR, RIG

PUBLISHED = Path(rigproof.__file__).parent / "schema"
RIG_CHECK = jsonschema.Draft202012Validator(schema.rig_schema())
GEAR_CHECK = jsonschema.Draft202012Validator(schema.gear_schema())


@pytest.mark.parametrize(
    ("name", "made"),
    [
        ("rig.schema.json", schema.rig_schema()),
        ("gear.schema.json", schema.gear_schema()),
        ("measured.schema.json", schema.measured_schema()),
    ],
)
def test_what_is_published_is_what_the_model_says(name: str, made: dict[str, Any]) -> None:
    assert (PUBLISHED / name).read_text(encoding="utf-8") == schema.text(made)


@pytest.mark.published("JSON Schema draft 2020-12, its own meta-schema")
@pytest.mark.parametrize(
    "made", [schema.rig_schema(), schema.gear_schema(), schema.measured_schema()]
)
def test_it_is_a_schema(made: dict[str, Any]) -> None:
    jsonschema.Draft202012Validator.check_schema(made)
    assert made["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert "\\uffff" not in json.dumps(made)


def everything(type_: type) -> Any:
    """An entry of this kind with every key filled in, made from the schema's own words."""
    whole = schema.rig_schema() if type_ is RigFile else schema.gear_schema()
    return _example(whole, whole["$defs"])


def _example(part: dict[str, Any], parts: dict[str, Any]) -> Any:
    if "$ref" in part:
        return _example(parts[part["$ref"].rpartition("/")[2]], parts)
    if "anyOf" in part:
        return _example(part["anyOf"][0], parts)
    if "enum" in part:
        return part["enum"][-1]
    if "const" in part:
        return part["const"]
    kind = part.get("type")
    if kind == "object":
        return {key: _example(value, parts) for key, value in part["properties"].items()}
    if kind == "array":
        if "prefixItems" in part:
            return [_example(item, parts) for item in part["prefixItems"]]
        return [_example(part["items"], parts)]
    if kind == "integer":
        return part.get("minimum", 3)
    if kind == "number":
        return part.get("minimum", part.get("exclusiveMinimum", 0) + 1)
    if kind == "boolean":
        return True
    pattern = part.get("pattern", "")
    return next(
        text for text in ("word", "a.b.1", "a.1", "7-8", "10.0.0.1") if _matches(pattern, text)
    )


def _matches(pattern: str, text: str) -> bool:
    return jsonschema.Draft202012Validator({"pattern": pattern}).is_valid(text)


def places(data: Any, above: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The path to every value below."""
    parts = data.items() if isinstance(data, dict) else enumerate(data)
    for key, value in parts:
        yield (*above, key)
        if isinstance(value, dict | list):
            yield from places(value, (*above, key))


GONE = object()
VALUES: list[Any] = [
    GONE, None, True, False, 0, -1, 1, 2, 3.5, 1.0, -300.5, 1e9, 10**15, "", "word", "Two Words", "7", "7-8",
    "8-7x", "house.1", "house", "a.b", "a.b.1-8", "a.b.0", "xlr-m", "on", "drums", "10.0.0.1", "10.0.0.256",
    "word\n", "a.b\n", "٣", "a.b.١", "x" * 49, "x" * 65, "x" * 201, "x" * 501, [], [1, 2], [1], ["word"], [{}],
    ["word", 3], {}, {"value": 1}, {"value": "x"}, {"value": 1, "from": "guess"}, {"value": 1, "from": "measured"},
    {"value": 1, "note": 3}, {"from": "measured"}, {"value": 1, "size": 2}, {"value": None},
]  # fmt: skip


def verdicts(data: Any, type_: Any) -> tuple[bool, bool]:
    """(what the schema says, what the loader says) of the same data, written and read again."""
    from rigproof.rigfile.written import inline

    read, faults = yaml12.read(inline(data).encode(), "f")
    assert not faults
    built, faults = build(read, type_, Where("f"))
    assert (built is None) == bool(faults)
    check = RIG_CHECK if type_ is RigFile else GEAR_CHECK
    return check.is_valid(data), built is not None


@pytest.mark.parametrize(
    ("type_", "data"),
    [
        (RigFile, plain(yaml12.compose(RIG))),  # type: ignore[arg-type]
        (GearFile, plain(yaml12.compose(GEAR))),  # type: ignore[arg-type]
        (RigFile, {"format": 1, "rig": {"name": "x"}}),
        (GearFile, {"format": 1, "types": []}),
        (RigFile, everything(RigFile)),
        (GearFile, everything(GearFile)),
    ],
)
def test_sound_files(type_: Any, data: Any) -> None:
    assert verdicts(data, type_) == (True, True)


def test_the_full_examples_hold_every_key() -> None:
    """So the mutations below reach every field of the model."""
    for type_, root in ((RigFile, everything(RigFile)), (GearFile, everything(GearFile))):
        keys = {path[-1] for path in places(root)}
        todo: list[Any] = [type_]
        for cls in todo:
            assert {k for k in cls.__struct_encode_fields__ if k.isprintable()} <= keys, cls
            shape = msgspec.inspect.type_info(cls)
            assert isinstance(shape, msgspec.inspect.StructType)
            for info in shape.fields:
                todo += [c for c in _classes(info.type) if c not in todo]
        assert len(todo) > 10


def _classes(info: Any) -> Iterator[type]:
    if isinstance(info, msgspec.inspect.StructType):
        yield info.cls
    for part in (*getattr(info, "types", ()), getattr(info, "item_type", None)):
        if part is not None:
            yield from _classes(part)


def altered(data: Any, path: tuple[Any, ...], value: Any) -> Any:
    """The same with another value at one place; what the path does not touch is shared."""
    step, *rest = path
    made: Any = copy.copy(data)
    if rest:
        made[step] = altered(data[step], tuple(rest), value)
    elif value is GONE:
        del made[step]
    else:
        made[step] = value
    return made


def mutations(type_: Any, depth: int) -> Iterator[tuple[tuple[Any, ...], Any, Any]]:
    data = everything(type_)
    # What a show holds is what the rig holds, and is reached there.
    paths = [p for p in places(data) if len(p) <= depth and not (p[0] == "shows" and len(p) > 3)]
    for number, path in enumerate(paths):
        # Every sixth value for each key; over the hundreds of keys, all of them many times.
        for value in VALUES[number % 6 :: 6]:
            broken = altered(data, path, value)
            # Alone, so that the walk over a faulty file stays short.
            if type_ is RigFile and path[0] not in ("format", "rig"):
                broken = {k: broken[k] for k in ("format", "rig", path[0]) if k in broken}
            if type_ is GearFile and len(path) > 3:
                kept = ("id", "name", "class", path[2])
                broken["types"] = [{k: t[k] for k in kept if k in t} for t in broken["types"]]
            yield path, value, broken


def differs_on_purpose(value: Any) -> bool:
    """Where the schema cannot or should not say what the loader says.

    1.0 is a whole number in JSON Schema, and in a rig file a figure that somebody measured; a
    range must run upwards, which no schema can say.
    """
    return value == 1.0 and isinstance(value, float)


@pytest.mark.parametrize("type_", [RigFile, GearFile])
def test_the_verdicts_agree_on_every_field(type_: Any) -> None:
    tried = refused = 0
    for path, value, data in mutations(type_, depth=7):
        if differs_on_purpose(value):
            continue
        by_schema, by_loader = verdicts(data, type_)
        assert by_schema == by_loader, (path, value)
        tried += 1
        refused += not by_loader
    assert tried > 1_000
    assert 0.3 < refused / tried < 0.98


def test_unknown_keys_at_every_map() -> None:
    for type_ in (RigFile, GearFile):
        data = everything(type_)
        for path in [(), *places(data)]:
            broken = copy.deepcopy(data)
            place = broken
            for step in path:
                place = place[step]
            if isinstance(place, dict):
                place["qqq"] = 1
                assert verdicts(broken, type_) == (False, False), path
