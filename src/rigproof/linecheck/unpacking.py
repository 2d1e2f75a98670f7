"""Samples as a file holds them, made into floats: whole frames in, channels out.

A recording of a night is some gigabytes. Unpacked by numpy in tiles that fit a cache, with the
channels turned out of their frames on the way, it takes a third of the time that a library takes
for whole frames, and of a closer look only the channels that are wanted are touched.
"""

from collections.abc import Sequence
from io import FileIO
from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table = NDArray[np.float32]

WIDTH_BYTES = {"PCM_16": 2, "PCM_24": 3, "PCM_32": 4, "FLOAT": 4, "DOUBLE": 8}
_FORMS = {"PCM_16": "<i2", "PCM_24": "<i4", "PCM_32": "<i4", "FLOAT": "<f4", "DOUBLE": "<f8"}
_FULL_SCALE = {"PCM_16": 2.0**15, "PCM_24": 2.0**31, "PCM_32": 2.0**31}
_LEAD_BYTES = 8  # ahead of the first sample of a stretch
_TILE = 1024  # frames
_RUN = 262_144  # samples: fewer would have two threads wait for each other too often


class Raw(msgspec.Struct, frozen=True):
    """Where the samples of a file begin and of what kind they are, one behind the other."""

    at: int
    kind: str

    def fetched(self, file: FileIO, channels: int, at: int, count: int) -> "Packed":
        """The bytes of so many frames from one on; fewer where the file ends."""
        import numpy as np

        frame = channels * WIDTH_BYTES[self.kind]
        held = np.empty(_LEAD_BYTES + count * frame, np.uint8)
        space = held.data[_LEAD_BYTES:]
        file.seek(self.at + at * frame)
        got = 0
        while got < len(space):
            more = file.readinto(space[got:])
            if not more:
                break
            got += more
        return Packed(self.kind, channels, got // frame, held, _LEAD_BYTES)


class Packed(msgspec.Struct, frozen=True):
    """Frames of some channels as bytes, the first of them behind so many bytes of no meaning."""

    kind: str
    channels: int
    frames: int
    held: "NDArray[np.uint8]"
    ahead: int = 0

    def after(self, frames: int) -> "Packed":
        """What is left behind so many frames."""
        gone = min(frames, self.frames)
        width = self.channels * WIDTH_BYTES[self.kind]
        return msgspec.structs.replace(
            self, frames=self.frames - gone, ahead=self.ahead + gone * width
        )

    def first(self, frames: int) -> "Packed":
        """No more than so many of its frames."""
        return msgspec.structs.replace(self, frames=min(frames, self.frames))

    def unpacked(self, wanted: Sequence[int], into: "Table") -> None:
        """Some channels, counted from 0, as floats of full scale 1: channels by frames."""
        import numpy as np

        every = self._every()
        chosen = slice(wanted[0], wanted[-1] + 1) if _neighbours(wanted) else list(wanted)
        wide = np.empty((len(wanted), _TILE), np.int32) if self.kind == "PCM_24" else None
        for at in range(0, self.frames, _TILE):
            tile = every[at : at + _TILE, chosen].T
            if wide is not None:
                # The lowest byte of four belongs to the sample before.
                tile = np.bitwise_and(tile, -256, out=wide[:, : tile.shape[1]])
            np.copyto(into[:, at : at + _TILE], tile, casting="unsafe")
        if self.kind in _FULL_SCALE:
            into *= np.float32(1 / _FULL_SCALE[self.kind])

    def interleaved(self, at: int, into: "Table") -> float:
        """All channels of so many frames, from one on: frames by channels, and their full scale.

        Nothing is turned and nothing scaled: it takes less than half the time of `unpacked`.
        """
        import numpy as np

        first, sound = at * self.channels, into.reshape(-1)
        flat = self._flat()[first : first + len(sound)]
        wide = np.empty(_RUN, np.int32) if self.kind == "PCM_24" else None
        for at in range(0, len(flat), _RUN):
            run = flat[at : at + _RUN]
            if wide is not None:
                run = np.bitwise_and(run, -256, out=wide[: len(run)])
            np.copyto(sound[at : at + _RUN], run, casting="unsafe")
        return _FULL_SCALE.get(self.kind, 1.0)

    def _flat(self) -> "NDArray[np.generic]":
        """The samples where they stand, one after the other; of 24 bits the byte before as well."""
        import numpy as np

        return np.ndarray(
            (self.frames * self.channels,),
            _FORMS[self.kind],
            self.held,
            self.ahead - (self.kind == "PCM_24"),
            (WIDTH_BYTES[self.kind],),
        )

    def _every(self) -> "NDArray[np.generic]":
        """The same, frames by channels."""
        import numpy as np

        width = WIDTH_BYTES[self.kind]
        return np.lib.stride_tricks.as_strided(
            self._flat(), (self.frames, self.channels), (width * self.channels, width)
        )


def turned_onto(into: "Table", frames: "Table") -> None:
    """Add frames by channels to channels by frames, in tiles: four times as fast as at once."""
    for at in range(0, len(frames), _TILE):
        tile = frames[at : at + _TILE]
        into[:, at : at + len(tile)] += tile.T


def _neighbours(wanted: Sequence[int]) -> bool:
    return len(wanted) > 0 and list(wanted) == list(range(wanted[0], wanted[-1] + 1))
