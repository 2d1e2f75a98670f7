"""Mixes of a take, made as the rig would make them: a stereo file for each listener.

The take is read once, block by block, and all mixes are made from each block; they wait in files
of floating figures until their peaks are known, and are then scaled as a whole. Nothing is
compressed or cut off, so that levels keep their relations.
"""

import os
from collections.abc import Iterator, Sequence
from math import log10
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.lineup import Refused
from rigproof.linecheck.taking import Take, blocks
from rigproof.physics.weighting import a_weighting_db

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Frames = NDArray[np.float32]

PEAK_DBFS = -1.0  # of every file
_LOWEST_HZ = 10.0  # where the A curve takes 70 dB; it takes all of what stands still
_SURE_DEVIATIONS = 6.0  # noise hardly ever goes higher than so many times its root mean square
_SEED = 1770
_RF64_FROM = 3_900_000_000


class Strand(msgspec.Struct, frozen=True):
    """One channel of the take in one mix: what it is multiplied by on each side, and how late."""

    channel: int
    gains_ratio: tuple[float, float]
    delays_frames: tuple[int, int]


class Blend(msgspec.Struct, frozen=True):
    """One listener's mix."""

    name: str
    strands: tuple[Strand, ...]


class Rough(msgspec.Struct, frozen=True):
    """A mix before it is scaled, in the unit that the gains of its strands lead to.

    `weighted_db`: the A-weighted level of each side over the whole take. A sine of full scale in
    the take reads 0 dB plus the gain.
    """

    name: str
    path: Path
    rate_hz: int
    frames: int
    peak_ratio: float
    weighted_db: tuple[float, float]


def blended(take: Take, blends: Sequence[Blend], folder: Path) -> tuple[Rough, ...]:
    """Make all mixes in one pass; they stand in the folder as files of floating figures.

    Raises:
        Refused: they cannot be written.
    """
    import numpy as np
    import soundfile
    from scipy.fft import rfft

    latest = max((late for b in blends for s in b.strands for late in s.delays_frames), default=0)
    matrices = _matrices(blends, take.channels)
    step = max(1, round(take.rate_hz / 10))
    weights = a_weights(step, take.rate_hz)
    sides = 2 * len(blends)
    peaks, powers, done = np.zeros(sides), np.zeros(sides), 0
    paths = [folder / f".{blend.name}.rough.w64" for blend in blends]
    files = [
        soundfile.SoundFile(path, "w", take.rate_hz, 2, subtype="FLOAT", format="W64")
        for path in paths
    ]
    try:
        before = np.zeros((latest, take.channels), np.float32)
        for block in _with_tail(blocks(take), latest, take.channels):
            joined = np.concatenate((before, np.nan_to_num(block, posinf=0.0, neginf=0.0)))
            made = np.zeros((len(block), sides), np.float32)
            for late, matrix in matrices:
                start = latest - late
                made += joined[start : start + len(block)] @ matrix
            before = joined[len(joined) - latest :]
            done += len(block)
            peaks = np.maximum(peaks, np.abs(made).max(axis=0, initial=0.0))
            padded = np.pad(made, ((0, -len(made) % step), (0, 0))).T.reshape(sides, -1, step)
            powers += (np.square(np.abs(rfft(padded, axis=2))) * weights).sum(axis=(1, 2))
            for place, file in enumerate(files):
                file.write(made[:, 2 * place : 2 * place + 2])
    except soundfile.LibsndfileError as error:
        raise Refused(f"no mix could be written in {folder}.", "Is there room?") from error
    finally:
        for file in files:
            file.close()
    # Sums of a tenth's squares, to mean squares; a sine of full scale is half a square.
    means = powers * step / max(1, done)
    levels = [10 * log10(2 * mean) if mean > 0 else float("-inf") for mean in means.tolist()]
    return tuple(
        Rough(
            blend.name,
            paths[place],
            take.rate_hz,
            done,
            float(peaks[2 * place : 2 * place + 2].max()),
            (levels[2 * place], levels[2 * place + 1]),
        )
        for place, blend in enumerate(blends)
    )


