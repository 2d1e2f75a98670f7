"""The JSON Schema of a rig's files, made from the model, so that editors can help.

It says what the form allows. What names and sockets must answer to each other, and that a range
runs upwards, only the program itself can tell.
"""

import inspect
import json
import re
from typing import Any

import msgspec

from rigproof.rig import GearFile, Kept, RigFile, Where
from rigproof.rig.entry import PLACE_KEY

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def rig_schema() -> dict[str, Any]:
    """The schema of `rig.yaml`."""
    return document(RigFile, "Rig file")


def gear_schema() -> dict[str, Any]:
    """The schema of the files in `gear`."""
    return document(GearFile, "File of gear types")


def measured_schema() -> dict[str, Any]:
    """The schema of the files in `measured`."""
    return document(Kept, "File of a measurement")


def text(schema: dict[str, Any]) -> str:
    """A schema as the published file has it."""
    return json.dumps(schema, indent=1, ensure_ascii=False) + "\n"


def document(type_: type[msgspec.Struct], title: str) -> dict[str, Any]:
    """The schema of a document that is made of entries of the model."""
    (root,), parts = msgspec.json.schema_components([type_], schema_hook=_figure)
    parts.pop("Where", None)
    for part in parts.values():
        _say(part)
    name = root["$ref"].rpartition("/")[2]
    return {
        "$schema": DIALECT,
        **parts.pop(name),
        "title": title,
        "$defs": dict(sorted(parts.items())),
    }


def _figure(type_: type) -> dict[str, Any]:
    if type_ is Where:
        return {"type": "object"}  # taken out again
    schema: dict[str, Any] = type_.schema()  # type: ignore[attr-defined]
    return schema


def _say(part: dict[str, Any]) -> None:
    """Take out the hidden place, and put what the class says of itself into words for editors."""
    part.get("properties", {}).pop(PLACE_KEY, None)
    if "title" in part:
        words = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", part["title"]).lower()
        part["title"] = words[0].upper() + words[1:]
    if "description" in part:
        part["description"] = inspect.cleandoc(part["description"])
