"""Listening to a long recording, beside reading it, decoding it and what other meters take.

    python benchmarks/recordings.py                 3 minutes of 32 channels, 48 kHz, 24 bits
    python benchmarks/recordings.py --minutes 10

One process, one file, one after the other; the rest of the machine decides the seconds, so look at
the ratios. `ffmpeg` and `sox` are asked where they are installed. Nothing here fails on a slow
machine.
"""

import argparse
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyloudnorm
import soundfile

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from rigproof.linecheck.describing import loudness
from rigproof.linecheck.gathering import Gatherer
from rigproof.linecheck.listening import listen
from rigproof.linecheck.taking import opened, stretches

RATE, CHANNELS = 48_000, 32


def made(path: Path, minutes: float) -> None:
    """Noise that swells, strokes and tones: every channel its own."""
    dice = np.random.default_rng(7)
    t = np.arange(4 * RATE) / RATE
    with soundfile.SoundFile(path, "w", RATE, CHANNELS, "PCM_24", format="RF64") as file:
        for _ in range(max(1, round(minutes * 15))):
            tones = np.sin(2 * np.pi * dice.uniform(50, 2000, CHANNELS) * t[:, None])
            strokes = np.exp(-((t[:, None] * dice.uniform(1, 3, CHANNELS)) % 1) * 15)
            noise = dice.standard_normal((len(t), CHANNELS)) * 0.02
            file.write((0.3 * strokes * (tones + noise) + 1e-4 * noise).astype(np.float32))


def timed(what: Callable[[], object]) -> tuple[float, float]:
    """Seconds of one run, and those of all cores together: of this process and its children."""
    begin, used = time.perf_counter(), _used_s()
    what()
    return time.perf_counter() - begin, _used_s() - used


def _used_s() -> float:
    own, children = (
        resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    return own.ru_utime + own.ru_stime + children.ru_utime + children.ru_stime


def read_bytes(path: Path) -> None:
    """The whole file, and nothing done with it."""
    with path.open("rb", buffering=0) as file:
        while file.read(1 << 24):
            pass


def decode(path: Path) -> None:
    """All samples by libsndfile, as floats, into one buffer."""
    buffer = np.empty((4 * RATE, CHANNELS), np.float32)
    with soundfile.SoundFile(path) as file:
        while len(file.read(out=buffer)):
            pass


def pass_only(path: Path) -> None:
    """Our one pass: levels, loudness, true peak, spectra, likeness; no closer look."""
    take = opened(path)
    gatherer = Gatherer(channels=CHANNELS, rate_hz=RATE, frames=take.frames)
    for stretch in stretches(take):
        gatherer.take(stretch)
    known = gatherer.so_far()
    for channel in range(CHANNELS):
        loudness(known, {channel: 1})


def other_loudness(path: Path) -> None:
    """Integrated loudness of each channel by pyloudnorm, from samples that are read already."""
    meter = pyloudnorm.Meter(RATE)
    sound, _ = soundfile.read(path, dtype="float32")
    for channel in range(CHANNELS):
        meter.integrated_loudness(sound[:, channel])


def run(*words: str) -> Callable[[], object]:
    """Another program, its words thrown away."""
    return lambda: subprocess.run(words, check=True, capture_output=True)


def main() -> None:
    """Measure, and print a table."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("--minutes", type=float, default=3.0)
    asked.add_argument("--skip-others", action="store_true", help="no ffmpeg, sox, pyloudnorm")
    chosen = asked.parse_args()
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "take.wav"
        made(path, chosen.minutes)
        listen(Path(_short(Path(name))))  # what has to be loaded is loaded
        jobs: dict[str, Callable[[], object]] = {
            "reading the bytes": lambda: read_bytes(path),
            "decoding by libsndfile": lambda: decode(path),
            "our pass (levels, loudness, true peak, spectra)": lambda: pass_only(path),
            "listen, all of it": lambda: listen(path),
        }
        seconds = {job: min(timed(what) for _ in range(2)) for job, what in jobs.items()}
        # As its own process: what this one holds of making the file is not counted.
        alone = (sys.executable, "-m", "rigproof", "listen", str(path), "--json")
        subprocess.run(alone, check=False, capture_output=True)
        peak_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        if not chosen.skip_others:
            if shutil.which("ffmpeg"):
                words = ("ffmpeg", "-i", str(path), "-af", "astats", "-f", "null", "-")
                seconds["ffmpeg astats"] = timed(run(*words))
            if shutil.which("sox"):
                seconds["sox stats"] = timed(run("sox", str(path), "-n", "stats"))
            seconds["pyloudnorm, reading included"] = timed(lambda: other_loudness(path))
    decoding = seconds["decoding by libsndfile"]
    print(f"{chosen.minutes:g} minutes, {CHANNELS} channels, {RATE} Hz, 24 bits")
    for job, (found, used) in seconds.items():
        ratios = f"{found / decoding[0]:6.2f} of decoding, {used / decoding[1]:6.2f} by all cores"
        print(f"{job:50} {found:7.2f} s, {used:7.2f} s of all cores: {ratios}")
    print(f"most memory of rigproof listen: {peak_mb:.0f} MB")


def _short(folder: Path) -> str:
    path = folder / "short.wav"
    soundfile.write(path, np.random.default_rng(1).standard_normal((2 * RATE, 2)) * 0.1, RATE)
    return str(path)


if __name__ == "__main__":
    main()
