"""Where each line arrives, against where it belongs: missing, moved, swapped, off by a row."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Literal

import msgspec

from rigproof.linecheck.lineup import Line, Lineup
from rigproof.wording.phrases import Language, phrase

_LEAST_RUN = 3


class Words:
    """Lines by their names and plugs, in one language."""

    def __init__(self, lineup: Lineup, language: Language) -> None:
        self.lineup, self.language = lineup, language

    def say(self, key: str, **values: object) -> str:
        """A sentence, with a capital at its head."""
        said = self.part(key, **values)
        return said[:1].upper() + said[1:]

    def part(self, key: str, **values: object) -> str:
        """A phrase as it stands within a sentence."""
        return phrase(self.language, key, **values)

    def figure(self, value: float, decimals: int = 1) -> str:
        """A figure as the language writes it."""
        text = f"{round(value, decimals) + 0.0:.{decimals}f}"
        return text.replace(".", ",") if self.language == "de" else text

    def line(self, number: int) -> Line:
        return self.lineup.get(number) or Line(number=number, name="")

    def name(self, number: int) -> str:
        """`4 (Kick)`, or the number alone."""
        line = self.line(number)
        return f"{number} ({line.name})" if line.name else str(number)

    def plug(self, number: int) -> str:
        """Where a line is plugged, or the line itself where nobody says."""
        line = self.line(number)
        return line.plug or self.part("proof.line", line=self.name(number))


class AloneWords(Words):
    """The same where levels are known by themselves, not beside one another."""

    def part(self, key: str, **values: object) -> str:
        alone = {"proof.over": "proof.over_alone", "proof.under": "proof.under_alone"}
        return super().part(alone.get(key, key), **values)


class Misplaced(msgspec.Struct, frozen=True, kw_only=True):
    """Lines that do not arrive where they belong; the first recorded channel, and the others."""

    channel: int
    kind: Literal["missing", "elsewhere", "stranger"]
    holds: int  # the played channel that is there; 0 where none is
    certain: bool  # whether it is a fault at all
    says: str
    others: tuple[int, ...] = ()


def misplaced(ruling: Mapping[int, int | None], words: Words, most: int) -> Iterator[Misplaced]:
    """Everything that is not where it belongs. `ruling`: recorded -> the played channel in it.

    `most`: as many channels were played; what belongs on higher ones was not tested.
    """
    arrives: dict[int, list[int]] = {}  # played -> the recorded channels it rules
    for number, played in ruling.items():
        if played is not None:
            arrives.setdefault(played, []).append(number)
    moved = {
        number: played
        for number, played in ruling.items()
        if played is not None and played != number
    }
    told: set[int] = set()
    for block in _blocks(moved):
        told |= {*block, *(moved[number] for number in block)}
        yield _exchanged(block, moved, words)
    for ring in _rings({one: to for one, to in moved.items() if one not in told}):
        told |= set(ring)
        yield _ring(ring, moved, words)
    for run in _runs({one: to for one, to in moved.items() if one not in told}):
        told |= set(run)
        yield _run(run, moved, words)
    for number, played in sorted(moved.items()):
        if number not in told:
            key = "proof.copy" if played in arrives[played] else "proof.elsewhere"
            says = words.say(
                key,
                channel=words.name(number),
                line=words.name(played),
                plug=words.plug(number),
                home=words.plug(played),
            )
            yield Misplaced(
                channel=number,
                kind="elsewhere",
                holds=played,
                certain=True,
                says=says,
                others=(played,),
            )
    yield from _missing(ruling, arrives, moved, words, most)


def _missing(
    ruling: Mapping[int, int | None],
    arrives: Mapping[int, Sequence[int]],
    moved: Mapping[int, int],
    words: Words,
    most: int,
) -> Iterator[Misplaced]:
    # Where no list tells, something belongs on every channel that was played.
    listed = [number for number, line in words.lineup.items() if line.known]
    expected = [number for number in listed or range(1, most + 1) if number <= most]
    for number in expected:
        if number not in arrives and number in ruling:
            says = words.say("proof.missing", line=words.name(number), plug=words.plug(number))
            yield Misplaced(channel=number, kind="missing", holds=0, certain=True, says=says)
        elif number not in ruling:
            says = words.say("proof.unrecorded", line=words.name(number), n=len(ruling))
            yield Misplaced(channel=number, kind="missing", holds=0, certain=False, says=says)
    for number, played in ruling.items():
        if played is not None and number not in expected and number not in moved:
            says = words.say("proof.stranger", channel=number)
            yield Misplaced(channel=number, kind="stranger", holds=played, certain=False, says=says)


def _ways(row: Sequence[int], moved: Mapping[int, int], words: Words) -> str:
    return "; ".join(
        words.part("proof.holds", plug=words.plug(number), home=words.plug(moved[number]))
        for number in row
    )


def _run(run: Sequence[int], moved: Mapping[int, int], words: Words) -> Misplaced:
    """Neighbours that are all off by as many places: a loom plugged one socket on."""
    first, last = run[0], run[-1]
    by = moved[first] - first
    says = words.say(
        "proof.row_on" if by > 0 else "proof.row_back",
        first=first,
        last=last,
        n=abs(by),
        ways=_ways((first, last), moved, words),
    )
    return _moved(run, moved, says)


def _moved(row: Sequence[int], moved: Mapping[int, int], says: str) -> Misplaced:
    return Misplaced(
        channel=row[0],
        kind="elsewhere",
        holds=moved[row[0]],
        certain=True,
        says=says,
        others=tuple(row[1:]),
    )


def _ring(ring: Sequence[int], moved: Mapping[int, int], words: Words) -> Misplaced:
    """Lines that took each other's places, told by their plugs."""
    boxes = {words.line(number).box for number in ring}
    where = ""
    if len(boxes) == 1 and "" not in boxes:
        box = words.line(ring[0]).box_name
        where = " " + words.part("proof.at_box", box=box)
    if len(ring) == 2:
        a, b = ring
        says = words.say(
            "proof.swapped",
            a=words.name(a),
            b=words.name(b),
            where=where,
            plug_a=words.plug(a),
            plug_b=words.plug(b),
        )
        return _moved(ring, moved, says)
    row = sorted(ring)
    shifts = [moved[number] - number for number in row]
    if row == list(range(row[0], row[-1] + 1)) and len(set(shifts[:-1])) == 1:
        # All one on and the last one first: somebody began a row at the wrong end of it.
        odd, key = row[-1], "proof.rotated_on"
    elif row == list(range(row[0], row[-1] + 1)) and len(set(shifts[1:])) == 1:
        odd, key = row[0], "proof.rotated_back"
    else:
        ways = _ways(ring, moved, words)
        return _moved(ring, moved, words.say("proof.ring", n=len(ring), where=where, ways=ways))
    says = words.say(
        key,
        first=row[0],
        last=row[-1],
        where=where,
        ways=_ways((next(one for one in row if one != odd), odd), moved, words),
    )
    return _moved(row, moved, says)


