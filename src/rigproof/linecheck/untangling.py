"""What stands in a channel at once with another, once all that the others explain is taken out.

Sound through the air takes its time; what leaks in a wire is there at once, as loud whichever
sounds carry it. A third source as far from two microphones as from one another is there at once
too: but it stands on further channels, and goes with what they explain. So a leak counts where it
is seen plainly and among all channels together, at one level and with one sign. It is looked for
as wires pass it on: alike at all frequencies, as joined wires do, and rising with frequency, as
wires do that only lie side by side.
Derived: matched filter over the cross-spectrum, weighted by what else stands in the channel; the
same over the cross-spectrum given all other channels, from the inverse of their matrix.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.gathering import BANK, LIKENESS_HZ, STEP_S, Gathered

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Spectra = NDArray[np.complexfloating]
    Values = NDArray[np.float64]


class Leak(msgspec.Struct, frozen=True, kw_only=True):
    """What of one channel stands in another at once; both counted from 0.

    `level_db`: at all frequencies, or at 4 kHz where it rises with frequency.
    """

    source: int
    into: int
    level_db: float
    sure_ratio: float


# Common practice, no source; tried on takes of our own.
_AT_ONCE_S = 6e-6  # 2 mm of air
_BESIDE_S = 83e-6, 0.42e-3  # where nothing higher may stand: a microphone 3 to 14 cm away
_FAR_S = 0.01, 0.05
_POINTS = 19_200  # of a tenth of a second
_FROM_HZ, _RISES_AT_HZ = 80.0, 4000.0
_BESIDE_RATIO, _STANDS_RATIO, _RISING_STANDS_RATIO = 0.9, 1.4, 10.0
_ONE_LEVEL_DB = 3.0
_MOST_DB = -6.0  # more is a sum, or one source
_LOADING, _FLOOR = 1e-3, 1e-9  # of a channel's power at each frequency, and of its mean
_LOOKS_PER_CHANNEL = 3  # fewer do not tell the channels apart


class _Seen(msgspec.Struct, frozen=True):
    """The peak nearest to no delay: level with sign, and height over what is usual."""

    gain_ratio: float
    stands_ratio: float


def leaks(
    gathered: Gathered,
    asked: Iterable[tuple[int, int]],
    *,
    busy: Collection[int],
    partners: Mapping[int, int],
) -> Iterator[Leak]:
    """What leaks from a source into a channel, of those asked for: (source, into).

    `busy`: the channels on which anything sounds. `partners`: the other sides of stereo pairs,
    which hold a source as it holds itself.
    """
    import numpy as np

    inverse: dict[int, tuple[list[int], Spectra]] = {}
    frequencies = np.arange(int(LIKENESS_HZ * STEP_S) + 1) / STEP_S
    heard = frequencies >= _FROM_HZ
    # What chance makes of two shapes is more than of one: the seldom one has to stand out.
    shapes = (
        (heard.astype(np.complex128), _STANDS_RATIO),
        (1j * heard * frequencies / _RISES_AT_HZ, _RISING_STANDS_RATIO),
    )
    for source, into in asked:
        bank = source // BANK
        if bank != into // BANK:
            continue
        cross = gathered.cross[bank]
        one, other = source % BANK, into % BANK
        plain = cross[:, [one, other]][:, :, [one, other]].astype(np.complex128)
        for shape, least in shapes:
            first = _at_once(plain, shape[: len(plain)])
            if first is None or first.stands_ratio < least:
                continue
            if bank not in inverse:
                inverse[bank] = _inverse(cross, [n % BANK for n in busy if n // BANK == bank])
            places, inner = inverse[bank]
            if gathered.looks < _LOOKS_PER_CHANNEL * len(places):
                return
            beside = partners.get(source, into)
            given = [places.index(n % BANK) for n in dict.fromkeys((source, into, beside))
                     if n // BANK == bank and n % BANK in places]  # fmt: skip
            second = _at_once(np.linalg.inv(inner[:, given][:, :, given])[:, :2, :2],
                              shape[: len(plain)])  # fmt: skip
            if second is None or second.stands_ratio < least:
                continue
            if first.gain_ratio * second.gain_ratio <= 0:
                continue
            levels = [20 * float(np.log10(abs(seen.gain_ratio))) for seen in (first, second)]
            if abs(levels[0] - levels[1]) > _ONE_LEVEL_DB or max(levels) > _MOST_DB:
                continue
            stands = min(first.stands_ratio, second.stands_ratio)
            yield Leak(
                source=source,
                into=into,
                level_db=levels[1],
                sure_ratio=stands / (stands + 1),
            )
            break


def _inverse(cross: "NDArray[np.complex64]", places: list[int]) -> "tuple[list[int], Spectra]":
    """The inverse of the cross-spectra of some channels, at each frequency."""
    import numpy as np

    among = cross[:, places][:, :, places].astype(np.complex128)
    power = np.einsum("fcc->fc", among).real
    place = np.arange(len(places))
    among[:, place, place] += _LOADING * power + _FLOOR * power.mean(axis=0) + 1e-30
    return places, np.linalg.inv(among)


def _at_once(spectra: "Spectra", shape: "Spectra") -> _Seen | None:
    """What of the first channel stands in the second at once; None where it comes by air.

    `shape`: how a leak would pass on each frequency.
    """
    import numpy as np
    from scipy.fft import irfft

    own, held = spectra[:, 0, 0].real, spectra[:, 1, 1].real
    among = np.abs(shape) > 0
    weight = np.where(among, 1 / np.maximum(held, 1e-9 * held[among].max() + 1e-30), 0)
    scale = float((weight * own * np.square(np.abs(shape))).sum())
    if scale <= 0:
        return None
    line = irfft(weight * spectra[:, 1, 0] * shape.conj(), _POINTS) * (_POINTS / 2 / scale)
    reach = round(_FAR_S[1] / STEP_S * _POINTS) - 1
    line = np.concatenate((line[-reach:], line[: reach + 1]))
    late_s = np.abs(np.arange(-reach, reach + 1)) * (STEP_S / _POINTS)
    size = np.abs(line)
    near = np.flatnonzero(late_s <= _AT_ONCE_S)
    peaks = near[(size[near] >= size[near - 1]) & (size[near] >= size[near + 1])]
    if not len(peaks):
        return None
    top = int(peaks[np.argmax(size[peaks])])
    beside = size[(late_s >= _BESIDE_S[0]) & (late_s <= _BESIDE_S[1])].max()
    usual = float(np.sqrt(np.square(line[late_s >= _FAR_S[0]]).mean())) + 1e-12
    if size[top] < _BESIDE_RATIO * beside:
        return None
    return _Seen(float(line[top]), float(size[top]) / usual)
