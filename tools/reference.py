"""Write the reference from the code: the file form, the rules, the gear, the commands.

python tools/reference.py           writes docs/reference
python tools/reference.py --check   says which pages are out of date, and writes nothing
"""

import argparse
import inspect
import json
import pkgutil
import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from importlib import import_module
from itertools import groupby
from pathlib import Path
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import msgspec

from rigproof import physics
from rigproof.checks.catalogue import rules
from rigproof.cli.commands import CLOSING, COMMANDS, parser_of
from rigproof.cli.explain import example
from rigproof.cli.schema import ANSWERS
from rigproof.rig import GearFile, GearType, RigFile
from rigproof.rig.connectors import CONNECTORS, Connector
from rigproof.rig.entry import Defines, Entry, NameOf
from rigproof.rig.geartype import Port
from rigproof.rig.quantity import Quantity
from rigproof.rig.ref import BankRef, Numbers
from rigproof.rigfile.library import library_type, type_ids

REFERENCE = Path(__file__).resolve().parent.parent / "docs" / "reference"
NOTE = "<!-- Written by tools/reference.py from the code; change that, not this. -->\n\n"

INDEX = """\
# Reference

- [The file form](file-form.md): every section of a rig file, every key, what can stand there
- [The gear library](gear.md): every type that a rig can name, and how to add your own
- [The rules](rules.md): everything that is looked for, why, and what to do
- [The commands](commands.md): how they are called, and what they answer to programs
- [The formulas](formulas.md): every one with its source and a worked figure

How to write a stage box, a guest and the like: [how to say it](../saying.md). Your own gear from
its data sheet: [in five minutes](../gear.md).

A first rig, step by step: [the tutorial](../tutorial.md). The same rules as a command prints them:
`rigproof explain --list`.
"""


def pages() -> Mapping[str, str]:
    """Every page of the reference by its file name."""
    return {
        "README.md": NOTE + INDEX,
        "file-form.md": NOTE + "\n".join(file_form()) + "\n",
        "gear.md": NOTE + "\n".join(gear()) + "\n",
        "rules.md": NOTE + "\n".join(rule_pages()) + "\n",
        "commands.md": NOTE + "\n".join(commands()) + "\n",
        "formulas.md": NOTE + "\n".join(formulas()) + "\n",
    }


FILE_FORM = """\
# The file form

A rig is a folder with a `rig.yaml` and, where you have gear of your own, `gear/*.yaml`. Both are
YAML 1.2. Unknown keys are faults, and so are two keys of one name.

- An **id** is a short word of small letters, digits and hyphens. A name is free text in any
  script.
- The **unit stands in the key**: `length_m`, `weight_kg`, `gain_db`.
- A **figure** is a number, or `{value: 4.2, from: measured, date: 2030-05-01, note: with the
  tape}`, where `from` is `measured`, `datasheet`, `typical` or `assumed`. A plain number counts
  as what `figures` says in the head of the rig or of the gear type.
- A **socket** is called by its box, its row and its number: `split.in.3`. A run of them:
  `split.in.3-8`. Where one connector carries many signals both ways, `rx` is what its box
  receives and `tx` what it sends: `mixer.link.rx.17`, and where there are several of them,
  `mixer.link.2.rx.17`. The ends in the house's hands are `house.1`, `house.2` ... Tails, streams
  and what the house sends back share these numbers: each line its own.
- **Numbers** of channels, buses and slots: `7`, or a run such as `7-8`.

How to write a stage box, a wireless microphone, a card, a guest and the like: [how to say
it](../saying.md).

Needed keys are **bold**."""
GEAR = """\
# The gear library

{count} generic types. Their figures are typical of the kind, from memory, and say so; none is
that of a product.

What you own, you know better. Copy the entry that comes nearest from [the library's
files](../../src/rigproof/library) into `gear/own.yaml` beside your `rig.yaml`, give it an id of
its own, and type the figures of the data sheet over, with `figures: datasheet`. Leave out what
the sheet does not say: a missing figure is reported as missing. [Step 11 of the
tutorial](../tutorial.md) does it once."""
RULES = """\
# The rules

{count} rules. **stop**: will not work, or can hurt someone. **risk**: works, until the night it
does not. **advice**: works; could be better. **unknown**: a figure is missing, so nobody can
judge. An identifier is never used again for another rule."""


# The file form


def file_form() -> Iterator[str]:
    yield FILE_FORM
    for title, root in (("rig.yaml", RigFile), ("gear/*.yaml", GearFile)):
        yield ""
        yield f"## {title}"
        yield from fields(root)
        for cls in below(root):
            if root is RigFile or cls not in set(below(RigFile)):
                yield ""
                yield f"### {cls.__name__}"
                yield from fields(cls)
    yield ""
    yield "## Connectors"
    yield ""
    yield f"{', '.join(f'`{name}`' for name in CONNECTORS)}."
    yield ""
    yield "`-m` has the pins or is the plug, `-f` has the holes or is the socket."


