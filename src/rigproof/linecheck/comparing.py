"""What was built against what was drawn: line by line, each figure with its limit."""

from collections.abc import Iterator, Mapping, Sequence
from statistics import median
from typing import Literal, get_args

import msgspec

from rigproof.linecheck.lineup import Line, Lineup
from rigproof.linecheck.measuring import Heard, Take
from rigproof.linecheck.responses import THIRDS_HZ, Response

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
    """What one line was measured to be. None: nothing arrived, so nothing was measured."""

    line: Line
    found: int | None  # the played channel that rules it
    gain_db: float | None = None
    gain_error_db: float | None = None
    delay_ms: float | None = None
    delay_error_ms: float | None = None
    upright: bool | None = None
    noise_dbfs: float | None = None
    hum_dbfs: float | None = None
    distortion_ratio: float | None = None
    thirds_db: tuple[float, ...] = ()
    crosstalk: tuple[tuple[int, float], ...] = ()  # played channel, and dB under the line's own
    grade: Grade = "pass"


class Report(msgspec.Struct, frozen=True, kw_only=True):
    """A measurement held against the plan, and what it did not look at."""

    lines: tuple[LineResult, ...]
    findings: tuple[Finding, ...]
    not_tested: tuple[str, ...]
    rate_ratio: float
    start_s: float

    @property
    def grade(self) -> Grade:
        return worst(finding.grade for finding in self.findings)


def worst(grades: "Sequence[Grade] | Iterator[Grade]") -> Grade:
    """The gravest of some grades; a pass where there is none."""
    return max(grades, key=GRADES.index, default="pass")


def compare(take: Take, lineup: Lineup) -> Report:
    """Hold a take of the test signal, played into each line's plug, against what is expected.

    Played channel n is expected on recorded channel n. Levels and delays are judged against the
    plan after the offset that all lines share, which the player's own level and latency make.
    """
    judge = _Judge(take, lineup)
    lines = tuple(judge.line(heard) for heard in take.channels)
    findings = tuple(judge.findings(lines))
    graded = tuple(
        msgspec.structs.replace(
            one,
            grade=worst(
                finding.grade
                for finding in findings
                if one.line.number in (finding.channel, *finding.others)
            ),
        )
        for one in lines
    )
    return Report(
        lines=graded,
        findings=tuple(
            sorted(findings, key=lambda one: (-GRADES.index(one.grade), one.channel, one.kind))
        ),
        not_tested=_NOT_TESTED,
        rate_ratio=take.rate_ratio,
        start_s=take.start_s,
    )


_NOT_TESTED = (
    "48 V: a line signal does not need it; look at each condenser by ear",
    "the microphones, the instruments and the plugs on stage",
    "the tails to the house: only somebody at their far end can prove them",
    "what the ears get behind the channels: mixes, amplifiers, packs",
    "overload: the signal was played far below full scale",
)


def _graded(value: float, limits: tuple[float, float]) -> Grade:
    doubt, fail = limits
    return "fail" if value > fail else "doubt" if value > doubt else "pass"


