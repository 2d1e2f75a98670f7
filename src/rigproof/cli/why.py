"""Say why a figure is what it is: formula, source, figures put in, the sum line by line."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Collection, Iterator
from typing import TYPE_CHECKING, Any

from rigproof.cli.answer import CLEAN, FOUND, Answer, CannotRun, Fault
from rigproof.cli.terminal import Row, Table, working
from rigproof.cli.trace import MOST, meant, viewed
from rigproof.wording import listed

if TYPE_CHECKING:
    from rigproof.checks.rule import View
    from rigproof.rig import Rig
    from rigproof.signal.reasons import Line, Reason

# What can be asked of a pair of ears, and of a source on its way; the first where none is named.
_AT_EARS = ("hiss", "loudest", "limited")
_ON_THE_WAY = ("level", "headroom", "noise", "delay")


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof why` takes."""
    parser.add_argument("rig", metavar="RIG", help="a folder or its file")
    parser.add_argument(
        "name",
        metavar="NAME",
        help="a person (what the ears get), a source (with TO), a place such as mixer.pre.3, or a "
        "box, the case, a lead, a stream, a venue, mains, control",
    )
    parser.add_argument("to", metavar="TO", nargs="?", help="who hears the source")
    parser.add_argument(
        "--of",
        metavar="FIGURE",
        help="of a person: hiss, loudest, limited, exposure; of a source on its way: level, "
        "headroom, noise, delay; of anything else, any other word tells which there are",
    )
    parser.add_argument("--show", metavar="SHOW", help="the rig as it is at one show")


def run(asked: Namespace) -> Answer:
    """Find the figure and lay its sum open."""
    with working("Reckoning"):
        view = viewed(asked.rig, asked.show)
        title, reason = _on_the_way(view, asked) if asked.to else _by_one_name(view, asked)
    told = reason.value is not None or reason.lines
    return Answer(CLEAN if told else FOUND, _data(asked, reason), tuple(_rows(view, title, reason)))


def _on_the_way(view: View, asked: Namespace) -> tuple[str, Reason]:
    from rigproof.signal.delaywhy import why_delay
    from rigproof.signal.ladder import ladders, loudest_way
    from rigproof.signal.reasons import why_headroom, why_level, why_noise

    rig, graph = view.rig, view.graph
    figure = _figure(asked.of, _ON_THE_WAY, "a source on its way")
    source = meant(asked.name, {s.id: s.name for s in rig.file.sources}, "source")
    people = {person.id: person.name for person in rig.file.people}
    listener = meant(asked.to, {**rig.box_names, **people, "house": "the house"}, "person or box")
    paths = graph.paths(graph.of_source(source), graph.of_listener(listener), most=MOST)
    who = people.get(listener, listener)
    title = f"The {figure} of {rig.sources[source].name} on the way to {who}"
    if not paths:
        raise CannotRun(
            Fault(
                f"{rig.sources[source].name} does not arrive at {who}.",
                f'"rigproof trace {asked.rig} {source} {listener}" says where the way ends.',
            )
        )
    if figure == "delay":
        if listener not in people:
            raise CannotRun(
                Fault(
                    f"A delay is laid open for a person, and {who} is none.",
                    f"rigproof trace {asked.rig} {source} {listener} shows it hop by hop.",
                )
            )
        return title, why_delay(view.delays, source, listener)
    levels = view.levels
    ladder = loudest_way(ladders(levels, paths))
    if figure == "headroom":
        return title, why_headroom(ladder)
    return title, why_level(levels, ladder) if figure == "level" else why_noise(levels, ladder)


def _by_one_name(view: View, asked: Namespace) -> tuple[str, Reason]:
    from rigproof.signal.reasons import why_hiss, why_limited, why_loudest, why_place
    from rigproof.signal.words import place

    rig, graph = view.rig, view.graph
    levels = view.levels
    if asked.name in graph.index and asked.name not in rig.people:
        if asked.of is not None:
            raise CannotRun(
                Fault(
                    f"--of {asked.of} is asked of a person or a source.",
                    "Of a place, all its figures are shown; leave --of out.",
                )
            )
        return f"What is known of {place(rig, asked.name)}", why_place(levels, asked.name)
    from rigproof.checks.asking import figures, things

    name = meant(asked.name, dict(things(view)), "thing")
    others = figures(view, name)
    if asked.of in others or (asked.of is None and others and name not in _by_the_way(rig)):
        found = others[asked.of or next(iter(others))]
        return found.title, found.reason()
    if name in rig.sources:
        raise CannotRun(
            Fault(
                f"{asked.name} is a source: a figure of it belongs to who hears it.",
                f"Name the person too: rigproof why {asked.rig} {asked.name} PERSON"
                + (f"; or ask --of {listed(others, 'or')}." if others else ""),
            )
        )
    known = (*(_AT_EARS if name in rig.people else ()), *others)
    if not known:
        raise CannotRun(
            Fault(f"Nothing is reckoned of {asked.name}.", "Ask for a box, a person or a place.")
        )
    figure = _figure(asked.of, known, asked.name)
    ear = levels.ear(name)
    if ear is None:
        raise CannotRun(
            Fault(
                f"{rig.people[name].name} has no earphones plugged in.",
                "Give the person ears with a plug, for example ears: {plug: amp.phones.1}.",
            )
        )
    who = rig.people[name].name
    if figure == "hiss":
        return f"The hiss at {who}", why_hiss(levels, ear)
    if figure == "loudest":
        return f"The loudest possible at {who}", why_loudest(view.widths, name)
    return f"The most that limiters let through to {who}", why_limited(view.widths, name)


