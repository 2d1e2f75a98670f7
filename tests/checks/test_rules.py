"""Every rule proves itself on its own two examples, and explains itself in full."""

import pytest

from rigproof.checks.catalogue import rules
from rigproof.checks.rule import Finding, Rule, look
from rigproof.rigfile.load import parse

HEAD = "format: 1\n"
NAME = "rig: {name: Example}\n"


def judged(rule: Rule, example: str) -> list[Finding]:
    lines = example.splitlines()
    indent = min(len(line) - len(line.lstrip()) for line in lines if line.strip())
    text = "\n".join(line[indent:] for line in lines) + "\n"
    head = HEAD if text.startswith("rig:") or "\nrig:" in text else HEAD + NAME
    rig = parse((head + text).encode())
    return list(rule.findings(look(rig)))


@pytest.mark.parametrize("rule", rules(), ids=lambda rule: rule.id)
def test_failing_example_fails(rule: Rule) -> None:
    findings = judged(rule, rule.parts["Fails"])
    assert findings
    assert all(f.says.endswith((".", "?")) and f.at.line for f in findings)


@pytest.mark.parametrize("rule", rules(), ids=lambda rule: rule.id)
def test_passing_example_passes(rule: Rule) -> None:
    assert judged(rule, rule.parts["Passes"]) == []


@pytest.mark.parametrize("rule", rules(), ids=lambda rule: rule.id)
def test_rule_explains_itself(rule: Rule) -> None:
    for part in ("title", "Why", "Fix", "Source"):
        assert len(rule.parts[part]) > 15, part
        assert rule.parts[part].rstrip().endswith((".", ")")), part


def test_ids_are_never_shared() -> None:
    ids = [rule.id for rule in rules()]
    assert len(ids) == len(set(ids))
