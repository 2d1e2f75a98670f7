"""A recording read from its beginning to its end, or as far as somebody lets it run."""

from collections.abc import Callable, Iterable
from typing import Generic, Protocol, TypeVar

import msgspec

from rigproof.linecheck.lineup import Line, Lineup, Refused
from rigproof.linecheck.taking import Take
from rigproof.wording import counted, ranges

Progress = Callable[[float], None]
Stretch = TypeVar("Stretch", contravariant=True)
Found = TypeVar("Found")
FoundOut = TypeVar("FoundOut", covariant=True)


def silently(_: float) -> None:
    """No progress is told."""


class Pass(Protocol[Stretch, FoundOut]):
    """What is gathered of stretches as they come. `frames`: how many are in it."""

    @property
    def frames(self) -> int: ...

    def take(self, stretch: Stretch, /) -> None:
        """Look at the next stretch."""

    def so_far(self) -> FoundOut:
        """What the stretches until now tell."""


class Reading(msgspec.Struct, Generic[Found], frozen=True):
    """What a pass found, whether it came to the end, and what is to be said of that."""

    found: Found
    frames: int
    whole: bool
    said: tuple[str, ...]


def read_through(
    take: Take, stretches: Iterable[Stretch], one: Pass[Stretch, Found], progress: Progress
) -> Reading[Found]:
    """Let a pass take all stretches. KeyboardInterrupt ends it, and what was taken counts.

    Raises:
        Refused: nothing could be read.
    """
    whole = True
    try:
        for stretch in stretches:
            one.take(stretch)
            progress(one.frames / take.frames)
        found = one.so_far()
        progress(1.0)
    except KeyboardInterrupt:
        whole = False
        found = one.so_far()
    if not one.frames:
        raise Refused(
            f"nothing of {take.files[0].name} was read.",
            "Let it run for some seconds, or look whether the file is whole.",
        )
    said = take.said
    if not whole:
        said = (
            *said,
            f"Stopped at {one.frames / take.rate_hz:.0f} of {take.length_s:.0f} s: all that "
            "follows is of the part that was read.",
        )
    elif one.frames < take.frames:
        said = (
            *said,
            f"The file ends early: {one.frames / take.rate_hz:.1f} of {take.length_s:.1f} s "
            "can be read.",
        )
    return Reading(found, one.frames, whole, said)


def lines_of(take: Take, lineup: Lineup | None) -> tuple[dict[int, Line], tuple[str, ...]]:
    """What belongs on the channels, and what is to be said of it.

    Without a list: by the names of their files, or by number alone.
    """
    if lineup is None:
        names = take.names or ("",) * take.channels
        return {number: Line(number=number, name=name) for number, name in enumerate(names, 1)}, ()
    beyond = sorted(
        number for number, line in lineup.items() if line.known and number > take.channels
    )
    if not beyond:
        return dict(lineup), ()
    said = (
        f"The recording has {counted(take.channels, 'channel')}: of the list, channels "
        f"{ranges(beyond)} are not in it."
    )
    return dict(lineup), (said,)
