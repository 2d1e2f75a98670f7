"""The verdict in full: findings with their fixes, what was planned, what nobody looked at."""

from typing import Any

from rigproof.checks.catalogue import rules
from rigproof.checks.rule import SEVERITIES, Finding, Severity
from rigproof.checks.scope import unseen as concerns
from rigproof.checks.verdict import Verdict
from rigproof.rig import Rig
from rigproof.showbook.edition import Edition
from rigproof.showbook.paper import Cut, Unprintable
from rigproof.wording import opening

_WORDS = ("two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def sentence(verdict: Verdict, edition: Edition) -> str:
    """The verdict in one line of plain words; it never promises more than was looked at."""
    stops, found_risks = verdict.count("stop"), verdict.count("risk")
    advice, unknown = verdict.count("advice"), verdict.count("unknown")
    say = edition.say
    risks = say("verdict.risks", n=found_risks, count=_word(found_risks, edition))
    if stops:
        key = "verdict.not_ready" if found_risks else "verdict.not_ready_only"
        return say(key, n=stops, count=_word(stops, edition), risks=risks)
    if found_risks:
        return say("verdict.with_risks", risks=risks)
    if advice:
        return say("verdict.advice", n=advice)
    if unknown:
        return say("verdict.unknown", n=unknown)
    return say("verdict.clean", n=verdict.rules)


def _word(number: int, edition: Edition) -> str:
    """Small numbers as sentences have them; one is a phrase of its own."""
    if 1 < number < len(_WORDS) + 2:
        return edition.say(f"verdict.{_WORDS[number - 2]}")
    return str(number)


def severities(edition: Edition) -> dict[str, str]:
    """The words beside the marks."""
    return {
        "stop": edition.say("verdict.stop"),
        "risk": edition.say("verdict.risk"),
        "advice": edition.say("verdict.advice_word"),
        "unknown": edition.say("verdict.unknown_word"),
    }


def gravest(verdict: Verdict) -> Severity | None:
    """The gravest kind of finding there is; it gives the cover its mark."""
    return next((s for s in SEVERITIES if verdict.count(s)), None)


def findings(rig: Rig, verdict: Verdict, edition: Edition) -> dict[str, Any]:
    """The findings by severity, the gravest first."""
    return {
        "counts": {severity: verdict.count(severity) for severity in SEVERITIES},
        "groups": [
            {
                "title": edition.say(f"verdict.{severity}_means"),
                "rows": [
                    _finding(rig, one, edition)
                    for one in verdict.findings
                    if one.severity == severity
                ],
            }
            for severity in SEVERITIES
            if verdict.count(severity)
        ],
        "words": {
            **edition.words(
                "findings.nothing",
                "findings.do",
                "findings.figure",
                "findings.way",
                "findings.only",
                "findings.where",
            ),
            **severities(edition),
        },
    }


def _finding(rig: Rig, finding: Finding, edition: Edition) -> dict[str, object]:
    show = next((show for show in rig.file.shows if show.id == finding.show), None)
    file, line = finding.at.file.rpartition("/")[2], finding.at.line
    return {
        "severity": finding.severity,
        "says": edition.tell(finding.says),
        "fix": edition.tell(finding.fix),
        "way": " \u2192 ".join(map(edition.tell, finding.path)),
        "figure": edition.tell(finding.figure),
        "only": f"{show.date}, {show.name or rig.venues[show.venue].name}" if show else "",
        "where": edition.say("findings.place", file=file, line=line) if line else "",
        "rule": finding.rule,
    }


def planned(verdict: Verdict, edition: Edition) -> dict[str, Any]:
    """What was filled in where the file says nothing."""
    return {
        "rows": [
            {
                "for": one.subject,
                "planned": edition.tell(one.planned),
                "because": edition.tell(one.because),
            }
            for one in verdict.view.plan.reasons
        ],
        "words": edition.words("findings.for", "findings.what", "findings.because"),
    }


def unseen(
    rig: Rig,
    verdict: Verdict,
    edition: Edition,
    cut: tuple[Cut, ...],
    unprintable: tuple[Unprintable, ...],
) -> dict[str, Any]:
    """What the verdict does not cover, where figures come from, and what paper could not hold."""
    say = edition.say
    matters = concerns(rules(), edition.language)
    worth = say(f"paper.{rig.about.figures}")
    return {
        "matters": [{"text": opening(one)} for one in matters],
        "rules": {"said": say("unseen.rules", n=verdict.rules)},
        "figures": {"said": say("unseen.figures_said", worth=worth)},
        "left": [
            *(
                {"said": say("unseen.boxes", text=one.text, letters=edition.listed(one.characters))}
                for one in unprintable
            ),
            *(
                {"said": say("unseen.cut", text=f"{one.begins}\u2026", count=one.characters)}
                for one in cut
            ),
        ],
        "words": {
            **edition.words(
                "unseen.figures", "unseen.caution_title", "unseen.caution_said", "unseen.paper"
            ),
            "caution": say("paper.caution"),
        },
    }
