"""Identifying a 32-channel take of the test signal, beside one Fourier transform of each channel.

    python benchmarks/proving.py             a whole take: start, clock, responses, noise, findings
    python benchmarks/proving.py --parts     and what each part of it takes

The take is of a simulated rig: another start, 40 ppm of clock, levels 40 dB apart, two lines
exchanged. Both run in one process, one after the other, five times; figures are medians of the
time on the clock and of the processor's time. Nothing here fails on a slow machine.
"""

import argparse
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.fft import next_fast_len, rfft

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from rigproof.linecheck.comparing import compare
from rigproof.linecheck.finding_marks import find_clock, own_clocks
from rigproof.linecheck.lineup import numbered
from rigproof.linecheck.measuring import read_take
from rigproof.linecheck.responses import responses
from rigproof.linecheck.score import Score, rendered
from tests.linecheck.simulated import Faults, through

CHANNELS, RATE_HZ, LEVEL_DBFS = 32, 48_000, -20.0
RUNS = 5


class Took(NamedTuple):
    """Medians of some runs."""

    clock_s: float
    processor_s: float


def timed(work: Callable[[], object]) -> Took:
    """How long some work takes."""
    clock, processor = [], []
    for _ in range(RUNS):
        begun, busy = time.perf_counter(), time.process_time()
        work()
        clock.append(time.perf_counter() - begun)
        processor.append(time.process_time() - busy)
    return Took(statistics.median(clock), statistics.median(processor))


def take(score: Score) -> NDArray[np.float32]:
    """What a recorder gets of the signal."""
    gains_db = {n: -40 * n / CHANNELS for n in range(CHANNELS)}
    faults = Faults(route={4: 5, 5: 4}, gain_db=gains_db, start_s=1.0, clock_ppm=40.0)
    played = rendered(score, level_dbfs=LEVEL_DBFS)
    return through(played, faults, rate_hz=RATE_HZ, seed=1).astype(np.float32)


def main() -> None:
    """Both, and their ratio."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--parts", action="store_true")
    asked = parser.parse_args()
    score = Score(CHANNELS, RATE_HZ)
    recorded = take(score)
    flipped = np.ascontiguousarray(recorded.T)
    size = next_fast_len(len(recorded), real=True)

    def whole() -> object:
        read = read_take(recorded, RATE_HZ, score, level_dbfs=LEVEL_DBFS)
        assert read is not None
        return compare(read, numbered(CHANNELS))

    whole()  # libraries load, caches fill
    bare = timed(lambda: [rfft(row, size) for row in flipped])
    found = timed(whole)
    print(f"{CHANNELS} channels of {len(recorded) / RATE_HZ:.1f} s at {RATE_HZ} Hz")
    print(f"one transform each: {bare.clock_s:.3f} s, {bare.processor_s:.3f} s of processor")
    print(f"identified:         {found.clock_s:.3f} s, {found.processor_s:.3f} s of processor")
    print(f"ratio of processor times: {found.processor_s / bare.processor_s:.1f}")
    if asked.parts:
        clock = find_clock(recorded, RATE_HZ, score)
        assert clock is not None
        for name, work in (
            ("start and clock", lambda: find_clock(recorded, RATE_HZ, score)),
            ("responses", lambda: responses(recorded, clock[0], score, level_dbfs=LEVEL_DBFS)),
            (
                "each channel's clock",
                lambda: own_clocks(recorded, clock[0], score, range(CHANNELS)),
            ),
        ):
            part = timed(work)
            print(f"  {name}: {part.clock_s:.3f} s, {part.processor_s:.3f} s of processor")


if __name__ == "__main__":
    main()
