"""Only the levels of a recording, or only its loudness: figures, and nothing is judged."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.describing import level_step, levels_of, loudness
from rigproof.linecheck.lineup import Line, Lineup
from rigproof.linecheck.metering import LevelMeter, LoudnessMeter
from rigproof.linecheck.noticing import Levels, Loudness
from rigproof.linecheck.reading import Progress, lines_of, read_through, silently
from rigproof.linecheck.taking import Reader, opened
from rigproof.linecheck.weighing import STEP_S
from rigproof.wording import counted

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class Metered(msgspec.Struct, frozen=True, kw_only=True):
    """How much of a recording was read. `whole`: whether to its end."""

    length_s: float
    read_s: float
    rate_hz: int
    whole: bool
    said: tuple[str, ...]


class ChannelLevels(msgspec.Struct, frozen=True, kw_only=True):
    number: int
    name: str
    levels: Levels


class TakeLevels(Metered, frozen=True, kw_only=True):
    """The levels of every channel; those over time are `level_step_s` apart."""

    level_step_s: float
    channels: tuple[ChannelLevels, ...]


class ProgrammeLoudness(msgspec.Struct, frozen=True, kw_only=True):
    """The loudness of one channel, or of two that are heard as left and right."""

    numbers: tuple[int, ...]
    name: str
    loudness: Loudness


class TakeLoudness(Metered, frozen=True, kw_only=True):
    """The loudness of every channel alone, and of stereo pairs."""

    channels: tuple[ProgrammeLoudness, ...]
    pairs: tuple[ProgrammeLoudness, ...]


def levels(
    path: Path, lineup: Lineup | None = None, *, progress: Progress = silently
) -> TakeLevels:
    """Peak, level, floor, crest, range and offset of every channel, and level over time.

    `progress` gets the share of the recording that was read. KeyboardInterrupt while reading ends
    the reading; what was read until then counts.

    Raises:
        Refused: it cannot be read, with what to do.
    """
    take = opened(path)
    meter = LevelMeter(channels=take.channels, rate_hz=take.rate_hz, frames=take.frames)
    with Reader(take) as reader:
        reading = read_through(take, reader.unfetched(), meter, progress)
    lines, beyond = lines_of(take, lineup)
    found = reading.found
    return TakeLevels(
        length_s=take.length_s,
        read_s=reading.frames / take.rate_hz,
        rate_hz=take.rate_hz,
        whole=reading.whole,
        said=(*reading.said, *beyond, *no_numbers(found.not_numbers)),
        level_step_s=level_step(found.peak.shape[1]) * STEP_S,
        channels=tuple(
            ChannelLevels(
                number=number,
                name=_name(lines, number),
                levels=levels_of(*(table[number - 1] for table in found.tables)),
            )
            for number in range(1, take.channels + 1)
        ),
    )


def loudnesses(
    path: Path, lineup: Lineup | None = None, *, progress: Progress = silently
) -> TakeLoudness:
    """The loudness of every channel alone, and of every stereo pair, by ITU-R BS.1770.

    Of a recording with two channels and no list they are taken as left and right. For the rest see
    `levels`.
    """
    take = opened(path)
    meter = LoudnessMeter(channels=take.channels, rate_hz=take.rate_hz, frames=take.frames)
    with Reader(take) as reader:
        reading = read_through(take, reader.unfetched(), meter, progress)
    lines, beyond = lines_of(take, lineup)
    pairs = [(1, 2)] if lineup is None and take.channels == 2 else list(_pairs(lines))

    def programme(*numbers: int) -> ProgrammeLoudness:
        weights = {number - 1: 1.0 for number in numbers}
        names = (_name(lines, number) for number in numbers)
        return ProgrammeLoudness(
            numbers=numbers,
            name=" + ".join(name for name in names if name),
            loudness=loudness(reading.found, weights),
        )

    return TakeLoudness(
        length_s=take.length_s,
        read_s=reading.frames / take.rate_hz,
        rate_hz=take.rate_hz,
        whole=reading.whole,
        said=(*reading.said, *beyond, *no_numbers(reading.found.not_numbers)),
        channels=tuple(programme(number) for number in range(1, take.channels + 1)),
        pairs=tuple(programme(*pair) for pair in pairs if pair[1] <= take.channels),
    )


def _name(lines: Mapping[int, Line], number: int) -> str:
    return lines[number].name if number in lines else ""


def _pairs(lines: Mapping[int, Line]) -> Iterator[tuple[int, int]]:
    for number, line in sorted(lines.items()):
        if line.pair is not None and number < line.pair:
            yield number, line.pair


def no_numbers(counts: "NDArray[np.int64]") -> Iterator[str]:
    """The channels of which some samples are no numbers."""
    for number, count in enumerate(counts.tolist(), 1):
        if count:
            yield (
                f"{counted(count, 'sample')} of channel {number} {'is' if count == 1 else 'are'} "
                "no number and read as silence."
            )
