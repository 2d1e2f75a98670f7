"""What one rule, or all of them, say about a few lines of a rig."""

from rigproof.checks.catalogue import rule
from rigproof.checks.rule import Finding, look
from rigproof.rig import Rig
from rigproof.rig.where import RigError
from rigproof.rigfile.load import parse
from rigproof.rigfile.measured import measurements

HEAD = "format: 1\n"
NAME = "rig: {name: Example}\n"
FILE = "--- # "


def example_rig(text: str) -> Rig:
    """The rig of an example: its file, and behind `--- # measured/...` what was measured of it."""
    text, *files = text.split(FILE)
    named = text.startswith("rig:") or "\nrig:" in text
    texts: list[tuple[str, bytes, list[RigError]]] = [
        (name.strip(), body.encode(), []) for name, _, body in (f.partition("\n") for f in files)
    ]
    measured, faults = measurements(texts)
    assert faults == []
    return parse((HEAD + ("" if named else NAME) + text).encode(), measured=measured)


def findings(identifier: str, text: str) -> list[Finding]:
    """What a rule finds in a rig; the head of the file is added."""
    found = rule(identifier)
    assert found is not None, identifier
    return list(found.findings(look(example_rig(text))))


def says(identifier: str, text: str) -> list[str]:
    """The sentences a rule comes back with."""
    return [finding.says for finding in findings(identifier, text)]
