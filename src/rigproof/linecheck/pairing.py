"""What is wrong between channels: polarity, delay, sides, pairs, crosstalk, clocks, copies."""

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from rigproof.linecheck.clocking import Drift, by_clock
from rigproof.linecheck.gathering import Gathered
from rigproof.linecheck.judging import Judge
from rigproof.linecheck.noticing import Noticed, Related
from rigproof.linecheck.relating import Likeness, Relation
from rigproof.linecheck.siding import LEAN, Sided, lean
from rigproof.linecheck.tuning import WRONG_RATE_CENT, Tuned, apart_cent
from rigproof.linecheck.untangling import Leak, leaks
from rigproof.wording import listed, noun

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Common practice, no source.
SAME_ERROR_DB = -30.0  # what is left of a channel once its copy is taken out
ALIKE_RATIO = 0.5
FOLLOWS_RATIO = 0.4
DELAY_SAMPLES = 0.4
POLARITY_DELAY_MS = 1.5
UNEQUAL_DB = (6.0, 12.0)
HEARD_DB = 40.0  # third octaves further under the loudest do not count
LEAK_DB = (-45.0, -35.0)
LEAK_SURE_RATIO, LEAK_RESTS_RATIO, LEAK_OFF_DB = 0.85, 0.05, 3.0
CLOCK_PPM = (0.5, 10.0)
CLOCK_SURE_RATIO = 0.75
PARTNERS, HEARERS = 2, 2
LEAST_COMMON_RATIO = 0.1  # how alike pairs are that hear one stage
PITCH_CENT, FIRM_RATIO, SHARED_RATIO = 30.0, 0.6, 0.35
WRONG_RATE_OFF_CENT = 8.0
LEAST_IN_TUNE = 3
# Two microphones face each other through a drum: those are meant to be opposite.
_NO_NOTES = frozenset({"drums", "ambience", "click", "cue", "talk"})
_UNDER = ("bottom", "btm", "under", "unten", "below", "resonant")