class _Judge:
    def __init__(self, take: Take, lineup: Lineup) -> None:
        self.take, self.lineup = take, lineup
        self.by_number = {heard.channel: heard for heard in take.channels}
        self.ruling = {
            heard.channel: heard.responses[0] if heard.responses else None
            for heard in take.channels
        }
        right = [
            (one, self._line(number)) for number, one in self.ruling.items() if one is not None
        ]
        # Lines are held against the plan of the channel they arrive on. Where nothing is planned
        # at all, they are held against each other.
        self.gains_planned = any(line.gain_db is not None for line in lineup.values())
        self.delays_planned = any(line.delay_ms is not None for line in lineup.values())
        self.gain_offset_db = median(
            [
                one.gain_db - (line.gain_db or 0.0)
                for one, line in right
                if line.gain_db is not None or not self.gains_planned
            ]
            or [0.0]
        )
        self.delay_offset_ms = median(
            [
                1000 * one.delay_s - (line.delay_ms or 0.0)
                for one, line in right
                if line.delay_ms is not None or not self.delays_planned
            ]
            or [0.0]
        )
        self.usual_noise_dbfs = median(
            [
                heard.silence.noise_dbfs - (self._line(heard.channel).gain_db or 0.0)
                for heard in take.channels
                if self.ruling[heard.channel] is not None
            ]
            or [0.0]
        )

    def _line(self, number: int) -> Line:
        return self.lineup.get(number) or Line(number=number, name="")

    def _name(self, number: int) -> str:
        line = self._line(number)
        return f"{number} ({line.name})" if line.name else str(number)

    def _plug(self, number: int) -> str:
        line = self._line(number)
        return line.plug or f"line {self._name(number)}"

    def line(self, heard: Heard) -> LineResult:
        """The figures of one recorded channel."""
        line, one = self._line(heard.channel), self.ruling[heard.channel]
        hum = heard.silence.hum.total_dbfs if heard.silence.hum else None
        if one is None:
            return LineResult(
                line=line, found=None, noise_dbfs=heard.silence.noise_dbfs, hum_dbfs=hum
            )
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
            noise_dbfs=heard.silence.noise_dbfs,
            hum_dbfs=hum,
            distortion_ratio=self.take.distortion_ratio.get(key),
            thirds_db=self.take.thirds_db.get(key, ()),
            crosstalk=tuple(
                (other.played + 1, other.gain_db - one.gain_db) for other in heard.responses[1:]
            ),
        )

    def findings(self, lines: Sequence[LineResult]) -> Iterator[Finding]:
        """Everything worth saying, in no order."""
        yield from self._routing()
        for one in lines:
            if one.found is not None:
                yield from self._shape(one)
                yield from self._crosstalk(one)
            yield from self._quiet(one)

    # ---- where things arrive -----------------------------------------------------------------

    def _expected(self) -> list[int]:
        """The channels on which something belongs: all, where no list tells."""
        listed = [number for number, line in self.lineup.items() if line.known]
        return listed or sorted(self.by_number)

    def _routing(self) -> Iterator[Finding]:
        arrives: dict[int, list[int]] = {}  # played -> the recorded channels it rules
        for number, one in self.ruling.items():
            if one is not None:
                arrives.setdefault(one.played + 1, []).append(number)
        moved = {
            number: one.played + 1
            for number, one in self.ruling.items()
            if one is not None and one.played + 1 != number
        }
        told: set[int] = set()
        for run in _runs(moved):
            told |= set(run)
            yield self._run(run, moved)
        for ring in _rings({one: to for one, to in moved.items() if one not in told}):
            told |= set(ring)
            yield self._ring(ring)
        for number, played in sorted(moved.items()):
            if number in told:
                continue
            right = played in arrives.get(played, ())
            says = (
                f"channel {self._name(number)} holds a copy of line {self._name(played)}."
                if right
                else f"line {self._name(played)} arrives on channel {self._name(number)}: what is "
                f"plugged at {self._plug(number)} belongs in {self._plug(played)}."
            )
            yield self._finding(
                number, "elsewhere", "fail", played, "channel", number, says, played
            )
        expected = self._expected()
        for number in expected:
            if number not in arrives and number in self.by_number:
                yield self._finding(
                    number,
                    "missing",
                    "fail",
                    0,
                    "lines",
                    1,
                    f"line {self._name(number)} arrives nowhere: follow it from "
                    f"{self._plug(number)}.",
                )
            elif number not in self.by_number:
                yield self._finding(
                    number,
                    "missing",
                    "doubt",
                    0,
                    "lines",
                    1,
                    f"line {self._name(number)} was not recorded: the recording has "
                    f"{len(self.by_number)} channels.",
                )
        for number, one in self.ruling.items():
            if one is not None and number not in expected and number not in moved:
                yield self._finding(
                    number,
                    "stranger",
                    "doubt",
                    one.played + 1,
                    "channel",
                    0,
                    f"channel {number} carries a signal, and nothing is planned there.",
                )

    def _run(self, run: Sequence[int], moved: Mapping[int, int]) -> Finding:
        """Neighbours that are all off by as many places: a loom plugged one socket on."""
        first, last = run[0], run[-1]
        by = moved[first] - first
        ways = "; ".join(
            f"{self._plug(number)} holds what belongs in {self._plug(moved[number])}"
            for number in (first, last)
        )
        places = "place" if abs(by) == 1 else "places"
        says = (
            f"channels {first} to {last} each hold the line {abs(by)} {places} "
            f"{'on' if by > 0 else 'back'}: {ways}, and so on between them. A loom or a patch is "
            "off by a row."
        )
        return self._finding(
            first, "elsewhere", "fail", moved[first], "channel", first, says, *run[1:]
        )

    def _ring(self, ring: Sequence[int]) -> Finding:
        """Lines that took each other's places, told by their plugs."""
        boxes = {self._line(number).box for number in ring}
        where = ""
        if len(boxes) == 1 and "" not in boxes:
            where = f" at {self._plug(ring[0]).rpartition(',')[0] or self._plug(ring[0])}"
        if len(ring) == 2:
            a, b = ring
            says = (
                f"lines {self._name(a)} and {self._name(b)} are swapped{where}: exchange "
                f"{self._plug(a)} and {self._plug(b)}."
            )
        else:
            ways = "; ".join(
                f"{self._plug(number)} holds what belongs in "
                f"{self._plug(self.ruling_played(number))}"
                for number in ring
            )
            says = f"{len(ring)} lines are in each other's places{where}: {ways}."
        return self._finding(
            ring[0],
            "elsewhere",
            "fail",
            self.ruling_played(ring[0]),
            "channel",
            ring[0],
            says,
            *ring[1:],
        )

    def ruling_played(self, number: int) -> int:
        one = self.ruling[number]
        return one.played + 1 if one is not None else number

    # ---- how they arrive ---------------------------------------------------------------------

    def _shape(self, one: LineResult) -> Iterator[Finding]:
        number, line = one.line.number, one.line
        assert one.found is not None
        name = self._name(number)
        if one.upright is not line.upright:
            yield self._finding(
                number,
                "polarity",
                "fail",
                -1,
                "sign",
                1,
                f"channel {name} is upside down: pins 2 and 3 are crossed on its way, or a "
                "polarity switch is set.",
            )
        slack_db = line.gain_off_db
        error_db = abs(one.gain_error_db or 0.0)
        grade = _graded(error_db - slack_db, LEVEL_DB)
        if grade != "pass":
            towards = "over" if (one.gain_error_db or 0.0) > 0 else "under"
            yield self._finding(
                number,
                "level",
                grade,
                one.gain_error_db or 0.0,
                "dB",
                LEVEL_DB[0] + slack_db,
                f"channel {name} is {error_db:.1f} dB {towards} its plan beside the other lines.",
            )
        late_ms = abs(one.delay_error_ms or 0.0)
        grade = _graded(late_ms, DELAY_MS)
        if grade != "pass":
            samples = (one.delay_error_ms or 0.0) * 48
            yield self._finding(
                number,
                "delay",
                grade,
                one.delay_error_ms or 0.0,
                "ms",
                DELAY_MS[0],
                f"channel {name} is {late_ms:.3f} ms {'late' if samples > 0 else 'early'} beside "
                f"the other lines ({abs(samples):.1f} samples at 48 kHz).",
            )
        heard = self.by_number[number]
        if heard.clipped:
            yield self._finding(
                number,
                "clipped",
                "fail",
                heard.peak_dbfs,
                "dBFS",
                0,
                f"channel {name} is cut off at {heard.peak_dbfs:.1f} dBFS, though the signal is "
                "low: something before it is set far too hot.",
            )
        elif one.distortion_ratio is not None:
            grade = _graded(one.distortion_ratio, DISTORTION_RATIO)
            if grade != "pass":
                yield self._finding(
                    number,
                    "distortion",
                    grade,
                    100 * one.distortion_ratio,
                    "%",
                    100 * DISTORTION_RATIO[0],
                    f"channel {name} distorts: {100 * one.distortion_ratio:.1f} % of harmonics.",
                )
        ppm = abs(heard.clock_ratio - 1) * 1e6
        grade = _graded(ppm, CLOCK_PPM)
        if grade != "pass":
            yield self._finding(
                number,
                "clock",
                grade,
                ppm,
                "ppm",
                CLOCK_PPM[0],
                f"channel {name} runs on a clock of its own, {ppm:.0f} ppm off the rest: two "
                "boxes lead.",
            )
        yield from self._response(one)

    def _response(self, one: LineResult) -> Iterator[Finding]:
        inside = [
            (level, hz)
            for level, hz in zip(one.thirds_db, THIRDS_HZ, strict=False)
            if RESPONSE_HZ[0] <= hz <= RESPONSE_HZ[1]
        ]
        if not inside:
            return
        off_db, hz = max(inside, key=lambda pair: abs(pair[0]))
        grade = _graded(abs(off_db), RESPONSE_DB)
        if grade != "pass":
            name = self._name(one.line.number)
            thin = off_db < 0 and hz < 400
            hint = (
                " A thin sound is an open leg, a filter left in, or a dying lead." if thin else ""
            )
            yield self._finding(
                one.line.number,
                "response",
                grade,
                off_db,
                "dB",
                RESPONSE_DB[0],
                f"channel {name} is {abs(off_db):.1f} dB {'down' if off_db < 0 else 'up'} at "
                f"{hz:.0f} Hz against its middle.{hint}",
            )

    def _crosstalk(self, one: LineResult) -> Iterator[Finding]:
        for played, level_db in one.crosstalk:
            grade = _graded(level_db, CROSSTALK_DB)
            if grade != "pass":
                yield self._finding(
                    one.line.number,
                    "crosstalk",
                    grade,
                    level_db,
                    "dB",
                    CROSSTALK_DB[0],
                    f"channel {self._name(one.line.number)} also holds line {self._name(played)}, "
                    f"{-level_db:.0f} dB under its own.",
                    played,
                )

    def _quiet(self, one: LineResult) -> Iterator[Finding]:
        heard = self.by_number[one.line.number]
        name = self._name(one.line.number)
        hum = heard.silence.hum
        if hum is not None:
            grade = _graded(hum.total_dbfs, HUM_DBFS)
            if grade != "pass":
                yield self._finding(
                    one.line.number,
                    "hum",
                    grade,
                    hum.total_dbfs,
                    "dBFS",
                    HUM_DBFS[0],
                    f"channel {name} hums at {hum.mains_hz:.0f} Hz and its multiples, "
                    f"{hum.total_dbfs:.0f} dBFS. {_CAUSES[hum.cause]}",
                )
                return
        noise_dbfs = heard.silence.noise_dbfs
        over_db = noise_dbfs - (one.line.gain_db or 0.0) - self.usual_noise_dbfs
        grade = worst(
            [
                _graded(noise_dbfs, NOISE_DBFS),
                # Far below anything audible nobody asks why one channel is quieter than another.
                _graded(over_db, NOISE_OVER_OTHERS_DB)
                if noise_dbfs > NOISE_DBFS[0] - 20
                else "pass",
            ]
        )
        if grade != "pass":
            yield self._finding(
                one.line.number,
                "noise",
                grade,
                noise_dbfs,
                "dBFS",
                NOISE_DBFS[0],
                f"channel {name} is noisy with nobody playing: {noise_dbfs:.0f} dBFS, "
                f"{over_db:.0f} dB over the usual line.",
            )

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
            says=says[:1].upper() + says[1:],
            sure_ratio=1.0 if one is None else _sureness(one),
            others=tuple(others),
        )


_CAUSES: Mapping[str, str] = {
    "field": "Likely a loop of earths or a transformer beside the lead (from memory).",
    "ripple": "Likely a tired supply in a box: twice the mains rules (from memory).",
    "buzz": "Likely a dimmer, a switched supply or an unbalanced run (from memory).",
}


def _sureness(one: Response) -> float:
    """From the scatter around a response: half at ten times it, near 1 at a hundred times.

    Common practice, no source: a scale for people, not a probability.
    """
    return one.sure / (one.sure + 10)


_LEAST_RUN = 3


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
