"""What one rule, or all of them, say about a few lines of a rig."""

from rigproof.checks.catalogue import rule
from rigproof.checks.rule import Finding, look
from rigproof.rigfile.load import parse

HEAD = "format: 1\n"
NAME = "rig: {name: Example}\n"


def findings(identifier: str, text: str) -> list[Finding]:
    """What a rule finds in a rig; the head of the file is added."""
    named = text.startswith("rig:") or "\nrig:" in text
    found = rule(identifier)
    assert found is not None, identifier
    return list(found.findings(look(parse((HEAD + ("" if named else NAME) + text).encode()))))


def says(identifier: str, text: str) -> list[str]:
    """The sentences a rule comes back with."""
    return [finding.says for finding in findings(identifier, text)]
