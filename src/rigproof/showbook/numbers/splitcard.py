"""Splits and 48 V: who feeds each line in which state, what is left, what the line loses."""

from collections.abc import Callable, Hashable, Iterator, Sequence
from typing import TypeVar

from rigproof.checks.rule import View
from rigproof.rig.quantity import Quantity
from rigproof.rig.spread import Likely
from rigproof.showbook.blocks import (
    DASH,
    Block,
    Cell,
    caution,
    cell,
    column,
    figure,
    heading,
    left_out,
    numbers,
    plain,
    ranged,
    remark,
    say,
    table,
)
from rigproof.signal import words
from rigproof.signal.loading import (
    DESKS,
    FedLine,
    LoadedLine,
    fed_lines,
    least_v,
    likely_volts,
)
from rigproof.signal.phantom import HouseState, PhantomLine, RigState
from rigproof.wording import counted
from rigproof.wording.sentences import joined, sentence

CAUTION = sentence(
    "48 V can end what was not made for it: unbalanced outputs, some ribbon "
    "microphones, telephones, sound cards. Where nobody knows what the house "
    "does, it is taken to feed every line. Mutes on and knobs down before "
    "anything is plugged or switched."
)
# What is told, of all that could be: with the house off and our rack down nobody feeds, and a rack
# that boots feeds no more than one that is off.
_STATES: tuple[tuple[str, RigState, HouseState], ...] = (
    (sentence("Rack on, house off"), "on", "off"),
    (sentence("Rack on, house on or not known"), "on", "unknown"),
    (sentence("Rack off or booting, house on"), "off", "unknown"),
)
_NEEDS = {
    "must": sentence("must have"),
    "tolerates": sentence("bears it"),
    "never": sentence("must not"),
    None: sentence("not known"),
}


def blocks(view: View) -> Iterator[Block]:
    """Two tables: 48 V by state, and what the desks take."""
    lines = [line for line in view.lines.values() if line.feeds or line.could_feed or line.house]
    if not lines:
        yield say(sentence("No line of this rig comes near an input that could feed 48 V."))
        return
    yield caution("48 V", CAUTION)
    fed = {one.source: one for one in fed_lines(view.rig, view.lines)}
    yield heading(sentence("Who feeds 48 V, by what is switched on"))
    yield table(
        [
            column(sentence("Line"), 1.3),
            column(sentence("Its source"), 0.9),
            *(column(title, 1.9) for title, _, _ in _STATES),
            column(sentence("Stops at"), 1.7),
        ],
        [_states(view, line) for line in lines],
    )
    drawing = [fed[line.source] for line in lines if line.source in fed]
    if drawing:
        yield heading(sentence("What is left at the microphone, in volts"))
        yield table(
            [
                column(sentence("Line"), 3),
                numbers(sentence("Draws"), 1, unit="mA"),
                numbers(sentence("One feeder"), 1.5),
                numbers(sentence("Two feeders"), 1.5),
                numbers(sentence("One, the other desk's resistors at earth"), 2.2),
                numbers(sentence("Made to work from"), 0.9),
            ],
            [_volts(view, alike) for alike in _grouped(drawing, _draws)],
        )
    loaded = [one for line in lines if (one := view.loads.get(line.source)) is not None]
    if loaded:
        yield heading(sentence("What hangs on each line, and what that takes in dB"))
        yield table(
            [
                column(sentence("Line"), 3.5),
                numbers(sentence("Source"), 1.2, unit=sentence("ohm")),
                numbers(sentence("All inputs"), 1.2, unit=sentence("ohm")),
                numbers(sentence("Now"), 0.7),
                *(numbers(counted(n, "desk"), 0.7) for n in DESKS),
            ],
            [_load(view, alike) for alike in _grouped(loaded, _ohms)],
        )
    yield left_out(
        sentence(
            "what a desk does with its 6.8 kilohm when its 48 V is off: some take "
            "them off the line, some tie them to earth. Desks that nobody stated "
            "count with 2 kilohm (assumed). Only the first lane of a stereo source "
            "is told."
        )
    )


def _states(view: View, line: PhantomLine) -> list[Cell]:
    by_state = line.feeders_by_state
    return [
        remark(words.source(view.rig, line.source)),
        cell(_NEEDS[line.need]),
        *(remark(_feeders(view, by_state[rig, house])) for _, rig, house in _STATES),
        remark(words.places(view.rig, line.blocked) if line.blocked else ""),
    ]


def _feeders(view: View, keys: tuple[str, ...]) -> str:
    return words.places(view.rig, keys) if keys else sentence("nobody")


_Line = TypeVar("_Line", FedLine, LoadedLine)


def _grouped(lines: Sequence[_Line], by: Callable[[_Line], Hashable]) -> list[list[_Line]]:
    """Lines of the same figures share a row."""
    found: dict[Hashable, list[_Line]] = {}
    for line in lines:
        found.setdefault(by(line), []).append(line)
    return list(found.values())


def _draws(line: FedLine) -> Hashable:
    return float(line.needs_ma), line.needs_ma.provenance


def _ohms(line: LoadedLine) -> Hashable:
    worth = [one and (float(one), one.provenance) for one in (line.source_ohm, line.load_ohm)]
    return tuple(worth)


def _names(view: View, lines: Sequence[_Line]) -> Cell:
    return remark(joined(", ", (words.source(view.rig, line.source) for line in lines)))


def _volts(view: View, alike: Sequence[FedLine]) -> list[Cell]:
    fed = alike[0]
    least = least_v(fed.needs_ma)
    return [
        _names(view, alike),
        figure(fed.needs_ma),
        *(_left(volts, least) for volts in likely_volts(fed)),
        cell(plain(least)),
    ]


def _left(volts: Likely, least: float) -> Cell:
    told = cell(ranged(volts, 1).v)  # what it is worth stands beside the current
    return told if volts.value >= least else cell(sentence("{volts} too few", volts=told.v))


def _load(view: View, alike: Sequence[LoadedLine]) -> list[Cell]:
    line = alike[0]
    return [
        _names(view, alike),
        _ohm(line.source_ohm),
        _ohm(line.load_ohm),
        _decibels(line.loss_db),
        *(_decibels(line.with_desks_db(desks)) for desks in DESKS),
    ]


def _ohm(value: Quantity | None) -> Cell:
    return figure(value, decimals=0)


def _decibels(value: float | None) -> Cell:
    return cell(DASH if value is None else plain(value))
