"""Long recordings, block by block: one file of many channels, or a folder of single ones.

What a header says is held against the size of the file: a recorder that lost its power leaves a
header that knows nothing of the samples behind it. Those are read all the same, and it is said.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.lineup import MOST_CHANNELS, Refused
from rigproof.linecheck.unpacking import WIDTH_BYTES, Packed, Raw

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Frames = NDArray[np.float32]

SUFFIXES = frozenset({".wav", ".rf64", ".w64", ".caf", ".flac", ".aif", ".aiff", ".bwf"})
STRETCH_S = 2.0
_HEAD_BYTES = 1 << 20
_OPEN = (0, 0xFFFF_FFFF)  # sizes in a heading that was never finished
_KINDS = {
    (1, 16): "PCM_16",
    (1, 24): "PCM_24",
    (1, 32): "PCM_32",
    (3, 32): "FLOAT",
    (3, 64): "DOUBLE",
}
_RATES_HZ = (8_000, 192_000)


class Take(msgspec.Struct, frozen=True, kw_only=True):
    """A recording that can be read. `files`: one, or one for each channel, in order.

    `said`: what was put right on the way to reading it. `short`: channels that end before the
    others, by how many samples.
    """

    files: tuple[Path, ...]
    names: tuple[str, ...]  # of the files that make the channels; empty where one makes them all
    channels: int
    rate_hz: int
    frames: int
    said: tuple[str, ...]
    raw: tuple[Raw | None, ...]  # for each file: where its samples stand, if they are not packed
    short: tuple[tuple[int, int], ...] = ()

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
    wav = _wav(path)
    try:
        with soundfile.SoundFile(path) as file:
            known: tuple[int, int, int] | None = (
                int(file.channels),
                int(file.samplerate),
                int(file.frames),
            )
    except soundfile.LibsndfileError as error:
        if wav is None:
            said = str(error).partition(":")[2].strip().rstrip(".") or str(error)
            raise Refused(
                f"{path.name} is no sound file that can be read: {said[:120]}.",
                "WAV, RF64, W64, CAF, FLAC and AIFF are read.",
            ) from error
        known = None
    if wav is not None:
        return _take(path, wav.channels, wav.rate_hz, wav.frames, wav.said, wav.raw)
    assert known is not None
    return _take(path, *known, "", None)


def _take(path: Path, channels: int, rate_hz: int, frames: int, said: str, raw: Raw | None) -> Take:
    if channels > MOST_CHANNELS:
        raise Refused(
            f"{path.name} has {channels} channels.", f"At most {MOST_CHANNELS} can be read."
        )
    if not _RATES_HZ[0] <= rate_hz <= _RATES_HZ[1]:
        raise Refused(
            f"{path.name} says it runs at {rate_hz} Hz.",
            f"From {_RATES_HZ[0]} to {_RATES_HZ[1]} Hz can be read.",
        )
    if frames <= 0:
        raise Refused(f"{path.name} holds no samples.", "Was the recorder stopped?")
    return Take(
        files=(path,),
        names=(),
        channels=channels,
        rate_hz=rate_hz,
        frames=frames,
        said=(said,) if said else (),
        raw=(raw,),
    )


class _Wav(msgspec.Struct, frozen=True):
    channels: int
    rate_hz: int
    frames: int
    said: str  # what is wrong with the header; empty where nothing is
    raw: Raw


def _wav(path: Path) -> _Wav | None:
    """What a WAV or RF64 holds by its own size; None where its header tells no form."""
    with path.open("rb") as file:
        head = file.read(_HEAD_BYTES)
        whole = path.stat().st_size
        if head[:4] not in {b"RIFF", b"RF64", b"BW64"} or head[8:12] != b"WAVE":
            return None
        form, data, says = _parts(head)
        if len(form) < 16 or data is None:
            return None
        there = whole - data
        following = b""
        if 0 < says < there:
            file.seek(data + says + says % 2)
            following = file.read(8)
    tag, channels = (int.from_bytes(form[at : at + 2], "little") for at in (0, 2))
    rate_hz = int.from_bytes(form[4:8], "little")
    bits = int.from_bytes(form[14:16], "little")
    if tag == 0xFFFE and len(form) >= 26:  # the long form keeps its tag further back
        tag = int.from_bytes(form[24:26], "little")
    kind = _KINDS.get((tag, bits))
    if kind is None or not channels or not _RATES_HZ[0] <= rate_hz <= _RATES_HZ[1]:
        return None
    frame = WIDTH_BYTES[kind] * channels
    if int.from_bytes(form[12:14], "little") != frame:
        return None  # samples in wider places than they need
    said = ""
    if says in _OPEN and there >= frame:
        said = (
            f"The header of {path.name} was never finished; {there // frame} samples were found "
            "behind it."
        )
    elif says > there:
        said = (
            f"{path.name} is cut off: its header says {says // frame} samples, and "
            f"{there // frame} are there."
        )
    elif says < there and not _starts_a_part(following):
        said = (
            f"The header of {path.name} says {says // frame} samples and {there // frame} are "
            "there: all of them are read."
        )
    size = there if said else says
    return _Wav(channels, rate_hz, size // frame, said, Raw(data, kind))


def _parts(head: bytes) -> tuple[bytes, int | None, int]:
    """The form of the samples, where they begin, and how many bytes of them the header claims."""
    form, long_size, at = b"", None, 12
    while at + 8 <= len(head):
        name, size = head[at : at + 4], int.from_bytes(head[at + 4 : at + 8], "little")
        if name == b"ds64":
            long_size = int.from_bytes(head[at + 16 : at + 24], "little")
        elif name == b"fmt ":
            form = head[at + 8 : at + 8 + min(size, 40)]
        elif name == b"data":
            return form, at + 8, long_size if size == 0xFFFF_FFFF and long_size else size
        at += 8 + size + size % 2
    return form, None, 0


def _starts_a_part(head: bytes) -> bool:
    """Whether these bytes head a further part of a WAV; a stray byte at the end is no sample."""
    name = head[:4]
    return len(head) < 8 or (name.isascii() and name.decode("ascii").isprintable())


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
    longest = max(take.frames for take in takes)
    short = tuple(
        (number, longest - take.frames)
        for number, take in enumerate(takes, 1)
        if take.frames < longest
    )
    said = [text for take in takes for text in take.said]
    if short:
        first = min(takes, key=lambda take: take.frames)
        said.append(
            f"The files are of unequal length; {first.files[0].name} is the shortest, with "
            f"{first.length_s:.1f} of {longest / rates[0]:.1f} s."
        )
    return Take(
        files=tuple(files),
        names=tuple(one.stem for one in files),
        channels=len(files),
        rate_hz=rates[0],
        frames=longest,
        said=tuple(said),
        raw=tuple(take.raw[0] for take in takes),
        short=short,
    )


def _ordered(name: str) -> tuple[object, ...]:
    """A name with its numbers as numbers: 2 stands before 10."""
    import re

    parts = re.split(r"(\d+)", name.lower())
    return tuple((0, int(part), "") if part.isdigit() else (1, 0, part) for part in parts)


def stretches(take: Take) -> Iterator["Stretch"]:
    """The recording in order, a whole number of tenths of a second at a time, not yet unpacked.

    They end early where a file cannot be read to its end.
    """
    with Reader(take) as reader:
        yield from reader.stretches()


def blocks(take: Take) -> Iterator["Frames"]:
    """The samples in order, some seconds at a time: frames by channels, full scale at 1."""
    import numpy as np

    for stretch in stretches(take):
        found = np.empty((stretch.frames, take.channels), np.float32)
        stretch.unpacked(range(take.channels), found.T)
        yield found


class Reader:
    """Samples of a take from any place in it."""

    def __init__(self, take: Take) -> None:
        self.take = take
        self.stack = ExitStack()
        self.fetches: list[Callable[[int, int], Packed]] = []
        self.lock = Lock()

    def __enter__(self) -> "Reader":
        with self.stack:
            self.fetches = [
                self._by_library(path) if raw is None else self._plain(path, raw)
                for path, raw in zip(self.take.files, self.take.raw, strict=True)
            ]
            self.stack = self.stack.pop_all()
        return self

    def __exit__(self, *_: object) -> None:
        self.stack.close()

    def stretch(self, at: int, count: int) -> "Stretch":
        """The bytes of some frames, not yet unpacked; fewer than asked at the end of the take."""
        count = max(0, min(count, self.take.frames - at))
        packed = tuple(fetch(at, count) for fetch in self.fetches)
        return Stretch(packed[0].frames if len(packed) == 1 else count, packed)

    def stretches(self) -> Iterator["Stretch"]:
        """The recording in order, as `stretches` has it."""
        at = 0
        while at < self.take.frames:
            stretch = self.stretch(at, self._size)
            if not stretch.frames:
                return
            yield stretch
            at += stretch.frames

    def unfetched(self) -> "Iterator[Stretch | Unfetched]":
        """The same, the bytes left in the file until they are asked for, where that is quicker.

        Whoever asks for a tenth at a time finds them in a cache. It is quicker from one file of
        plain samples only: many files would be gone through anew for each tenth.
        """
        if len(self.take.raw) != 1 or self.take.raw[0] is None:
            yield from self.stretches()
            return
        for at in range(0, self.take.frames, self._size):
            yield Unfetched(self, at, min(self._size, self.take.frames - at))

    @property
    def _size(self) -> int:
        return round(STRETCH_S * 10) * max(1, round(self.take.rate_hz / 10))

    def read(self, at: int, count: int) -> "Frames":
        """Frames by channels; fewer than asked at the end of the take."""
        import numpy as np

        stretch = self.stretch(at, count)
        found = np.empty((stretch.frames, self.take.channels), np.float32)
        stretch.unpacked(range(self.take.channels), found.T)
        return found

    def channels(self, at: int, count: int, wanted: Sequence[int]) -> "Frames":
        """Some channels by frames; fewer frames than asked at the end of the take."""
        import numpy as np

        stretch = self.stretch(at, count)
        found = np.empty((len(wanted), stretch.frames), np.float32)
        stretch.unpacked(wanted, found)
        return found

    def _by_library(self, path: Path) -> Callable[[int, int], Packed]:
        import numpy as np
        import soundfile

        file = self.stack.enter_context(soundfile.SoundFile(path))

        def fetch(at: int, count: int) -> Packed:
            try:
                if at != file.tell():
                    file.seek(min(at, file.frames))
                sound = file.read(count, dtype="float32", always_2d=True)
            except soundfile.LibsndfileError:  # cut off in the middle of a packed stretch
                sound = np.zeros((0, file.channels), np.float32)
            return Packed("FLOAT", file.channels, len(sound), sound.reshape(-1).view(np.uint8))

        return fetch

    def _plain(self, path: Path, raw: Raw) -> Callable[[int, int], Packed]:
        file = self.stack.enter_context(path.open("rb", buffering=0))
        channels = self.take.channels if not self.take.names else 1
        return lambda at, count: raw.fetched(file, channels, at, count)


class Stretch(msgspec.Struct, frozen=True):
    """Some frames of a take as its files hold them: all channels in one, or one channel in each."""

    frames: int
    packed: tuple[Packed, ...]

    def last(self, frames: int) -> "Stretch":
        """Its end; shorter than asked where it is so itself."""
        frames = min(frames, self.frames)
        return Stretch(frames, tuple(one.after(self.frames - frames) for one in self.packed))

    def unpacked(self, wanted: Sequence[int], into: "Frames") -> None:
        """Some channels, counted from 0, as floats: channels by frames."""
        if len(self.packed) == 1:
            self.packed[0].unpacked(wanted, into)
            return
        for place, channel in enumerate(wanted):
            one = self.packed[channel]
            one.unpacked((0,), into[place : place + 1, : one.frames])
            into[place, one.frames :] = 0  # a file that ends before the others

    def interleaved(self, at: int, into: "Frames") -> float:
        """All channels of as many frames as there is room for, from one on, and their full scale.

        Frames by channels. Nothing is scaled where one file holds all.
        """
        if len(self.packed) == 1:
            return self.packed[0].interleaved(at, into)
        for channel, one in enumerate(self.packed):
            rest = one.after(at)
            there = min(rest.frames, len(into))
            rest.first(there).unpacked((0,), into[:there, channel : channel + 1].T)
            into[there:, channel] = 0
        return 1.0


class Unfetched(msgspec.Struct, frozen=True):
    """Some frames of a take that is open, read when they are asked for, in whatever thread."""

    reader: Reader
    first: int
    frames: int

    def interleaved(self, at: int, into: "Frames") -> float:
        """As `Stretch.interleaved` has it."""
        with self.reader.lock:
            stretch = self.reader.stretch(self.first + at, len(into))
        into[stretch.frames :] = 0  # the file has become shorter while it was read
        return stretch.interleaved(0, into[: stretch.frames])
