"""What was measured, kept beside the rig as the healthy reference, and what has moved since.

Each kept proof is a file of its own in `measured/`; none is ever written over. A later proof is
held against the newest one that knows a line: the same channel, source and socket, no fault then.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from statistics import median
from typing import Literal, get_args

import msgspec

from rigproof.linecheck.comparing import (
    HUM_DBFS,
    RESPONSE_HZ,
    Grade,
    LineResult,
    Report,
    graded,
)
from rigproof.linecheck.lineup import Line, Refused
from rigproof.linecheck.responses import THIRDS_HZ
from rigproof.rigfile.write import locked, replace
from rigproof.wording.phrases import Language, phrase

FOLDER = "measured"
FORM = 1
METHOD = "exponential sweeps in one another, rigproof prove"

Matter = Literal["level", "delay", "noise", "polarity", "response"]
MATTERS: tuple[Matter, ...] = get_args(Matter)
Suspect = Literal["lead", "channel", "box", "hands"]

# From where on a change is doubtful, and from where a fault. Common practice, no source: well above
# what two measurements of a rig left alone differ by, well below what anybody would hear.
LEVEL_DB = (0.5, 2.0)
DELAY_MS = (0.01, 0.1)
NOISE_DB = (6.0, 12.0)
RESPONSE_DB = (1.5, 4.0)
_WHISPER_DBFS = -95.0  # noise below this may do as it likes
_BOX_LINES = 3  # so many lines of one box that move alike point at the box


class KeptLine(msgspec.Struct, frozen=True, kw_only=True):
    """What a line measured. The figures are those of a proof."""

    channel: int
    name: str
    source: str
    socket: str
    grade: Grade
    gain_db: float | None = None
    delay_ms: float | None = None
    upright: bool | None = None
    noise_dbfs: float | None = None
    hum_dbfs: float | None = None
    distortion_ratio: float | None = None
    thirds_db: tuple[float, ...] = ()

    @property
    def identity(self) -> tuple[int, str, str]:
        """What makes it the same line at another time."""
        return self.channel, self.source or self.name, self.socket


class Kept(msgspec.Struct, frozen=True, kw_only=True):
    """One proof as it is kept: when, how, of which version of the rig, line by line."""

    form: int = FORM
    date: str
    method: str = METHOD
    rig: str
    lines: tuple[KeptLine, ...]


class Drift(msgspec.Struct, frozen=True, kw_only=True):
    """What has moved on one line since it was kept, and what that points at."""

    channel: int
    matter: Matter
    grade: Grade
    before: float
    now: float
    unit: str
    limit: float
    since: str
    suspect: Suspect
    says: str


def kept_of(report: Report, *, date: str, rig: str) -> Kept:
    """A proof in the form in which it is kept; figures rounded to what they are worth."""
    return Kept(date=date, rig=rig, lines=tuple(map(_line, report.lines)))


def _line(one: LineResult) -> KeptLine:
    def worth(value: float | None, decimals: int) -> float | None:
        return None if value is None else round(value, decimals) + 0.0

    return KeptLine(
        channel=one.line.number,
        name=one.line.name,
        source=one.line.source,
        socket=one.line.socket,
        grade=one.grade,
        gain_db=worth(one.gain_db, 2),
        delay_ms=worth(one.delay_ms, 5),
        upright=one.upright,
        noise_dbfs=worth(one.noise_dbfs, 1),
        hum_dbfs=worth(one.hum_dbfs, 1),
        distortion_ratio=worth(one.distortion_ratio, 5),
        thirds_db=tuple(round(level_db, 1) + 0.0 for level_db in one.thirds_db),
    )


def keep(folder: Path, kept: Kept) -> Path:
    """Write a proof into the rig's folder, beside those of earlier days; the file."""
    place = folder / FOLDER
    place.mkdir(exist_ok=True)
    with locked(folder):
        path = place / f"proof-{kept.date}.json"
        number = 2
        while path.exists():
            path = place / f"proof-{kept.date}-{number}.json"
            number += 1
        replace(path, msgspec.json.format(msgspec.json.encode(kept), indent=1) + b"\n")
    return path


def read_kept(folder: Path) -> tuple[Kept, ...]:
    """The kept proofs of a rig, the oldest first.

    Raises:
        Refused: one of them cannot be read.
    """
    found: list[tuple[str, int, Kept]] = []
    for path in sorted((folder / FOLDER).glob("proof-*.json")):
        fix = f"Move {FOLDER}/{path.name} away, or bring it back as it was."
        try:
            kept = msgspec.json.decode(path.read_bytes(), type=Kept)
        except (msgspec.DecodeError, UnicodeDecodeError) as error:
            raise Refused(f"{path.name} is no kept proof: {error}.", fix) from error
        if kept.form != FORM:
            raise Refused(f"{path.name} has form {kept.form}; this Rigproof reads {FORM}.", fix)
        tail = path.stem.removeprefix(f"proof-{kept.date}").lstrip("-")
        found.append((kept.date, int(tail) if tail.isdigit() else 1, kept))
    return tuple(kept for _, _, kept in sorted(found, key=lambda one: one[:2]))