NUMBERS = "`7`, or a run such as `7-8`"
BOX = {"gear": "box"}


def below(root: type[Entry]) -> list[type[Entry]]:
    """The classes that a class is made of, in the order in which a reader meets them."""
    found: list[type[Entry]] = []
    queue = [root]
    while queue:
        for field in msgspec.structs.fields(queue.pop(0)):
            for cls in entries(field.type):
                if cls not in found:
                    found.append(cls)
                    queue.append(cls)
    return found


def entries(hint: Any) -> Iterator[type[Entry]]:
    if isinstance(hint, type) and issubclass(hint, Entry):
        yield hint
    for arg in get_args(hint):
        yield from entries(arg)


def fields(cls: type[Entry]) -> Iterator[str]:
    doc = inspect.getdoc(cls) or ""
    inherited = inspect.getdoc(Entry) or ""
    if doc and doc != inherited and not doc.startswith(f"{cls.__name__}("):
        yield ""
        yield " ".join(doc.split())
    said = remarks(cls)
    yield ""
    yield "| key | what | |"
    yield "|-|-|-|"
    for field in msgspec.structs.fields(cls):
        if field.name == "where":
            continue
        key = f"`{field.encode_name}`"
        key = f"**{key}**" if field.required else key
        yield f"| {key} | {what(field.type)} | {cell(said.get(field.name, ''))} |"


def remarks(cls: type) -> dict[str, str]:
    """The comments behind the fields of a class."""
    found: dict[str, str] = {}
    name = ""
    for line in inspect.getsource(cls).splitlines():
        begins = re.match(r"    (\w+):", line)
        name = begins[1] if begins else name
        comment = re.search(r"  # (?!noqa|type:)(.*)$", line)
        if comment and name:
            found[name] = comment[1]
    return found


def what(hint: Any) -> str:
    """What can stand at a key, in words."""
    origin, args = get_origin(hint), get_args(hint)
    if origin is Annotated:
        return annotated(args[0], args[1:])
    if hint == Connector:
        return "a [connector](#connectors)"
    if origin is Literal:
        return words([str(arg) for arg in args])
    if origin in (Union, UnionType):
        return " or ".join(what(arg) for arg in args if arg is not NoneType)
    if origin is tuple and args[-1] is Ellipsis:
        return f"a list: {what(args[0])}"
    if origin is tuple:
        return f"`[{', '.join('number' for _ in args)}]`: {what(args[0])} each"
    if isinstance(hint, type):
        return plain(hint)
    return str(hint)


def annotated(inner: Any, extras: Sequence[Any]) -> str:
    for extra in extras:
        if isinstance(extra, Defines):
            return "a new id"
        if isinstance(extra, NameOf):
            return f"the id of a {' or '.join(BOX.get(kind, kind) for kind in extra.kinds)}"
    meta = next((extra for extra in extras if isinstance(extra, msgspec.Meta)), None)
    if inner is int and meta is not None:
        low, high = meta.ge if meta.ge is not None else 0, meta.le
        return f"a whole number from {low}" + (f" to {high}" if high is not None else "")
    if inner is str and meta is not None and meta.pattern and "25[0-5]" in meta.pattern:
        return "an address such as `10.0.0.20`"
    if inner is str and meta is not None and meta.max_length and meta.max_length <= 64:
        return f"text, at most {meta.max_length} characters"
    return what(inner)


def plain(cls: type) -> str:
    if issubclass(cls, Quantity):
        return cls.expects()
    if issubclass(cls, BankRef):
        return cls.expects
    if issubclass(cls, Numbers):
        return NUMBERS
    if issubclass(cls, Entry):
        return f"[{cls.__name__}](#{cls.__name__.lower()})"
    return {bool: "`true` or `false`", str: "text", int: "a whole number", float: "a number"}[cls]


def words(values: Sequence[str]) -> str:
    shown = [f"`{value}`" for value in values]
    return f"{', '.join(shown[:-1])} or {shown[-1]}" if len(shown) > 1 else shown[0]


def cell(text: str) -> str:
    return text.replace("|", "\\|")


# The gear


def gear() -> Iterator[str]:
    types = [library_type(name) for name in type_ids()]
    yield GEAR.format(count=len(types))
    for class_, members in groupby(sorted(types, key=lambda t: (t.class_, t.id)), key=_class):
        yield ""
        yield f"## {class_}"
        yield ""
        yield "| type | what | sockets | units |"
        yield "|-|-|-|-|"
        for type_ in members:
            units = str(type_.size.units) if type_.size and type_.size.units else ""
            yield f"| `{type_.id}` | {cell(type_.name)} | {sockets(type_)} | {units} |"


