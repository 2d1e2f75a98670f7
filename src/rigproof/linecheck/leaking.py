"""What of one player stands in the microphone of another: bleed, told from a take by its delay.

Each microphone is explained by the channels of all other players together, at each frequency, so
that drums which leak into both a voice's and a guitar's microphone do not make the voice leak into
the guitar's. Sound reaches the far microphone later than its own: only what comes later counts,
which keeps one's own sound in the others' microphones out of it. Two halves of the frames are
explained apart and multiplied, so that chance, different in each, adds nothing on average. Music in
one tempo is alike enough all the same to be taken for a leak; so no leak may be louder than what
the microphone heard at its quietest while the other player was loud.
Derived: linear prediction by the method of least squares over cross spectra.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from math import log2
from typing import TYPE_CHECKING

from rigproof.linecheck.taking import Take, blocks
from rigproof.physics.loudness import k_weighting_gain_ratio

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table = NDArray[np.float64]
    Spectra = NDArray[np.complex64]

FRAME_S = 0.085  # the longest way that is followed is half of it
FRAMES = 4000
HIGH_HZ = 8000.0
EARLY_S, LATE_S = 0.0003, 0.035
FURTHER_RATIO = 0.7  # 3 dB: so much softer it is at least, further away
LEAST_RATIO = 0.003  # of a channel's power: less is not told from chance
_FLOOR = 3e-3  # of a channel's mean power over all frequencies
_LOUD_RATIO, _RESTS_RATIO = 1.0, 0.05
_LOADING = 1e-2  # of a channel's power at each frequency, against division by next to nothing

Leaks = Mapping[tuple[int, int], float]


def leaks(take: Take, hears: Mapping[int, Collection[int]], gains_db: Mapping[int, float]) -> Leaks:
    """(channel, other) -> the power of the other's sound there, over its power in its own channel.

    `hears`: for each channel that hears its surroundings the channels of other players. `gains_db`:
    from sound pressure at the microphone to the channel, by which a sound must be softer in the far
    microphone than in its own, where both are known. K-weighted, up to 8 kHz, over the whole take.
    """
    numbers = sorted({*hears, *(n for others in hears.values() for n in others)})
    numbers = [number for number in numbers if number <= take.channels]
    if not numbers:
        return {}
    halves = _cross_spectra(take, numbers)
    weights = _weights(take.rate_hz)
    place = {number: at for at, number in enumerate(numbers)}
    whole = halves[0] + halves[1]
    power = {number: float((whole[:, at, at].real * weights).sum()) for number, at in place.items()}
    loudest = max(power.values())
    heard = {number for number in numbers if power[number] > 1e-9 * loudest}
    found: dict[tuple[int, int], float] = {}
    for channel, others in sorted(hears.items()):
        if channel not in heard:
            continue
        # One's own other microphones explain as well, and what they explain is nobody's leak.
        by = sorted(heard - {channel})
        most = [
            FURTHER_RATIO * 10 ** ((gains_db[channel] - gains_db[other]) / 20)
            if channel in gains_db and other in gains_db
            else 1.0
            for other in by
        ]
        parts = _explained(
            halves, place[channel], [place[n] for n in by], weights, most, take.rate_hz
        )
        for other, part in zip(by, parts, strict=True):
            if other in others and part > LEAST_RATIO * power[channel]:
                found[channel, other] = part / power[other]
    return found


def held(leaks_: Leaks, tenths: "NDArray[np.float32]") -> Leaks:
    """The same, none louder than what the channel ever was while the other was loud.

    `tenths`: K-weighted power of each channel in each tenth of a second. Whatever leaks is there
    whenever its source sounds; where a microphone's own player rests in a twentieth of those
    moments, this alone tells it.
    """
    import numpy as np

    found = {}
    for (channel, other), ratio in leaks_.items():
        source, heard = tenths[[other - 1, channel - 1]].astype(np.float64)
        loud = source > _LOUD_RATIO * source.mean()
        if not loud.any():
            continue
        most = float(np.quantile(heard[loud] / source[loud], _RESTS_RATIO))
        kept = min(ratio, most)
        if kept * source.mean() > LEAST_RATIO * heard.mean():
            found[channel, other] = kept
    return found


def _size(rate_hz: int) -> int:
    return int(2 ** round(log2(rate_hz * FRAME_S)))


def _weights(rate_hz: int) -> "Table":
    """The power that the K curve leaves of each frequency."""
    import numpy as np
    from scipy.signal import sosfreqz

    size = _size(rate_hz)
    frequencies = np.arange(size // 2 + 1) * rate_hz / size
    curve = np.array(k_weighting_gain_ratio(rate_hz=rate_hz))
    _, response = sosfreqz(curve, worN=frequencies[frequencies <= HIGH_HZ], fs=rate_hz)
    return np.asarray(np.square(np.abs(response)), np.float64)


def _cross_spectra(take: Take, numbers: Sequence[int]) -> "tuple[Spectra, Spectra]":
    """The cross spectra of some channels, by frequency, of every other frame and of the rest."""
    import numpy as np
    from scipy.fft import rfft

    size = _size(take.rate_hz)
    high = int(HIGH_HZ * size / take.rate_hz) + 1
    window = np.hanning(size).astype(np.float32)
    places = [number - 1 for number in numbers]
    sums = [np.zeros((high, len(numbers), len(numbers)), np.complex64) for _ in range(2)]
    for number, frames in enumerate(_frames(take, places, size)):
        spectra = rfft(frames * window[:, None], axis=1)[:, :high]
        by_frequency = np.ascontiguousarray(spectra.transpose(1, 2, 0))  # frequency, channel, frame
        sums[number % 2] += by_frequency @ by_frequency.conj().transpose(0, 2, 1)
    return sums[0], sums[1]


def _frames(take: Take, places: Sequence[int], size: int) -> "Iterator[NDArray[np.float32]]":
    """Frames of the take, spread over it; some at a time, neighbours together."""
    import numpy as np

    hop = max(size // 2, take.frames // FRAMES)
    for block in blocks(take):
        starts = range(0, len(block) - size + 1, hop)
        if not len(starts):
            continue
        part = np.nan_to_num(block[:, places], posinf=0.0, neginf=0.0)
        # Each half of a block lies in one lot: neighbours overlap, and the lots must differ.
        for lot in np.array_split(np.array(starts), 2):
            if len(lot):
                yield np.stack([part[at : at + size] for at in lot])


def _explained(
    halves: "tuple[Spectra, Spectra]",
    channel: int,
    others: Sequence[int],
    weights: "Table",
    most_ratio: Sequence[float],
    rate_hz: int,
) -> list[float]:
    """How much of a channel's power each of the others brings there."""
    import numpy as np

    high = len(weights)
    ways = [_later(_ways(half[:high], channel, others), rate_hz) for half in halves]
    # Louder far away than near its source: then it is the other that leaks, told backwards.
    softer = np.abs((ways[0] + ways[1]) / 2) < np.array(most_ratio)
    ways = [way * softer for way in ways]
    among = (halves[0] + halves[1])[:high][:, others][:, :, others]
    # The channel's prediction is sum_s H_s X_s; its power H S H*, with chance apart in each H.
    one = np.einsum("fs,fst,ft->fs", ways[0], among, ways[1].conj()).real
    other = np.einsum("fs,fst,ft->fs", ways[1], among, ways[0].conj()).real
    found: list[float] = ((one + other) / 2 * weights[:, None]).sum(axis=0).tolist()
    return found


