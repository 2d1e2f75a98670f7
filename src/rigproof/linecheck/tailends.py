"""The house end of our lines: what arrives there, in the numbers that the tails wear.

A take of the house's inputs is turned into those numbers first, and then held against the plan as
the rack's own channels are. What a broken tail does to a level depends on what hangs on its two
ends (`physics.tails`), so one fault has several faces; each is named with what else looks like it.
"""

from collections.abc import Iterator, Mapping, Sequence
from statistics import median
from typing import TypeVar

import msgspec

from rigproof.linecheck.comparing import (
    GRADES,
    HUM_DBFS,
    LEVEL_DB,
    Finding,
    LineResult,
    Report,
    compared,
    with_grades,
)
from rigproof.linecheck.lineup import Ends, Line, Lineup
from rigproof.linecheck.measuring import Take
from rigproof.linecheck.responses import THIRDS_HZ
from rigproof.linecheck.routing import Misplaced, Words, misplaced
from rigproof.wording import ranges
from rigproof.wording.phrases import Language, phrase, subject

Value = TypeVar("Value")

_OURS, _THEIRS = 1000, 2000  # our channels that no tail carries, and inputs that no tail belongs in
_STRAY_DB = 30.0  # so far under the usual level an input without a tail is nobody's business

# Between which levels under the plan a fault of a pair shows, and how steep a thin one rises. From
# `physics.tails`, for usual outputs and inputs; the tests hold the one against the other.
HALF_DB = (4.5, 12.0)
FED_DB = (12.0, 28.0)
SHORT_FROM_DB = 38.0
THIN_DB_AN_OCTAVE = 3.0
THIN_FROM_DB = 6.0
# A line that only capacitance closes rises by 6 dB an octave, until the input's own takes over:
# high up on some, low down on others.
_THIN_BANDS_HZ = ((100.0, 1000.0), (200.0, 4000.0))
# Faults take level away, so what most healthy tails share is no median where many are broken: it
# is where most of them crowd. Where fewer than so many crowd, the house's gains are not alike.
_CROWD_DB = 1.5
_CROWD_RATIO = 0.4
_LEAST_UNLIKE = 4
_QUIETER_DB = 10.0
MOVING_DB = 1.0  # within one pass of the signal


class TailWords(Words):
    """Tails by the numbers that they wear, beside our own channels and the house's inputs."""

    def __init__(self, lineup: Lineup, language: Language, own: Lineup) -> None:
        super().__init__(lineup, language)
        self.own = own

    def part(self, key: str, **values: object) -> str:
        """A phrase as it is said of tails, where that differs."""
        tails = f"tails.{key.partition('.')[2]}"
        return super().part(tails if tails in subject("tails") else key, **values)

    def name(self, number: int) -> str:
        """`tail 4 (Snare)`."""
        if number > _THEIRS:
            return self.part("tails.entry", number=number - _THEIRS)
        if number > _OURS:
            line = self.own.get(number - _OURS) or Line(number=0, name="")
            key = "tails.ours_named" if line.name else "tails.ours"
            return self.part(key, number=number - _OURS, name=line.name)
        line = self.line(number)
        key = "tails.name" if line.name else "tails.end"
        return self.part(key, number=number, name=line.name)

    def plug(self, number: int) -> str:
        return self.name(number)


def heard_where(
    plugged: Mapping[int, int], lineup: Lineup, ends: Ends, told: "Told", language: Language = "en"
) -> tuple[Misplaced, ...]:
    """What is on a wrong tail, by hearing alone. `plugged`: tail -> the channel heard there.

    Tails that are not in `plugged` were silent.
    """
    words = TailWords(lineup, language, told.own)
    carrying = {end.channel: number for number, end in sorted(ends.items(), reverse=True)}

    def number(tail: int, channel: int) -> int:
        return tail if ends[tail].channel == channel else carrying.get(channel, _OURS + channel)

    ruling = {
        tail: number(tail, plugged[tail]) if tail in plugged else None
        for tail in ends
        if tail in lineup
    }
    found = []
    for one in misplaced(ruling, words, max(ends, default=0)):
        strange = next((other for other in one.others if other - _OURS in told.private), None)
        says = one.says
        if strange is not None:
            says = words.say(
                "tails.private", line=words.name(strange), channel=words.name(one.channel)
            )
        elif one.kind == "missing":
            key = "tails.absent" if one.channel in plugged else "tails.unsaid"
            says = words.say(key, line=words.name(one.channel))
        found.append(msgspec.structs.replace(one, says=says))
    return tuple(found)


