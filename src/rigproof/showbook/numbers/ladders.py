"""The level ladder: one page for each pair of ears, with every figure that a pencil needs.

Own sound hop by hop, the hiss with its shares, the loudest that can come, and which knob to turn
to what. Each line follows from the one above by the figures printed in it.
"""

from collections.abc import Iterator, Sequence
from math import log10

from rigproof.physics.levels import power_sum_db
from rigproof.rig.band import Source
from rigproof.rig.quantity import Quantity
from rigproof.rig.spread import weaker
from rigproof.showbook.blocks import (
    DASH,
    Block,
    Cell,
    between,
    cell,
    column,
    facts,
    heading,
    left_out,
    needs,
    numbers,
    one_page,
    plain,
    remark,
    run,
    say,
    signed,
    table,
)
from rigproof.showbook.numbers.reckoned import Reckoned
from rigproof.signal import words
from rigproof.signal.clips import clip_at
from rigproof.signal.figures import Part
from rigproof.signal.gainplan import KnobPlan
from rigproof.signal.graph import Hop
from rigproof.signal.ladder import Ladder, Rung, Told, in_step_db, ladder, ladders
from rigproof.signal.levels import EarFigures, Share
from rigproof.signal.reasons import noise_worth
from rigproof.signal.widths import Passed
from rigproof.wording import opening
from rigproof.wording.sentences import joined, sentence

_WAYS = 12  # looked at for one source; the loudest of them is printed
_SHARES = 6  # told one by one; the rest in one line
_LEAST_RATIO = 0.01  # of a share that is told by itself
_IN_ONE = 40  # sources in one run of text
_EXACT = "levels.dbu_to_dbv"  # a definition, not a figure of somebody's
_TELLING_DB = 0.05  # what moves a level by less does not show in a figure of one decimal

LEFT_OUT = sentence(
    "equalisers, compressors, crosstalk, hum, what leaks in past the "
    "earphones, limiters that no mix states. Knobs and sends nobody wrote "
    "down stand at 0 dB. A limiter belongs into the last box before the "
    "ears; start low; how much ears may have, the law of the place says."
)
ROOM = sentence(
    "Room = bears + 3.0 \u2212 peak: what a place bears is stated for a sine, "
    "whose peaks stand 3.0 dB above its level."
)


def blocks(reckoned: Reckoned) -> list[Block]:
    """The pages of everyone with earphones in a socket."""
    found: list[Block] = []
    for ear in reckoned.levels.ears:
        name = words.person(reckoned.view.rig, ear.person)
        found += one_page(name, [*_person(reckoned, ear)])
    return found


def _person(reckoned: Reckoned, ear: EarFigures) -> Iterator[Block]:
    yield facts(_summary(reckoned, ear))
    if ear.missing:
        yield say(
            sentence(
                "{needs}. What follows counts the rest.",
                needs=opening(needs(ear.missing, most=6)),
            )
        )
    source, way = _own(reckoned, ear)
    if source is not None and way is not None:
        own = source.player == ear.person
        yield heading(
            sentence("Own sound: {source}, hop by hop", source=source.name)
            if own
            else sentence("The loudest sound: {source}, hop by hop", source=source.name)
        )
        yield _ladder_table(reckoned, way)
        yield run(
            sentence("{in_step}{room}", in_step=_in_step(reckoned, source, ear), room=ROOM), ""
        )
    yield heading(sentence("What hisses"))
    yield _hiss_table(reckoned, ear)
    loudest = _loudest(reckoned, ear)
    if loudest is not None:
        yield heading(sentence("The loudest possible"))
        yield loudest
    turns = _turns(reckoned, ear, source)
    if turns is not None:
        yield heading(sentence("Turn these, and write them on tape"))
        yield turns
    others = [name for name in ear.levels_spl if source is None or name != source.id]
    if others:
        yield from _others(reckoned, ear, others)
    yield left_out(LEFT_OUT)


