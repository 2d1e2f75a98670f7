"""A closer look, sample by sample, at the places where one pass over a recording saw something.

The pass is coarse and cheap; what it suspects is read again here and either holds or does not.
"""

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Literal

import msgspec

from rigproof.linecheck.gathering import Gathered
from rigproof.linecheck.sifting import NEAR_FULL, STEP_S
from rigproof.linecheck.silence import FLOOR_DBFS, Hum, hum_of_lines, lines_of
from rigproof.linecheck.taking import Reader

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Sound = NDArray[np.float32]

# How many places of a channel are looked at: enough to count to "often".
_MOST_BREAKS, _MOST_TOPS, _MOST_LOOKS = 24, 16, 440
_BEND_CREST = 11.0  # noise reaches 4.5 in a tenth of a second
_CUT_DB = 30.0  # a fall or rise between neighbouring tenths worth a look
_PREDICTED_FROM = 24  # samples
_SURPRISE_RATIO = 45.0
_NEAR = 300  # samples to either side that tell what is usual
_APART_DB = 20.0
_ONSET_DB = 8.0
_AGAIN_RATIO = 0.4
_ZEROS_S = 0.0004
_AROUND_S, _AIR_S = 0.1, 0.03  # 10 m of air
_AT_ONCE = 6  # samples
_SHARPER_RATIO, _SHARP_RATIO = 3.0, 300.0

BreakKind = Literal["click", "cut", "gap", "repeat"]


class Break(msgspec.Struct, frozen=True, kw_only=True):
    """A place where the sound does not go on as it went. Channels count from 0 here.

    `samples`: the length of a gap or of what is repeated.
    """

    channel: int
    at: int
    kind: BreakKind
    surprise_ratio: float
    samples: int = 0


class Tops(msgspec.Struct, frozen=True):
    """Flat tops of one channel within a tenth of a second: where, and how long the longest is."""

    channel: int
    tenth: int
    samples: int


def breaks(reader: Reader, gathered: Gathered) -> Iterator[Break]:
    """Clicks, cuts, gaps and repeated stretches."""
    found = list(_suspects(reader, gathered))
    clicks = [one for one in found if one.kind == "click"]
    apart = round(gathered.rate_hz * _AIR_S)
    # What two microphones hear one after the other was played, whichever has it sharper.
    played = [
        one
        for one in clicks
        if any(
            other.channel != one.channel and _AT_ONCE < abs(other.at - one.at) <= apart
            for other in clicks
        )
        or _by_air(reader, one, gathered)
    ]
    for one in found:
        if one.kind != "click" or all(abs(one.at - other.at) > apart for other in played):
            yield one


def _by_air(reader: Reader, click: Break, gathered: Gathered) -> bool:
    """Whether other microphones have the same click, sharper and at another time.

    A stick or a sampler may begin as hard as a fault; but then it comes by air, and is sharpest
    in the microphone that stands nearest.
    """
    import numpy as np

    around, apart = (round(gathered.rate_hz * one) for one in (_AROUND_S, _AIR_S))
    first = max(0, click.at - around)
    sounds = reader.channels(first, click.at + around - first, range(gathered.channels))
    bends = np.abs(np.diff(sounds, n=2, axis=1))
    bends /= np.median(bends, axis=1, keepdims=True) + 2e-7
    middle = click.at - first
    own = bends[click.channel, max(0, middle - _AT_ONCE) : middle + _AT_ONCE].max(initial=0)
    near = bends[:, max(0, middle - apart) : middle + apart].copy()
    middle = min(middle, apart)
    near[:, max(0, middle - _AT_ONCE) : middle + _AT_ONCE] = 0
    others = np.delete(near.max(axis=1, initial=0), click.channel)
    return bool(others.max(initial=0) > max(_SHARPER_RATIO * own, _SHARP_RATIO))


def _suspects(reader: Reader, gathered: Gathered) -> Iterator[Break]:
    for tenth, channels in _by_tenth(_suspected(gathered)):
        step = round(gathered.rate_hz * STEP_S)
        first = max(0, (tenth - 1) * step)
        inner = tenth * step - first
        around = reader.channels(first, (tenth + 2) * step - first, channels)
        for channel, sound in zip(channels, around, strict=True):
            yield from _breaks_in(sound, channel, first, inner, step, gathered.rate_hz)


