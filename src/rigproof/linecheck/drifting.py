"""What has moved since a line was kept, which lines go the wrong way, and what that points at.

A measurement is held against the newest one of its kind that knows a line: the same channel, source
and socket, no fault then. Proofs are of a signal that is the same every time and bear narrow
limits; takes are of people playing, and bear wide ones.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from math import log10
from statistics import median
from typing import Literal, get_args

import msgspec

from rigproof.linecheck.comparing import HUM_DBFS, RESPONSE_HZ, Grade, graded
from rigproof.linecheck.responses import THIRDS_HZ
from rigproof.linecheck.silence import FLOOR_DBFS
from rigproof.linecheck.tailends import crowd_db
from rigproof.rig import Rig
from rigproof.rig.measured import Kept, KeptLine, KeptPair
from rigproof.rig.measured import Kind as KeptKind
from rigproof.signal import Graph, words
from rigproof.signal.readings import LineWay
from rigproof.wording.sentences import Figure, joined, sentence

Matter = Literal["level", "delay", "noise", "hum", "polarity", "response"]
MATTERS: tuple[Matter, ...] = get_args(Matter)
Suspect = Literal["lead", "channel", "box", "hands"]
Limits = tuple[float, float]

# From where on a change is doubtful, and from where a fault. Common practice, no source. Of proofs:
# well above what two measurements of a rig left alone differ by, well below what anybody would
# hear. Of tails: above what a house's inputs differ by that hands set to one gain again. Of takes:
# above what another night, another song and other hands make.
LEVEL_DB: Mapping[KeptKind, Limits] = {
    "proof": (0.5, 2.0),
    "tails": (1.0, 3.0),
    "take": (12.0, 24.0),
}
DELAY_MS: Mapping[KeptKind, Limits] = {"proof": (0.01, 0.1), "take": (0.1, 1.0)}
NOISE_DB: Limits = (6.0, 12.0)
HUM_DB: Limits = (10.0, 20.0)
RESPONSE_DB: Mapping[KeptKind, Limits] = {
    "proof": (1.5, 4.0),
    "tails": (3.0, 6.0),
    "take": (18.0, 30.0),
}
# What a line without hum is taken to have; in a take low notes pass for a little of it.
_NO_HUM_DBFS: Mapping[KeptKind, float] = {"proof": -85.0, "tails": -85.0, "take": -75.0}
_UNDER_HUM_DB = 0.5  # a noise that is nearly all hum is not known
_WHISPER_DBFS = -95.0  # noise below this may do as it likes
_BOX_LINES = 3  # so many lines of one box that move alike point at the box
_BAND = 3  # third octaves of a take that are looked at together
_SHAPED_DB = -20.0  # under the level of a line, a band of a take is bleed, or a matter of songs
# A way that a line goes: so many measurements in a row, each a little worse than the one before.
ROW = 3
_WORSE: Mapping[Matter, int] = {"level": -1, "noise": 1, "hum": 1}
_STEP: Mapping[Matter, float] = {"level": 0.1, "noise": 0.5, "hum": 1.0}
_ROW_LIMIT: Mapping[Matter, float] = {"level": 0.5, "noise": 3.0, "hum": 6.0}


_SAYS: Mapping[Matter, str] = {
    "level": "Level of {line}: {by} dB beside the others since {since}.",
    "delay": "Delay of {line}: {by} ms beside the others since {since}.",
    "noise": "Noise of {line}: {by} dB since {since}, its level taken into account.",
    "hum": "Hum of {line}: {by} dB since {since}.",
    "polarity": "Polarity of {line} has turned since {since}.",
    "response": "Response of {line}: {by} dB at {hz} Hz since {since}.",
}
_BESIDE: Mapping[Matter, str] = {
    "polarity": "Polarity of {line} beside {other} has turned since {since}.",
    "delay": "Delay of {line} beside {other}: {by} ms since {since}.",
}
_IN_A_ROW: Mapping[Matter, str] = {
    "level": "Level of {line}: {by} dB beside the others since {since}, a little less "
    "in each of {times} measurements.",
    "noise": "Noise of {line}: {by} dB since {since}, a little more in each of {times} "
    "measurements.",
    "hum": "Hum of {line}: {by} dB since {since}, a little more in each of {times} measurements.",
}
_POINTS_AT: Mapping[Suspect, str] = {
    "lead": "A lead of this line or one of its plugs is going (from memory): change it, clean the "
    "contacts, measure again.",
    "channel": "The input, or the shield of a lead of this line, is going (from memory): try the "
    "line on another input, then another lead.",
    "box": "Most lines of {box} moved alike: look at the box and its supply, not at the leads.",
    "hands": "No wear does that: a knob, a switch, a setting or a lead was changed. If it was "
    "meant, keep this measurement.",
}


class _Move(msgspec.Struct, frozen=True, kw_only=True):
    """A change of one line. `others`: of a pair, the channel beside it. `at_hz`: of a response.

    `rows`: how many measurements in a row went that way; 0 where two were held against each other.
    """

    channel: int
    matter: Matter
    grade: Grade
    before: float
    now: float
    unit: str
    limit: float
    since: str
    at_hz: float = 0.0
    others: tuple[int, ...] = ()
    rows: int = 0

    @property
    def by(self) -> float:
        return self.now - self.before


class Drift(_Move, frozen=True, kw_only=True):
    """What has moved on one line since it was kept, and what that points at.

    `passes`: the leads of the line, in words.
    """

    suspect: Suspect
    says: str
    passes: tuple[str, ...] = ()


class Called(msgspec.Struct, frozen=True):
    """What a line is called, put into words when somebody asks."""

    rig: Rig
    graph: Graph
    way: LineWay

    @property
    def box(self) -> str:
        """The box of its socket."""
        return self.way.socket.partition(".")[0]

    @property
    def box_name(self) -> str:
        """The same in words."""
        return self.rig.box_names.get(self.box, self.box)

    @property
    def leads(self) -> tuple[str, ...]:
        """The leads that it runs over."""
        return tuple(self._leads())

    def _leads(self) -> Iterator[str]:
        nodes = self.graph.nodes
        for number in self.way.hops:
            hop = self.graph.hops[number]
            start, end = nodes[hop.start].key, nodes[hop.end].key
            if hop.means == "plug" and "/" not in end:
                plug = words.place(self.rig, end)
                yield sentence("the lead plugged into {plug}", plug=plug)
            elif hop.means == "lead":
                lead = next((one for one in self.rig.file.leads if one.id in hop.needs), None)
                said = sentence(
                    "the lead from {start} to {end}",
                    start=words.place(self.rig, start),
                    end=words.place(self.rig, end),
                )
                yield said + ("" if lead is None else f" ({lead.label or lead.id})")


def called(rig: Rig, graph: Graph, ways: Iterable[LineWay]) -> Mapping[int, Called]:
    """Channel -> what its line is called."""
    return {way.channel: Called(rig, graph, way) for way in ways}


def drifts(now: Kept, earlier: Sequence[Kept], names: Mapping[int, Called]) -> tuple[Drift, ...]:
    """What has moved since the newest reference of each line, the gravest first."""
    before = [kept for kept in earlier if _alike(kept) == _alike(now)]
    here = {line.identity: line for line in now.lines if _known(line)}
    pairs: dict[tuple[int, str, str], tuple[KeptLine, str]] = {}
    for kept in before:  # a newer one takes the place of an older
        for line in kept.lines:
            if line.grade != "fail" and _known(line) and line.identity in here:
                pairs[line.identity] = line, kept.date
    moves = list(_moves([(then, here[key], since) for key, (then, since) in pairs.items()], now))
    moves += _between(now, before)
    return _all_told([one for one in moves if one.grade != "pass"], now, names)


def _alike(kept: Kept) -> tuple[str, str, str]:
    """What makes measurements comparable; tails at one house, at once or one after another."""
    return kept.kind, kept.venue, kept.method if kept.kind == "tails" else ""


def _rows_of_kind(kept: Iterable[Kept]) -> Iterator[Sequence[Kept]]:
    """Measurements that can be held against each other, together."""
    found: dict[tuple[str, str, str], list[Kept]] = {}
    for one in kept:
        found.setdefault(_alike(one), []).append(one)
    yield from (found[key] for key in sorted(found))


def going_tails(kept: Sequence[Kept]) -> Iterator[tuple[KeptLine, Drift]]:
    """The tails that went the wrong way at the last measurement at their house, or step by step."""
    for mine in _rows_of_kind(one for one in kept if one.kind == "tails"):
        last = mine[-1]
        lines = {line.channel: line for line in last.lines}
        told: set[tuple[int, Matter]] = set()
        for one in (*_rows(mine, {}), *drifts(last, mine[:-1], {})):
            if one.suspect != "hands" and (one.channel, one.matter) not in told:
                told.add((one.channel, one.matter))
                yield lines[one.channel], one


def going(kept: Sequence[Kept], names: Mapping[int, Called]) -> tuple[Drift, ...]:
    """The lines that go the wrong way, by what is kept: step by step, or at one go at the last."""
    found: dict[tuple[int, Matter], Drift] = {}
    for mine in _rows_of_kind(one for one in kept if one.kind != "tails"):
        last = mine[-1]
        for one in (*_rows(mine, names), *drifts(last, mine[:-1], names)):
            # Hands change settings from night to night, and that is nobody's wear.
            if one.suspect != "hands":
                found.setdefault((one.channel, one.matter), one)
    return tuple(found[key] for key in sorted(found))


def _rows(kept: Sequence[Kept], names: Mapping[int, Called]) -> Iterator[Drift]:
    """What got worse each time, over the last measurements that know the line."""
    last = kept[-1]
    moves = []
    known: dict[tuple[int, str, str], list[tuple[KeptLine, str, float]]] = {}
    for one in kept:
        shared_db = _level_of(one)
        for line in one.lines:
            if line.grade != "fail" and _known(line):
                known.setdefault(line.identity, []).append((line, one.date, shared_db))
    for line in last.lines:
        for matter, sign in _WORSE.items():
            figures = [
                (value - (shared_db if matter == "level" else 0.0), date)
                for then, date, shared_db in known.get(line.identity, ())
                if (value := _figure(then, matter, last.kind)) is not None
            ]
            row = _row(figures, _STEP[matter] * sign)
            if len(row) < ROW or (matter == "level" and last.kind == "take"):
                continue
            (first, since), (value, _) = row[0], row[-1]
            by = sign * (value - first)
            if by >= _ROW_LIMIT[matter] and (matter == "level" or value > _WHISPER_DBFS):
                moves.append(
                    _Move(
                        channel=line.channel,
                        matter=matter,
                        grade=graded(by, (_ROW_LIMIT[matter], 3 * _ROW_LIMIT[matter])),
                        before=first,
                        now=value,
                        unit="dB" if matter == "level" else "dBFS",
                        limit=_ROW_LIMIT[matter],
                        since=since,
                        rows=len(row),
                    )
                )
    return iter(_all_told(moves, last, names))


def _row(figures: Sequence[tuple[float, str]], step: float) -> Sequence[tuple[float, str]]:
    """The last figures as far back as each is a step further than the one before."""
    start = len(figures) - 1
    for number, ((before, _), (after, _)) in reversed(list(enumerate(pairwise(figures)))):
        if (after - before) / step < 1:
            break
        start = number
    return figures[max(0, start) :]


def _known(line: KeptLine) -> bool:
    """Whether anything was measured of a line at all."""
    figures = (line.gain_db, line.loudest_dbfs, line.noise_dba)
    return bool(line.thirds_db) or any(figure is not None for figure in figures)


def _figure(line: KeptLine, matter: Matter, kind: KeptKind) -> float | None:
    """What a line measured of a matter, a preamp that was turned taken out of it."""
    knobs = line.knobs_db or 0.0
    if matter == "level":
        if kind != "take":
            return line.gain_db
        return None if line.loudest_dbfs is None else line.loudest_dbfs - knobs
    if matter == "hum":
        return line.hum_dbfs
    if kind != "take":
        return _rest_dbfs(line)
    return line.noise_dba


def _rest_dbfs(line: KeptLine) -> float | None:
    """The noise of a proof without its hum, which is told by itself; None under a hum."""
    noise, hum = line.noise_dbfs, line.hum_dbfs
    if noise is None or hum is None:
        return noise
    if hum > noise - _UNDER_HUM_DB:
        return None
    return 10 * log10(10 ** (noise / 10) - 10 ** (hum / 10))


def _level_of(kept: Kept) -> float:
    """What all lines share: the player's level, or a loud night."""
    levels = [_figure(line, "level", kept.kind) for line in kept.lines if line.grade != "fail"]
    return median([level for level in levels if level is not None] or [0.0])


