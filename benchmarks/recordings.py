"""Listening to a long recording, beside reading it, decoding it and what other meters take.

    python benchmarks/recordings.py                 3 minutes of 32 channels, 48 kHz, 24 bits
    python benchmarks/recordings.py --minutes 10

One process, one file, one after the other; the rest of the machine decides the seconds, so look at
the ratios. `ffmpeg` and `sox` are asked where they are installed, and a loop in C is compiled where
there is a compiler. Nothing here fails on a slow machine.
"""

import argparse
import ctypes
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pyloudnorm
import soundfile
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from rigproof.linecheck.describing import loudness
from rigproof.linecheck.gathering import Gatherer
from rigproof.linecheck.listening import listen
from rigproof.linecheck.taking import Reader, opened, stretches
from rigproof.linecheck.unpacking import Packed

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


def levels_alone(path: Path) -> NDArray[np.float64]:
    """Peak and root mean square of each channel by our reader and numpy, in two threads."""
    take = opened(path)
    assert take.raw[0] is not None
    with ThreadPoolExecutor(2) as pool:
        waiting: list[Future[NDArray[np.float64]]] = []
        found = [np.zeros((2, take.channels))]
        for stretch in stretches(take):
            waiting.append(pool.submit(_levels, stretch.packed[0]))
            if len(waiting) > 3:
                found.append(waiting.pop(0).result())
        found += [one.result() for one in waiting]
    peaks = np.max([one[0] for one in found], axis=0)
    squares = np.sum([one[1] for one in found], axis=0)
    return np.stack([peaks, np.sqrt(squares / take.frames)])


def _levels(packed: Packed) -> NDArray[np.float64]:
    """Peaks and sums of squares of some frames of 24 bits, without turning channels out of them."""
    wide, tile = packed.channels * 64, 2048 * 64
    flat = np.ndarray(packed.frames * packed.channels, "<i4", packed.held, packed.ahead - 1, (3,))
    whole = np.empty(tile, np.int32)
    sound = np.empty(tile, np.float32)
    found = np.zeros((2, packed.channels))
    for at in range(0, len(flat), tile):
        part = flat[at : at + tile]
        one = sound[: len(part)]
        one[:] = np.bitwise_and(part, -256, out=whole[: len(part)])
        rows = one.reshape(-1, wide if len(part) % wide == 0 else packed.channels)
        peaks = np.maximum(rows.max(axis=0), -rows.min(axis=0))
        squares = np.square(rows, out=rows).sum(axis=0)
        found[0] = np.maximum(found[0], peaks.reshape(-1, packed.channels).max(axis=0) / 2**31)
        found[1] += squares.reshape(-1, packed.channels).sum(axis=0, dtype=np.float64) / 2.0**62
    return found


_LOOP = """
#include <stdint.h>
void levels(const uint8_t *at, long frames, int channels, double *peak, double *square) {
    float high[256], sum[256];
    for (int c = 0; c < channels; c++) high[c] = 0;
    for (long first = 0; first < frames; first += 4800) {
        long last = first + 4800 < frames ? first + 4800 : frames;
        for (int c = 0; c < channels; c++) sum[c] = 0;
        for (long f = first; f < last; f++, at += 3 * channels)
            for (int c = 0; c < channels; c++) {
                int32_t raw = (int32_t)((uint32_t)at[3 * c] << 8 | (uint32_t)at[3 * c + 1] << 16 |
                                        (uint32_t)at[3 * c + 2] << 24);
                float x = raw * (1.0f / 2147483648.0f), size = x < 0 ? -x : x;
                high[c] = size > high[c] ? size : high[c];
                sum[c] += x * x;
            }
        for (int c = 0; c < channels; c++) square[c] += sum[c];
    }
    for (int c = 0; c < channels; c++) peak[c] = high[c];
}
"""


def loop_in_c(folder: Path) -> Callable[[Path], NDArray[np.float64]] | None:
    """The same by a loop in C, in two threads; None where there is no compiler."""
    compiler = shutil.which("cc")
    if compiler is None:
        return None
    source, library = folder / "levels.c", folder / "levels.so"
    source.write_text(_LOOP, encoding="utf-8")
    words = (compiler, "-O3", "-march=native", "-ffast-math", "-shared", "-fPIC")
    subprocess.run((*words, "-o", str(library), str(source)), check=True)
    levels = ctypes.CDLL(str(library)).levels
    levels.argtypes = (ctypes.c_void_p, ctypes.c_long, ctypes.c_int) + (ctypes.c_void_p,) * 2
    levels.restype = None

    def run(path: Path) -> NDArray[np.float64]:
        take = opened(path)
        raw = take.raw[0]
        assert raw is not None
        held = np.memmap(path, np.uint8, "r", raw.at)
        half = take.frames // 2

        def one(first: int, frames: int) -> NDArray[np.float64]:
            found = np.zeros((2, take.channels))
            begin = held.ctypes.data + first * 3 * take.channels
            levels(begin, frames, take.channels, found[0].ctypes.data, found[1].ctypes.data)
            return found

        with ThreadPoolExecutor(2) as pool:
            both = list(pool.map(one, (0, half), (half, take.frames - half)))
        return np.stack(
            [np.maximum(both[0][0], both[1][0]), np.sqrt((both[0][1] + both[1][1]) / take.frames)]
        )

    return run


