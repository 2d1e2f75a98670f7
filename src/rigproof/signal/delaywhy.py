"""Why a source is as late as it is at an ear, how that is graded, and what it makes of a copy."""

from collections.abc import Iterator

from rigproof.physics.comb import comb_notch_db
from rigproof.rig.quantity import Milliseconds, Provenance
from rigproof.signal import words
from rigproof.signal.delay import Comb, Delays, OwnSound, sum_ms
from rigproof.signal.reasons import Line, Reason


def why_delay(delays: Delays, source: str, listener: str) -> Reason:
    """The longest way part by part; for a player's own sound its bounds and combs as well."""
    late = delays.of(source, listener)
    assert late is not None  # asked of what arrives
    parts = delays.parts(source, listener)
    lines: list[Line] = []
    running = 0.0
    for part in parts:
        running += part.delay_ms
        lines.append(
            Line(place=_at(delays, part.place), what=part.kind, value=part.delay_ms, unit="ms",
                 provenance=part.delay_ms.provenance, comes_to=running,
                 inputs=(("way_ms", part.delay_ms),) if part.kind == "measured" else (),
                 worked=f"{part.delay_ms:.3f}" if part.kind == "measured" else "")
        )  # fmt: skip
    own = next(
        (o for o in delays.own if o.source.id == source and o.latency.listener == listener), None
    )
    if own is not None:
        lines += _own_lines(own)
    name = delays.rig.sources[source].name
    if late.comb is not None:
        lines += _comb_lines(name, late.comb, "two ways meet at one ear", late.provenance)
    total = sum_ms(parts)
    return Reason(figure="delay", value=float(total), low=late.low_ms, high=late.high_ms, unit="ms",
                  lines=tuple(lines), missing=late.missing)  # fmt: skip


def _at(delays: Delays, key: str) -> str:
    """A place of the graph by its key; the stage of a receiver that stands before it in words."""
    return key if key in delays.graph.index else words.place(delays.rig, key)


def _own_lines(own: OwnSound) -> Iterator[Line]:
    late = own.latency
    for grade, bound in (("good", own.good_ms), ("fair", own.fair_ms)):
        if bound is not None:
            yield Line(
                place=own.source.name,
                what=f"graded {grade} up to; {own.source.family}, {late.monitor}",
                value=bound,
                unit="ms",
                provenance="datasheet",
                by="latency_bounds.latency_bound_ms",
            )
    for comb, beside in ((own.bone, "the skull"), (own.acoustic, "the air round the head")):
        if comb is not None:
            yield from _comb_lines(
                own.source.name, comb, f"behind the own voice through {beside}", "typical"
            )


def _comb_lines(name: str, comb: Comb, what: str, worth: Provenance) -> Iterator[Line]:
    apart = Milliseconds(comb.apart_ms, worth)
    yield Line(place=name, what=what, value=apart, unit="ms", provenance=worth)
    turned = abs(comb.first_notch_hz * comb.apart_ms - 1000) < 1
    yield Line(
        place=name,
        what="first notch" + (", one of the two upside down" if turned else ""),
        value=comb.first_notch_hz,
        unit="Hz",
        provenance=worth,
        by="comb.inverted_notch_hz" if turned else "comb.notch_hz",
        inputs=(("delay_ms", apart),),
        worked=f"1000 / {'' if turned else '2 / '}{comb.apart_ms:.4g} = {comb.first_notch_hz:.0f}",
    )
    if comb.copy_db is not None and comb.copy_db < 0:
        depth = float(comb_notch_db(comb.copy_db))
        yield Line(
            place=name,
            what="depth of the notches",
            value=depth,
            unit="dB",
            provenance=worth,
            by="comb.comb_notch_db",
            worked=f"20 lg(1 - 10^({comb.copy_db:.2f} / 20)) = {depth:.2f}",
        )
