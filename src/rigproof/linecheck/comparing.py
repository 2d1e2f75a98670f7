"""What was built against what was drawn: line by line, each figure with its limit."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from statistics import median
from typing import Literal, get_args

import msgspec

from rigproof.linecheck.lineup import Line, Lineup
from rigproof.linecheck.measuring import Heard, Take
from rigproof.linecheck.responses import THIRDS_HZ, Response
from rigproof.linecheck.routing import AloneWords, Words, misplaced
from rigproof.linecheck.silence import Hum
from rigproof.wording.phrases import Language, phrase

Grade = Literal["pass", "doubt", "fail"]
GRADES: tuple[Grade, ...] = get_args(Grade)
Kind = Literal[
    "missing",
    "elsewhere",
    "stranger",
    "polarity",
    "level",
    "delay",
    "noise",
    "hum",
    "crosstalk",
    "response",
    "distortion",
    "clipped",
    "clock",
    # Only at the house end of a line:
    "open-leg",
    "short",
    "private",
    "automatic",
]

# From which figure on a matter is doubtful, and from which it fails. Common practice, no source:
# a line within 1 dB of its plan is as built; the rest are bounds at which a line is looked at.
LEVEL_DB = (1.0, 3.0)
DELAY_MS = (0.02, 0.5)  # one sample at 48 kHz is 0.0208 ms
NOISE_OVER_OTHERS_DB = (10.0, 20.0)
NOISE_DBFS = (-60.0, -40.0)
HUM_DBFS = (-75.0, -55.0)
CROSSTALK_DB = (-50.0, -40.0)
RESPONSE_DB = (3.0, 6.0)
RESPONSE_HZ = (80.0, 12_000.0)
DISTORTION_RATIO = (0.005, 0.03)
CLOCK_PPM = (5.0, 50.0)
_RATE_RATIO = 0.01


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that a measurement shows. Channels are those of the recording, from 1.

    `sure_ratio`: how sure it is, from 0 to 1. `others`: further channels it concerns.
    """

    channel: int
    kind: Kind
    grade: Grade
    value: float
    unit: str
    limit: float
    says: str
    sure_ratio: float
    others: tuple[int, ...] = ()


class LineResult(msgspec.Struct, frozen=True, kw_only=True):
    """What one line was measured to be. None: nothing arrived, so nothing was measured.

    `covered`: noise or hum covers its response, so that what was read of it is not the line's.
    """

    line: Line
    found: int | None  # the played channel that rules it
    gain_db: float | None = None
    gain_error_db: float | None = None
    delay_ms: float | None = None
    delay_error_ms: float | None = None
    upright: bool | None = None
    noise_dbfs: float | None = None
    hum: Hum | None = None
    distortion_ratio: float | None = None
    thirds_db: tuple[float, ...] = ()
    crosstalk: tuple[tuple[int, float], ...] = ()  # played channel, and dB under the line's own
    covered: bool = False
    grade: Grade = "pass"

    @property
    def hum_dbfs(self) -> float | None:
        """All multiples of the mains together."""
        return self.hum.total_dbfs if self.hum is not None else None


class Report(msgspec.Struct, frozen=True, kw_only=True):
    """A measurement held against the plan, and what it did not look at.

    `full_scale_dbu`: of the player, where levels were judged by themselves; None where they were
    judged beside one another.
    """

    lines: tuple[LineResult, ...]
    findings: tuple[Finding, ...]
    not_tested: tuple[str, ...]
    rate_ratio: float
    start_s: float
    full_scale_dbu: float | None = None

    @property
    def rate_is_wrong(self) -> bool:
        """Whether two boxes disagree on the rate; a clock is never off by so much."""
        return abs(self.rate_ratio - 1) > _RATE_RATIO

    @property
    def grade(self) -> Grade:
        found = [finding.grade for finding in self.findings]
        return worst([*found, "doubt"] if self.rate_is_wrong else found)


