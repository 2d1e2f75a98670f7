"""What is expected on each channel: from a rig, from a plain list, or by number alone."""

import csv
from collections.abc import Iterator, Mapping, Sequence
from io import StringIO

import msgspec

from rigproof.rig import Rig
from rigproof.rig.lanes import sockets
from rigproof.signal import Graph, words
from rigproof.signal.chains import Chains
from rigproof.signal.delay import Delays
from rigproof.signal.figures import Figures
from rigproof.wording.phrases import Language, phrase

MOST_CHANNELS = 256


class Refused(Exception):
    """Something that cannot be read or measured: what it is, and what to do."""

    def __init__(self, says: str, fix: str) -> None:
        super().__init__(says)
        self.says = says
        self.fix = fix


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """One channel of the band's mixer and what belongs on it.

    `plug`: where it is plugged, in words; `socket`: the same as a rig file writes it; `box`: the
    box of that socket. `pair`: the channel of the other side of a stereo pair. The planned figures
    are from the plug to the channel; None where the rig does not tell them.
    """

    number: int
    name: str
    source: str = ""
    socket: str = ""
    family: str = ""
    plug: str = ""
    box: str = ""
    pair: int | None = None
    upright: bool = True
    gain_db: float | None = None
    gain_off_db: float = 0.0
    delay_ms: float | None = None

    @property
    def known(self) -> bool:
        """Whether something is expected here."""
        return bool(self.source or self.name)

    @property
    def box_name(self) -> str:
        """The box of its socket in words."""
        return self.plug.rpartition(",")[0] or self.plug


Lineup = Mapping[int, Line]


class End(msgspec.Struct, frozen=True, kw_only=True):
    """An end of our lines at the house that is plugged there, by the number that it wears.

    `entry`: the house's input that it belongs in. `channel`: of its source on the band's mixer,
    which is where the test signal for it plays. `sent_from`: the socket that it leaves us by.
    """

    number: int
    entry: int
    channel: int | None
    source: str
    lane: int
    name: str
    sent_from: str
    carrier: str = ""
    digital: bool = False


Ends = Mapping[int, End]


def numbered(channels: int) -> Lineup:
    """As many channels as there are, each its own, nothing known of them."""
    return {n: Line(number=n, name="") for n in range(1, channels + 1)}


def of_rig(rig: Rig, graph: Graph, figures: Figures, language: Language = "en") -> Lineup:
    """The channels of the band's mixer, with what the plan makes of each on its way there."""
    reader = _Reader(rig, graph, figures, language)
    return {line.number: line for line in reader.lines()}


def of_ends(
    rig: Rig, graph: Graph, figures: Figures, ends: Ends, language: Language = "en"
) -> Lineup:
    """What is expected at the house end of each line, with what the plan makes of it up to there.

    The house's own input is not in the plan. Where most ends are analogue the plan of a digital
    one tells nothing beside them, and the other way round.
    """
    reader = _Reader(rig, graph, figures, language)
    digital = 2 * sum(end.digital for end in ends.values()) > len(ends)
    return {
        number: reader.end(end, apart=end.digital is not digital)
        for number, end in sorted(ends.items())
        if end.channel is not None
    }