def other_loudness(path: Path) -> tuple[float, float, float]:
    """Integrated loudness of each channel by pyloudnorm, the reading not counted.

    Seconds, seconds of all cores, and how far it is from ours at most.
    """
    take = opened(path)
    gatherer = Gatherer(channels=take.channels, rate_hz=take.rate_hz, frames=take.frames)
    for stretch in stretches(take):
        gatherer.take(stretch)
    known = gatherer.so_far()
    # The standard's own filters; the library's are another derivation.
    meter = pyloudnorm.Meter(take.rate_hz, filter_class="DeMan")
    seconds, used, apart = 0.0, 0.0, 0.0
    with Reader(take) as reader:
        for channel in range(take.channels):
            sound = reader.channels(0, take.frames, [channel])[0]
            begin, busy = time.perf_counter(), _used_s()
            found = meter.integrated_loudness(sound)
            seconds, used = seconds + time.perf_counter() - begin, used + _used_s() - busy
            apart = max(apart, abs(found - loudness(known, {channel: 1}).integrated_lufs))
    return seconds, used, apart


def run(*words: str) -> Callable[[], object]:
    """Another program, its words thrown away."""
    return lambda: subprocess.run(words, check=True, capture_output=True)


def main() -> None:
    """Measure, and print a table."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("--minutes", type=float, default=3.0)
    asked.add_argument("--take", type=Path, help="a file of 32 channels of 24 bits, made already")
    asked.add_argument("--runs", type=int, default=2, help="in turns; the best of each counts")
    asked.add_argument("--skip-others", action="store_true", help="no ffmpeg, sox, pyloudnorm")
    chosen = asked.parse_args()
    with tempfile.TemporaryDirectory() as name:
        path = chosen.take or Path(name) / "take.wav"
        if not chosen.take:
            made(path, chosen.minutes)
        listen(Path(_short(Path(name))))  # what has to be loaded is loaded
        jobs: dict[str, Callable[[], object]] = {
            "reading the bytes": lambda: read_bytes(path),
            "decoding by libsndfile": lambda: decode(path),
            "peak and RMS alone": lambda: levels_alone(path),
            "our pass (levels, loudness, true peak, spectra)": lambda: pass_only(path),
            "listen, all of it": lambda: listen(path),
        }
        loop = loop_in_c(Path(name))
        if loop is not None:
            jobs["peak and RMS by a loop in C"] = lambda: loop(path)
            assert np.allclose(loop(path), levels_alone(path), rtol=1e-4)
        taken: dict[str, list[tuple[float, float]]] = {job: [] for job in jobs}
        for _ in range(chosen.runs):
            for job, what in jobs.items():
                taken[job].append(timed(what))
        # As the child of a small process: a child begins with the most its parent ever held.
        alone = (
            f"import subprocess, resource; subprocess.run({_alone(path)!r}, capture_output=True)"
        )
        asks = f"{alone}; print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
        small = ("sh", "-c", '"$0" -c "$1"', sys.executable, asks)
        told = subprocess.run(small, check=True, capture_output=True, text=True)
        peak_mb = int(told.stdout) / 1024
        apart = None
        if not chosen.skip_others:
            if shutil.which("ffmpeg"):
                words = ("ffmpeg", "-i", str(path), "-af", "astats", "-f", "null", "-")
                taken["ffmpeg astats"] = [timed(run(*words))]
            if shutil.which("sox"):
                taken["sox stats"] = [timed(run("sox", str(path), "-n", "stats"))]
            *once, apart = other_loudness(path)
            taken["pyloudnorm, integrated loudness alone"] = [(once[0], once[1])]
        frames = opened(path).frames
    best = {job: (min(a for a, _ in runs), min(b for _, b in runs)) for job, runs in taken.items()}
    decoding = best["decoding by libsndfile"]
    print(f"{frames / RATE / 60:g} minutes, {CHANNELS} channels, {RATE} Hz, 24 bits")
    for job, (found, used) in best.items():
        ratios = f"{found / decoding[0]:6.2f} of decoding, {used / decoding[1]:6.2f} by all cores"
        print(f"{job:50} {found:7.2f} s, {used:7.2f} s of all cores: {ratios}")
    print(f"most memory of rigproof listen: {peak_mb:.0f} MB")
    if apart is not None:
        print(f"loudness apart from pyloudnorm: at most {apart:.3f} LU")


def _alone(path: Path) -> tuple[str, ...]:
    return sys.executable, "-m", "rigproof", "listen", str(path), "--json"


def _short(folder: Path) -> str:
    path = folder / "short.wav"
    soundfile.write(path, np.random.default_rng(1).standard_normal((2 * RATE, 2)) * 0.1, RATE)
    return str(path)


if __name__ == "__main__":
    main()
