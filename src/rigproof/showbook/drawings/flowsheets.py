"""The way of the signal cut into sheets: into the mixer, out to the ears, out to the house.

Every box shows only the sockets that a wire of the drawing ends at. Where a line goes on elsewhere,
the box says on which sheet.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby
from typing import Literal

from rigproof.checks.rule import View
from rigproof.rig.ref import HOUSE
from rigproof.showbook.drawings.onstage import Line, line_of
from rigproof.showbook.drawings.runs import Run, Side, Wiring
from rigproof.showbook.edition import Edition
from rigproof.wording import ranges

# On paper; they follow from the number of rows alone, so a new name moves nothing.
HEAD, PITCH, TAIL = 4.8, 3.0, 1.0
_BETWEEN = 3.6


@dataclass(frozen=True, slots=True)
class Room:
    """What one sheet holds: millimetres of boxes above each other, people, rows of the house.

    `ways_out`: whether ears and house share a sheet where they fit.
    """

    column: float
    listeners: int
    house_rows: int
    ways_out: Literal["apart", "together"] = "apart"


A4 = Room(126.0, 11, 30)
A3 = Room(212.0, 22, 60, "together")


@dataclass(frozen=True, slots=True)
class Row:
    """One place where a wire ends: the socket in our words, and whose signal it is."""

    key: str
    words: str
    whose: str = ""
    lines: tuple[Line, ...] = ()  # of a bracket: several sources on one run
    wired: bool = True  # False: goes on on another sheet
    order: tuple[int, ...] = ()  # where the socket stands on the box


@dataclass(frozen=True, slots=True)
class Node:
    """One box: what is at its left side and at its right."""

    key: str
    title: str
    label: str
    west: tuple[Row, ...]
    east: tuple[Row, ...]

    @property
    def rows(self) -> int:
        return max(sum(len(row.lines) or 1 for row in side) for side in (self.west, self.east))

    @property
    def entered(self) -> bool:
        """Whether a wire of the drawing ends at it."""
        return any(row.wired for row in self.west)

    @property
    def height(self) -> float:
        return HEAD + self.rows * PITCH + TAIL


@dataclass(frozen=True, slots=True)
class Join:
    """A wire between two rows."""

    start: tuple[str, str]
    end: tuple[str, str]
    run: Run


@dataclass(frozen=True, slots=True)
class Sheet:
    title: str
    nodes: tuple[Node, ...]
    joins: tuple[Join, ...]


@dataclass(frozen=True, slots=True)
class _Cut:
    """The runs of one sheet before its boxes are known."""

    title: str
    runs: tuple[Run, ...]


def sheets(view: View, edition: Edition, room: Room = A4) -> tuple[Sheet, ...]:
    """All sheets of a rig, in the order of the signal."""
    cutter = _Cutter(view, view.once(_wiring), edition, room)
    cuts = cutter.cuts
    return tuple(cutter.sheet(cut, cuts) for cut in cuts)


def whole(view: View, edition: Edition) -> Sheet:
    """Everything on one sheet, however large."""
    cutter = _Cutter(view, view.once(_wiring), edition, A4)
    runs = dict.fromkeys(run for cut in cutter.cuts for run in cut.runs)
    cut = _Cut(edition.say("whole-flow.title"), tuple(runs))
    return cutter.sheet(cut, (cut,))


def least_height(sheet: Sheet) -> float:
    """How tall a sheet comes out at least: where it begins, and where it ends, is one column."""
    starts = [node.rows for node in sheet.nodes if not node.entered]
    return _column(starts) - _BETWEEN


def _wiring(view: View) -> Wiring:
    return Wiring(view.rig, view.graph)


@dataclass(frozen=True)
class _Cutter:
    view: View
    wiring: Wiring
    edition: Edition
    room: Room

    @cached_property
    def mixer(self) -> str:
        return self.view.rig.mixer.id if self.view.rig.mixer else ""

    @cached_property
    def mixers(self) -> frozenset[str]:
        """The band's own mixer and any other."""
        kinds = {gear: type_.class_ for gear, type_ in self.view.rig.gear_types.items()}
        return frozenset(gear for gear, kind in kinds.items() if kind == "mixer") | {self.mixer}

    @cached_property
    def cuts(self) -> tuple[_Cut, ...]:
        into, ears, house, _ = self._parts
        return (*self._inputs(into), *self._ways_out(ears, house))

    def _ways_out(self, ears: Sequence[Run], house: Sequence[Run]) -> Iterator[_Cut]:
        say = self.edition.say
        rows = [1] * sum(self._listens(ears, name) for name in self.view.rig.people) + [len(house)]
        both = ears and house and _column(rows) <= self.room.column
        if both and self.room.ways_out == "together":
            yield _Cut(say("signal-flow.out"), (*ears, *house))
            return
        yield from (_Cut(say("signal-flow.to_ears"), runs) for runs in self._ears(ears))
        for first in range(0, len(house), self.room.house_rows):
            some = tuple(house[first : first + self.room.house_rows])
            yield _Cut(say("signal-flow.to_house"), some)

    @cached_property
    def _parts(self) -> tuple[list[Run], list[Run], list[Run], list[Run]]:
        """The runs on the way to the mixer, to the ears, to the house, and the others."""
        graph = self.view.graph
        listeners = [n for n, node in enumerate(graph.nodes) if node.gear in {"ear", "wedge"}]
        to_mixer = self.wiring.upstream_of(graph.of_listener(self.mixer) if self.mixer else ())
        to_ears = self.wiring.upstream_of(listeners)
        to_house = self.wiring.upstream_of(graph.of_listener(HOUSE))
        into: list[Run] = []
        ears: list[Run] = []
        house: list[Run] = []
        others: list[Run] = []
        for run in self._worth_drawing():
            ends = set(run.ends)
            if run.start.box != self.mixer and ends & to_mixer:
                into.append(run)
            elif run.end.box.startswith("person:") or ends & to_ears:
                ears.append(run)
            elif run.end.box == HOUSE or ends & to_house:
                house.append(run)
            elif run.start.box.startswith("source:"):
                into.append(run)  # it leads nowhere, and the drawing is where that is seen
            else:
                others.append(run)
        return into, ears, house, others

    def _worth_drawing(self) -> Iterator[Run]:
        """Of a link that carries nothing one way, only the other way is drawn."""
        bits = self.view.arriving.bits
        carried = {(run.start.box, run.end.box) for run in self.wiring.runs}
        seen: set[tuple[str, str]] = set()
        for run in self.wiring.runs:
            way = run.start.box, run.end.box
            back = way[1], way[0]
            empty = not any(bits[node] for node in run.starts)
            if empty and back in carried and (back in seen or self._full(back)):
                continue
            seen.add(way)
            yield run

    def _full(self, way: tuple[str, str]) -> bool:
        bits = self.view.arriving.bits
        return any(
            bits[node]
            for run in self.wiring.runs
            if (run.start.box, run.end.box) == way
            for node in run.starts
        )

    # ---- pages ------------------------------------------------------------------------------

    def _inputs(self, runs: Sequence[Run]) -> Iterator[_Cut]:
        """Pages by the box that the sources are plugged into, as many as stand in a column."""
        order = {gear: place for place, gear in enumerate(self.view.rig.gear)}
        plugged = [run for run in runs if run.start.box.startswith("source:")]
        count = Counter(run.end.box for run in plugged)
        plugged.sort(
            key=lambda run: (
                -count[run.end.box],  # a box that takes the odd line goes with a page of another
                order.get(run.end.box, -1),
                self._order_of(run.end),
            )
        )
        others = [run for run in runs if not run.start.box.startswith("source:")]
        pages: list[list[Run]] = [[]]
        for entry, group in groupby(plugged, key=lambda run: run.end.box):
            feeding = len({one.start.box for one in others if one.end.box == entry})
            room = self.room.column - feeding * _column([2])
            some = list(group)
            if pages[-1] and self._tall([*pages[-1], *some]) > room:
                pages.append([])
            for run in some:
                if pages[-1] and self._tall([*pages[-1], run]) > room:
                    pages.append([])
                pages[-1].append(run)
        entries = [dict.fromkeys(run.end.box for run in page) for page in pages]
        for number, page in enumerate(pages):
            page += self._onward(others, entries[number])
            last = number == len(pages) - 1
            for run in others:
                if run in page or any(run in other for other in pages[:number]):
                    continue
                if any(run.start.box in boxes for boxes in entries):
                    continue  # drawn with the page of its sources
                first = next((n for n, boxes in enumerate(entries) if run.end.box in boxes), None)
                if first == number or (first is None and last):
                    page.append(run)
            if page:
                names = self.edition.listed(
                    self._title(box) for box in entries[number] if box != self.mixer
                )
                by = names and len(pages) > 1
                key = "signal-flow.into_by" if by else "signal-flow.into"
                yield _Cut(self.edition.say(key, names=names), tuple(page))

    def _tall(self, runs: Iterable[Run]) -> float:
        """The height of the column of the people and sources that these runs start at."""
        rows: dict[str, int] = {}
        for run in runs:
            owner = self._owner_of(run.start)
            rows[owner] = rows.get(owner, 0) + 1
        return _column(rows.values())

    def _onward(self, runs: Sequence[Run], boxes: Iterable[str]) -> list[Run]:
        """The runs that lead on from some boxes as far as the mixer."""
        found: list[Run] = []
        queue = list(boxes)
        for box in queue:  # grows as it goes
            for run in runs:
                if run.start.box == box and run not in found:
                    found.append(run)
                    if run.end.box not in queue and run.end.box != self.mixer:
                        queue.append(run.end.box)
        return found

    def _ears(self, runs: Sequence[Run]) -> Iterator[tuple[Run, ...]]:
        people = [person for person in self.view.rig.people if self._listens(runs, person)]
        for first in range(0, len(people), self.room.listeners):
            some = people[first : first + self.room.listeners]
            nodes = [n for person in some for n in self.view.graph.of_listener(person)]
            up = self.wiring.upstream_of(nodes)
            yield tuple(run for run in runs if up & set(run.ends))

    def _listens(self, runs: Sequence[Run], person: str) -> bool:
        return any(run.end.box == f"person:{person}" for run in runs)

    # ---- boxes ------------------------------------------------------------------------------

    def sheet(self, cut: _Cut, cuts: Sequence[_Cut]) -> Sheet:
        west: dict[str, dict[str, Row]] = {}
        east: dict[str, dict[str, Row]] = {}
        joins: list[Join] = []
        for group in self._bundles(cut.runs):
            run = group[0]
            start, end = self._owner_of(run.start), run.end.box
            row = self._start_row(group)
            into = self._end_row(group)
            east.setdefault(start, {}).setdefault(row.key, row)
            west.setdefault(end, {}).setdefault(into.key, into)
            joins.append(Join((start, row.key), (end, into.key), run))
        for box in list(dict.fromkeys([*east, *west])):
            if box == HOUSE:
                continue  # it goes without saying that the house has the rest
            for side, rows in (
                (west, self._from(box, cut, cuts)),
                (east, self._to(box, cut, cuts)),
            ):
                for row in rows:
                    side.setdefault(box, {}).setdefault(row.key, row)
        boxes = dict.fromkeys([*east, *west])
        nodes = [
            self._node(box, tuple(west.get(box, {}).values()), tuple(east.get(box, {}).values()))
            for box in boxes
        ]
        return Sheet(cut.title, tuple(nodes), tuple(joins))

    def _bundles(self, runs: Sequence[Run]) -> Iterator[tuple[Run, ...]]:
        """Sources of one player on neighbouring sockets are one run."""
        kept: list[Run] = []
        for run in runs:
            if kept and not self._beside(kept[-1], run):
                yield tuple(kept)
                kept = []
            kept.append(run)
        if kept:
            yield tuple(kept)

    def _beside(self, one: Run, other: Run) -> bool:
        return (
            one.start.box.startswith("source:")
            and other.start.box.startswith("source:")
            and self._owner_of(one.start) == self._owner_of(other.start)
            and (one.end.box, one.end.bank) == (other.end.box, other.end.bank)
            and other.end.numbers[:1] == (one.end.numbers[-1] + 1,)
        )

    def _owner_of(self, side: Side) -> str:
        if not side.box.startswith("source:"):
            return side.box
        source = self.view.rig.sources[side.box.partition(":")[2]]
        return f"player:{source.player}" if source.player else side.box

    def _start_row(self, group: Sequence[Run]) -> Row:
        run = group[0]
        if run.start.box.startswith("source:"):
            names = [one.start.box.partition(":")[2] for one in group]
            lines = tuple(line_of(self.view.rig, self.view.rig.sources[name]) for name in names)
            return Row(f"from {run.start.box}", "", lines=lines)
        sources = [self.wiring.sources_at[n] for n in run.starts if n in self.wiring.sources_at]
        whose = self._source_words(tuple(dict.fromkeys(sources)))
        if run.start.box in self.mixers:
            whose = self._mixed(run) or whose
        words = run.start.words
        if run.isolated:
            words = self.edition.say("signal-flow.isolated", words=words)
        elif run.kind != "analogue" and run.kind not in words:
            kind = self.edition.say(f"signal-flow.{run.kind}")
            words = self.edition.say("signal-flow.kind", words=words, kind=kind)
        key = f"{run.start.words} {run.kind}"
        return Row(key, words, whose, order=self._order_of(run.start))

    def _end_row(self, group: Sequence[Run]) -> Row:
        first = group[0].end
        numbers = tuple(sorted({number for run in group for number in run.end.numbers}))
        side = replace(first, numbers=numbers)
        whose = ""
        if first.box in self.mixers:
            ends = [node for run in group for node in run.ends]
            channels = self.wiring.channels(ends, first.box)
            whose = self._channels(channels)
        key = f"{side.words} {group[0].start.box}"
        return Row(key, self._words(side), whose, order=self._order_of(side))

    def _words(self, side: Side) -> str:
        if side.bank in {"ears", "wedge"} and side.box.startswith("person:"):
            return self.edition.say(f"signal-flow.{side.bank}")
        return side.words

    def _order_of(self, side: Side) -> tuple[int, ...]:
        """The place of a socket on its box: that of its bank, then its number."""
        gear = self.view.rig.gear.get(side.box)
        ports = self.view.rig.types[gear.type].ports if gear else ()
        names = [(port.name or port.id).replace("-", " ") for port in ports]
        bank = names.index(side.bank) if side.bank in names else len(names)
        return bank, *side.numbers[:1]

    def _source_words(self, names: Sequence[str]) -> str:
        sources = [self.view.rig.sources[name] for name in names]
        words = self.edition.listed(source.label or source.name for source in sources)
        private = bool(sources) and all(source.private for source in sources)
        return self.edition.say("signal-flow.words_private", words=words) if private else words

    def _channels(self, channels: Sequence[int]) -> str:
        numbers = ranges(channels)
        return self.edition.say("signal-flow.channels", numbers=numbers) if channels else ""

    def _mixed(self, run: Run) -> str:
        """What leaves the mixer here: mixes by name, a feed, or channels as they are."""
        names = self._mix_names(run)
        if names:
            return self.edition.listed(names)
        for feed in self.view.rig.file.feeds:
            if (feed.port.gear, feed.port.bank.replace("-", " ")) == (
                run.start.box,
                run.start.bank,
            ):
                return feed.name or feed.id
        return self._channels(self.wiring.channels_out(run.starts, run.start.box))

    def _mix_names(self, run: Run) -> tuple[str, ...]:
        buses = self.wiring.buses(run.starts, run.start.box)
        first_bank = next(iter(bank for bank, _ in buses), "")
        found: dict[str, None] = {}
        for mix in self.view.rig.file.mixes:
            wanted = {(mix.bank or "bus", number) for number in mix.bus or ()}
            wanted |= {(mix.bank or first_bank, number) for number in mix.bus or ()}
            if (mix.on or self.mixer) == run.start.box and wanted & set(buses):
                found.setdefault(mix.label or mix.name or mix.id)
        return tuple(found)

    def _from(self, box: str, cut: _Cut, cuts: Sequence[_Cut]) -> Iterator[Row]:
        """What arrives at a box on other sheets, and what is plugged there beside the sound."""
        for bank, numbers, pages in _elsewhere(box, cut, cuts, incoming=True):
            words = f"{bank} {ranges(numbers)}".strip()
            yield Row(f"from {words}", f"{words} ← {ranges(pages)}", wired=False)
        for run in self._parts[3]:
            if run.end.box == box:
                words = f"{run.end.words} ← {self._title(run.start.box)}"
                yield Row(f"by {run.end.words}", words, wired=False)

    def _to(self, box: str, cut: _Cut, cuts: Sequence[_Cut]) -> Iterator[Row]:
        for bank, numbers, pages in _elsewhere(box, cut, cuts, incoming=False):
            words = f"{bank} {ranges(numbers)}".strip()
            yield Row(f"to {words}", f"{words} → {ranges(pages)}", wired=False)
        for run in self._parts[3]:
            if run.start.box == box:
                words = f"{run.start.words} → {self._title(run.end.box)}"
                yield Row(f"for {run.start.words}", words, wired=False)

    def _title(self, key: str) -> str:
        kind, _, name = key.rpartition(":")
        rig = self.view.rig
        if key == HOUSE:
            return self.edition.say("signal-flow.the_house")
        if kind == "source":
            return rig.sources[name].name
        if kind in {"player", "person"}:
            person = rig.people.get(name)
            return (person.name or name) if person else name
        return rig.box_names[key]

    def _node(self, key: str, west: tuple[Row, ...], east: tuple[Row, ...]) -> Node:
        gear = self.view.rig.gear.get(key)
        label = gear.label if gear else ""
        return Node(key, self._title(key), label, _in_order(west), _in_order(east))


def _in_order(rows: Iterable[Row]) -> tuple[Row, ...]:
    """Wired rows first, in the order of the sockets."""
    return tuple(sorted(rows, key=lambda row: (not row.wired, row.order)))


def _column(rows: Iterable[int]) -> float:
    return sum(HEAD + count * PITCH + TAIL + _BETWEEN for count in rows)


def _elsewhere(
    box: str, cut: _Cut, cuts: Sequence[_Cut], *, incoming: bool
) -> list[tuple[str, tuple[int, ...], tuple[int, ...]]]:
    """Bank, numbers and sheets of the runs that end (or start) at a box on other sheets only."""
    here = set(cut.runs)
    banks: dict[str, tuple[set[int], set[int]]] = {}
    for page, other in enumerate(cuts, start=1):
        if other is cut:
            continue
        for run in other.runs:
            side = run.end if incoming else run.start
            if side.box != box or run in here:
                continue
            numbers, pages = banks.setdefault(side.bank, (set(), set()))
            numbers.update(side.numbers)
            pages.add(page)
    return [
        (bank, tuple(sorted(numbers)), tuple(sorted(pages)))
        for bank, (numbers, pages) in banks.items()
    ]
