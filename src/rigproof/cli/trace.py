"""Follow one source to one pair of ears, to the house, or to a box of the rig, hop by hop."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Iterator, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from rigproof.cli.answer import CLEAN, FOUND, Answer, CannotRun, Fault
from rigproof.cli.readings import measured_data, measured_rows
from rigproof.cli.rungs import (
    WORTH,
    ear_data,
    ear_rows,
    ladder_data,
    ladder_rows,
    level_table,
    mark,
)
from rigproof.cli.terminal import Row, Table, working
from rigproof.cli.together import together_data, together_rows

if TYPE_CHECKING:
    from rigproof.checks.rule import View
    from rigproof.rig import Rig
    from rigproof.rig.quantity import Quantity
    from rigproof.signal import Graph, Hop, Node
    from rigproof.signal.gap import Gap
    from rigproof.signal.ladder import Ladder

_BY = {
    "inside": "inside",
    "plug": "plugged in",
    "lead": "lead",
    "route": "routed",
    "send": "sent",
    "stream": "stream",
    "radio": "radio",
    "ear": "earphones",
}
MOST = 64  # paths looked up; a mixer can send one source very many ways
# Where a figure belongs; where one is missing, the sum says so.
_WITH_GAIN = frozenset({"preamp", "amplifier", "transformer"})


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof trace` takes."""
    parser.add_argument("rig", metavar="RIG", nargs="?", default=".", help="a folder or its file")
    parser.add_argument("source", metavar="SOURCE", help="a source, by its id or name")
    parser.add_argument(
        "listener", metavar="LISTENER", help='a person, "house", or a box such as a recorder'
    )
    parser.add_argument("--show", metavar="SHOW", help="the rig as it is at one show")
    parser.add_argument(
        "-o",
        "--output",
        metavar="FILE.svg",
        help="draw the levels of the way that arrives loudest",
    )


def run(asked: Namespace) -> Answer:
    """Find the ways, or what is missing."""
    with working("Following the signal"):
        from rigproof.signal.ladder import ladders

        view = viewed(asked.rig, asked.show)
        rig, graph = view.rig, view.graph
        source = meant(asked.source, {s.id: s.name for s in rig.file.sources}, "source")
        listener = meant(asked.listener, _listeners(rig), "person or box")
        starts, ends = graph.of_source(source), graph.of_listener(listener)
        paths = graph.paths(starts, ends, most=MOST)
        levels = view.levels
        found = dict(zip(map(id, paths), ladders(levels, paths), strict=True))
        ways = [
            _way(view, source, members, [found[id(path)] for path in members])
            for members in _alike(graph, paths)
        ]
        ear = levels.ear(listener)
    title = f"{rig.sources[source].name} to {_listener_words(rig, listener)}"
    result: dict[str, Any] = {
        "source": source,
        "listener": listener,
        "ways": [way.data() for way in ways],
        "drawing": None,
        "ends_at": [],
        "unset": [],
        "fed_from": [],
        "at_the_ear": ear_data(ear, source, view.widths) if ear else None,
        "together": together_data(view, source, listener, list(found.values())),
        "measured": measured_data(view, list(found.values())),
    }
    if ways:
        several = f", the loudest of {len(ways)} ways" if len(ways) > 1 else ""
        drawn = _drawn(view, f"{title}{several}", list(found.values()), asked.output)
        result["drawing"] = drawn
        rows: list[Row | Table] = [
            *_rows(rig, title, ways),
            *_cut(len(paths) == MOST),
            *measured_rows(view, list(found.values())),
        ]
        rows += together_rows(view, source, listener, list(found.values()))
        if ear is not None:
            rows += [Row(), Row(f"At {_listener_words(rig, listener)}", tone="strong")]
            rows += ear_rows(rig, ear, view.widths)
        if drawn is not None:
            rows += [Row(), Row(drawn, lead="Drawing: ")]
        return Answer(CLEAN, result, tuple(rows))
    from rigproof.signal.gap import gap

    missing = gap(graph, starts, ends)
    result["ends_at"] = [graph.nodes[n].key for n in missing.last]
    result["unset"] = [[graph.nodes[a].key, graph.nodes[b].key] for a, b in missing.unset]
    result["fed_from"] = [graph.nodes[n].key for n in missing.heads]
    stuck = _stuck(
        rig,
        graph,
        title,
        missing,
        listener if ends else "",
        private=rig.sources[source].private,
    )
    return Answer(FOUND, result, tuple(stuck))


def viewed(folder: str, wanted: str | None) -> View:
    """The rig in a folder, completed; as it is at one show where one is named."""
    from rigproof.checks.rule import look
    from rigproof.rigfile.load import load

    stated, show = load(Path(folder)), None
    if wanted is not None:
        shows = {show.id: show for show in stated.file.shows}
        show = shows[meant(wanted, {key: show.name for key, show in shows.items()}, "show")]
    return look(stated, show)


