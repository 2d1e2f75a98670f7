"""A proof or a take as it is kept: the figures of every line, rounded to what they are worth."""

from collections.abc import Iterable

import msgspec

from rigproof.linecheck.comparing import GRADES, Grade, LineResult, Report
from rigproof.linecheck.lineup import Ends, Refused
from rigproof.linecheck.measuring import Take
from rigproof.linecheck.noticing import ChannelSound, Heard, Kind
from rigproof.linecheck.silence import FLOOR_DBFS, Hum
from rigproof.physics.weighting import flat_to_a_dbu
from rigproof.rig.measured import Kept, KeptLine, KeptPair
from rigproof.signal.readings import LineWay

PROOF_METHOD = "test signal played into the plugs"
TAILS_METHOD = "test signal at all inputs of the house at once"
WALK_METHOD = "test signal at one tail after another"
TAKE_METHOD = "a take of the band playing"

# Findings that say nothing of the line's health: somebody has to turn a knob, or did not play.
_NO_FAULT: frozenset[Kind] = frozenset({"low", "hot", "late", "short", "swapped", "sides"})
# Findings that make the loudest of a channel no level of its source, and its spectrum none.
_NO_LEVEL: frozenset[Kind] = frozenset(
    {"silent", "dead", "clipped", "swapped", "same", "gap", "click", "intermittent", "unreadable"}
)
_NO_SHAPE: frozenset[Kind] = frozenset({"silent", "dead", "unreadable"})
_PLAYS_DBFS = -70.0  # below, nobody played that channel
_LEAST_LIKENESS = 0.4  # of two channels, before their time and polarity are kept
# The band in which steady noise is looked for in a take, and the whole that it is a share of.
_HISS_HZ, _WHOLE_HZ = (4_000.0, 12_000.0), (20.0, 20_000.0)
_TEXT = 200  # letters of a name that are kept


def loop_apart(take: Take, number: int) -> tuple[Take, float]:
    """The take without its loop channel, and how late that is by itself, in ms.

    A loop is a lead from an output of the player straight to the recorder's input of that number:
    what it takes is the player's and the recorder's own, and the lines take the rest.

    Raises:
        Refused: the channel holds nothing of what was played on it.
    """
    channel = next((one for one in take.channels if one.channel == number), None)
    first = channel.responses[0] if channel is not None and channel.responses else None
    if first is None or first.played + 1 != number:
        raise Refused(
            f"channel {number} of the recording does not hold what was played on {number}, so it "
            "is no loop.",
            f"A lead belongs from output {number} of the player straight to input {number} of the "
            "recorder.",
        )
    rest = tuple(one for one in take.channels if one.channel != number)
    return msgspec.structs.replace(take, channels=rest), 1000 * first.delay_s


def proof_kept(
    report: Report,
    take: Take,
    ways: Iterable[LineWay],
    *,
    date: str,
    rig: str,
    loop_ms: float | None = None,
) -> Kept:
    """A proof as it is kept. `loop_ms`: how late the loop was, where one was played."""
    by_channel = {way.channel: way for way in ways}
    heard = {one.channel: one.silence for one in take.channels}
    lines = []
    for one in report.lines:
        line = _proved(one, loop_ms, report.full_scale_dbu)
        silence = heard.get(one.line.number)
        if silence is not None and one.found == one.line.number:
            line = msgspec.structs.replace(line, noise_dba=_worth(silence.noise_dba, 1))
        lines.append(_on_its_way(line, by_channel.get(one.line.number)))
    return Kept(kind="proof", date=date, method=PROOF_METHOD, rig=rig[:_TEXT], lines=tuple(lines))


def tails_kept(
    report: Report, ends: Ends, *, venue: str, method: str, date: str, rig: str, levels: bool
) -> Kept:
    """The tails at a house's end as they are kept, by the numbers that they wear.

    `levels`: whether they can be held beside one another at all. What the house's input and the
    recorder take in time is nobody's.
    """
    lines = []
    for one in report.lines:
        if one.line.number in ends:
            line = _proved(one, None, None)
            lines.append(
                msgspec.structs.replace(
                    line,
                    socket=ends[one.line.number].sent_from,
                    gain_db=line.gain_db if levels else None,
                    delay_ms=None,
                )
            )
    return Kept(
        kind="tails",
        venue=venue,
        date=date,
        method=method,
        rig=rig[:_TEXT],
        lines=tuple(lines),
    )


def untimed(kept: Kept) -> Kept:
    """The same without delays, which lines that were played one after another do not have."""
    lines = tuple(msgspec.structs.replace(line, delay_ms=None, way_ms=None) for line in kept.lines)
    return msgspec.structs.replace(kept, lines=lines)


