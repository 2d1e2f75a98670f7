"""The verdict in full: findings with their fixes, what was planned, what nobody looked at."""

from rigproof.checks.rule import SEVERITIES, Finding, Severity
from rigproof.checks.verdict import Verdict
from rigproof.rig import Rig
from rigproof.showbook.paper import Cut, Unprintable
from rigproof.wording import counted, listed, opening

MEANINGS: dict[Severity, str] = {
    "stop": "will not work, or can hurt someone",
    "risk": "works until the night it does not",
    "advice": "works, and could be better",
    "unknown": "cannot be judged until a figure is known",
}


_WORDS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def sentence(verdict: Verdict) -> str:
    """The verdict in one line of plain words; it never promises more than was looked at."""
    stops, risks = verdict.count("stop"), verdict.count("risk")
    advice, unknown = verdict.count("advice"), verdict.count("unknown")
    if stops:
        faults = f"{_word(stops)} {'fault' if stops == 1 else 'faults'} to mend first"
        more = f", then {_word(risks)} {'risk' if risks == 1 else 'risks'}" if risks else ""
        return f"Not ready: {faults}{more}."
    if risks:
        noun = "risk" if risks == 1 else "risks"
        return f"It plays as drawn, with {_word(risks)} {noun} to settle before the night."
    if advice:
        return f"Nothing found that stops a show; {counted(advice, 'piece', 'pieces')} of advice."
    if unknown:
        matters = counted(unknown, "matter", "matters")
        return f"Nothing found against it; {matters} could not be judged."
    return f"{counted(verdict.rules, 'rule')} looked at this rig and found nothing against it."


def _word(number: int) -> str:
    """Small numbers as sentences have them."""
    return _WORDS[number - 1] if 0 < number <= len(_WORDS) else str(number)


def gravest(verdict: Verdict) -> Severity | None:
    """The gravest kind of finding there is; it gives the cover its mark."""
    return next((s for s in SEVERITIES if verdict.count(s)), None)


def counts(verdict: Verdict) -> dict[str, int]:
    """How many findings there are of each severity."""
    return {severity: verdict.count(severity) for severity in SEVERITIES}


def findings(rig: Rig, verdict: Verdict) -> list[dict[str, object]]:
    """The findings by severity, the gravest first."""
    return [
        {
            "severity": severity,
            "meaning": MEANINGS[severity],
            "rows": [_finding(rig, one) for one in verdict.findings if one.severity == severity],
        }
        for severity in SEVERITIES
        if verdict.count(severity)
    ]


def _finding(rig: Rig, finding: Finding) -> dict[str, object]:
    show = next((show for show in rig.file.shows if show.id == finding.show), None)
    where = f"{finding.at.file.rpartition('/')[2]}, line {finding.at.line}"
    return {
        "severity": finding.severity,
        "says": finding.says,
        "fix": finding.fix,
        "way": " \u2192 ".join(finding.path),
        "figure": finding.figure,
        "only": f"{show.date}, {show.name or rig.venues[show.venue].name}" if show else "",
        "where": where if finding.at.line else "",
        "rule": finding.rule,
    }


def planned(verdict: Verdict) -> list[dict[str, str]]:
    """What was filled in where the file says nothing."""
    return [
        {"for": one.subject, "planned": one.planned, "because": one.because}
        for one in verdict.view.plan.reasons
    ]


def unseen(
    rig: Rig, verdict: Verdict, cut: tuple[Cut, ...], unprintable: tuple[Unprintable, ...]
) -> dict[str, object]:
    """What the verdict does not cover, where figures come from, and what paper could not hold."""
    return {
        "matters": [{"text": opening(one)} for one in verdict.not_looked_at],
        "rules": counted(verdict.rules, "rule"),
        "figures": rig.about.figures,
        "cut": [{"text": f"{one.begins}…", "count": str(one.characters)} for one in cut],
        "unprintable": [
            {"text": one.text, "characters": listed(one.characters)} for one in unprintable
        ],
    }