def _class(type_: GearType) -> str:
    return type_.class_


def sockets(type_: GearType) -> str:
    if type_.lead is not None:
        a, b = type_.lead.a, type_.lead.b
        return f"{a.count} × `{a.connector}` to {b.count} × `{b.connector}`"
    return ", ".join(map(row, type_.ports))


def row(port: Port) -> str:
    many = f" {port.count} ×" if port.count > 1 else ""
    return f"{port.id}:{many} `{port.connector}`"


# The rules


def rule_pages() -> Iterator[str]:
    yield RULES.format(count=len(rules()))
    for area, members in groupby(rules(), key=lambda rule: rule.area):
        yield ""
        yield f"## {area}"
        for rule in members:
            yield ""
            yield f"### {rule.id}"
            yield ""
            yield f"**{rule.severity}**, since {rule.since}. {rule.title}"
            for heading, text in (("Why", rule.why), ("Fix", rule.fix), ("Source", rule.source)):
                yield ""
                yield f"{heading}: {text}"
            for part, says in (("Fails", "Has the fault"), ("Passes", "Put right")):
                yield ""
                yield f"{says}:"
                yield ""
                yield "```yaml"
                yield example(rule, part)
                yield "```"


# The commands


def commands() -> Iterator[str]:
    yield "# The commands"
    yield ""
    yield "```text"
    yield CLOSING
    yield "```"
    for command in COMMANDS:
        yield ""
        yield f"## rigproof {command}"
        yield ""
        yield "```text"
        yield parser_of(command).format_help().rstrip()
        yield "```"
    yield ""
    yield "## What --json prints"
    yield ""
    schema = json.loads(ANSWERS.read_text(encoding="utf-8"))
    yield f"{schema['description']} `rigproof schema --answers` prints its JSON Schema; in words:"
    yield from outline(schema)
    for name, part in schema["$defs"].items():
        if "properties" in part or "oneOf" in part:
            yield ""
            yield f"### {name}"
            for variant in part.get("oneOf", [part]):
                yield from outline(variant, skip=part is variant and "description" not in part)


# The formulas


def formulas() -> Iterator[str]:
    yield "# The formulas"
    yield ""
    yield "Plain numbers in, plain numbers out; each figure shown is run as a test."
    for info in pkgutil.iter_modules(physics.__path__):
        module = import_module(f"rigproof.physics.{info.name}")
        members = [
            (name, member)
            for name, member in inspect.getmembers(module, inspect.isfunction)
            if member.__module__ == module.__name__ and not name.startswith("_")
        ]
        if info.name.startswith("_") or not members:
            continue
        yield ""
        yield f"## {info.name}"
        yield ""
        yield inspect.getdoc(module) or ""
        for name, member in sorted(members, key=lambda m: m[1].__code__.co_firstlineno):
            yield ""
            yield f"### {name}"
            yield ""
            text, _, figure = (inspect.getdoc(member) or "").partition(">>> ")
            yield text.strip()
            yield ""
            yield f"```pycon\n>>> {figure.strip()}\n```"


def outline(part: Mapping[str, Any], *, skip: bool = False) -> Iterator[str]:
    if not skip and "title" not in part:
        yield ""
        yield part.get("description", "")
    yield ""
    yield "| key | what | |"
    yield "|-|-|-|"
    for key, value in part["properties"].items():
        yield f"| `{key}` | {kind(value)} | {cell(value.get('description', ''))} |"


def kind(value: Mapping[str, Any]) -> str:
    if "$ref" in value:
        name = value["$ref"].rpartition("/")[2]
        return f"[{name}](#{name})"
    if "enum" in value or "const" in value:
        return words([json.dumps(v) for v in value.get("enum", [value.get("const")])])
    if value.get("type") == "array":
        return f"list: {kind(value['items'])}"
    if value.get("type") == "object" and "properties" in value:
        return "object: " + ", ".join(f"`{key}`" for key in value["properties"])
    found = value.get("type", "by command")
    return " or ".join(found) if isinstance(found, list) else str(found)


def main(arguments: Sequence[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true")
    asked = parser.parse_args(arguments)
    stale = 0
    for name, text in pages().items():
        path = REFERENCE / name
        if path.exists() and path.read_text(encoding="utf-8") == text:
            continue
        stale += 1
        print(f"{path.name} {'is out of date' if asked.check else 'written'}")
        if not asked.check:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8", newline="\n")
    return int(bool(stale and asked.check))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
