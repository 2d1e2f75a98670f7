"""The level ladder of one way of a signal: what stands at each place, rung by rung.

At every place: the level and its peak, what the place bears, the room between, the noise that this
way has gathered and whose it is. Every rung follows from the one before by figures that are kept
with it, so that a pencil can do the sum again. Likely errors add as a root sum of squares.
"""

from collections.abc import Mapping, Sequence

import msgspec

from rigproof.physics.levels import headroom_db, power_sum_db, ratio_db, voltage_ratio
from rigproof.physics.noise import snr_db
from rigproof.rig.quantity import Provenance, Quantity, weakest
from rigproof.signal.figures import NOTHING, Noise, Step, Unit
from rigproof.signal.graph import Hop
from rigproof.signal.levels import Levels
from rigproof.signal.lines import named
from rigproof.signal.peaks import crest_of
from rigproof.signal.readings import LevelReading, Readings
from rigproof.wording.sentences import sentence

_MEETING = frozenset({"bus", "sum", "ear"})  # where several sources come together


class Told(msgspec.Struct, frozen=True):
    """A level with how far off it may likely be and how good its figures are."""

    value_db: float
    off_db: float
    provenance: Provenance

    @property
    def low_db(self) -> float:
        return self.value_db - self.off_db

    @property
    def high_db(self) -> float:
        return self.value_db + self.off_db


class Gathered(msgspec.Struct, frozen=True):
    """One noise as it stands further on, and its share of all that this way has gathered."""

    noise: Noise
    place: str
    level_db: float
    share_ratio: float


class Rung(msgspec.Struct, frozen=True):
    """One place of a way. `None` where a figure is missing; `missing` says which.

    `together_db`: at a bus or a sum, and at the ear, the level of everything that meets there.
    """

    node: int
    place: str
    unit: Unit
    step: Step
    level: Told | None
    peak_db: float | None
    clip: Quantity | None
    headroom_db: float | None
    noise: Told | None
    gathered: tuple[Gathered, ...]
    snr_db: float | None
    together_db: float | None
    missing: tuple[str, ...]


class Ladder(msgspec.Struct, frozen=True):
    """A way from a source, rung by rung."""

    source: str
    crest_db: float
    rungs: tuple[Rung, ...]

    @property
    def first_to_clip(self) -> Rung | None:
        """The place with the least room: it clips first when the source gets louder."""
        told = [rung for rung in self.rungs if rung.headroom_db is not None]
        return min(told, key=lambda rung: rung.headroom_db or 0.0, default=None)

    @property
    def missing(self) -> tuple[str, ...]:
        """What would have to be known to tell everything, in the order of the way."""
        return tuple(dict.fromkeys(name for rung in self.rungs for name in rung.missing))


def ladder(levels: Levels, path: Sequence[Hop]) -> Ladder:
    """The ladder of one way of a source; the way begins at the source itself."""
    return ladders(levels, [path])[0]


def ladders(levels: Levels, paths: Sequence[Sequence[Hop]]) -> tuple[Ladder, ...]:
    """The ladders of several ways, with one look at what meets on them."""
    nodes = levels.graph.nodes
    meeting = {hop.end: None for path in paths for hop in path if nodes[hop.end].kind in _MEETING}
    together = levels.together_db(tuple(meeting))
    return tuple(_ladder(levels, path, together) for path in paths)


def _ladder(levels: Levels, path: Sequence[Hop], together: Mapping[int, float]) -> Ladder:
    graph, figures = levels.graph, levels.figures
    source = levels.rig.sources[named(graph.nodes[path[0].start])]
    level_dbu = figures.source_dbu(source)
    reading = figures.readings.levels.get(source.id)
    level = None
    if level_dbu is not None:
        worth = level_dbu.provenance
        if reading is not None:
            worth = figures.readings.worth_at_source(reading)[1]
        level = Told(level_dbu, figures.source_off_db(source), worth)
    crest_db = crest_of(source)
    gains = {one.way.node: one for one in figures.readings.gains.values()}
    nodes = (path[0].start, *(hop.end for hop in path))
    carried = _Carried()
    rungs: list[Rung] = []
    for number, node in enumerate(nodes):
        step = figures.step_of(path[number - 1]) if number else NOTHING
        missing = [*step.missing, *step.left_out]
        if not number and level is None:
            missing.append(sentence("the level of {source}", source=source.name))
        level = _further(level, step)
        if reading is not None:
            level = _as_read(figures.readings, reading, node, level)
        elif level is not None and number and (gain := gains.get(node)) is not None:
            level = Told(level.value_db, *figures.readings.worth_behind(gain))
        carried.step(step)
        for noise in figures.noises_at(node):
            carried.add(noise, graph.nodes[node].key)
        if node in figures.readings.settled:
            carried.settle(figures.readings.settled[node])
        unstated = figures.unstated_noise(node)
        if unstated:
            missing.append(unstated)
        rungs.append(
            _rung(levels, node, step, level, crest_db, carried, together.get(node), missing)
        )
    return Ladder(source.id, crest_db, tuple(rungs))