def _by_the_way(rig: Rig) -> Collection[str]:
    """Whose first figure is one of the sound: people, and sources on their way to somebody."""
    return {*rig.people, *rig.sources}


def _figure(of: str | None, known: tuple[str, ...], whom: str) -> str:
    if of is None:
        return known[0]
    if of not in known:
        raise CannotRun(
            Fault(f"--of {of} cannot be asked of {whom}.", f"It can be: {listed(known, 'or')}.")
        )
    return of


def _data(asked: Namespace, reason: Reason) -> dict[str, Any]:
    return {
        "name": asked.name,
        "to": asked.to,
        "figure": reason.figure,
        "value": reason.value,
        "low": reason.low,
        "high": reason.high,
        "unit": reason.unit,
        "lines": [_line_data(line) for line in reason.lines],
        "missing": list(dict.fromkeys(reason.missing)),
    }


def _line_data(line: Line) -> dict[str, Any]:
    from rigproof.signal.reasons import formula

    found = formula(line.by) if line.by else None
    return {
        "place": line.place,
        "what": line.what,
        "value": float(line.value),
        "unit": line.unit,
        "from": line.provenance,
        "comes_to": line.comes_to,
        "worked": line.worked,
        "formula": found.name if found else None,
        "says": f"{found.title} {found.text}" if found else None,
        "inputs": [
            {
                "name": name,
                "value": float(figure),
                "from": figure.provenance,
                "date": figure.date,
                "note": figure.note,
            }
            for name, figure in line.inputs
        ],
    }


def _rows(view: View, title: str, reason: Reason) -> Iterator[Row | Table]:
    yield Row(title, tone="strong")
    if reason.value is not None:
        likely = ""
        if reason.low is not None and reason.high is not None:
            decimals = 0 if abs(reason.high) >= 20 else 2
            likely = f", likely {reason.low:.{decimals}f} to {reason.high:.{decimals}f}"
        value = f"{reason.value:.2f}".removesuffix(".00")
        yield Row(f"{f'{value} {reason.unit}'.rstrip()}{likely}.")
    if reason.lines:
        yield Row()
        yield Table(
            ("", "at", "what", "figure", "sum", "from"),
            tuple(_table(view, reason)),
            wraps=1,
            right=frozenset({0, 3, 4}),
        )
    yield from _sums(reason)
    yield from _formulas(reason)
    if reason.missing:
        yield Row()
        yield Row(f"{'; '.join(dict.fromkeys(reason.missing))}.", lead="Not stated: ")


def _table(view: View, reason: Reason) -> Iterator[tuple[str, ...]]:
    from rigproof.signal.words import place

    index = view.graph.index
    for number, line in enumerate(reason.lines, 1):
        signed = "+" if line.unit == "dB" else ""
        yield (
            str(number),
            place(view.rig, line.place) if line.place in index else line.place,
            line.what,
            f"{line.value:{signed}.2f} {line.unit}",
            "" if line.comes_to is None else f"{line.comes_to:.2f}",
            "exact" if line.by == "levels.dbu_to_dbv" else line.provenance,
        )


def _sums(reason: Reason) -> Iterator[Row]:
    """The arithmetic of each line that has any, with the figures that go in."""
    told = [(n, line) for n, line in enumerate(reason.lines, 1) if line.worked]
    if not told:
        return
    yield Row()
    yield Row("Worked", tone="strong")
    for number, line in told:
        yield Row(line.worked, lead=f"{number:3}  ")
        if line.inputs:
            given = ", ".join(
                f"{name.replace('_', ' ')} {float(figure):g} "
                f"({', '.join(filter(None, (figure.provenance, figure.date, figure.note)))})"
                for name, figure in line.inputs
            )
            yield Row(given, indent=5, tone="faint")


def _formulas(reason: Reason) -> Iterator[Row]:
    from rigproof.signal.reasons import formula

    names = list(dict.fromkeys(line.by for line in reason.lines if line.by))
    if not names:
        return
    yield Row()
    yield Row("Formulas", tone="strong")
    for name in names:
        found = formula(name)
        yield Row(f"{found.title} {found.text}", lead=f"{name}: ", lead_tone="faint")
