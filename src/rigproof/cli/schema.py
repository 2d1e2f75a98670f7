"""Print the JSON Schema of the rig file, so that an editor completes and checks as you type."""

import json
from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import Any

from rigproof.cli.answer import CLEAN, Answer
from rigproof.cli.terminal import Verbatim

SCHEMAS = Path(__file__).parent.parent / "schema"
RIG, GEAR, EXPORT = "rig.schema.json", "gear.schema.json", "export.schema.json"
MEASURED = "measured.schema.json"
ANSWERS = Path(__file__).parent / "answers.json"


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof schema` takes."""
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--gear", action="store_true", help="of a file of gear types instead")
    which.add_argument("--measured", action="store_true", help="of a file in measured/ instead")
    which.add_argument("--answers", action="store_true", help="of what --json prints instead")
    which.add_argument(
        "--export", action="store_true", help="of what export --as json writes instead"
    )


def run(asked: Namespace) -> Answer:
    """Show the schema as it is shipped."""
    name = GEAR if asked.gear else MEASURED if asked.measured else EXPORT if asked.export else RIG
    path = ANSWERS if asked.answers else SCHEMAS / name
    text = path.read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return Answer(CLEAN, {"schema": schema}, (Verbatim(text),))
