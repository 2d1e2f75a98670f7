"""Why a figure is what it is: the sum line by line, so that a pencil can do it again.

Each line says where, what, by which formula and source, from which figures, with the arithmetic
written out. The last line of a reason is the figure that was asked for.
"""

from collections.abc import Callable, Iterator, Mapping
from importlib import import_module
from inspect import cleandoc

import msgspec

from rigproof.physics.levels import SINE_CREST_DB, ZERO_DBU_V
from rigproof.physics.noise import EIN_OHM, amplifier_noise_dbu, thermal_noise_dbu
from rigproof.physics.weighting import a_weighted_noise_db
from rigproof.rig.quantity import Provenance, Quantity, weakest
from rigproof.rig.spread import weaker
from rigproof.signal.clips import Clip, clip_at
from rigproof.signal.figures import CABLE_HZ, Figures, Inputs, Noise, Part
from rigproof.signal.ladder import Ladder, Rung
from rigproof.signal.levels import EarFigures, Levels
from rigproof.signal.readings import LevelReading
from rigproof.signal.widths import Most, Widths
from rigproof.wording.sentences import sentence


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """One step of a sum. `by` names the formula; `comes_to` is the sum so far, where it runs."""

    place: str
    what: str
    value: float
    unit: str
    provenance: Provenance
    by: str = ""
    inputs: Inputs = ()
    worked: str = ""
    comes_to: float | None = None


class Reason(msgspec.Struct, frozen=True, kw_only=True):
    """A figure, its likely range, and the lines that lead to it. None: `missing` says why."""

    figure: str
    value: float | None
    low: float | None
    high: float | None
    unit: str
    lines: tuple[Line, ...]
    missing: tuple[str, ...] = ()


class Formula(msgspec.Struct, frozen=True):
    """What the docstring of a formula says."""

    name: str
    title: str
    text: str


def formula(by: str) -> Formula:
    """A formula by its name, `loading.loading_loss_db`: what it is, how it goes, its source."""
    module, _, name = by.partition(".")
    function = getattr(import_module(f"rigproof.physics.{module}"), name)
    title, *rest = cleandoc(function.__doc__ or "").split("\n\n")
    text = " ".join(" ".join(p.split()) for p in rest if not p.startswith(">>>"))
    return Formula(by, " ".join(title.split()), text)


def why_level(levels: Levels, ladder: Ladder) -> Reason:
    """The level at the end of a way."""
    last = ladder.rungs[-1]
    lines = tuple(_level_lines(levels, ladder))
    told = last.level
    return Reason(
        figure="level",
        value=told.value_db if told else None,
        low=told.low_db if told else None,
        high=told.high_db if told else None,
        unit=last.unit,
        lines=lines,
        missing=tuple(n for rung in ladder.rungs for n in (*rung.step.missing, *rung.missing))
        if told is None
        else (),
    )


def _level_lines(levels: Levels, ladder: Ladder) -> Iterator[Line]:
    source = levels.rig.sources[ladder.source]
    first = ladder.rungs[0]
    level = levels.figures.source_dbu(source)
    reading = levels.figures.readings.levels.get(source.id)
    if level is None:
        return
    if reading is not None:
        yield _read_line(levels, reading, first.place)
    elif source.level_dbu is not None:
        yield Line(place=first.place, what="level of the source", value=level, unit="dBu",
                   provenance=level.provenance, comes_to=level)  # fmt: skip
    else:
        type_ = levels.rig.types[source.mic or ""]
        microphone = type_.microphone
        assert microphone is not None
        inputs: Inputs = tuple(
            (name, figure)
            for name, figure in (
                ("level_spl", source.spl_db),
                ("sensitivity_mv_per_pa", microphone.sensitivity_mv_pa),
            )
            if figure is not None
        )
        by = "microphones.microphone_dbu"
        yield Line(place=first.place, what="microphone, open", value=level, unit="dBu",
                   provenance=level.provenance, by=by, inputs=inputs,
                   worked=worked(by, inputs, level), comes_to=level)  # fmt: skip
    running: float = level
    for rung in ladder.rungs[1:]:
        if rung.step.missing:
            return
        for part in rung.step.parts:
            running += part.value_db
            yield _part_line(rung.place, part, running)


def _read_line(levels: Levels, reading: LevelReading, place: str) -> Line:
    """The level of a source from what was read at its channel."""
    way = reading.way
    knobs_db = (way.knobs_db or 0.0) - (reading.now_dbfs - reading.read_dbfs)
    worth = levels.figures.readings.worth_at_source(reading)[1]
    inputs = (
        ("loudest_dbfs", reading.read_dbfs),
        ("knobs_db", Quantity(knobs_db, "measured")),
        ("rest_of_way_db", Quantity(way.fixed_db, worth)),
    )
    return Line(
        place=place,
        what=sentence("from what stood at {key}", key=levels.graph.nodes[way.node].key),
        value=reading.sent_dbu,
        unit="dBu",
        provenance=worth,
        inputs=inputs,
        worked=f"{reading.read_dbfs:.2f} - ({knobs_db:+.2f}) - ({way.fixed_db:+.2f}) = "
        f"{reading.sent_dbu:.2f}",
        comes_to=reading.sent_dbu,
    )