def _proved(one: LineResult, loop_ms: float | None, full_scale_dbu: float | None) -> KeptLine:
    line = KeptLine(
        channel=one.line.number,
        name=one.line.name[:_TEXT],
        source=one.line.source,
        socket=one.line.socket,
        grade=one.grade,
    )
    if one.found is not None and one.found != one.line.number:
        # Where another line arrives, its figures say nothing of the one that belongs there.
        return msgspec.structs.replace(line, grade="fail")
    way_db = None
    if full_scale_dbu is not None and one.gain_db is not None:
        way_db = one.gain_db - full_scale_dbu
    way_ms = None if loop_ms is None or one.delay_ms is None else one.delay_ms - loop_ms
    return msgspec.structs.replace(
        line,
        gain_db=_worth(one.gain_db, 2),
        delay_ms=_worth(one.delay_ms, 5),
        way_ms=_worth(way_ms, 4),
        way_db=_worth(way_db, 2),
        upright=one.upright,
        noise_dbfs=_worth(one.noise_dbfs, 1),
        hum_dbfs=_worth(one.hum_dbfs, 1),
        distortion_ratio=_worth(one.distortion_ratio, 5),
        thirds_db=()
        if one.covered
        else tuple(round(level_db, 1) + 0.0 for level_db in one.thirds_db),
    )


def take_kept(heard: Heard, ways: Iterable[LineWay], *, date: str, rig: str) -> Kept:
    """The figures of a take as they are kept; no sound is."""
    by_channel = {way.channel: way for way in ways}
    lines = tuple(
        _on_its_way(_played(one, heard, by_channel.get(one.number)), by_channel.get(one.number))
        for one in heard.channels
        if one.number in by_channel
    )
    pairs = tuple(
        KeptPair(
            channels=(one.one, one.other),
            wired=_wired(by_channel.get(one.one), by_channel.get(one.other)),
            likeness_ratio=round(one.likeness_ratio, 3),
            delay_ms=round(one.delay_ms, 4) + 0.0,
            upright=one.upright,
        )
        for one in heard.related
        if one.likeness_ratio >= _LEAST_LIKENESS
    )
    return Kept(
        kind="take", date=date, method=TAKE_METHOD, rig=rig[:_TEXT], lines=lines, pairs=pairs
    )


def _wired(one: LineWay | None, other: LineWay | None) -> bool:
    if one is None or other is None:
        return False
    return one.source == other.source and not one.microphone


def _played(one: ChannelSound, heard: Heard, way: LineWay | None) -> KeptLine:
    found = [
        finding
        for finding in heard.findings
        if one.number == finding.channel or one.number in finding.others
    ]
    grade: Grade = max(
        (finding.grade for finding in found if finding.kind not in _NO_FAULT),
        key=GRADES.index,
        default="pass",
    )
    kinds = {each.kind for each in found}
    plays = one.loudest_dbfs > _PLAYS_DBFS
    return KeptLine(
        channel=one.number,
        name=one.name[:_TEXT],
        source=way.source if way is not None else "",
        socket=way.socket if way is not None else "",
        grade=grade,
        loudest_dbfs=_worth(one.loudest_dbfs, 1) if plays and not kinds & _NO_LEVEL else None,
        noise_dbfs=_worth(one.floor_dbfs, 1) if one.floor_dbfs > FLOOR_DBFS else None,
        noise_dba=_worth(hiss_dba(one.hiss_dbfs), 1),
        hum_dbfs=_worth(hum_dbfs(one.hum), 1),
        thirds_db=tuple(round(each - one.level_dbfs, 1) + 0.0 for each in one.thirds_dbfs)
        if plays and not kinds & _NO_SHAPE
        else (),
    )


def hiss_dba(band_dbfs: float | None) -> float | None:
    """Steady noise of a band as the A-weighted level of all of it, as hiss."""
    from math import log10

    if band_dbfs is None:
        return None
    (low, high), (bottom, top) = _HISS_HZ, _WHOLE_HZ
    return float(flat_to_a_dbu(band_dbfs + 10 * log10((top - bottom) / (high - low))))


def hum_dbfs(hum: Hum | None) -> float | None:
    """All multiples of the mains together."""
    return None if hum is None else hum.total_dbfs


def _on_its_way(line: KeptLine, way: LineWay | None) -> KeptLine:
    """A line with what it ran through, so that nobody takes it for another later."""
    if way is None or way.identity != line.identity:
        return line
    return msgspec.structs.replace(
        line,
        through=way.through,
        taken_with=way.taken_with,
        knobs_db=_worth(way.knobs_db, 2),
    )


def _worth(value: float | None, decimals: int) -> float | None:
    return None if value is None else round(value, decimals) + 0.0
