"""Judge a rig: everything that will go wrong, the gravest first, with its place and its remedy."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigproof.cli.answer import CLEAN, FOUND, Answer
from rigproof.cli.terminal import Row, Table, Tone, working

if TYPE_CHECKING:
    from rigproof.checks.rule import Finding, Severity
    from rigproof.checks.verdict import Verdict
    from rigproof.rig import Rig

HEADINGS: dict[Severity, tuple[str, Tone, str]] = {
    "stop": ("STOP", "stop", "will not work, or can hurt someone"),
    "risk": ("RISK", "risk", "works, until the night it does not"),
    "advice": ("ADVICE", "advice", "works; could be better"),
    "unknown": ("CANNOT JUDGE", "unknown", "a figure is missing"),
}


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof check` takes."""
    parser.add_argument("rig", metavar="RIG", nargs="?", default=".", help="a folder or its file")
    parser.add_argument(
        "--planned",
        action="store_true",
        help="also tell what was filled in where the file says nothing, and why",
    )


def run(asked: Namespace) -> Answer:
    """Load, judge, show."""
    with working("Checking the rig"):
        from rigproof.checks.verdict import check
        from rigproof.rigfile.load import load

        rig = load(Path(asked.rig))
        verdict = check(rig)
    rows = [*verdict_rows(rig, verdict)]
    if asked.planned:
        rows += planned_rows(verdict)
    return Answer(CLEAN if verdict.clean else FOUND, verdict_data(rig, verdict), tuple(rows))


def verdict_rows(rig: Rig, verdict: Verdict) -> Iterator[Row | Table]:
    """A verdict as people read it."""
    from rigproof.checks.rule import SEVERITIES
    from rigproof.wording import counted, listed

    yield from head_rows(rig)
    for severity in SEVERITIES:
        found = [finding for finding in verdict.findings if finding.severity == severity]
        if not found:
            continue
        name, tone, meaning = HEADINGS[severity]
        yield Row(f"({meaning})", lead=f"{name} ", lead_tone=tone, tone="faint")
        yield Row()
        for finding in found:
            yield from finding_rows(rig, finding)
            yield Row()
    counts = (
        (verdict.count("stop"), "stop", ""),
        (verdict.count("risk"), "risk", ""),
        (verdict.count("advice"), "piece of advice", "pieces of advice"),
        (verdict.count("unknown"), "matter that cannot be judged", "matters that cannot be judged"),
    )
    tally = listed(counted(number, one, many) for number, one, many in counts if number) + "."
    rules = counted(verdict.rules, "rule")
    if verdict.clean:
        yield Row(f"{rules} looked, and none found anything.", lead="Clean: ", lead_tone="good")
    else:
        yield Row(tally, lead="Found: ", lead_tone="strong")
        yield Row(f'{rules} looked. "rigproof explain RULE" tells what is behind one.')
    yield Row()
    yield Row("Not looked at:", tone="strong")
    for matter in verdict.not_looked_at:
        yield Row(f"{matter}", indent=2, lead="- ")


def head_rows(rig: Rig) -> Iterator[Row]:
    """Whose rig this is, which version, and how big."""
    from rigproof.wording import counted, listed

    about, file = rig.about, rig.file
    name = f"{about.band}: {about.name}" if about.band and about.band != about.name else about.name
    version = ", ".join(
        part for part in (about.version and f"version {about.version}", about.date) if part
    )
    yield Row(f"{name} ({version})" if version else name, tone="strong")
    sizes = (
        (len(file.people), "person", "people"),
        (len(file.sources), "source", ""),
        (len(file.gear), "box", "boxes"),
        (len(file.leads), "lead or set of leads", "leads and sets of leads"),
        (len(file.venues), "venue", ""),
        (len(file.shows), "show", ""),
    )
    yield Row(listed(counted(n, one, many) for n, one, many in sizes if n) or "nothing in it yet")
    yield Row()


def finding_rows(rig: Rig, finding: Finding) -> Iterator[Row]:
    """One finding: what, where, by how much, which way, and what to do."""
    yield Row(finding.says, indent=2)
    if finding.path:
        yield Row(" → ".join(finding.path), indent=4, lead="Way: ", lead_tone="faint")
    if finding.figure:
        yield Row(finding.figure, indent=4, lead="Figure: ", lead_tone="faint")
    yield Row(finding.fix, indent=4, lead="Do: ", lead_tone="faint")
    show = next((s for s in rig.file.shows if s.id == finding.show), None)
    if show is not None:
        yield Row(
            f"{show.date}, {show.name or rig.venues[show.venue].name}",
            indent=4,
            lead="Only at: ",
            lead_tone="faint",
        )
    yield Row(f"{finding.at}  {finding.rule}", indent=4, tone="faint")


def planned_rows(verdict: Verdict) -> Iterator[Row | Table]:
    """What was filled in, and why."""
    reasons = verdict.view.plan.reasons
    yield Row()
    yield Row("Filled in, because the file does not say:", tone="strong")
    if not reasons:
        yield Row("nothing; the file says it all.", indent=2)
        return
    yield Table(
        ("for", "planned", "because"),
        tuple((r.subject, r.planned, r.because) for r in reasons),
        indent=2,
        wraps=2,
    )


def verdict_data(rig: Rig, verdict: Verdict) -> dict[str, Any]:
    """A verdict as programs read it."""
    from rigproof.checks.rule import SEVERITIES

    return {
        "rig": rig.about.name,
        "clean": verdict.clean,
        "rules": verdict.rules,
        "counts": {severity: verdict.count(severity) for severity in SEVERITIES},
        "findings": [finding.data for finding in verdict.findings],
        "not_looked_at": list(verdict.not_looked_at),
        "planned": [
            {"for": r.subject, "planned": r.planned, "because": r.because}
            for r in verdict.view.plan.reasons
        ],
    }
