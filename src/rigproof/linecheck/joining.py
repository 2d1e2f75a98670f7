"""Findings that many channels share, told as the one thing that they likely are."""

from collections.abc import Iterator, Mapping, Sequence

import msgspec

from rigproof.linecheck.comparing import Finding, Grade, Kind, Report
from rigproof.linecheck.lineup import Lineup
from rigproof.linecheck.routing import Words
from rigproof.wording import ranges
from rigproof.wording.phrases import Language

MOST_ALONE = 3  # so many channels with one fault are told one by one
# The kinds that one cause gives to many lines, and the decimals of their figure.
_SHARED: Mapping[Kind, int] = {
    "noise": 0,
    "hum": 0,
    "polarity": 0,
    "delay": 3,
    "clock": 0,
    "clipped": 0,
    "distortion": 1,
    "response": 1,
}


def joined(report: Report, lineup: Lineup, language: Language = "en") -> Report:
    """The same report, findings of more than a few channels with one kind and grade as one.

    Its figure is that of the worst of them; the others are named with it.
    """
    findings = tuple(_joined(report.findings, Words(lineup, language)))
    return msgspec.structs.replace(report, findings=findings)


def _joined(findings: Sequence[Finding], words: Words) -> Iterator[Finding]:
    alike: dict[tuple[Kind, Grade], list[Finding]] = {}
    for one in findings:
        if one.kind in _SHARED:
            alike.setdefault((one.kind, one.grade), []).append(one)
    many = {key: mine for key, mine in alike.items() if len(mine) > MOST_ALONE}
    told: set[tuple[Kind, Grade]] = set()
    for one in findings:
        key = (one.kind, one.grade)
        if key not in many:
            yield one
        elif key not in told:
            told.add(key)
            yield _together(many[key], words)


def _together(mine: Sequence[Finding], words: Words) -> Finding:
    first = min(mine, key=lambda one: one.channel)
    # Levels in dBFS are the worse the higher, all other figures the larger.
    worst = max(
        mine, key=lambda one: (one.value if one.unit == "dBFS" else abs(one.value), -one.channel)
    )
    numbers = sorted(one.channel for one in mine)
    says = words.say(
        f"proof.many_{first.kind}",
        numbers=ranges(numbers),
        worst=words.figure(
            worst.value if worst.unit == "dBFS" else abs(worst.value), _SHARED[first.kind]
        ),
    )
    return msgspec.structs.replace(
        worst,
        channel=numbers[0],
        others=tuple(numbers[1:]),
        says=says,
        sure_ratio=min(one.sure_ratio for one in mine),
    )
