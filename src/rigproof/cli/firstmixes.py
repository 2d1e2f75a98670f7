"""From what a take tells to mixes that can be heard: each step asks the rig as drafted so far."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import log10
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, NamedTuple

from rigproof.cli.answer import CannotRun, Fault

if TYPE_CHECKING:
    from rigproof.checks.rule import View
    from rigproof.linecheck.blending import Blend, Rough
    from rigproof.linecheck.leaking import Leaks
    from rigproof.linecheck.regain import Regain
    from rigproof.linecheck.taking import Take
    from rigproof.linecheck.tallying import Tally
    from rigproof.mixes.balancing import Balance, Knob, Reached
    from rigproof.mixes.exposure import Dose
    from rigproof.mixes.firstmix import Draft
    from rigproof.mixes.overall import Overall
    from rigproof.mixes.relations import AllWishes
    from rigproof.mixes.waytoear import Ways
    from rigproof.rig import Rig, Show
    from rigproof.rigfile.edit import Edit

_BY = {
    "aim": "",
    "exposure": "kept down: more would use up what the ears may get in the hours stated",
    "limiter": "kept down: more would run into the limiter",
    "bus": "kept down: more would leave less than 3 dB over the peaks on the bus",
    "range": "kept down: its highest send is at the stop; turn up what lies behind it",
}


class Listener(NamedTuple):
    """One person's first mix. `turned`: None where there is nothing to mix."""

    person: str
    draft: Draft
    ways: Ways
    levels_db: Mapping[str, float]
    reached: tuple[Reached, ...]
    overall: Overall | None
    level_dba: float | None
    peak_spl: float | None
    planned_spl: float | None
    full_scale_spl: float | None
    hiss_dba: float | None
    delay_ms: float
    doses: tuple[Dose, ...]
    file: Path | None
    notes: tuple[str, ...]


class Leaking(NamedTuple):
    """What leaks from one player's things into another's microphones, and what is their own."""

    leaks: Leaks
    own_powers: Mapping[int, float]


class Drafted(NamedTuple):
    """All that a take told."""

    stated: Rig
    view: View
    take: Take
    tallies: tuple[Tally, ...]
    regains: tuple[Regain, ...]
    listeners: tuple[Listener, ...]
    edits: tuple[Edit, ...]
    leaks: Leaks