class Pairing:
    """Findings about channels that belong or should not belong together."""

    def __init__(self, judge: Judge, gathered: Gathered) -> None:
        self.judge, self.gathered = judge, gathered
        self.likeness = Likeness(gathered)
        self.declared = self._declared()
        busy = {one.number - 1 for one in judge.channels if one.number not in judge.idle}
        asked = {*self.declared, *self.likeness.pairs()}
        self.relations: dict[tuple[int, int], Relation] = {}
        for one, other in sorted(asked):
            if one in busy and other in busy:
                found = self.likeness.relation(one, other)
                if found is not None:
                    self.relations[one, other] = found

    def _declared(self) -> tuple[tuple[int, int], ...]:
        """Pairs by the list, by places from 0."""
        found = set()
        for line in self.judge.lineup.values():
            if line.pair is not None and line.pair != line.number:
                pair = sorted((line.number - 1, line.pair - 1))
                if pair[1] < self.gathered.channels:
                    found.add((pair[0], pair[1]))
        return tuple(sorted(found))

    def related(self) -> tuple[Related, ...]:
        """All pairs that carry something in common."""
        return tuple(
            Related(
                one=one.one + 1,
                other=one.other + 1,
                likeness_ratio=one.likeness_ratio,
                delay_ms=1000 * one.delay_samples / self.gathered.rate_hz,
                upright=one.upright,
                level_db=one.level_db,
            )
            for one in self.relations.values()
        )

    def findings(self) -> Iterator[Noticed]:
        """All but sides, crosstalk and clocks, which need a closer look."""
        for pair, one in self.relations.items():
            stereo = pair in self.declared
            if self._same(one):
                yield from self._copies(one, stereo=stereo)
            else:
                yield from self._phase(one, stereo=stereo)
        for left, right in self.declared:
            yield from self._unequal(left, right)

    def _both(self, one: int, other: int) -> str:
        return f"{self.judge.name(one + 1)} and {self.judge.name(other + 1)}"

    def _same(self, one: Relation) -> bool:
        return one.error_ratio < 10 ** (SAME_ERROR_DB / 10) and one.follows_ratio > 0.8

    def _copies(self, one: Relation, *, stereo: bool) -> Iterator[Noticed]:
        both = self._both(one.one, one.other)
        late = abs(one.delay_samples) > DELAY_SAMPLES
        turned = "" if one.upright else ", turned over"
        delay_ms = 1000 * one.delay_samples / self.gathered.rate_hz
        if late:
            says = (
                f"channels {both} carry one signal{turned}, {abs(one.delay_samples):.1f} samples "
                f"({abs(delay_ms):.2f} ms) apart: mixed together they comb. One of them goes a "
                "longer way."
            )
            yield self.judge.noticed(
                one.one + 1, "delay", "fail" if stereo else "doubt", one.delay_samples, "samples",
                DELAY_SAMPLES, says, sure_ratio=0.95, others=(one.other + 1,),
            )  # fmt: skip
        if not one.upright:
            yield self._turned(one, "fail" if stereo else "doubt", 0.98)
        elif not late:
            what = (
                "are a pair by the list and carry one signal: the stereo is lost, or a mono source "
                "was plugged twice."
                if stereo
                else "carry one signal: a split that is not on the list, or a patch made twice."
            )
            yield self.judge.noticed(
                one.one + 1, "same", "doubt", one.error_ratio, "of the power", 0.001,
                f"channels {both} {what}", sure_ratio=0.95, others=(one.other + 1,),
            )  # fmt: skip

    def _phase(self, one: Relation, *, stereo: bool) -> Iterator[Noticed]:
        """Polarity and delay of channels that hear the same thing in part."""
        if not stereo and not self._kin(one):
            return
        sure = min(0.95, one.follows_ratio * (1 - one.rival_ratio / max(one.follows_ratio, 1e-9)))
        limit = POLARITY_DELAY_MS * self.gathered.rate_hz / 1000
        if (
            not one.upright
            and one.follows_ratio > FOLLOWS_RATIO
            and one.rival_ratio < 0.8 * one.follows_ratio
            and abs(one.delay_samples) < limit
            and one.likeness_ratio > ALIKE_RATIO / 2
        ):
            fail = stereo and one.likeness_ratio > ALIKE_RATIO
            yield self._turned(one, "fail" if fail else "doubt", sure)
        elif (
            stereo
            and one.upright
            and one.follows_ratio > 0.9
            and one.likeness_ratio > 0.9  # less is two microphones apart, as they should be
            and abs(one.delay_samples) > DELAY_SAMPLES
        ):
            delay_ms = 1000 * one.delay_samples / self.gathered.rate_hz
            yield self.judge.noticed(
                one.one + 1, "delay", "doubt", one.delay_samples, "samples", DELAY_SAMPLES,
                f"channels {self._both(one.one, one.other)} are a pair, and one is "
                f"{abs(one.delay_samples):.1f} samples ({abs(delay_ms):.2f} ms) late: two "
                "microphones at unequal distance, or two ways of unequal length.",
                sure_ratio=sure, others=(one.other + 1,),
            )  # fmt: skip

    def _turned(self, one: Relation, grade: str, sure: float) -> Noticed:
        return self.judge.noticed(
            one.one + 1, "polarity", "fail" if grade == "fail" else "doubt", -1, "sign", 1,
            f"channels {self._both(one.one, one.other)} carry the same thing, one of them turned "
            "over: a lead with crossed pins, or a polarity switch.",
            sure_ratio=sure, others=(one.other + 1,),
        )  # fmt: skip

    def _kin(self, one: Relation) -> bool:
        """Whether two channels that are no pair are so much alike that they must be one source."""
        if self._through_a_drum(one.one, one.other):
            return False
        lines = [self.judge.lineup.get(place + 1) for place in (one.one, one.other)]
        families = {line.family for line in lines if line is not None and line.family}
        sources = {line.source for line in lines if line is not None and line.source}
        if len(families) > 1:
            return False
        if len(sources) == 1 and lines[0] is not None and lines[1] is not None:
            return True
        return one.likeness_ratio > ALIKE_RATIO and one.follows_ratio > 0.6

    def _through_a_drum(self, *places: int) -> bool:
        lines = [self.judge.lineup.get(place + 1) for place in places]
        return any(line and any(word in line.name.lower() for word in _UNDER) for line in lines)

    def _unequal(self, one: int, other: int) -> Iterator[Noticed]:
        numbers = one + 1, other + 1
        if not self.judge.idle.isdisjoint(numbers):
            return
        loud = [self.judge.channels[place].loudness.integrated_lufs for place in (one, other)]
        if min(loud) == float("-inf"):
            return
        apart = loud[1] - loud[0]
        doubt, fail = UNEQUAL_DB
        if abs(apart) > fail or (abs(apart) > doubt and self._everywhere(one, other, apart)):
            quiet = numbers[0] if apart > 0 else numbers[1]
            yield self.judge.noticed(
                numbers[0], "unequal", "fail" if abs(apart) > fail else "doubt", apart, "dB", doubt,
                f"channels {self._both(one, other)} are a pair, and {self.judge.name(quiet)} is "
                f"{abs(apart):.1f} dB quieter: a preamp, a pad, or one leg of the lead is open.",
                sure_ratio=0.85, others=(numbers[1],),
            )  # fmt: skip

    def _everywhere(self, one: int, other: int, apart_db: float) -> bool:
        """Whether a side is louder in nearly every third octave, as it is by a knob.

        Two microphones that hear a kit from its two sides differ here one way and there the other.
        """
        thirds = [self.judge.channels[place].thirds_dbfs for place in (one, other)]
        heard = max(map(max, thirds)) - HEARD_DB
        steps = sorted(
            (right - left) * (1 if apart_db > 0 else -1)
            for left, right in zip(*thirds, strict=True)
            if max(left, right) > heard
        )
        return bool(steps[len(steps) // 10] > UNEQUAL_DB[0] / 3)

    # ---- left and right ------------------------------------------------------------------------

    def facing(self) -> tuple[tuple[int, int], ...]:
        """The pairs that may hear one stage."""
        return tuple(pair for pair in self.declared if self.judge.idle.isdisjoint(
            (pair[0] + 1, pair[1] + 1)))  # fmt: skip

    def sides(self, heard: Mapping[tuple[int, int], Sided]) -> Iterator[Noticed]:
        """Pairs whose sides go crosswise with those of other pairs that hear the same stage."""
        votes: dict[tuple[int, int], list[float]] = {pair: [] for pair in heard}
        with_: dict[tuple[int, int], list[tuple[int, int]]] = {pair: [] for pair in heard}
        for place, first in enumerate(heard):
            for second in list(heard)[place + 1 :]:
                leans = self._lean(first, second, heard)
                if leans is not None:
                    for mine, its in ((first, second), (second, first)):
                        votes[mine].append(leans)
                        if leans < 0:
                            with_[mine].append(its)
        told: set[tuple[int, int]] = set()
        for pair in sorted(votes, key=lambda one: (sum(votes[one]), one)):
            against = [other for other in with_[pair] if other not in told]
            if sum(votes[pair]) >= 0 or not against:
                continue
            told.add(pair)
            names = " or ".join(self._both(*one) for one in (pair, *against[:1]))
            alone = len(votes[pair]) > 1
            which = self._both(*pair) if alone else names
            yield self.judge.noticed(
                pair[0] + 1, "sides", "doubt", sum(votes[pair]), "lean", 0,
                f"left and right look swapped on channels {which}: what is on the left of "
                f"{self._both(*against[0])} is on the right of {self._both(*pair)}.",
                sure_ratio=0.8 if alone else 0.6,
                others=(pair[1] + 1, *(() if alone else (against[0][0] + 1, against[0][1] + 1))),
            )  # fmt: skip

    def _lean(
        self,
        first: tuple[int, int],
        second: tuple[int, int],
        heard: Mapping[tuple[int, int], Sided],
    ) -> float | None:
        """Above 0 where two pairs lie the same way round, below where crosswise."""
        both = [self.likeness.likeness(one, other) for one in first for other in second]
        if max(both) < LEAST_COMMON_RATIO:
            return None  # they do not hear one stage
        found = lean(heard[first], heard[second], self.gathered.rate_hz)
        return found if found is not None and abs(found) > LEAN else None

    # ---- what needs a closer look --------------------------------------------------------------

    def neighbours(self) -> Iterator[tuple[int, int]]:
        """Channels side by side that are neither a pair nor one source: source, and into which."""
        for one in range(self.gathered.channels - 1):
            other = one + 1
            if (
                self.judge.idle.isdisjoint((one + 1, other + 1))
                and (one, other) not in self.declared
                and self.likeness.likeness(one, other) < ALIKE_RATIO
                and not self._through_a_drum(one, other)
            ):
                yield one, other
                yield other, one

    def crosstalk(self) -> Iterator[Noticed]:
        """What leaks from a neighbour in the wire, not through the air."""
        partners = {one: other for pair in self.declared for one, other in (pair, pair[::-1])}
        busy = [one.number - 1 for one in self.judge.channels if one.number not in self.judge.idle]
        best: dict[frozenset[int], Leak] = {}
        for leak in leaks(self.gathered, self.neighbours(), busy=busy, partners=partners):
            both = frozenset((leak.source, leak.into))
            if not self._always(leak):
                continue
            if both not in best or leak.sure_ratio > best[both].sure_ratio:
                best[both] = leak
        doubt, fail = LEAK_DB
        for leak in best.values():
            if leak.level_db < doubt:
                continue
            sure = leak.sure_ratio > LEAK_SURE_RATIO
            yield self.judge.noticed(
                leak.into + 1, "crosstalk", "fail" if sure and leak.level_db > fail else "doubt",
                leak.level_db, "dB", doubt,
                f"channel {self.judge.name(leak.into + 1)} holds "
                f"{self.judge.name(leak.source + 1)} at {leak.level_db:.0f} dB and at once, "
                "so not through the air: a damaged multicore, a split, or a patch that feeds both.",
                sure_ratio=min(0.9, leak.sure_ratio), others=(leak.source + 1,),
            )  # fmt: skip

    def _always(self, leak: Leak) -> bool:
        """Whether a channel is never softer than what leaks into it while the source is loud."""
        import numpy as np

        source, into = self.gathered.hiss[[leak.source, leak.into]].astype(np.float64)
        loud = source > source.mean()
        if not loud.any():
            return False
        softest = float(np.quantile(into[loud] / source[loud], LEAK_RESTS_RATIO))
        return softest > 10 ** ((leak.level_db - LEAK_OFF_DB) / 10)

    def wandering(self) -> Iterator[tuple[int, int]]:
        """Which channels to listen for what begins on a channel: (channel, other).

        Those that begin with it most, and those in which most of all channels begin: rooms and
        overheads hear everybody.
        """
        import numpy as np

        busy = [one.number - 1 for one in self.judge.channels if one.number not in self.judge.idle]
        if len(busy) < 2 or self.gathered.steps < 100:
            return
        level: NDArray[np.float64] = np.log10(
            self.gathered.mean_square[busy].astype(np.float64) + 1e-9
        )
        begins = np.maximum(np.diff(level, axis=1), 0)
        begins -= begins.mean(axis=1, keepdims=True)
        begins /= np.maximum(np.sqrt(np.square(begins).sum(axis=1, keepdims=True)), 1e-9)
        together = begins @ begins.T
        np.fill_diagonal(together, 0)
        everybody = np.argsort(-together.sum(axis=1), kind="stable")[:HEARERS].tolist()
        found = set(self.declared)
        for place, row in enumerate(together):
            near = np.argsort(-row, kind="stable")[:PARTNERS].tolist()
            found |= {(busy[place], busy[at]) for at in {*near, *everybody} if at != place}
        yield from sorted(found)

    def clocks(self, found: Sequence[Drift]) -> Iterator[Noticed]:
        """Channels that part in time from what they hear: they ran on a clock of their own."""
        doubt, fail = CLOCK_PPM
        sure = {
            place: max(one.sure_ratio for one in found if place in (one.one, one.other))
            for place in {place for one in found for place in (one.one, one.other)}
        }
        for clocks in by_clock(found):
            reference, *others = clocks
            for few, ppm in others:
                if max(sure[place] for place in few) < CLOCK_SURE_RATIO or abs(ppm) < doubt:
                    continue
                apart = f"{abs(ppm) * 60 / 1000:.2f} ms a minute ({abs(ppm):.1f} ppm)"
                if len(reference[0]) > max(2, len(few)):
                    names = listed(self.judge.name(place + 1) for place in few)
                    says = (
                        f"{noun(len(few), 'channel')} {names}: {apart} "
                        f"{'behind' if ppm > 0 else 'ahead of'} what the other channels hear of "
                        "the same. A device on its own clock recorded this; clock it from the "
                        "others."
                    )
                    concerned = few
                else:
                    sides = (
                        listed(self.judge.name(place + 1) for place in side)
                        for side in (reference[0], few)
                    )
                    says = (
                        f"channels {' and '.join(sides)} hear the same and part by {apart}: two "
                        "devices ran on two clocks. Clock one from the other."
                    )
                    concerned = (*reference[0], *few)
                yield self.judge.noticed(
                    concerned[0] + 1, "clock", "fail" if abs(ppm) > fail else "doubt", ppm, "ppm",
                    doubt, says, sure_ratio=max(sure[place] for place in few),
                    others=tuple(place + 1 for place in concerned[1:]),
                )  # fmt: skip

    def tunable(self) -> tuple[int, ...]:
        """Channels on which notes may be played, not those that hear everybody's."""
        families = {line.number: line.family for line in self.judge.lineup.values()}
        return tuple(
            one.number - 1
            for one in self.judge.channels
            if one.number not in self.judge.idle and families.get(one.number) not in _NO_NOTES
        )

    def pitches(self, found: Mapping[int, Tuned]) -> Iterator[Noticed]:
        """Channels whose tuning stands apart from that of the others: played at a wrong rate."""
        beside = {one: other for pair in self.declared for one, other in (pair, pair[::-1])}
        for place, one in found.items():
            other = beside.get(place, place)
            if one.firm_ratio < FIRM_RATIO or (other in found and other < place):
                continue
            rest = [
                each
                for at, each in found.items()
                if at not in (place, other) and each.firm_ratio >= SHARED_RATIO
            ]
            off_cent = apart_cent(one, rest) if len(rest) >= LEAST_IN_TUNE else None
            if off_cent is None or abs(off_cent) < PITCH_CENT:
                continue
            concerned = [at for at in dict.fromkeys((place, other)) if at in found]
            names = listed(self.judge.name(at + 1) for at in concerned)
            rates = abs(WRONG_RATE_CENT - 100 - abs(off_cent)) < WRONG_RATE_OFF_CENT
            why = (
                "44.1 kHz played as 48, or 48 as 44.1, sounds just so: look at the rate of the "
                "player and of its clock."
                if rates
                else "A player at a wrong rate, a tape speed, or another tuning."
            )
            yield self.judge.noticed(
                place + 1, "pitch", "doubt", off_cent, "cent", PITCH_CENT,
                f"{noun(len(concerned), 'channel')} {names}: {abs(off_cent):.0f} cent "
                f"{'sharp' if off_cent > 0 else 'flat'} of the tuning that the others share, whole "
                f"semitones aside. {why}",
                sure_ratio=min(0.8, one.firm_ratio),
                others=tuple(at + 1 for at in concerned[1:]),
            )  # fmt: skip