def tops(reader: Reader, gathered: Gathered) -> Iterator[Tops]:
    """Flat tops, at full scale or under it."""
    import numpy as np

    highest = gathered.peak.max(axis=1)
    asked: list[tuple[int, int]] = []
    for channel, top in enumerate(highest.tolist()):
        if top < 1e-3:
            continue
        near = np.flatnonzero(gathered.peak[channel] > 0.96 * top)
        ranked = near[np.argsort(-gathered.peak[channel, near], kind="stable")]
        asked.extend((int(tenth), channel) for tenth in ranked[:_MOST_TOPS])
    step = round(gathered.rate_hz * STEP_S)
    for tenth, channels in _by_tenth(asked):
        sounds = reader.channels(tenth * step, step, channels)
        for channel, sound in zip(channels, sounds, strict=True):
            longest = _flat_top(sound, float(highest[channel]))
            if longest:
                yield Tops(channel, tenth, longest)


def _by_tenth(asked: Iterable[tuple[int, int]]) -> list[tuple[int, list[int]]]:
    found: dict[int, list[int]] = {}
    for tenth, channel in sorted(set(asked)):
        found.setdefault(tenth, []).append(channel)
    return list(found.items())


def _suspected(gathered: Gathered) -> Iterator[tuple[int, int]]:
    """Tenths with a bend far above what is usual in them, a fall or rise, or a run of noughts."""
    import numpy as np

    quiet = 1e-9
    crest = gathered.bends / np.sqrt(np.maximum(gathered.bend_square, 1e-14))
    level = 10 * np.log10(np.maximum(gathered.mean_square, quiet))
    least = max(3, round(_ZEROS_S * gathered.rate_hz))
    most = max(6, min(_MOST_BREAKS, _MOST_LOOKS // gathered.channels))
    for channel in range(gathered.channels):
        if gathered.peak[channel].max() < 1e-3:
            continue
        worth = crest[channel] * (gathered.bends[channel] > 3e-4)
        yield from _ranked(worth, _BEND_CREST, channel, most)
        steps = np.abs(np.diff(level[channel]))
        for tenth, _ in _ranked(steps, _CUT_DB, channel, most // 2):
            yield tenth, channel
            yield min(tenth + 1, gathered.steps - 1), channel
        zeros = gathered.zeros[channel]
        loud = np.maximum.reduce(
            [np.roll(gathered.mean_square[channel], shift) for shift in (-1, 0, 1)]
        )
        partly = zeros * ((loud > 1e-7) & (zeros < round(gathered.rate_hz * STEP_S)))
        yield from _ranked(partly, least, channel, most // 2)


def _ranked(
    values: "NDArray[np.floating]", least: float, channel: int, most: int
) -> Iterator[tuple[int, int]]:
    import numpy as np

    over = np.flatnonzero(values >= least)
    for tenth in over[np.argsort(-values[over], kind="stable")][:most].tolist():
        yield tenth, channel


def _breaks_in(
    sound: "Sound", channel: int, first: int, inner: int, step: int, rate_hz: int
) -> Iterator[Break]:
    """Breaks in the middle tenth of a stretch of three."""
    import numpy as np

    found: list[int] = []
    for begin, length in _runs_of_zero(sound, max(3, round(_ZEROS_S * rate_hz))):
        if not inner <= begin < inner + step:
            continue
        before, after = sound[max(0, begin - _NEAR) : begin], sound[begin + length :][:_NEAR]
        if _torn(before[::-1]) and _torn(after):
            found.append(begin)
            found.append(begin + length)
            yield Break(
                channel=channel, at=first + begin, kind="gap", surprise_ratio=99.0, samples=length
            )
    bends = np.abs(np.diff(sound[inner : inner + step], n=2))
    for _ in range(3):
        if not len(bends) or bends.max() < 3e-4:
            return
        at = inner + int(np.argmax(bends)) + 1
        bends[max(0, at - inner - 40) : at - inner + 40] = 0
        if any(abs(at - other) < 40 for other in found):
            continue
        ratio, kind = _surprise(sound, at)
        if ratio < _SURPRISE_RATIO:
            return
        found.append(at)
        again = _repeated(sound, at)
        yield Break(
            channel=channel,
            at=first + at,
            kind="repeat" if again else kind,
            surprise_ratio=ratio,
            samples=again,
        )


def _runs_of_zero(sound: "Sound", least: int) -> Iterator[tuple[int, int]]:
    import numpy as np

    edges = np.flatnonzero(np.diff(np.concatenate(([0], (sound == 0).view(np.int8), [0]))))
    for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if end - begin >= least:
            yield begin, end - begin


def _torn(sound: "Sound") -> bool:
    """Whether a sound that borders on silence breaks off there, and does not fade."""
    import numpy as np

    if len(sound) < 32:
        return False
    usual = float(np.sqrt(np.square(np.diff(sound)).mean()))
    return bool(abs(sound[0]) > 4 * usual and abs(sound[0]) > 1e-3)


def _surprise(sound: "Sound", at: int) -> tuple[float, BreakKind]:
    """How far a sample is from what those before it foretell, over what is usual around it.

    A stroke goes on to surprise for milliseconds, a break for as many samples as foretell.
    """
    import numpy as np
    from scipy.linalg import LinAlgError, solve_toeplitz

    before = sound[max(0, at - 2400) : max(0, at - 2)].astype(np.float64)
    after = sound[at + 3 : at + 2403].astype(np.float64)
    if len(before) < 2 * _NEAR or len(after) < 2 * _NEAR:
        return 0.0, "click"
    near_db = [
        10 * np.log10(np.square(side[:600]).mean() + 1e-14) for side in (before[::-1], after)
    ]
    if near_db[1] - near_db[0] > _ONSET_DB:
        return 0.0, "click"  # a sound begins: samplers and sticks start as hard as a fault would
    louder = before if np.square(before).mean() >= np.square(after).mean() else after
    size = len(louder)
    louder = louder * np.hanning(size)
    bands = np.array(
        [np.vecdot(louder[: size - lag], louder[lag:]) for lag in range(_PREDICTED_FROM + 1)]
    )
    if bands[0] <= 1e-12:
        return 0.0, "click"
    bands[0] *= 1 + 1e-9
    try:
        forth = solve_toeplitz(bands[:-1], bands[1:])
    except LinAlgError:
        return 0.0, "click"
    begin = max(0, at - 2400)
    heard = sound[begin : at + 2403].astype(np.float64)
    left = np.abs(np.convolve(heard, np.concatenate(([1.0], -forth)))[: len(heard)])
    middle, guard = at - begin, _PREDICTED_FROM + 8
    sides = left[middle - _NEAR : middle - 8], left[middle + guard : middle + guard + _NEAR]
    usual = max(float(np.quantile(side, 0.75)) for side in sides) + 2e-7
    spike = float(left[middle - 6 : middle + guard].max())
    # The hard edges of a synthesiser's wave come back with every period.
    elsewhere = max(left[2 * _PREDICTED_FROM : middle - 8].max(), left[middle + guard :].max())
    if elsewhere > _AGAIN_RATIO * spike:
        return 0.0, "click"
    kind: BreakKind = "cut" if near_db[0] - near_db[1] > _APART_DB else "click"
    return spike / usual, kind


def _repeated(sound: "Sound", at: int) -> int:
    """How many samples before a break begins what stands behind it, sample for sample; else 0."""
    import numpy as np

    for start in (at, at - 1, at + 1):
        fresh = sound[start : start + 24]
        if len(fresh) < 24 or np.ptp(fresh) == 0:
            continue
        past = sound[:start]
        for lag in range(24, min(4097, len(past))):
            if past[-lag] == fresh[0] and np.array_equal(
                sound[start - lag : start - lag + 24], fresh
            ):
                return lag
    return 0


def _flat_top(sound: "Sound", highest: float) -> int:
    """The longest flat top, in samples; 0 where the tops are round.

    A top is flat where four samples and more stand still within 0.03 % of the highest sample and
    the ways up to it and down from it are ten times as steep; or three at full scale.
    """
    import numpy as np

    size = np.abs(sound)
    steps = np.abs(np.diff(sound))
    still = (steps <= 3e-4 * highest) & (size[1:] > 0.9 * highest)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], still.view(np.int8), [0]))))
    longest = 0
    for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        samples = end - begin + 1
        full = bool(size[begin] >= NEAR_FULL and samples >= 3)
        up = steps[begin - 1] if begin > 0 else 0.0
        down = steps[end] if end < len(steps) else 0.0
        if full or (samples >= 4 and min(up, down) > 3e-3 * highest):
            longest = max(longest, samples)
    return longest


