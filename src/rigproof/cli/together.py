"""What one sound makes of its own delay: how it is graded, and what its copies do to it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from rigproof.cli.terminal import Row

if TYPE_CHECKING:
    from rigproof.checks.rule import View
    from rigproof.signal.delay import Comb, Latency, OwnSound
    from rigproof.signal.ladder import Ladder


def together_data(
    view: View, source: str, listener: str, ways: Sequence[Ladder]
) -> dict[str, Any] | None:
    """The same for programs; None where nothing arrives."""
    late, own, comb = _found(view, source, listener)
    if not ways:
        return None
    return {
        "in_step": [
            {"place": place, "ways": count, "level": level}
            for place, count, level in _in_step(ways)
        ],
        "delay_ms": None
        if late is None
        else {
            "shortest": late.shortest.delay_ms,
            "longest": late.longest.delay_ms,
            "low": late.low_ms,
            "high": late.high_ms,
            "from": late.provenance,
            "missing": list(late.missing),
        },
        "grade": None
        if own is None
        else {"verdict": own.verdict, "good_ms": own.good_ms, "fair_ms": own.fair_ms},
        "combs": [
            {
                "with": what,
                "apart_ms": one.apart_ms,
                "first_notch_hz": one.first_notch_hz,
                "copy_db": one.copy_db,
                # Between equals a notch has no bottom, and JSON no number for that.
                "depth_db": None if one.copy_db == 0 else one.depth_db,
            }
            for what, one in _combs(own, comb)
        ],
    }


def together_rows(view: View, source: str, listener: str, ways: Sequence[Ladder]) -> Iterator[Row]:
    """The sum of several ways, the delay with its grade, and every comb."""
    from rigproof.signal.delay import LISTENERS_DIFFER
    from rigproof.signal.words import place

    late, own, comb = _found(view, source, listener)
    for at, count, level in _in_step(ways):
        unit = next(w.rungs[-1].unit for w in ways if w.rungs[-1].place == at)
        yield Row()
        yield Row(
            f"{count} ways at {place(view.rig, at)}, in step {level:.1f} {unit}.",
            lead="Together: ",
            lead_tone="faint",
        )
    if own is not None and late is not None:
        yield Row()
        yield Row(_graded(own, late), lead="Own sound: ", lead_tone="faint")
        yield Row(LISTENERS_DIFFER, indent=2, tone="faint")
    for what, one in _combs(own, comb):
        yield Row(
            f"{what}: {one.apart_ms:.2f} ms apart, first notch at {one.first_notch_hz:.0f} Hz"
            f"{_deep(one)}.",
            lead="Comb: ",
            lead_tone="faint",
        )


def _found(
    view: View, source: str, listener: str
) -> tuple[Latency | None, OwnSound | None, Comb | None]:
    from rigproof.signal.delay import parallel_comb

    late = view.delays.of(source, listener)
    if late is not None:
        own = (o for o in view.delays.own if o.source.id == source and o.latency is late)
        return late, next(own, None), late.comb
    pair = view.delays.at_places(view.graph.of_listener(listener)).get(source)
    return None, None, parallel_comb(*pair) if pair else None


def _in_step(ways: Sequence[Ladder]) -> Iterator[tuple[str, int, float]]:
    """The places where several ways of the source end, and what they make there in phase."""
    from rigproof.signal.ladder import in_step_db

    ends = dict.fromkeys(way.rungs[-1].place for way in ways)
    for end in ends:
        meeting = [way for way in ways if way.rungs[-1].place == end]
        level = in_step_db(meeting)
        # Lanes of a stereo source that one mono place sums are two sounds, not one twice.
        if len(meeting) > 1 and level is not None and len({w.rungs[0].place for w in meeting}) == 1:
            yield end, len(meeting), level


def _graded(own: OwnSound, late: Latency) -> str:
    least = "at least " if late.missing else ""
    text = f"{least}{late.shortest.delay_ms:.2f} ms late (likely {late.low_ms:.2f} to "
    text += f"{late.high_ms:.2f})"
    if own.good_ms is None or own.fair_ms is None:
        return f"{text}; nobody has printed a bound for {own.source.family}."
    return (
        f"{text}; the study graded {own.source.family} by {late.monitor} good up to "
        f"{own.good_ms:g} ms and fair up to {own.fair_ms:g}: {own.verdict}."
    )


def _combs(own: OwnSound | None, comb: Comb | None) -> Iterator[tuple[str, Comb]]:
    if own is not None and own.bone is not None:
        yield "the own voice through the skull", own.bone
    if own is not None and own.acoustic is not None:
        yield "the own voice round the head", own.acoustic
    if comb is not None:
        yield "two ways that meet", comb


def _deep(comb: Comb) -> str:
    if comb.copy_db is None:
        return ""
    if comb.depth_db is None or comb.depth_db < -40:
        return "; both are as loud, and nothing is left there"
    return f"; the copy is {-comb.copy_db:.1f} dB softer, notches {-comb.depth_db:.1f} dB deep"