def worst(grades: "Sequence[Grade] | Iterator[Grade]") -> Grade:
    """The gravest of some grades; a pass where there is none."""
    return max(grades, key=GRADES.index, default="pass")


def compare(
    take: Take, lineup: Lineup, language: Language = "en", *, full_scale_dbu: float | None = None
) -> Report:
    """Hold a take of the test signal, played into each line's plug, against what is expected.

    Played channel n is expected on recorded channel n. Levels and delays are judged against the
    plan after the offset that all lines share, which the player's own level and latency make. With
    the level of the player's 0 dBFS, levels are judged by themselves: unless all of them are off by
    as much, for then that level is likelier wrong, or the recorder's own, than all lines.
    """
    words = Words(lineup, language)
    not_tested = [phrase(language, key) for key in _NOT_TESTED]
    if full_scale_dbu is None:
        return compared(take, words, not_tested)
    known_dbu = full_scale_dbu
    slack_db = LEVEL_DB[0] + median([line.gain_off_db for line in lineup.values()] or [0.0])
    all_off_db = gain_offset_db(take, lineup, median) - known_dbu
    if abs(all_off_db) > slack_db:
        key = "proof.untested_scale_over" if all_off_db > 0 else "proof.untested_scale_under"
        off = words.figure(abs(all_off_db))
        return compared(take, words, [words.part(key, off=off), *not_tested])
    report = compared(take, AloneWords(lineup, language), not_tested, usual_db=lambda _: known_dbu)
    return msgspec.structs.replace(report, full_scale_dbu=known_dbu)


def gain_offset_db(
    take: Take, lineup: Lineup, usual_db: Callable[[Sequence[float]], float]
) -> float:
    """By how much the lines together are over their plan, or over nothing where none is planned.

    Lines are held against the plan of the channel they arrive on.
    """
    planned = any(line.gain_db is not None for line in lineup.values())
    over = []
    for heard in take.channels:
        one, line = _ruling(heard), lineup.get(heard.channel)
        gain_db = line.gain_db if line is not None else None
        if one is not None and (gain_db is not None or not planned):
            over.append(one.gain_db - (gain_db or 0.0))
    return usual_db(over or [0.0])


def with_grades(lines: Iterable[LineResult], findings: Sequence[Finding]) -> tuple[LineResult, ...]:
    """Each line with the worst of what was found about it."""
    return tuple(
        msgspec.structs.replace(
            one,
            grade=worst(
                finding.grade
                for finding in findings
                if one.line.number == finding.channel
                # A line that leaks into a neighbour may itself be as it should.
                or (finding.kind == "elsewhere" and one.line.number in finding.others)
            ),
        )
        for one in lines
    )


def compared(
    take: Take,
    words: Words,
    not_tested: Sequence[str],
    *,
    usual_db: Callable[[Sequence[float]], float] = median,
) -> Report:
    """The same in other words, with what lies outside of such a test.

    `usual_db`: of many levels the one that the others are held against.
    """
    judge = _Judge(take, words, usual_db)
    lines = tuple(judge.line(heard) for heard in take.channels)
    findings = tuple(judge.findings(lines))
    lines = with_grades(lines, findings)
    return Report(
        lines=lines,
        findings=tuple(
            sorted(findings, key=lambda one: (-GRADES.index(one.grade), one.channel, one.kind))
        ),
        not_tested=(
            *(
                words.part("proof.untested_line", line=words.name(number))
                for number, line in sorted(words.lineup.items())
                if line.known and number > take.played
            ),
            *(
                words.part("proof.untested_covered", line=words.name(one.line.number))
                for one in lines
                if one.covered
            ),
            *not_tested,
        ),
        rate_ratio=take.rate_ratio,
        start_s=take.start_s,
    )


_NOT_TESTED = (
    "proof.untested_phantom",
    "proof.untested_stage",
    "proof.untested_tails",
    "proof.untested_ears",
    "proof.untested_overload",
)