def _part_line(place: str, part: Part, running: float | None) -> Line:
    return Line(
        place=place,
        what=part.name,
        value=part.value_db,
        unit="dB",
        provenance=part.figure.provenance,
        by=part.by,
        inputs=part.inputs,
        worked=worked(part.by, part.inputs, part.value_db),
        comes_to=running,
    )


def why_headroom(ladder: Ladder) -> Reason:
    """The room at the place of a way that clips first, and at the others."""
    by = "levels.headroom_db"
    told = [rung for rung in ladder.rungs if rung.headroom_db is not None]
    told.sort(key=lambda rung: -(rung.headroom_db or 0.0))
    lines = tuple(_room_line(ladder, rung, by) for rung in told)
    first = ladder.first_to_clip
    return Reason(
        figure="headroom",
        value=first.headroom_db if first else None,
        low=first.headroom_db - first.level.off_db
        if first and first.level and first.headroom_db is not None
        else None,
        high=first.headroom_db + first.level.off_db
        if first and first.level and first.headroom_db is not None
        else None,
        unit="dB",
        lines=lines,
        missing=() if first else ladder.missing,
    )


def _room_line(ladder: Ladder, rung: Rung, by: str) -> Line:
    level, clip = rung.level, rung.clip
    assert level is not None
    assert clip is not None
    room = rung.headroom_db or 0.0
    inputs = (
        ("clip_dbu", clip),
        ("level_dbu", Quantity(level.value_db, level.provenance)),
        ("crest_db", Quantity(ladder.crest_db, "typical")),
    )
    return Line(
        place=rung.place,
        what=f"room under {clip:.1f} {rung.unit}",
        value=room,
        unit="dB",
        provenance=level.provenance,
        by=by,
        inputs=inputs,
        worked=worked(by, inputs, room),
    )


def why_hiss(levels: Levels, ear: EarFigures) -> Reason:
    """The hiss at an ear: each noise from where it is made to the ear, then their sum."""
    lines: list[Line] = []
    for share in ear.shares:
        noise = share.noise
        lines.append(_noise_line(levels.figures, noise))
        path = levels.graph.shortest([noise.node], [ear.side]) or ()
        running = noise.level_db
        for hop in path:
            for part in levels.figures.step_of(hop).parts:
                running += part.value_db
                lines.append(_part_line(levels.graph.nodes[hop.end].key, part, running))
        if abs(running - share.spl_dba) > 1e-6:
            lines.append(
                Line(place=levels.graph.nodes[ear.side].key, what="by further ways, in phase",
                     value=share.spl_dba - running, unit="dB",
                     provenance=noise.figure.provenance, comes_to=share.spl_dba)
            )  # fmt: skip
    if ear.hiss_dba is not None:
        by = "levels.power_sum_db"
        terms = " + ".join(f"10^({share.spl_dba:.2f}/10)" for share in ear.shares)
        lines.append(
            Line(place=levels.graph.nodes[ear.side].key, what="all noises together",
                 value=ear.hiss_dba, unit="dB SPL(A)", provenance=ear.provenance, by=by,
                 worked=f"10 lg({terms}) = {ear.hiss_dba:.2f}")
        )  # fmt: skip
    return Reason(
        figure="hiss",
        value=ear.hiss_dba,
        low=ear.hiss_low_dba,
        high=ear.hiss_high_dba,
        unit="dB SPL(A)",
        lines=tuple(lines),
        missing=(*ear.missing, *ear.unheard),
    )


