"""Where every gain should stand: the least hiss at the ears, with room for the peaks.

What is kept. The balance: how loud each source is in a mix beside the others is what somebody
chose, so what a preamp gains its channel's trim gives back. And the level: each person's sources
together reach one stated level at the ear, by default 85 dB SPL.

Why this plan is the best, not only a good one. Cut each way from a source to an ear at its knobs
and call P(k) the sum of all gains up to and with knob k. At the ear the signal is fixed, so noise
that enters behind knob k and before the next arrives at (its own level) + (the ear's level) -
P(k) - (the source's level): it falls dB for dB as P(k) rises, and depends on nothing else. Noise
before the first knob or behind the last one stays as it is. So a plan whose every P(k) is at
least that of another has at most its hiss, in every ear at once. Now all wishes are of three kinds:
P(k) <= headroom there; low <= P(k) - P(the knob before) <= high; P(last) = what the level asks
for. Of two plans that fulfil such wishes, the one that takes the larger P at each knob fulfils
them too: if P(k) comes from the first plan, its difference to the knob before is at most the first
plan's, and at least low for the same reason turned round. So one plan is largest everywhere, and
it has the least hiss in each ear. (How high all trims stand together is such a sum too; it adds
no noise, so it is moved only where it stands in another one's way.) The plan is found by first
asking, from the ears back, how large each P may be so that all behind it can still be met, and
then, from the sources on, going as high as that and the knob's own stop allow: gain as early as
headroom allows. Each knob lies on a grid of the same step, which changes nothing in this argument.

What is taken for granted. Knobs behind the mixing form a tree (where two of them meet in one
place, the plan is still held to its wishes afterwards, but may not be the best); noise stated for
an input is the same at all its gains; a channel, a bus and a trim add none.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import ceil, floor

import msgspec

from rigproof.rig import Rig
from rigproof.rig.quantity import Provenance
from rigproof.signal import words
from rigproof.signal.graph import planned
from rigproof.signal.knobs import Knob, KnobKind, Knobs, knob_name, knobs
from rigproof.signal.knobtree import KnobTree
from rigproof.signal.levels import Levels
from rigproof.signal.peaks import Peaks
from rigproof.signal.sums import EarSum
from rigproof.signal.turning import levelled, with_turned
from rigproof.signal.unmet import Unmet, has_no_room, is_too_loud, is_too_soft, keeps_no_headroom
from rigproof.wording.sentences import sentence

_EPSILON_DB = 1e-6  # so that a figure on the grid is not taken for one just below it
TRIM_STEP_DB = 0.1


class Wish(msgspec.Struct, frozen=True, kw_only=True):
    """What the plan must keep. Defaults: common practice, no source.

    `headroom_db` over the peaks of each source up to its converter; `mix_headroom_db` over the
    peaks of a mix, which are summed as if all played at once.
    """

    headroom_db: float = 12.0
    mix_headroom_db: float = 3.0
    level_spl: float = 85.0
    step_db: float = 1.0


class KnobPlan(msgspec.Struct, frozen=True, kw_only=True):
    """Where one knob stands, should stand and can. `present_db` None: nobody has said."""

    kind: KnobKind
    at: str
    called: str
    present_db: float | None
    present_from: Provenance
    written: bool
    planned_db: float
    because: str
    low_db: float
    high_db: float
    source: str = ""
    people: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        return knob_name(self.kind, self.called)

    @property
    def moves(self) -> bool:
        return self.present_db is None or abs(self.present_db - self.planned_db) > _EPSILON_DB

    @property
    def tape(self) -> str:
        """What to write beside the knob. No type states the law of a pot, so no clock position."""
        return f"{self.name}: {self.planned_db:+.1f} dB".replace(".0 dB", " dB")


class Tight(msgspec.Struct, frozen=True):
    """The place on the ways to an ear that clips first, and the room its peaks have there."""

    at: str
    room_db: float


class EarPlan(msgspec.Struct, frozen=True, kw_only=True):
    """One pair of ears before and after.

    Hiss is compared at the same loudness: `hiss_level_dba` is that of the present settings with
    the last knob alone turned to the level the plan reaches.
    """

    person: str
    target_spl: float
    level_before_spl: float | None
    level_after_spl: float | None
    hiss_before_dba: float | None
    hiss_level_dba: float | None
    hiss_after_dba: float | None
    hiss_off_db: float
    first_clip_before: Tight | None
    first_clip_after: Tight | None
    hiss_from: tuple[str, ...]
    missing: tuple[str, ...]

    @property
    def gain_db(self) -> float | None:
        """By how much the plan hisses less at the same loudness."""
        if self.hiss_level_dba is None or self.hiss_after_dba is None:
            return None
        return self.hiss_level_dba - self.hiss_after_dba


class GainPlan(msgspec.Struct, frozen=True, kw_only=True):
    """The plan, what it does at each ear, what cannot be had, and what could not be judged."""

    wish: Wish
    knobs: tuple[KnobPlan, ...]
    ears: tuple[EarPlan, ...]
    unmet: tuple[Unmet, ...]
    missing: tuple[str, ...]
    assumed: tuple[str, ...]  # boxes with sends that nobody wrote down, taken to stand at 0 dB
    rig: Rig  # the completed rig with every knob as planned

    @property
    def moves(self) -> tuple[KnobPlan, ...]:
        """The knobs to turn."""
        return tuple(knob for knob in self.knobs if knob.moves)


class NoPlan(msgspec.Struct, frozen=True):
    """Nothing can be planned, and why."""

    because: str
    fix: str


class _Set(msgspec.Struct, frozen=True):
    """A knob with its new gain and the reason."""

    knob: Knob
    gain_db: float
    because: str


def plan_gains(levels: Levels, wish: Wish | None = None) -> GainPlan | NoPlan:
    """The settings with the least hiss at every ear that keep the wished headroom and level.

    `levels`: the figures of a completed rig (those a `View` has). Exact; the module says why.
    """
    return _Planner(levels, wish or Wish()).plan()


class _Planner:
    def __init__(self, levels: Levels, wish: Wish) -> None:
        self.rig = levels.rig
        self.wish = wish
        self.graph = levels.graph
        self.now = levels
        self.knobs: Knobs = knobs(levels.rig, levels.graph, levels.figures)
        self.unmet: list[Unmet] = []
        self.missing: list[str] = []
        self.before_mixing = self.graph.feeding(
            [n for n, node in enumerate(self.graph.nodes) if node.kind in {"channel", "preamp"}]
        )

    def plan(self) -> GainPlan | NoPlan:
        """All three stages, then the whole judged once more with every knob where it is planned."""
        if not self.now.sums.ears:
            return NoPlan(
                sentence("nobody's earphones are plugged in."),
                sentence("Give a person ears with a plug, for example ears: {plug: amp.phones.1}."),
            )
        if not (self.knobs.preamps or self.knobs.behind):
            return NoPlan(
                sentence("no box on the ways to the ears has a gain that can be turned."),
                sentence("A gear type states one with gain_min_db and gain_max_db."),
            )
        preamps = self.preamps()
        sets = [*preamps, *self.trims_and_behind(preamps)]
        after = self.with_(sets)
        self.judge(after)
        return GainPlan(
            wish=self.wish,
            knobs=tuple(self.knob_plan(s) for s in sets),
            ears=tuple(self.ear_plans(after)),
            unmet=tuple(self.unmet),
            missing=tuple(dict.fromkeys(self.missing)),
            assumed=self.assumed(),
            rig=after.rig,
        )

    def with_(self, sets: Iterable[_Set]) -> Levels:
        """The figures with some knobs turned."""
        return with_turned(self.now, {s.knob.key: (s.knob, s.gain_db) for s in sets})

    def assumed(self) -> tuple[str, ...]:
        """The boxes on the ways to the ears in which somebody turns what the file leaves open."""
        graph = self.graph
        heard = graph.feeding([n for p in self.rig.people for n in graph.of_listener(p)])
        boxes = dict.fromkeys(
            graph.nodes[hop.end].gear
            for hop in graph.hops
            if hop.means == "send" and hop.gain_db is None and planned(hop) and hop.end in heard
            if graph.nodes[hop.end].kind == "sum"
        )
        return tuple(words.box(self.rig, gear) for gear in boxes)

    def knob_plan(self, set_: _Set) -> KnobPlan:
        knob, present = set_.knob, set_.knob.present_db
        return KnobPlan(
            kind=knob.kind,
            at=knob.at,
            called=knob.called,
            present_db=None if present is None else float(present),
            present_from="assumed" if present is None else present.provenance,
            written=knob.written,
            planned_db=set_.gain_db,
            because=set_.because,
            low_db=knob.low_db,
            high_db=knob.high_db,
            source=knob.source,
            people=knob.people,
        )

    # Before the mixing: each source by itself

    def preamps(self) -> list[_Set]:
        """Every preamp as high as its source's peaks allow up to the converter.

        Nobody else hears a preamp's gain: each one's best is found by itself.
        """
        at_zero = {
            k.key: (k, k.low_db if k.present_db is None else float(k.present_db))
            for k in self.knobs.preamps
        }
        peaks = with_turned(self.now, at_zero).peaks
        found: list[_Set] = []
        for knob in self.knobs.preamps:
            tight = self.tightest_behind(peaks, knob)
            if tight is None:
                found += self.kept_preamp(knob, peaks)
                continue
            at, room = tight
            most = at_zero[knob.key][1] + room - self.wish.headroom_db
            low, high = self.on_grid(knob)
            gain = min(max(self.down(most), low), high)
            place = words.place(self.rig, self.graph.nodes[at].key)
            if most < low - _EPSILON_DB:
                self.pad(knob, low - most, place)
                because = sentence(
                    "its lowest stop; {place} has less room than wished", place=place
                )
            elif gain < high or most <= high:
                left = room - (gain - at_zero[knob.key][1])
                because = sentence(
                    "its peaks stay {left:.1f} dB under what {place} bears", left=left, place=place
                )
            else:
                because = sentence("its highest stop: more would hiss less still")
            found.append(_Set(knob, gain, because))
        return found

    def kept_preamp(self, knob: Knob, peaks: Peaks) -> Iterator[_Set]:
        source = self.rig.sources[knob.source]
        if source.id in peaks.unknown:
            self.missing.append(sentence("the level of {source}", source=source.name))
        else:
            self.missing.append(sentence("what the places behind the {knob} bear", knob=knob.name))
        if knob.present_db is not None:
            yield _Set(
                knob, float(knob.present_db), sentence("cannot be judged: a figure is missing")
            )

    def tightest_behind(self, peaks: Peaks, knob: Knob) -> tuple[int, float] | None:
        """The place with the least room from a preamp up to its channel."""
        reached = self.graph.reached(
            knob.nodes, through=lambda hop: planned(hop) and not self.mixes(hop.end)
        )
        # Of equals the first in the signal's order: a converter before the link that carries it.
        rooms = [(round(room, 6), n) for n, room in peaks.rooms.items() if n in reached]
        if not rooms:
            return None
        room, node = min(rooms, key=lambda found: found[0])
        return node, room

    def mixes(self, node: int) -> bool:
        """Whether a place lies at or behind the channels, where the trims rule."""
        return self.graph.nodes[node].kind in {"channel", "bus", "sum", "slot"}

    def pad(self, knob: Knob, by_db: float, place: str) -> None:
        source = self.rig.sources[knob.source].name
        self.unmet.append(
            keeps_no_headroom(
                knob, source, place, headroom_db=self.wish.headroom_db, by_db=by_db - _EPSILON_DB
            )
        )

    # At the channels: what the preamps gained is given back

    def trims_and_behind(self, preamps: Sequence[_Set]) -> list[_Set]:
        """The trims that keep every mix's balance, and the best knobs behind them.

        Only the trims' differences are the balance; where they stand all together is free, and
        silent. A knob that stands need not be turned: together they stay where they are unless one
        would rise above its stop or a mix would run out of room (then all go down), or a mix's own
        level would end at its stop (then all go up).
        """
        moved = {
            s.knob.source: s.gain_db - float(s.knob.present_db)
            for s in preamps
            if s.knob.present_db is not None
        }
        wanted = {
            knob.key: float(knob.present_db or 0) - moved.get(knob.source, 0.0)
            for knob in self.knobs.trims
        }
        over = max((wanted[k.key] - k.high_db for k in self.knobs.trims), default=0.0)
        shift = self.on_the_faders(wanted, min(0.0, self.down(-over)))
        sets = [_trimmed_set(k, wanted[k.key] + shift) for k in self.knobs.trims]
        room = self.room_behind_trims([*preamps, *sets])
        shift += min(0.0, self.down(room))
        sets = [_trimmed_set(k, wanted[k.key] + shift) for k in self.knobs.trims]
        behind, short = self.behind([*preamps, *sets])
        top = min((k.high_db - wanted[k.key] - shift for k in self.knobs.trims), default=0.0)
        up = self.down(min(short, room, top))
        if up > _EPSILON_DB:
            shift += up
            sets = [_trimmed_set(k, wanted[k.key] + shift) for k in self.knobs.trims]
            behind, _ = self.behind([*preamps, *sets])
        return [*(self.trim(s, moved=moved, shift=shift) for s in sets), *behind]

    def on_the_faders(self, wanted: Mapping[str, float], shift: float) -> float:
        """A shift that leaves no trim below its stop, as far as the highest one allows."""
        trims = self.knobs.trims
        short = max((k.low_db - wanted[k.key] - shift for k in trims), default=0.0)
        free = min((k.high_db - wanted[k.key] - shift for k in trims), default=0.0)
        return shift + max(0.0, min(short, free))

    def trim(self, set_: _Set, *, moved: Mapping[str, float], shift: float) -> _Set:
        present = float(set_.knob.present_db or 0)
        if abs(set_.gain_db - present) < _EPSILON_DB:
            because = sentence("stays")
        elif abs(moved.get(set_.knob.source, 0.0)) > _EPSILON_DB:
            because = sentence("gives back what the preamp was turned, to keep every balance")
            if abs(shift) > _EPSILON_DB:
                because += sentence(" ({shift:+g} dB with all others)", shift=shift)
        else:
            because = sentence("goes along with the other channels, to keep every balance")
        return _Set(set_.knob, set_.gain_db, because)

    def room_behind_trims(self, sets: Iterable[_Set]) -> float:
        """The least room over what is wished where channels are mixed, before the mixes' knobs."""
        starts = [n for knob in self.knobs.trims for n in knob.nodes]
        stops = {n for knob in self.knobs.behind for n in knob.nodes}
        free = self.graph.reached(starts, through=lambda hop: planned(hop) and hop.end not in stops)
        rooms = (room for n, room in self.with_(sets).peaks.rooms.items() if n in free)
        return min(rooms, default=float("inf")) - self.wish.mix_headroom_db

    # Behind the mixing: a tree of knobs up to the ears

    def behind(self, before: Sequence[_Set]) -> tuple[list[_Set], float]:
        """The largest sums of gains that headroom and the ears allow, from the front on.

        And by how much the level of a mix would go higher still if its fader could.
        """
        short = 0.0
        levels = self.with_(before)
        tree = KnobTree(self.knobs.behind, levels.graph, levels.peaks.order)
        limits = self.limits(tree, levels)
        most: dict[str, tuple[float, str]] = {}
        for key in reversed(tree.order):  # children first
            asked = [limits[key]]
            for child in tree.children[key]:
                low, _ = self.on_grid(tree.knobs[child])
                bound, why = most[child]
                asked.append((bound - low, why))
            value, why = min(asked)
            most[key] = self.down(value), why
        found: dict[str, float] = {}
        sets = []
        for key in tree.order:
            knob = tree.knobs[key]
            parent = tree.parent[key]
            before_db = found[parent] if parent is not None else 0.0
            low, high = self.on_grid(knob)
            bound, why = most[key]
            total = min(max(bound, before_db + low), before_db + high)
            if bound > before_db + high:
                why = sentence("its highest stop")
                if knob.kind == "mix" and parent is None and bound != float("inf"):
                    short = max(short, bound - high)
            elif bound < before_db + low:
                why = sentence("its lowest stop")
            found[key] = total
            sets.append(_Set(knob, total - before_db, why))
        return sets, short

    def limits(self, tree: KnobTree, levels: Levels) -> dict[str, tuple[float, str]]:
        """How large the sum of gains up to each knob may be, and what limits it."""
        found = {key: (float("inf"), sentence("nothing stated limits it")) for key in tree.order}
        for node, room in levels.peaks.rooms.items():
            key = tree.label.get(node)
            if key is None:
                continue
            bound = tree.present[key] + room - self.wish.mix_headroom_db
            place = words.place(self.rig, self.graph.nodes[node].key)
            why = sentence(
                "its peaks stay {mix_headroom_db:g} dB under what {place} bears",
                mix_headroom_db=self.wish.mix_headroom_db,
                place=place,
            )
            found[key] = min(found[key], (bound, why))
        for ear in levels.sums.ears.values():
            keys = {tree.label.get(n) for n in self.graph.of_listener(ear.person)} - {None}
            total = ear.total_spl
            for key in keys:
                if key is None or total is None or ear.missing:
                    continue
                bound = tree.present[key] + self.wish.level_spl - total
                name = words.person(self.rig, ear.person)
                why = sentence(
                    "brings all that {name} hears to {level_spl:g} dB SPL",
                    name=name,
                    level_spl=self.wish.level_spl,
                )
                found[key] = min(found[key], (bound, why))
        for key in tree.order:
            knob = tree.knobs[key]
            if not knob.people:  # for the house or a recorder: as loud as it is, if there is room
                found[key] = min(found[key], (tree.present[key], sentence("as loud as it is now")))
            elif found[key][0] == float("inf") and not tree.children[key]:
                found[key] = (tree.present[key], sentence("stays: no level can be told"))
        return found

    # Afterwards: an eye that knows nothing of how the plan came about

    def judge(self, levels: Levels) -> None:
        """Say which wishes the planned rig does not fulfil."""
        graph, peaks = levels.graph, levels.peaks
        planned_ = {n for k in (*self.knobs.preamps, *self.knobs.behind) for n in k.nodes}
        behind = graph.reached(tuple(planned_))
        heard = {n for p in self.rig.people for n in graph.feeding(graph.of_listener(p))}
        told = {unmet.at for unmet in self.unmet}
        short_before: dict[frozenset[int], float] = {}
        for node, room in peaks.rooms.items():
            key = graph.nodes[node].key
            if node not in heard or key.partition(".")[0] in told:
                continue
            if node in behind and node not in self.before_mixing and not self.mixes(node):
                need = self.wish.mix_headroom_db
            else:
                need = 0.0  # no knob before it, or judged with its preamp
            if room < need - 0.05:
                place = words.place(self.rig, key)
                short, lanes = need - room, peaks.arriving(node)
                if short <= short_before.get(lanes, 0.0) + 0.05:
                    continue  # the cure of an earlier place cures this one
                short_before[lanes] = short
                self.unmet.append(has_no_room(key, place, room_db=room, need_db=need))
        for ear in levels.sums.ears.values():
            self.judge_ear(ear)

    def judge_ear(self, ear: EarSum) -> None:
        total, name = ear.total_spl, words.person(self.rig, ear.person)
        self.missing += ear.missing
        if total is None or ear.missing:
            return
        off = total - self.wish.level_spl
        if off > 0.05:
            self.unmet.append(is_too_loud(ear.person, name, total_spl=total, off_db=off))
        elif off < -self.wish.step_db - 0.05:
            self.unmet.append(is_too_soft(ear.person, name, total_spl=total, off_db=-off))

    def ear_plans(self, after: Levels) -> Iterator[EarPlan]:
        ears = after.sums.ears
        targets = {who: ear.total_spl for who, ear in ears.items() if ear.total_spl is not None}
        level = levelled(self.now, targets)
        for ear in ears.values():
            before = self.now.sums.ears.get(ear.person)
            same = level.sums.ears.get(ear.person)
            known = before is not None and not before.missing
            yield EarPlan(
                person=ear.person,
                target_spl=self.wish.level_spl,
                level_before_spl=before.total_spl if before and known else None,
                level_after_spl=ear.total_spl,
                hiss_before_dba=before.hiss_dba if before and known else None,
                hiss_level_dba=same.hiss_dba if same and known else None,
                hiss_after_dba=ear.hiss_dba,
                hiss_off_db=ear.hiss_off_db,
                first_clip_before=first_clip(self.now.peaks, ear.person) if known else None,
                first_clip_after=first_clip(after.peaks, ear.person),
                hiss_from=tuple(share.place for share in after.sums.shares(ear.person)[:3]),
                missing=ear.missing,
            )

    def on_grid(self, knob: Knob) -> tuple[float, float]:
        """The stops of a knob, on the grid."""
        step = self.wish.step_db
        low = ceil(knob.low_db / step - _EPSILON_DB) * step
        return low, max(low, self.down(knob.high_db))

    def down(self, value_db: float) -> float:
        """The highest value of the grid that is not above this one."""
        if value_db == float("inf"):
            return value_db
        step = self.wish.step_db
        return floor(value_db / step + _EPSILON_DB) * step


def _trimmed_set(knob: Knob, value_db: float) -> _Set:
    steps = floor(max(value_db, knob.low_db) / TRIM_STEP_DB + _EPSILON_DB)
    return _Set(knob, round(steps * TRIM_STEP_DB, 1), "")


def first_clip(peaks: Peaks, person: str) -> Tight | None:
    """The place with the least room on the ways to somebody's ears."""
    ends = peaks.graph.of_listener(person)
    feeding = peaks.graph.feeding(ends)
    rooms = [(room, peaks.graph.nodes[n].key) for n, room in peaks.rooms.items() if n in feeding]
    if not rooms:
        return None
    room, key = min(rooms)
    return Tight(key, room)