def _moves(pairs: Sequence[tuple[KeptLine, KeptLine, str]], kept: Kept) -> Iterator[_Move]:
    """Every change of every line, whatever its size.

    What all lines share is the player's level and latency, or a loud night, and is taken out.
    """
    kind = kept.kind
    level_db = _shared(
        ((_figure(now, "level", kind), _figure(then, "level", kind)) for then, now, _ in pairs),
        # People differ all over; lines stay as they were, but for those that lost something.
        median if kind == "take" else crowd_db,
    )
    # A house that turned all its inputs up turned up what they make of hum and noise as well.
    gain_db = max(0.0, level_db) if kind == "tails" else 0.0
    delay_ms = _shared((now.delay_ms, then.delay_ms) for then, now, _ in pairs)
    for then, now, since in pairs:

        def move(
            matter: Matter,
            limits: Limits,
            unit: str,
            figures: tuple[float, float],
            at_hz: float = 0.0,
            channel: int = now.channel,
            since: str = since,
        ) -> _Move:
            before, after = figures
            rises = matter in ("noise", "hum")
            return _Move(
                channel=channel,
                matter=matter,
                grade=graded(after - before if rises else abs(after - before), limits),
                before=before,
                now=after,
                unit=unit,
                limit=limits[0],
                since=since,
                at_hz=at_hz,
            )

        was, here = _figure(then, "level", kind), _figure(now, "level", kind)
        if was is not None and here is not None:
            yield move("level", LEVEL_DB[kind], "dB", (was, here - level_db))
        if then.delay_ms is not None and now.delay_ms is not None:
            yield move("delay", DELAY_MS[kind], "ms", (then.delay_ms, now.delay_ms - delay_ms))
        if then.upright is not None and now.upright is not None and then.upright is not now.upright:
            signs = (1.0 if then.upright else -1.0, 1.0 if now.upright else -1.0)
            yield move("polarity", (0.0, 0.0), "sign", signs)
        hissed, hisses = _figure(then, "noise", kind), _figure(now, "noise", kind)
        if hissed is not None and hisses is not None:
            # A preamp turned up brings its noise up with it: that is no fault of its own.
            up_db = _turned_up_db(then, now, was, here, level_db) + gain_db
            if hisses - up_db > _WHISPER_DBFS:
                yield move("noise", NOISE_DB, "dBFS", (hissed, hisses - up_db))
        if now.hum_dbfs is not None and now.hum_dbfs > HUM_DBFS[0]:
            before = max(_NO_HUM_DBFS[kind], then.hum_dbfs or FLOOR_DBFS)
            yield move("hum", HUM_DB, "dBFS", (before, now.hum_dbfs - gain_db))
        else:  # hum stands in the response as well
            bent = list(_bent(then, now, kind))
            if bent:
                before, after, hz = max(bent, key=lambda one: abs(one[1] - one[0]))
                yield move("response", RESPONSE_DB[kind], "dB", (before, after), hz)