def _summary(reckoned: Reckoned, ear: EarFigures) -> list[tuple[str, str, str]]:
    plan = reckoned.ear_plan(ear.person)
    together = reckoned.view.widths.together(ear.person)
    loudest = reckoned.view.widths.loudest(ear.person)
    hiss, likely = DASH, needs(ear.unheard or ear.missing)
    if ear.hiss_dba is not None:
        hiss = sentence("{hiss_dba} dB(A)", hiss_dba=plain(ear.hiss_dba))
    if ear.hiss_low_dba is not None and ear.hiss_high_dba is not None:
        likely = sentence(
            "likely {between}; {worth}",
            between=between(ear.hiss_low_dba, ear.hiss_high_dba),
            worth=sentence(weaker(*(noise_worth(share.noise) for share in ear.shares))),
        )
    sure = _spl(together, needs(ear.missing))[1]
    if together is not None and not reckoned.view.ears.ears[ear.person].planned:
        sure = sentence("if what nobody wrote down stands at 0 dB")
    found = [
        (sentence("Everything together"), _spl(together, needs(ear.missing))[0], sure),
        (sentence("Hiss"), hiss, likely),
        (sentence("Loudest possible"), *_spl(loudest, needs(ear.missing))),
    ]
    if reckoned.tape is None or not reckoned.tape.moves or plan is None:
        return found
    if plan.level_after_spl is not None and plan.hiss_after_dba is not None:
        found.append(
            (
                sentence("With the tape"),
                sentence("{level_after_spl} dB SPL", level_after_spl=plain(plan.level_after_spl)),
                sentence(
                    "then {hiss_after_dba} dB(A) of hiss", hiss_after_dba=plain(plan.hiss_after_dba)
                ),
            )
        )
    return found


def _spl(told: Told | None, missing: str) -> tuple[str, str]:
    """A level at an ear, and below it its likely range and what it is worth."""
    if told is None:
        return DASH, missing
    likely = sentence(
        "likely {between}; {worth}",
        between=between(told.low_db, told.high_db),
        worth=sentence(told.provenance),
    )
    return sentence("{level} dB SPL", level=plain(told.value_db)), likely


# The way of one sound


def _own(reckoned: Reckoned, ear: EarFigures) -> tuple[Source | None, Ladder | None]:
    """The player's own sound, a voice before an instrument; else the loudest there is."""
    view = reckoned.view
    heard = view.graph.feeding(view.graph.of_listener(ear.person))
    arriving = [
        source
        for source in view.rig.file.sources
        if not heard.isdisjoint(view.graph.of_source(source.id))
    ]
    own = [source for source in arriving if source.player == ear.person]
    own.sort(key=lambda source: source.family != "voices")
    rest = sorted(
        (source for source in arriving if source not in own),
        key=lambda source: -ear.levels_spl.get(source.id, -1e9),
    )
    for source in (*own, *rest):
        path = _loudest_path(reckoned, source, ear)
        if path:
            return source, ladder(reckoned.levels, path)
    return None, None


def _loudest_path(reckoned: Reckoned, source: Source, ear: EarFigures) -> tuple[Hop, ...]:
    """Of the ways to the ear that hisses most, the one that arrives loudest."""
    graph, figures = reckoned.view.graph, reckoned.levels.figures
    starts = graph.of_source(source.id)
    found = graph.paths(starts, (ear.side,), most=_WAYS)
    if not found:
        found = graph.paths(starts, graph.of_listener(ear.person), most=_WAYS)

    def gain_db(path: tuple[Hop, ...]) -> float:
        steps = [figures.step_of(hop) for hop in path]
        return -1e9 if any(s.missing for s in steps) else sum(s.gain_db for s in steps)

    return max(found, key=gain_db, default=())


