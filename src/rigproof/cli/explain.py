"""Say what a rule looks for, why it matters, what to do, and by which source; or list all rules."""

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from difflib import get_close_matches
from itertools import groupby
from textwrap import dedent
from typing import TYPE_CHECKING, Any

from rigproof.cli.answer import CLEAN, Answer, CannotRun, Fault
from rigproof.cli.check import HEADINGS
from rigproof.cli.terminal import Row, Table

if TYPE_CHECKING:
    from rigproof.checks.rule import Rule


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof explain` takes."""
    parser.add_argument("rule", metavar="RULE", nargs="?", help="as a finding names it")
    parser.add_argument("--list", action="store_true", help="every rule in one line")


def run(asked: Namespace) -> Answer:
    """Look the rule up and show its page."""
    from rigproof.checks.catalogue import rule, rules

    if asked.list or asked.rule is None:
        every = rules()
        return Answer(CLEAN, {"rules": [_data(r) for r in every]}, tuple(_list_rows(every)))
    found = rule(asked.rule)
    if found is None:
        near = get_close_matches(asked.rule, [r.id for r in rules()], n=1, cutoff=0.4)
        fix = f'Did you mean "{near[0]}"?' if near else ""
        raise CannotRun(
            Fault(
                f'no rule is called "{asked.rule}".',
                f'{fix} "rigproof explain --list" shows them all.'.strip(),
            )
        )
    return Answer(CLEAN, {"rules": [_data(found)]}, tuple(_page_rows(found)))


def _page_rows(rule: "Rule") -> Iterator[Row]:
    name, tone, meaning = HEADINGS[rule.severity]
    yield Row(rule.title, tone="strong")
    yield Row(f"{rule.id}: {meaning}", lead=f"{name} ", lead_tone=tone)
    for heading, text in (("Why", rule.why), ("What to do", rule.fix), ("Source", rule.source)):
        yield Row()
        yield Row(f"{heading}.", tone="strong")
        yield Row(text, indent=2)
    for part, says in (("Fails", "A rig that has the fault:"), ("Passes", "The same, put right:")):
        yield Row()
        yield Row(says, tone="strong")
        yield Row()
        for line in example(rule, part).splitlines():
            yield Row(indent=2, lead=line)


def example(rule: "Rule", part: str) -> str:
    """One of the two examples of a rule, at the left margin."""
    return dedent(rule.parts[part].strip("\n"))


def _list_rows(rules: "tuple[Rule, ...]") -> Iterator[Row | Table]:
    for number, (area, members) in enumerate(groupby(rules, key=lambda rule: rule.area)):
        if number:
            yield Row()
        yield Row(area, tone="strong")
        yield Table(
            ("rule", "severity", "the fault"),
            tuple((rule.id, rule.severity, rule.title) for rule in members),
            indent=2,
            wraps=2,
        )


def _data(rule: "Rule") -> dict[str, Any]:
    return {
        "id": rule.id,
        "severity": rule.severity,
        "since": rule.since,
        "title": rule.title,
        "why": rule.why,
        "fix": rule.fix,
        "source": rule.source,
        "fails": example(rule, "Fails"),
        "passes": example(rule, "Passes"),
    }
