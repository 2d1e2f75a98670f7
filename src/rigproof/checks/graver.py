"""Whether what is found on one date says more than what is found on every night at that place."""

import re
from collections.abc import Collection, Sequence

from rigproof.checks.rule import Finding
from rigproof.rig import Group, Mix, Person, Rig, Source

_MORE = re.compile(r"and (\d+) more\b")

Place = tuple[str, str]  # a rule, and where in the file it points


def place_of(finding: Finding) -> Place:
    """Where a finding stands: what two versions of a rig are compared by."""
    return finding.rule, str(finding.at)


def says_more(tonight: Finding, usual: Sequence[Finding], called: Collection[str]) -> bool:
    """Whether a finding of one date has to be told beside those of every night at its place.

    It has where its figure lies further beyond the limit, as printed, or where it is about somebody
    or something that none of the others names. A milder figure about the same needs no second
    telling: whoever mends the usual night has mended this one. `called`: what the rig of the date
    calls its people and things.
    """
    if any(tonight.says == told.says for told in usual):
        return False
    return _worse(tonight, usual) or _names_more(tonight, usual, called)


# Less than a hundredth of the figure is told by nobody from the figure itself.
NOTICED_RATIO = 0.01


def _worse(tonight: Finding, usual: Sequence[Finding]) -> bool:
    """Further beyond the limit than all of the usual ones, by more than nobody would notice.

    Without a limit nobody knows which way is worse.
    """
    if tonight.found is None or tonight.limit is None:
        return False
    least = NOTICED_RATIO * max(abs(tonight.found), abs(tonight.limit))
    like = [told for told in usual if told.found is not None and told.limit is not None]
    return bool(like) and all(_beyond(tonight) - _beyond(told) > least for told in like)


def _beyond(finding: Finding) -> float:
    assert finding.found is not None
    assert finding.limit is not None
    return abs(finding.found - finding.limit)


def _names_more(tonight: Finding, usual: Sequence[Finding], called: Collection[str]) -> bool:
    here = {name for name in called if _has(tonight.says, name)}
    known: set[str] = set()
    hidden = most = 0
    for told in usual:
        there = {name for name in called if _has(told.says, name)}
        known |= there
        hidden += _uncounted(told)
        most = max(most, len(there) + _uncounted(told))
    if hidden or _uncounted(tonight):
        # A name that shows now may have stood among those that were only counted.
        return len(here) + _uncounted(tonight) > most
    return not here <= known


def _uncounted(finding: Finding) -> int:
    """How many a long row of names leaves out."""
    return sum(int(number) for number in _MORE.findall(finding.says))


def names(rig: Rig) -> frozenset[str]:
    """What the file calls its people and things: only these tell one finding from another."""
    file = rig.file
    found = {lane for source in file.sources for lane in source.lane_names}
    named: list[Person | Source | Mix | Group] = []
    named += [*file.people, *file.sources, *file.mixes, *file.groups]
    found |= {thing.name for thing in named}
    found |= {lead.label or lead.id for lead in file.leads} | set(rig.box_names.values())
    return frozenset(found - {""})


def _has(text: str, name: str) -> bool:
    """Whether a text holds a name as words of its own."""
    if name not in text:
        return False
    return re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text) is not None
