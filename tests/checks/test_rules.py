"""Every rule proves itself on its own two examples, and explains itself in full."""

from textwrap import dedent

import pytest

from rigproof.checks.catalogue import rules
from rigproof.checks.rule import Finding, Rule, look
from tests.checks.looking import example_rig


def judged(rule: Rule, example: str) -> list[Finding]:
    return list(rule.findings(look(example_rig(dedent(example) + "\n"))))


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
