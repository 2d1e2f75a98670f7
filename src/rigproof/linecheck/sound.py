"""Sound files in and out."""

import os
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.lineup import MOST_CHANNELS, Refused

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Frames = NDArray[np.float32]

_RF64_FROM = 3_900_000_000  # bytes; a plain WAV cannot say how long it is beyond 4 GiB
_LONGEST_S = 600.0


class Sound(msgspec.Struct, frozen=True):
    """A sound file as samples: frames by channels, full scale at 1."""

    name: str
    rate_hz: float
    frames: "Frames"
    comment: str

    @property
    def channels(self) -> int:
        return int(self.frames.shape[1])


def write_sound(path: Path, frames: "Frames", *, rate_hz: int, comment: str) -> None:
    """Write a 24-bit WAV, or an RF64 where a WAV would not hold it; whole or not at all."""
    import soundfile

    size = frames.size * 3
    target = path.with_name(f".{path.name}.part")
    try:
        with soundfile.SoundFile(
            target,
            "w",
            samplerate=rate_hz,
            channels=frames.shape[1],
            subtype="PCM_24",
            format="RF64" if size > _RF64_FROM else "WAV",
        ) as file:
            file.comment = comment
            file.write(frames)
        with target.open("rb+") as written:
            os.fsync(written.fileno())
        target.replace(path)
    except soundfile.LibsndfileError as error:
        raise Refused(f"{path.name} could not be written: {error}.", "Is there room?") from error
    finally:
        target.unlink(missing_ok=True)


def read_sound(path: Path, *, longest_s: float = _LONGEST_S) -> Sound:
    """Read a sound file whole, or a folder with a mono file for each channel.

    Raises:
        Refused: it is not there, no sound, empty, too long for a measurement, or has figures in it
            that are no samples.
    """
    import soundfile

    if path.is_dir():
        return _mono_files(path, longest_s)
    if not path.exists():
        raise Refused(f"there is no file {path}.", "Look at the name and the folder.")
    if path.stat().st_size == 0:
        raise Refused(f"{path.name} is empty: it holds 0 bytes.", "Record again.")
    try:
        with soundfile.SoundFile(path) as file:
            if file.channels > MOST_CHANNELS:
                raise Refused(
                    f"{path.name} has {file.channels} channels.",
                    f"At most {MOST_CHANNELS} can be read.",
                )
            _refuse_longer(path, file.frames / file.samplerate, longest_s)
            frames = file.read(dtype="float32", always_2d=True)
            rate_hz, comment = float(file.samplerate), file.comment or ""
    except soundfile.LibsndfileError as error:
        raise Refused(
            f"{path.name} is no sound file that can be read: {_reason(error)}.",
            "WAV, RF64, W64, CAF, FLAC and AIFF are read.",
        ) from error
    if not len(frames):
        raise Refused(f"{path.name} holds no samples.", "Record again.")
    return _finite(Sound(path.name, rate_hz, frames, comment))


def _mono_files(folder: Path, longest_s: float) -> Sound:
    """A recorder's folder, in the order of the numbers in the names; what ends early is silent."""
    import numpy as np

    from rigproof.linecheck.taking import Reader, opened

    take = opened(folder)
    _refuse_longer(folder, take.length_s, longest_s)
    with Reader(take) as reader:
        frames = np.ascontiguousarray(reader.read(0, take.frames), np.float32)
    return _finite(Sound(folder.name, float(take.rate_hz), frames, ""))


def _refuse_longer(path: Path, length_s: float, longest_s: float) -> None:
    if length_s > longest_s:
        raise Refused(
            f"{path.name} is {length_s / 60:.0f} minutes long.",
            f"Cut out the test signal: at most {longest_s / 60:.0f} minutes are read.",
        )


def _finite(sound: Sound) -> Sound:
    import numpy as np

    if not np.isfinite(sound.frames).all():
        raise Refused(
            f"{sound.name} holds figures that are no samples (NaN or infinite).",
            "Export it again as 24-bit WAV.",
        )
    return sound


def comment_of(path: Path) -> str:
    """What a sound file says of itself; nothing where it is a folder of them."""
    import soundfile

    if path.is_dir():
        return ""
    try:
        with soundfile.SoundFile(path) as file:
            return str(file.comment or "")
    except soundfile.LibsndfileError as error:
        raise Refused(
            f"{path.name} is no sound file that can be read: {_reason(error)}.",
            "WAV, RF64, W64, CAF, FLAC and AIFF are read.",
        ) from error


def _reason(error: Exception) -> str:
    said = str(error).partition(":")[2].strip() or str(error)
    return said.rstrip(".")[:120]