def drifts(report: Report, earlier: Sequence[Kept], language: Language = "en") -> tuple[Drift, ...]:
    """What has moved since the newest reference of each line, the gravest first."""
    # Where another line arrives, its figures say nothing of the one that belongs there.
    at_home = [one for one in report.lines if one.found == one.line.number]
    now = {line.identity: line for line in map(_line, at_home)}
    pairs: dict[tuple[int, str, str], tuple[KeptLine, str]] = {}
    for kept in earlier:  # a newer one takes the place of an older
        for line in kept.lines:
            if line.grade != "fail" and line.gain_db is not None and line.identity in now:
                pairs[line.identity] = line, kept.date
    moved = [
        one
        for one in _moves([(then, now[key], since) for key, (then, since) in pairs.items()])
        if one.grade != "pass"
    ]
    boxes = {line.line.number: line.line.box for line in report.lines}
    lines = {line.line.number: line.line for line in report.lines}
    told = [_told(one, _suspect(one, moved, boxes), lines[one.channel], language) for one in moved]
    order = {"fail": 0, "doubt": 1, "pass": 2}
    return tuple(
        sorted(told, key=lambda one: (order[one.grade], one.channel, MATTERS.index(one.matter)))
    )


class _Move(msgspec.Struct, frozen=True, kw_only=True):
    channel: int
    matter: Matter
    grade: Grade
    before: float
    now: float
    unit: str
    limit: float
    since: str
    at_hz: float = 0.0

    @property
    def by(self) -> float:
        return self.now - self.before


def _moves(pairs: Sequence[tuple[KeptLine, KeptLine, str]]) -> Iterator[_Move]:
    """Every change of every line, whatever its size.

    What all lines share is the player's level and latency, and is taken out.
    """
    gain_db = _shared((now.gain_db, then.gain_db) for then, now, _ in pairs)
    delay_ms = _shared((now.delay_ms, then.delay_ms) for then, now, _ in pairs)
    for then, now, since in pairs:
        if now.gain_db is None or then.gain_db is None:
            continue  # that it is missing has been said

        def move(
            matter: Matter,
            limits: tuple[float, float],
            unit: str,
            figures: tuple[float, float, float],
            channel: int = now.channel,
            since: str = since,
        ) -> _Move:
            before, after, at_hz = figures
            size = after - before if matter == "noise" else abs(after - before)
            return _Move(
                channel=channel,
                matter=matter,
                grade=graded(size, limits),
                before=before,
                now=after,
                unit=unit,
                limit=limits[0],
                since=since,
                at_hz=at_hz,
            )

        level_db = now.gain_db - gain_db
        yield move("level", LEVEL_DB, "dB", (then.gain_db, level_db, 0.0))
        if then.delay_ms is not None and now.delay_ms is not None:
            yield move("delay", DELAY_MS, "ms", (then.delay_ms, now.delay_ms - delay_ms, 0.0))
        if then.upright is not now.upright:
            signs = (1.0 if then.upright else -1.0, 1.0 if now.upright else -1.0, 0.0)
            yield move("polarity", (0.0, 0.0), "sign", signs)
        if then.noise_dbfs is not None and now.noise_dbfs is not None:
            # A preamp turned up brings its noise up with it: that is no fault of its own.
            noise_dbfs = now.noise_dbfs - max(0.0, level_db - then.gain_db)
            if noise_dbfs > _WHISPER_DBFS:
                yield move("noise", NOISE_DB, "dBFS", (then.noise_dbfs, noise_dbfs, 0.0))
        bent = [
            (before, after, hz)
            for before, after, hz in zip(then.thirds_db, now.thirds_db, THIRDS_HZ, strict=False)
            if RESPONSE_HZ[0] <= hz <= RESPONSE_HZ[1]
        ]
        hums = now.hum_dbfs is not None and now.hum_dbfs > HUM_DBFS[0]
        if bent and not hums:  # hum stands in the response as well
            worst = max(bent, key=lambda one: abs(one[1] - one[0]))
            yield move("response", RESPONSE_DB, "dB", worst)


def _shared(pairs: Iterable[tuple[float | None, float | None]]) -> float:
    return median(
        [now - then for now, then in pairs if now is not None and then is not None] or [0.0]
    )


def _suspect(one: _Move, moved: Sequence[_Move], boxes: Mapping[int, str]) -> Suspect:
    """What a change points at: common practice, from memory."""
    if one.matter == "polarity":
        return "hands"
    box = boxes[one.channel]
    alike = {
        other.channel
        for other in moved
        if other.matter == one.matter
        and boxes[other.channel] == box
        and (other.by > 0) == (one.by > 0)
    }
    lines = sum(there == box for there in boxes.values())
    if box and len(alike) >= _BOX_LINES and 2 * len(alike) > lines:
        return "box"
    if one.matter in ("level", "response"):
        # A contact that goes takes level or lows away; only a knob or an input can add any.
        return "lead" if one.by < 0 else "hands" if one.matter == "level" else "channel"
    return "hands" if one.matter == "delay" else "channel"


def _told(one: _Move, suspect: Suspect, line: Line, language: Language) -> Drift:
    def figure(value: float, decimals: int) -> str:
        text = f"{value:.{decimals}f}"
        return text.replace(".", ",") if language == "de" else text

    decimals = 3 if one.matter == "delay" else 1
    what = phrase(
        language,
        f"drift.{one.matter}",
        channel=f"{one.channel} ({line.name})" if line.name else str(one.channel),
        by=("+" if one.by > 0 else "") + figure(one.by, decimals),
        hz=figure(one.at_hz, 0),
        since=one.since,
    )
    points = phrase(language, f"drift.at_{suspect}", box=line.box_name)
    return Drift(
        channel=one.channel,
        matter=one.matter,
        grade=one.grade,
        before=one.before,
        now=one.now,
        unit=one.unit,
        limit=one.limit,
        since=one.since,
        suspect=suspect,
        says=f"{what} {points}",
    )
