"""What findings say reads as it stands: sentences, figures with their nouns, places in words."""

import re
from pathlib import Path
from textwrap import dedent
from typing import Any

import pytest

import rigproof
from rigproof.checks.catalogue import rules
from rigproof.checks.rule import Finding, Rule, look
from rigproof.checks.verdict import check
from rigproof.rig import Rig
from rigproof.rig.connectors import CONNECTORS
from rigproof.rigfile.load import load, parse
from tests.checks.looking import example_rig

EXAMPLES = Path(__file__).parents[2] / "examples"
RIGS = (Path(rigproof.__file__).parent / "demo", EXAMPLES / "trio", EXAMPLES / "twelve")

# A socket or lane as the rig file writes it, and a connector by its name there.
AS_IN_A_FILE = re.compile(
    r"(?<![\w.])[a-z][a-z0-9-]*\.[a-z][a-z-]*\.(?:rx\.|tx\.)?[0-9]|\w:\w+\.[12]\b"
)
CONNECTOR = re.compile(rf"(?<![\w-])(?:{'|'.join(c for c in CONNECTORS if '-' in c)})(?![\w-])")
TOO_FINE = re.compile(r"\d\.\d{5}|\d[eE][-+]\d")
ONE_OF_MANY = re.compile(r"^1 (?:\w+ )*(?:\w+[^s]s|people|buses|mixes)\b")


def proper_names(rig: Rig) -> tuple[str, ...]:
    """What the file calls its things: people write their own names as they like."""
    file = rig.file
    stated = (file.people, file.sources, file.gear, file.mixes, file.venues, file.shows)
    every: list[Any] = [thing for things in stated for thing in things]
    return tuple(name for thing in every for name in (thing.name, thing.id) if name)


def faults(finding: Finding, rig: Rig) -> list[str]:
    found = []
    for text in (finding.says, finding.fix):
        if text[:1].islower() and not text.startswith(proper_names(rig)):
            found.append(f"begins small: {text}")
        if not text.endswith((".", "?")):
            found.append(f"does not end: {text}")
        if TOO_FINE.search(text):
            found.append(f"too fine: {text}")
    told = (finding.says, *finding.path)
    found += [f"as in a file: {text}" for text in told if AS_IN_A_FILE.search(text)]
    found += [f"a connector's name: {text}" for text in told if CONNECTOR.search(text)]
    found += [f"a source's key: {text}" for text in finding.path if "source:" in text]
    if finding.figure:
        if ONE_OF_MANY.match(finding.figure):
            found.append(f"one of many: {finding.figure}")
        if TOO_FINE.search(finding.figure):
            found.append(f"too fine: {finding.figure}")
        if not finding.unit:
            found.append(f"a figure of what? {finding.figure}")
    return found


def failing(rule: Rule) -> Rig:
    return example_rig(dedent(rule.parts["Fails"]) + "\n")


@pytest.mark.parametrize("rule", rules(), ids=lambda rule: rule.id)
def test_what_a_rule_finds_in_its_example(rule: Rule) -> None:
    rig = failing(rule)
    assert [f for one in rule.findings(look(rig)) for f in faults(one, rig)] == []


@pytest.mark.parametrize("folder", RIGS, ids=lambda folder: folder.name)
def test_what_is_found_in_whole_rigs(folder: Path) -> None:
    rig = load(folder)
    verdict = check(rig)
    assert [f for one in verdict.findings for f in faults(one, rig)] == []


@pytest.mark.parametrize(
    ("says", "path", "figure", "complaint"),
    [
        ("the mixer is loud.", (), (None, None, ""), "begins small"),
        ("Mixer is loud", (), (None, None, ""), "does not end"),
        ("Kick is plugged in split.in.3.", (), (None, None, ""), "as in a file"),
        ("It arrives at mixer.link.rx.17.", (), (None, None, ""), "as in a file"),
        ("Lines end in xlr-m.", (), (None, None, ""), "a connector's name"),
        ("Fine.", ("source:kick",), (None, None, ""), "a source's key"),
        ("It is 0.333333 V.", (), (None, None, ""), "too fine"),
        ("Fine.", (), (1.0, 2.0, "sources"), "one of many"),
        ("Fine.", (), (1.0, 2.0, ""), "a figure of what"),
    ],
)
def test_a_planted_fault_is_caught(
    says: str, path: tuple[str, ...], figure: tuple[float | None, float | None, str], complaint: str
) -> None:
    rig = parse(b"format: 1\nrig: {name: Example}\n")
    found, limit, unit = figure
    planted = Finding(
        at=rig.about.where,
        says=says,
        fix="Mend it.",
        path=path,
        found=found,
        limit=limit,
        unit=unit,
    )
    assert [fault.partition(":")[0].partition("?")[0] for fault in faults(planted, rig)] == [
        complaint
    ]


@pytest.mark.parametrize(
    ("found", "limit", "unit", "reads"),
    [
        (2, 12.4, "free channels", "2 free channels (limit 12.4)"),
        (812.3456, 600.0, "mm", "812.3 mm (limit 600 mm)"),
        (100.04, 100.0, "m", "100.04 m (limit 100 m)"),
        (44100.0, 48000.0, "Hz", "44100 Hz (limit 48000)"),
        (None, 8, "characters", "limit 8 characters"),
        (3, None, "plugs", "3 plugs"),
        (None, None, "", ""),
    ],
)
def test_figures(found: float | None, limit: float | None, unit: str, reads: str) -> None:
    rig = parse(b"format: 1\nrig: {name: Example}\n")
    finding = Finding(at=rig.about.where, says="X.", found=found, limit=limit, unit=unit)
    assert finding.figure == reads