_QUIET_S, _MOST_QUIET, _HEARD_IN = 3.0, 12, 3
_PIECE_S = 0.25
_BESIDE_HZ, _NARROW_RATIO, _SPREAD_HZ = 4.0, 4.0, 0.35
_LOW_HARMONICS, _HIGH_LINES = 5, 4
_STEADY_RATIO = 0.5  # how far a line of hum may sink for a moment


def hums(reader: Reader, gathered: Gathered) -> dict[int, Hum]:
    """Mains hum by channel: what stands in the quietest stretches alike, and never stops.

    A kick drum may ring at 50 Hz, and a bass play near it; neither does so all the time.
    """
    import numpy as np

    size = round(min(_QUIET_S, gathered.frames / gathered.rate_hz) * gathered.rate_hz)
    if size < gathered.rate_hz:
        return {}
    starts, chosen = _quiet(gathered, size)
    heard: dict[int, list[Sound]] = {}
    for start in sorted({one for mine in chosen for one in mine}):
        wanted = [channel for channel, mine in enumerate(chosen) if start in mine]
        sounds = reader.channels(starts[start], size, wanted)
        if sounds.shape[1] == size:
            for channel, sound in zip(wanted, sounds, strict=True):
                heard.setdefault(channel, []).append(sound)
    found = {}
    for channel, stretches in heard.items():
        spacing_hz = gathered.rate_hz / size
        lines = np.minimum.reduce([lines_of(one) for one in stretches])
        hum = hum_of_lines(lines, spacing_hz=spacing_hz)
        hum = hum and _steady(hum, lines, stretches, gathered.rate_hz)
        if hum is not None:
            found[channel] = hum
    return found