def _in_step(reckoned: Reckoned, source: Source, ear: EarFigures) -> str:
    """What several ways of the source make together at this ear; the table shows the loudest."""
    graph = reckoned.view.graph
    paths = graph.paths(graph.of_source(source.id), (ear.side,), most=_WAYS)
    level = in_step_db(ladders(reckoned.levels, paths)) if len(paths) > 1 else None
    if level is None:
        return ""
    return sentence(
        "{paths} ways meet at this ear, the loudest is shown; in step they come "
        "to {level} dB SPL. ",
        paths=len(paths),
        level=plain(level),
    )


def _ladder_table(reckoned: Reckoned, way: Ladder) -> Block:
    columns = [
        column(sentence("Place"), 2.9),
        column(sentence("What happens"), 3.6),
        numbers(sentence("Gain"), 0.85, unit="dB"),
        numbers(sentence("Level"), 2.2),
        numbers(sentence("Peak"), 0.75),
        numbers(sentence("Bears"), 1.55),
        numbers(sentence("Room"), 0.95, unit="dB"),
        numbers(sentence("Hiss(A)"), 1.2),
        numbers("S/N", 0.8, unit="dB"),
    ]
    shown: list[Rung] = []
    for number, rung in enumerate(way.rungs):
        last = shown[-1] if shown else None
        if last is None or number == len(way.rungs) - 1 or _tells(rung, last):
            shown.append(rung)
    return table(columns, [_rung(reckoned, rung) for rung in shown])


def _tells(rung: Rung, last: Rung) -> bool:
    """Whether anything changes here, against the last line, that a pencil needs."""
    new_limit = rung.clip is not None and (rung.clip, rung.unit) != (last.clip, last.unit)
    return bool(
        any(abs(part.value_db) >= _TELLING_DB for part in rung.step.parts)
        or rung.missing
        or new_limit
        or any(g.place == rung.place for g in rung.gathered)
    )


def _rung(reckoned: Reckoned, rung: Rung) -> list[Cell]:
    happens = joined("; ", map(_part, rung.step.parts))
    if rung.missing:
        happens = joined("; ", filter(None, [happens, needs(rung.missing)]))
    level, unit = rung.level, rung.unit
    return [
        remark(words.place(reckoned.view.rig, rung.place)),
        remark(happens),
        cell(signed(rung.step.gain_db) if rung.step.parts and not rung.step.missing else ""),
        cell(
            sentence("{value_db} {unit}", value_db=plain(level.value_db), unit=unit),
            level.provenance,
        )
        if level
        else cell(DASH),
        cell(plain(rung.peak_db) if rung.peak_db is not None else DASH),
        cell(plain(float(rung.clip)), rung.clip.provenance) if rung.clip is not None else cell(""),
        cell(plain(rung.headroom_db) if rung.headroom_db is not None else ""),
        cell(plain(rung.noise.value_db) if rung.noise else ""),
        cell(plain(rung.snr_db) if rung.snr_db is not None else ""),
    ]


def _part(part: Part) -> str:
    if part.by == _EXACT:
        return sentence(
            "{part} {value_db}", part=sentence(part.name), value_db=signed(part.value_db)
        )
    return sentence(
        "{part} {value_db} ({worth})",
        part=sentence(part.name),
        value_db=signed(part.value_db),
        worth=sentence(part.figure.provenance),
    )


# Hiss and the loudest