def _listeners(rig: Rig) -> dict[str, str]:
    people = {person.id: person.name for person in rig.file.people}
    return {**rig.box_names, **people, "house": "the house"}


def meant(word: str, names: dict[str, str], kind: str) -> str:
    """The identifier a word stands for: itself, or the display name in any case."""
    if word in names:
        return word
    by_name = {name.casefold(): key for key, name in names.items() if name}
    if word.casefold() in by_name:
        return by_name[word.casefold()]
    near = get_close_matches(word.casefold(), [*names, *by_name], n=1)
    if near:
        key = by_name.get(near[0], near[0])
        fix = f'Did you mean "{key}" ({names[key]})?' if names[key] else f'Did you mean "{key}"?'
    else:
        fix = f"This rig has: {', '.join(names)}." if names else f"This rig has no {kind} yet."
    raise CannotRun(Fault(f'no {kind} is called "{word}".', fix))


def _listener_words(rig: Rig, listener: str) -> str:
    if listener == "house":
        return "the house"
    if listener in rig.people:
        return f"the ears of {rig.people[listener].name}"
    return _listeners(rig)[listener]


# Ways


class Step(msgspec.Struct, frozen=True):
    """One hop of a way, for all its lanes at once."""

    box: str  # empty for an ear or the house
    part: str
    keys: tuple[str, ...]
    by: str
    gain_db: tuple[Quantity, ...]
    delay_ms: tuple[Quantity, ...]
    phantom: bool
    past_feeding: bool
    notes: tuple[str, ...]
    clock: str
    needs: tuple[str, ...]

    @property
    def place(self) -> str:
        return f"{self.box}, {self.part}" if self.box else self.part


class Way(msgspec.Struct, frozen=True):
    """Paths that pass the same boxes and banks, as one way of several lanes."""

    begins: str
    steps: tuple[Step, ...]
    gain: Sum
    delay: Sum
    ladder: Ladder  # of the lane that arrives loudest

    def data(self) -> dict[str, Any]:
        steps = [
            {
                "place": step.place,
                "lanes": list(step.keys),
                "by": step.by,
                "gain_db": list(map(float, step.gain_db)),
                "gain_from": _from(step.gain_db),
                "delay_ms": list(map(float, step.delay_ms)),
                "delay_from": _from(step.delay_ms),
                "phantom": step.phantom,
                "notes": list(step.notes),
                "clock": step.clock,
                "needs": list(step.needs),
            }
            for step in self.steps
        ]
        return {
            "begins": self.begins,
            "hops": steps,
            "gain_db": self.gain.data(),
            "delay_ms": self.delay.data(),
            "levels": ladder_data(self.ladder),
        }


class Sum(msgspec.Struct, frozen=True):
    """What the stated figures of a way add up to, how good they are, and where one is missing."""

    low: float
    high: float
    figures: int
    provenance: str
    missing: tuple[str, ...]

    def data(self) -> dict[str, Any]:
        return {
            "low": self.low,
            "high": self.high,
            "from": self.provenance if self.figures else None,
            "missing": list(self.missing),
        }

    def words(self, unit: str, *, signed: bool) -> str:
        if not self.figures:
            text = "no figure is stated"
        else:
            sign = "+" if signed else ""
            spread = sorted({f"{self.low:{sign}.1f}", f"{self.high:{sign}.1f}"}, key=float)
            text = f"{' to '.join(spread)} {unit} from {_FIGURES[self.provenance]}"
        if self.missing:
            text += f"; not stated: {'; '.join(self.missing)}"
        return f"{text}."


_FIGURES = {
    "measured": "measured figures",
    "datasheet": "figures of data sheets",
    "typical": "typical figures",
    "assumed": "assumed figures",
}


def _alike(graph: Graph, paths: Sequence[tuple[Hop, ...]]) -> list[list[tuple[Hop, ...]]]:
    """Paths sorted by what they pass, the shortest first; lanes of one kind go together."""
    from rigproof.signal.words import kin

    found: dict[tuple[object, ...], list[tuple[Hop, ...]]] = {}
    for path in paths:
        passes = tuple((hop.means, kin(graph.nodes[hop.end].key)) for hop in path)
        found.setdefault(passes, []).append(path)
    return list(found.values())


