"""Run the rules over a rig and its shows, and say what was found and what was not looked at."""

import re
from collections.abc import Sequence
from contextlib import ExitStack
from functools import cached_property, partial

import msgspec

from rigproof.checks.beside import beside, processes
from rigproof.checks.catalogue import rules
from rigproof.checks.graver import Place, names, place_of, says_more
from rigproof.checks.rule import SEVERITIES, Finding, Severity, View, look, look_once
from rigproof.checks.scope import unseen
from rigproof.rig import Rig, Show
from rigproof.rig.collecting import no_collecting


class Verdict(msgspec.Struct, frozen=True, dict=True):
    """Everything found, gravest first, with what was planned and what nobody looked at.

    `nights`: the usual one first, then each show that differs from it; a show alone where another
    process has judged it.
    """

    findings: tuple[Finding, ...]
    nights: tuple[View | Show, ...]
    not_looked_at: tuple[str, ...]
    rules: int

    def count(self, severity: Severity) -> int:
        return sum(finding.severity == severity for finding in self.findings)

    @property
    def clean(self) -> bool:
        return not self.findings

    @property
    def view(self) -> View:
        """The usual night."""
        usual = self.nights[0]
        assert isinstance(usual, View)
        return usual

    @cached_property
    def views(self) -> tuple[View, ...]:
        """Every night, the usual one first."""
        rig = self.view.stated
        return tuple(n if isinstance(n, View) else look(rig, n) for n in self.nights)


def check(rig: Rig) -> Verdict:
    """Judge a rig as it stands, and each show that changes it.

    The verdict on the rig judged last is kept: a rig cannot change, so neither can its verdict.
    """
    shared = min(processes(), _MOST_PROCESSES) if len(rig.sources) >= _LARGE else 1
    return _kept(rig, shared)


def check_whole(rig: Rig) -> Verdict:
    """The same by this process alone, for pages of every night.

    Another process brings back what it found and not the night itself, which pages would have to
    look at once more.
    """
    return _kept(rig, 1)


def _kept(rig: Rig, shared: int) -> Verdict:
    if not (_LAST and _LAST[0][0] is rig):
        _LAST[:] = [(rig, _judged(rig, shared))]
    return _LAST[0][1]


_LAST: list[tuple[Rig, Verdict]] = []


class _Night(msgspec.Struct, frozen=True):
    """One night as it was judged: all that was found, and what its people and things are called."""

    findings: tuple[Finding, ...]
    names: frozenset[str]


# From so many sources on, a night takes longer than a second process takes to begin with it.
_LARGE = 100
# Each process holds one night, and a night of some thousand sources takes a third of a gigabyte.
_MOST_PROCESSES = 4


@no_collecting()
def _judged(rig: Rig, shared: int) -> Verdict:
    shows = [show for show in rig.file.shows if rig.for_show(show).file != rig.file]
    rules()  # what all nights need is there before they part
    lots = min(shared, 1 + len(shows))
    with ExitStack() as running:
        away = [
            running.enter_context(beside(partial(_apart, rig, shows[lot::lots])))
            for lot in range(lots - 1)
        ]
        views = [look(rig), *(look(rig, show) for show in shows[lots - 1 :: lots])]
        usual, *here = [_night(view) for view in views]
        brought = [[*lot()] for lot in away] + [here]
    nights = [brought[number % lots][number // lots] for number in range(len(shows))]
    seen = {view.show.id: view for view in views if view.show is not None}
    told = [*usual.findings]
    known = _by_place(usual.findings)
    for night in nights:
        # What a show shares with the usual night is said once, at its place. Two shows
        # are not compared: each may be the only one that somebody reads.
        for finding in night.findings:
            before = known.get(place_of(finding))
            if not before or says_more(finding, before, night.names):
                told.append(finding)
    return Verdict(
        _ranked(told),
        (views[0], *(seen.get(show.id, show) for show in shows)),
        unseen(rules()),
        len(rules()),
    )


def _night(view: View) -> _Night:
    found = tuple(finding for rule in rules() for finding in rule.findings(view))
    return _Night(found, names(view.rig))


def _apart(rig: Rig, shows: Sequence[Show]) -> list[_Night]:
    """Some shows, one after the other; nothing of them is kept but what was found."""
    return [_night(look_once(rig, show)) for show in shows]


def _by_place(findings: Sequence[Finding]) -> dict[Place, list[Finding]]:
    found: dict[Place, list[Finding]] = {}
    for finding in findings:
        found.setdefault(place_of(finding), []).append(finding)
    return found


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