def _hiss_table(reckoned: Reckoned, ear: EarFigures) -> Block:
    shown = [s for s in ear.shares[:_SHARES] if s.share_ratio >= _LEAST_RATIO]
    rows = [_share(reckoned, share) for share in shown]
    if ear.hiss_dba is not None and shown:
        told = power_sum_db([share.spl_dba for share in shown])
        rest = 10 ** (ear.hiss_dba / 10) - 10 ** (told / 10)
        share = rest / 10 ** (ear.hiss_dba / 10)
        if share > 1e-6:
            rows.append(
                [
                    remark(sentence("everything else together")),
                    remark(""),
                    cell(""),
                    cell(""),
                    cell(plain(10 * log10(rest))),
                    cell(sentence("{share:.1f} %", share=100 * share)),
                ]
            )
    for name in ear.unheard:
        rows.append(
            [remark(needs([name])), remark(""), cell(DASH), cell(""), cell(DASH), cell(DASH)]
        )
    total = (
        sentence("{hiss_dba} dB(A)", hiss_dba=plain(ear.hiss_dba))
        if ear.hiss_dba is not None
        else DASH
    )
    return table(
        [
            column(sentence("Where"), 2.5),
            column(sentence("What, and from which figures"), 4.5),
            numbers(sentence("There(A)"), 1.7),
            numbers(sentence("To the ear"), 0.85, unit="dB"),
            numbers(sentence("At the ear"), 1, unit="dB(A)"),
            numbers(sentence("Share"), 0.75),
        ],
        rows,
        [
            remark(sentence("Hiss{side}, as powers", side=_side(reckoned, ear))),
            remark(sentence("10 log of the sum of 10^(figure/10)")),
            cell(""),
            cell(""),
            cell(total),
            cell("100 %" if ear.hiss_dba is not None else ""),
        ],
    )


def _side(reckoned: Reckoned, ear: EarFigures) -> str:
    key = reckoned.view.graph.nodes[ear.side].key if ear.hiss_dba is not None else ""
    return {"1": sentence(" at the left ear"), "2": sentence(" at the right ear")}.get(
        key.rpartition(".")[2], ""
    )


def _share(reckoned: Reckoned, share: Share) -> list[Cell]:
    noise = share.noise
    unit = reckoned.levels.figures.unit(noise.node)
    from_ = joined(", ", (_input(name, value) for name, value in noise.inputs))
    return [
        remark(words.place(reckoned.view.rig, share.place)),
        remark(
            sentence("{noise}: {figures}", noise=sentence(noise.name), figures=from_)
            if from_
            else sentence(noise.name)
        ),
        cell(
            sentence("{level_db} {unit}", level_db=plain(noise.level_db), unit=unit),
            noise_worth(noise),
        ),
        cell(signed(share.spl_dba - noise.level_db)),
        cell(plain(share.spl_dba)),
        cell(sentence("{share:.1f} %", share=100 * share.share_ratio)),
    ]


# What the formulas call their inputs, as people do.
_INPUTS = {
    "ein_dbu": "EIN {figure} dBu",
    "gain_db": "gain {figure} dB",
    "source_ohm": "source {figure} \u03a9",
    "noise_dbu": "{figure} dBu",
    "noise_uv": "{figure} \u00b5V",
    "full_scale_dbu": "full scale {figure} dBu",
    "highest_ma": "{figure} mA",
    "output_ohm": "through {figure} \u03a9",
    "impedance_ohm": "into {figure} \u03a9",
    "level_spl": "level {figure} dB SPL",
    "sensitivity_mv_per_pa": "sensitivity {figure} mV/Pa",
    "by_figures": "by the figures {figure}",
    "turned_to_measured": "turned by {figure} dB to what was measured",
}


def _input(name: str, value: Quantity) -> str:
    """`source_ohm` as people write it."""
    return sentence(
        "{figure} ({worth})",
        figure=sentence(_INPUTS[name], figure=plain(float(value))),
        worth=sentence(value.provenance),
    )