def why_noise(levels: Levels, ladder: Ladder) -> Reason:
    """The noise that one way gathers on its way to its end, and how far the source stands above."""
    last = ladder.rungs[-1]
    lines: list[Line] = []
    for one in last.gathered:
        lines.append(_noise_line(levels.figures, one.noise))
        lines.append(
            Line(place=last.place, what="that noise at the end of the way", value=one.level_db,
                 unit=f"{last.unit}(A)", provenance=lines[-1].provenance,
                 worked=f"{one.noise.level_db:.2f} {one.level_db - one.noise.level_db:+.2f} = "
                        f"{one.level_db:.2f}")
        )  # fmt: skip
    told = last.noise
    if told is not None:
        terms = " + ".join(f"10^({one.level_db:.2f}/10)" for one in last.gathered)
        lines.append(
            Line(place=last.place, what="all noise of this way together", value=told.value_db,
                 unit=f"{last.unit}(A)", provenance=told.provenance, by="levels.power_sum_db",
                 worked=f"10 lg({terms}) = {told.value_db:.2f}")
        )  # fmt: skip
    if told is not None and last.level is not None and last.snr_db is not None:
        worth = weaker(told.provenance, last.level.provenance)
        lines.append(
            Line(place=last.place, what="the source above the noise", value=last.snr_db, unit="dB",
                 provenance=worth, by="noise.snr_db",
                 worked=f"{last.level.value_db:.2f} - ({told.value_db:.2f}) = {last.snr_db:.2f}")
        )  # fmt: skip
    return Reason(
        figure="noise",
        value=told.value_db if told else None,
        low=told.low_db if told else None,
        high=told.high_db if told else None,
        unit=f"{last.unit}(A)",
        lines=tuple(lines),
        missing=ladder.missing,
    )


def noise_worth(noise: Noise) -> Provenance:
    """What a noise at its place is worth: no more than the weakest figure that makes it."""
    if noise.known_off_db is not None:
        return noise.figure.provenance  # measured, whatever the figures say
    return weakest(noise.figure, *(figure for _, figure in noise.inputs))


def _noise_line(figures: Figures, noise: Noise) -> Line:
    return Line(
        place=figures.graph.nodes[noise.node].key,
        what=noise.name,
        value=noise.level_db,
        unit=f"{figures.unit(noise.node)}(A)",
        provenance=noise_worth(noise),
        by=noise.by,
        inputs=noise.inputs,
        worked=_noise_worked(noise),
        comes_to=noise.level_db,
    )


def _noise_worked(noise: Noise) -> str:
    """The noise at its place, from the figures of the data sheet."""
    given = dict(noise.inputs)
    value = f"{noise.level_db:.2f}"
    if "turned_to_measured" in given:
        turn_db = float(given["turned_to_measured"])
        return f"{float(given['by_figures']):.2f} {turn_db:+.2f} = {value}"
    weighted = f" - {-a_weighted_noise_db():.2f}" if noise.by == "weighting.flat_to_a_dbu" else ""
    if "noise_uv" in given:
        volt = f"{float(given['noise_uv']):g}e-6"
        return f"20 lg({volt} / {ZERO_DBU_V:.4f}){weighted} = {value}"
    if "noise_dbu" in given:
        full = f" - {given['full_scale_dbu']:g}" if "full_scale_dbu" in given else ""
        return f"{given['noise_dbu']:g}{weighted}{full} = {value}"
    return worked(noise.by, noise.inputs, noise.level_db)


def why_loudest(widths: Widths, person: str) -> Reason:
    """The loudest an ear can get: what the limiting place gives out, every knob at the stop."""
    return _why_most("loudest", widths, person, widths.loudest_way(person))


def why_limited(widths: Widths, person: str) -> Reason:
    """The most that the limiters of the mixes let through, the knobs as the file has them."""
    found = _why_most("limited", widths, person, widths.limited_way(person))
    if found.value is not None:
        return found
    missing = found.missing or ("limiter_dbu of a mix that these ears hear",)
    return msgspec.structs.replace(found, missing=missing)


def _why_most(figure: str, widths: Widths, person: str, most: Most | None) -> Reason:
    missing = widths.sums.ears[person].missing
    if most is None:
        return Reason(figure=figure, value=None, low=None, high=None, unit="dB SPL", lines=(),
                      missing=missing)  # fmt: skip
    figures, graph = widths.figures, widths.graph
    what = "the limiter of the mix holds" if most.held else "gives out at most"
    place = graph.nodes[most.place].key
    running = float(most.bears)
    clip = clip_at(figures, most.place)
    if clip is None or clip.figure != most.bears:
        clip = Clip(most.bears)  # the limiter's
    first = _clip_line(clip, place, what, figures.unit(most.place))
    lines = [msgspec.structs.replace(first, comes_to=running)]
    for passed in most.way:
        place = graph.nodes[graph.hops[passed.hop].end].key
        if passed.stop is not None:
            running += passed.stop
            lines.append(
                Line(place=place, what="knob at its stop", value=passed.stop, unit="dB",
                     provenance=passed.stop.provenance, comes_to=running)
            )  # fmt: skip
        for part in passed.parts:
            running += part.value_db
            lines.append(_part_line(place, part, running))
    told = most.told
    if told.value_db < running:
        lines.append(
            Line(place=place, what="the earphones give no more than", value=told.value_db,
                 unit="dB SPL", provenance=told.provenance)
        )  # fmt: skip
    return Reason(figure=figure, value=told.value_db, low=told.low_db, high=told.high_db,
                  unit="dB SPL", lines=tuple(lines), missing=missing)  # fmt: skip


