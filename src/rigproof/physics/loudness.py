"""Programme loudness and true peak, as ITU-R BS.1770 and EBU Tech 3341 and 3342 define them."""

from collections.abc import Sequence
from math import cos, log10, pi, tan

OFFSET_LUFS = -0.691
ABSOLUTE_GATE_LUFS = -70.0
RELATIVE_GATE_LU = -10.0
RANGE_GATE_LU = -20.0
BLOCK_S, BLOCK_STEP_S = 0.4, 0.1
SHORT_TERM_S = 3.0

SURROUND_RATIO = 1.41  # the weight of channels at the sides and behind: BS.1770-5, Annex 1, Table 3

# Four times the samples: each row gives one of the four between two. ITU-R BS.1770-5, Annex 2.
_FIRST = (
    0.0017089843750, 0.0109863281250, -0.0196533203125, 0.0332031250000,
    -0.0594482421875, 0.1373291015625, 0.9721679687500, -0.1022949218750,
    0.0476074218750, -0.0266113281250, 0.0148925781250, -0.0083007812500,
)  # fmt: skip
_SECOND = (
    -0.0291748046875, 0.0292968750000, -0.0517578125000, 0.0891113281250,
    -0.1665039062500, 0.4650878906250, 0.7797851562500, -0.2003173828125,
    0.1015625000000, -0.0582275390625, 0.0330810546875, -0.0189208984375,
)  # fmt: skip
TRUE_PEAK_TAPS = (_FIRST, _SECOND, _SECOND[::-1], _FIRST[::-1])

Biquad = tuple[float, float, float, float, float, float]  # b0 b1 b2 a0 a1 a2, a0 = 1


def k_weighting_gain_ratio(*, rate_hz: float) -> tuple[Biquad, Biquad]:
    """The two filters of the K weighting at any rate: the shelf, then the high-pass.

    Source: ITU-R BS.1770-5, Annex 1, Tables 1 and 2, which give them at 48 kHz; at other rates the
    analogue filters that those tables are the bilinear image of, with the constants that
    reproduce the tables to their last digit.

    >>> [round(x, 8) for x in k_weighting_gain_ratio(rate_hz=48_000)[0][:2]]
    [1.53512486, -2.69169619]
    """
    middle_hz, gain_db, q = 1681.974450955533, 3.999843853973347, 0.7071752369554196
    k = tan(pi * middle_hz / rate_hz)
    high = 10 ** (gain_db / 20)
    band = high**0.4996667741545416
    a0 = 1 + k / q + k * k
    shelf = (
        (high + band * k / q + k * k) / a0,
        2 * (k * k - high) / a0,
        (high - band * k / q + k * k) / a0,
        1.0,
        2 * (k * k - 1) / a0,
        (1 - k / q + k * k) / a0,
    )
    low_hz, low_q = 38.13547087602444, 0.5003270373238773
    k = tan(pi * low_hz / rate_hz)
    a0 = 1 + k / low_q + k * k
    high_pass = (1.0, -2.0, 1.0, 1.0, 2 * (k * k - 1) / a0, (1 - k / low_q + k * k) / a0)
    return shelf, high_pass


def loudness_lufs(*, power_ratio: float) -> float:
    """The loudness of K-weighted power, summed over the channels.

    Source: ITU-R BS.1770-5, Annex 1: -0.691 + 10 lg of the sum of the channels' mean squares.

    >>> round(loudness_lufs(power_ratio=10 ** (0.0691 - 2.3)), 3)
    -23.0
    """
    return OFFSET_LUFS + 10 * log10(power_ratio) if power_ratio > 0 else float("-inf")


def integrated_lufs(*, block_power_ratio: Sequence[float]) -> float:
    """Gated loudness of blocks of 400 ms that overlap by three quarters.

    Source: ITU-R BS.1770-5, Annex 1: the absolute gate at -70 LUFS, then the relative one 10 LU
    under the loudness of what is left. Minus infinity where nothing passes.

    >>> round(integrated_lufs(block_power_ratio=[10 ** (0.0691 - 2.3)] * 9 + [1e-9]), 3)
    -23.0
    """
    floor = _power(ABSOLUTE_GATE_LUFS)
    loud = [power for power in block_power_ratio if power > floor]
    if not loud:
        return float("-inf")
    gate = sum(loud) / len(loud) * 10 ** (RELATIVE_GATE_LU / 10)
    kept = [power for power in loud if power > gate]
    return loudness_lufs(power_ratio=sum(kept) / len(kept))


def range_lu(*, short_term_power_ratio: Sequence[float]) -> float:
    """The loudness range of short-term values (3 s), taken at least ten times a second.

    Source: EBU Tech 3342: gates at -70 LUFS and 20 LU under the mean of what is left; the spread
    from the 10th to the 95th percentile. 0 where nothing passes.

    >>> round(range_lu(short_term_power_ratio=[1e-3] * 50 + [1e-2] * 50), 1)
    10.0
    """
    floor = _power(ABSOLUTE_GATE_LUFS)
    loud = [power for power in short_term_power_ratio if power > floor]
    if not loud:
        return 0.0
    gate = sum(loud) / len(loud) * 10 ** (RANGE_GATE_LU / 10)
    kept = sorted(power for power in loud if power > gate)
    low, high = (kept[round((len(kept) - 1) * share)] for share in (0.10, 0.95))
    return 10 * log10(high / low)


def under_read_db(*, oversampling_ratio: float, frequency_ratio: float) -> float:
    """How far a peak meter may read under a tone's true peak, at worst.

    Source: ITU-R BS.1770-5, Annex 2: 20 lg cos(pi f / n), f the frequency over the sampling rate,
    n how many times the samples are.

    >>> round(under_read_db(oversampling_ratio=4, frequency_ratio=0.5), 3)
    -0.688
    """
    return 20 * log10(cos(pi * frequency_ratio / oversampling_ratio))


def _power(level_lufs: float) -> float:
    return 10 ** ((level_lufs - OFFSET_LUFS) / 10)