def _further(level: Told | None, step: Step) -> Told | None:
    """A level behind one more hop; unknown from the first missing figure on."""
    if level is None or step.missing:
        return None
    provenance = weakest(Quantity(0, level.provenance), *(part.figure for part in step.parts))
    off_db = (level.off_db**2 + step.off_db**2) ** 0.5
    return Told(level.value_db + step.gain_db, off_db, provenance)


def _as_read(
    readings: Readings, reading: LevelReading, node: int, level: Told | None
) -> Told | None:
    """What a level is worth where it was measured, or before that place."""
    if level is None:
        return None
    if node in reading.nodes:
        return Told(level.value_db, reading.off_db, "measured")
    worth = readings.worth_before(reading, node)
    return level if worth is None else Told(level.value_db, *worth)


def _rung(
    levels: Levels,
    node: int,
    step: Step,
    level: Told | None,
    crest_db: float,
    carried: "_Carried",
    together_db: float | None,
    missing: Sequence[str],
) -> Rung:
    figures = levels.figures
    clip = figures.clip_db(node)
    noise = carried.told()
    room = None
    if level is not None and clip is not None:
        room = headroom_db(level_dbu=level.value_db, crest_db=crest_db, clip_dbu=float(clip))
    snr = None
    if level is not None and noise is not None:
        snr = snr_db(signal_dbu=level.value_db, noise_dbu=noise.value_db)
    return Rung(
        node=node,
        place=levels.graph.nodes[node].key,
        unit=figures.unit(node),
        step=step,
        level=level,
        peak_db=None if level is None else level.value_db + crest_db,
        clip=clip,
        headroom_db=room,
        noise=noise,
        gathered=carried.shares(),
        snr_db=snr,
        together_db=together_db,
        missing=tuple(missing),
    )


class _Carried:
    """The noises that a way has gathered so far, each with the errors of the hops behind it."""

    def __init__(self) -> None:
        self.noises: list[tuple[Noise, str, float]] = []
        self.steps: list[tuple[int, Step]] = []  # with how many noises lay before it
        self.settled = 0, 0.0  # how many noises were measured together, and how far off they are

    def step(self, step: Step) -> None:
        """One hop further; behind a missing figure nobody can say what is left of them."""
        if step.missing:
            self.noises, self.steps, self.settled = [], [], (0, 0.0)
            return
        self.noises = [(n, place, level + step.gain_db) for n, place, level in self.noises]
        if step.off_db:
            self.steps.append((len(self.noises), step))

    def add(self, noise: Noise, place: str) -> None:
        self.noises.append((noise, place, noise.level_db))

    def settle(self, off_db: float) -> None:
        """The noise so far was measured here: from here on it is known so well."""
        self.steps = []
        self.settled = len(self.noises), off_db

    def total_db(self) -> float | None:
        return power_sum_db([level for _, _, level in self.noises]) if self.noises else None

    def shares(self) -> tuple[Gathered, ...]:
        total_db = self.total_db()
        if total_db is None:
            return ()
        found = [
            Gathered(noise, place, level, 10 ** ((level - total_db) / 10))
            for noise, place, level in self.noises
        ]
        return tuple(sorted(found, key=lambda g: (-g.share_ratio, g.place)))

    def told(self) -> Told | None:
        """The sum; each figure's error counts by the share of the noise that it touches."""
        total_db = self.total_db()
        if total_db is None:
            return None
        shares = [10 ** ((level - total_db) / 10) for _, _, level in self.noises]
        known, known_off_db = self.settled
        squares = (sum(shares[:known]) * known_off_db) ** 2 + sum(
            (share * noise.off_db) ** 2
            for share, (noise, _, _) in zip(shares[known:], self.noises[known:], strict=True)
        )
        squares += sum((sum(shares[:before]) * step.off_db) ** 2 for before, step in self.steps)
        figures = [noise.figure for noise, _, _ in self.noises]
        figures += [part.figure for _, step in self.steps for part in step.parts]
        return Told(total_db, squares**0.5, weakest(*figures))


def in_step_db(ways: Sequence[Ladder]) -> float | None:
    """The level that several ways of one source make together at their end, in phase."""
    last = [way.rungs[-1].level for way in ways]
    ratios = [voltage_ratio(told.value_db) for told in last if told is not None]
    return ratio_db(sum(ratios)) if ratios else None


def loudest_way(ways: Sequence[Ladder]) -> Ladder:
    """Of several ways, the one that arrives loudest; the first of those that cannot be told."""
    return max(ways, key=lambda way: _last_db(way))


def _last_db(way: Ladder) -> float:
    told = way.rungs[-1].level
    return told.value_db if told is not None else -1e9