class _Reader:
    def __init__(self, rig: Rig, graph: Graph, figures: Figures, language: Language) -> None:
        self.language: Language = language
        self.rig, self.graph, self.figures = rig, graph, figures
        self.chains = Chains(graph)
        self.delays = Delays(graph, rig, self.chains, figures)
        mixer = rig.mixer
        self.mixer = mixer.id if mixer else ""
        bank = next(rig.type_of(self.mixer).stages("channel"), None) if mixer else None
        self.bank = bank.id if bank else ""

    def lines(self) -> Iterator[Line]:
        for row in self.rig.file.patch:
            if row.channel is None:
                continue
            source = self.rig.sources[row.source]
            plugs = sockets(self.rig.gear_types, row.plug, row.where) if row.plug else ()
            numbers = tuple(row.channel)[: source.lanes]
            for lane, number in enumerate(numbers):
                plug = plugs[lane].key if lane < len(plugs) else ""
                pair = next((other for other in numbers if other != number), None)
                node = self.graph.index.get(f"{self.mixer}.{self.bank}.{number}")
                gain_db, off_db, delay_ms, upright = self._way(source.id, node, plug)
                yield Line(
                    number=number,
                    name=source.lane_names[lane],
                    source=source.id,
                    family=source.family,
                    socket=plug,
                    plug=words.place(self.rig, plug, self.language) if plug else "",
                    box=plugs[lane].gear if lane < len(plugs) else "",
                    pair=pair,
                    upright=upright,
                    gain_db=gain_db,
                    gain_off_db=off_db,
                    delay_ms=delay_ms,
                )

    def end(self, end: End, *, apart: bool) -> Line:
        """The plan of one end."""
        row = self.rig.rows.get(end.source)
        plugs = sockets(self.rig.gear_types, row.plug, row.where) if row and row.plug else ()
        plug = plugs[end.lane].key if end.lane < len(plugs) else ""
        gain_db, off_db, delay_ms, upright = self._way(
            end.source, self.graph.index.get(end.sent_from), plug
        )
        return Line(
            number=end.number,
            name=end.name,
            source=end.source,
            family=self.rig.sources[end.source].family,
            plug=phrase(self.language, "tails.entry_short", number=end.entry),
            box=end.carrier,
            upright=upright,
            gain_db=None if apart else gain_db,
            gain_off_db=off_db,
            delay_ms=None if apart else delay_ms,
        )

    def _way(
        self, source: str, node: int | None, plug: str
    ) -> tuple[float | None, float, float | None, bool]:
        """What the plan does to a signal from its plug to a place, by the one way there is.

        Derived: gains and delays in a row add; likely errors as a root sum of squares.
        """
        if node is None or self.chains.head[node] < 0:
            return None, 0.0, None, True
        gain_db: float | None = 0.0
        delay_ms: float | None = 0.0
        square, upright = 0.0, True
        for place in self.chains.trail(node):
            entering = self.chains.step_to(place)
            if self.graph.nodes[place].key == plug or entering is None:
                break
            hop = self.graph.hops[entering]
            step = self.figures.stated_step(entering)  # the plan is what was drawn
            gain_db = None if gain_db is None or step.missing else gain_db + step.gain_db
            square += step.off_db**2
            stated = self.delays.stated(source, hop)
            if stated is not None and delay_ms is not None:
                delay_ms += float(stated)
            elif self.delays.lacks(hop):
                delay_ms = None
            upright ^= hop.inverts
        return gain_db, square**0.5, delay_ms, upright


# The headings of a plain list, as people write them; the first is ours.
_HEADINGS: Mapping[str, Sequence[str]] = {
    "number": ("number", "channel", "ch", "no", "nr", "nummer", "kanal", "#"),
    "name": ("name", "source", "instrument", "quelle", "label"),
    "pair": ("pair", "stereo", "paar"),
    "family": ("family", "group", "familie", "gruppe"),
}


def of_list(text: str, *, name: str) -> Lineup:
    """A list of channels as comma- or semicolon-separated text: number, name, pair, family.

    `pair` holds the number of the other side. Only the number is needed.

    Raises:
        Refused: no such list, with the line.
    """
    rows = [row for row in _rows(text) if any(cell.strip() for cell in row)]
    if not rows:
        raise Refused(f"{name} is empty.", "Write a line for each channel: number, name.")
    heads = {_heading(cell): place for place, cell in enumerate(rows[0]) if _heading(cell)}
    body = rows[1:] if "number" in heads else rows
    if "number" not in heads:
        heads = {"number": 0, "name": 1, "pair": 2, "family": 3}
    found: dict[int, Line] = {}
    for place, row in enumerate(body, 1 + len(rows) - len(body)):
        cells = {key: row[at].strip() for key, at in heads.items() if at < len(row)}
        number = _number(cells.get("number", ""), name, place)
        if number in found:
            raise Refused(
                f"{name}, line {place}: channel {number} stands there twice.",
                "Give each channel one line.",
            )
        pair = cells.get("pair", "")
        found[number] = Line(
            number=number,
            name=cells.get("name", ""),
            family=cells.get("family", ""),
            pair=_number(pair, name, place) if pair else None,
        )
    return found


def _rows(text: str) -> list[list[str]]:
    first = text.lstrip("\ufeff").partition("\n")[0]
    mark = max(",;\t", key=first.count)
    return list(csv.reader(StringIO(text.lstrip("\ufeff")), delimiter=mark))


def _heading(cell: str) -> str:
    said = cell.strip().lower().rstrip(".")
    return next((key for key, words_ in _HEADINGS.items() if said in words_), "")


def _number(text: str, name: str, line: int) -> int:
    if text.isascii() and text.isdigit() and 1 <= int(text[:6]) <= MOST_CHANNELS:
        return int(text)
    raise Refused(
        f'{name}, line {line}: "{text[:40]}" is no channel.',
        f"A channel is a whole number from 1 to {MOST_CHANNELS}.",
    )