def of_inputs(take: Take, ends: Ends) -> Take:
    """A take of the house's inputs, by the numbers of the tails that belong in them."""
    wearing = {end.entry: number for number, end in ends.items()}
    levels = [
        heard.responses[0].gain_db
        for heard in take.channels
        if heard.channel in wearing and heard.responses
    ]
    floor_db = median(levels) - _STRAY_DB if levels else 0.0
    places = {
        heard.channel: wearing.get(heard.channel, _THEIRS + heard.channel)
        for heard in take.channels
        if heard.channel in wearing or (heard.responses and heard.responses[0].gain_db > floor_db)
    }
    return numbered_anew(take, places, ends)


def numbered_anew(take: Take, places: Mapping[int, int], ends: Ends) -> Take:
    """A take by the numbers of tails, without the channels that stand for none.

    `places`: recorded channel -> the number that it stands for.
    """
    carrying: dict[int, int] = {}
    for number, end in sorted(ends.items(), reverse=True):
        if end.channel is not None:
            carrying[end.channel] = number

    def turned(played: int, place: int) -> int:
        """The tail that carries a played channel; of several the one that was plugged."""
        end = ends.get(place)
        if end is not None and end.channel == played + 1:
            return place - 1
        return carrying.get(played + 1, _OURS + played + 1) - 1

    channels = []
    for heard in take.channels:
        place = places.get(heard.channel)
        if place is not None:
            channels.append(
                msgspec.structs.replace(
                    heard,
                    channel=place,
                    responses=tuple(
                        msgspec.structs.replace(
                            one, recorded=place - 1, played=turned(one.played, place)
                        )
                        for one in heard.responses
                    ),
                )
            )

    def by_place(values: Mapping[tuple[int, int], Value]) -> dict[tuple[int, int], Value]:
        return {
            (places[recorded + 1] - 1, turned(played, places[recorded + 1])): value
            for (recorded, played), value in values.items()
            if recorded + 1 in places
        }

    return msgspec.structs.replace(
        take,
        channels=tuple(sorted(channels, key=lambda heard: heard.channel)),
        thirds_db=by_place(take.thirds_db),
        distortion_ratio=by_place(take.distortion_ratio),
        played=max(ends, default=0),
    )


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """What is known beside a take: our channels, which of them the house must not get, and so on.

    `played`: channels of the signal. `walked`: one tail after another was plugged into a recorder.
    `moving_db`: by so much that recorder turned its level by itself. `torn`: times that the signal
    played while a plug was moved.
    """

    own: Lineup
    private: frozenset[int]
    played: int
    walked: bool = False
    moving_db: float | None = None
    torn: int = 0


def played_channel(number: int | None, ends: Ends) -> int | None:
    """The channel of the signal that a number of such a report stands for."""
    if number is None:
        return None
    return number - _OURS if number > _OURS else ends[number].channel


def drawable(report: Report) -> Report:
    """The report with tails only: what is drawn by number has no room for strange lines."""
    return msgspec.structs.replace(
        report,
        lines=tuple(
            msgspec.structs.replace(
                one,
                found=None if one.found is None or one.found > _OURS else one.found,
                crosstalk=tuple(pair for pair in one.crosstalk if pair[0] < _OURS),
            )
            for one in report.lines
            if one.line.number < _OURS
        ),
    )


def at_house(
    take: Take, lineup: Lineup, ends: Ends, told: Told, language: Language = "en"
) -> Report:
    """Hold a take, by the numbers of the tails, against what belongs on them."""
    words = TailWords(lineup, language, told.own)
    beyond = [number for number, end in sorted(ends.items()) if (end.channel or 0) > told.played]
    words.lineup = {number: line for number, line in lineup.items() if number not in beyond}
    unfed = [number for number, end in sorted(ends.items()) if end.channel is None]
    wired = any(not end.digital for end in ends.values())
    report = compared(
        take,
        words,
        (
            *(words.part("tails.untested_line", line=words.name(number)) for number in beyond),
            *(words.part("tails.untested_unfed", line=words.name(number)) for number in unfed),
            *(
                phrase(language, f"tails.{key}")
                for key in (*(_OF_PAIRS if wired else ()), *_OF_ALL)
            ),
            *_of_a_walk(told, words),
        ),
        usual_db=crowd_db,
    )
    return _Looker(report, words, told, ends).report()


_OF_PAIRS = ("untested_pin", "untested_hidden", "untested_shield", "untested_phantom")
_OF_ALL = ("untested_gain",)


def crowd_db(levels_db: Sequence[float]) -> float:
    """The level around which most crowd; the higher of two equal crowds, and the crowd's median."""
    crowds: list[list[float]] = [
        [level for level in levels_db if abs(level - middle) <= _CROWD_DB] for middle in levels_db
    ]
    return max((len(crowd), median(crowd)) for crowd in crowds)[1]