class Mixing:
    """From what was heard to the mixes: each step asks the rig, as the draft so far makes it."""

    def __init__(
        self,
        stated: Rig,
        view: View,
        take: Take,
        tallies: tuple[Tally, ...],
        turns: tuple[Regain, ...],
        drafts: tuple[Draft, ...],
        wishes: AllWishes,
        leaking: Leaking,
        *,
        aim_dba: float,
    ) -> None:
        self.stated, self.view, self.take, self.aim_dba = stated, view, take, aim_dba
        self.show = view.show
        self.tallies, self.turns, self.drafts, self.wishes = tallies, turns, drafts, wishes
        self.turned = {n: one.change_db for one in turns for n in one.channels}
        self.leaks = leaking.leaks
        self.own = leaking.own_powers
        self.sources = {n: row.source for row in view.rig.file.patch for n in row.channel or ()}

    def done(self, path: Path, folder: Path) -> Drafted:
        from rigproof.linecheck.blending import blended
        from rigproof.mixes.firstmix import settable

        gains = tuple(_gain_edits(self.stated, self.turns))
        even = [{control.key: 0.0 for control in draft.controls} for draft in self.drafts]
        probe = self._with(path, [*gains, *self._sends(even)])
        knobs = [self._knobs(probe, draft) for draft in self.drafts]
        found = [self._balance(d, k) for d, k in zip(self.drafts, knobs, strict=True)]
        levels = [
            settable(draft, self.view.rig, one.levels_db)
            for draft, one in zip(self.drafts, found, strict=True)
        ]
        level = self._with(path, [*gains, *self._sends(levels)])
        ways = [
            (draft, who, self._ways(level, draft, who))
            for draft in self.drafts
            for who in draft.mix.listeners
        ]
        folder.mkdir(parents=True, exist_ok=True)
        with TemporaryDirectory(dir=folder, prefix=".") as temporary:
            roughs = blended(self.take, [self._blend(way) for _, _, way in ways], Path(temporary))
            by_person = {rough.name: rough for rough in roughs}
            whole = [
                self._overall(draft, levels[n], [w for d, _, w in ways if d is draft], by_person)
                for n, draft in enumerate(self.drafts)
            ]
            final = [
                {key: value + turn.turn_db for key, value in levels[n].items()}
                for n, turn in enumerate(whole)
            ]
            edits = [*gains, *self._sends(final)]
            end = self._with(path, edits)
            listeners = []
            for number, draft in enumerate(self.drafts):
                told = self._told(knobs[number], final[number], found[number], draft)
                for who in draft.mix.listeners:
                    rough = by_person[who]
                    listeners.append(
                        self._listener(
                            end, draft, who, rough, final[number], told, whole[number], folder
                        )
                    )
        return Drafted(
            self.stated,
            self.view,
            self.take,
            self.tallies,
            self.turns,
            tuple(listeners),
            _tonight(path, edits, self.show),
            self.leaks,
        )

    def _sends(self, levels: Sequence[Mapping[str, float]]) -> Iterator[Edit]:
        from rigproof.mixes.firstmix import edits

        for draft, one in zip(self.drafts, levels, strict=True):
            yield from edits(draft, one)

    def _with(self, path: Path, edits: Sequence[Edit]) -> View:
        """The rig as it would be with some edits, on the night of the show; no file is changed."""
        from rigproof.checks.rule import look
        from rigproof.rigfile import library, migrate
        from rigproof.rigfile.edit import apply
        from rigproof.rigfile.load import parse, rig_path

        file, stated = rig_path(path), self.stated
        raw = migrate.to_current(file.read_bytes().decode("utf-8"), migrate.RIG_STEPS)
        text = apply(raw, _tonight(path, edits, self.show), file.name)
        own, faults = library.own_types(file.parent)
        new = parse(text.encode("utf-8"), file.name, own, faults, stated.path, stated.measured)
        if self.show is None:
            return look(new)
        return look(new, next(one for one in new.file.shows if one.id == self.show.id))

    def _ways(self, view: View, draft: Draft, who: str) -> Ways:
        from rigproof.mixes.waytoear import Reader

        return Reader(view.rig, view.graph, view.ears, view.delays).ways(who, draft)

    def _knobs(self, probe: View, draft: Draft) -> tuple[Knob, ...]:
        """What each control brings of each source with all of them at 0 dB."""
        from rigproof.mixes.balancing import Knob

        heard: dict[str, dict[str, float]] = {}  # by the source of a channel: what comes by it
        for strand in self._ways(probe, draft, draft.mix.listeners[0]).strands:
            by = heard.setdefault(strand.source, {})
            both = sum(gain * gain for gain in strand.gains_ratio)
            both *= 10 ** (self.turned.get(strand.channel, 0.0) / 10)
            for source, power in self._in(strand.channel, strand.source):
                by[source] = by.get(source, 0.0) + power * both
        found = []
        for control in draft.controls:
            mine: dict[str, float] = {}
            leaks: dict[str, float] = {}
            for by_source in control.sources:
                for source, power in heard.get(by_source, {}).items():
                    into = mine if source in control.sources else leaks
                    into[source] = into.get(source, 0.0) + power
            powers = {source: power for source, power in mine.items() if power > 0}
            found.append(Knob(key=control.key, powers=powers, leaks=leaks))
        return tuple(found)

    def _in(self, channel: int, source: str) -> Iterator[tuple[str, float]]:
        """What a channel of the take holds: its own source, and what leaks into it."""
        yield source, self.own.get(channel, 0.0)
        for (heard_in, other), ratio in self.leaks.items():
            if heard_in == channel and other in self.sources:
                yield self.sources[other], ratio * self.own.get(other, 0.0)

    def _balance(self, draft: Draft, knobs: tuple[Knob, ...]) -> Balance:
        from rigproof.mixes.balancing import balanced
        from rigproof.wording import listed

        listeners = draft.mix.listeners
        found = balanced(knobs, self.wishes.of(listeners), self.view.rig, listeners)
        if found.circle:
            names = listed(found.circle)
            raise CannotRun(
                Fault(
                    f"the relations of {names} for {self._name(listeners[0])} go in a circle.",
                    "Measure one of them against rest.",
                )
            )
        return found

    def _blend(self, ways: Ways) -> Blend:
        from rigproof.linecheck.blending import Blend, Strand

        rate = self.take.rate_hz
        strands = []
        for one in ways.strands:
            if one.channel > self.take.channels:
                continue
            turn = 10 ** (self.turned.get(one.channel, 0.0) / 20)
            left, right = (gain * turn for gain in one.gains_ratio)
            late = (round(one.delays_ms[0] * rate / 1000), round(one.delays_ms[1] * rate / 1000))
            strands.append(Strand(one.channel, (left, right), late))
        return Blend(ways.person, tuple(strands))

    def _overall(
        self,
        draft: Draft,
        levels: Mapping[str, float],
        ways: Sequence[Ways],
        roughs: Mapping[str, Rough],
    ) -> Overall:
        """One turn for all who share a mix: the one that suits each of them."""
        from rigproof.mixes.exposure import most_dba
        from rigproof.mixes.firstmix import HIGH_DB, STEP_DB
        from rigproof.mixes.overall import BUS_ROOM_DB, overall

        aims, exposures, limits, buses = [], [], [], []
        for way in ways:
            rough = roughs[way.person]
            if rough.peak_ratio <= 0:
                continue
            peak = 20 * log10(rough.peak_ratio)
            if not way.in_spl:
                buses.append(-BUS_ROOM_DB - peak)
                continue
            if way.bus_spl is not None:
                buses.append(way.bus_spl - BUS_ROOM_DB - peak)
            limited = self.view.ears.ears[way.person].limited
            if limited is not None:
                limits.append(limited.level_spl - peak)
            if way.open_knobs:
                continue
            level = max(rough.weighted_db)
            person = self.view.rig.people[way.person]
            target = draft.mix.target_db
            aims.append((self.aim_dba if target is None else float(target)) - level)
            one_ear = 6.0 if person.ears is not None and person.ears.one_ear else 0.0
            exposures.append(most_dba(self.view.rig, person) - one_ear - level)
        return overall(
            aim_db=min(aims, default=None),
            exposure_db=min(exposures, default=None),
            limiter_db=min(limits, default=None),
            bus_db=min(buses, default=None),
            range_db=HIGH_DB - max(levels.values(), default=0.0),
            step_db=STEP_DB,
        )

    def _told(
        self, knobs: tuple[Knob, ...], levels: Mapping[str, float], found: Balance, draft: Draft
    ) -> tuple[Reached, ...]:
        from rigproof.mixes.balancing import measured

        return measured(knobs, levels, found.reached, self.view.rig, draft.mix.listeners)

    def _listener(
        self,
        end: View,
        draft: Draft,
        who: str,
        rough: Rough,
        levels: Mapping[str, float],
        reached: tuple[Reached, ...],
        turn: Overall,
        folder: Path,
    ) -> Listener:
        from rigproof.linecheck.blending import finished, full_scale_db
        from rigproof.mixes.exposure import doses_at
        from rigproof.physics.exposure import one_ear_dba
        from rigproof.rig.quantity import Quantity, weakest

        ways = self._ways(end, draft, who)
        notes = list(self._notes(ways, reached, turn))
        delay = max((late for one in ways.strands for late in one.delays_ms), default=0.0)
        if rough.peak_ratio <= 0:
            notes.append("nothing of this mix plays in the take: no file was written.")
            return Listener(
                who, draft, ways, levels, reached, None, None, None, None, None, None, delay, (),
                None, tuple(notes),
            )  # fmt: skip
        full = full_scale_db(rough, turn_db=turn.turn_db, hiss_db=ways.hiss_dba)
        hiss = None if ways.hiss_dba is None else ways.hiss_dba - full
        file = folder / f"{who}.wav"
        finished(rough, file, turn_db=turn.turn_db - full, hiss_dbfs=hiss)
        if not ways.in_spl:
            return Listener(
                who, draft, ways, levels, reached, turn, None, None, None, None, None, delay, (),
                file, tuple(notes),
            )  # fmt: skip
        ear, person = end.ears.ears[who], end.rig.people[who]
        level = max(rough.weighted_db) + turn.turn_db
        doses: tuple[Dose, ...] = ()
        if not ways.open_knobs:
            counted = level
            if person.ears is not None and person.ears.one_ear:
                counted = one_ear_dba(both_ears_dba=level)
            provenance = weakest(Quantity(0, ear.provenance), Quantity(0, "typical"))
            doses = doses_at(end.rig, person, Quantity(counted, provenance))
        return Listener(
            person=who,
            draft=draft,
            ways=ways,
            levels_db=levels,
            reached=reached,
            overall=turn,
            level_dba=level,
            peak_spl=20 * log10(rough.peak_ratio) + turn.turn_db,
            planned_spl=ear.total_spl,
            full_scale_spl=full,
            hiss_dba=ways.hiss_dba,
            delay_ms=delay,
            doses=doses,
            file=file,
            notes=tuple(notes),
        )

    def _notes(self, ways: Ways, reached: tuple[Reached, ...], turn: Overall) -> Iterator[str]:
        from rigproof.signal.words import place
        from rigproof.wording import some

        rig = self.view.rig
        if not ways.in_spl:
            yield (
                f"how loud it is cannot be told, and the file has no hiss: needs "
                f"{some(ways.missing)}."
            )
        if ways.open_knobs:
            knobs = some(place(rig, key) for key in ways.open_knobs)
            yield f"how loud it is hangs on {knobs}, which nobody wrote down."
        if _BY[turn.by]:
            yield f"{_BY[turn.by]}."
        for one in reached:
            if one.by_db is not None and abs(one.by_db - one.relation.by_db) > _SHORT_DB:
                yield (
                    f"{one.relation.of} is {one.by_db:+.1f} dB over {one.relation.over}, not "
                    f"{one.relation.by_db:+g}: knobs are shared or at their stop, or it leaks."
                )

    def _name(self, who: str) -> str:
        return self.view.rig.people[who].name


