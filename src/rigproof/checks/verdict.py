"""Run the rules over a rig and its shows, and say what was found and what was not looked at."""

import re
from collections.abc import Sequence

import msgspec

from rigproof.checks.catalogue import rules
from rigproof.checks.graver import Place, place_of, says_more
from rigproof.checks.rule import SEVERITIES, Finding, Severity, View, look
from rigproof.checks.scope import unseen
from rigproof.rig import Rig
from rigproof.rig.collecting import no_collecting


class Verdict(msgspec.Struct, frozen=True):
    """Everything found, gravest first, with what was planned and what nobody looked at."""

    findings: tuple[Finding, ...]
    views: tuple[View, ...]  # the usual rig first, then each show that differs from it
    not_looked_at: tuple[str, ...]
    rules: int

    def count(self, severity: Severity) -> int:
        return sum(finding.severity == severity for finding in self.findings)

    @property
    def clean(self) -> bool:
        return not self.findings

    @property
    def view(self) -> View:
        return self.views[0]


def check(rig: Rig) -> Verdict:
    """Judge a rig as it stands, and each show that changes it.

    The verdict on the rig judged last is kept: a rig cannot change, so neither can its verdict.
    """
    if not (_LAST and _LAST[0][0] is rig):
        _LAST[:] = [(rig, _judged(rig))]
    return _LAST[0][1]


_LAST: list[tuple[Rig, Verdict]] = []


@no_collecting()
def _judged(rig: Rig) -> Verdict:
    views = [look(rig)]
    views += [look(rig, show) for show in rig.file.shows if rig.for_show(show).file != rig.file]
    findings: list[Finding] = []
    usual: dict[Place, list[Finding]] = {}
    for view in views:
        for rule in rules():
            for finding in rule.findings(view):
                # What a show shares with the usual night is said once, at its place. Two shows
                # are not compared: each may be the only one that somebody reads.
                if view.show is None:
                    usual.setdefault(place_of(finding), []).append(finding)
                else:
                    told = usual.get(place_of(finding))
                    if told and not says_more(finding, told, view.rig):
                        continue
                findings.append(finding)
    return Verdict(_ranked(findings), tuple(views), unseen(rules()), len(rules()))


def _ranked(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    return tuple(
        sorted(
            findings,
            key=lambda f: (
                SEVERITIES.index(f.severity),
                f.show,
                f.rule,
                f.at.file,
                f.at.line,
                f.at.column,
                f.says,
            ),
        )
    )


def only_in(one: Verdict, other: Verdict) -> tuple[Finding, ...]:
    """What only one verdict has; the same sentence with other figures is the same finding."""
    known = {_sense(finding) for finding in other.findings}
    return tuple(finding for finding in one.findings if _sense(finding) not in known)


def _sense(finding: Finding) -> tuple[str, str, str]:
    return finding.rule, finding.show, re.sub(r"[\d.]+", "", finding.says)