def _with_tail(parts: Iterator["Frames"], latest: int, channels: int) -> Iterator["Frames"]:
    """The blocks, and then as much silence as the latest channel still needs."""
    import numpy as np

    yield from parts
    if latest:
        yield np.zeros((latest, channels), np.float32)


def _matrices(blends: Sequence[Blend], channels: int) -> "list[tuple[int, Frames]]":
    """By delay: what each channel gives to each side of each mix."""
    import numpy as np

    found: dict[int, Frames] = {}
    for place, blend in enumerate(blends):
        for strand in blend.strands:
            for side in (0, 1):
                late = strand.delays_frames[side]
                if late not in found:
                    found[late] = np.zeros((channels, 2 * len(blends)), np.float32)
                found[late][strand.channel - 1, 2 * place + side] += strand.gains_ratio[side]
    return sorted(found.items())


def a_weights(step: int, rate_hz: int) -> "NDArray[np.float64]":
    """What turns the squares of a spectrum's parts into an A-weighted mean square."""
    import numpy as np
    from scipy.fft import rfftfreq

    frequencies = rfftfreq(step, 1 / rate_hz)
    weights = 10 ** (a_weighting_db(np.maximum(frequencies, _LOWEST_HZ)) / 10)
    weights[0] = 0
    weights[1 : len(weights) - (step % 2 == 0)] *= 2  # a real signal's other half
    return np.asarray(weights / step**2, np.float64)


def full_scale_db(rough: Rough, *, turn_db: float, hiss_db: float | None) -> float:
    """What full scale of the file stands for, so that its peak, hiss on top, stands where it may.

    `hiss_db`: A-weighted, in the unit of the mix.
    """
    top = rough.peak_ratio * 10 ** (turn_db / 20)
    if hiss_db is not None:
        top += _SURE_DEVIATIONS * hiss_ratio(hiss_db=hiss_db, rate_hz=rough.rate_hz)
    return 20 * log10(top) - PEAK_DBFS


def hiss_ratio(*, hiss_db: float, rate_hz: int) -> float:
    """The root mean square of white noise, full scale at 1, that has an A-weighted level.

    Derived: the share of white noise up to half the sampling rate that the A curve leaves.
    """
    step = round(rate_hz / 10)
    # White noise of mean square 1 has `step` for the square of each part of its spectrum.
    share = float(a_weights(step, rate_hz).sum()) * step
    return float((10 ** (hiss_db / 10) / 2 / share) ** 0.5)


def finished(rough: Rough, path: Path, *, turn_db: float, hiss_dbfs: float | None) -> None:
    """Write a mix as a 24-bit stereo file, turned as a whole, with hiss in it; whole or not at all.

    The hiss is white, each side its own, the same every time, and as loud as the file has it.

    Raises:
        Refused: it cannot be written.
    """
    import numpy as np
    import soundfile

    dice = np.random.default_rng(_SEED)
    turn = 10 ** (turn_db / 20)
    noise = 0.0 if hiss_dbfs is None else hiss_ratio(hiss_db=hiss_dbfs, rate_hz=rough.rate_hz)
    target = path.with_name(f".{path.name}.part")
    form = "RF64" if rough.frames * 6 > _RF64_FROM else "WAV"
    try:
        with (
            soundfile.SoundFile(rough.path) as file,
            soundfile.SoundFile(target, "w", rough.rate_hz, 2, subtype="PCM_24", format=form) as to,
        ):
            for block in file.blocks(4 * rough.rate_hz, dtype="float32", always_2d=True):
                hiss = dice.standard_normal(block.shape, np.float32) * np.float32(noise)
                to.write(block * np.float32(turn) + hiss)
        with target.open("rb+") as written:
            os.fsync(written.fileno())
        target.replace(path)
    except (soundfile.LibsndfileError, OSError) as error:
        raise Refused(f"{path.name} could not be written: {error}.", "Is there room?") from error
    finally:
        target.unlink(missing_ok=True)