_SHORT_DB = 0.5  # half a step for each of two


def _gain_edits(stated: Rig, turns: Sequence[Regain]) -> Iterator[Edit]:
    from rigproof.mixes.firstmix import plain
    from rigproof.rigfile.edit import Add, Set

    rows = {row.source: n for n, row in reversed([*enumerate(stated.file.patch, start=1)])}
    for one in turns:
        if not one.moves or one.then_db is None:
            continue
        value = plain(one.then_db)
        if one.source in rows:
            yield Set(f"patch/#{rows[one.source]}/gain_db", value)
        else:
            yield Add("patch", {"source": one.source, "gain_db": value})


def _added(edit: Edit) -> bool:
    """New entries last: until then the numbers of the old ones hold."""
    from rigproof.rigfile.edit import Add

    return isinstance(edit, Add)


def _tonight(path: Path, edits: Sequence[Edit], show: Show | None) -> tuple[Edit, ...]:
    """Edits in the order in which they are made: of the rig, or of one show."""
    from rigproof.mixes.tonight import for_show
    from rigproof.rigfile import migrate
    from rigproof.rigfile.load import rig_path

    ordered = sorted(edits, key=_added)
    if show is None:
        return tuple(ordered)
    text = rig_path(path).read_bytes().decode("utf-8")
    return for_show(ordered, migrate.to_current(text, migrate.RIG_STEPS), show.id)