def _of_a_walk(told: Told, words: TailWords) -> Iterator[str]:
    """What a walk with a recorder leaves out."""
    if told.walked:
        yield words.part("tails.untested_copies")
    if told.torn:
        yield words.part("tails.untested_torn", n=told.torn)
    if told.moving_db is not None:
        yield words.part("tails.untested_moving")


def _unlike(report: Report) -> bool:
    """Whether the house's gains differ too much for a level to tell anything."""
    judged = [one for one in report.lines if one.gain_error_db is not None]
    alike = [one for one in judged if abs(one.gain_error_db or 0.0) <= _CROWD_DB]
    return len(judged) >= _LEAST_UNLIKE and len(alike) < _CROWD_RATIO * len(judged)


def levels_count(report: Report) -> bool:
    """Whether the levels of a proof of tails tell anything."""
    turned = any(finding.kind == "automatic" for finding in report.findings)
    return not turned and not _unlike(report)


_OF_A_TORN_PAIR = frozenset({"level", "response", "distortion", "delay", "crosstalk"})
_MOST_ALONE = 3  # more tails that nobody heard are told together


class _Looker:
    """Makes of levels and slopes the fault of a pair, and of strange lines what they mean."""

    def __init__(self, report: Report, words: TailWords, told: Told, ends: Ends) -> None:
        self.before, self.words, self.told, self.ends = report, words, told, ends
        self.private = frozenset(_OURS + number for number in told.private)
        self.unlike = _unlike(report)
        self.levels_count = told.moving_db is None and not self.unlike
        self.usual_noise_dbfs = median(
            [one.noise_dbfs for one in report.lines if one.noise_dbfs is not None] or [0.0]
        )

    def report(self) -> Report:
        by_tail: dict[int, list[Finding]] = {}
        for finding in self.before.findings:
            by_tail.setdefault(finding.channel, []).append(finding)
        findings = [
            finding
            for number, mine in by_tail.items()
            for finding in self._of_tail(self._line(number), mine)
        ]
        findings = self._together(findings)
        if self.told.moving_db is not None and self.before.lines:
            findings.append(self._moving(self.before.lines[0].line.number, self.told.moving_db))
        lines = with_grades(self.before.lines, findings)
        untested = list(self.before.not_tested)
        if self.unlike and self.told.moving_db is None:
            untested.insert(0, self.words.part("tails.untested_levels"))
        return msgspec.structs.replace(
            self.before,
            lines=lines,
            findings=tuple(
                sorted(findings, key=lambda one: (-GRADES.index(one.grade), one.channel, one.kind))
            ),
            not_tested=tuple(untested),
        )

    def _together(self, findings: list[Finding]) -> list[Finding]:
        """Many tails that were not heard, or not recorded, as one finding."""
        apart = [
            one for one in findings if one.kind == "missing" and self._line(one.channel) is None
        ]
        if len(apart) <= _MOST_ALONE:
            return findings
        numbers = sorted(one.channel for one in apart)
        key = "tails.unheard_many" if self.told.walked else "tails.unrecorded_many"
        says = self.words.say(key, numbers=ranges(numbers))
        joined = msgspec.structs.replace(
            apart[0], channel=numbers[0], others=tuple(numbers[1:]), says=says
        )
        return [*(one for one in findings if one not in apart), joined]

    def _line(self, number: int) -> LineResult | None:
        return next((one for one in self.before.lines if one.line.number == number), None)

    def _of_tail(self, one: LineResult | None, mine: Sequence[Finding]) -> Iterator[Finding]:
        pair = None if one is None or one.found is None else self._pair(one)
        if pair is not None:
            yield pair
        for finding in mine:
            if one is not None and pair is not None and finding.kind in self._bent(one, pair):
                continue  # so far down they say more of the noise than of the tail
            if finding.kind == "level" and not self.levels_count:
                continue
            yield self._renamed(one, finding)

    def _bent(self, one: LineResult, pair: Finding) -> frozenset[str]:
        """The matters that a torn pair bends with it."""
        # A capacitance turns the phase by a quarter: neither upright nor upside down.
        thin = pair.kind == "open-leg" and self._slope_db(one) > THIN_DB_AN_OCTAVE
        return _OF_A_TORN_PAIR | {"polarity"} if thin else _OF_A_TORN_PAIR

    def _renamed(self, one: LineResult | None, finding: Finding) -> Finding:
        """What belongs to the band alone is named as such; of nothing at all what it may be."""
        strange = next((number for number in finding.others if number in self.private), None)
        if strange is not None and finding.kind in ("elsewhere", "crosstalk"):
            key = "private" if finding.kind == "elsewhere" else "private_in"
            says = self.words.say(
                f"tails.{key}",
                line=self.words.name(strange),
                channel=self.words.name(finding.channel),
                below=f"{-finding.value:.0f}",
            )
            return msgspec.structs.replace(finding, kind="private", grade="fail", says=says)
        if finding.kind == "missing":
            return self._missed(one, finding)
        foreign = next((number for number in finding.others if number > _OURS), None)
        if foreign is not None and finding.kind == "elsewhere":
            says = self.words.say(
                "tails.foreign",
                line=self.words.name(foreign),
                channel=self.words.name(finding.channel),
            )
            return msgspec.structs.replace(finding, says=says)
        return finding

    def _missed(self, one: LineResult | None, finding: Finding) -> Finding:
        """A line that arrives nowhere: its tail holds nothing, or another's, or was not heard."""
        name = self.words.name(finding.channel)
        if one is None:
            if not self.told.walked:
                return finding
            says = self.words.say("tails.unheard", line=name)
            return msgspec.structs.replace(finding, grade="fail", says=says)
        if one.found is not None:
            says = self.words.say("tails.absent", line=name)
        else:
            nothing = self.words.say("tails.nothing", line=name)
            says = " ".join(filter(None, (nothing, self._hint(one))))
        return msgspec.structs.replace(finding, says=says)

    def _hint(self, one: LineResult) -> str:
        """What the silence of a dead tail makes likely."""
        if self._hums(one):
            return self.words.say("tails.hint_hum")
        quiet = one.noise_dbfs is not None and one.noise_dbfs < self.usual_noise_dbfs - _QUIETER_DB
        return self.words.say("tails.hint_quiet") if quiet else ""

    def _hums(self, one: LineResult) -> bool:
        return one.hum_dbfs is not None and one.hum_dbfs > HUM_DBFS[0]

    def _pair(self, one: LineResult) -> Finding | None:
        """The fault of a pair that a level and a slope show; None where they show none."""
        end = self.ends.get(one.line.number)
        if one.gain_error_db is None or end is None or end.digital:
            return None
        under_db = -one.gain_error_db
        if under_db - one.line.gain_off_db < LEVEL_DB[0]:
            return None  # the plan itself is no surer than that
        slope_db = self._slope_db(one)
        if slope_db > THIN_DB_AN_OCTAVE and under_db > THIN_FROM_DB:
            kind, key, sure_ratio = "open-leg", "open_thin", 0.95
        elif not self.levels_count or slope_db > THIN_DB_AN_OCTAVE:
            return None
        elif HALF_DB[0] < under_db <= HALF_DB[1]:
            kind, key, sure_ratio = "open-leg", "half", 0.6
        elif FED_DB[0] < under_db <= FED_DB[1]:
            kind, key, sure_ratio = "open-leg", "open_fed", 0.5
        elif under_db > SHORT_FROM_DB:
            kind, key, sure_ratio = "short", "short", 0.7
        else:
            return None
        says = self.words.say(
            f"tails.{key}",
            channel=self.words.name(one.line.number),
            off=self.words.figure(-one.gain_error_db),
            slope=self.words.figure(slope_db),
        )
        if kind == "open-leg" and self._hums(one):
            says, sure_ratio = f"{says} {self.words.say('tails.hums_too')}", max(sure_ratio, 0.85)
        return Finding(
            channel=one.line.number,
            kind="open-leg" if kind == "open-leg" else "short",
            grade="fail",
            value=one.gain_error_db,
            unit="dB",
            limit=-LEVEL_DB[0] - one.line.gain_off_db,
            says=says,
            sure_ratio=sure_ratio,
        )

    def _slope_db(self, one: LineResult) -> float:
        """By how much a response rises per octave, where it rises most."""
        return max(
            _tilt_db(
                [
                    level
                    for level, hz in zip(one.thirds_db, THIRDS_HZ, strict=False)
                    if 0.95 * low <= hz <= 1.05 * high
                ]
            )
            for low, high in _THIN_BANDS_HZ
        )

    def _moving(self, number: int, moving_db: float) -> Finding:
        says = self.words.say(
            "tails.moving", channel=self.words.name(number), off=self.words.figure(moving_db)
        )
        return Finding(
            channel=number,
            kind="automatic",
            grade="doubt",
            value=moving_db,
            unit="dB",
            limit=MOVING_DB,
            says=says,
            sure_ratio=0.9,
        )


def _tilt_db(thirds_db: Sequence[float]) -> float:
    """By how much neighbouring third octaves rise per octave, by least squares."""
    if len(thirds_db) < 3:
        return 0.0
    middle, mean = (len(thirds_db) - 1) / 2, sum(thirds_db) / len(thirds_db)
    spread = sum((place - middle) ** 2 for place in range(len(thirds_db)))
    tilt = sum((place - middle) * (level - mean) for place, level in enumerate(thirds_db))
    return 3 * tilt / spread