def _loudest(reckoned: Reckoned, ear: EarFigures) -> Block | None:
    """What the limiting place bears, and all that lies behind it with every knob at its stop."""
    found = reckoned.view.widths.loudest_way(ear.person)
    if found is None:
        return None
    rig, graph, figures = reckoned.view.rig, reckoned.view.graph, reckoned.levels.figures
    level = float(found.bears)
    clip = clip_at(figures, found.place)
    by_current = not found.held and clip is not None and bool(clip.inputs)
    rows = [
        [
            remark(words.place(rig, graph.nodes[found.place].key)),
            remark(
                sentence("the limiter of the mix holds")
                if found.held
                else sentence(
                    "its current gives out: {figures}",
                    figures=joined(", ", (_input(name, value) for name, value in clip.inputs)),
                )
                if by_current and clip is not None
                else sentence("bears at most")
            ),
            cell(""),
            cell(
                sentence("{clip} {unit}", clip=plain(level), unit=figures.unit(found.place)),
                found.bears.provenance,
            ),
        ]
    ]
    for passed in found.way:
        hop = graph.hops[passed.hop]
        level += passed.gain_db
        rows.append(
            [
                remark(words.place(rig, graph.nodes[hop.end].key)),
                remark(joined("; ", _happens(passed))),
                cell(signed(passed.gain_db)),
                cell(sentence("{level} {unit}", level=plain(level), unit=figures.unit(hop.end))),
            ]
        )
    earphone = figures.earphone(ear.person)
    bears = earphone.max_spl_db if earphone else None
    note = (
        sentence("the earphones are made for {bears} dB SPL", bears=plain(float(bears)))
        if bears is not None
        else ""
    )
    return table(
        [
            column(sentence("Place"), 2.3),
            column(sentence("What happens, every knob at its stop"), 4),
            numbers(sentence("Gain"), 0.8, unit="dB"),
            numbers(sentence("Level"), 1.5),
        ],
        rows,
        [
            cell(sentence("Loudest possible")),
            remark(note, bears.provenance if bears is not None else ""),
            cell(""),
            cell(
                sentence("{level} dB SPL", level=plain(found.told.value_db)),
                found.told.provenance,
            ),
        ],
    )


def _happens(passed: Passed) -> Iterator[str]:
    if passed.stop is not None:
        yield sentence(
            "knob at its stop {gain_db} ({worth})",
            gain_db=signed(passed.stop),
            worth=sentence(passed.stop.provenance),
        )
    yield from map(_part, passed.parts)


# Knobs and the rest


def _turns(reckoned: Reckoned, ear: EarFigures, source: Source | None) -> Block | None:
    plan = reckoned.tape
    if plan is None:
        return None
    mine = [
        knob
        for knob in plan.knobs
        if ear.person in knob.people or (source is not None and knob.source == source.id)
    ]
    if not mine:
        return None
    return table(
        [
            column(sentence("Knob"), 4),
            numbers(sentence("Now"), 1.1, unit="dB"),
            numbers(sentence("Tape"), 0.8, unit="dB"),
            column(sentence("Because"), 3.4),
        ],
        [turn(knob) for knob in mine],
    )


def turn(knob: KnobPlan) -> list[Cell]:
    """One knob, from where to where."""
    now = DASH if knob.present_db is None else signed(knob.present_db)
    return [
        remark(knob.name),
        cell(now, knob.present_from if knob.written else sentence("not written")),
        cell(signed(knob.planned_db)),
        remark(knob.because if knob.moves else sentence("stays")),
    ]


def _others(reckoned: Reckoned, ear: EarFigures, names: Sequence[str]) -> Iterator[Block]:
    """The loudest first, by what their levels are worth; running text, for a quick look."""
    rig, figures = reckoned.view.rig, reckoned.levels.figures
    worth: dict[str, list[str]] = {}
    for name in sorted(names, key=lambda one: -ear.levels_spl[one]):
        level = figures.source_dbu(rig.sources[name])
        told = sentence(
            "{source}\u00a0{levels_spl}",
            source=rig.sources[name].name,
            levels_spl=plain(ear.levels_spl[name]),
        )
        worth.setdefault(level.provenance if level is not None else "", []).append(told)
    lead = sentence("Everything else in these ears, dB SPL: ")
    for provenance, told_ in worth.items():
        for first in range(0, len(told_), _IN_ONE):
            row = joined(" \u00b7 ", told_[first : first + _IN_ONE])
            yield run(sentence("{lead}{row}", lead=lead, row=row), provenance)
            lead = ""
