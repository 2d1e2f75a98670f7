"""Where analogue and digital levels meet: full scale, its noise, its clip point.

0 dBFS is a sine whose peaks touch full scale (AES17), so a converter's full scale in dBu is the
average level of that sine.
"""

from rigproof.physics._arrays import Floats

ALIGNMENT_EBU_DBFS: float = -18.0  # EBU R 68: 0 dBu
ALIGNMENT_SMPTE_DBFS: float = -20.0  # SMPTE RP 155: +4 dBu


def full_scale_dbu(*, line_dbu: Floats, alignment_dbfs: Floats) -> Floats:
    """The analogue level that reads 0 dBFS, from an alignment of the two scales.

    Source: EBU R 68 (0 dBu at -18 dBFS), SMPTE RP 155 (+4 dBu at -20 dBFS).

    >>> full_scale_dbu(line_dbu=4, alignment_dbfs=ALIGNMENT_SMPTE_DBFS)
    24.0
    """
    return line_dbu - alignment_dbfs


def dbu_to_dbfs(*, level_dbu: Floats, full_scale_dbu: Floats) -> Floats:
    """What a converter reads of an analogue level. Above 0 it clips.

    Derived: definition of full scale.

    >>> dbu_to_dbfs(level_dbu=4, full_scale_dbu=18)
    -14
    """
    return level_dbu - full_scale_dbu


def dbfs_to_dbu(*, level_dbfs: Floats, full_scale_dbu: Floats) -> Floats:
    """The analogue level that a converter makes of a digital one.

    Derived: definition of full scale.

    >>> dbfs_to_dbu(level_dbfs=-20, full_scale_dbu=24)
    4
    """
    return level_dbfs + full_scale_dbu


def clip_dbfs(*, output_full_scale_dbu: Floats, input_full_scale_dbu: Floats) -> Floats:
    """The digital level at the sender from which a converter behind it clips.

    Derived: both full scales. Above 0: the sender's own full scale comes first.

    >>> clip_dbfs(output_full_scale_dbu=24, input_full_scale_dbu=18)
    -6
    """
    return input_full_scale_dbu - output_full_scale_dbu


def quantising_snr_db(bits: int) -> float:
    """The most that a number of bits can keep between a full-scale sine and its rounding error.

    6.0206 N + 1.7609. Source: theory of uniform quantising, signal-processing textbooks.
    Real converters stay below: use their stated dynamic range.

    >>> round(quantising_snr_db(16), 2)
    98.09
    """
    return 6.0206 * bits + 1.7609
