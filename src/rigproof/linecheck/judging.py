"""What is wrong with a channel by itself: levels, clipping, offsets, breaks, hum, hiss, combs."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from statistics import median
from typing import TYPE_CHECKING

from rigproof.linecheck.comparing import Grade
from rigproof.linecheck.describing import LEAST_TENTHS, level_dbfs, ratio_db
from rigproof.linecheck.gathering import STEP_S, Gathered
from rigproof.linecheck.lineup import Line, Lineup
from rigproof.linecheck.looking import Break, Tops
from rigproof.linecheck.noticing import MOST_TIMES, ChannelSound, Kind, Noticed
from rigproof.linecheck.silence import Hum
from rigproof.wording import counted, listed, noun, ranges

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# From which figure on a matter is doubtful, and from which it fails. Common practice, no source.
SILENT_DBFS = -110.0
DEAD_SPREAD_DB = 6.0
DEAD_PEAK_DBFS = -45.0
LOW_PEAK_DBFS = (-36.0, -50.0)
HOT_DBTP = -1.0
DC_RATIO = (0.003, 0.03)
HUM_DBFS = (-75.0, -55.0)
HUM_UNDER_DB = 66.0  # hum so far under the loud passages is nobody's trouble
HISS_DBFS = -84.0
HISS_OVER_OTHERS_DB = (15.0, 25.0)
HISS_SHARE = 0.02  # of the time in which a channel sounds
COMB_RATIO = 0.3  # of the direct path
COMB_STANDS_RATIO = 12.0  # over the usual ripple of a spectrum
COMB_MS = (0.7, 24.0)  # under it the ripple is as wide as the colour of an instrument
WRONG_RATE_RATIO, WRONG_RATE_OFF = 44.1 / 48, 3e-4  # lengths of files
SINGLE_CLICK_RATIO = 70.0  # a hard stroke may surprise once nearly as much as a fault does
LATE_S = 1.0
SELDOM = frozenset({"talk", "cue", "click", "playback", "electronics", "other"})  # may rest
SHOW_S = 600.0  # in so long a time everybody plays once
# A stroke reaches other microphones later, a lost buffer is lost on all channels at once.
_AT_ONCE_SAMPLES = 4


class Judge:
    """Findings about channels, each worded for who set up the recording."""

    def __init__(
        self, gathered: Gathered, channels: Sequence[ChannelSound], lineup: Lineup
    ) -> None:
        self.gathered, self.channels, self.lineup = gathered, channels, lineup
        self.listed = any(line.known for line in lineup.values())
        self.idle = {one.number for one in channels if self._idle(one)}

    def name(self, number: int) -> str:
        line = self.lineup.get(number) or Line(number=number, name="")
        return f"{number} ({line.name})" if line.name else str(number)

    def expected(self, number: int) -> bool:
        """Whether something belongs on a channel; without a list, on every one."""
        line = self.lineup.get(number)
        return not self.listed or (line is not None and line.known)

    def noticed(
        self,
        number: int,
        kind: Kind,
        grade: Grade,
        value: float,
        unit: str,
        limit: float,
        says: str,
        *,
        sure_ratio: float = 1.0,
        others: Sequence[int] = (),
        times_s: Sequence[float] = (),
    ) -> Noticed:
        return Noticed(
            channel=number,
            kind=kind,
            grade=grade,
            value=value,
            unit=unit,
            limit=limit,
            says=says,
            sure_ratio=max(0.0, min(1.0, sure_ratio)),
            others=tuple(others),
            times_s=tuple(round(one, 3) for one in sorted(times_s)[:MOST_TIMES]),
        )

    # ---- is anything there -------------------------------------------------------------------

    def _idle(self, sound: ChannelSound) -> bool:
        return sound.peak_dbfs <= SILENT_DBFS or self._steady(sound)

    def _steady(self, sound: ChannelSound) -> bool:
        """Whether a channel holds nothing but noise or hum that never changes."""
        import numpy as np

        if sound.peak_dbfs > DEAD_PEAK_DBFS:
            return False
        levels = self.gathered.mean_square[sound.number - 1]
        top, usual = (level_dbfs(float(np.quantile(levels, share))) for share in (0.98, 0.3))
        return top - usual < DEAD_SPREAD_DB

    def presence(self, short: Mapping[int, int]) -> Iterator[Noticed]:
        """Silent, dead, low, hot, late and short channels, and samples that are none."""
        unlisted = [one.number for one in self.channels if one.peak_dbfs <= SILENT_DBFS]
        if unlisted and not self.listed:
            which = noun(len(unlisted), "channel")
            yield self.noticed(
                unlisted[0], "silent", "doubt", SILENT_DBFS, "dBFS", SILENT_DBFS,
                f"{which} {ranges(unlisted)} {'is' if len(unlisted) == 1 else 'are'} silent, with "
                "not even noise. Does anything belong there?",
                others=unlisted[1:],
            )  # fmt: skip
        for sound in self.channels:
            number, name = sound.number, self.name(sound.number)
            grade = self._absent(number)
            bad = int(self.gathered.not_numbers[number - 1])
            if bad:
                yield self.noticed(
                    number, "unreadable", "fail", bad, "samples", 0,
                    f"channel {name}: {counted(bad, 'sample')} {'is' if bad == 1 else 'are'} no "
                    "number and read as silence. Export it again as 24-bit.",
                )  # fmt: skip
            if number in short:
                missing_s = short[number] / self.gathered.rate_hz
                length_ratio = 1 - short[number] / self.gathered.frames
                rates = (
                    " The two are as long as one recording at 44.1 and at 48 kHz: one of them says "
                    "a rate it was not recorded at, and sounds one and a half semitones off."
                    if abs(length_ratio - WRONG_RATE_RATIO) < WRONG_RATE_OFF
                    else ""
                )
                yield self.noticed(
                    number, "short", "doubt", missing_s, "s", 0,
                    f"channel {name} ends {missing_s:.1f} s before the longest file.{rates}",
                    times_s=(self.gathered.frames / self.gathered.rate_hz - missing_s,),
                )  # fmt: skip
            if not self.expected(number):
                continue
            if sound.peak_dbfs <= SILENT_DBFS:
                if not self.listed:
                    continue
                yield self.noticed(
                    number, "silent", grade, sound.peak_dbfs, "dBFS", SILENT_DBFS,
                    f"channel {name} is silent: not even noise. Was it armed, and is anything "
                    "routed to it?",
                )  # fmt: skip
            elif number in self.idle:
                yield self.noticed(
                    number, "dead", grade, sound.level_dbfs, "dBFS", DEAD_PEAK_DBFS,
                    f"channel {name} holds only steady noise at {sound.level_dbfs:.0f} dBFS: "
                    "nobody played it, or nothing reaches the input. Lead, phantom supply, a "
                    "switch on the microphone?",
                    sure_ratio=0.9,
                )  # fmt: skip
            else:
                yield from self._level(sound)
                yield from self._late(sound)

    def _absent(self, number: int) -> Grade:
        """How grave it is that nothing sounds on a channel: somebody may just not have played."""
        line = self.lineup.get(number)
        seldom = line is not None and line.family in SELDOM
        short = self.gathered.frames < SHOW_S * self.gathered.rate_hz
        quiet = self.channels[number - 1].peak_dbfs <= SILENT_DBFS
        return "fail" if self.listed and not seldom and (quiet or not short) else "doubt"

    def _level(self, sound: ChannelSound) -> Iterator[Noticed]:
        number, name = sound.number, self.name(sound.number)
        doubt, fail = LOW_PEAK_DBFS
        if sound.peak_dbfs < doubt:
            yield self.noticed(
                number, "low", "fail" if sound.peak_dbfs < fail else "doubt",
                sound.peak_dbfs, "dBFS", doubt,
                f"channel {name} is low: its highest peak is {sound.peak_dbfs:.0f} dBFS. Turn its "
                f"preamp up; {-18 - sound.peak_dbfs:.0f} dB more would peak at -18.",
                sure_ratio=0.8,
            )  # fmt: skip

    def hot(self, clipped: set[int]) -> Iterator[Noticed]:
        """Channels that reach the ceiling without a flat top."""
        for sound in self.channels:
            number = sound.number
            if number not in clipped and sound.true_peak_dbtp > HOT_DBTP:
                place = number - 1
                at = int(self.gathered.peak[place].argmax())
                yield self.noticed(
                    number, "hot", "doubt", sound.true_peak_dbtp, "dBTP", HOT_DBTP,
                    f"channel {self.name(number)} peaks at {sound.true_peak_dbtp:.1f} dBTP: no "
                    "room is left. Turn its preamp down.",
                    times_s=(at * STEP_S,),
                )  # fmt: skip

    def _late(self, sound: ChannelSound) -> Iterator[Noticed]:
        """A channel that begins in the middle of its sound, and was exact silence before."""
        import numpy as np

        place = sound.number - 1
        step = round(self.gathered.rate_hz * STEP_S)
        zeros = self.gathered.zeros[place] >= step
        first = int(np.argmin(zeros))
        if first * STEP_S < LATE_S or zeros.all():
            return
        # A source that is digital silence whenever it rests is not late.
        if np.count_nonzero(zeros[first:]) > 0 or self.gathered.steps - first < 20:
            return
        others = [
            other
            for other in range(self.gathered.channels)
            if other != place and other + 1 not in self.idle
        ]
        before = [float(self.gathered.mean_square[other, :first].max()) for other in others]
        if not any(one > 1e-9 for one in before):
            return
        yield self.noticed(
            sound.number, "late", "doubt", first * STEP_S, "s", LATE_S,
            f"channel {self.name(sound.number)} is exact silence for the first "
            f"{first * STEP_S:.1f} s and then never again: was it armed late?",
            sure_ratio=0.7,
            times_s=(first * STEP_S,),
        )  # fmt: skip

    # ---- what is wrong with the sound ----------------------------------------------------------

    def offsets(self) -> Iterator[Noticed]:
        """Direct voltage."""
        doubt, fail = DC_RATIO
        for sound in self.channels:
            # A faulty input stands off while its source rests as well; a recorded sample does not.
            size = min(abs(sound.dc_ratio), abs(self._resting_off(sound.number - 1)))
            if size > doubt:
                yield self.noticed(
                    sound.number, "dc", "fail" if size > fail else "doubt", sound.dc_ratio,
                    "of full scale", doubt,
                    f"channel {self.name(sound.number)} stands {100 * sound.dc_ratio:+.1f} % of "
                    "full scale off the middle: a converter or an input with a fault.",
                    sure_ratio=0.95,
                )  # fmt: skip

    def _resting_off(self, place: int) -> float:
        """How far a channel stands off the middle in the quietest third of the time."""
        import numpy as np

        squares = self.gathered.mean_square[place]
        return float(np.median(self.gathered.mean[place][squares <= np.quantile(squares, 1 / 3)]))

    def clipping(self, tops: Sequence[Tops]) -> Iterator[Noticed]:
        """Flat tops by channel."""
        by_channel: dict[int, list[Tops]] = {}
        for one in tops:
            by_channel.setdefault(one.channel, []).append(one)
        for channel, mine in sorted(by_channel.items()):
            sound = self.channels[channel]
            full = sound.peak_dbfs > -0.1
            longest = max(one.samples for one in mine)
            if not full and len(mine) < 3:
                continue  # one flat top under the ceiling may be chance
            grade: Grade = "fail" if len(mine) >= 3 or longest >= 10 else "doubt"
            where = (
                "at full scale" if full else f"at {sound.peak_dbfs:.1f} dBFS, before the recorder"
            )
            often = int((self.gathered.full[channel] >= 3).sum()) if full else len(mine)
            often = max(often, len(mine))
            yield self.noticed(
                sound.number, "clipped", grade, often, "tenths of a second", 0,
                f"channel {self.name(sound.number)} clips {where}, in "
                f"{counted(often, 'tenth')} of a second or more; the longest flat top is "
                f"{longest} samples. Turn the preamp down.",
                sure_ratio=0.99 if full else 0.85,
                times_s=[one.tenth * STEP_S for one in mine],
            )  # fmt: skip

    def breaks(self, found: Sequence[Break]) -> Iterator[Noticed]:
        """Clicks, gaps and cuts; those that hit many channels at once are the recorder's."""
        rate_hz = self.gathered.rate_hz
        shared, own = _shared(found, rate_hz, min(3, self.gathered.channels))
        if shared:
            first = [shared[0][0]]
            first.extend(
                group[0]
                for before, group in pairwise(shared)
                if group[0].at - before[0].at > rate_hz * 0.1
            )
            channels = sorted({one.channel + 1 for group in shared for one in group})
            again = [one.samples for group in shared for one in group if one.kind == "repeat"]
            what = (
                f"{max(again)} samples are there twice"
                if again
                else "samples are missing or silent"
            )
            yield self.noticed(
                channels[0], "gap", "fail", len(first), "places", 0,
                f"{what} on {len(channels)} channels at once, in "
                f"{counted(len(first), 'place')}: the recorder or its link dropped out. Longer "
                "buffer, other port, one clock?",
                sure_ratio=0.95,
                others=channels[1:],
                times_s=[one.at / rate_hz for one in first],
            )  # fmt: skip
        by_channel: dict[int, list[Break]] = {}
        for one in own:
            by_channel.setdefault(one.channel, []).append(one)
        for channel, mine in sorted(by_channel.items()):
            yield from self._own_breaks(channel + 1, mine)

    def _own_breaks(self, number: int, mine: Sequence[Break]) -> Iterator[Noticed]:
        rate_hz = self.gathered.rate_hz
        cuts = [one for one in mine if one.kind in ("cut", "gap")]
        again = [one for one in mine if one.kind == "repeat"]
        clicks = [one for one in mine if one.kind == "click"]
        name = self.name(number)
        if len(cuts) >= 2:
            yield self.noticed(
                number, "intermittent", "fail" if len(cuts) >= 4 else "doubt", len(cuts),
                "breaks", 0,
                f"channel {name} breaks off in the middle of its sound, {len(cuts)} times that "
                "were looked at: a lead, a plug or a switch that makes poor contact.",
                sure_ratio=min(0.95, 0.5 + 0.1 * len(cuts)),
                times_s=[one.at / rate_hz for one in cuts],
            )  # fmt: skip
        if again:
            yield self.noticed(
                number, "gap", "fail", len(again), "places", 0,
                f"channel {name} has {again[0].samples} samples twice, in "
                f"{counted(len(again), 'place')}: a buffer was recorded again.",
                sure_ratio=0.95,
                times_s=[one.at / rate_hz for one in again],
            )  # fmt: skip
        lone = clicks if len(cuts) >= 2 else [*clicks, *cuts]
        if len(lone) > 1 or (lone and lone[0].surprise_ratio > SINGLE_CLICK_RATIO):
            yield self.noticed(
                number, "click", "doubt" if len(lone) < 6 else "fail", len(lone), "places", 0,
                f"channel {name} has {counted(len(lone), 'click')} or missing samples that no "
                "playing explains.",
                sure_ratio=min(0.9, 0.5 + 0.005 * max(one.surprise_ratio for one in lone)),
                times_s=[one.at / rate_hz for one in lone],
            )  # fmt: skip

    def hums(self, found: Mapping[int, Hum]) -> Iterator[Noticed]:
        """Mains hum, with the likely cause."""
        import numpy as np

        doubt, fail = HUM_DBFS
        for channel, hum in sorted(found.items()):
            sound = self.channels[channel]
            loud = level_dbfs(float(np.quantile(self.gathered.mean_square[channel], 0.95)))
            total = hum.total_dbfs
            if total <= doubt or loud - total > HUM_UNDER_DB:
                continue
            lines = [n for n, level in enumerate(hum.levels_dbfs, 1) if level > -139]
            cause = {
                "field": "a loop of earths or a transformer nearby",
                "ripple": "a supply in one of the boxes",
                "buzz": "dimmers, an unbalanced run or a switched supply",
            }[hum.cause]
            yield self.noticed(
                sound.number, "hum", "fail" if total > fail else "doubt", total, "dBFS", doubt,
                f"channel {self.name(sound.number)} hums at {total:.0f} dBFS: multiples "
                f"{listed(map(str, lines))} of {hum.mains_hz:.0f} Hz. Likely {cause}.",
                sure_ratio=min(0.95, 0.55 + 0.1 * len(lines)),
            )  # fmt: skip

    def hiss(self) -> Iterator[Noticed]:
        """Channels whose steady noise stands far over what others hold at their quietest.

        Few channels of a band at play ever rest, so their own noise is seldom known; but none has
        more than it holds at its quietest.
        """
        import numpy as np

        floors: dict[int, float] = {}
        quietest: list[float] = []
        for sound in self.channels:
            squares = self.gathered.hiss[sound.number - 1]
            sounding = squares[squares > 0]
            if sound.number in self.idle or len(sounding) < LEAST_TENTHS:
                continue
            quietest.append(level_dbfs(float(np.quantile(sounding, HISS_SHARE))))
            if sound.hiss_dbfs is not None:
                floors[sound.number] = sound.hiss_dbfs
        if len(quietest) < 3:
            return
        usual = median(quietest)
        doubt, fail = HISS_OVER_OTHERS_DB
        for number, floor in sorted(floors.items()):
            over = floor - max(usual, -110.0)
            if floor > HISS_DBFS and over > doubt:
                yield self.noticed(
                    number, "hiss", "fail" if over > fail else "doubt", floor, "dBFS", HISS_DBFS,
                    f"channel {self.name(number)} hisses {over:.0f} dB more than the others "
                    f"({floor:.0f} dBFS from 4 to 12 kHz): a preamp turned up against a pad, a "
                    "noisy box, or a flat battery.",
                    sure_ratio=0.8,
                )  # fmt: skip

    def combs(self) -> Iterator[Noticed]:
        """A sound that meets itself a little later on the same channel."""
        for sound in self.channels:
            if sound.number in self.idle or sound.peak_dbfs < -50:
                continue
            found = comb(self.gathered.shape[sound.number - 1])
            if found is None:
                continue
            delay_ms, share, sure = found
            yield self.noticed(
                sound.number, "comb", "doubt", delay_ms, "ms", COMB_RATIO,
                f"channel {self.name(sound.number)} sounds as if it met itself {delay_ms:.2f} ms "
                f"later at {ratio_db(share):.0f} dB: the same source comes by two ways (two "
                "inputs open, a monitor of the input, a bus that returns).",
                sure_ratio=sure,
            )  # fmt: skip


