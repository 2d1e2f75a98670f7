"""The words of a line: spoken by a synthesiser that is installed, or recorded by the band."""

import shutil
import subprocess
from math import gcd
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from rigproof.linecheck.lineup import Line, Refused
from rigproof.linecheck.sound import read_sound
from rigproof.linecheck.taking import SUFFIXES

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.float64]

SPEAKER = "espeak-ng"
_WAIT_S = 20.0
_LONGEST_S = 8.0


def can_speak() -> bool:
    """Whether the synthesiser is installed."""
    return shutil.which(SPEAKER) is not None


def spoken(text: str, *, language: str, rate_hz: int) -> "Samples | None":
    """A text as speech; None where the synthesiser cannot say it."""
    program = shutil.which(SPEAKER)
    if program is None:
        return None
    with TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        try:
            # The text goes in by the pipe: what a user typed is never an option of a program.
            subprocess.run(
                [program, "-v", language, "-s", "140", "--stdin", "-w", str(path)],
                input=text.encode(),
                capture_output=True,
                timeout=_WAIT_S,
                check=True,
            )
            return clip(path, rate_hz=rate_hz)
        except (OSError, subprocess.SubprocessError, Refused):
            return None


def clips(folder: Path) -> dict[str, Path]:
    """The recordings of a folder by their names in small letters, without ending.

    Raises:
        Refused: there is no such folder, or no sound in it.
    """
    if not folder.is_dir():
        raise Refused(f"there is no folder {folder}.", "Name the folder with your recordings.")
    found = {
        path.stem.lower(): path
        for path in sorted(folder.iterdir())
        if path.suffix.lower() in SUFFIXES and path.is_file()
    }
    if not found:
        raise Refused(
            f"no sound file stands in {folder}.",
            "Name each by its line: 7.wav, or by its source: snare.wav.",
        )
    return found


def clip_of(line: Line, known: dict[str, Path]) -> Path | None:
    """The recording for a line: by its number, by its source, or by its name."""
    names = (str(line.number), f"{line.number:02d}", line.source, line.name)
    return next((known[name.lower()] for name in names if name and name.lower() in known), None)


def clip(path: Path, *, rate_hz: int) -> "Samples":
    """A short recording as one channel at a rate.

    Raises:
        Refused: it cannot be read, or is too long to be a name.
    """
    import numpy as np
    from scipy.signal import resample_poly

    sound = read_sound(path)
    length_s = len(sound.frames) / sound.rate_hz
    if length_s > _LONGEST_S:
        raise Refused(
            f"{path.name} is {length_s:.0f} s long.", f"A name takes at most {_LONGEST_S:g} s."
        )
    mono = sound.frames.mean(axis=1, dtype=np.float64)
    common = gcd(rate_hz, round(sound.rate_hz))
    made: Samples = resample_poly(mono, rate_hz // common, round(sound.rate_hz) // common)
    return made
