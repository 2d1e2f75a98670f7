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
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pyloudnorm
import soundfile
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from rigproof.linecheck.describing import loudness
from rigproof.linecheck.gathering import Gatherer
from rigproof.linecheck.listening import listen
from rigproof.linecheck.metered import levels, loudnesses
from rigproof.linecheck.taking import Reader, opened, stretches

RATE, CHANNELS = 48_000, 32
_AT_ONCE = 8  # channels that stand whole in memory


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


def unpack(path: Path) -> None:
    """All samples by our reader, as floats, a stretch at a time."""
    take = opened(path)
    with Reader(take) as reader:
        for stretch in reader.stretches():
            stretch.interleaved(0, np.empty((stretch.frames, take.channels), np.float32))


def levels_told(path: Path) -> NDArray[np.float64]:
    """Peak and root mean square of each channel, of what a user is told."""
    told = [one.levels for one in levels(path).channels]
    found = np.array([(one.peak_dbfs, one.level_dbfs - 10 * np.log10(2)) for one in told]).T
    return np.asarray(10 ** (found / 20))


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
    """Peak and root mean square by a loop in C, in two threads; None where there is no compiler."""
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
    ours = loudnesses(path).channels
    # The standard's own filters; the library's are another derivation.
    meter = pyloudnorm.Meter(take.rate_hz, filter_class="DeMan")
    seconds, used, apart = 0.0, 0.0, 0.0
    whole = take.frames * 10 // take.rate_hz * take.rate_hz // 10  # it may count a part of a block
    with Reader(take) as reader:
        for first in range(0, take.channels, _AT_ONCE):
            wanted = range(first, min(first + _AT_ONCE, take.channels))
            some = np.empty((len(wanted), take.frames), np.float32)
            at = 0
            for stretch in reader.stretches():
                stretch.unpacked(wanted, some[:, at : at + stretch.frames])
                at += stretch.frames
            for place, channel in enumerate(wanted):
                begin, busy = time.perf_counter(), _used_s()
                found = meter.integrated_loudness(some[place, :whole])
                seconds, used = seconds + time.perf_counter() - begin, used + _used_s() - busy
                apart = max(apart, abs(found - ours[channel].loudness.integrated_lufs))
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
            _DECODING: lambda: decode(path),
            _UNPACKING: lambda: unpack(path),
            "levels alone": lambda: levels(path),
            "the command: listen --only levels": run(*_command(path), "--only", "levels"),
            "loudness alone": lambda: loudnesses(path),
            "the command: listen --only loudness": run(*_command(path), "--only", "loudness"),
            "our pass (levels, loudness, true peak, spectra)": lambda: pass_only(path),
            "listen, all of it": lambda: listen(path),
            "the command: listen": lambda: subprocess.run(_command(path), capture_output=True),
        }
        loop = loop_in_c(Path(name))
        if loop is not None:
            jobs[_LOOPING] = lambda: loop(path)
            assert np.allclose(loop(path), levels_told(path), rtol=1e-4)
        taken: dict[str, list[tuple[float, float]]] = {job: [] for job in jobs}
        for _ in range(chosen.runs):
            for job, what in jobs.items():
                taken[job].append(timed(what))
        peaks_mb = {
            " ".join(("listen", *only)): most_mb(*_command(path), *only)
            for only in ((), ("--only", "levels"), ("--only", "loudness"))
        }
        apart = None
        if not chosen.skip_others:
            if shutil.which("ffmpeg"):
                words = ("ffmpeg", "-i", str(path), "-af", "astats", "-f", "null", "-")
                taken["ffmpeg astats"] = [timed(run(*words))]
            if shutil.which("sox"):
                taken["sox stats"] = [timed(run("sox", str(path), "-n", "stats"))]
            *once, apart = other_loudness(path)
            taken[_OTHER] = [(once[0], once[1])]
        frames = opened(path).frames
    best = {job: (min(a for a, _ in runs), min(b for _, b in runs)) for job, runs in taken.items()}
    if _OTHER in best:
        with_reading = zip(best[_OTHER], best[_UNPACKING], strict=True)
        one, other = (a + b for a, b in with_reading)
        best[f"{_OTHER}, and unpacking as above"] = one, other
    decoding = best[_DECODING]
    print(f"{frames / RATE / 60:g} minutes, {CHANNELS} channels, {RATE} Hz, 24 bits")
    for job, (found, used) in best.items():
        ratios = f"{found / decoding[0]:6.2f} of decoding, {used / decoding[1]:6.2f} by all cores"
        print(f"{job:56} {found:7.2f} s, {used:7.2f} s of all cores: {ratios}")
    for job, beside in _BESIDE:
        if job in best and beside in best:
            shares = [a / b for a, b in zip(best[job], best[beside], strict=True)]
            print(f"{job} over {beside}: {shares[0]:.3f}, by all cores {shares[1]:.3f}")
    for job, peak_mb in peaks_mb.items():
        print(f"most memory of {job}: {peak_mb:.0f} MB")
    if apart is not None:
        print(f"loudness apart from pyloudnorm: at most {apart:.5f} LU")


_DECODING, _UNPACKING = "decoding by libsndfile", "unpacking by our reader"
_LOOPING = "peak and RMS by a loop in C, two threads"
_OTHER = "pyloudnorm, integrated loudness alone"
_BESIDE = (
    ("levels alone", _LOOPING),
    ("the command: listen --only levels", _LOOPING),
    ("loudness alone", _OTHER),
    ("loudness alone", f"{_OTHER}, and unpacking as above"),
    ("the command: listen --only loudness", _OTHER),
    ("listen, all of it", _DECODING),
    ("listen, all of it", "ffmpeg astats"),
)


def most_mb(*words: str) -> float:
    """The most memory that a program held.

    As the child of a small process: a child begins with the most its parent ever held.
    """
    alone = f"import subprocess, resource; subprocess.run({words!r}, capture_output=True)"
    asks = f"{alone}; print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    small = ("sh", "-c", '"$0" -c "$1"', sys.executable, asks)
    told = subprocess.run(small, check=True, capture_output=True, text=True)
    return int(told.stdout) / 1024


def _command(path: Path) -> tuple[str, ...]:
    return sys.executable, "-m", "rigproof", "listen", str(path), "--json"


def _short(folder: Path) -> str:
    path = folder / "short.wav"
    soundfile.write(path, np.random.default_rng(1).standard_normal((2 * RATE, 2)) * 0.1, RATE)
    return str(path)


if __name__ == "__main__":
    main()