def _way(
    view: View, source: str, members: Sequence[tuple[Hop, ...]], found: Sequence[Ladder]
) -> Way:
    from rigproof.signal.ladder import loudest_way
    from rigproof.signal.words import places

    rig, graph, figures, delays = view.rig, view.graph, view.figures, view.delays
    timed = {
        id(path[place]): delay_ms
        for path in members
        for place, delay_ms in delays.timed(source, path).items()
    }
    settled = {
        id(graph.hops[number])
        for reading in figures.readings.delays.values()
        for number in reading.way.hops[reading.way.plugged :]
    }

    def delay_of(hop: Hop) -> Quantity | None:
        return timed.get(id(hop))

    def gain_of(hop: Hop) -> Quantity | None:
        """What a patch row or the type says; else where the knob is written to stand."""
        if hop.gain_db is not None:
            return hop.gain_db
        return figures.settings.get(graph.nodes[hop.end].key)

    steps = [
        _step(view, [graph.nodes[hop.end] for hop in hops], hops, gain_of, delay_of)
        for hops in zip(*members, strict=True)
    ]
    begins = places(rig, [graph.nodes[path[0].start].key for path in members])
    gain = _sum(
        members,
        steps,
        gain_of,
        lambda hop: graph.nodes[hop.end].kind in _WITH_GAIN,
    )
    delay = _sum(
        members,
        steps,
        delay_of,
        lambda hop: id(hop) not in settled and bool(delays.lacks(hop)),
    )
    return Way(begins, tuple(steps), gain, delay, loudest_way(found))


def _step(
    view: View,
    nodes: Sequence[Node],
    hops: Sequence[Hop],
    gain_of: Callable[[Hop], Quantity | None],
    delay_of: Callable[[Hop], Quantity | None],
) -> Step:
    from rigproof.signal.words import box as box_words
    from rigproof.signal.words import need, place_parts

    rig = view.rig
    first = hops[0]
    keys = tuple(dict.fromkeys(node.key for node in nodes))
    box, part = place_parts(rig, keys)
    notes = [
        word
        for word, holds in (
            ("isolated by transformer", any(hop.isolated for hop in hops)),
            ("polarity turned", any(hop.inverts for hop in hops)),
        )
        if holds
    ]
    return Step(
        box=box,
        part=part,
        keys=keys,
        by=_BY.get(first.means, first.means),
        gain_db=_values(map(gain_of, hops)),
        delay_ms=_values(map(delay_of, hops)),
        phantom=any(hop.phantom for hop in hops),
        past_feeding=nodes[0].kind in {"preamp", "converter", "amplifier", "transformer"},
        notes=tuple(notes),
        clock=box_words(rig, first.clock) if first.clock else "",
        needs=(
            *dict.fromkeys(need(rig, name) for hop in hops for name in hop.needs),
            *(_carriers(view, first.needs[0]) if first.means == "stream" else ()),
        ),
    )


def _carriers(view: View, stream: str) -> Iterator[str]:
    """The boxes and leads that carry a stream; where it has two ways, either is enough."""
    from rigproof.network import passed, stream_ways
    from rigproof.signal.words import need
    from rigproof.wording import listed

    rig = view.rig
    known = next(one for one in rig.file.streams if one.id == stream)
    ways = [
        passed(way, (known.from_.gear, known.to.gear))
        for way in stream_ways(rig, view.cables).get(stream, ())
    ]
    boxes = [[need(rig, name) for name in rig.gear if name in way] for way in ways]
    leads = [[need(rig, one.id) for one in rig.file.leads if one.id in way] for way in ways]
    if len(ways) == 1:
        yield from (*boxes[0], *leads[0])
    elif ways:
        names = (listed(there or wire) for there, wire in zip(boxes, leads, strict=True))
        yield "either " + " or ".join(names)


def _values(figures: Iterator[Quantity | None]) -> tuple[Quantity, ...]:
    """The figures of several lanes, each value once, with the weaker of two origins."""
    from rigproof.rig.quantity import weakest

    found: dict[float, Quantity] = {}
    for figure in figures:
        if figure is not None:
            known = found.get(float(figure), figure)
            found[float(figure)] = figure if weakest(known, figure) == figure.provenance else known
    return tuple(found[value] for value in sorted(found))


def _from(figures: Sequence[Quantity]) -> str | None:
    from rigproof.rig.quantity import weakest

    return weakest(*figures) if figures else None


def _sum(
    members: Sequence[tuple[Hop, ...]],
    steps: Sequence[Step],
    of: Callable[[Hop], Quantity | None],
    expected: Callable[[Hop], bool],
) -> Sum:
    from rigproof.rig.quantity import weakest

    sums = []
    figures: list[Quantity] = []
    for path in members:
        stated = [figure for figure in map(of, path) if figure is not None]
        figures += stated
        sums.append(sum(map(float, stated)))
    missing = [
        step.place
        for step, hops in zip(steps, zip(*members, strict=True), strict=True)
        if any(of(hop) is None and expected(hop) for hop in hops)
    ]
    return Sum(min(sums), max(sums), len(figures), weakest(*figures), tuple(missing))