def _ways(half: "Spectra", channel: int, others: Sequence[int]) -> "Spectra":
    """The transfer from each of the others to a channel, at each frequency."""
    import numpy as np

    among = half[:, others][:, :, others].astype(np.complex128)
    across = half[:, [channel]][:, :, others].astype(np.complex128)
    power = np.einsum("fss->fs", among).real
    # Against each channel's own power, and its mean: where it hardly sounds it explains nothing.
    loading = _LOADING * power + _FLOOR * power.mean(axis=0) + 1e-30
    place = np.arange(len(others))
    among[:, place, place] += loading
    solved = np.linalg.solve(among.transpose(0, 2, 1), across.transpose(0, 2, 1))
    found: Spectra = solved[:, :, 0]
    return found


def _later(ways: "Spectra", rate_hz: int) -> "Spectra":
    """The same without what comes earlier than sound can, or later than a room rings."""
    import numpy as np
    from scipy.fft import irfft, rfft

    size = _size(rate_hz)
    full = np.zeros((size // 2 + 1, ways.shape[1]), np.complex128)
    full[: len(ways)] = ways
    response = irfft(full, size, axis=0)
    late, early = round(LATE_S * rate_hz), round(EARLY_S * rate_hz)
    response[late : size - early] = 0
    found: Spectra = rfft(response, axis=0)[: len(ways)]
    return found