def comb(power: "NDArray[np.float64]") -> tuple[float, float, float] | None:
    """Delay in ms and share of a second path, and how sure, from the ripple of a mean spectrum.

    Derived: of 1 + a delayed copy the logarithm of the power has the cosine 2a at that delay.
    """
    import numpy as np

    low, high = round(150 * STEP_S), min(len(power) - 1, round(16_000 * STEP_S))
    if high - low < 400:
        return None
    line = np.log(np.maximum(power[low:high], power[low:high].max() * 1e-12))
    wide = round(1000 * STEP_S * 1.5) | 1
    padded = np.pad(line, wide // 2, mode="reflect")
    line = line - np.convolve(padded, np.ones(wide) / wide, "valid")
    window = np.hanning(len(line))
    size = 1 << (4 * len(line) - 1).bit_length()
    places = np.arange(size // 2 + 1)
    # Turned so that a ripple with its crest at 0 Hz is real and above 0.
    ripple = 2 * np.fft.rfft(line * window, size) / window.sum()
    ripple = ripple * np.exp(-2j * np.pi * low * places / size)
    height = np.abs(ripple)
    delay_ms = places * (1000 * STEP_S / size)
    inside = (delay_ms >= COMB_MS[0]) & (delay_ms <= COMB_MS[1])
    usual = float(np.median(height[inside]))
    at = int(np.argmax(np.where(inside, height, 0)))
    share = float(height[at]) / 2
    stands = float(height[at]) / max(usual, 1e-9)
    if share < COMB_RATIO or stands < COMB_STANDS_RATIO:
        return None
    if abs(ripple[at].imag) > 0.5 * abs(ripple[at].real):
        return None
    # The lines of a note that is played all the time ripple too, but sharply: their second
    # multiple stands upright, that of a comb (-a squared) upside down.
    if float(ripple[2 * at].real) > 0.1 * float(height[at]):
        return None
    return float(delay_ms[at]), min(1.0, share), min(0.9, stands / 40)


def _shared(
    found: Sequence[Break], rate_hz: int, least: int
) -> tuple[list[list[Break]], list[Break]]:
    """Breaks at one time on many channels, and the rest."""
    groups: list[list[Break]] = []
    for one in sorted(found, key=lambda one: (one.at, one.channel)):
        if groups and one.at - groups[-1][0].at <= _AT_ONCE_SAMPLES:
            groups[-1].append(one)
        else:
            groups.append([one])
    shared = [group for group in groups if len({one.channel for one in group}) >= least]
    # A click a few milliseconds from such a place is its edge on a channel that was quiet.
    places = [one.at for group in shared for one in group]
    again = [one.at for one in found if one.kind == "repeat"]
    rest = [
        one
        for group in groups
        if group not in shared
        for one in group
        if all(
            abs(one.at - place) > rate_hz * 0.02
            for place in (*places, *(again if one.kind == "click" else ()))
        )
    ]
    return shared, rest
