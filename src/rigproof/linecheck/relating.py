"""Which channels carry the same thing: how alike, which way up, how much later, how much louder.

All of it comes from cross-spectra. Coherence says how far one channel follows from another; the
phase where they are coherent says how much later it is and whether it is turned over.
"""

from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.finding_marks import between
from rigproof.linecheck.gathering import BANK, LIKENESS_HZ, STEP_S, Gathered

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Spectrum = NDArray[np.complex128]
    Values = NDArray[np.float64]

LEAST_LIKENESS = 0.2
_REACH_S = 0.02
_FROM_HZ, _TO_HZ = 80.0, 10_000.0
_FINE = 16


class Relation(msgspec.Struct, frozen=True, kw_only=True):
    """One channel beside another, both counted from 0.

    `likeness_ratio`: mean coherence over octaves. `follows_ratio`: how high the peak of the
    correlation stands, of 1; `rival_ratio`: the highest of the other sign. `delay_samples`: how
    much later the second is. `error_ratio`: what is left of the second once the first is taken
    out of it, as power.
    """

    one: int
    other: int
    likeness_ratio: float
    follows_ratio: float
    rival_ratio: float
    upright: bool
    delay_samples: float
    level_db: float
    error_ratio: float
    stands_out_ratio: float  # the peak over the usual height of the correlation


class Likeness:
    """Coherence and phase between channels of one recording."""

    def __init__(self, gathered: Gathered) -> None:
        import numpy as np

        self.gathered = gathered
        self.looks = gathered.looks
        frequencies = np.arange(gathered.cross[0].shape[0]) / STEP_S
        self.heard = (frequencies >= _FROM_HZ) & (frequencies <= min(_TO_HZ, LIKENESS_HZ))
        weight = np.where(self.heard, 1 / np.maximum(frequencies, 1), 0)  # octaves count alike
        self.weight = weight / weight.sum()
        self.means = [self._mean(cross) for cross in gathered.cross]

    def _mean(self, cross: "NDArray[np.complex64]") -> "Values":
        """Mean coherence of all pairs of a bank, freed of what few looks make of nothing."""
        import numpy as np

        own = np.einsum("fcc->fc", cross).real.astype(np.float64)
        size = np.square(cross.real, dtype=np.float64) + np.square(cross.imag, dtype=np.float64)
        floor = own.max(axis=0, keepdims=True) * 1e-12 + 1e-30
        coherence = size / np.maximum(own[:, :, None] * own[:, None, :], (floor**2)[..., None])
        free = np.clip((coherence - 1 / max(2, self.looks)) / (1 - 1 / max(2, self.looks)), 0, 1)
        return np.einsum("f,fij->ij", self.weight, free)  # type: ignore[no-any-return]

    def likeness(self, one: int, other: int) -> float:
        """Mean coherence, 0 where the two are not in one bank."""
        if one // BANK != other // BANK:
            return 0.0
        return float(self.means[one // BANK][one % BANK, other % BANK])

    def pairs(self, least: float = LEAST_LIKENESS) -> list[tuple[int, int]]:
        """All pairs that are so much alike."""
        import numpy as np

        found: list[tuple[int, int]] = []
        for bank, mean in enumerate(self.means):
            ones, others = np.nonzero(np.triu(mean, 1) >= least)
            found.extend(
                (bank * BANK + one, bank * BANK + other)
                for one, other in zip(ones.tolist(), others.tolist(), strict=True)
            )
        return found

    def relation(self, one: int, other: int) -> Relation | None:
        """How the second stands to the first; None where they are not in one bank."""
        if one // BANK != other // BANK or one == other:
            return None
        cross = self.gathered.cross[one // BANK]
        one_, other_ = one % BANK, other % BANK
        return related(
            one,
            other,
            cross[:, other_, one_].astype("complex128"),
            cross[:, one_, one_].real.astype("float64"),
            cross[:, other_, other_].real.astype("float64"),
            looks=self.looks,
            rate_hz=self.gathered.rate_hz,
            likeness_ratio=self.likeness(one, other),
            heard=self.heard,
        )


def related(
    one: int,
    other: int,
    cross: "Spectrum",
    own_one: "Values",
    own_other: "Values",
    *,
    looks: int,
    rate_hz: int,
    likeness_ratio: float,
    heard: "NDArray[np.bool_]",
) -> Relation:
    """Read a pair's cross-spectrum (the second times the first's conjugate).

    The correlation is weighted by coherence and whitened (the phase transform), so its peak is
    sharp and a room's or an amplifier's colour does not move it.
    """
    import numpy as np
    from scipy.fft import irfft

    tiny = 1e-30 + 1e-9 * own_one.max() * own_other.max()
    coherence = np.square(np.abs(cross)) / np.maximum(own_one * own_other, tiny)
    weight = np.where(heard, np.clip(coherence - 2.0 / max(2, looks), 0, 1), 0)
    total = float(weight.sum()) or 1.0
    white = weight * cross / np.maximum(np.abs(cross), 1e-30)
    step = round(rate_hz * STEP_S)
    size = step * _FINE
    line = irfft(white, size) * size / 2 / total
    reach = round(_REACH_S * rate_hz) * _FINE
    near = np.concatenate((line[-reach:], line[: reach + 1]))
    at = int(np.argmax(np.abs(near)))
    peak = float(near[at])
    signed = -near if peak > 0 else near
    guard = 4 * _FINE
    rest = np.delete(np.abs(near), slice(max(0, at - guard), at + guard))
    loud = np.where(heard, own_one, 0)
    power_db = 10 * np.log10(
        max(float((own_other * heard).sum()), 1e-30) / max(float(loud.sum()), 1e-30)
    )
    return Relation(
        one=one,
        other=other,
        likeness_ratio=likeness_ratio,
        follows_ratio=abs(peak),
        rival_ratio=float(signed.max()),
        upright=peak > 0,
        delay_samples=(at - reach + between(np.abs(near), at)) / _FINE,
        level_db=float(power_db),
        error_ratio=float(
            1
            - (np.square(np.abs(cross))[heard] / np.maximum(own_one, tiny**0.5)[heard]).sum()
            / max(float(own_other[heard].sum()), 1e-30)
        ),
        stands_out_ratio=abs(peak) / max(float(np.sqrt(np.square(rest).mean())), 1e-9),
    )
