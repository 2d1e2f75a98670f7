"""Long recordings, block by block: one file of many channels, or a folder of single ones.

What a header says is held against the size of the file: a recorder that lost its power leaves a
header that knows nothing of the samples behind it. Those are read all the same, and it is said.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from rigproof.linecheck.lineup import MOST_CHANNELS, Refused

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Frames = NDArray[np.float32]

SUFFIXES = frozenset({".wav", ".rf64", ".w64", ".caf", ".flac", ".aif", ".aiff", ".bwf"})
BLOCK_S = 4.0
_PCM_BYTES = {"PCM_16": 2, "PCM_24": 3, "PCM_32": 4, "FLOAT": 4, "DOUBLE": 8}


class Take(msgspec.Struct, frozen=True, kw_only=True):
    """A recording that can be read. `files`: one, or one for each channel, in order.

    `said`: what was put right on the way to reading it.
    """

    files: tuple[Path, ...]
    names: tuple[str, ...]  # of the files that make the channels; empty where one makes them all
    channels: int
    rate_hz: int
    frames: int
    said: tuple[str, ...]
    rescued_at: int | None = None  # where the samples of a file with a broken header begin

    @property
    def length_s(self) -> float:
        return self.frames / self.rate_hz


def opened(path: Path) -> Take:
    """A file, or a folder with a mono file for each channel.

    Raises:
        Refused: nothing there that can be read, with what to do.
    """
    if not path.exists():
        raise Refused(f"there is no file or folder {path}.", "Look at the name and the folder.")
    if path.is_dir():
        return _folder(path)
    return _file(path)


def _file(path: Path) -> Take:
    import soundfile

    if path.stat().st_size == 0:
        raise Refused(f"{path.name} is empty: it holds 0 bytes.", "Was the recorder stopped?")
    try:
        with soundfile.SoundFile(path) as file:
            return _checked(path, file)
    except soundfile.LibsndfileError as error:
        found = _rescued(path)
        if found is not None:
            return found
        said = str(error).partition(":")[2].strip().rstrip(".") or str(error)
        raise Refused(
            f"{path.name} is no sound file that can be read: {said[:120]}.",
            "WAV, RF64, W64, CAF, FLAC and AIFF are read.",
        ) from error


def _checked(path: Path, file: Any) -> Take:
    if file.channels > MOST_CHANNELS:
        raise Refused(
            f"{path.name} has {file.channels} channels.", f"At most {MOST_CHANNELS} can be read."
        )
    said: list[str] = []
    frames, begin = int(file.frames), None
    width = _PCM_BYTES.get(file.subtype)
    if file.format in {"WAV", "WAVEX", "RF64"} and width is not None:
        data = _data_of(path)
        if data is not None:
            there = (path.stat().st_size - data) // (width * file.channels)
            if there > frames + file.samplerate // 100 and file.subtype == "PCM_24":
                said.append(
                    f"The header of {path.name} says {frames} samples and {there} are there: all "
                    "of them are read."
                )
                frames, begin = there, data
    if frames <= 0:
        raise Refused(f"{path.name} holds no samples.", "Was the recorder stopped?")
    return Take(
        files=(path,),
        names=(),
        channels=int(file.channels),
        rate_hz=int(file.samplerate),
        frames=frames,
        said=tuple(said),
        rescued_at=begin,
    )


def _data_of(path: Path) -> int | None:
    """Where the samples begin: behind the heading of the part called `data`."""
    with path.open("rb") as file:
        head = file.read(65_536)
    at = 12
    while at + 8 <= len(head):
        name, size = head[at : at + 4], int.from_bytes(head[at + 4 : at + 8], "little")
        if name == b"data":
            return at + 8
        at += 8 + size + size % 2
    return None


def _rescued(path: Path) -> Take | None:
    """A WAV whose header was never finished: its format still tells how to read the rest."""
    with path.open("rb") as file:
        head = file.read(65_536)
    form = head.find(b"fmt ")
    data = head.find(b"data")
    if form < 0 or data < 0 or head[:4] not in {b"RIFF", b"RF64"}:
        return None
    channels = int.from_bytes(head[form + 10 : form + 12], "little")
    rate_hz = int.from_bytes(head[form + 12 : form + 16], "little")
    bits = int.from_bytes(head[form + 22 : form + 24], "little")
    if bits != 24 or not 1 <= channels <= MOST_CHANNELS or not 8_000 <= rate_hz <= 192_000:
        return None
    frames = (path.stat().st_size - data - 8) // (3 * channels)
    if frames <= 0:
        return None
    return Take(
        files=(path,),
        names=(),
        channels=channels,
        rate_hz=rate_hz,
        frames=frames,
        said=(f"The header of {path.name} is broken; {frames} samples were found behind it.",),
        rescued_at=data + 8,
    )


def _folder(path: Path) -> Take:
    """Mono files side by side, in the order of their names, numbers as numbers."""
    files = sorted(
        (one for one in path.iterdir() if one.suffix.lower() in SUFFIXES and one.is_file()),
        key=lambda one: _ordered(one.name),
    )
    if not files:
        raise Refused(
            f"no sound file stands in {path}.",
            "Name the folder that holds the channels, or one file.",
        )
    if len(files) > MOST_CHANNELS:
        raise Refused(
            f"{path.name} holds {len(files)} files.", f"At most {MOST_CHANNELS} can be read."
        )
    takes = [_file(one) for one in files]
    wide = [take for take in takes if take.channels != 1]
    if wide and len(takes) > 1:
        raise Refused(
            f"{wide[0].files[0].name} has {wide[0].channels} channels, and stands among others.",
            "Name one file of many channels, or a folder of single ones.",
        )
    if len(takes) == 1:
        return takes[0]
    rates = sorted({take.rate_hz for take in takes})
    if len(rates) > 1:
        raise Refused(
            f"the files of {path.name} run at {' and '.join(map(str, rates))} Hz.",
            "Export them all at one rate.",
        )
    lengths = {take.frames for take in takes}
    said = [text for take in takes for text in take.said]
    if len(lengths) > 1:
        short = min(takes, key=lambda take: take.frames).files[0].name
        said.append(
            f"The files are of unequal length; {short} is the shortest and ends in silence."
        )
    return Take(
        files=tuple(files),
        names=tuple(one.stem for one in files),
        channels=len(files),
        rate_hz=rates[0],
        frames=max(lengths),
        said=tuple(said),
    )


def _ordered(name: str) -> tuple[object, ...]:
    """A name with its numbers as numbers: 2 stands before 10."""
    import re

    parts = re.split(r"(\d+)", name.lower())
    return tuple((0, int(part), "") if part.isdigit() else (1, 0, part) for part in parts)


def blocks(take: Take, *, block_s: float = BLOCK_S) -> Iterator["Frames"]:
    """The samples in order, some seconds at a time: frames by channels, full scale at 1."""
    size = int(block_s * take.rate_hz)
    if take.rescued_at is not None:
        yield from _raw_blocks(take, size)
    elif take.names:
        yield from _side_by_side(take, size)
    else:
        yield from _of_one(take.files[0], size)


def _of_one(path: Path, size: int) -> Iterator["Frames"]:
    import soundfile

    with soundfile.SoundFile(path) as file:
        while True:
            block = file.read(size, dtype="float32", always_2d=True)
            if not len(block):
                return
            yield block


def _side_by_side(take: Take, size: int) -> Iterator["Frames"]:
    from contextlib import ExitStack

    import numpy as np
    import soundfile

    with ExitStack() as stack:
        files = [stack.enter_context(soundfile.SoundFile(path)) for path in take.files]
        left = take.frames
        while left > 0:
            block = np.zeros((min(size, left), len(files)), np.float32)
            for place, file in enumerate(files):
                got = file.read(len(block), dtype="float32")
                block[: len(got), place] = got
            left -= len(block)
            yield block


def _raw_blocks(take: Take, size: int) -> Iterator["Frames"]:
    """24-bit samples without a header's help."""
    import numpy as np

    assert take.rescued_at is not None
    with take.files[0].open("rb") as file:
        file.seek(take.rescued_at)
        left = take.frames
        while left > 0:
            count = min(size, left)
            raw = file.read(count * take.channels * 3)
            got = len(raw) // (3 * take.channels)
            if not got:
                return
            packed = np.frombuffer(raw, np.uint8, got * take.channels * 3).reshape(-1, 3)
            wide = np.zeros((len(packed), 4), np.uint8)
            wide[:, 1:] = packed
            whole = wide.view("<i4").reshape(got, take.channels)
            yield (whole.astype(np.float32)) / np.float32(2**31)
            left -= got