def _turned_up_db(
    then: KeptLine, now: KeptLine, was: float | None, here: float | None, shared_db: float
) -> float:
    if now.gain_db is not None and was is not None and here is not None:
        return max(0.0, here - shared_db - was)
    return max(0.0, (now.knobs_db or 0.0) - (then.knobs_db or 0.0))


def _bent(then: KeptLine, now: KeptLine, kind: KeptKind) -> Iterator[tuple[float, float, float]]:
    """The response then and now, band by band; of a take, what it sounds like, in octaves."""
    rows = [
        (before, after, hz)
        for before, after, hz in zip(then.thirds_db, now.thirds_db, THIRDS_HZ, strict=False)
        if RESPONSE_HZ[0] <= hz <= RESPONSE_HZ[1]
    ]
    if kind != "take":
        yield from rows
        return
    for first in range(0, len(rows) - _BAND + 1, _BAND):
        band = rows[first : first + _BAND]
        before, after = (sum(one[side] for one in band) / _BAND for side in (0, 1))
        if before > _SHAPED_DB and after < before:  # another song can add anything
            yield before, after, band[_BAND // 2][2]


def _between(now: Kept, earlier: Sequence[Kept]) -> Iterator[_Move]:
    """Pairs of channels that carry one thing: time and polarity of the second beside the first."""
    known: dict[tuple[int, int], tuple[KeptPair, str]] = {}
    for kept in earlier:
        known |= {pair.channels: (pair, kept.date) for pair in kept.pairs}
    for pair in now.pairs:
        if pair.channels not in known:
            continue
        then, since = known[pair.channels]
        one, other = pair.channels
        if then.upright is not pair.upright:
            signs = (1.0 if then.upright else -1.0, 1.0 if pair.upright else -1.0)
            yield _Move(
                channel=other,
                matter="polarity",
                grade="fail",
                before=signs[0],
                now=signs[1],
                unit="sign",
                limit=0.0,
                since=since,
                others=(one,),
            )
            continue
        if not (then.wired and pair.wired):
            continue  # microphones stand elsewhere every night
        limits = DELAY_MS["take"]
        by_ms = abs(pair.delay_ms - then.delay_ms)
        yield _Move(
            channel=other,
            matter="delay",
            grade=graded(by_ms, limits),
            before=then.delay_ms,
            now=pair.delay_ms,
            unit="ms",
            limit=limits[0],
            since=since,
            others=(one,),
        )


def _shared(
    pairs: Iterable[tuple[float | None, float | None]],
    usual: Callable[[Sequence[float]], float] = median,
) -> float:
    return usual(
        [now - then for now, then in pairs if now is not None and then is not None] or [0.0]
    )


def _suspect(one: _Move, moved: Sequence[_Move], names: Mapping[int, Called]) -> Suspect:
    """What a change points at: common practice, from memory."""
    if one.matter == "polarity":
        return "hands"
    boxes = {channel: line.box for channel, line in names.items()}
    box = boxes.get(one.channel, "")
    alike = {
        other.channel
        for other in moved
        if other.matter == one.matter
        and boxes.get(other.channel, "") == box
        and (other.by > 0) == (one.by > 0)
    }
    lines = sum(there == box for there in boxes.values())
    if box and len(alike) >= _BOX_LINES and 2 * len(alike) > lines:
        return "box"
    if one.matter in ("level", "response"):
        # A contact that goes takes level or lows away; only a knob or an input can add any.
        return "lead" if one.by < 0 else "hands" if one.matter == "level" else "channel"
    if one.matter == "hum":
        return "lead"  # its shield, or an earth that opened
    return "hands" if one.matter == "delay" else "channel"


def _all_told(moved: Sequence[_Move], kept: Kept, names: Mapping[int, Called]) -> tuple[Drift, ...]:
    lines = {line.channel: line.name or line.source for line in kept.lines}
    word = "tail {number}" if kept.kind == "tails" else "channel {number}"
    told = [_told(one, _suspect(one, moved, names), lines, names, word) for one in moved]
    order = {"fail": 0, "doubt": 1, "pass": 2}
    return tuple(
        sorted(told, key=lambda one: (order[one.grade], one.channel, MATTERS.index(one.matter)))
    )


def _told(
    one: _Move,
    suspect: Suspect,
    lines: Mapping[int, str],
    names: Mapping[int, Called],
    word: str,
) -> Drift:
    def name(channel: int) -> str:
        said = lines.get(channel, "")
        return f"{channel} ({said})" if said else str(channel)

    line = names.get(one.channel)
    leads = line.leads if line is not None else ()
    said = _IN_A_ROW if one.rows else _BESIDE if one.others else _SAYS
    what = sentence(
        said[one.matter],
        line=sentence(word, number=name(one.channel)),
        other=name(one.others[0]) if one.others else "",
        by=Figure(f"{one.by:+.{3 if one.matter == 'delay' else 1}f}"),
        hz=f"{one.at_hz:.0f}",
        since=one.since,
        times=one.rows,
    )
    points = sentence(_POINTS_AT[suspect], box=line.box_name if line is not None else "")
    over = sentence("The line runs over: {leads}.", leads=joined("; ", leads))
    tells = suspect in ("lead", "channel") and bool(leads)
    return Drift(
        **msgspec.structs.asdict(one),
        suspect=suspect,
        says=joined(" ", (what, points, over) if tells else (what, points)),
        passes=leads,
    )