def _steady(
    hum: Hum, lines: "NDArray[np.float64]", stretches: "Sequence[Sound]", rate_hz: int
) -> Hum | None:
    """The lines of a hum that never stop; None where they are too few to be one."""
    import numpy as np

    size = len(stretches[0])
    piece = round(_PIECE_S * rate_hz)
    window = np.hanning(piece)
    pieces = np.concatenate(
        [one[: size // piece * piece].reshape(-1, piece) for one in stretches]
    ).astype(np.float64)
    t = np.arange(piece) / rate_hz
    spacing_hz = rate_hz / size
    levels, mains = [], []
    for harmonic, level_dbfs in enumerate(hum.levels_dbfs, 1):
        levels.append(FLOOR_DBFS)
        if level_dbfs <= FLOOR_DBFS:
            continue
        middle = harmonic * hum.mains_hz / spacing_hz
        reach = 0.4 * harmonic / spacing_hz + 2
        low = round(middle - reach)
        at = low + int(np.argmax(lines[low : round(middle + reach) + 1]))
        turn = 2 * np.pi * at * spacing_hz * t
        # Sums of products, not products of matrices: those would wake threads for each line.
        level, quarter = (
            (pieces * (part * window)).sum(axis=1) for part in (np.cos(turn), np.sin(turn))
        )
        sizes = 2 * np.hypot(level, quarter) / window.sum()
        steady = float(np.quantile(sizes, 0.1)) > _STEADY_RATIO * float(np.median(sizes))
        # A line of hum is as narrow as the window lets it be; strokes and notes are broad.
        wide = round(_BESIDE_HZ / spacing_hz)
        beside = np.concatenate((lines[max(0, at - wide) : at - 3], lines[at + 4 : at + 1 + wide]))
        narrow = lines[at] > _NARROW_RATIO * beside.max(initial=0)
        if steady or narrow:
            levels[-1] = level_dbfs
            mains.append(at * spacing_hz / harmonic)
    kept = [place for place, level in enumerate(levels) if level > FLOOR_DBFS]
    if not kept or (len(kept) < 2 and kept != [0]) or max(mains) - min(mains) > _SPREAD_HZ:
        return None
    if min(kept) >= _LOW_HARMONICS and len(kept) < _HIGH_LINES:
        return None  # a note or two that are held, high above any mains
    return Hum(hum.mains_hz, tuple(levels))


def _quiet(gathered: Gathered, size: int) -> "tuple[list[int], Sequence[set[int]]]":
    """Where stretches begin, and which of them each channel is to be heard in."""
    import numpy as np

    step = round(gathered.rate_hz * STEP_S)
    span = max(1, size // step)
    grid = list(range(0, max(1, gathered.steps - span + 1), max(1, span // 2)))
    total = np.concatenate(
        (np.zeros((gathered.channels, 1)), np.cumsum(gathered.mean_square, axis=1)),
        axis=1,
        dtype=np.float64,
    )
    ends = np.minimum(np.array(grid) + span, gathered.steps)
    sums: NDArray[np.float64] = (total[:, ends] - total[:, grid]).astype(np.float64)
    level = 10 * np.log10(sums / span + 1e-14)
    over = level - level.min(axis=1, keepdims=True)
    picked: list[int] = []
    need = np.full(gathered.channels, _HEARD_IN)
    while need.any() and len(picked) < min(_MOST_QUIET, len(grid)):
        gain = (np.where(need[:, None] > 0, 20 / (3 + over), 0)).sum(axis=0)
        for other in picked:  # those that overlap tell nothing new
            gain[max(0, other - 1) : other + 2] = 0
        best = int(np.argmax(gain))
        if gain[best] <= 0:
            break
        picked.append(best)
        need[(over[:, best] < 6) & (need > 0)] -= 1
    chosen = []
    for channel in range(gathered.channels):
        ranked = sorted(picked, key=lambda one: (over[channel, one], one))
        chosen.append(set(ranked[:_HEARD_IN]))
    return [one * step for one in grid], chosen