def graded(value: float, limits: tuple[float, float]) -> Grade:
    """Pass, doubt or fail, by the figures beyond which it is doubtful and beyond which it fails."""
    doubt, fail = limits
    return "fail" if value > fail else "doubt" if value > doubt else "pass"


def _ruling(heard: Heard) -> Response | None:
    """The line that a channel is taken to hold: its own where that is nearly as loud as any."""
    near = (
        one
        for one in heard.responses
        if one.played + 1 == heard.channel and one.gain_db > heard.responses[0].gain_db - _BOTH_DB
    )
    return next(near, heard.responses[0] if heard.responses else None)


def _ppm(heard: Heard) -> float:
    """By how much the clock of a channel is off that of the whole."""
    return abs(heard.clock_ratio - 1) * 1e6


def _is_covered(heard: Heard, one: Response) -> bool:
    hum = heard.silence.hum
    rules = hum is not None and hum.total_dbfs > heard.peak_dbfs - _HUM_RULES_DB
    return rules or one.sure < _SHAPE_SURE


class _Judge:
    def __init__(
        self, take: Take, words: Words, usual_db: Callable[[Sequence[float]], float]
    ) -> None:
        self.take, self.words = take, words
        lineup = words.lineup
        self.by_number = {heard.channel: heard for heard in take.channels}
        self.ruling = {heard.channel: _ruling(heard) for heard in take.channels}
        right = [
            (one, self.words.line(number)) for number, one in self.ruling.items() if one is not None
        ]
        # Lines are held against the plan of the channel they arrive on. Where nothing is planned
        # at all, they are held against each other.
        self.gains_planned = any(line.gain_db is not None for line in lineup.values())
        self.delays_planned = any(line.delay_ms is not None for line in lineup.values())
        self.gain_offset_db = gain_offset_db(take, lineup, usual_db)
        # A line on a clock of its own is never late by one figure.
        steady = [
            (one, line)
            for one, line in right
            if _ppm(self.by_number[one.recorded + 1]) <= CLOCK_PPM[0]
        ]
        self.delay_offset_ms = median(
            [
                1000 * one.delay_s - (line.delay_ms or 0.0)
                for one, line in steady or right
                if line.delay_ms is not None or not self.delays_planned
            ]
            or [0.0]
        )
        self.usual_noise_dbfs = median(
            [
                heard.silence.rest_dbfs - (self.words.line(heard.channel).gain_db or 0.0)
                for heard in take.channels
                if self.ruling[heard.channel] is not None
            ]
            or [0.0]
        )

    def line(self, heard: Heard) -> LineResult:
        """The figures of one recorded channel."""
        line, one = self.words.line(heard.channel), self.ruling[heard.channel]
        noise_dbfs, hum = heard.silence.noise_dbfs, heard.silence.hum
        if one is None:
            return LineResult(line=line, found=None, noise_dbfs=noise_dbfs, hum=hum)
        covered = _is_covered(heard, one)
        key = (one.recorded, one.played)
        delay_ms = 1000 * one.delay_s
        return LineResult(
            line=line,
            found=one.played + 1,
            gain_db=one.gain_db,
            gain_error_db=None
            if line.gain_db is None and self.gains_planned
            else one.gain_db - (line.gain_db or 0.0) - self.gain_offset_db,
            delay_ms=delay_ms,
            delay_error_ms=None
            if line.delay_ms is None and self.delays_planned
            else delay_ms - (line.delay_ms or 0.0) - self.delay_offset_ms,
            upright=one.upright,
            noise_dbfs=noise_dbfs,
            hum=hum,
            distortion_ratio=None if covered else self.take.distortion_ratio.get(key),
            thirds_db=self.take.thirds_db.get(key, ()),
            crosstalk=tuple(
                (other.played + 1, other.gain_db - one.gain_db)
                for other in heard.responses
                if other is not one
            ),
            covered=covered,
        )

    def findings(self, lines: Sequence[LineResult]) -> Iterator[Finding]:
        """Everything worth saying, in no order."""
        yield from self._routing()
        for one in lines:
            quiet = list(self._quiet(one))
            yield from quiet
            if one.found is not None:
                hums = any(found.kind == "hum" for found in quiet)
                yield from self._crosstalk(one)
                for found in self._shape(one):
                    # Hum stands in the response and among the harmonics as well.
                    if not (hums and found.kind in _BENT_BY_HUM and found.grade == "doubt"):
                        yield found

    def _routing(self) -> Iterator[Finding]:
        ruling = {
            number: None if one is None else one.played + 1 for number, one in self.ruling.items()
        }
        for one in misplaced(ruling, self.words, self.take.played):
            missing = one.kind == "missing"
            yield self._finding(
                one.channel,
                one.kind,
                "fail" if one.certain else "doubt",
                one.holds,
                "lines" if missing else "channel",
                1 if missing else 0 if one.kind == "stranger" else one.channel,
                one.says,
                *one.others,
            )

    # ---- how they arrive ---------------------------------------------------------------------

    def _shape(self, one: LineResult) -> Iterator[Finding]:
        number, line = one.line.number, one.line
        heard = self.by_number[number]
        ppm = _ppm(heard)
        # On a clock so far off the sweep comes apart, and its phase tells no polarity.
        if one.upright is not line.upright and ppm <= CLOCK_PPM[1]:
            yield self._finding(
                number, "polarity", "fail", -1, "sign", 1, self._says("polarity", number)
            )
        error_db, slack_db = one.gain_error_db or 0.0, line.gain_off_db
        yield from self._judged(
            number,
            "level",
            abs(error_db) - slack_db,
            LEVEL_DB,
            (error_db, "dB", LEVEL_DB[0] + slack_db),
            "over" if error_db > 0 else "under",
            off=self._told(abs(error_db)),
        )
        late_ms = (one.delay_error_ms or 0.0) if ppm <= CLOCK_PPM[0] else 0.0  # it never stands
        yield from self._judged(
            number,
            "delay",
            abs(late_ms),
            DELAY_MS,
            (late_ms, "ms", DELAY_MS[0]),
            "late" if late_ms > 0 else "early",
            off=self._told(abs(late_ms), 3),
            samples=self._told(abs(late_ms) * 48),
        )
        if heard.clipped:
            says = self._says("clipped", number, level=self._told(heard.peak_dbfs))
            yield self._finding(number, "clipped", "fail", heard.peak_dbfs, "dBFS", 0, says)
        elif one.distortion_ratio is not None:
            percent = 100 * one.distortion_ratio
            yield from self._judged(
                number,
                "distortion",
                one.distortion_ratio,
                DISTORTION_RATIO,
                (percent, "%", 100 * DISTORTION_RATIO[0]),
                "distortion",
                percent=self._told(percent),
            )
        yield from self._judged(
            number,
            "clock",
            ppm,
            CLOCK_PPM,
            (ppm, "ppm", CLOCK_PPM[0]),
            "clock",
            ppm=self._told(ppm, 0),
        )
        yield from self._response(one)

    def _response(self, one: LineResult) -> Iterator[Finding]:
        if one.covered:
            return
        inside = [
            (level, hz)
            for level, hz in zip(one.thirds_db, THIRDS_HZ, strict=False)
            if RESPONSE_HZ[0] <= hz <= RESPONSE_HZ[1]
        ]
        if not inside:
            return
        off_db, hz = max(inside, key=lambda pair: abs(pair[0]))
        for found in self._judged(
            one.line.number,
            "response",
            abs(off_db),
            RESPONSE_DB,
            (off_db, "dB", RESPONSE_DB[0]),
            "down" if off_db < 0 else "up",
            off=self._told(abs(off_db)),
            hz=self._told(hz, 0),
        ):
            thin = off_db < 0 and hz < _THIN_HZ
            says = f"{found.says} {self.words.say('proof.thin')}" if thin else found.says
            yield msgspec.structs.replace(found, says=says)

    def _crosstalk(self, one: LineResult) -> Iterator[Finding]:
        for played, level_db in one.crosstalk:
            for found in self._judged(
                one.line.number,
                "crosstalk",
                level_db,
                CROSSTALK_DB,
                (level_db, "dB", CROSSTALK_DB[0]),
                "crosstalk" if level_db < -_BOTH_DB else "joined",
                line=self.words.name(played),
                below=self._told(-level_db, 0),
            ):
                yield msgspec.structs.replace(found, others=(played,))

    def _quiet(self, one: LineResult) -> Iterator[Finding]:
        number = one.line.number
        hum = self.by_number[number].silence.hum
        if hum is not None:
            hums = list(
                self._judged(
                    number,
                    "hum",
                    hum.total_dbfs,
                    HUM_DBFS,
                    (hum.total_dbfs, "dBFS", HUM_DBFS[0]),
                    "hum",
                    level=self._told(hum.total_dbfs, 0),
                    series=", ".join(
                        f"{n * hum.mains_hz:.0f} Hz {hum.levels_dbfs[n - 1]:.0f}"
                        for n in hum.strongest
                    ),
                    cause=self.words.say(f"proof.cause_{hum.cause}"),
                )
            )
            if hums:
                yield from hums
                return
        # A hum within its limit is no noise beyond one.
        noise_dbfs = self.by_number[number].silence.rest_dbfs
        over_db = noise_dbfs - (one.line.gain_db or 0.0) - self.usual_noise_dbfs
        grade = worst(
            [
                graded(noise_dbfs, NOISE_DBFS),
                # Far below anything audible nobody asks why one channel is quieter than another.
                graded(over_db, NOISE_OVER_OTHERS_DB)
                if noise_dbfs > NOISE_DBFS[0] - 20
                else "pass",
            ]
        )
        if grade != "pass":
            says = self._says(
                "noise", number, level=self._told(noise_dbfs, 0), over=self._told(over_db, 0)
            )
            yield self._finding(number, "noise", grade, noise_dbfs, "dBFS", NOISE_DBFS[0], says)

    # ---- how it is said ----------------------------------------------------------------------

    def _told(self, value: float, decimals: int = 1) -> str:
        return self.words.figure(value, decimals)

    def _says(self, key: str, channel: int, **values: object) -> str:
        return self.words.say(f"proof.{key}", channel=self.words.name(channel), **values)

    def _judged(
        self,
        channel: int,
        kind: Kind,
        measure: float,
        limits: tuple[float, float],
        figure: tuple[float, str, float],
        key: str,
        **values: object,
    ) -> Iterator[Finding]:
        """A finding where a measure is beyond its limits; `figure`: value, unit, limit to tell."""
        grade = graded(measure, limits)
        if grade != "pass":
            yield self._finding(channel, kind, grade, *figure, self._says(key, channel, **values))

    def _finding(
        self,
        channel: int,
        kind: Kind,
        grade: Grade,
        value: float,
        unit: str,
        limit: float,
        says: str,
        *others: int,
    ) -> Finding:
        one = self.ruling.get(channel)
        return Finding(
            channel=channel,
            kind=kind,
            grade=grade,
            value=float(value),
            unit=unit,
            limit=float(limit),
            says=says,
            sure_ratio=1.0 if one is None else _sureness(one),
            others=tuple(others),
        )


_BENT_BY_HUM = frozenset({"response", "distortion"})
_THIN_HZ = 400.0
_SHAPE_SURE = 60.0  # at 90 times the scatter a third octave is off by 1 dB, at 30 by 7: measured
_HUM_RULES_DB = 7.0  # a hum as loud as the signal peaks 6 dB under both together
_BOTH_DB = 6.0  # two lines in one channel that differ by less are joined, not exchanged


def _sureness(one: Response) -> float:
    """From the scatter around a response: half at ten times it, near 1 at a hundred times.

    Common practice, no source: a scale for people, not a probability.
    """
    return one.sure / (one.sure + 10)
