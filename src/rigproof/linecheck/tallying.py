"""How high and how loud each channel of a take is while it plays."""

from collections.abc import Mapping
from math import isfinite, log10
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.taking import Take, stretches
from rigproof.physics.loudness import (
    ABSOLUTE_GATE_LUFS,
    OFFSET_LUFS,
    RELATIVE_GATE_LU,
    integrated_lufs,
    loudness_lufs,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from rigproof.linecheck.gathering import Gathered

# Quieter than this, nobody played: the hiss of a preamp, not a source. Common practice, no source.
SILENT_LUFS = -60.0
FULL_DBFS = -0.1  # a peak this near full scale may have been cut off
FLOOR_DBFS = -200.0


class Tally(msgspec.Struct, frozen=True, kw_only=True):
    """One channel of a take. `playing_lufs`: its loudness while it plays; None where it does not.

    `power` is the K-weighted mean square behind that figure. `playing_ratio`: how much of the take
    it plays.
    """

    number: int
    peak_dbfs: float
    true_peak_dbfs: float
    playing_lufs: float | None
    playing_ratio: float

    @property
    def power(self) -> float:
        if self.playing_lufs is None:
            return 0.0
        return float(10 ** ((self.playing_lufs - OFFSET_LUFS) / 10))

    @property
    def clipped(self) -> bool:
        return self.peak_dbfs >= FULL_DBFS


def gathered_of(take: Take) -> "Gathered":
    """What one pass over a take gathers."""
    from rigproof.linecheck.gathering import Gatherer

    gatherer = Gatherer(channels=take.channels, rate_hz=take.rate_hz, frames=take.frames)
    for stretch in stretches(take):
        gatherer.take(stretch)
    return gatherer.so_far()


def tallies_of(gathered: "Gathered") -> tuple[Tally, ...]:
    """Every channel of a take, of what one pass has gathered.

    The loudness is that of ITU-R BS.1770 with both its gates, so that rests do not count.
    """
    return tuple(_tally(gathered, place) for place in range(gathered.channels))


def _tally(gathered: "Gathered", place: int) -> Tally:
    import numpy as np

    powers = _block_powers(gathered.weighted[place].astype(np.float64))
    loud_lufs = integrated_lufs(block_power_ratio=powers.tolist())
    plays = isfinite(loud_lufs) and loud_lufs > SILENT_LUFS
    gate_lufs = max(ABSOLUTE_GATE_LUFS, loud_lufs + RELATIVE_GATE_LU) if plays else 0.0
    over = sum(loudness_lufs(power_ratio=power) > gate_lufs for power in powers.tolist())
    return Tally(
        number=place + 1,
        peak_dbfs=_level(float(gathered.peak[place].max())),
        true_peak_dbfs=_level(float(gathered.true_peak[place])),
        playing_lufs=loud_lufs if plays else None,
        playing_ratio=over / len(powers) if plays and len(powers) else 0.0,
    )


def _block_powers(tenths: "NDArray[np.float64]") -> "NDArray[np.float64]":
    """BS.1770: blocks of four tenths, one beginning at each tenth."""
    import numpy as np

    return np.convolve(tenths, np.full(4, 0.25), "valid") if len(tenths) >= 4 else tenths


def own_powers(gathered: "Gathered", leaks: Mapping[tuple[int, int], float]) -> dict[int, float]:
    """The K-weighted power of what is a channel's own, while it plays; 0 where it does not.

    `leaks`: (channel, other) -> the power that the other brings, over the other's own. It is taken
    out tenth by tenth, before the gates say when the channel plays.
    """
    import numpy as np

    weighted = gathered.weighted.astype(np.float64)
    found = {}
    for tally in tallies_of(gathered):
        place = tally.number - 1
        foreign = sum(
            (
                ratio * weighted[other - 1]
                for (channel, other), ratio in leaks.items()
                if channel == tally.number
            ),
            np.zeros_like(weighted[place]),
        )
        powers = _block_powers(np.maximum(weighted[place] - foreign, 0.0))
        loud_lufs = integrated_lufs(block_power_ratio=powers.tolist())
        plays = tally.power > 0 and isfinite(loud_lufs) and loud_lufs > SILENT_LUFS
        found[tally.number] = 10 ** ((loud_lufs - OFFSET_LUFS) / 10) if plays else 0.0
    return found


def _level(amplitude_ratio: float) -> float:
    return 20 * log10(amplitude_ratio) if amplitude_ratio > 0 else FLOOR_DBFS