def _exchanged(block: Sequence[int], moved: Mapping[int, int], words: Words) -> Misplaced:
    """Two rows in each other's places: somebody took one loom for the other."""
    others = [moved[number] for number in block]
    says = words.say(
        "proof.exchanged", first=block[0], last=block[-1], other=others[0], end=others[-1]
    )
    return _moved([*block, *others], moved, says)


def _blocks(moved: Mapping[int, int]) -> Iterator[tuple[int, ...]]:
    """Rows of neighbours, three or more, that exchanged places with another row one for one."""
    yield from _runs({one: to for one, to in moved.items() if one < to and moved.get(to) == one})


def _runs(moved: Mapping[int, int]) -> Iterator[tuple[int, ...]]:
    """Neighbouring channels, three or more, whose lines are all off by as many places."""
    run: list[int] = []
    for number in [*sorted(moved), 0]:
        if run and (number != run[-1] + 1 or moved[number] - number != moved[run[-1]] - run[-1]):
            if len(run) >= _LEAST_RUN:
                yield tuple(run)
            run = []
        run.append(number)


def _rings(moved: Mapping[int, int]) -> Iterator[tuple[int, ...]]:
    """Closed rings of exchanged places: each channel holds what belongs on the next."""
    seen: set[int] = set()
    for start in sorted(moved):
        trail: list[int] = []
        here = start
        while here in moved and here not in seen:
            seen.add(here)
            trail.append(here)
            here = moved[here]
        if trail and here == start:
            yield tuple(trail)