def why_place(levels: Levels, key: str) -> Reason:
    """All that is known of one place: what enters it does, its noise, what it bears."""
    graph, figures = levels.graph, levels.figures
    node = graph.index[key]
    lines: list[Line] = []
    missing: list[str] = []
    seen: set[tuple[str, float]] = set()
    for number in graph.entering[node]:
        if graph.hops[number].open:
            continue
        step = figures.step(number)
        missing += step.missing
        for part in step.parts:
            if (part.name, part.value_db) not in seen:
                seen.add((part.name, part.value_db))
                lines.append(_part_line(key, part, None))
    lines += [_noise_line(figures, noise) for noise in figures.noises_at(node)]
    lines += _measured_lines(figures, node, key)
    clip = clip_at(figures, node)
    if clip is not None:
        lines.append(_clip_line(clip, key, "bears at most", figures.unit(node)))
    unstated = figures.unstated_noise(node)
    if unstated:
        missing.append(unstated)
    return Reason(figure="place", value=None, low=None, high=None, unit=figures.unit(node),
                  lines=tuple(lines), missing=tuple(dict.fromkeys(missing)))  # fmt: skip


def _clip_line(clip: Clip, key: str, what: str, unit: str) -> Line:
    return Line(
        place=key,
        what=f"{what}, by its current" if clip.by else what,
        value=clip.figure,
        unit=unit,
        provenance=clip.figure.provenance,
        by=clip.by,
        inputs=clip.inputs,
        worked=worked(clip.by, clip.inputs, clip.figure),
    )


def _measured_lines(figures: Figures, node: int, key: str) -> Iterator[Line]:
    """What was measured at a channel, and what it is taken for now."""
    for stood in figures.readings.at(node):
        what = sentence("{what}, measured", what=sentence(stood.what))
        if not stood.counts:
            what = sentence("{what}; does not count", what=what)
        yield Line(
            place=key,
            what=what,
            value=stood.now,
            unit=stood.unit,
            provenance="measured",
            inputs=(("measured", stood.read),),
            worked=f"{stood.read:.2f} {stood.now - stood.read:+.2f} = {stood.now:.2f}",
        )


def worked(by: str, inputs: Inputs, value: float) -> str:
    """The arithmetic of a formula with its figures put in."""
    line = _WORKED.get(by)
    return f"{line({name: float(figure) for name, figure in inputs})} = {value:.2f}" if line else ""


def _preamp(given: Mapping[str, float]) -> str:
    ein, gain = given["ein_dbu"], given["gain_db"]
    if "source_ohm" not in given:
        return f"{ein:g} without the noise of {EIN_OHM:g} ohm, A-weighted, + {gain:g}"
    own = amplifier_noise_dbu(ein_dbu=ein, stated_ohm=EIN_OHM)
    warm = thermal_noise_dbu(source_ohm=given["source_ohm"])
    return (
        f"10 lg(10^({own:.2f}/10) + 10^({warm:.2f}/10)) - {-a_weighted_noise_db():.2f} + {gain:g}"
    )


_WORKED: Mapping[str, Callable[[Mapping[str, float]], str]] = {
    "loading.loading_loss_db": lambda g: (
        f"-20 lg(1 + {g['source_ohm']:.6g} / {g['input_ohm']:.6g})"
    ),
    "loading.stepped_db": lambda g: f"20 lg({g['turns_ratio']:g})",
    "cable.cable_loss_db": lambda g: (
        f"-10 lg(1 + (2 pi x {CABLE_HZ:g} x {g['source_ohm']:.4g} x "
        f"{g['capacitance_pf']:.4g}e-12)^2)"
    ),
    "headphones.current_limited_dbu": lambda g: (
        f"20 lg({g['highest_ma']:g}e-3 x ({g['output_ohm']:g} + {g['impedance_ohm']:g}) / "
        f"{ZERO_DBU_V:.4f})"
    ),
    "headphones.sensitivity_spl_per_v": lambda g: (
        f"{g['sensitivity_spl_per_mw']:g} + 10 lg(1000 / {g['impedance_ohm']:g})"
    ),
    "levels.dbu_to_dbv": lambda _: "20 lg(sqrt(0.6))",
    "levels.headroom_db": lambda g: (
        f"{g['clip_dbu']:.2f} + {SINE_CREST_DB:.2f} - ({g['level_dbu']:.2f}) - {g['crest_db']:g}"
    ),
    "microphones.microphone_dbu": lambda g: (
        f"{g['level_spl']:g} - 93.98 + 20 lg({g['sensitivity_mv_per_pa']:g} / 1000) + 2.218"
    ),
    "noise.input_noise_dbu": _preamp,
}