def _rows(rig: Rig, title: str, ways: Sequence[Way]) -> Iterator[Row | Table]:
    yield Row(title, tone="strong")
    for number, way in enumerate(ways, start=1):
        yield Row()
        if len(ways) > 1:
            yield Row(f"Way {number} of {len(ways)}", tone="strong")
        yield Table(
            ("", "arrives at", "by", "gain dB", "delay ms", "48 V", "clock", "hangs on"),
            tuple(_table(way)),
            wraps=1,
            right=frozenset({0, 3, 4}),
        )
        yield Row(way.gain.words("dB", signed=True), lead="Gain:  ", lead_tone="faint")
        yield Row(way.delay.words("ms", signed=False), lead="Delay: ", lead_tone="faint")
        yield Row()
        yield level_table(rig, way.ladder)
        yield from ladder_rows(rig, way.ladder)
    yield Row(WORTH, tone="faint")


def _drawn(view: View, title: str, ladders: Sequence[Ladder], to: str | None) -> str | None:
    """The picture of the loudest way, where one is asked for: the file that it went to."""
    if to is None:
        return None
    from rigproof.rigfile.write import replace
    from rigproof.showbook.drawings.rungs import level_picture
    from rigproof.signal.ladder import loudest_way

    if Path(to).suffix.lower() != ".svg":
        raise CannotRun(Fault(f"{to} is no drawing.", "Name a file that ends in .svg."))
    made = level_picture(view.rig, loudest_way(ladders), title)
    replace(Path(to), made.svg.encode("utf-8"))
    return to


def _cut(cut: bool) -> Iterator[Row]:
    if cut:
        yield Row()
        yield Row(f"There are more ways; these are the {MOST} shortest.")


def _table(way: Way) -> Iterator[tuple[str, ...]]:
    """A box is named where the signal enters it; its inner places stand below, set in."""
    yield ("0", way.begins, "", "", "", "", "", "")
    box, fed = "", True
    for number, step in enumerate(way.steps, start=1):
        fed = fed and not step.past_feeding  # beyond the preamp, 48 V means nothing to the source
        place = f"  {step.part}" if step.box and step.box == box else step.place
        box = step.box
        yield (
            str(number),
            ", ".join((place, *step.notes)),
            step.by,
            _figure(step.gain_db, "+"),
            _figure(step.delay_ms, ""),
            "passes" if step.phantom and fed else "",
            step.clock,
            ", ".join(need for need in step.needs if need != step.box),
        )


def _figure(values: tuple[Quantity, ...], sign: str) -> str:
    return " to ".join(
        f"{value:{sign}.1f}{mark(value.provenance)}"
        for value in dict.fromkeys((*values[:1], *values[-1:]))
    )


# No way


def _stuck(
    rig: Rig, graph: Graph, title: str, missing: Gap, listener: str, *, private: bool
) -> Iterator[Row]:
    from rigproof.signal.words import place

    yield Row(f"{title}: there is no way.", tone="strong")
    yield Row()
    if missing.last:
        yield Row("The signal gets as far as:")
        for words in _together(rig, graph, missing.last, most=6):
            yield Row(words, indent=2, lead="- ")
    if not listener:
        yield Row("Nothing leads to this listener: no earphones and no wedge are plugged in.")
        yield Row("Give the person ears with a plug, for example ears: {plug: amp.phones.1}.")
        return
    if listener == "house" and private:
        yield Row("It is for the band only, so it should not arrive at the house.")
        return
    if missing.unset:
        yield Row("From there it would arrive if somebody set:")
        for start, end in missing.unset:
            pair = [place(rig, graph.nodes[n].key) for n in (start, end)]
            yield Row(" → ".join(pair), indent=2, lead="- ")
        yield Row("A send in a mix, a slot in a feed or a route says so in the rig file.")
        return
    yield Row("No setting inside a box would carry it on: a lead, a stream or a plug is missing.")
    if missing.heads:
        yield Row("What arrives at this listener begins at:")
        for words in _together(rig, graph, missing.heads, most=6):
            yield Row(words, indent=2, lead="- ")


def _together(rig: Rig, graph: Graph, numbers: Sequence[int], *, most: int) -> Iterator[str]:
    """Places of one bank in one line, and no more lines than a person reads."""
    from rigproof.signal.words import Kin, kin, places

    found: dict[Kin, list[str]] = {}
    for number in numbers:
        key = graph.nodes[number].key
        if ".?" not in key:
            found.setdefault(kin(key), []).append(key)
    for keys in list(found.values())[:most]:
        yield places(rig, keys)
    if len(found) > most:
        yield f"and {len(found) - most} places more"
